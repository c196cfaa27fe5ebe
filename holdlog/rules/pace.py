"""Where cooling food should be by now, and how much faster it would have to cool.

The pace line is the one exponential that passes through every limit of a rule at its deadline.
Above it the food is behind. Below it is encouraging and no more: surroundings only just below the
cold limit can still lose it. It works from one reading, and to the cold limit too, for which no
clock time is ever shown.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from holdlog.core.moments import HOUR, MINUTE, Instant
from holdlog.core.temperature import Limit, Scale, Temperature
from holdlog.rules.cooling import CoolingReading, CoolingVerdict
from holdlog.rules.course import Cycle, Move
from holdlog.rules.degrees import degrees_on
from holdlog.rules.forecast import SPACING, usable
from holdlog.rules.kinds import CoolingRule

SOON = 30 * MINUTE


@dataclass(frozen=True, slots=True)
class PaceLine:
    """``floor + above · exp(−per_hour · hours)``, in degrees of one scale."""

    floor: float
    above: float
    per_hour: float

    def at(self, hours: float) -> float:
        """The degrees it should have come down to ``hours`` after the start."""
        return self.floor + self.above * math.exp(-self.per_hour * hours)


@dataclass(frozen=True, slots=True)
class Pace:
    """Where the food should be by now, and what the next limit asks of it.

    ``should_be`` is rounded down. ``needs_times_faster``: so much faster than between its last
    readings, rounded up to a tenth; 1 or less keeps the pace; None: not known, or it cannot.
    ``surroundings`` None: not told. ``behind``: it was warmer than it should have been when it
    was read last.
    """

    should_be: Temperature
    needs_times_faster: Decimal | None
    next_limit: Limit
    surroundings: Temperature | None
    cannot: bool
    slow: bool
    behind: bool = False


def pace_line(
    hot: float, middle: float, cold: float, first_hours: float, whole_hours: float
) -> PaceLine | None:
    """The exponential through ``hot`` at 0, ``middle`` and ``cold`` at their hours.

    None where no falling exponential that levels out passes through the three.
    """
    share = (hot - middle) / (hot - cold)
    low, high = 1e-9, 700 / whole_hours

    def done(rate: float) -> float:
        """The share of the whole way that is behind it at ``first_hours``."""
        return math.expm1(-rate * first_hours) / math.expm1(-rate * whole_hours)

    if not done(low) < share < done(high):
        return None
    for _ in range(200):
        rate = (low + high) / 2
        low, high = (rate, high) if done(rate) < share else (low, rate)
    above = (hot - cold) / -math.expm1(-rate * whole_hours)
    return PaceLine(hot - above, above, rate)


def rate_needed(degrees: float, surroundings: float, limit: float, hours: float) -> float | None:
    """The cooling rate per hour that takes food from ``degrees`` to ``limit`` in ``hours``.

    None where nothing would: no time is left, or the surroundings are no colder than the limit.
    """
    if surroundings >= limit or hours <= 0:
        return None
    return max(0.0, math.log((degrees - surroundings) / (limit - surroundings)) / hours)


def rate_seen(one: float, other: float, surroundings: float, hours: float) -> float | None:
    """The rate per hour between two readings; None where they show no cooling."""
    if not one > other > surroundings or hours <= 0:
        return None
    return math.log((one - surroundings) / (other - surroundings)) / hours


def pace(cycle: Cycle, rule: CoolingRule, verdict: CoolingVerdict, at: Instant) -> Pace | None:
    """The pace of a cooling that runs, as of ``at``; None where the rule has no line."""
    limit, deadline = next_limit(rule, verdict)
    read = usable(cycle)
    scale = _scale(rule, read)
    around = cycle.moves[-1].surroundings if cycle.moves else None
    told = degrees_on(scale, around) if around is not None else None
    should_be = _should_be(cycle, rule, verdict, at, scale, told)
    if should_be is None or deadline is None:
        return None
    figure = limit.figure(scale)
    if told is None or figure is None:
        return Pace(should_be, None, limit, around, cannot=False, slow=False)
    cold = rule.cold.figure(scale)
    cannot = told >= figure
    return Pace(
        should_be,
        None if cannot else _times_faster(read, limit, scale, told, deadline),
        limit,
        around,
        cannot,
        slow=not cannot and cold is not None and told >= float(cold) - (1 if scale == "F" else 0.5),
        behind=_behind(cycle, rule, verdict, read, scale, told),
    )


def _behind(
    cycle: Cycle,
    rule: CoolingRule,
    verdict: CoolingVerdict,
    read: Sequence[tuple[Instant, Temperature]],
    scale: Scale,
    told: float,
) -> bool:
    if not read:
        return False
    at, last = read[-1]
    then = _should_be(cycle, rule, verdict, at, scale, told)
    return then is not None and degrees_on(scale, last) > float(then.degrees)


def next_limit(rule: CoolingRule, verdict: CoolingVerdict) -> tuple[Limit, Instant | None]:
    """The limit that comes next, and until when."""
    if rule.middle is not None and verdict.first == "running":
        return rule.middle, verdict.deadline_first
    return rule.cold, verdict.deadline_whole


def read_next(last: Instant, deadline: Instant) -> Instant:
    """When to measure again after ``last``: in half the time that is left, 30 minutes at most."""
    return Instant(last + max(0, min(SOON, (deadline - last) // 2)))


def _scale(rule: CoolingRule, read: Sequence[tuple[Instant, Temperature]]) -> Scale:
    """The scale that is read, if the rule prints its limits on it."""
    wanted: Scale = read[-1][1].scale if read else "F"
    if rule.cold.figure(wanted) is not None:
        return wanted
    return "C" if wanted == "F" else "F"


def _should_be(
    cycle: Cycle,
    rule: CoolingRule,
    verdict: CoolingVerdict,
    at: Instant,
    scale: Scale,
    told: float | None,
) -> Temperature | None:
    line = _line(cycle.readings, rule, scale, told)
    if line is None or verdict.deadline_whole is None:
        return None
    degrees = line.at(max(0, _spent(rule, verdict, at)) / HOUR)
    step = Decimal(1) if scale == "F" else Decimal("0.1")
    # A hair is added, so that 70 °F at two hours is not shown as 69.
    shown = Decimal(degrees + 1e-6).quantize(step, ROUND_FLOOR)
    return Temperature(shown, scale)


def curve(
    readings: Sequence[CoolingReading],
    moves: Sequence[Move],
    rule: CoolingRule,
    verdict: CoolingVerdict,
    scale: Scale,
) -> list[tuple[Instant, float]]:
    """The pace line in degrees of ``scale``, from the start to the last deadline, to be drawn.

    Empty where the rule has no line, or no deadline is known.
    """
    around = moves[-1].surroundings if moves else None
    line = _line(readings, rule, scale, degrees_on(scale, around) if around is not None else None)
    end = verdict.deadline_whole
    if line is None or end is None:
        return []
    start = Instant(end - _spent(rule, verdict, end))
    steps = max(2, (end - start) // (5 * MINUTE))
    moments = [Instant(start + (end - start) * step // steps) for step in range(steps + 1)]
    return [(at, line.at((at - start) / HOUR)) for at in moments]


def _line(
    readings: Sequence[CoolingReading], rule: CoolingRule, scale: Scale, told: float | None
) -> PaceLine | None:
    cold = rule.cold.figure(scale)
    middle = rule.middle.figure(scale) if rule.middle is not None else None
    hot = rule.hot.figure(scale) if rule.hot is not None else _first_read(readings, scale)
    if hot is None or cold is None:
        return None
    first, total = rule.first_minutes, _total(rule)
    if middle is not None and first is not None:
        return pace_line(float(hot), float(middle), float(cold), first / 60, total / 60)
    return _to_one_limit(float(hot), float(cold), told, total / 60)


def _total(rule: CoolingRule) -> int:
    """The minutes of the whole cooling."""
    if rule.middle is None or rule.first_minutes is None or rule.whole_minutes is not None:
        return rule.whole_minutes or 0
    return rule.first_minutes + (rule.second_minutes or 0)


def _spent(rule: CoolingRule, verdict: CoolingVerdict, at: Instant) -> int:
    """Milliseconds of the line that are behind ``at``.

    Counted back from the deadline ahead: where the last stage has minutes of its own, its clock
    begins when the middle limit was passed.
    """
    first = rule.first_minutes
    if verdict.first == "running" and verdict.deadline_first is not None and first is not None:
        return first * MINUTE - (verdict.deadline_first - at)
    return _total(rule) * MINUTE - ((verdict.deadline_whole or at) - at)


def _first_read(readings: Sequence[CoolingReading], scale: Scale) -> Decimal | None:
    """Without a hot limit the line starts at the first reading."""
    for reading in readings:
        if reading.temperature is not None:
            return Decimal(repr(degrees_on(scale, reading.temperature)))
    return None


def _to_one_limit(hot: float, cold: float, told: float | None, hours: float) -> PaceLine | None:
    """With one limit two points are known; the surroundings, if they are, give the third."""
    if told is None or told >= cold or hot <= cold or hours <= 0:
        return None
    return PaceLine(told, hot - told, math.log((hot - told) / (cold - told)) / hours)


def _times_faster(
    read: Sequence[tuple[Instant, Temperature]],
    limit: Limit,
    scale: Scale,
    told: float,
    deadline: Instant,
) -> Decimal | None:
    """What the limit asks from the last reading on, over what was seen up to it."""
    figure = limit.figure(scale)
    if figure is None or not read or read[-1][1].scale != scale:
        return None
    at, last = read[-1]
    earlier = next((each for each in reversed(read) if at - each[0] >= SPACING), None)
    if earlier is None:
        return None
    degrees = degrees_on(scale, last)
    seen = rate_seen(degrees_on(scale, earlier[1]), degrees, told, (at - earlier[0]) / HOUR)
    needed = (
        rate_needed(degrees, told, float(figure), (deadline - at) / HOUR)
        if degrees > told
        else None
    )
    if seen is None or needed is None:
        return None
    return Decimal(needed / seen).quantize(Decimal("0.1"), ROUND_CEILING)
