"""The opening inventory from a file: what stands in the kitchen on the day holdlog begins.

Its rows tell of the past, so the strict reading holds. A day without an hour counts from its
first instant for making, opening, coming in and thawing, and from its last for freezing. Days in
the freezer before today count only where the row names the evidence they rest on. Food whose day
of making or opening nobody knows is not taken in: unmarked food is discarded.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, read_amount
from holdlog.core.errors import Mistake
from holdlog.core.moments import (
    Instant,
    end_of_day,
    from_local,
    local_date,
    read_day,
    show_dated,
    start_of_day,
)
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.evidence import names_a_paper
from holdlog.kitchen.import_in import Imported, bring_in
from holdlog.kitchen.items import Item, find_item, items
from holdlog.kitchen.kitchen import Kitchen, Unit, Writing
from holdlog.kitchen.prep import MOST_CONTAINERS, Batch, record_in
from holdlog.kitchen.rows_in import RowIn, WrongCell, read_rows

COLUMNS = (
    "item", "amount", "containers", "unit", "made on", "opened on", "received on", "maker's date",
    "date for", "lot", "other lot", "frozen on", "thawed on", "evidence", "house days",
)  # fmt: skip
_EXAMPLE: tuple[dict[str, str], ...] = (
    {
        "item": "chicken stock", "amount": "6 l", "containers": "3", "unit": "walk-in",
        "made on": "2026-06-01 15:00",
    },
    {
        "item": "garlic oil", "amount": "500 ml", "unit": "chest freezer", "made on": "2026-05-30",
        "frozen on": "2026-05-31", "evidence": "freezer sheet 12, MK",
    },
    {
        "item": "cream, opened", "amount": "1 l", "unit": "reach-in", "opened on": "2026-06-01",
        "maker's date": "2026-06-12", "date for": "safety", "lot": "L442",
    },
)  # fmt: skip
EXAMPLE = tuple(tuple(row.get(column, "") for column in COLUMNS) for row in _EXAMPLE)
_BEGINNINGS = ("made on", "opened on", "received on")
_KINDS = dict(zip(_BEGINNINGS, ("prepared", "opened", "received"), strict=True))
_DATE_FOR: tuple[ev.MakerDateFor, ...] = ("safety", "quality", "use-or-freeze-by")
MOST_HOUSE_DAYS = 365
# What record_in may refuse a lot for, and what to do about it in a file.
_OF_THE_LOT = {
    "long-lot": "",
    "looks-recalled": "Keep it apart and compare it with the package: is it that lot, write it as "
    "it is recalled; is it another, write yes in the column other lot.",
}


@dataclass(frozen=True, slots=True)
class Stock:
    """What one row says. ``frozen`` and ``thawed``: when, if it was; ``place``: where it is."""

    batch: Batch
    place: Unit
    frozen: Instant | None
    thawed: Instant | None
    evidence: str


@dataclass(frozen=True, slots=True)
class StockIn:
    """The containers of a row. ``near``: recalled lots that its ``lot`` only looks like, as the
    row says.
    """

    rows: tuple[ContainerRow, ...]
    lot: str
    near: tuple[ev.Recalled, ...]


def import_inventory(
    kitchen: Kitchen, by: str, name: str, data: bytes, *, yes: bool
) -> Imported[StockIn]:
    """Read the opening inventory in: the containers of each row. Without ``yes`` it only looks,
    and the codes are only examples. See ``bring_in`` and ``read_rows``.
    """
    rows = read_rows(data, COLUMNS, ("item", "unit"))
    with kitchen.db.reading() as conn:
        known, now = items(kitchen, conn), kitchen.moment(conn)
    said = []
    for row in rows:
        stock = _stock(row, kitchen, known, now)
        said.append((row, None if row.faults else stock))
    return bring_in(kitchen, by, "inventory", (name, data), said, _record, yes=yes)


def _record(write: Writing, stock: Stock) -> StockIn:
    try:
        made = record_in(write, stock.batch)
    except Mistake as mistake:
        if mistake.code not in _OF_THE_LOT:
            raise
        raise WrongCell("lot", mistake, _OF_THE_LOT[mistake.code]) from mistake
    rows = _frozen(write, stock, made.rows)
    return StockIn(rows, stock.batch.lot, made.near)


def _frozen(
    write: Writing, stock: Stock, rows: tuple[ContainerRow, ...]
) -> tuple[ContainerRow, ...]:
    """The containers of a row, once its days in the freezer are written down."""
    codes = [row.code for row in rows]
    facts: list[tuple[ev.Fact, Instant]] = []
    if stock.frozen is not None:
        freezer = stock.place if stock.thawed is None else write.kitchen.first_unit(("freezer",))
        facts.append((ev.Frozen(freezer.name if freezer else ""), stock.frozen))
    if stock.thawed is not None:
        facts.append((ev.Thawed(None, stock.place.name), stock.thawed))
    if not facts:
        return rows
    written = write.append(*((fact, at, code) for code in codes for fact, at in facts))
    if stock.evidence:
        write.append(
            *(
                (ev.Confirmed(entry.number, stock.evidence), write.recorded_at, entry.subject)
                for entry in written
                if entry.kind == "frozen"
            )
        )
    after = {row.code: row for row in write.settle(*codes)}
    return tuple(after[code] for code in codes)


def _stock(row: RowIn, kitchen: Kitchen, known: Sequence[Item], now: Instant) -> Stock | None:
    item, unit = _item(row, known), _unit(row, kitchen)
    given = [column for column in _BEGINNINGS if row.text(column)]
    if not given:
        row.wrong(
            "made on",
            "nobody says when it was made, opened or received: unmarked food is discarded, so "
            "leave the row out and bin it",
        )
    elif len(given) > 1:
        row.wrong(given[1], f"say one of {', '.join(_BEGINNINGS)}")
    begun = _moment(row, given[0], kitchen, now, first=True) if given else None
    frozen = _moment(row, "frozen on", kitchen, now, first=False)
    thawed = _moment(row, "thawed on", kitchen, now, first=True)
    _check_order(row, kitchen, begun, frozen, thawed)
    if unit is not None:
        _check_place(row, unit, frozen, thawed)
    if row.text("evidence") and not row.text("frozen on"):
        row.wrong("evidence", "it is for the day of freezing, and there is none")
    if row.text("evidence") and not names_a_paper(row.text("evidence")):
        row.wrong("evidence", "it names no paper and no logger")
    start = unit
    if unit is not None and unit.freezes:
        start = kitchen.first_unit(("walk-in", "reach-in"))
        if start is None:
            row.wrong("unit", "this kitchen has no cold unit where it was before it was frozen")
    maker = _maker_date(row)
    containers = _whole(row, "containers", MOST_CONTAINERS) or 1
    house_days = _whole(row, "house days", MOST_HOUSE_DAYS)
    amount = _amount(row)
    compared = _lot_compared(row)
    if item is None or unit is None or start is None or begun is None:
        return None
    batch = Batch(
        item=item, containers=containers, at=begun, unit=start, amount=amount,
        facts=ev.Food(item="", category="", house_days=house_days) if house_days else None,
        kind=_KINDS[given[0]], maker_use_by=maker[0], maker_date_for=maker[1],
        lot=row.text("lot") if given[0] != "made on" else "",
        lot_compared=compared,
    )  # fmt: skip
    if given[0] == "made on" and (row.text("lot") or maker[0] is not None):
        row.wrong("lot", "a maker's date and lot belong to food that was opened or received")
    return Stock(batch, unit, frozen, thawed, row.text("evidence"))


def _check_order(
    row: RowIn,
    kitchen: Kitchen,
    begun: Instant | None,
    frozen: Instant | None,
    thawed: Instant | None,
) -> None:
    where = kitchen.where
    if begun is not None and frozen is not None and frozen < begun:
        row.wrong("frozen on", f"it was not there before {show_dated(begun, where)}")
    if thawed is None:
        return
    if frozen is None:
        row.wrong("thawed on", "it was thawed: say when it was frozen, too")
    elif local_date(frozen, where) == local_date(thawed, where):
        row.wrong("thawed on", "frozen and thawed on one day gives no day back: leave both out")
    elif thawed < frozen:
        row.wrong("thawed on", "it was thawed before it was frozen")


def _check_place(row: RowIn, unit: Unit, frozen: Instant | None, thawed: Instant | None) -> None:
    is_frozen = frozen is not None and thawed is None
    if unit.freezes and not is_frozen and not row.faults:
        row.wrong("frozen on", f"{unit.name} is a freezer: since when is it in there?")
    elif is_frozen and not unit.freezes:
        row.wrong("unit", f"{unit.name} is no freezer, and it is frozen; or say thawed on")


def _item(row: RowIn, known: Sequence[Item]) -> Item | None:
    try:
        return find_item(known, row.text("item"))
    except Mistake as mistake:
        row.mistaken("item", mistake)
        return None


def _unit(row: RowIn, kitchen: Kitchen) -> Unit | None:
    try:
        return kitchen.unit(row.text("unit"))
    except Mistake as mistake:
        row.mistaken("unit", mistake)
        return None


def _amount(row: RowIn) -> Amount | None:
    text = row.text("amount")
    try:
        return read_amount(text) if text else None
    except Mistake as mistake:
        row.mistaken("amount", mistake)
        return None


def _maker_date(row: RowIn) -> tuple[date | None, ev.MakerDateFor]:
    text, said = row.text("maker's date"), row.text("date for")
    date_for: ev.MakerDateFor = next((each for each in _DATE_FOR if each == said), "safety")
    if said and said not in _DATE_FOR:
        row.wrong("date for", f"{said!r}: write {', '.join(_DATE_FOR)}, or leave it empty")
    try:
        return (read_day(text) if text else None), date_for
    except Mistake as mistake:
        row.mistaken("maker's date", mistake)
        return None, date_for


def _lot_compared(row: RowIn) -> bool:
    """Whether somebody has looked that the lot is not a recalled one that looks like it."""
    compared = row.yes_or_no("other lot") or False
    if compared and not row.text("lot"):
        row.wrong("other lot", "it is for the lot, and there is none")
    return compared


def _whole(row: RowIn, column: str, most: int) -> int | None:
    text = row.text(column)
    if not text:
        return None
    if text.isascii() and text.isdigit() and len(text) <= len(str(most)) and 1 <= int(text) <= most:
        return int(text)
    row.wrong(column, f"{text!r} is not a whole number from 1 to {most}")
    return None


def _moment(
    row: RowIn, column: str, kitchen: Kitchen, now: Instant, *, first: bool
) -> Instant | None:
    """A day, or a day and an hour. Of a bare day the ``first`` instant, or the last."""
    text = row.text(column)
    if not text:
        return None
    try:
        if len(text) == len("2026-06-01"):
            day = read_day(text)
            at = start_of_day(day, kitchen.where) if first else end_of_day(day, kitchen.where)
            if not first and day == local_date(now, kitchen.where):
                at = min(at, now)
        else:
            told = text.replace("T", " ")
            form = "%Y-%m-%d %H:%M:%S" if told.count(":") > 1 else "%Y-%m-%d %H:%M"
            wall = datetime.strptime(told, form)  # noqa: DTZ007
            at = from_local(wall, kitchen.where)
    except (Mistake, ValueError, OverflowError):
        row.wrong(
            column,
            f"{text!r}: write 2026-06-01 or 2026-06-01 14:30.",
            "Does the spreadsheet turn it round? Make the column text, or the form yyyy-mm-dd.",
        )
        return None
    if at > now:
        row.wrong(column, f"{text!r} is still to come")
        return None
    return at
