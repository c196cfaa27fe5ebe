"""When 70 °F may be expected, and what is said where nothing can be.

The figures of the tables were worked out by the closed form; second methods run beside them:
numpy.polyfit (weighted, covariance unscaled), scipy's ODE solver with an event, scipy's non-linear
least squares in the temperatures themselves. The two-reading method for typical cooling is
Schaffner et al. 2015, J. Food Prot. 78:778-783 (from memory; its formula alone is used).
"""

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import curve_fit

from holdlog.core import events as ev
from holdlog.core.moments import HOUR, MINUTE, Instant
from holdlog.core.temperature import Limit, Temperature, read_temperature
from holdlog.rules import outlook, scenario
from holdlog.rules.cooling import CoolingReading
from holdlog.rules.course import Cycle, Move
from holdlog.rules.forecast import (
    Forecast,
    NoForecast,
    Says,
    between,
    crossing,
    forecast,
    question,
)
from holdlog.rules.history import Event
from holdlog.rules.holding import Holding
from tests.rules.making import CHICAGO, at, book_text, category_text, cooling, event, found, history

Log = str
SEVENTY = Limit(Decimal(70), Decimal(21))


def points(log: Log) -> list[tuple[float, float]]:
    """``"0:135 30:113"``: minutes and degrees."""
    pairs = (each.split(":") for each in log.split())
    return [(float(minute), float(degrees)) for minute, degrees in pairs]


# ---- one curve -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("log", "around", "exponent", "limit", "minute", "error"),
    [
        ("0:135 30:113 60:95", 38, 0, 70, 126.0669, 3.9945),
        ("0:135 30:113 60:95", 38, 0.5, 70, 150.4130, 5.2347),
        ("0:135 30:113 60:95", 38, 0, 41, 394.7647, 13.8138),
        ("0:134 20:120 40:108", 38, 0, 70, 139.1662, 6.8480),
        ("0:134 20:120 40:108", 40, 0.5, 70, 176.7356, 9.1688),
        ("0:135 30:112", 38, 0, 70, 122.9254, 7.0853),
        ("0:135 30:112", 38, 0.5, 70, 153.4194, 9.2928),
    ],
)
def test_a_curve_through_the_readings(
    log: Log, around: float, exponent: float, limit: float, minute: float, error: float
) -> None:
    found = crossing(points(log), around, limit, exponent)
    assert found == pytest.approx((minute, error), abs=5e-5)

    # Second method: numpy's straight line, and the error of the crossing from its covariance.
    times, above = np.array(points(log)).T
    above = above - around
    if exponent:
        heights = above**-exponent
        weights = above ** (exponent + 1) / exponent
        wanted = (limit - around) ** -exponent
    else:
        heights, weights, wanted = np.log(above), above, math.log(limit - around)
    middle = np.average(times, weights=weights**2)
    if len(times) > 2:
        line, spread = np.polyfit(times - middle, heights, 1, w=weights, cov="unscaled")
    else:
        design = np.vander(times - middle, 2) * weights[:, None]
        line = np.linalg.solve(design, heights * weights)
        spread = np.linalg.inv(design.T @ design)
    at = (wanted - line[1]) / line[0]
    lean = np.array([at, 1.0])
    assert at + middle == pytest.approx(minute, abs=1e-4)
    assert math.sqrt(lean @ spread @ lean) / abs(line[0]) == pytest.approx(error, abs=1e-4)


