"""The round on paper: what stands on the sheet, and by which mark it is known again."""

from dataclasses import dataclass
from pathlib import Path

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.due import Line, line, walk_order
from holdlog.kitchen.kitchen import Kitchen, Unit
from holdlog.kitchen.printers import spoken
from holdlog.kitchen.units import UnitLimit, limit_of

_SIGNS = 4  # of the hash, in a mark
# What makes containers, and names them.
_MAKES = (ev.Prepared, ev.Received, ev.Opened)


@dataclass(frozen=True, slots=True)
class UnitSheet:
    """A unit to walk, its limit for most food, and what stands in it, worst first."""

    name: str
    unit: Unit | None
    limit: UnitLimit | None
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class SheetData:
    """What the sheet says, as of the journal's entry ``number`` with the hash ``head``.

    ``fonts`` are the kitchen's own, for names in signs that the shipped font lacks.
    """

    at: Instant
    number: int
    head: str
    books: str
    units: tuple[UnitSheet, ...]
    fonts: tuple[Path, ...] = ()

    @property
    def mark(self) -> str:
        """By what the sheet is known again: the entry's number and a piece of its hash."""
        return mark_of(self.number, self.head)


def mark_of(number: int, digest: str) -> str:
    """``1234-AB12``."""
    return f"{number}-{digest[:_SIGNS].upper()}"


def sheet_data(kitchen: Kitchen, unit: str = "") -> SheetData:
    """All that is on hand in the order of the walk; of one unit, or of all, empty ones too."""
    wanted = kitchen.unit(unit).name if unit else ""
    with kitchen.db.reading() as conn:
        kitchen, at = kitchen.current(conn), kitchen.moment(conn)
        number, head, _ = journal_entries.head(conn, kitchen.site)
        rows = on_hand.live(conn, kitchen.site)
        lines = walk_order(kitchen, (line(kitchen, conn, row, at) for row in rows))
        stack = kitchen.stack(conn)
        names = dict.fromkeys([*(each.row.unit for each in lines if not _known(kitchen, each)),
                               *kitchen.units])  # fmt: skip
        units = [
            UnitSheet(
                name, place := kitchen.units.get(name),
                limit_of(stack, place, kitchen.where) if place else None,
                tuple(each for each in lines if each.row.unit == name),
            )
            for name in names
            if wanted in ("", name)
        ]  # fmt: skip
        fonts = spoken(kitchen, conn).fonts
    books = " + ".join(book.title for book in stack.books)
    return SheetData(at, number, head, books, tuple(units), fonts)


def _known(kitchen: Kitchen, each: Line) -> bool:
    return each.row.unit in kitchen.units


def sheet_number(kitchen: Kitchen, conn: Connection, mark: str) -> int:
    """The entry number of a sheet by its mark. Raises ``Mistake("no-sheet")``."""
    number = mark.strip().partition("-")[0]
    entry = None
    if number.isascii() and number.isdigit() and len(number) < len(str(2**53)):
        entry = journal_entries.numbered(conn, kitchen.site, int(number))
    if entry is None or mark_of(entry.number, entry.hash) != mark.strip().upper():
        raise Mistake(
            "no-sheet",
            f"No sheet {mark!r} was made from this journal.",
            "Its mark stands at the foot of every page: 1234-AB12.",
        )
    return entry.number


def on_sheet(kitchen: Kitchen, conn: Connection, row: ContainerRow, number: int) -> bool:
    """Whether a live container was there already when entry ``number`` was the last."""
    site = kitchen.site
    if row.parent:
        entries = journal_entries.of_subjects(conn, site, [row.parent])
        born = [
            entry.number
            for entry in entries
            if isinstance(fact := fact_of(entry), ev.Split) and row.code in fact.into
        ]
    else:
        entries = journal_entries.of_subjects(conn, site, [row.batch])
        born = [
            entry.number
            for entry in entries
            if isinstance(fact := fact_of(entry), _MAKES) and row.code in fact.containers
        ]
    return bool(born) and min(born) <= number
