"""One walk through the events of a history: what state the food is in, and what befell it.

The walk only gathers; the rules in ``limits``, ``faults`` and ``holding`` judge. One-way
streets are kept here: after time control has begun, nothing but an end changes anything.
"""

from dataclasses import dataclass, field
from datetime import date
from zoneinfo import ZoneInfo

from holdlog.core.events import (
    Chilled, Cooling, CoolingIn, Discarded, Excursion, Frozen, HotHeld, Labelled, OffHeat, Opened,
    Out, Packed, Prepared, Reading, Received, Reheated, Thawed, Used,
)  # fmt: skip
from holdlog.core.moments import Instant
from holdlog.core.temperature import Temperature
from holdlog.rules.cooling import CoolingReading
from holdlog.rules.counting import Spell
from holdlog.rules.history import Event, History, in_order
from holdlog.rules.rulebook import CoolingRule, HoldingLimitRule, ReheatRule, ThawRule
from holdlog.rules.stack import Stack


@dataclass(slots=True)
class Cycle:
    """One cooling, from heat to cold. ``logged``: somebody recorded that it cools.

    ``reheated_at`` ends it: the food was heated again to the reheating target.
    """

    readings: list[CoolingReading] = field(default_factory=list)
    logged: bool = False
    remedy: bool = False
    reheated_at: Instant | None = None


@dataclass(frozen=True, slots=True)
class Beyond:
    """A reading beyond its limit: which rule, what was read, when, and the last good reading."""

    rule: HoldingLimitRule | None
    reading: Temperature | None
    at: Instant
    last_good: Instant | None


@dataclass(slots=True)
class Walk:
    """What the events say. Moments are None where nothing of the kind happened."""

    state: str = "made"
    day_one: Instant | None = None
    day_one_kind: str = ""
    received: Instant | None = None
    opened: Instant | None = None
    maker_date: date | None = None
    maker_date_for: str = "safety"
    spells: list[Spell] = field(default_factory=list)
    cycles: list[Cycle] = field(default_factory=lambda: [Cycle()])
    beyond: list[Beyond] = field(default_factory=list)
    last_good: Instant | None = None
    out: Event | None = None
    out_readings: list[tuple[Instant, Temperature]] = field(default_factory=list)
    packed: Instant | None = None
    packed_unfrozen: bool = False
    unpacked: Instant | None = None
    at_once: Instant | None = None
    reheated: list[Event] = field(default_factory=list)
    excursions: list[Event] = field(default_factory=list)
    printed: Instant | None = None
    unlogged: str = ""
    impossible: str = ""
    cautions: list[str] = field(default_factory=list)
    _frozen_at: Event | None = None

    @property
    def frozen(self) -> bool:
        """Whether it is in the freezer now."""
        return self.state == "frozen"

    @property
    def begins(self) -> Instant | None:
        """The first day there is: made, opened, or else received."""
        return self.day_one if self.day_one is not None else self.received


@dataclass(frozen=True, slots=True)
class Measures:
    """The limits the walk needs to tell a good reading from a bad one."""

    cold: HoldingLimitRule | None
    hot: HoldingLimitRule | None
    reheat: ReheatRule | None
    at_once: tuple[str, ...]
    cooling: CoolingRule | None
    where: ZoneInfo


def measures(stack: Stack, history: History, where: ZoneInfo) -> Measures:
    """The limits of ``stack`` that apply to ``history`` (house limits are the tighter ones)."""
    limits = stack.of_kind(HoldingLimitRule)
    cold = [rule for rule in limits if rule.place == "cold"]
    hot = [rule for rule in limits if rule.place == "hot"]
    when = "ambient" if history.food.ambient_ingredients else "cooked"
    cooling = [rule for rule in stack.of_kind(CoolingRule) if rule.when == when]
    thaws = stack.of_kind(ThawRule)
    return Measures(
        cold=min(cold, key=lambda rule: rule.limit.f, default=None),
        hot=max(hot, key=lambda rule: rule.limit.f, default=None),
        reheat=next(iter(stack.of_kind(ReheatRule)), None),
        at_once=tuple(method for rule in thaws for method in rule.at_once),
        cooling=next(iter(cooling), None),
        where=where,
    )