@pytest.mark.parametrize(("exponent", "minute"), [(0.0, 122.9254), (0.25, None), (0.5, 153.4194)])
def test_two_readings_are_continued_as_the_law_of_cooling_does(
    exponent: float, minute: float | None
) -> None:
    """Second method: dθ/dt = −c θ^(1+n) integrated until 70 °F, its constant shot for."""
    log = points("0:135 30:112")
    got = crossing(log, 38, 70, exponent)
    assert got is not None

    def constant(guess: float) -> float:
        run = solve_ivp(
            lambda _, above: -guess * above ** (1 + exponent),
            (0, 30), [97.0], rtol=1e-10, atol=1e-12,
        )  # fmt: skip
        return float(run.y[0, -1]) - 74.0

    low, high = 1e-6, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if constant(middle) > 0 else (low, middle)

    def there(_: float, above: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> float:
        return float(above[0]) - 32.0

    run = solve_ivp(
        lambda _, above: -low * above ** (1 + exponent),
        (0, 500), [97.0], events=there, rtol=1e-10, atol=1e-12,
    )  # fmt: skip
    assert got[0] == pytest.approx(run.t_events[0][0], abs=1e-3)
    if minute is not None:
        assert got[0] == pytest.approx(minute, abs=5e-5)


@pytest.mark.parametrize(
    ("log", "minute"), [("0:135 30:113 60:95", 126.057), ("0:134 20:120 40:108", 139.166)]
)
def test_a_fit_in_the_temperatures_themselves_agrees(log: Log, minute: float) -> None:
    times, degrees = np.array(points(log)).T

    def curve(
        time: "np.ndarray[tuple[int], np.dtype[np.float64]]", start: float, rate: float
    ) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
        return 38 + start * np.exp(-rate * time)

    (start, rate), _ = curve_fit(curve, times, degrees, p0=(97, 0.01))
    fitted = math.log(start / 32) / rate
    assert fitted == pytest.approx(minute, abs=1e-3)
    got = crossing(points(log), 38, 70, 0)
    assert got is not None
    assert got[0] == pytest.approx(fitted, abs=0.02)


@pytest.mark.parametrize(
    ("log", "around", "slope", "seventy", "forty_one"),
    [
        ("0:135 30:112", 38, 0.235080, 122.9254, 385.3115),
        ("0:135 60:95", 38, 0.230897, 125.1524, 392.2921),
        ("20:150 50:120", 35, 0.262558, 138.0608, 313.0889),
        ("0:130 45:100", 33, 0.214263, 117.2123, 303.4637),
    ],
)
def test_two_readings_agree_with_the_published_two_reading_method(
    log: Log, around: float, slope: float, seventy: float, forty_one: float
) -> None:
    """The rate is [log10(T1 − Tdf) − log10(T2 − Tdf)]/Δt with Tdf the surroundings."""
    (begun, one), (then, two) = points(log)
    rate = (math.log10(one - around) - math.log10(two - around)) / (then - begun)
    assert rate * 60 == pytest.approx(slope, abs=1e-6)
    for limit, minute in ((70, seventy), (41, forty_one)):
        by_rate = begun + math.log10((one - around) / (limit - around)) / rate
        got = crossing(points(log), around, limit, 0)
        assert got is not None
        assert got[0] == pytest.approx(by_rate, abs=1e-6)
        assert got[0] == pytest.approx(minute, abs=5e-4)


def test_what_stands_on_the_counter_never_gets_there() -> None:
    assert crossing(points("0:135 60:102.5"), 70, 70, 0) is None
    assert crossing(points("0:135 60:135"), 38, 70, 0) is None
    assert crossing(points("0:100 60:110"), 38, 70, 0.5) is None


# ---- the range -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("log", "around", "early", "late", "early_41", "late_41"),
    [
        ("0:135 30:113 60:95", 38, 120.760, 159.081, 335.967, 1785.829),
        ("0:134 20:120 40:108", 38, 130.609, 185.904, 365.667, 2104.590),
        ("0:135 30:112", 38, 114.302, 166.864, 318.208, 1877.875),
        ("30:108 60:88 90:73", 38, 95.715, 106.409, 262.068, 1125.447),
        ("0:130 15:124 30:118", 36, 196.287, 322.472, 521.193, 2110.669),
        ("0:135 20:103 40:80", 33, 51.284, 61.335, 122.073, 273.640),
        ("0:135 30:120 60:107", 70, 374.465, math.inf, math.inf, math.inf),
    ],
)
def test_the_range_holds_every_law_and_every_doubt(
    log: Log, around: float, early: float, late: float, early_41: float, late_41: float
) -> None:
    assert between(points(log), around, 70) == pytest.approx((early, late), abs=2e-3)
    assert between(points(log), around, 41) == pytest.approx((early_41, late_41), abs=2e-3)


