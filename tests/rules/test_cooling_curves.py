"""The cooling verdict against curves of which the truth is known.

The curves come from textbook physics (tests/rules/curves.py), which is checked here against
printed tables and against scipy. Limits: FDA Food Code 2022 §3-501.14(A).
"""

import math
import random
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from holdlog.core.moments import MINUTE, Instant
from holdlog.core.temperature import Temperature
from holdlog.rules.cooling import CoolingReading, CoolingVerdict, judge
from holdlog.rules.course import Cycle, Move
from holdlog.rules.forecast import crossing
from holdlog.rules.kinds import CoolingRule
from holdlog.rules.outlook import look_ahead
from tests.rules.curves import (
    Curve,
    natural_convection,
    newton,
    open_pan,
    slab,
    slab_centre,
    slab_terms,
)
from tests.rules.making import food_code


def rule() -> CoolingRule:
    known = food_code().rules["cooling"]
    assert isinstance(known, CoolingRule)
    return known


# ---- the truths themselves -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("biot", "root", "factor"),
    # Çengel, Heat and Mass Transfer, table of the one-term solution of a plane wall (from memory;
    # recomputed by bisection, which gives 1.2402 where the print has 1.2403 at Bi = 5).
    [(0.01, 0.0998, 1.0017), (0.1, 0.3111, 1.0161), (0.5, 0.6533, 1.0701), (1, 0.8603, 1.1191),
     (2, 1.0769, 1.1785), (5, 1.3138, 1.2402), (10, 1.4289, 1.2620), (100, 1.5552, 1.2731)],
)  # fmt: skip
def test_the_slab_has_the_roots_of_the_printed_table(
    biot: float, root: float, factor: float
) -> None:
    assert slab_terms(biot)[0] == pytest.approx((root, factor), abs=5.1e-5)