def walk(history: History, limits: Measures) -> Walk:
    """Walk the events of ``history`` in the order in which they happened."""
    so_far = Walk()
    for event in in_order(history):
        if isinstance(event.fact, Used | Discarded):
            so_far.state = "gone"
        elif so_far.out is None:
            _step(so_far, event, limits)
        elif isinstance(event.fact, Reading | Chilled) and event.fact.temperature is not None:
            so_far.out_readings.append((event.at, event.fact.temperature))
    if so_far.frozen and so_far._frozen_at is not None:  # noqa: SLF001
        _end_spell(so_far, None, limits)
    return so_far


def _step(so_far: Walk, event: Event, limits: Measures) -> None:
    match event.fact:
        case Prepared():
            _starts(so_far, event, "prepared")
        case Received() as fact:
            so_far.received = event.at
            so_far.maker_date = fact.maker_use_by or so_far.maker_date
            so_far.maker_date_for = fact.maker_date_for
            so_far.state = "chilled"
            _judge_cold(so_far, event, fact.temperature, limits)
        case Opened() as fact:
            _opens(so_far, event, fact)
        case OffHeat() | CoolingIn() | Cooling():
            _cools(so_far, event, limits)
        case Chilled() | Reading() as fact:
            _chills(so_far, event, fact, limits)
        case Frozen():
            if not so_far.frozen:
                so_far.state, so_far._frozen_at = "frozen", event  # noqa: SLF001
                so_far.printed, so_far.unlogged = None, ""
        case Thawed() as fact:
            _thaws(so_far, event, fact, limits)
        case Reheated() as fact:
            _reheats(so_far, event, fact, limits)
        case HotHeld() as fact:
            _holds_hot(so_far, event, fact, limits)
        case Out():
            _leaves_freezer(so_far, event, limits)
            so_far.state, so_far.out, so_far.unlogged = "out", event, ""
        case Packed():
            so_far.packed, so_far.unpacked = event.at, None
            so_far.packed_unfrozen = so_far.packed_unfrozen or not so_far.frozen
        case Excursion():
            so_far.excursions.append(event)
        case Labelled() as fact if fact.use_by is not None:
            so_far.printed = Instant(fact.use_by)
        case _:
            pass


def _starts(so_far: Walk, event: Event, kind: str) -> None:
    if so_far.day_one is None:
        so_far.day_one, so_far.day_one_kind = event.at, kind
    if not so_far.frozen:
        so_far.state, so_far.unlogged = "chilled", kind


def _opens(so_far: Walk, event: Event, fact: Opened) -> None:
    if so_far.packed is not None and so_far.unpacked is None:
        so_far.unpacked = event.at
    so_far.opened = so_far.opened or event.at
    if fact.maker_use_by is not None:
        so_far.maker_date, so_far.maker_date_for = fact.maker_use_by, fact.maker_date_for
    _starts(so_far, event, "opened")


def _cools(so_far: Walk, event: Event, limits: Measures) -> None:
    cycle = so_far.cycles[-1]
    cycle.logged = True
    so_far.unlogged = ""
    fact = event.fact
    if isinstance(fact, OffHeat):
        if not event.late(limits.where):
            cycle.readings.append(CoolingReading(event.at, None))
        if not so_far.frozen:
            so_far.state = "made"
        return
    if not so_far.frozen:
        so_far.state = "cooling"
    if isinstance(fact, Cooling):
        # A late entry may not prove anything good; that it was still warm counts all the same.
        if event.late(limits.where) and _proves(fact.temperature, limits.cooling):
            so_far.cautions.append(
                "A cooling reading was entered on a later day: it proves nothing until the person "
                "in charge confirms it and names the paper or logger."
            )
        else:
            cycle.readings.append(CoolingReading(event.at, fact.temperature))


def _proves(reading: Temperature, rule: CoolingRule | None) -> bool:
    """Whether a reading can help to show a stage met: it is hot enough to fix the start, or
    cold enough to end a stage."""
    if rule is None:
        return True
    return _hot_enough(reading, rule) or (rule.middle or rule.cold).reached_from_above(reading)