FALLING = st.builds(
    lambda start, drops, gaps: [
        (float(sum(gaps[:number])), start - sum(drops[:number])) for number in range(len(drops) + 1)
    ],
    st.floats(100, 135),
    st.lists(st.floats(0, 20), min_size=1, max_size=2),
    st.lists(st.floats(8, 60), min_size=2, max_size=2),
)
AROUND = st.floats(28, 69)


@settings(max_examples=500)
@given(log=FALLING, around=AROUND, noise=st.floats(0.3, 3), doubt=st.floats(0, 4),
       more=st.floats(0, 2))  # fmt: skip
def test_more_doubt_never_makes_the_late_end_earlier(
    log: list[tuple[float, float]], around: float, noise: float, doubt: float, more: float
) -> None:
    hair = 1e-6
    early, late = between(log, around, 70, noise, doubt)
    noisier = between(log, around, 70, noise + more, doubt)
    assert noisier[1] >= late - hair
    assert noisier[0] <= early + hair
    # Surroundings that may be warmer by more can only make it later.
    wider = between(log, around, 70, noise, doubt + more)
    assert wider[1] >= late - abs(late) * 1e-9 - hair or math.isinf(wider[1])


@settings(max_examples=300)
@given(log=FALLING, around=AROUND)
def test_fahrenheit_and_celsius_say_the_same(log: list[tuple[float, float]], around: float) -> None:
    """Where the limit is the exact conversion, so is the answer: 41 °F is 5 °C."""
    celsius = [(minute, (degrees - 32) / 1.8) for minute, degrees in log]
    one = between(log, around - 32, 41)
    other = between(celsius, (around - 64) / 1.8, 5, 1 / 1.8, 2 / 1.8)
    assert other == pytest.approx(one, rel=1e-6)


# ---- in the kitchen --------------------------------------------------------------------------


def ready(log: Log, around: str = "38 F", scale: str = "F", moved: int = 0) -> Cycle:
    readings = [
        CoolingReading(
            Instant(round(minute * MINUTE)),
            read_temperature(f"{degrees:g} {scale}"),
        )
        for minute, degrees in points(log)
    ]
    place = read_temperature(around) if around else None
    return Cycle(readings, logged=True, moves=[Move(Instant(moved * MINUTE), place)])


def told(log: Log, deadline: int = 120, **where: object) -> Forecast | NoForecast:
    return forecast(ready(log, **where), SEVENTY, Instant(deadline * MINUTE))  # type: ignore[arg-type]


def forecasted(log: Log, deadline: int = 120, **where: object) -> Forecast:
    got = told(log, deadline, **where)
    assert isinstance(got, Forecast), got
    return got


def why_not(log: Log, deadline: int = 120, **where: object) -> str:
    got = told(log, deadline, **where)
    assert isinstance(got, NoForecast), got
    return got.says


@pytest.mark.parametrize(
    ("log", "deadline", "says"),
    [
        # The ranges are those of the table above.
        ("0:135 30:108 60:88 90:73", 120, "on-track"),
        ("0:135 30:108 60:88 90:73", 107, "on-track"),
        ("0:135 30:108 60:88 90:73", 106, "too-close"),
        ("0:135 30:112", 120, "too-close"),
        ("0:135 30:113 60:95", 120, "will-miss"),
        ("0:135 30:113 60:95", 121, "too-close"),
    ],
)
def test_the_late_end_is_held_against_the_deadline(log: Log, deadline: int, says: str) -> None:
    assert forecasted(log, deadline).says == says


def test_a_deadline_met_to_the_second_is_met() -> None:
    cycle = ready("0:135 30:112")
    got = forecasted("0:135 30:112")
    assert got.early is not None
    assert got.late is not None

    def said(deadline: int) -> str:
        found = forecast(cycle, SEVENTY, Instant(deadline))
        assert isinstance(found, Forecast)
        return found.says

    assert [said(got.late), said(got.late - 1)] == ["on-track", "too-close"]
    assert [said(got.early), said(got.early - 1)] == ["too-close", "will-miss"]


