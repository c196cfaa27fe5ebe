"""Makers' lots that look alike: one that was mistyped protects nobody, so the likely ones are
named wherever a lot is traced, recalled or taken in.

They are hints. What counts is the lot that a person names (``holdlog.core.lots``).
"""

from collections.abc import Iterable
from dataclasses import dataclass

from holdlog.core import events as ev
from holdlog.core.lots import lot_key, lots_alike, lots_near
from holdlog.core.moments import Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal import kinship
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import BatchRow
from holdlog.kitchen.kitchen import LOT, Kitchen
from holdlog.kitchen.standing import Standing, standing

_MOST = 6
_LEAST = 3  # signs that a lot has to have, before those that begin with it are looked for
_KIND = ev.KIND_OF[ev.Recalled]


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot on record: as it was written first, of which items, and when the last of it came."""

    lot: str
    items: tuple[str, ...]
    last: Instant


def lots_like(kitchen: Kitchen, conn: Connection, lot: str, *, mistyped: bool = False) -> list[Lot]:
    """The lots on record that may be the same as ``lot``, written in another way; ``mistyped``:
    or that are one keystroke away. ``lot`` itself is not among them.

    They are looked up by name: it costs the same however many lots there are.
    """
    key = lot_key(lot)
    wanted = (lots_near if mistyped else lots_alike)(key)
    if len(key) >= _LEAST:
        wanted.update(kinship.lots_beginning(conn, kitchen.site, key, _MOST))
    groups: dict[str, list[BatchRow]] = {}
    for row in kinship.of_lots(conn, kitchen.site, wanted):
        groups.setdefault(row.lot_key, []).append(row)
    found = [
        Lot(
            rows[0].lot,
            tuple(dict.fromkeys(row.item_name for row in rows)),
            Instant(max(row.day_one for row in rows)),
        )
        for rows in groups.values()
    ]
    return sorted(found, key=lambda each: (-each.last, each.lot))[:_MOST]


def recalls_in_force(kitchen: Kitchen, conn: Connection) -> list[Standing]:
    """The recalls that were not lifted, by when they were recorded."""
    said = journal_entries.of_kinds(conn, kitchen.site, [_KIND])
    about = journal_entries.of_subjects(conn, kitchen.site, {entry.subject for entry in said})
    counts = standing(sorted(about, key=lambda entry: entry.number), kitchen.where)
    return [each for each in counts if isinstance(each.fact, ev.Recalled)]


def recalled_lots_like(kitchen: Kitchen, conn: Connection, lot: str) -> list[ev.Recalled]:
    """The recalls in force of lots that ``lot`` may be mistyped for, or that may be ``lot``
    written in another way: more of it typed from the notice, or from the crate.
    """
    facts = {
        each.entry.subject.removeprefix(LOT): each.fact
        for each in recalls_in_force(kitchen, conn)
        if each.entry.subject.startswith(LOT) and isinstance(each.fact, ev.Recalled)
    }
    if not facts:
        return []
    key = lot_key(lot)
    near = lots_near(key)
    return [fact for other, fact in facts.items() if other in near or key in lots_alike(other)]


def lots_named(lots: Iterable[Lot]) -> str:
    """Lots in a few words, for a hint."""
    return "; ".join(f"{each.lot} ({', '.join(each.items[:2])})" for each in lots)
