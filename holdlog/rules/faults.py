"""Faults override dates: temperatures, ingredients, reheating, what cannot be.

Each fault is a verdict with its source. The worst one decides; the rest stay in the basis.
"""

from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from holdlog.core.events import Excursion, Out, Reheated
from holdlog.core.moments import Instant, show_moment
from holdlog.core.temperature import Temperature
from holdlog.rules.course import Walk
from holdlog.rules.history import Event, History
from holdlog.rules.rulebook import (
    FreezeRule,
    ReducedOxygenRule,
    ReheatRule,
    Source,
    TimeControlRule,
)
from holdlog.rules.stack import Stack
from holdlog.rules.walk import reaches_target

Verdict = Literal["discard", "refuse", "hold", "reheat", "last-day", "serve"]
WORST_FIRST: tuple[Verdict, ...] = ("discard", "refuse", "hold", "reheat", "last-day", "serve")


@dataclass(frozen=True, slots=True)
class Fault:
    """Why the food may not be served, whatever its date.

    ``changes_at``: when that may change. ``since``: the earliest moment from which the fault may
    have lain on the food (None: only from now on), so that it travels to what was made of it.
    """

    verdict: Verdict
    source: Source
    changes_at: Instant | None = None
    since: Instant | None = None


def worse(one: Verdict, other: Verdict) -> Verdict:
    """The worse of two verdicts."""
    return min(one, other, key=WORST_FIRST.index)


def marks(walk: Walk, stack: Stack) -> list[Fault]:
    """Food without a day one is unmarked; a sequence that cannot be is refused."""
    faults = []
    if walk.begins is None and not walk.ended:
        rules = stack.of_kind(FreezeRule)
        cite, seen = (rules[0].source.cite, rules[0].source.seen) if rules else ("", "inference")
        says = "Nothing says when it was made, opened or received: unmarked food is discarded."
        faults.append(Fault("discard", Source("unmarked", cite, says, seen)))
    if walk.impossible:
        says = f"This cannot be: {walk.impossible}."
        faults.append(Fault("refuse", Source("sequence", "holdlog", says, "inference")))
    return faults


def temperatures(walk: Walk, where: ZoneInfo) -> list[Fault]:
    """A reading beyond its limit holds the food from the last good reading on."""
    faults = []
    for beyond in walk.beyond:
        since = (
            f"since the last good reading, {show_moment(beyond.last_good, where)}"
            if beyond.last_good is not None
            else "since when is not known"
        )
        says = (
            f"{beyond.reading} on {show_moment(beyond.at, where)}, limit "
            f"{beyond.rule.limit.show(beyond.reading.scale)}: out of temperature {since}. "
            "The person in charge decides."
        )
        source = beyond.rule.source
        began = beyond.last_good if beyond.last_good is not None else Instant(0)
        faults.append(
            Fault("hold", Source(source.rule, source.cite, says, source.seen), since=began)
        )
    for event in walk.excursions:
        says = (
            f"Its unit was beyond its limit on {show_moment(event.at, where)}. The person in "
            "charge decides."
        )
        source = Source("excursion", "holdlog", says, "inference")
        faults.append(Fault("hold", source, since=_began(event)))
    return faults


def _began(event: Event) -> Instant:
    """When an excursion may have begun: as far back as its seconds, known and unknown, reach."""
    if not isinstance(event.fact, Excursion):
        return event.at
    seconds = event.fact.seconds + event.fact.unknown_seconds
    return Instant(event.at - seconds * 1000)


def time_control(history: History, walk: Walk, stack: Stack) -> list[Fault]:
    """Time control starts from cold or hot food, by a plan the stack knows."""
    faults: list[Fault] = []
    for event in walk.outs:
        if isinstance(event.fact, Out):
            faults += _plan(history, walk, event.fact, stack)
    return faults


def _plan(history: History, walk: Walk, fact: Out, stack: Stack) -> list[Fault]:
    rule = next((each for each in stack.of_kind(TimeControlRule) if each.plan == fact.plan), None)
    if rule is None:
        says = f"The adopted rules know no {fact.plan} plan of time control."
        return [Fault("refuse", Source("time-control", "holdlog", says, "inference"))]
    source = rule.source
    if history.food.susceptible_population and history.food.category in rule.not_for_susceptible:
        says = "Not under time control where highly susceptible people are served."
        refused = Source(source.rule, rule.not_for_susceptible_cite, says, source.seen)
        return [Fault("refuse", refused)]
    ceiling = rule.ceiling
    if history.food.category in rule.ambient_categories and not _cold_or_hot(fact, rule):
        # Food that starts at room temperature stays at or below it throughout.
        ceiling = rule.ambient_start
    for _, reading in walk.out_readings:
        if ceiling is not None and not ceiling.reached_from_above(reading):
            says = f"It was {reading} while out: above {ceiling.show(reading.scale)}, discard."
            return [Fault("discard", Source(source.rule, source.cite, says, source.seen))]
    if fact.temperature is None or _good_start(fact.temperature, rule, history.food.category):
        return []
    says = f"It left temperature control at {fact.temperature}: the plan starts from cold" + (
        " or hot food." if rule.hot_start else " food."
    )
    return [Fault("hold", Source(source.rule, source.cite, says, source.seen))]


def _cold_or_hot(fact: Out, rule: TimeControlRule) -> bool:
    reading = fact.temperature
    if reading is None:
        return True
    hot = rule.hot_start is not None and rule.hot_start.reached_from_below(reading)
    return hot or rule.cold_start.reached_from_above(reading)


def _good_start(reading: Temperature, rule: TimeControlRule, category: str) -> bool:
    ambient = rule.ambient_start if category in rule.ambient_categories else None
    if ambient is not None and ambient.reached_from_above(reading):
        return True
    hot = rule.hot_start is not None and rule.hot_start.reached_from_below(reading)
    return hot or rule.cold_start.reached_from_above(reading)


def packing(history: History, walk: Walk, stack: Stack) -> list[Fault]:
    """Food that may be packed with the oxygen reduced only while frozen."""
    for rule in stack.of_kind(ReducedOxygenRule):
        if walk.packed_unfrozen and history.food.category in rule.frozen_only:
            says = "Fish is packed with the oxygen reduced only frozen: before, during and after."
            source = Source(rule.source.rule, rule.frozen_cite, says, rule.source.seen)
            return [Fault("refuse", source)]
    return []


def reheating(walk: Walk, stack: Stack) -> tuple[list[Fault], list[str]]:
    """A reheat that took too long holds the food; one that fell short is said."""
    rules = stack.of_kind(ReheatRule)
    faults: list[Fault] = []
    cautions: list[str] = []
    for event in walk.reheated:
        fact = event.fact
        if not rules or not isinstance(fact, Reheated):
            continue
        rule = rules[0]
        if fact.took_minutes is not None and fact.took_minutes > rule.within_minutes:
            says = (
                f"Reheating took {fact.took_minutes} minutes, the limit is {rule.within_minutes}. "
                "The person in charge decides."
            )
            source = Source(rule.source.rule, rule.source.cite, says, rule.source.seen)
            faults.append(Fault("hold", source, since=event.at))
        elif not reaches_target(fact, rule):
            held = f" for {fact.held_seconds} s" if fact.held_seconds is not None else ""
            cautions.append(
                f"Reheated to {fact.temperature or 'an unknown temperature'}{held}: for immediate "
                f"service only, not for hot holding ({rule.source.cite})."
            )
    return faults, cautions
