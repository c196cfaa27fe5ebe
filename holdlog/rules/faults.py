"""Faults override dates: cooling, temperatures, ingredients, what cannot be.

Each fault is a verdict with its source. The worst one decides; the rest stay in the basis.
"""

from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from holdlog.core.events import Out
from holdlog.core.moments import Instant, show_moment
from holdlog.core.temperature import Temperature
from holdlog.rules.cooling import CoolingVerdict, judge
from holdlog.rules.history import History
from holdlog.rules.rulebook import (
    CoolingRule, FreezeRule, ReducedOxygenRule, ReheatRule, Source, TimeControlRule,
)  # fmt: skip
from holdlog.rules.stack import Stack
from holdlog.rules.walk import Cycle, Walk

Verdict = Literal["discard", "refuse", "hold", "reheat", "last-day", "serve"]
WORST_FIRST: tuple[Verdict, ...] = ("discard", "refuse", "hold", "reheat", "last-day", "serve")


@dataclass(frozen=True, slots=True)
class Fault:
    """Why the food may not be served, whatever its date. ``changes_at``: when that may change."""

    verdict: Verdict
    source: Source
    changes_at: Instant | None = None


def worse(one: Verdict, other: Verdict) -> Verdict:
    """The worse of two verdicts."""
    return min(one, other, key=WORST_FIRST.index)


def marks(walk: Walk, stack: Stack) -> list[Fault]:
    """Food without a day one is unmarked; a sequence that cannot be is refused."""
    faults = []
    if walk.begins is None and walk.state != "gone":
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
        if beyond.rule is None:
            continue
        limit = beyond.rule.limit.show(beyond.reading.scale) if beyond.reading else ""
        since = (
            f"since the last good reading, {show_moment(beyond.last_good, where)}"
            if beyond.last_good is not None
            else "since when is not known"
        )
        says = (
            f"{beyond.reading} on {show_moment(beyond.at, where)}, limit {limit}: out of "
            f"temperature {since}. The person in charge decides."
        )
        source = beyond.rule.source
        faults.append(Fault("hold", Source(source.rule, source.cite, says, source.seen)))
    for event in walk.excursions:
        says = (
            f"Its unit was beyond its limit on {show_moment(event.at, where)}. The person in charge "
            "decides."
        )
        faults.append(Fault("hold", Source("excursion", "holdlog", says, "inference")))
    return faults


def time_control(history: History, walk: Walk, stack: Stack) -> list[Fault]:
    """Time control starts from cold or hot food, by a plan the stack knows."""
    if walk.out is None or not isinstance(walk.out.fact, Out):
        return []
    fact = walk.out.fact
    rule = next((each for each in stack.of_kind(TimeControlRule) if each.plan == fact.plan), None)
    if rule is None:
        says = f"The adopted rules know no {fact.plan} plan of time control."
        return [Fault("refuse", Source("time-control", "holdlog", says, "inference"))]
    source = rule.source
    for _, reading in walk.out_readings:
        if rule.ceiling is not None and not rule.ceiling.reached_from_above(reading):
            says = f"It was {reading} while out: above {rule.ceiling.show(reading.scale)}, discard."
            return [Fault("discard", Source(source.rule, source.cite, says, source.seen))]
    if fact.temperature is None or _good_start(fact.temperature, rule, history.food.category):
        return []
    says = f"It left temperature control at {fact.temperature}: the plan starts from cold" + (
        " or hot food." if rule.hot_start else " food."
    )
    return [Fault("hold", Source(source.rule, source.cite, says, source.seen))]


def packing(history: History, walk: Walk, stack: Stack) -> list[Fault]:
    """Food that may be packed with the oxygen reduced only while frozen."""
    for rule in stack.of_kind(ReducedOxygenRule):
        if walk.packed_unfrozen and history.food.category in rule.frozen_only:
            says = "Fish is packed with the oxygen reduced only frozen: before, during and after."
            source = Source(rule.source.rule, rule.frozen_cite, says, rule.source.seen)
            return [Fault("refuse", source)]
    return []


