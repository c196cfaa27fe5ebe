"""Going back to a backup, and moving a journal to another database."""

import os
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.backups import Folder, progress
from holdlog.cli.show import emit, say
from holdlog.cli.wiring import By, Json, clock, database, who

if TYPE_CHECKING:
    from holdlog.core.moments import Instant
    from holdlog.journal.parting import Parting
    from holdlog.kitchen.restoring import Outlook


def restore(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A backup: holdlog backup list.")],
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what would be lost; change nothing.")
    ] = False,
    lose_newer: Annotated[
        bool, typer.Option("--lose-newer", help="Even if newer entries are lost by it.")
    ] = False,
    to: Folder = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Go back to a backup: put it in the place of the journal.

    It is read from end to end first, and what is there now is kept aside, never deleted. Where
    entries would be lost it stops, unless you say --lose-newer. The journal then tells of it.

    \b
    Examples:
      holdlog restore backups/monday.db --dry-run
      holdlog restore backups/monday.db --lose-newer
    """
    from holdlog.kitchen.restoring import look
    from holdlog.kitchen.restoring import restore as job
    from holdlog.kitchen.taken_back import Signed

    base = database(context, must_exist=False)
    aside: Path | None = None
    if dry_run:
        found = look(file, base)
    else:
        folder = base.path.parent if base.path is not None else Path(to or ".")
        me = Signed(who(by), clock, os.environ.get("HOLDLOG_STATION", ""))
        done = job(file, base, folder, me, lose_newer=lose_newer, tell=progress())
        found, aside = done.outlook, done.aside
    if json:
        emit({
            "file": str(file), "kitchen": found.name, "entries": found.entries,
            "head": found.head, "last_written": _iso(found.last_at, found),
            "journal": base.name, "present": found.present, "loses": found.loses,
            "sites": [_parting_json(each, found) for each in found.partings],
            "lost_recalls": [{"what": each.what, "why": each.why} for each in found.recalls],
            "restored": not dry_run, "kept_aside": str(aside) if aside else None,
        })  # fmt: skip
        return
    lines = _told(file, base.name, found)
    if dry_run:
        lines += [f"No longer recalled: {each.what}, {each.why}" for each in found.recalls]
        option = " --lose-newer" if found.loses else ""
        lines.append(
            f"Nothing was changed. To do it: holdlog restore {shlex.quote(str(file))}{option}"
        )
    else:
        lines.append(f"{base.name} is now the journal of {file}.")
        if aside:
            lines.append(f"What was there is kept at {aside}.")
        lines += [f"RECALL AGAIN: {each.what}, {each.why}" for each in found.recalls]
        lines.append(
            "Walk the units before you serve: what was done since the backup is not in it."
        )
    say(lines)


def move(
    context: typer.Context,
    to: Annotated[
        str, typer.Argument(metavar="TO", help="A new file, or postgresql://user@host/name.")
    ],
    json: Json = False,
) -> None:
    r"""Move the journal to another database: a file to PostgreSQL, or back.

    Everything goes over in one transaction and is proven there before it counts. The old one
    stays as it is and would go on taking entries: stop using it. See docs/backups.md.

    \b
    Example:
      holdlog db move moved.db
    """
    from holdlog.kitchen.db_move import move as job

    base = database(context)
    done = job(base, to, tell=progress())
    if json:
        emit({
            "from": base.name, "to": done.to,
            "sites": [{"site": site, "entries": number, "head": head}
                      for site, (number, head) in done.heads.items()],
        })  # fmt: skip
        return
    told = [
        f"{site}: {_entries(number)}, head {head[:8]}."
        for site, (number, head) in done.heads.items()
    ]
    say([
        f"Everything is at {done.to}, and was read back whole.", *told,
        (f"{base.name} is as it was. Nothing stops it from taking more entries, which the new one "
         "would not have: set HOLDLOG_DB to the new one at every station, then put the old one "
         "away."),
    ])  # fmt: skip


def _told(file: Path, journal: str, found: "Outlook") -> list[str]:
    last = f"the last of {_moment(found.last_at, found)}, head {found.head[:8]}"
    lines = [f"{file}: {found.name}, {_entries(found.entries)}, {last}. It is whole."]
    if found.present == "damaged":
        lines.append(
            f"{journal} cannot be read: nobody can tell what was written after the backup."
        )
    elif found.present != "sound":
        lines.append(f"There is no journal at {journal}: nothing is lost.")
    for each in found.partings:
        lines += _parting_told(each, found, several=len(found.partings) > 1)
    return lines


def _parting_told(each: "Parting", found: "Outlook", *, several: bool) -> list[str]:
    site = f"{each.site}: " if several else ""
    if each.forked:
        lines = [f"{site}The two are the same up to entry {each.common} and differ after it."]
    else:
        lines = [f"{site}The two are the same up to entry {each.common}."]
    if each.alone and each.first_at is not None and each.last_at is not None:
        one = each.alone == 1
        tell = "It tells" if one else "They tell"
        only = "" if each.telling else f" {tell} of backups only."
        which = f"{each.one}" if one else f"{each.common + 1} to {each.one}"
        when = _moment(each.first_at, found)
        if not one:
            when = f"from {when} to {_moment(each.last_at, found)}"
        lines.append(
            f"{site}{_entries(each.alone)} that the backup has not ({which}), written {when}.{only}"
        )
    else:
        lines.append(f"{site}Nothing is lost.")
    return lines


def _parting_json(each: "Parting", found: "Outlook") -> dict[str, object]:
    return {
        "site": each.site, "same_up_to": each.common, "forked": each.forked,
        "journal": each.one, "backup": each.other, "lost": each.alone,
        "lost_first": each.common + 1 if each.alone else None,
        "lost_from": _iso(each.first_at, found), "lost_to": _iso(each.last_at, found),
        "lost_backup_records_only": bool(each.alone) and not each.telling,
    }  # fmt: skip


def _entries(count: int) -> str:
    return f"{count:,} {'entry' if count == 1 else 'entries'}"


def _moment(at: "Instant", found: "Outlook") -> str:
    # Backups are kept for years, so that the year is always said.
    from holdlog.core.moments import show_dated

    return show_dated(at, found.where)


def _iso(at: "Instant | None", found: "Outlook") -> str | None:
    from holdlog.core.moments import iso

    return iso(at, found.where) if at is not None else None
