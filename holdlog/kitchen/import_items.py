"""Items from a file, as ``holdlog register items`` writes it: all rows, or none."""

from dataclasses import dataclass
from typing import Literal

from holdlog.core import events as ev
from holdlog.core.costs import Cost, read_cost
from holdlog.core.errors import Mistake
from holdlog.kitchen.books import find_category
from holdlog.kitchen.import_in import Imported, bring_in
from holdlog.kitchen.items import check_allergens, known_item
from holdlog.kitchen.kitchen import Kitchen, Writing
from holdlog.kitchen.project import slug
from holdlog.kitchen.rows_in import RowIn, read_rows

COLUMNS = (
    "name", "category", "allergens", "cautions", "thaw days", "house days", "ready to eat", "cost",
    "source",
)  # fmt: skip
EXAMPLE = (
    ("chickpea, cooked", "cooked-legume", "", "", "1", "", "", "1.80/kg", ""),
    ("herb butter", "dairy", "milk|tree nuts", "contains almonds", "", "4", "yes", "", "house"),
)
BETWEEN = "|"
MOST_THAW_DAYS, MOST_HOUSE_DAYS = 10, 365


@dataclass(frozen=True, slots=True)
class ItemIn:
    """An item of the file, and whether it is added, changed or as it was."""

    fact: ev.ItemAdded
    what: Literal["added", "changed", "unchanged"]


def import_items(
    kitchen: Kitchen, by: str, name: str, data: bytes, *, yes: bool
) -> Imported[ItemIn]:
    """Read items in. Without ``yes`` it only looks. See ``bring_in`` and ``read_rows``."""
    rows = read_rows(data, COLUMNS, ("name", "category"))
    seen: dict[str, int] = {}
    said = []
    for row in rows:
        fact = _item(row)
        first = seen.setdefault(slug(row.text("name")), row.number)
        if first != row.number and row.text("name"):
            row.wrong("name", f"{row.text('name')!r} stands in row {first} already")
        said.append((row, None if row.faults else fact))
    return bring_in(kitchen, by, "items", (name, data), said, _record, yes=yes)


def _record(write: Writing, fact: ev.ItemAdded) -> ItemIn:
    known = known_item(write.kitchen, write.conn, fact.name)
    if known is not None and known.fact == fact:
        return ItemIn(fact, "unchanged")
    write.append((fact, write.recorded_at, slug(fact.name)))
    return ItemIn(fact, "added" if known is None else "changed")


def _item(row: RowIn) -> ev.ItemAdded:
    name = row.text("name")
    if not slug(name):
        row.wrong("name", "an item has a name")
    try:
        find_category(row.text("category"))
    except Mistake as mistake:
        row.mistaken("category", mistake)
    return ev.ItemAdded(
        name=name,
        category=row.text("category"),
        allergens=_allergens(row),
        cautions=_many(row.text("cautions")),
        thaw_days=_whole(row, "thaw days", 0, MOST_THAW_DAYS),
        house_days=_whole(row, "house days", 1, MOST_HOUSE_DAYS),
        ready_to_eat=row.yes_or_no("ready to eat"),
        source=row.text("source"),
        cost=_cost(row),
    )


def _many(text: str) -> tuple[str, ...]:
    return tuple(each.strip() for each in text.split(BETWEEN) if each.strip())


def _allergens(row: RowIn) -> tuple[str, ...]:
    # None of them has a comma in its name, and a hand puts one between them.
    text = row.text("allergens").replace(",", BETWEEN).replace(";", BETWEEN)
    try:
        return check_allergens(_many(text))
    except Mistake as mistake:
        row.mistaken("allergens", mistake)
        return ()


def _cost(row: RowIn) -> Cost | None:
    text = row.text("cost")
    try:
        return read_cost(text) if text else None
    except Mistake as mistake:
        row.mistaken("cost", mistake)
        return None


def _whole(row: RowIn, column: str, least: int, most: int) -> int | None:
    text = row.text(column)
    if not text:
        return None
    if text.isascii() and text.isdigit() and len(text) <= len(str(most)):
        number = int(text)
        if least <= number <= most:
            return number
    row.wrong(column, f"{text!r} is not a whole number from {least} to {most}")
    return None
