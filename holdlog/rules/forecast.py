"""When cooling food may be expected at the middle limit: a range of time, never a verdict.

Cooling is taken as ``dθ/dt = −c θ^(1+n)`` with θ the degrees above the surroundings: n = 0 is
Newton's law; n = 0.5 slows down sooner, as air, evaporation and melting ice do. Both are fitted
to the last three readings by weighted least squares, each with the surroundings as told and
2 °F to either side, and the range reaches from the earliest answer to the latest, each a standard
error wider. Whatever happens to a pot but one (a lag at its centre) makes it later than its first
readings promise, so the late end is the one to act on. The surroundings are asked for and never
fitted: one degree in one reading would move them by fifty. There is no forecast of the cold
limit: two degrees of the surroundings move it by hours.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Literal

from holdlog.core.moments import DAY, MINUTE, SECOND, Instant
from holdlog.core.temperature import Limit, Scale, Temperature
from holdlog.rules.cooling import CoolingReading
from holdlog.rules.course import Cycle
from holdlog.rules.degrees import convert, degrees_on, span_on

Says = Literal["on-track", "too-close", "will-miss"]
# (minutes since the first of them, degrees)
Points = Sequence[tuple[float, float]]

# Above this, steam carries off so much heat that a forecast would be far too early.
HOTTEST = Limit(Decimal(135), Decimal(57))
WINDOW = 3
FEWEST = 2
SPACING = 15 * MINUTE
EXPONENTS = (0.0, 0.5)
NOISE_F = 1.0  # of one reading, as a standard deviation
SURROUNDINGS_F = 2.0  # what is told of the surroundings may be off by so much either way
RISE_F = 2.0  # a rise that is asked about, and
OFF_CURVE_F = 4.0  # so far from the curve of the readings before
HORIZON = 7 * DAY  # later than this is never


@dataclass(frozen=True, slots=True)
class Forecast:
    """When it may be expected at ``limit``, from ``early`` to ``late``; None: never.

    ``says`` compares them with ``deadline``. True while the surroundings stay as told, and never
    true to the minute: people are shown it rounded outward.
    """

    early: Instant | None
    late: Instant | None
    says: Says
    limit: Temperature
    surroundings: Temperature
    deadline: Instant


@dataclass(frozen=True, slots=True)
class NoForecast:
    """Why nothing can be said, and what to do about it."""

    says: str


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line through transformed readings: ``at`` its middle, ``weight`` and ``spread``
    of the readings around it.
    """

    minute: float
    height: float
    slope: float
    weight: float
    spread: float


def fitted(points: Points, surroundings: float, exponent: float, noise: float) -> Line | None:
    """The line of ``points``, or None where they do not cool towards ``surroundings``."""
    above = [degrees - surroundings for _, degrees in points]
    # Readings that are all alike have no slope, whatever the arithmetic leaves of one.
    if min(above) <= 0 or max(above) - min(above) <= 1e-9 * max(above):
        return None
    if exponent:
        heights = [each**-exponent for each in above]
        weights = [(each ** (exponent + 1) / (exponent * noise)) ** 2 for each in above]
    else:
        heights = [math.log(each) for each in above]
        weights = [(each / noise) ** 2 for each in above]
    weight = sum(weights)
    minute = sum(w * at for w, (at, _) in zip(weights, points, strict=True)) / weight
    height = sum(w * y for w, y in zip(weights, heights, strict=True)) / weight
    spread = lean = 0.0
    for w, y, (at, _) in zip(weights, heights, points, strict=True):
        spread += w * (at - minute) ** 2
        lean += w * (at - minute) * (y - height)
    if spread <= 0:
        return None
    slope = lean / spread
    if (slope <= 0) if exponent else (slope >= 0):
        return None
    return Line(minute, height, slope, weight, spread)


def crossing(
    points: Points, surroundings: float, limit: float, exponent: float, noise: float = NOISE_F
) -> tuple[float, float] | None:
    """When the fitted curve reaches ``limit``, and the standard error: both in minutes.

    All degrees on one scale. None: never.
    """
    line = fitted(points, surroundings, exponent, noise)
    if line is None or limit <= surroundings:
        return None
    above = limit - surroundings
    height = above**-exponent if exponent else math.log(above)
    minute = line.minute + (height - line.height) / line.slope
    error = math.sqrt(1 / line.weight + (minute - line.minute) ** 2 / line.spread) / abs(line.slope)
    return minute, error


def between(
    points: Points,
    surroundings: float,
    limit: float,
    noise: float = NOISE_F,
    doubt: float = SURROUNDINGS_F,
) -> tuple[float, float]:
    """The earliest and the latest minute at which ``limit`` may be reached; infinite: never.

    ``noise`` is the standard deviation of a reading, ``doubt`` that of what is told of the
    surroundings, either way; all degrees on one scale.
    """
    early, late = math.inf, -math.inf
    for around in (surroundings - doubt, surroundings, surroundings + doubt):
        for exponent in EXPONENTS:
            found = crossing(points, around, limit, exponent, noise)
            if found is None:
                late = math.inf
                continue
            early = min(early, found[0] - found[1])
            late = max(late, found[0] + found[1])
    return early, late


