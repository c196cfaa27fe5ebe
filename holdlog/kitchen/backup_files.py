"""The files of backups in a folder: their names, and which of them are kept.

A name holds the kitchen, a mark of its journal, the local time and the number of the last entry:
``tern-tide-1f0c9a2b-2026-06-04-090000-e0000123.db``. The mark is the beginning of the hash of the
first entry, so that two journals in one folder never take away each other's.
"""

import re
from collections.abc import Callable, Collection, Hashable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from holdlog.core.errors import Mistake
from holdlog.core.moments import HOUR, Instant, from_local, local_date, to_local
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Connection
from holdlog.kitchen.project import slug

ENDING = ".db"
# Ours: seven digits, so that names stand in order up to ten million entries; more are read, too.
_NAME = re.compile(
    r"(?P<whose>.+-[0-9a-f]{8})-(?P<wall>\d{4}-\d\d-\d\d-\d{6})-e(?P<entry>\d{7,})\.db"
)
_WALL = "%Y-%m-%d-%H%M%S"
# Signs of the hash. Ours: of four thousand million marks two kitchens do not share one by chance.
MARK = 8
# Of the kitchen's name. Ours: a file's name has room for 255 octets (ext4, FAT, NTFS) or more.
_LONGEST = 40
# All backups of the last two days are kept, then the last one of each of ``Keeping``. Ours.
LATELY = 48 * HOUR


@dataclass(frozen=True, slots=True)
class Keeping:
    """How many are kept beside those of the last 48 hours: the last backup of each of the latest
    ``days`` days, ``weeks`` weeks (Monday to Sunday) and ``months`` months that have one.

    Counted are days that have a backup, from the newest backup back, not days of the calendar:
    a kitchen that was closed, or a clock that is a year ahead, takes none away. The figures are
    common practice, no source.
    """

    days: int = 7
    weeks: int = 5
    months: int = 24

    def __str__(self) -> str:
        return (
            f"all of the last 48 hours, then the last of {self.days} days, {self.weeks} weeks and "
            f"{self.months} months"
        )


@dataclass(frozen=True, slots=True)
class BackupFile:
    """A file that bears a backup's name: the local time and the last entry it claims."""

    path: Path
    whose: str
    wall: datetime
    entry: int


def read_keeping(text: str) -> Keeping | None:
    """How many to keep, as typed: ``7,5,24`` (days, weeks, months), or ``all`` (None).

    Raises ``Mistake("bad-keep")``; at least one day is kept.
    """
    if text.strip().lower() == "all":
        return None
    numbers = re.fullmatch(r"\s*(\d{1,4})\s*,\s*(\d{1,4})\s*,\s*(\d{1,4})\s*", text, re.ASCII)
    if numbers is None or int(numbers[1]) < 1:
        raise Mistake(
            "bad-keep",
            f"{text!r} does not say how many backups to keep.",
            'Write days, weeks and months, "7,5,24" with at least one day, or "all".',
        )
    return Keeping(*(int(each) for each in numbers.groups()))


def kept(times: Collection[Instant], keeping: Keeping, where: ZoneInfo) -> set[Instant]:
    """Which of the backups made at ``times`` are kept; days and weeks are those in ``where``.

    The newest is always among them, and a second look at what is kept takes none away.
    """
    if not times:
        return set()
    newest = max(times)
    found = {at for at in times if at >= newest - LATELY}
    classes: tuple[tuple[int, Callable[[date], Hashable]], ...] = (
        (keeping.days, lambda day: day),
        (keeping.weeks, lambda day: day.isocalendar()[:2]),
        (keeping.months, lambda day: (day.year, day.month)),
    )
    for most, span in classes:
        last: dict[Hashable, Instant] = {}
        for at in sorted(times, reverse=True):
            last.setdefault(span(local_date(at, where)), at)
        found.update(list(last.values())[:most])
    return found


def whose(name: str, first: str) -> str:
    """How the names of a journal's backups begin: its kitchen's ``name``, and the hash of its
    ``first`` entry.
    """
    plain = slug(name).encode("ascii", "ignore").decode().strip("-")[:_LONGEST]
    return f"{plain or 'kitchen'}-{first[:MARK]}"


def name_of(owner: str, at: Instant, entry: int, where: ZoneInfo) -> str:
    """The name of a backup made at ``at``, whose last entry has the number ``entry``."""
    return f"{owner}-{to_local(at, where):{_WALL}}-e{entry:07}{ENDING}"


def in_folder(folder: Path, owner: str = "") -> list[BackupFile]:
    """The backups in ``folder`` (of one journal), oldest first. Links are not looked at."""
    found = []
    for path in folder.iterdir():
        match = _NAME.fullmatch(path.name)
        if match is None or (owner and match["whose"] != owner):
            continue
        with suppress(ValueError):
            wall = datetime.strptime(match["wall"], _WALL)  # noqa: DTZ007  (local time, by intent)
            if path.is_file() and not path.is_symlink():
                found.append(BackupFile(path, match["whose"], wall, int(match["entry"])))
    return sorted(found, key=lambda file: (file.wall, file.entry, file.path.name))


def site_of(conn: Connection, owner: str) -> str:
    """Whose backup a file is: the site whose first entry its name bears the mark of, or none."""
    for site in journal_entries.site_names(conn):
        first = journal_entries.numbered(conn, site, 1)
        if first is not None and first.hash.startswith(owner[-MARK:]):
            return site
    return ""


def misnamed(conn: Connection, path: Path) -> str | None:
    """What is wrong with the journal of ``conn`` if it is the backup that the name of ``path``
    tells of; None: nothing, or it has another sort of name.
    """
    match = _NAME.fullmatch(path.name)
    if match is None:
        return None
    site, last = site_of(conn, match["whose"]), int(match["entry"])
    if not site:
        return "its name is of another journal"
    found = journal_entries.head(conn, site)[0]
    return None if found == last else f"its name says entry {last}, its last one is {found}"


def left_over(
    files: Iterable[BackupFile], new: Path, keeping: Keeping, where: ZoneInfo
) -> list[BackupFile]:
    """Those of ``files`` that are not kept; never ``new``, the one just made."""
    times = {file.path: from_local(file.wall, where) for file in files}
    good = kept(set(times.values()), keeping, where)
    return [file for file in files if times[file.path] not in good and file.path != new]
