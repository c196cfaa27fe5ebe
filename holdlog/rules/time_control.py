"""Time as a public health control: how food may leave temperature control, and what then.

The hours themselves are a limit like any other; here is what overrides them.
"""

from holdlog.core.events import Out
from holdlog.core.moments import MINUTE, Instant, later
from holdlog.core.temperature import Temperature
from holdlog.rules.course import Walk
from holdlog.rules.faults import Fault
from holdlog.rules.history import Event, History
from holdlog.rules.rulebook import Source, TimeControlRule
from holdlog.rules.stack import Stack

# How near to the hour a second measurement has to be taken. Ours: no code names it.
_ABOUT = 15 * MINUTE


def time_control(history: History, walk: Walk, stack: Stack, at: Instant) -> list[Fault]:
    """Time control starts from cold or hot food, by a plan the stack knows."""
    faults: list[Fault] = []
    for event in walk.outs:
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
    ceiling = rule.ceiling
    if history.food.category in rule.ambient_categories and not _cold_or_hot(fact, rule):
        # Food that starts at room temperature stays at or below it throughout.
        ceiling = rule.ambient_start
    for _, reading in walk.out_readings:
        if ceiling is not None and not ceiling.reached_from_above(reading):
            says = f"It was {reading} while out: above {ceiling.show(reading.scale)}, discard."
            return [Fault("discard", Source(source.rule, source.cite, says, source.seen))]
    checked = _measured_again(out, walk, rule, at)
    if checked is not None:
        return [checked]
    if fact.temperature is None or _good_start(fact.temperature, rule, history.food.category):
        return []
    says = f"It left temperature control at {fact.temperature}: the plan starts from cold" + (
        " or hot food." if rule.hot_start else " food."
    )
    return [Fault("hold", Source(source.rule, source.cite, says, source.seen))]


def _measured_again(out: Event, walk: Walk, rule: TimeControlRule, at: Instant) -> Fault | None:
    """Where the rules ask for a second measurement: what it showed, or that it is missing."""
    if rule.check_at_hours is None or rule.check_limit is None:
        return None
    due = later(out.at, hours=rule.check_at_hours)
    limit = rule.check_limit
    taken = [(moment, read) for moment, read in walk.out_readings if moment >= due - _ABOUT]
    source = rule.source
    for _, reading in taken:
        if not limit.reached_from_above(reading):
            says = f"It was {reading} when measured again, limit {limit.show(reading.scale)}."
            return Fault("discard", Source(source.rule, source.cite, says, source.seen))
    if at > due + _ABOUT and not any(moment <= due + _ABOUT for moment, _ in taken):
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


def _cold_or_hot(fact: Out, rule: TimeControlRule) -> bool:
    reading = fact.temperature
    if reading is None:
        return True
    hot = rule.hot_start is not None and rule.hot_start.reached_from_below(reading)
    cold = rule.cold_start is not None and rule.cold_start.reached_from_above(reading)
    return hot or cold or (rule.cold_start is None and rule.hot_start is None)


def _good_start(reading: Temperature, rule: TimeControlRule, category: str) -> bool:
    ambient = rule.ambient_start if category in rule.ambient_categories else None
    if ambient is not None and ambient.reached_from_above(reading):
        return True
    hot = rule.hot_start is not None and rule.hot_start.reached_from_below(reading)
    cold = rule.cold_start is not None and rule.cold_start.reached_from_above(reading)
    return hot or cold or (rule.cold_start is None and rule.hot_start is None)