def test_fifteen_minutes_apart_is_enough() -> None:
    assert forecasted("0:135 15:123").early is not None


def test_in_more_than_a_week_is_never() -> None:
    assert forecasted("0:80 60:79.9").late is None


def test_a_celsius_log_gives_the_same_times_where_the_limits_are_the_same() -> None:
    # 41 °F is 5 °C, and every reading is the exact conversion: 122, 95 and 77 °F in 32 °F.
    cold = Limit(Decimal(41), Decimal(5))
    one = forecast(ready("0:122 30:95 60:77", around="32 F"), cold, Instant(HOUR))
    other = forecast(ready("0:50 30:35 60:25", around="0 C", scale="C"), cold, Instant(HOUR))
    assert isinstance(one, Forecast)
    assert isinstance(other, Forecast)
    assert one.early is not None
    assert (one.early, one.late) == (other.early, other.late)


def test_only_the_last_three_readings_count() -> None:
    assert forecasted("0:135 30:108 60:88 90:73") == forecasted("10:134 30:108 60:88 90:73")


def test_readings_above_135_are_not_used() -> None:
    with_steam = forecasted("0:180 10:150 20:135 50:112", 140)
    without = forecasted("20:135 50:112", 140)
    assert with_steam == without
    assert "Too few" in why_not("0:180 10:150 20:136 50:112")
    # Nor is anything before them: it has been hot since.
    assert forecasted("0:120 10:150 20:135 50:112", 140) == without


def test_moving_it_starts_afresh() -> None:
    # Fast in an ice bath, then in the walk-in: what it did in the ice says nothing now.
    assert forecasted("0:135 20:103 40:80", around="33 F").says == "on-track"
    assert "Too few" in why_not("0:135 20:103 40:80", moved=40)
    assert "Too few" in why_not("0:135 20:103 40:80 50:79", moved=40)
    assert forecasted("0:135 20:103 40:80 60:79", moved=40) == forecasted("40:80 60:79")


def test_food_that_never_gets_there() -> None:
    counter = forecasted("0:135 30:120 60:107", around="70 F")
    assert (counter.says, counter.late) == ("will-miss", None)
    oven = forecasted("0:135 30:120 60:107", around="90 F")
    assert (oven.early, oven.late, oven.says) == (None, None, "will-miss")
    stuck = forecasted("0:100 30:100 60:100")
    assert (stuck.early, stuck.late, stuck.says) == (None, None, "will-miss")


def test_it_is_not_expected_before_the_last_reading_above() -> None:
    close = forecasted("0:73 15:72 30:71", 120)
    assert close.early is not None
    assert close.early >= 30 * MINUTE


@pytest.mark.parametrize(
    ("log", "around", "why"),
    [
        ("0:135 30:112", "", "Where it cools"),
        ("0:135", "38 F", "Too few readings"),
        ("0:135 14:120", "38 F", "15 minutes apart"),
        ("0:135 30:112 60:113", "38 F", "has not cooled"),
        ("0:135 30:112", "120 F", "no more than the 120 °F"),
        ("0:135 30:112", "112 F", "measure both"),
    ],
)
def test_where_nothing_can_be_said_it_says_why(log: Log, around: str, why: str) -> None:
    assert why in why_not(log, around=around)


def test_without_a_start_there_is_nothing_to_hold_it_against() -> None:
    got = forecast(ready("0:118 30:100"), SEVENTY, None)
    assert isinstance(got, NoForecast)
    assert "last hot" in got.says


def test_without_a_place_there_is_none() -> None:
    got = forecast(Cycle(logged=True), SEVENTY, Instant(0))
    assert isinstance(got, NoForecast)


