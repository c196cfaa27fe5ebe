"""Time as a public health control: how food may leave temperature control, and what then.

The hours themselves are a limit like any other; here is what overrides them.
"""

from holdlog.core.events import Out
from holdlog.core.moments import MINUTE, Instant, later
from holdlog.core.temperature import Temperature
from holdlog.rules.course import Walk
from holdlog.rules.faults import Fault
from holdlog.rules.history import Event, History
from holdlog.rules.kinds import Source, TimeControlRule
from holdlog.rules.stack import Stack

# How near to the hour a second measurement has to be taken. Ours: no code names it.
_ABOUT = 15 * MINUTE


def time_control(history: History, walk: Walk, stack: Stack, at: Instant) -> list[Fault]:
    """Time control starts from cold or hot food, by a plan the stack knows.

    The times out from which it went back are judged too: what was wrong with them stays wrong.
    """
    faults: list[Fault] = []
    for event in (*walk.outs_before, *walk.outs):
        if isinstance(event.fact, Out):
            faults += _plan(history, walk, event, event.fact, stack, at)
    return faults


def _plan(
    history: History, walk: Walk, out: Event, fact: Out, stack: Stack, at: Instant
) -> list[Fault]:
    rule = next((each for each in stack.of_kind(TimeControlRule) if each.plan == fact.plan), None)
    if rule is None:
        says = f"The adopted rules know no {fact.plan} plan of time control."
        return [Fault("refuse", Source("time-control", "holdlog", says, "inference"))]
    source = rule.source
    if history.food.susceptible_population and history.food.category in rule.susceptible_refused:
        says = "Not under time control where highly susceptible people are served."
        refused = Source(source.rule, rule.susceptible_cite, says, source.seen)
        return [Fault("refuse", refused)]
    started = _held(rule, _start(history, walk, fact, rule))
    faults = [*_too_warm(history, walk, out, fact, rule), *started]
    checked = _measured_again(out, walk, rule, at)
    return [*faults, checked] if checked is not None else faults


def _held(rule: TimeControlRule, says: str) -> list[Fault]:
    source = rule.source
    return [Fault("hold", Source(source.rule, source.cite, says, source.seen))] if says else []


def _start(history: History, walk: Walk, fact: Out, rule: TimeControlRule) -> str:
    """What is wrong with how it left temperature control; empty: nothing."""
    plan = "the plan starts from cold" + (" or hot food." if rule.hot_start else " food.")
    if rule.cold_start is None:
        plan = "the plan starts from hot food."
    if fact.temperature is None:
        # Nobody measured, but what was held hot cannot have started cold.
        only_cold = rule.hot_start is None and rule.cold_start is not None
        return f"It was hot when it left temperature control: {plan}" if (
            walk.out_hot and only_cold
        ) else ""  # fmt: skip
    if _good_start(fact.temperature, rule, history.food.category):
        return ""
    return f"It left temperature control at {fact.temperature}: {plan}"


def _too_warm(
    history: History, walk: Walk, out: Event, fact: Out, rule: TimeControlRule
) -> list[Fault]:
    """A reading above the ceiling while it was out discards it."""
    ceiling = rule.ceiling
    at_room = history.food.category in rule.ambient_categories and _warm(fact, walk, rule)
    if at_room and not _hot(fact, rule):
        # Food that starts at room temperature stays at or below it throughout.
        ceiling = rule.ambient_start
    if ceiling is None:
        return []
    source = rule.source
    faults: list[Fault] = []
    for each in walk.out_readings:
        if each.at < out.at or ceiling.reached_from_above(each.temperature):
            continue
        shown = ceiling.show(each.temperature.scale)
        if not ceiling.speaks(each.temperature):
            says = f"It was {each.temperature} while out; the limit is printed as {shown}, and "
            faults += _held(rule, says + "nothing is converted: read it on that scale.")
            continue
        says = f"It was {each.temperature} while out: above {shown}, discard."
        faults.append(Fault("discard", Source(source.rule, source.cite, says, source.seen)))
    return faults


def _measured_again(out: Event, walk: Walk, rule: TimeControlRule, at: Instant) -> Fault | None:
    """Where the rules ask for a second measurement: what it showed, or that it is missing.

    Written down on a later day, it may show that the food was too warm, never that it was not.
    """
    if rule.check_at_hours is None or rule.check_limit is None:
        return None
    due = later(out.at, hours=rule.check_at_hours)
    limit = rule.check_limit
    taken = [each for each in walk.out_readings if each.at >= due - _ABOUT]
    source = rule.source
    for each in taken:
        reading = each.temperature
        if limit.speaks(reading) and not limit.reached_from_above(reading):
            says = f"It was {reading} when measured again, limit {limit.show(reading.scale)}."
            return Fault("discard", Source(source.rule, source.cite, says, source.seen))
    good = (each for each in taken if not each.late and limit.speaks(each.temperature))
    if at > due + _ABOUT and not any(each.at <= due + _ABOUT for each in good):
        says = f"It was not measured again at {rule.check_at_hours} hours, as the rule asks."
        return Fault("hold", Source(source.rule, source.cite, says, source.seen))
    return None


def measured_by(walk: Walk, stack: Stack) -> list[Instant]:
    """When food that is out has to have been measured again, by the rules that ask for it."""
    return [
        Instant(later(out.at, hours=rule.check_at_hours) + _ABOUT + 1)
        for out in walk.outs
        for rule in stack.of_kind(TimeControlRule)
        if rule.check_at_hours is not None
        and isinstance(out.fact, Out)
        and out.fact.plan == rule.plan
    ]


def hours_from(
    history: History, out_at: Instant, out: Out, walk: Walk, rule: TimeControlRule
) -> Instant:
    """When the hours of time control begin: when it left control.

    Produce made TCS by cutting and packs made TCS by opening may start warmer than cold; then
    the hours begin with the cutting or opening. So they do when nobody measured and no good
    reading shows that it was ever cold.
    """
    if history.food.category not in rule.ambient_categories or walk.begins is None:
        return out_at
    return min(walk.begins, out_at) if _warm(out, walk, rule) else out_at


def _warm(out: Out, walk: Walk, rule: TimeControlRule) -> bool:
    """Whether it has to be taken for food that started warmer than cold."""
    if out.temperature is None:
        return walk.last_good is None
    return rule.cold_start is None or not rule.cold_start.reached_from_above(out.temperature)


def _hot(fact: Out, rule: TimeControlRule) -> bool:
    reading, hot = fact.temperature, rule.hot_start
    return reading is not None and hot is not None and hot.reached_from_below(reading)


def _good_start(reading: Temperature, rule: TimeControlRule, category: str) -> bool:
    ambient = rule.ambient_start if category in rule.ambient_categories else None
    if ambient is not None and ambient.reached_from_above(reading):
        return True
    hot = rule.hot_start is not None and rule.hot_start.reached_from_below(reading)
    cold = rule.cold_start is not None and rule.cold_start.reached_from_above(reading)
    return hot or cold or (rule.cold_start is None and rule.hot_start is None)
