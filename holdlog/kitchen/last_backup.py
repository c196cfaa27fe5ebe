"""The last backup that holds a site's entries, whichever site's station made it: a backup is of the
whole database.
"""

from dataclasses import dataclass
from pathlib import Path

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.errors import HoldlogError
from holdlog.core.files import is_file
from holdlog.core.moments import Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection, open_database
from holdlog.kitchen.kitchen import KITCHEN

# Entries that tell of backups and of nothing else, so that a backup leaves none behind it.
_OF_BACKUPS = ("backed-up", "restored")


@dataclass(frozen=True, slots=True)
class LastBackup:
    """A backup that the journal tells of. ``site`` and ``station`` made it, at ``at``, into
    ``file`` (its path there and then), or went back to it: then ``at`` is that of its last entry.

    It ``holds`` the entries of the site that was asked for up to that number; ``since`` have been
    written after them, not counting those that only tell of backups. ``read``: both are certain;
    else the file is not at hand, and by the clocks of the two sites it holds at least so many.
    """

    site: str
    station: str
    at: Instant
    file: str
    holds: int
    since: int
    read: bool


def last_with(conn: Connection, site: str) -> LastBackup | None:
    """The backup that holds most of the entries of ``site``, and of those the latest, or None.

    Each site's last one is looked at; what another site's holds is read in the file itself.
    """
    found = [
        last
        for each in journal_entries.site_names(conn)
        if (last := _of(conn, each, site)) is not None and last.holds
    ]
    return max(found, key=lambda last: (last.holds, last.at), default=None)


def _of(conn: Connection, maker: str, site: str) -> LastBackup | None:
    told = [journal_entries.latest(conn, maker, kind, KITCHEN) for kind in _OF_BACKUPS]
    entry = max(
        (each for each in told if each is not None), key=lambda one: one.number, default=None
    )
    fact = fact_of(entry) if entry is not None else None
    if entry is None or not isinstance(fact, ev.BackedUp | ev.Restored):
        return None
    at = entry.at
    if isinstance(fact, ev.Restored):
        # It was read from end to end then, and is as old as what is in it.
        last = journal_entries.numbered(conn, maker, fact.entries)
        at = last.recorded_at if last is not None else at
    holds, read = fact.entries, True
    if maker != site:
        file = Path(fact.file)
        read = is_file(file)
        holds = _read(conn, file, site) if read else _by_the_clocks(conn, maker, fact, site)
    since = journal_entries.head(conn, site)[0] - holds
    telling = journal_entries.about_since(conn, site, KITCHEN, holds)
    since -= sum(each.kind in _OF_BACKUPS for each in telling)
    return LastBackup(maker, entry.station, at, fact.file, holds, since, read)


def _read(conn: Connection, file: Path, site: str) -> int:
    """The last entry of ``site`` in ``file``; 0 where that is not an entry of this journal."""
    try:
        db = open_database(file, must_exist=True)
        try:
            with db.reading() as theirs:
                number, digest, _ = journal_entries.head(theirs, site)
        finally:
            db.close()
    except HoldlogError:
        return 0
    same: Entry | None = journal_entries.numbered(conn, site, number)
    return number if same is not None and same.hash == digest else 0


def _by_the_clocks(conn: Connection, maker: str, fact: ev.BackedUp | ev.Restored, site: str) -> int:
    """The last entry of ``site`` that was written before the last one of ``maker`` in the backup.
    The copy is younger than that one, so that more may be in it, and never less (as far as the
    clocks of the two agree).
    """
    last = journal_entries.numbered(conn, maker, fact.entries)
    if last is None:
        return 0
    until = last.recorded_at
    return sum(each.recorded_at < until for each in journal_entries.stream(conn, site))