def test_what_was_written_down_late_is_not_used() -> None:
    cycle = ready("0:135 30:108 60:88 90:73")
    cycle.readings[-1] = CoolingReading(
        cycle.readings[-1].at, cycle.readings[-1].temperature, late=True
    )
    got = forecast(cycle, SEVENTY, Instant(120 * MINUTE))
    assert got == forecasted("0:135 30:108 60:88")


def test_of_two_probes_the_warmer_counts() -> None:
    assert forecasted("0:135 30:105 30:112") == forecasted("0:135 30:112 30:105")
    assert forecasted("0:135 30:105 30:112") == forecasted("0:135 30:112")


def test_a_celsius_log_is_held_against_the_celsius_figure() -> None:
    # 21 °C is 69.8 °F: a little later than 70 °F.
    celsius = forecasted("0:57 30:44.5 60:35", around="3.3 C", scale="C")
    assert (celsius.limit.degrees, celsius.limit.scale) == (Decimal(21), "C")
    exact = Limit(Decimal(70), Decimal(70 - 32) / Decimal("1.8"))
    loose = forecast(
        ready("0:57 30:44.5 60:35", around="3.3 C", scale="C"), exact, Instant(120 * MINUTE)
    )
    assert isinstance(loose, Forecast)
    assert celsius.late is not None
    assert loose.late is not None
    assert celsius.late > loose.late


def test_a_mixed_log_is_held_against_the_stricter_figure() -> None:
    cycle = ready("0:135 30:112")
    cycle.readings.append(CoolingReading(Instant(60 * MINUTE), read_temperature("35 C")))
    got = forecast(cycle, SEVENTY, Instant(120 * MINUTE))
    assert isinstance(got, Forecast)
    assert got.limit == Temperature(Decimal(21), "C")


def test_a_limit_printed_on_the_other_scale_is_not_forecast() -> None:
    # Australia, Standard 3.2.2 clause 7(3): 21 °C, and no figure in °F.
    got = forecast(ready("0:135 30:112"), Limit(None, Decimal(21)), Instant(120 * MINUTE))
    assert isinstance(got, NoForecast)
    assert "21 °C" in got.says


def test_surroundings_may_be_told_on_the_other_scale() -> None:
    one, other = forecasted("0:135 30:112", around="5 C"), forecasted("0:135 30:112", around="41 F")
    assert (one.early, one.late) == (other.early, other.late)


# ---- questions -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("log", "asks"),
    [
        # Newton through 135 and 112 in 38 °F is at 94.4 °F after an hour.
        ("0:135 30:112 60:95", ""),
        ("0:135 30:112 60:98", ""),
        ("0:135 30:112 60:99", "colder spot"),
        ("0:135 30:112 60:91", ""),
        ("0:135 30:112 60:90", "way of cooling"),
        ("0:135 30:112 60:113", "warmer than"),
        ("0:135 30:112 60:114", "It rose to 114 °F"),
        ("0:135 30:112", ""),
        ("0:135 10:112 60:60", ""),
        ("0:135", ""),
        # Only the three readings before it are asked: 90, 84 and 78.6 °F promise 73.8 °F.
        ("0:135 10:90 40:84 70:78.6 100:73.7", ""),
    ],
)
def test_a_reading_off_the_curve_is_asked_about(log: Log, asks: str) -> None:
    said = question(ready(log))
    assert (asks in said) if asks else said == ""


def test_without_surroundings_only_a_rise_is_asked_about() -> None:
    assert question(ready("0:135 30:112 60:60", around="")) == ""
    assert "rose" in question(ready("0:135 30:112 60:114", around=""))


# ---- through the whole fold ------------------------------------------------------------------


def stew(*more: Event, around: str = "38 F") -> Holding:
    place = read_temperature(around) if around else None
    log = (
        event("06-01 12:00", ev.Prepared()),
        event("06-01 12:00", ev.OffHeat()),
        event("06-01 12:00", ev.CoolingIn(place, "walk-in")),
        cooling("06-01 12:00", "135 F"),
        cooling("06-01 12:30", "108 F"),
        cooling("06-01 13:00", "88 F"),
        cooling("06-01 13:30", "73 F"),
    )
    return found(history(*log, *more), "06-01 13:35")


