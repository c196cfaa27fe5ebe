"""Recording a batch: prepared here, received from a maker, opened, or made from containers."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from holdlog.core import events as ev
from holdlog.core.amounts import Amount
from holdlog.core.codes import show
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import Instant
from holdlog.core.temperature import Temperature
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.caught_up import caught_up
from holdlog.kitchen.items import Item, check_allergens
from holdlog.kitchen.kitchen import Kitchen, Unit, Writing
from holdlog.kitchen.probes import known
from holdlog.kitchen.project import allergens
from holdlog.kitchen.recall import lot_coming_in, refuse_before_filled
from holdlog.kitchen.records import Making, Origin
from holdlog.rules.faults import Verdict
from holdlog.rules.history import Event, History
from holdlog.rules.holding import holding

MOST_CONTAINERS = 500
_UNFIT: tuple[Verdict, ...] = ("discard", "refuse", "hold", "reheat")


@dataclass(frozen=True, slots=True)
class Batch:
    """What a cook says of a batch. ``allergens`` None: those of the item and its ingredients.

    ``warm``: the food is still warm and now reads this; its cooling is logged from here.
    ``off_heat_at``: when it came off the heat, hot. ``made_from``: codes as typed; those in
    ``partly`` stay on hand. ``probe``: the thermometer of ``warm`` or ``temperature``.
    ``lot_compared``: somebody has looked that ``lot`` is not a recalled one that looks like it.
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
    lot_compared: bool = False
    temperature: Temperature | None = None
    probe: str = ""


@dataclass(frozen=True, slots=True)
class Recorded:
    """A batch as it was recorded. ``recalled``: why its maker's lot is recalled, so that it is on
    hold (empty: it is not); ``near``: recalled lots that this one may be mistyped for.
    """

    batch: str
    rows: tuple[ContainerRow, ...]
    allergens: tuple[str, ...]
    recalled: str = ""
    near: tuple[ev.Recalled, ...] = ()


def record(kitchen: Kitchen, by: str, wanted: Batch) -> Recorded:
    """Record a batch and its containers, with their codes. Nothing is half-written.

    Raises ``Mistake``: too many or no containers, an ingredient that is gone or not fit,
    """
    with kitchen.writing(by) as write:
        return record_in(write, wanted)


def record_in(write: Writing, wanted: Batch) -> Recorded:
    """The same within a transaction, for a file of many batches. After a ``Mistake`` the
    transaction has to be undone, as far as this batch goes.
    """
    if not 1 <= wanted.containers <= MOST_CONTAINERS:
        raise Mistake(
            "bad-count",
            f"{wanted.containers} containers cannot be.",
            f"Say how many, from 1 to {MOST_CONTAINERS}.",
        )
    wanted = replace(wanted, probe=known(write.kitchen, write.conn, wanted.probe))
    recalled, near = lot_coming_in(
        write.kitchen, write.conn, wanted.lot, compared=wanted.lot_compared
    )
    parts = _ingredients(write, wanted)
    inherited = _allergens(wanted, parts)
    food = _food(wanted, inherited, susceptible=write.kitchen.susceptible)
    codes = write.new_codes(wanted.containers)
    batch = _new_batch(write)
    drafts: list[tuple[ev.Fact, Instant, str]] = [
        (_making(wanted, food, codes, tuple(row.code for row, _ in parts)), wanted.at, batch)
    ]
    warm = _warm(write, wanted)
    drafts += [(fact, at, batch) for fact, at in warm]
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
    rows |= caught_up(write, codes, wanted.at)
    made = tuple(rows[code] for code in codes)
    if not warm:
        _refuse_out_of_the_cold(made, wanted.unit)
    return Recorded(batch, made, inherited, recalled, near)


