"""Backups: make one, list them."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.show import emit, moment, note, say
from holdlog.cli.wiring import By, Json, kitchen, place

if TYPE_CHECKING:
    from datetime import datetime

    from holdlog.journal.engine import Database
    from holdlog.journal.transfer import Tell
    from holdlog.kitchen.backups import BackUp, Listed
    from holdlog.kitchen.kitchen import Kitchen

Folder = Annotated[
    str,
    typer.Option(
        "--to", envvar="HOLDLOG_BACKUPS", metavar="FOLDER", show_default=False,
        help="The folder of the backups. Else backups, beside the journal.",
    ),
]  # fmt: skip


def backup(
    context: typer.Context,
    to: Folder = "",
    keep: Annotated[
        str,
        typer.Option(
            "--keep",
            metavar="DAYS,WEEKS,MONTHS",
            help="How many older ones to keep beside those of the last 48 hours, or all.",
        ),
    ] = "7,5,24",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Back up the journal while it is in use, and read the backup back.

    It is checked to the last reading before it bears a name. Older ones that --keep does not
    keep are taken away after that, and only those that holdlog made of this journal.

    \b
    Examples:
      holdlog backup
      holdlog backup --keep all --by JR
    """
    if context.invoked_subcommand is not None:
        return
    from holdlog.kitchen.backup_files import read_keeping
    from holdlog.kitchen.backups import back_up

    keeping = read_keeping(keep)
    shop = kitchen(context)
    made = back_up(shop, by, folder_for(shop.db, to, make=True), keeping, tell=progress())
    if made.unrecorded:
        note(f"The backup is good, but the journal does not tell of it. {made.unrecorded}")
    for name in made.stuck:
        note(f"{name} could not be taken away.")
    if json:
        emit(_made_json(made, shop))
        return
    told = f"{made.entries:,} entries, head {made.head[:8]}, read back whole."
    lines = [str(made.file), told]
    if made.removed:
        lines.append(f"Taken away, for {keeping} are kept: {', '.join(made.removed)}.")
    if shop.db.path is not None and _same_disk(shop.db.path, made.file):
        lines.append("It is on the disk of the journal itself, and goes with it: say --to, or "
                     "copy it to another one, too.")  # fmt: skip
    say(lines)


def list_(
    context: typer.Context,
    to: Folder = "",
    check: Annotated[
        bool, typer.Option("--check", help="Read each from end to end; 1 if one is not whole.")
    ] = False,
    json: Json = False,
) -> None:
    r"""The backups in the folder: when, how many entries, the head, and whether it is whole.

    Where the journal is lost it lists those of every journal in the folder.

    \b
    Examples:
      holdlog backup list
      holdlog backup list --check
    """
    from holdlog.kitchen.backups import listed

    shop = _kitchen_if_any(context)
    folder = folder_for(shop.db if shop else None, to or _beside(context), make=False)
    found = listed(shop, folder, check=check, tell=progress()) if folder.is_dir() or to else []
    if json:
        emit([_listed_json(each) for each in found])
    elif not found:
        say([f"There is no backup in {folder}.", "Make one: holdlog backup"])
    else:
        from holdlog.reports.tables import Table

        rows = tuple(
            (shown(each.file.wall), f"{each.entries:,}", each.head[:8], _state(each),
             each.file.path.name)
            for each in found
        )  # fmt: skip
        say([Table(str(folder), ("made", "entries", "head", "", "file"), rows)])
        if not check:
            say(["Whether they are whole: holdlog backup list --check"])
    if any(each.fault for each in found):
        raise typer.Exit(1)


def folder_for(base: "Database | None", said: str, *, make: bool) -> Path:
    """Where backups are: as said, else beside the journal. Only that one is made if missing."""
    from holdlog.core.errors import Mistake

    if said:
        return Path(said)
    if base is None or base.path is None:
        raise Mistake(
            "no-folder",
            "A journal on a server has no folder beside it.",
            "Say where its backups are with --to FOLDER, or set HOLDLOG_BACKUPS.",
        )
    folder = base.path.parent / "backups"
    if make:
        folder.mkdir(exist_ok=True)
    return folder


def progress() -> "Tell":
    """Says how far it is, on standard error, where there is a person to see it."""

    def tell(what: str, done: int, of: int) -> None:
        if sys.stderr.isatty():
            end = "\n" if done == of else ""
            print(f"\rholdlog: {what} {done:,} of {of:,}", end=end, file=sys.stderr, flush=True)

    return tell


def shown(wall: "datetime") -> str:
    """A local time with its year: backups are kept for longer than one."""
    return f"{wall:%a} {wall.day} {wall:%B %Y %H:%M}"


def _kitchen_if_any(context: typer.Context) -> "Kitchen | None":
    from holdlog.core.errors import HoldlogError

    try:
        return kitchen(context)
    except HoldlogError as error:
        # Not its hint: who has lost a journal and looks for a backup is not to begin a new one.
        note(f"{error.sentence} So backups of every journal are listed.")
        return None


def _beside(context: typer.Context) -> str:
    """The folder beside the place of a journal, whether that can be opened or not."""
    where = place(context).removeprefix("sqlite:///")
    return "" if "://" in where else str(Path(where).absolute().parent / "backups")


def _same_disk(one: Path, other: Path) -> bool:
    return one.stat().st_dev == other.stat().st_dev


def _state(each: "Listed") -> str:
    if each.fault:
        return f"NOT WHOLE: {each.fault}"
    return "whole" if each.checked else ""


def _made_json(made: "BackUp", shop: "Kitchen") -> dict[str, object]:
    return {
        "file": str(made.file), "at": moment(made.at, shop), "entries": made.entries,
        "head": made.head, "bytes": made.size, "recorded": not made.unrecorded,
        "removed": list(made.removed), "not_removed": list(made.stuck),
    }  # fmt: skip


def _listed_json(each: "Listed") -> dict[str, object]:
    return {
        "file": str(each.file.path), "made": each.file.wall.isoformat(), "entries": each.entries,
        "head": each.head or None, "bytes": each.size,
        "whole": False if each.fault else True if each.checked else None,
        "fault": each.fault or None,
    }  # fmt: skip
