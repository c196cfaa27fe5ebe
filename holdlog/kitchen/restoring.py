"""Going back to a backup: what would be lost is said first, and what was there is kept aside."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.errors import Fault, HoldlogError, Mistake
from holdlog.core.files import is_there
from holdlog.core.moments import Instant
from holdlog.journal import arrival, migrate
from holdlog.journal import backup as journal_backup
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Connection, Database, open_database
from holdlog.journal.parting import Parting, partings
from holdlog.journal.shape import misshapen
from holdlog.journal.soundness import unsound
from holdlog.journal.transfer import Tell, quiet
from holdlog.kitchen.backup_files import misnamed
from holdlog.kitchen.kitchen import SITE, Kitchen, kitchen_in
from holdlog.kitchen.lots import recalls_in_force
from holdlog.kitchen.taken_back import Signed, tell_of
from holdlog.kitchen.wholeness import flaw, unproven

Present = Literal["missing", "empty", "sound", "damaged"]
LOSE = "--lose-newer"


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a restore would do. ``entries``, ``head`` and ``last_at`` are of the site ``main``
    in the file, or else of its first one.

    ``partings`` compare the present journal (one) with the file (other), site by site; there are
    none where the present one is missing or cannot be read. ``recalls`` are in force in the present
    journal and not in the file: what they hold would be food like any other. ``name`` is the
    kitchen's, in the file, and ``where`` its zone.
    """

    name: str
    where: ZoneInfo
    entries: int
    head: str
    last_at: Instant
    present: Present
    partings: tuple[Parting, ...]
    recalls: tuple[ev.Recalled, ...] = ()

    @property
    def loses(self) -> bool:
        """Whether entries would be lost that tell of more than of a backup, or may be."""
        return self.present == "damaged" or any(each.telling for each in self.partings)


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore came to. ``aside``: where the journal that was there is now, if any was."""

    outlook: Outlook
    aside: Path | None


def look(file: Path, target: Database) -> Outlook:
    """Read ``file`` from end to end and say what it would do to ``target``. Changes nothing.

    Raises ``Mistake`` for a file that is none, is not whole, has not the last entry that its
    name tells, or is of another version; for a present journal that is of another kitchen or
    version.
    """
    with _source(file, target) as (db, conn):
        return _look(file, db, conn, target)


def restore(
    file: Path,
    target: Database,
    folder: Path,
    who: Signed,
    *,
    lose_newer: bool,
    tell: Tell = quiet,
) -> Restored:
    """Put the journal of ``file`` in the place of the one at ``target``, all or nothing; an entry
    of the restored journal tells of it.

    What is there is kept first: as a copy beside it (a journal on PostgreSQL: as a file in
    ``folder``), and if it is too damaged for that, the file itself is moved aside.

    Raises ``Mistake("no-name")``, ``Mistake("newer-entries")`` unless ``lose_newer`` where entries
    would be lost, whatever ``look`` raises, and ``Fault("locked")`` while another program uses it.
    """
    if not who.by.strip():
        raise Mistake("no-name", "Who is writing?", "Say --by with your initials, or HOLDLOG_BY.")
    with _source(file, target) as (db, conn):
        found = _look(file, db, conn, target)
        if found.loses and not lose_newer:
            raise _newer(found, target)
        if found.present in ("missing", "empty"):
            arrival.arrive(
                conn, target, unproven, tell, lambda new: tell_of(new, file, (), None, who)
            )
            return Restored(found, None)
        if found.present == "damaged":
            aside = _free_name(target, folder)
            arrival.take_the_damaged_place(
                conn, target, aside, unproven, tell, lambda new: tell_of(new, file, (), aside, who)
            )
            return Restored(found, aside)
        return _in_place(file, conn, target, folder, found, who, lose_newer=lose_newer, tell=tell)


def _in_place(
    file: Path,
    conn: Connection,
    target: Database,
    folder: Path,
    found: Outlook,
    who: Signed,
    *,
    lose_newer: bool,
    tell: Tell,
) -> Restored:
    now = found
    aside: Path | None = None

    def first(present: Connection) -> None:
        nonlocal now, aside
        # Looked at again: others may have written since.
        compared = tuple(partings(present, conn))
        lost = _recalls_lost(target, present, conn, compared)
        now = replace(found, partings=compared, recalls=lost)
        if now.loses and not lose_newer:
            raise _newer(now, target)
        # Named in its turn: what lies there by then is another restore's, and no business of ours.
        aside = journal_backup.copy_locked(target, present, _free_name(target, folder))

    def after(new: Connection) -> None:
        tell_of(new, file, now.partings, aside, who)

    try:
        arrival.take_the_place(conn, target, first, unproven, tell, after)
    except HoldlogError as error:
        if error.code == "outcome-unknown":
            raise Fault(
                error.code,
                f"The server went away as {target.name} was to be taken back: it may be, or not.",
                f"Look with: holdlog doctor. What was there is kept at {aside}.",
            ) from error
        # Nothing was restored: a copy that says so by its name would mislead.
        if aside is not None:
            with suppress(OSError):
                aside.unlink(missing_ok=True)
        raise
    return Restored(now, aside)


@contextmanager
def _source(file: Path, target: Database) -> Iterator[tuple[Database, Connection]]:
    if not file.is_file():
        says = f"{file} is no plain file." if is_there(file) else f"There is no file {file}."
        raise Mistake("no-file", says, "See: holdlog backup list")
    if target.path is not None and target.path.exists() and file.samefile(target.path):
        raise Mistake("the-journal", f"{file} is the journal itself.", "Name one of its backups.")
    db = open_database(file, must_exist=True)
    try:
        with _as_a_file(file):
            migrate.require_current(db)
        with db.reading() as conn:
            yield db, conn
    finally:
        db.close()


@contextmanager
def _as_a_file(file: Path) -> Iterator[None]:
    """What is wrong with the file, told as that of a backup and not of the journal in use."""
    try:
        yield
    except HoldlogError as error:
        told = {
            "no-journal": (f"{file} is empty.", ""),
            "older-journal": (
                f"{file} was made by an earlier holdlog.",
                f"Bring it up to date first, which copies it: holdlog --db {file} db upgrade",
            ),
            "newer-journal": (
                f"{file} was made by a later holdlog than this one.",
                "Restore it with that one: this one might misread it.",
            ),
            "no-kitchen": (f"{file} holds no kitchen.", ""),
            "not-a-journal": (f"{file} is a database, but not a journal of holdlog.", ""),
            "damaged": (f"{file} is damaged, or is not a backup at all.", ""),
        }.get(error.code)
        if told is None:
            raise
        hint = told[1] or "Take another one: holdlog backup list --check"
        raise Mistake(error.code, told[0], f"Nothing was changed. {hint}") from error


def _look(file: Path, db: Database, conn: Connection, target: Database) -> Outlook:
    with _as_a_file(file):
        fault = flaw(db, conn)
        kitchen = _kitchen(db, conn) if fault is None else None
    if kitchen is None:
        raise Mistake(
            "not-whole",
            f"{file} is not whole ({fault}).",
            "Nothing was changed. Take another one: holdlog backup list --check",
        )
    if (lie := misnamed(conn, file)) is not None:
        raise Mistake(
            "not-as-named",
            f"{file} is not as it was made: {lie}.",
            "Nothing was changed. Take another one; if you mean this one, rename it first.",
        )
    entries, head, last_at = journal_entries.head(conn, kitchen.site)
    present = _present(target)
    compared: tuple[Parting, ...] = ()
    recalls: tuple[ev.Recalled, ...] = ()
    if present == "sound":
        with target.reading() as there:
            compared = tuple(partings(there, conn))
            recalls = _recalls_lost(target, there, conn, compared)
    both = [each for each in compared if each.one and each.other]
    strangers = any(each.one for each in compared) and not both
    if strangers or not all(each.common for each in both):
        raise Mistake(
            "other-journal",
            f"{file} is of another journal than the one at {target.name}: not one entry is the "
            "same.",
            "Nothing was changed. Restore it to a place of its own: holdlog --db PLACE restore",
        )
    return Outlook(kitchen.name, kitchen.where, entries, head, last_at, present, compared, recalls)


def _recalls_lost(
    target: Database,
    there: Connection,
    conn: Connection,
    compared: Iterable[Parting],
) -> tuple[ev.Recalled, ...]:
    lost: list[ev.Recalled] = []
    for site in (each.site for each in compared if each.telling):
        kept = _recalls(target, conn, site)
        lost += [fact for about, fact in _recalls(target, there, site).items() if about not in kept]
    return tuple(lost)


def _recalls(db: Database, conn: Connection, site: str) -> dict[str, ev.Recalled]:
    """The recalls of a site that are in force, by what they are about."""
    if not journal_entries.of_kinds(conn, site, ["kitchen"]):
        return {}
    kitchen = kitchen_in(conn, db, _never, _no_dice, site=site)
    return {
        each.entry.subject: each.fact
        for each in recalls_in_force(kitchen, conn)
        if isinstance(each.fact, ev.Recalled)
    }


def _kitchen(db: Database, conn: Connection) -> Kitchen:
    """The kitchen that the file is told by: the one that needs no name, else the first."""
    names = journal_entries.site_names(conn)
    named = [name for name in names if journal_entries.of_kinds(conn, name, ["kitchen"])]
    site = SITE if SITE in named else next(iter(named), SITE)
    return kitchen_in(conn, db, _never, _no_dice, site=site)


def _present(target: Database) -> Present:
    if target.path is not None and not target.path.exists():
        return "missing"
    try:
        if migrate.state(target) == "missing":
            return "empty"
        migrate.require_current(target)
    except Fault:
        # A table that cannot be read looks like one that is not there.
        if _damaged(target):
            return "damaged"
        raise
    return "damaged" if _damaged(target) else "sound"


def _damaged(target: Database) -> bool:
    try:
        with target.reading() as conn:
            # Rows that are poured into tables of another shape are not what was backed up.
            return unsound(conn) is not None or bool(misshapen(conn))
    except Fault as fault:
        if target.path is None or fault.code not in ("damaged", "database"):
            raise
        return True


def _newer(found: Outlook, target: Database) -> Mistake:
    if found.present == "damaged":
        return Mistake(
            "newer-entries",
            f"The journal {target.name} cannot be read, so nobody can tell what was written after "
            f"the backup.",
            f"It would be kept aside. If that is right, say {LOSE}.",
        )
    count = sum(each.alone for each in found.partings)
    whats = ", ".join(each.what for each in found.recalls)
    recalls = f" What they recall would no longer be held: {whats}." if whats else ""
    return Mistake(
        "newer-entries",
        f"The journal {target.name} has {count} {'entry' if count == 1 else 'entries'} that the "
        f"backup has not.{recalls}",
        f"See which with --dry-run. If they may be lost, say {LOSE}; a copy of all is kept aside.",
    )


def _free_name(target: Database, folder: Path) -> Path:
    if target.path is not None:
        path = target.path.resolve()
        stem = path.stem if path.suffix == ".db" else path.name
    else:
        database = target.engine.url.database or "journal"
        path, stem = folder / database, database
    number = 1
    while (aside := path.with_name(f"{stem}.before-restore-{number}.db")).exists():
        number += 1
    return aside


def _never() -> Instant:
    raise AssertionError("to look at a journal asks no clock")


def _no_dice(_: str) -> str:
    raise AssertionError("to look at a journal draws no codes")