@pytest.mark.parametrize(
    ("biot", "fourier", "left"),
    [(0.5, 0.3, 0.938151), (0.5, 1.0, 0.698383), (1, 0.5, 0.772526), (5, 0.4, 0.621275),
     (20, 0.3, 0.647864)],
)  # fmt: skip
def test_the_slab_cools_as_the_heat_equation_says(biot: float, fourier: float, left: float) -> None:
    """Second method: the heat equation in 200 cells, integrated by scipy."""
    assert slab_centre(biot, fourier) == pytest.approx(left, abs=1e-6)
    cells, width = 200, 1 / 200

    def flows(_: float, warm: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> object:
        inner = np.diff(warm) / width
        # From the middle of the last cell to the surface, and from there into the air.
        lost = -warm[-1] / (width / 2 + 1 / biot)
        return np.diff(np.concatenate([[0.0], inner, [lost]])) / width

    found = solve_ivp(flows, (0, fourier), np.ones(cells), method="BDF", rtol=1e-8, atol=1e-10)
    assert found.y[0, -1] == pytest.approx(left, abs=5e-5)


def test_newton_reaches_the_limits_when_the_formula_says() -> None:
    # t = ln((T1 − Ta)/(T − Ta))/k by hand: 135 °F in 38 °F with k = 0.547771/h.
    curve = newton(135, 38, math.log(2) / 0.547771 * 60)
    assert curve.when(70) / 60 == pytest.approx(2.0246, abs=1e-4)
    assert curve.when(41) / 60 == pytest.approx(6.346, abs=1e-3)


def test_the_textbook_time_of_death_is_found_from_two_readings() -> None:
    """Çengel, Heat and Mass Transfer, chapter 4, predicting the time of death (from memory:
    12.2 h): cylinder 0.30 m by 1.7 m, 996 kg/m³, 4178 J/kg K, 8 W/m² K, 37 °C to 25 °C in 20 °C.
    """
    length = (math.pi * 0.15**2 * 1.7) / (2 * math.pi * 0.15 * 1.7 + 2 * math.pi * 0.15**2)
    rate = 8 / (996 * 4178 * length)
    readings = [(0.0, 37.0), (60.0, 20 + 17 * math.exp(-rate * 3600))]
    found = crossing(readings, 20.0, 25.0, 0.0)
    assert found is not None
    assert found[0] / 60 == pytest.approx(12.19, abs=0.005)


def test_the_open_pan_is_faster_while_it_steams() -> None:
    wet, dry = open_pan(135, 38, 80), newton(135, 38, 80)
    assert wet.when(70) < 0.9 * dry.when(70)

    def falls(_: float, degrees: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> object:
        celsius, air = (degrees - 32) / 1.8, (38 - 32) / 1.8
        steam = 0.6112 * np.exp(17.62 * celsius / (243.12 + celsius))
        damp = 0.7 * 0.6112 * math.exp(17.62 * air / (243.12 + air))
        return -math.log(2) / 80 * (degrees - 38 + 1.8 * 0.3 * (steam - damp) / 0.066)

    found = solve_ivp(falls, (0, 120), [135.0], rtol=1e-9, atol=1e-9)
    assert wet.at(120) == pytest.approx(found.y[0, -1], abs=1e-3)


# ---- the verdict -----------------------------------------------------------------------------


def some_curve(seed: random.Random) -> Curve:
    """One of the kinds, from far too fast to far too slow, off the heat at 137 to 200 °F."""
    start, around = seed.uniform(137, 200), seed.uniform(28, 40.5)
    kind = seed.randrange(3)
    if kind == 0:
        return newton(start, around, seed.uniform(15, 140))
    if kind == 1:
        return natural_convection(start, around, seed.uniform(15, 120), seed.uniform(0.2, 0.34))
    # Few Biot numbers, so that their series are worked out once.
    return slab(start, around, seed.choice([0.1, 0.3, 0.7, 1.5, 4.0]), seed.uniform(15, 300))


def read(curve: Curve, minutes: set[int] | list[int]) -> list[CoolingReading]:
    """Read without error, so that what is proved is true of the curve itself."""
    return [
        CoolingReading(Instant(minute * MINUTE), Temperature(Decimal(curve.at(minute)), "F"))
        for minute in sorted(minutes)
    ]


def true_of(curve: Curve, verdict: CoolingVerdict) -> None:
    start = curve.when(135)
    hair = 1e-6  # minutes: what a float of these curves is good for
    for stage, limit, allowed in ((verdict.first, 70, 120), (verdict.whole, 41, 360)):
        if stage == "met":
            assert curve.when(limit) - start <= allowed + hair
        if stage == "missed":
            assert curve.when(limit) - start >= allowed - hair


@pytest.mark.slow
def test_ten_thousand_pots_are_judged_truly() -> None:
    """Read at any minutes, few or many: what is met is truly met, what is missed truly missed,
    and what is ahead of it never fails to be told.
    """
    seed = random.Random(20261125)
    told = {"met": 0, "missed": 0, "unproven": 0, "running": 0}
    ahead = {"on-track": 0, "too-close": 0, "will-miss": 0}
    for _ in range(10_000):
        curve = some_curve(seed)
        long = seed.choice((150, 400, 700))
        minutes = sorted({0, *seed.sample(range(long), seed.randint(1, 12))})
        now = seed.randint(0, long)
        readings = read(curve, [minute for minute in minutes if minute <= now])
        at = Instant(now * MINUTE)
        verdict = judge(readings, rule(), at)
        true_of(curve, verdict)
        told[verdict.whole] += 1
        around = Temperature(Decimal(round(curve.surroundings)), "F")
        cycle = Cycle(readings, logged=True, moves=[Move(Instant(0), around)])
        found = look_ahead(cycle, rule(), verdict, at)
        if found is not None and found.forecast is not None:
            ahead[found.forecast.says] += 1
    # Every answer came up, or the test says nothing.
    assert min(told.values()) > 100
    assert min(ahead.values()) > 50


KINDS = st.integers(0, 2**32).map(lambda number: some_curve(random.Random(number)))
MINUTES = st.sets(st.integers(0, 600), min_size=1, max_size=12)


@settings(max_examples=300)
@given(curve=KINDS, minutes=MINUTES, more=st.integers(0, 600))
def test_one_more_reading_never_turns_met_into_missed(
    curve: Curve, minutes: set[int], more: int
) -> None:
    now = Instant(700 * MINUTE)
    before = judge(read(curve, minutes), rule(), now)
    after = judge(read(curve, minutes | {more}), rule(), now)
    true_of(curve, after)
    for was, is_now in ((before.first, after.first), (before.whole, after.whole)):
        assert was not in ("met", "missed") or is_now == was