def _new_batch(write: Writing) -> str:
    """The id of a new batch. Raises ``Fault`` where rows on hand were lost: a number is never
    given twice.
    """
    batch = f"B{on_hand.next_batch_number(write.conn, write.kitchen.site)}"
    about = journal_entries.of_subjects(write.conn, write.kitchen.site, [batch])
    if any(isinstance(fact_of(entry), Making) for entry in about):
        raise Fault(
            "no-row",
            f"{batch} is in the journal and not on hand.",
            "Run: holdlog doctor --rebuild",
        )
    return batch


def _refuse_out_of_the_cold(rows: Sequence[ContainerRow], unit: Unit) -> None:
    """Food that needs the cold does not begin its life on a shelf, in a freezer or hot box."""
    if unit.cold or (unit.sort == "room" and all(row.tcs == "not-tcs" for row in rows)):
        return
    instead = {
        "freezer": "Record it in a cold unit, then: holdlog freeze CODE",
        "hot box": 'Record it in a cold unit, then: holdlog reheat CODE --into "hot box"',
    }
    raise Mistake(
        "not-a-start",
        f"{unit.name} is a {unit.sort}: {rows[0].item_name} cannot just be put there.",
        instead.get(
            unit.sort,
            "Say a cold unit with --unit. Still warm? Say so, with what it reads: --warm.",
        ),
    )


def _ingredients(write: Writing, wanted: Batch) -> list[tuple[ContainerRow, History]]:
    parts: dict[str, tuple[ContainerRow, History]] = {}
    for typed in (*wanted.made_from, *wanted.partly):
        row = write.find(typed)
        container, then = write.look(row.code, wanted.at)
        if max(row.made_at, container.there_since) > wanted.at:
            raise Mistake(
                "too-early",
                f"{row.item_name}, {show(row.code)}, was not made yet then.",
                "Check the time given with --made.",
            )
        if then.verdict in _UNFIT:
            raise Mistake(
                "unfit",
                f"{row.item_name}, {show(row.code)}, is not to be used: {then.reason}",
                "Discard it, or settle it first; nothing was recorded.",
            )
        if typed in wanted.made_from:
            refuse_before_filled(write, container, wanted.at)
        parts[row.code] = (row, container.history)
    return list(parts.values())


def _allergens(wanted: Batch, parts: Sequence[tuple[ContainerRow, History]]) -> tuple[str, ...]:
    own = wanted.item.fact.allergens if wanted.allergens is None else wanted.allergens
    inherited = [name for _, history in parts for name in allergens(history)]
    return check_allergens((*own, *inherited))


def _food(wanted: Batch, allergens: tuple[str, ...], *, susceptible: bool) -> ev.Food:
    given = wanted.facts or ev.Food(item="", category="")
    item = wanted.item.fact
    return replace(
        given,
        item=item.name,
        category=item.category,
        allergens=allergens,
        susceptible_population=susceptible,
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
    read = wanted.temperature
    probe = wanted.probe if read is not None else ""
    return ev.Received(temperature=read, probe=probe, **maker)  # type: ignore[arg-type]


def _warm(write: Writing, wanted: Batch) -> list[tuple[ev.Fact, Instant]]:
    """The cooling facts of a batch that is still warm when it is labelled."""
    if wanted.warm is None and wanted.off_heat_at is None:
        return []
    facts: list[tuple[ev.Fact, Instant]] = []
    if wanted.off_heat_at is not None:
        facts.append((ev.OffHeat(), wanted.off_heat_at))
    if wanted.warm is not None:
        facts.append((ev.Cooling(wanted.warm, wanted.probe), write.recorded_at))
    return facts


def limit_known(kitchen: Kitchen, wanted: Batch) -> bool:
    """Whether any rule would set a limit for this batch (or its food needs none)."""
    food = _food(wanted, wanted.item.fact.allergens, susceptible=kitchen.susceptible)
    event = Event(wanted.at, _making(wanted, food, (), ()), wanted.at)
    with kitchen.db.reading() as conn:
        stack = kitchen.current(conn).stack(conn)
        found = holding(History(food.item, food, (event,)), stack, wanted.at, kitchen.where)
    return not any(caution.startswith("no-limit-known") for caution in found.cautions)
