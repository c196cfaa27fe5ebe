"""The registers: what the journal knows, one kind of thing to a list, for spreadsheets and
inspectors.

Each has heads that name the measure, and rows of plain cells. Amounts, temperatures and money are
two cells each, number and unit, as they were said or read. What was voided stays, and says why.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from holdlog.core.amounts import Amount, read_amount
from holdlog.core.costs import Money
from holdlog.core.csv_text import Cell
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant, iso, start_of_day
from holdlog.core.temperature import Temperature
from holdlog.journal.engine import Connection
from holdlog.kitchen import due
from holdlog.kitchen.ended import DISCARDED, Ended, ended
from holdlog.kitchen.items import items
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.units import overview

Row = tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """What a register is made of: the period, from ``since`` to just before ``until``."""

    kitchen: Kitchen
    conn: Connection
    at: Instant
    since: Instant
    until: Instant

    def iso(self, moment: Instant | int | None) -> str:
        """A moment for programs; empty for none."""
        return iso(Instant(moment), self.kitchen.where) if moment is not None else ""


@dataclass(frozen=True, slots=True)
class Register:
    """One register. ``now``: it is of this moment and takes no period."""

    name: str
    says: str
    heads: tuple[str, ...]
    rows: Callable[[Asked], Iterator[Row]]
    now: bool = False

    @property
    def keys(self) -> tuple[str, ...]:
        """The heads as programs like them: ``thaw_time`` for ``thaw time (days)``."""
        return tuple(head.split(" (")[0].replace("-", "_").replace(" ", "_")
                     for head in self.heads)  # fmt: skip


def span(kitchen: Kitchen, first: date | None, last: date | None) -> tuple[Instant, Instant]:
    """A period of whole days, both included; None: no bound. Raises ``Mistake("bad-period")``."""
    if first is not None and last is not None and last < first:
        raise Mistake("bad-period", f"{last} is before {first}.", "Give --from and --to in order.")
    since = start_of_day(first, kitchen.where) if first is not None else Instant(0)
    if last is None:
        return since, Instant(2**62)
    return since, start_of_day(last + timedelta(days=1), kitchen.where)


def amount_cells(amount: Amount | None) -> Row:
    """Number and unit."""
    return (amount.number, amount.unit) if amount is not None else (None, "")


def degree_cells(temperature: Temperature | None) -> Row:
    """Degrees and scale."""
    return (temperature.degrees, temperature.scale) if temperature is not None else (None, "")


def money_cells(money: Money | None) -> Row:
    """Number and currency."""
    return (money.number, money.currency) if money is not None else (None, "")


def _items(asked: Asked) -> Iterator[Row]:
    for each in items(asked.kitchen, asked.conn):
        fact = each.fact
        ready = {None: "", True: "yes", False: "no"}[fact.ready_to_eat]
        yield (
            fact.name, fact.category, "|".join(fact.allergens), "|".join(fact.cautions),
            fact.thaw_days, fact.house_days, ready, str(fact.cost or ""), fact.source,
        )  # fmt: skip


def _units(asked: Asked) -> Iterator[Row]:
    for each in overview(asked.kitchen, asked.conn, asked.at):
        last = each.last
        limit = each.limit.show(asked.kitchen.scale) if each.limit is not None else ""
        yield (
            each.unit.order, each.unit.name, each.unit.sort, limit,
            *degree_cells(last.temperature if last is not None else None),
            asked.iso(last.at) if last is not None else "",
            "" if each.good is None else ("yes" if each.good else "no"),
        )  # fmt: skip


def _on_hand(asked: Asked) -> Iterator[Row]:
    for each in due.everything(asked.kitchen):
        row = each.row
        yield (
            row.code, row.batch, row.item_name, row.category, row.unit,
            *amount_cells(read_amount(row.amount) if row.amount else None),
            row.made_kind, asked.iso(row.made_at), row.state, each.verdict,
            asked.iso(row.use_by), row.days_left, row.reason, row.cite,
        )  # fmt: skip


def _discards(asked: Asked) -> Iterator[Row]:
    return _ends(asked, lambda each: each.how == DISCARDED)


def _used(asked: Asked) -> Iterator[Row]:
    return _ends(asked, lambda each: each.how != DISCARDED)


def _ends(asked: Asked, wanted: Callable[[Ended], bool]) -> Iterator[Row]:
    for each in ended(asked.kitchen, asked.conn, asked.since, asked.until):
        if wanted(each):
            yield (
                each.number, asked.iso(each.at), each.code, each.item, each.unit, each.how,
                each.reason, *amount_cells(each.amount), *money_cells(each.cost), each.by,
                each.note, each.part, each.late, each.voided,
            )  # fmt: skip


_END_HEADS = (
    "entry", "at", "code", "item", "unit", "how", "reason", "amount", "measure", "cost",
    "currency", "by", "note", "part", "late", "voided",
)  # fmt: skip

STOCK = (
    Register(
        "items", "what the kitchen makes or opens",
        ("name", "category", "allergens", "cautions", "thaw days", "house days", "ready to eat",
         "cost", "source"), _items, now=True,
    ),
    Register(
        "units", "the places with a temperature, and what each read last",
        ("order", "unit", "sort", "limit", "last reading", "scale (F or C)", "read at", "good"),
        _units, now=True,
    ),
    Register(
        "on-hand", "everything in the kitchen now",
        ("code", "batch", "item", "category", "unit", "amount", "measure", "made", "made at",
         "state", "verdict", "use by", "days left once thawed", "reason", "cite"),
        _on_hand, now=True,
    ),
    Register("discards", "what was binned, and why", _END_HEADS, _discards),
    Register("used", "what was used, sold, donated, returned or made into something", _END_HEADS,
             _used),
)  # fmt: skip


def registers() -> dict[str, Register]:
    """All registers, by name."""
    from holdlog.kitchen.entry_registers import LOGS  # noqa: PLC0415  (it builds on this module)

    return {each.name: each for each in (*STOCK, *LOGS)}


def find(name: str) -> Register:
    """The register called ``name``, or one that begins so. Raises ``Mistake("no-register")``."""
    known = registers()
    fits = [each for each in known if each == name] or [
        each for each in known if name and each.startswith(name.lower())
    ]
    if len(fits) != 1:
        raise Mistake(
            "no-register", f"There is no register {name!r}.", f"Known: {', '.join(known)}."
        )
    return known[fits[0]]