def _good_start(reading: Temperature, rule: TimeControlRule, category: str) -> bool:
    if category in rule.ambient_categories and rule.ambient_start is not None:
        return rule.ambient_start.reached_from_above(reading)
    hot = rule.hot_start is not None and rule.hot_start.reached_from_below(reading)
    return hot or rule.cold_start.reached_from_above(reading)


def reheating(walk: Walk, stack: Stack) -> list[str]:
    """What to say of reheating that fell short of the rule for hot holding."""
    rules = stack.of_kind(ReheatRule)
    cautions = []
    for event in walk.reheated:
        reading = getattr(event.fact, "temperature", None)
        if rules and (reading is None or not rules[0].target.reached_from_below(reading)):
            cautions.append(
                f"Reheated to {reading or 'an unknown temperature'}: for immediate service only, "
                f"not for hot holding ({rules[0].source.cite})."
            )
    return cautions


def cooling(
    history: History, walk: Walk, stack: Stack, at: Instant
) -> tuple[CoolingVerdict | None, list[Fault]]:
    """The verdict on the last cooling that was logged, and the faults of all of them."""
    when = "ambient" if history.food.ambient_ingredients else "cooked"
    rule = next((each for each in stack.of_kind(CoolingRule) if each.when == when), None)
    if rule is None:
        return None, []
    began = walk.day_one if rule.hot is None else None
    shown: CoolingVerdict | None = None
    faults: list[Fault] = []
    reheats = 0
    for cycle in walk.cycles:
        if not cycle.logged and not cycle.remedy:
            continue
        until = cycle.reheated_at if cycle.reheated_at is not None else at
        verdict = judge(cycle.readings, rule, min(until, at), began)
        remedied = cycle.reheated_at is not None and _may_reheat(verdict, rule, reheats)
        if verdict.whole == "met" and cycle.remedy and not cycle.logged:
            continue
        shown = verdict
        if remedied:
            reheats += 1
            continue
        faults += _cooling_faults(verdict, cycle, rule, at, reheats)
    return shown, faults


def _may_reheat(verdict: CoolingVerdict, rule: CoolingRule, reheats: int) -> bool:
    """Whether a reheat mends this cooling: once, in time, and nothing worse is wrong."""
    if not rule.reheat_once or reheats:
        return False
    in_time = verdict.first == "missed" and verdict.found_in_time
    behind = verdict.first == "running"
    return (in_time or behind) and verdict.whole in ("running", "met")


def _cooling_faults(
    verdict: CoolingVerdict, cycle: Cycle, rule: CoolingRule, at: Instant, reheats: int
) -> list[Fault]:
    def source(says: str) -> Source:
        return Source(rule.source.rule, rule.source.cite, says, rule.source.seen)

    if verdict.whole == "missed":
        return [Fault("discard", source("Cooling missed its last limit: discard."))]
    if verdict.first == "missed":
        in_time = verdict.found_in_time and at <= (verdict.deadline_whole or at)
        if rule.reheat_once and not reheats and in_time and cycle.reheated_at is None:
            says = (
                f"Cooling missed its first limit: reheat once to the reheating target and cool "
                f"again, or discard ({rule.reheat_cite})."
            )
            return [Fault("reheat", source(says), verdict.deadline_whole)]
        return [Fault("discard", source("Cooling missed its first limit: discard."))]
    if verdict.unproven:
        says = (
            "The readings do not prove that it cooled in time. Enter the missing reading and name "
            "its paper or logger, or discard."
        )
        return [Fault("hold", source(says))]
    if verdict.running:
        deadlines = [
            moment
            for moment in (verdict.deadline_first, verdict.deadline_whole)
            if moment is not None and moment >= at
        ]
        says = "Still cooling: do not serve."
        return [Fault("hold", source(says), min(deadlines, default=None))]
    return []


