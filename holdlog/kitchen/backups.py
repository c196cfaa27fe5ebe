"""Backups: made while others write, read back before they bear a name, and remembered."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from holdlog.core import events as ev
from holdlog.core.errors import Fault, HoldlogError, Mistake
from holdlog.core.files import is_file, is_there
from holdlog.core.moments import DAY, SECOND, Instant, show_length, show_moment
from holdlog.core.parts import sweep
from holdlog.journal import backup as journal_backup
from holdlog.journal import entries as journal_entries
from holdlog.journal import migrate
from holdlog.journal.checks import Finding
from holdlog.journal.engine import Connection, open_database
from holdlog.journal.transfer import Tell, quiet
from holdlog.kitchen.backup_files import (
    BackupFile,
    Keeping,
    in_folder,
    left_over,
    misnamed,
    name_of,
    site_of,
    whose,
)
from holdlog.kitchen.kitchen import KITCHEN, Kitchen
from holdlog.kitchen.last_backup import LastBackup, last_with
from holdlog.kitchen.wholeness import flaw, unproven

# Ours: a kitchen that works every day notices within two that its backups have stopped.
TOO_OLD = 2 * DAY
# How often a backup is made anew because another station took its name meanwhile. Ours: more
# stations than a kitchen has would have to begin one within the same second.
_TRIES = 5


@dataclass(frozen=True, slots=True)
class BackUp:
    """A backup that was made and read back whole.

    ``entries`` and ``head`` are of this site. ``unrecorded`` says why the journal does not tell
    of it (empty: it does), ``removed`` which older backups were taken away, ``stuck`` which could
    not be.
    """

    file: Path
    size: int
    at: Instant
    entries: int
    head: str
    unrecorded: str
    removed: tuple[str, ...]
    stuck: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Listed:
    """A file that bears a backup's name, and what is in it. ``fault``: why it is no good, as far
    as was looked.
    """

    file: BackupFile
    size: int
    entries: int
    head: str
    checked: bool
    fault: str


def back_up(
    kitchen: Kitchen, by: str, folder: Path, keeping: Keeping | None, *, tell: Tell = quiet
) -> BackUp:
    """Back up the whole journal (every site in it) into ``folder``, which has to be there.

    The copy is read back, from its chains to a replay of what is on hand, before it gets its
    name; then the journal tells of it; only then older ones that ``keeping`` does not keep are
    taken away (None: all are kept), and of those only files with a name made here for this very
    journal, which has all that is in them. A copy that cannot be recorded (the journal's disk is
    full, say) is good all the same.

    Raises ``Mistake`` ``no-name`` or ``no-folder``, and ``Fault``; then there is no new file, and
    the older ones are all there.
    """
    if not by.strip():
        raise Mistake("no-name", "Who is writing?", "Say --by with your initials, or HOLDLOG_BY.")
    _there(folder)
    folder = folder.resolve()
    made: list[tuple[str, Instant, int, str]] = []

    def named(conn: Connection) -> Path:
        number, head, last = journal_entries.head(conn, kitchen.site)
        # A clock that went backwards must not name a newer backup as if it were older.
        at = Instant(max(kitchen.now(), last))
        owner = _owner(kitchen, conn)
        # Another station may have made one in this second, or the clock stands still.
        while (file := folder / name_of(owner, at, number, kitchen.where)).exists():
            at = Instant(at + SECOND)
        made.append((owner, at, number, head))
        return file

    file = _copied(kitchen, named, tell)
    owner, at, number, head = made[-1]
    unrecorded = _record(kitchen, by, ev.BackedUp(str(file), number, head))
    removed, stuck = _take_away(kitchen, owner, file, keeping)
    size = file.stat().st_size
    return BackUp(file, size, at, number, head, unrecorded, removed, stuck)


def listed(
    kitchen: Kitchen | None, folder: Path, *, check: bool, tell: Tell = quiet
) -> list[Listed]:
    """The backups of this kitchen's journal in ``folder``, oldest first; of every journal where
    there is no kitchen to ask (that is when they are wanted most). With ``check`` each is read
    from end to end. Raises ``Mistake("no-folder")``.
    """
    _there(folder)
    owner = ""
    if kitchen is not None:
        with kitchen.db.reading() as conn:
            owner = _owner(kitchen, conn)
    site = kitchen.site if kitchen is not None else ""
    files = in_folder(folder, owner)
    found = []
    for number, file in enumerate(files, 1):
        found.append(_look(file, site, check=check))
        tell("looked at", number, len(files))
    return found


def last_good(kitchen: Kitchen) -> Finding:
    """When the last backup was made that holds entries of this site, and how many are since; and
    whether to see to it: there is none, it is older than two days (ours), or its file is not where
    it was made, or not for this account to look at.
    """
    with kitchen.db.reading() as conn:
        last = last_with(conn, kitchen.site)
    if last is None:
        return Finding("backup", ok=False, says="There is no backup yet. Make one: holdlog backup")
    age = kitchen.now() - last.at
    of = show_moment(last.at, kitchen.where, kitchen.now())
    when = f"The last backup is of {of}, entry {last.holds}"
    made = [f"by the site {last.site}"] if last.site != kitchen.site else []
    if last.station != kitchen.station:
        made.append(f"at station {last.station or 'without a name'}")
    if made:
        when += f", made {' '.join(made)}"
    when += f"; {_since(last)}"
    if last.station == kitchen.station and not is_file(Path(last.file)):
        gone = "cannot be looked at" if is_there(Path(last.file)) else "is not there now"
        says = f"{when}. {last.file} {gone}. Plug in its disk, or make another."
        return Finding("backup", ok=False, says=says)
    if age > TOO_OLD:
        says = f"{when}. It is {show_length(age)} old. Make another: holdlog backup"
        return Finding("backup", ok=False, says=says)
    if last.station != kitchen.station:
        return Finding("backup", ok=True, says=f"{when}.")
    return Finding("backup", ok=True, says=f"{when}. It is {last.file}")


def _since(last: LastBackup) -> str:
    if not last.since:
        return "no entry is since"
    entries = "1 entry is" if last.since == 1 else f"{last.since:,} entries are"
    return f"{entries} since" if last.read else f"no more than {entries} since, by the clocks"


def _copied(kitchen: Kitchen, named: Callable[[Connection], Path], tell: Tell) -> Path:
    for left in reversed(range(_TRIES)):
        try:
            return journal_backup.copy_named(kitchen.db, named, proof=unproven, tell=tell)
        except Fault as fault:
            raise _told(fault, kitchen) from fault
        except Mistake as mistake:
            # Somebody took the very name while this one was read back.
            if mistake.code != "file-exists" or not left:
                raise
    raise AssertionError  # the last try returns or raises


def _there(folder: Path) -> None:
    if not folder.is_dir():
        raise Mistake("no-folder", f"There is no folder {folder}.", "Make it, or plug in its disk.")


def _owner(kitchen: Kitchen, conn: Connection) -> str:
    first = journal_entries.numbered(conn, kitchen.site, 1)
    return whose(kitchen.name, first.hash if first is not None else "")


def _told(fault: Fault, kitchen: Kitchen) -> Fault:
    hints = {
        "disk-full": "Make room there, or give another folder with --to.",
        "disk-fault": "Is it full, over a quota, or failing? Give another folder with --to.",
        "read-only": "Give another folder with --to.",
        "cannot-open": "May you write in that folder? Give another one with --to.",
        "cannot-copy": "Give another folder with --to.",
    }
    if fault.code not in hints or kitchen.db.name in fault.sentence:
        return fault
    # The database's own words are about a journal; this one was to be its backup.
    sentence = fault.sentence.replace("journal", "backup")
    hint = f"The journal is as it was. {hints[fault.code]}"
    return Fault(fault.code, sentence, hint)


def _record(kitchen: Kitchen, by: str, fact: ev.BackedUp) -> str:
    try:
        with kitchen.writing(by) as write:
            write.append((fact, write.recorded_at, KITCHEN))
    except HoldlogError as error:
        return error.line()
    return ""


def _take_away(
    kitchen: Kitchen, owner: str, new: Path, keeping: Keeping | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    removed, stuck = [], []
    if keeping is not None:
        files = _of_this_history(kitchen, in_folder(new.parent, owner))
        for file in left_over(files, new, keeping, kitchen.where):
            try:
                file.path.unlink()
                removed.append(file.path.name)
            except OSError:
                stuck.append(file.path.name)
    sweep(new, begins=f"{owner}-")
    return tuple(removed), tuple(stuck)


def _of_this_history(kitchen: Kitchen, files: list[BackupFile]) -> list[BackupFile]:
    """Those of ``files`` in which nothing is that the journal has not: what a cook entered before
    the kitchen went back to an older backup, or in a backup that was worked on, may be nowhere
    else. The journal itself is none of them, wherever it lies.
    """
    found = []
    for file in files:
        seen = _look(file, kitchen.site, check=False)
        with kitchen.db.reading() as conn:
            entry = journal_entries.numbered(conn, kitchen.site, file.entry)
        same = entry is not None and entry.hash == seen.head and not seen.fault
        if same and not _is_journal(kitchen, file.path):
            found.append(file)
    return found


def _is_journal(kitchen: Kitchen, path: Path) -> bool:
    journal = kitchen.db.path
    return journal is not None and journal.exists() and path.samefile(journal)


def _look(file: BackupFile, site: str, *, check: bool) -> Listed:
    size, entries, head, fault = 0, 0, "", ""
    db = open_database(file.path)
    try:
        size = file.path.stat().st_size
        migrate.require_current(db)
        with db.reading() as conn:
            entries, head, _ = journal_entries.head(conn, site or site_of(conn, file.whose))
            fault = misnamed(conn, file.path) or (flaw(db, conn) if check else None) or ""
    except (HoldlogError, OSError) as error:
        fault = error.line() if isinstance(error, HoldlogError) else str(error.strerror)
    finally:
        db.close()
    return Listed(file, size, entries, head, check, fault)