def test_a_pot_on_track_is_told_so_and_still_on_hold() -> None:
    holding = stew()
    assert holding.verdict == "hold"
    assert holding.ahead is not None
    lines = "\n".join(outlook.told(holding.ahead, CHICAGO))
    # 95.7 and 106.4 minutes after noon, rounded outward to five minutes.
    assert "70 °F between 13:35 and 13:50 if it stays 38 °F there; the limit is 14:00." in lines
    assert "On track." in lines
    assert "safe" not in lines


@pytest.mark.parametrize(
    ("early", "late", "says", "line"),
    [
        (91, 118, "on-track", "between 13:30 and 13:59 "),
        (91, 117, "on-track", "between 13:30 and 13:59 "),
        (91, 112, "on-track", "between 13:30 and 13:55 "),
        (91, 131, "too-close", "between 13:30 and 14:15 "),
        (122, 141, "will-miss", "between 14:00 and 14:25 "),
        (119.5, 141, "will-miss", "between 13:59 and 14:25 "),
    ],
)
def test_the_range_is_rounded_outward_but_not_across_the_deadline(
    early: float, late: float, says: Says, line: str
) -> None:
    noon = at("06-01 12:00")
    coming = Forecast(
        Instant(noon + round(early * MINUTE)),
        Instant(noon + round(late * MINUTE)),
        says,
        read_temperature("70 F"),
        read_temperature("38 F"),
        Instant(noon + 119 * MINUTE),
    )
    ahead = outlook.Outlook(noon, coming, "", None, "", None, None, "")
    assert line in outlook.told(ahead, CHICAGO)[0]


def test_what_is_behind_is_told_what_to_do() -> None:
    log = (
        event("06-01 12:02", ev.Prepared()),
        event("06-01 12:00", ev.CoolingIn(read_temperature("38 F"))),
        cooling("06-01 12:02", "135 F"),
        cooling("06-01 12:30", "113 F"),
        cooling("06-01 13:00", "95 F"),
    )
    holding = found(history(*log), "06-01 13:00")
    assert holding.ahead is not None
    coming = holding.ahead.forecast
    assert coming is not None
    assert coming.says in ("too-close", "will-miss")
    assert coming.early is not None
    line = outlook.told(holding.ahead, CHICAGO)[0]
    assert "act now" in line
    assert "half the depth cools at least twice as fast" in line


@pytest.mark.parametrize(
    "put_away",
    [ev.Chilled(), ev.CoolingIn(None, "walk-in"), ev.Moved("reach-in"), ev.Frozen()],
)
def test_put_elsewhere_its_surroundings_are_not_known(put_away: ev.Fact) -> None:
    holding = stew(event("06-01 13:32", put_away))
    assert holding.ahead is not None
    assert holding.ahead.forecast is None
    assert "no-forecast: Where it cools now" in outlook.asks(holding.ahead)[0]
    back = stew(
        event("06-01 13:32", put_away),
        event("06-01 13:33", ev.CoolingIn(read_temperature("33 F"), "ice bath")),
    )
    assert back.ahead is not None
    assert "Too few readings" in back.ahead.no_forecast


def test_surroundings_told_with_the_move_or_too_late() -> None:
    both = stew(
        event("06-01 13:00", ev.CoolingIn(read_temperature("38 F"), "walk-in")),
        event("06-01 13:00", ev.Moved("walk-in")),
    )
    assert both.ahead is not None
    assert both.ahead.forecast is not None
    late = stew(
        event(
            "06-01 12:01",
            ev.CoolingIn(read_temperature("33 F"), "ice bath"),
            written="06-02 08:00",
        )
    )
    assert late.ahead is not None
    assert "Where it cools now" in late.ahead.no_forecast


