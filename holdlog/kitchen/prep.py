"""Recording a batch: prepared here, received from a maker, opened, or made from containers."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from holdlog.core import events as ev
from holdlog.core.amounts import Amount
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.core.temperature import Temperature
from holdlog.journal import on_hand
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.items import Item, check_allergens
from holdlog.kitchen.kitchen import Kitchen, Unit, Writing
from holdlog.kitchen.records import Origin
from holdlog.rules.faults import Verdict
from holdlog.rules.history import Event, History
from holdlog.rules.holding import holding
from holdlog.rules.rulebook import CoolingRule

MOST_CONTAINERS = 500
_UNFIT: tuple[Verdict, ...] = ("discard", "refuse", "hold", "reheat")


@dataclass(frozen=True, slots=True)
class Batch:
    """What a cook says of a batch. ``allergens`` None: those of the item and its ingredients.

    ``warm``: the food is still warm and now reads this; its cooling is logged from here.
    ``off_heat_at``: when it came off the heat, hot. ``made_from``: codes as typed; those in
    ``partly`` stay on hand.
    """

    item: Item
    containers: int
    at: Instant
    unit: Unit
    amount: Amount | None = None
    allergens: tuple[str, ...] | None = None
    facts: ev.Food | None = None
    warm: Temperature | None = None
    off_heat_at: Instant | None = None
    made_from: tuple[str, ...] = ()
    partly: tuple[str, ...] = ()
    kind: str = "prepared"
    maker_use_by: date | None = None
    maker_date_for: ev.MakerDateFor = "safety"
    lot: str = ""
    temperature: Temperature | None = None


@dataclass(frozen=True, slots=True)
class Recorded:
    """A batch as it was recorded."""

    batch: str
    rows: tuple[ContainerRow, ...]
    allergens: tuple[str, ...]


def record(kitchen: Kitchen, by: str, wanted: Batch) -> Recorded:
    """Record a batch and its containers, with their codes. Nothing is half-written.

    Raises ``Mistake``: too many or no containers, an ingredient that is gone or not fit, a warm
    batch without a cooling rule to judge it.
    """
    if not 1 <= wanted.containers <= MOST_CONTAINERS:
        raise Mistake(
            "bad-count",
            f"{wanted.containers} containers cannot be.",
            f"Say how many, from 1 to {MOST_CONTAINERS}.",
        )
    with kitchen.writing(by) as write:
        parts = _ingredients(write, wanted)
        allergens = _allergens(wanted, parts)
        food = _food(wanted, allergens)
        codes = write.new_codes(wanted.containers)
        batch = f"B{on_hand.next_batch_number(write.conn, kitchen.site)}"
        drafts: list[tuple[ev.Fact, Instant, str]] = [
            (_making(wanted, food, codes, tuple(row.code for row, _ in parts)), wanted.at, batch)
        ]
        drafts += [(fact, at, batch) for fact, at in _warm(write, wanted, food)]
        partly = {write.find(code).code for code in wanted.partly}
        drafts += [
            (ev.Used("made into", into=batch), wanted.at, row.code)
            for row, _ in parts
            if row.code not in partly
        ]
        write.append(*drafts)
        used = [row.code for row, _ in parts]
        born = {code: Origin(batch) for code in codes}
        rows = {row.code: row for row in write.settle(batch, *used, born=born)}
        return Recorded(batch, tuple(rows[code] for code in codes), allergens)


def _ingredients(write: Writing, wanted: Batch) -> list[tuple[ContainerRow, ev.Food]]:
    parts = []
    for typed in dict.fromkeys((*wanted.made_from, *wanted.partly)):
        row = write.find(typed)
        container, then = write.look(row.code, wanted.at)
        if then.verdict in _UNFIT:
            raise Mistake(
                "unfit",
                f"{row.item_name}, {show(row.code)}, is not to be used: {then.reason}",
                "Discard it, or settle it first; nothing was recorded.",
            )
        if row.made_at > wanted.at:
            raise Mistake(
                "too-early",
                f"{row.item_name}, {show(row.code)}, was not made yet then.",
                "Check the time given with --made.",
            )
        parts.append((row, container.history.food))
    return parts


def _allergens(wanted: Batch, parts: Sequence[tuple[ContainerRow, ev.Food]]) -> tuple[str, ...]:
    own = wanted.item.fact.allergens if wanted.allergens is None else wanted.allergens
    inherited = [name for _, food in parts for name in food.allergens]
    return check_allergens((*own, *inherited))


def _food(wanted: Batch, allergens: tuple[str, ...]) -> ev.Food:
    given = wanted.facts or ev.Food(item="", category="")
    item = wanted.item.fact
    return replace(
        given,
        item=item.name,
        category=item.category,
        allergens=allergens,
        commercial=given.commercial or wanted.kind in ("received", "opened"),
        ready_to_eat=item.ready_to_eat if given.ready_to_eat is None else given.ready_to_eat,
        house_days=item.house_days if given.house_days is None else given.house_days,
    )


def _making(
    wanted: Batch, food: ev.Food, codes: tuple[str, ...], parts: tuple[str, ...]
) -> ev.Fact:
    if wanted.kind == "prepared":
        return ev.Prepared(food, codes, wanted.unit.name, wanted.amount, parts)
    maker = {
        "maker_use_by": wanted.maker_use_by,
        "maker_date_for": wanted.maker_date_for,
        "lot": wanted.lot,
        "food": food,
        "containers": codes,
        "unit": wanted.unit.name,
        "amount": wanted.amount,
    }
    if wanted.kind == "opened":
        return ev.Opened(**maker)  # type: ignore[arg-type]
    return ev.Received(temperature=wanted.temperature, **maker)  # type: ignore[arg-type]


def _warm(write: Writing, wanted: Batch, food: ev.Food) -> list[tuple[ev.Fact, Instant]]:
    """The cooling facts of a batch that is still warm when it is labelled."""
    if wanted.warm is None and wanted.off_heat_at is None:
        return []
    when = "ambient" if food.ambient_ingredients else "cooked"
    rules = write.kitchen.stack(write.conn).of_kind(CoolingRule)
    if not any(rule.when == when for rule in rules):
        raise Mistake(
            "no-cooling-rule",
            "The adopted rulebook has no cooling rule for this food.",
            "Ask the local authority how it is to be cooled.",
        )
    facts: list[tuple[ev.Fact, Instant]] = []
    if wanted.off_heat_at is not None:
        facts.append((ev.OffHeat(), wanted.off_heat_at))
    if wanted.warm is not None:
        facts.append((ev.Cooling(wanted.warm), write.recorded_at))
    return facts


def limit_known(kitchen: Kitchen, wanted: Batch) -> bool:
    """Whether any rule would set a limit for this batch (or its food needs none)."""
    food = _food(wanted, wanted.item.fact.allergens)
    event = Event(wanted.at, _making(wanted, food, (), ()), wanted.at)
    with kitchen.db.reading() as conn:
        stack = kitchen.stack(conn)
        found = holding(History(food.item, food, (event,)), stack, wanted.at, kitchen.where)
    return not any(caution.startswith("no-limit-known") for caution in found.cautions)