def forecast(  # noqa: PLR0911  (one way out for each thing that is missing)
    cycle: Cycle, limit: Limit, deadline: Instant | None
) -> Forecast | NoForecast:
    """When the food of ``cycle`` may be expected at ``limit``, against ``deadline``.

    Only the last readings since it was put where it is, at or below 135 °F (57 °C), count.
    """
    last = cycle.moves[-1] if cycle.moves else None
    if last is None or last.surroundings is None:
        return NoForecast(
            "Where it cools now, and how warm it is there, is not logged: say so for a forecast."
        )
    if deadline is None:
        return NoForecast("When it was last hot is not logged, so no deadline is known.")
    around = last.surroundings
    read = usable(cycle)[-WINDOW:]
    if len(read) < FEWEST or read[-1][0] - read[0][0] < SPACING:
        return NoForecast(
            "Too few readings for a forecast: two at or below "
            f"{HOTTEST.show(around.scale)}, 15 minutes apart, since it was put there."
        )
    temperatures = [reading for _, reading in read]
    if not all(limit.speaks(reading) for reading in temperatures):
        return NoForecast(
            f"The limit is {limit.show(temperatures[-1].scale)}: read it on a probe that shows it."
        )
    scale = temperatures[-1].scale
    points = on_one_scale(read, scale)
    if any(later > earlier for (_, earlier), (_, later) in pairwise(points)):
        return NoForecast(
            "It has not cooled between the last readings. Stir, and measure the centre again."
        )
    told = degrees_on(scale, around)
    if points[-1][1] <= told:
        return NoForecast(
            f"It reads no more than the {around} its surroundings were said to have: measure both "
            "again."
        )
    return _forecast(read, points, told, _figure(limit, temperatures, scale), around, deadline)


def _forecast(
    read: Sequence[tuple[Instant, Temperature]],
    points: Points,
    told: float,
    limit: Temperature,
    around: Temperature,
    deadline: Instant,
) -> Forecast:
    scale = limit.scale
    early, late = between(
        points,
        told,
        float(limit.degrees),
        span_on(scale, NOISE_F),
        span_on(scale, SURROUNDINGS_F),
    )
    # It was not there yet at the last reading.
    first = _moment(read[0][0], max(early, points[-1][0]))
    latest = _moment(read[0][0], late)
    first = Instant(first // SECOND * SECOND) if first is not None else None
    latest = Instant(-(-latest // SECOND) * SECOND) if latest is not None else None
    says: Says = "too-close"
    if latest is not None and latest <= deadline:
        says = "on-track"
    elif first is None or first > deadline:
        says = "will-miss"
    return Forecast(first, latest, says, limit, around, deadline)


def _moment(began: Instant, minutes: float) -> Instant | None:
    if minutes * MINUTE > HORIZON:
        return None
    return Instant(began + round(minutes * MINUTE))


def _figure(limit: Limit, read: Sequence[Temperature], scale: Scale) -> Temperature:
    """The limit on ``scale``. Where both scales were read, the stricter of its two figures."""
    printed = {each.scale: limit.figure(each.scale) for each in read}
    figures = [
        figure if own == scale else Decimal(repr(convert(figure, own, scale)))
        for own, figure in printed.items()
        if figure is not None
    ]
    return Temperature(min(figures), scale)


def usable(cycle: Cycle) -> list[tuple[Instant, Temperature]]:
    """The readings a model may use, oldest first: since the last move, after anything hotter
    than 135 °F (57 °C), none that was written down late. Of several at once, the warmest.
    """
    since = cycle.moves[-1].at if cycle.moves else Instant(0)
    kept: list[tuple[Instant, Temperature]] = []
    for reading in cycle.readings:
        if reading.at < since or reading.late:
            continue
        if _too_hot(reading):
            kept.clear()
        elif reading.temperature is not None:
            if kept and kept[-1][0] == reading.at:
                kept.append(max(kept.pop(), (reading.at, reading.temperature), key=_warmth))
            else:
                kept.append((reading.at, reading.temperature))
    return kept


def _too_hot(reading: CoolingReading) -> bool:
    if reading.temperature is None:
        return True
    figure = HOTTEST.figure(reading.temperature.scale)
    return figure is not None and reading.temperature.degrees > figure


def _warmth(read: tuple[Instant, Temperature]) -> float:
    return degrees_on("F", read[1])


def on_one_scale(read: Sequence[tuple[Instant, Temperature]], scale: Scale) -> Points:
    """The readings as minutes since the first of them, and degrees of ``scale``."""
    return [((at - read[0][0]) / MINUTE, degrees_on(scale, reading)) for at, reading in read]


def question(cycle: Cycle) -> str:  # noqa: PLR0911  (one way out for each question)
    """What to ask about the last reading where it does not fit those before it; else nothing.

    It is asked, and nothing is dropped: the reading may be the one that is right.
    """
    read = usable(cycle)
    if len(read) < FEWEST:
        return ""
    scale = read[-1][1].scale
    *before, (minute, degrees) = on_one_scale(read, scale)
    if degrees - before[-1][1] >= span_on(scale, RISE_F):
        return f"It rose to {read[-1][1]}. Was it heated, or read in another spot? Measure again."
    around = cycle.moves[-1].surroundings if cycle.moves else None
    if around is None or (before := before[-WINDOW:])[-1][0] - before[0][0] < SPACING / MINUTE:
        return ""
    told = degrees_on(scale, around)
    line = fitted(before, told, 0.0, span_on(scale, NOISE_F))
    if line is None:
        return ""
    expected = told + math.exp(line.height + line.slope * (minute - line.minute))
    off = span_on(scale, max(OFF_CURVE_F, 4 * NOISE_F))
    if degrees - expected > off:
        return (
            f"{read[-1][1]} is warmer than the readings before it promise. Were they in a colder "
            "spot? Stir, and measure the centre again. Was it moved?"
        )
    if expected - degrees > off:
        return (
            f"{read[-1][1]} is colder than the readings before it promise. Did the way of cooling "
            "change? Is the probe at the centre?"
        )
    return ""