def _chills(so_far: Walk, event: Event, fact: Chilled | Reading, limits: Measures) -> None:
    if isinstance(fact, Chilled):
        _leaves_freezer(so_far, event, limits)
        so_far.state = "chilled"
    elif so_far.state in ("made", "cooling"):
        so_far.state = "chilled"
    so_far.unlogged = "" if fact.temperature is not None else so_far.unlogged
    _judge_cold(so_far, event, fact.temperature, limits)
    cycle = so_far.cycles[-1]
    cold = limits.cooling.cold if limits.cooling else None
    reading = fact.temperature
    cold_enough = cold is not None and reading is not None and cold.reached_from_above(reading)
    if cycle.logged and cold_enough and not event.late(limits.where):
        cycle.readings.append(CoolingReading(event.at, reading))


def _judge_cold(
    so_far: Walk, event: Event, reading: Temperature | None, limits: Measures
) -> None:
    if reading is None or limits.cold is None:
        return
    if limits.cold.limit.reached_from_above(reading):
        so_far.last_good = event.at
    else:
        so_far.beyond.append(Beyond(limits.cold, reading, event.at, so_far.last_good))


def _thaws(so_far: Walk, event: Event, fact: Thawed, limits: Measures) -> None:
    if not so_far.frozen:
        so_far.impossible = "it was thawed without having been frozen"
        return
    _leaves_freezer(so_far, event, limits)
    if fact.method is None:
        so_far.cautions.append("How it was thawed was not logged.")
    if fact.method in limits.at_once:
        so_far.at_once = event.at


def _leaves_freezer(so_far: Walk, event: Event, limits: Measures) -> None:
    if so_far.frozen:
        in_a_pack = so_far.packed is not None and so_far.unpacked is None
        so_far.packed_unfrozen = so_far.packed_unfrozen or in_a_pack
        _end_spell(so_far, event, limits)
        so_far.state, so_far.printed = "chilled", None


def _end_spell(so_far: Walk, event: Event | None, limits: Measures) -> None:
    """Close the spell in the freezer. One entered late counts only from its writing down."""
    frozen = so_far._frozen_at  # noqa: SLF001
    so_far._frozen_at = None  # noqa: SLF001
    if frozen is None:
        return
    since = frozen.at
    if frozen.late(limits.where):
        since = frozen.recorded_at
        so_far.cautions.append(
            "The freezing was entered on a later day: it counts from its entry until the person in "
            "charge confirms it and names the evidence."
        )
    if event is None or since < event.at:
        so_far.spells.append(Spell(since, event.at if event else None))


def _reheats(so_far: Walk, event: Event, fact: Reheated, limits: Measures) -> None:
    _leaves_freezer(so_far, event, limits)
    so_far.reheated.append(event)
    so_far.state, so_far.unlogged = "chilled", "reheated"
    if fact.temperature is None or limits.reheat is None or event.late(limits.where):
        return
    if limits.reheat.target.reached_from_below(fact.temperature):
        last = so_far.cycles[-1]
        last.reheated_at = event.at
        fresh = Cycle(remedy=last.logged)
        fresh.readings.append(CoolingReading(event.at, fact.temperature))
        so_far.cycles.append(fresh)


def _holds_hot(so_far: Walk, event: Event, fact: HotHeld, limits: Measures) -> None:
    _leaves_freezer(so_far, event, limits)
    so_far.state = "hot-held"
    so_far.unlogged = "" if fact.temperature is not None else "hot-held"
    if fact.temperature is None or limits.hot is None:
        return
    if limits.hot.limit.reached_from_below(fact.temperature):
        so_far.last_good = event.at
        if _hot_enough(fact.temperature, limits.cooling) and not event.late(limits.where):
            so_far.cycles[-1].readings.append(CoolingReading(event.at, fact.temperature))
    else:
        so_far.beyond.append(Beyond(limits.hot, fact.temperature, event.at, so_far.last_good))


def _hot_enough(reading: Temperature, rule: CoolingRule | None) -> bool:
    return rule is not None and rule.hot is not None and rule.hot.reached_from_below(reading)