def test_there_is_nothing_ahead_once_the_rule_has_spoken() -> None:
    log = (
        event("06-01 12:00", ev.Prepared()),
        event("06-01 12:00", ev.OffHeat()),
        cooling("06-01 12:01", "134 F"),
    )
    running = found(history(*log), "06-01 13:59")
    missed = found(history(*log, cooling("06-01 14:02", "71 F")), "06-01 15:00")
    unproven = found(history(*log), "06-01 15:00")
    assert [each.ahead is None for each in (running, missed, unproven)] == [False, True, True]


@pytest.mark.parametrize("then", [ev.Discarded(), ev.Used(), ev.HotHeld(), ev.Out("4h")])
def test_there_is_nothing_ahead_of_what_cools_no_more(then: ev.Fact) -> None:
    assert stew().ahead is not None
    assert stew(event("06-01 13:32", then)).ahead is None


def test_after_the_first_limit_only_the_pace_is_told() -> None:
    holding = stew(cooling("06-01 13:35", "70 F"))
    assert holding.ahead is not None
    assert holding.ahead.forecast is None
    assert holding.ahead.no_forecast == ""
    assert holding.ahead.pace is not None
    # No clock time is ever shown for 41 °F but its deadline.
    lines = " ".join(outlook.told(holding.ahead, CHICAGO))
    assert "between" not in lines
    assert "18:00" in lines


SCENARIO = """
timezone = "America/Chicago"
rulebooks = ["us-food-code-2022"]
now = 2026-06-01T13:05:00

[batch.stew]
category = "cooked-dish"
event = [
  { event = "prepared", at = 2026-06-01T12:00:00 },
  { event = "off-heat", at = 2026-06-01T12:00:00 },
  { event = "cooling-in", at = 2026-06-01T12:00:00, surroundings = "AROUND", method = "walk-in" },
  { event = "cooling", at = 2026-06-01T12:00:00, temperature = "135 F" },
  { event = "cooling", at = 2026-06-01T12:30:00, temperature = "113 F" },
  { event = "cooling", at = 2026-06-01T13:00:00, temperature = "95 F" },
]
"""


def answered(around: str = "38 F", text: str = SCENARIO) -> tuple[dict[str, object], list[str]]:
    read = scenario.read(text.replace("AROUND", around), "s.toml", book_text, category_text)
    return scenario.answer(read)["batches"]["stew"], scenario.coolings_told(read)["stew"]


def test_the_contract_has_the_forecast_to_the_second() -> None:
    held, lines = answered()
    got = held["cooling"]
    assert isinstance(got, dict)
    # 120.760 and 159.081 minutes after noon, outward.
    assert got["forecast"] == {
        "early": "2026-06-01T14:00:45-05:00",
        "late": "2026-06-01T14:39:05-05:00",
        "says": "will-miss",
    }
    # ln(57/32) in the hour that is left, over ln(75/57) in the half hour before: 1.052.
    assert got["pace"] == {"should_be": "91 F", "needs_times_faster": 1.1}
    assert lines[0].startswith("70 °F between 14:00 and 14:40 if it stays 38 °F there")


def test_never_is_null_in_the_contract() -> None:
    held, lines = answered("70 F")
    got = held["cooling"]
    assert isinstance(got, dict)
    assert got["forecast"]["late"] is None
    assert got["forecast"]["early"] is not None
    assert "perhaps never" in lines[0]
    held, lines = answered("90 F")
    got = held["cooling"]
    assert isinstance(got, dict)
    assert got["forecast"] == {"early": None, "late": None, "says": "will-miss"}
    assert "cannot be reached there" in lines[0]


def test_what_is_asked_stands_among_the_cautions() -> None:
    held, _ = answered(text=SCENARIO.replace('"95 F"', '"80 F"'))
    cautions = held["cautions"]
    assert isinstance(cautions, list)
    assert any(each.startswith("check-reading: 80 °F is colder") for each in cautions)
    held, _ = answered(text=SCENARIO.replace('surroundings = "AROUND", ', ""))
    cautions = held["cautions"]
    assert isinstance(cautions, list)
    assert any(each.startswith("no-forecast: Where it cools") for each in cautions)
