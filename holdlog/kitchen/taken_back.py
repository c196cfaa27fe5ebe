"""A journal that was taken back to a backup tells of it, and takes nothing from a program that
knows the entries of before.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from holdlog.core import events as ev
from holdlog.core.errors import Fault
from holdlog.core.moments import Clock, Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Connection, Database
from holdlog.journal.entries import Draft
from holdlog.journal.parting import Parting
from holdlog.kitchen import clocks

Known = dict[str, tuple[int, str]]
"""Number and hash of an entry that was in the journal, by site."""
# What the entries of a journal as such are about.
_SUBJECT = "kitchen"


@dataclass(frozen=True, slots=True)
class Signed:
    """Who takes a journal back, at which station, by which clock."""

    by: str
    clock: Clock
    station: str = ""


def tell_of(
    conn: Connection, file: Path, partings: Iterable[Parting], aside: Path | None, who: Signed
) -> None:
    """Append to every site of the restored journal of ``conn`` that it was taken back to ``file``,
    and what was lost by it. ``partings`` are with the journal that was there: for a site without
    one nobody can tell.

    By a clock that dates nothing it is written as of the last entry of the backup. So it hides
    neither that the clock is wrong nor that nobody wrote for long: the next job is stopped as it
    would be without it.
    """
    parted = {each.site: each for each in partings}
    for site in journal_entries.site_names(conn):
        number, head, _ = journal_entries.head(conn, site)
        if not number:
            continue
        found = clocks.apart(conn, site, who.clock())
        at = found.last if found.far_ahead else found.judged
        fact = _fact(file, number, head, parted.get(site), aside)
        draft = Draft(fact, at, _SUBJECT, who.by.strip().upper())
        journal_entries.append(conn, site, [draft], recorded_at=at, station=who.station)


@contextmanager
def appending(db: Database, site: str, known: Known) -> Iterator[Connection]:
    """A transaction that writes to ``site``, by a program that knows an entry of it, or none.

    Raises ``Fault("taken-back")`` where that entry is not there with this hash: what the program
    knows of the journal (a round it has begun) no longer holds once a backup took its place.
    """
    with db.appending(site) as conn:
        _refuse_taken_back(conn, site, *known.get(site, (0, "")))
        yield conn
        end = journal_entries.head(conn, site)[:2]
    known[site] = end


def _refuse_taken_back(conn: Connection, site: str, number: int, digest: str) -> None:
    entry = journal_entries.numbered(conn, site, number) if number else None
    if number and (entry is None or entry.hash != digest):
        raise Fault(
            "taken-back",
            f"Entry {number} is not the one this program knows: the journal went back to a backup, "
            "or was changed, while it was open.",
            "Nothing was written. Leave this program, look at what is on hand, and begin again.",
        )


def _fact(
    file: Path, number: int, head: str, parting: Parting | None, aside: Path | None
) -> ev.Restored:
    kept = str(aside) if aside is not None else ""
    if parting is None:
        return ev.Restored(str(file.absolute()), number, head, unknown=True, aside=kept)
    return ev.Restored(
        str(file.absolute()), number, head, parting.common, parting.alone,
        _whole(parting.first_at), _whole(parting.last_at),
        parting.one_head if parting.alone else "", aside=kept,
    )  # fmt: skip


def _whole(at: Instant | None) -> int | None:
    return int(at) if at is not None else None
