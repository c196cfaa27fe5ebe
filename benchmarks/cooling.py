"""How often a forecast misleads, and what a year of a logger costs.

Run: python -m benchmarks.cooling

The pots are simulated with physics that the forecast does not know (tests/rules/curves.py), read
to the whole degree by a thermometer with a standard deviation of 1 °F; what is told of the
surroundings is off by up to 2 °F. A first reading of 136 °F or more is not used, so with two
readings there is sometimes no forecast. The floor of the scan is a bare loop over the same samples.
"""

import random
import time
from collections import Counter
from collections.abc import Callable, Sequence
from decimal import Decimal
from itertools import pairwise

from holdlog.core.moments import MINUTE, Instant
from holdlog.core.temperature import Limit, Temperature
from holdlog.rules.cooling import CoolingReading
from holdlog.rules.course import Cycle, Move
from holdlog.rules.excursion import Sample, time_beyond
from holdlog.rules.forecast import NoForecast, forecast
from tests.rules.curves import Curve, natural_convection, newton, open_pan, slab

SEED = 20261125
POTS = 2000
SEVENTY = Limit(Decimal(70), Decimal(21))
DEADLINE = 120
GOAL = 2.0  # per cent of the pots that were truly late
SAYS = ("on-track", "too-close", "will-miss", "no forecast")
READ_AT = ((0, 30), (0, 30, 60), (0, 20, 40, 60, 80), (0, 15, 30))
SAMPLES = (262_800, 525_600)  # half a year and a year, one a minute


def some_newton(seed: random.Random) -> Curve:
    return newton(135, seed.uniform(33, 40), seed.uniform(45, 110))


def some_natural_convection(seed: random.Random) -> Curve:
    return natural_convection(135, seed.uniform(33, 40), seed.uniform(40, 100))


def some_slab(seed: random.Random) -> Curve:
    biot = seed.choice((0.2, 0.4, 0.8, 1.5, 3.0))
    # A centre that takes 75 to 200 minutes, whatever its Biot number.
    shape = slab(135, 38, biot, 1.0)
    return slab(135, seed.uniform(33, 40), biot, seed.uniform(75, 200) / shape.when(70))


def some_open_pan(seed: random.Random) -> Curve:
    return open_pan(135, seed.uniform(33, 40), seed.uniform(60, 160), seed.uniform(0.1, 0.5))


TRUTHS: tuple[tuple[str, Callable[[random.Random], Curve]], ...] = (
    ("Newton", some_newton),
    ("natural convection", some_natural_convection),
    ("slab, at its centre", some_slab),
    ("open pan", some_open_pan),
)


def said(curve: Curve, minutes: Sequence[int], seed: random.Random) -> str:
    """What the forecast says of a pot that is read at these minutes."""
    told = curve.surroundings + seed.uniform(-2, 2)
    readings = [
        CoolingReading(
            Instant(minute * MINUTE),
            Temperature(Decimal(round(curve.at(minute) + seed.gauss(0, 1))), "F"),
        )
        for minute in minutes
    ]
    place = Temperature(Decimal(round(told)), "F")
    cycle = Cycle(readings, logged=True, moves=[Move(Instant(0), place)])
    found = forecast(cycle, SEVENTY, Instant(DEADLINE * MINUTE))
    return "no forecast" if isinstance(found, NoForecast) else found.says


def forecasts() -> None:
    print(f"{POTS:,} pots each; deadline {DEADLINE} minutes; those at 70 °F already left out")
    print(f"{'':>20}  {'read at':>16}  {'truly late':^41}  {'truly in time':^41}  misled")
    print(f"{'':>20}  {'':>16}" + f"  {'  '.join(f'{each:>9}' for each in SAYS)}" * 2)
    for name, make in TRUTHS:
        for minutes in READ_AT:
            seed = random.Random(SEED)
            late: Counter[str] = Counter()
            in_time: Counter[str] = Counter()
            for _ in range(POTS):
                curve = make(seed)
                there = curve.when(70)
                if there <= minutes[-1]:
                    continue
                (late if there > DEADLINE else in_time)[said(curve, minutes, seed)] += 1
            misled = 100 * late["on-track"] / max(1, late.total())
            counts = "".join(
                f"  {'  '.join(f'{count[each]:>9,}' for each in SAYS)}" for count in (late, in_time)
            )
            mark = "" if misled <= GOAL else f"  over the goal of {GOAL:g} %"
            print(f"{name:>20}  {'/'.join(map(str, minutes)):>16}{counts}  {misled:.2f} %{mark}")


def year(size: int, seed: random.Random) -> list[Sample]:
    """A walk-in at 38 °F that is opened, and warms for an hour once a week."""
    return [
        (
            number * MINUTE,
            3800 + round(seed.gauss(0, 60)) + (600 if number % 10_080 < 60 else 0),
        )
        for number in range(size)
    ]


def floor(samples: Sequence[Sample]) -> int:
    beyond = 0
    for (at, value), (then, later) in pairwise(samples):
        if value > 4100 or later > 4100:
            beyond += then - at
    return beyond


def seconds(work: Callable[[], object]) -> float:
    took = []
    for _ in range(3):
        began = time.perf_counter()
        work()
        took.append(time.perf_counter() - began)
    return min(took)


def scan() -> None:
    took, bare = {}, {}
    print(f"\n{'samples':>10}  {'seconds':>8}  {'floor':>8}  {'ratio':>6}")
    for size in SAMPLES:
        samples = year(size, random.Random(SEED))
        took[size] = seconds(lambda samples=samples: time_beyond(samples, 4100))  # type: ignore[misc]
        bare[size] = seconds(lambda samples=samples: floor(samples))  # type: ignore[misc]
        ratio = took[size] / bare[size]
        print(f"{size:>10,}  {took[size]:>8.3f}  {bare[size]:>8.3f}  {ratio:>6.1f}")
    small, large = SAMPLES
    growth = took[large] / took[small]
    print(f"growth from {small:,} to {large:,}: {growth:.2f} times (2 is linear)")


def main() -> None:
    forecasts()
    scan()


if __name__ == "__main__":
    main()
