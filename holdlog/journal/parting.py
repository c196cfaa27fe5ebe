"""Where two journals part: up to which entry they are the same, and what only one of them has."""

from dataclasses import dataclass

from sqlalchemy import func, select

from holdlog.core.moments import Instant
from holdlog.journal.engine import Connection
from holdlog.journal.entries import head, numbered, site_names
from holdlog.journal.tables import entry

# What is written about backups loses nothing of the kitchen's when it is lost.
_RECORDS = ("backed-up", "restored")


@dataclass(frozen=True, slots=True)
class Parting:
    """Two journals of one site: ``common`` is the number of the last entry that both have.

    ``one`` and ``other`` are the numbers of their last entries, ``one_head`` is the hash of the
    first one's. ``first_at`` and ``last_at`` are when the entries that only ``one`` has were
    written; ``telling`` of them tell of more than of a backup or a way back to one.
    """

    site: str
    common: int
    one: int
    other: int
    first_at: Instant | None = None
    last_at: Instant | None = None
    telling: int = 0
    one_head: str = ""

    @property
    def alone(self) -> int:
        """How many entries only ``one`` has."""
        return self.one - self.common

    @property
    def forked(self) -> bool:
        """Whether both went on after they were the same, and not only with records of backups."""
        return bool(self.telling) and self.common < min(self.one, self.other)


def partings(one: Connection, other: Connection) -> list[Parting]:
    """Every site of two journals whose chains are whole."""
    sites = sorted({*site_names(one), *site_names(other)})
    return [_parting(one, other, site) for site in sites]


def _parting(one: Connection, other: Connection, site: str) -> Parting:
    last, digest, _ = head(one, site)
    ends = last, head(other, site)[0]
    common = _common(one, other, site, min(ends))
    if common == last:
        return Parting(site, common, *ends, one_head=digest)
    alone = (entry.c.site == site, entry.c.number > common)
    first, latest = one.execute(
        select(func.min(entry.c.recorded_at), func.max(entry.c.recorded_at)).where(*alone)
    ).one()
    telling = select(func.count()).where(*alone, entry.c.kind.not_in(_RECORDS))
    return Parting(
        site, common, *ends, Instant(first), Instant(latest),
        one.execute(telling).scalar_one(), digest,
    )  # fmt: skip


def _common(one: Connection, other: Connection, site: str, most: int) -> int:
    """Each hash covers all entries before it, so that the place is found by halving."""
    low, high = 0, most
    while low < high:
        middle = (low + high + 1) // 2
        ours, theirs = numbered(one, site, middle), numbered(other, site, middle)
        if ours is not None and theirs is not None and ours.hash == theirs.hash:
            low = middle
        else:
            high = middle - 1
    return low
