"""Where food should be by now, and how much faster it would have to cool.

FDA Food Code 2022 §3-501.14(A): 135 °F, 70 °F within 2 hours, 41 °F within 6 hours in all; the
figures of other authorities as their own texts print them. Second method: scipy's root finding.
"""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from holdlog.core import events as ev
from holdlog.core.moments import HOUR, MINUTE, Instant
from holdlog.core.temperature import Limit, Temperature, read_temperature
from holdlog.rules import outlook
from holdlog.rules.cooling import CoolingReading, judge
from holdlog.rules.course import Cycle, Move
from holdlog.rules.history import Event
from holdlog.rules.holding import Holding
from holdlog.rules.kinds import CoolingRule, Source
from holdlog.rules.pace import Pace, pace, pace_line, rate_needed, rate_seen, read_next
from tests.rules.making import CHICAGO, cooling, event, food, food_code, found, history


def test_the_line_passes_through_the_three_limits_of_the_food_code() -> None:
    line = pace_line(135, 70, 41, 2, 6)
    assert line is not None
    assert (line.floor, line.above) == pytest.approx((37.34986, 97.65014), abs=5e-6)
    assert line.per_hour == pytest.approx(0.547771, abs=5e-7)
    assert [line.at(hour) for hour in (0, 2, 6)] == pytest.approx([135, 70, 41], abs=1e-9)


@pytest.mark.parametrize(
    ("hours", "degrees"),
    [(0.5, 111.60), (1, 93.81), (1.5, 80.29), (2.5, 62.18), (3, 56.23), (3.5, 51.71), (4, 48.27),
     (4.5, 45.65), (5, 43.66), (5.5, 42.15)],
)  # fmt: skip
def test_the_line_between_the_limits(hours: float, degrees: float) -> None:
    line = pace_line(135, 70, 41, 2, 6)
    assert line is not None
    assert line.at(hours) == pytest.approx(degrees, abs=5e-3)


@pytest.mark.parametrize(
    ("hot", "middle", "cold", "first", "whole"),
    [
        (135, 70, 41, 2, 6),
        # The printed °C figures; New York State Sanitary Code 14-1.40; Standard 3.2.2 clause 7(3).
        (57, 21, 5, 2, 6),
        (120, 70, 45, 2, 6),
        (60, 21, 5, 2, 6),
        (140, 70, 41, 2, 6),
    ],
)
def test_any_rule_has_the_one_line_that_scipy_finds(
    hot: float, middle: float, cold: float, first: float, whole: float
) -> None:
    line = pace_line(hot, middle, cold, first, whole)
    assert line is not None

    def bend(floor: float) -> float:
        return (
            math.log((hot - floor) / (middle - floor)) / first
            - math.log((hot - floor) / (cold - floor)) / whole
        )

    floor = brentq(bend, cold - 1000, cold - 1e-9, xtol=1e-12)
    assert line.floor == pytest.approx(floor, abs=1e-6)
    assert line.per_hour == pytest.approx(
        math.log((hot - floor) / (middle - floor)) / first, abs=1e-9
    )


@given(
    hot=st.floats(100, 170), down=st.floats(10, 60), more=st.floats(1, 40),
    first=st.floats(0.5, 4), second=st.floats(0.5, 8),
)  # fmt: skip
def test_a_line_never_rises_and_ends_at_the_limits(
    hot: float, down: float, more: float, first: float, second: float
) -> None:
    middle, cold = hot - down, hot - down - more
    line = pace_line(hot, middle, cold, first, first + second)
    if line is None:
        # Slower at first than later: no curve that levels out passes through.
        assert down / first <= more / second * (1 + 1e-6) or down / (down + more) > 1 - 1e-9
        return
    assert line.at(first) == pytest.approx(middle, abs=1e-5)
    assert line.at(first + second) == pytest.approx(cold, abs=1e-5)
    assert line.at(first / 2) >= line.at(first) >= line.at(first + second / 2)


@pytest.mark.parametrize(
    ("degrees", "around", "limit", "minutes", "rate"),
    [(95, 38, 70, 60, 0.5773), (110, 38, 70, 60, 0.8109), (60, 38, 41, 180, 0.6641),
     (60, 36, 41, 180, 0.5229), (50, 39, 41, 120, 0.8524)],
)  # fmt: skip
def test_the_rate_that_is_needed(
    degrees: float, around: float, limit: float, minutes: float, rate: float
) -> None:
    needed = rate_needed(degrees, around, limit, minutes / 60)
    assert needed == pytest.approx(rate, abs=5e-5)
    # Put back into Newton's law, it arrives to the minute.
    assert needed is not None
    left = around + (degrees - around) * math.exp(-needed * minutes / 60)
    assert left == pytest.approx(limit)


@pytest.mark.parametrize(
    ("around", "hours"),
    # 70 to 41 °F at 0.547771/h: two degrees of the surroundings are hours.
    [(32, 2.63), (34, 2.99), (36, 3.50), (38, 4.32), (39, 5.00), (40, 6.21), (40.5, 7.44)],
)
def test_what_the_surroundings_do_to_the_last_stage(around: float, hours: float) -> None:
    needed = rate_needed(70, around, 41, hours)
    assert needed == pytest.approx(0.547771, abs=1.5e-3)


def test_there_is_no_rate_where_nothing_would_do() -> None:
    assert rate_needed(95, 70, 70, 1) is None
    assert rate_needed(95, 38, 70, 0) is None
    assert rate_seen(95, 95, 38, 1) is None
    assert rate_seen(95, 96, 38, 1) is None
    assert rate_seen(40, 38, 38, 1) is None
    assert rate_needed(60, 38, 70, 1) == 0


# ---- of a batch ------------------------------------------------------------------------------


def rule() -> CoolingRule:
    known = food_code().rules["cooling"]
    assert isinstance(known, CoolingRule)
    return known


def made(
    hot: str, middle: str, cold: str, first: int, *, second: int | None = None, scale: str = "C"
) -> CoolingRule:
    def limit(text: str) -> Limit | None:
        if not text:
            return None
        return Limit(Decimal(text), None) if scale == "F" else Limit(None, Decimal(text))

    last = limit(cold)
    assert last is not None
    return CoolingRule(
        source=Source("cooling", "the test", "As the test says.", "text"),
        purpose="safety",
        when="cooked",
        hot=limit(hot),
        middle=limit(middle),
        cold=last,
        first_minutes=first if middle else None,
        whole_minutes=None if second else first,
        reheat_once=False,
        reheat_cite="",
        second_minutes=second,
    )


def paced(log: str, now: int, around: str = "38 F", by: CoolingRule | None = None) -> Pace | None:
    known = by or rule()
    readings = []
    for each in log.split():
        minute, degrees = each.split(":")
        readings.append(
            CoolingReading(
                Instant(int(minute) * MINUTE),
                read_temperature(degrees if degrees[-1] in "FC" else f"{degrees}F"),
            )
        )
    place = read_temperature(around) if around else None
    cycle = Cycle(readings, logged=True, moves=[Move(Instant(0), place)])
    at = Instant(now * MINUTE)
    return pace(cycle, known, judge(readings, known, at), at)


def of(log: str, now: int, around: str = "38 F", by: CoolingRule | None = None) -> Pace:
    got = paced(log, now, around, by)
    assert got is not None
    return got


@pytest.mark.parametrize(
    ("now", "should_be"),
    # The line, rounded down: the stricter side.
    [(0, "135"), (30, "111"), (60, "93"), (90, "80"), (119, "70")],
)
def test_where_it_should_be_by_now(now: int, should_be: str) -> None:
    assert of("0:135", now).should_be == Temperature(Decimal(should_be), "F")


def test_at_two_hours_it_should_be_at_70_and_at_six_at_41() -> None:
    assert of("0:135 60:70 180:60", 360).should_be == Temperature(Decimal(41), "F")
    assert of("0:135 60:70", 120).should_be == Temperature(Decimal(70), "F")


def test_it_counts_from_the_last_hot_reading() -> None:
    assert of("0:150 45:140 50:130", 105).should_be == of("0:140 5:130", 60).should_be


@pytest.mark.parametrize(
    ("log", "now", "around", "times"),
    [
        # ln(57/32)/1 h over ln(75/57)/0.5 h is 1.052; a tenth is rounded up.
        ("0:135 30:113 60:95", 60, "38 F", "1.1"),
        # ln(72/32)/1 h = 0.8109 over ln(97/72)/1 h = 0.2980: 2.72.
        ("0:135 60:110", 60, "38 F", "2.8"),
        # Fast enough: ln(42/32)/1 h over ln(97/42)/1 h is 0.325.
        ("0:135 60:80", 60, "38 F", "0.4"),
        # In the last stage: ln(22/3)/3 h = 0.6641 over ln(32/22)/1 h = 0.3747 is 1.773.
        ("0:135 120:70 180:60", 180, "38 F", "1.8"),
        # The time that is left counts from the reading, whenever it is asked.
        ("0:135 60:110", 75, "38 F", "2.8"),
    ],
)
def test_how_much_faster_it_has_to_cool(log: str, now: int, around: str, times: str) -> None:
    assert of(log, now, around).needs_times_faster == Decimal(times)


@pytest.mark.parametrize(
    ("log", "around"),
    [
        ("0:135", "38 F"),
        ("0:135 10:120", "38 F"),
        ("0:135 30:134 60:134", "38 F"),
        ("0:135 60:110", ""),
    ],
)
def test_with_too_little_known_only_the_line_is_told(log: str, around: str) -> None:
    got = of(log, 61, around)
    assert got.needs_times_faster is None
    assert got.should_be == Temperature(Decimal(93), "F")


def test_surroundings_no_colder_than_the_limit_are_told_outright() -> None:
    warm = of("0:135 120:70 180:60", 180, "41 F")
    assert (warm.cannot, warm.slow, warm.needs_times_faster) == (True, False, None)
    close = of("0:135 120:70 180:60", 180, "40 F")
    assert (close.cannot, close.slow) == (False, True)
    assert close.needs_times_faster is not None
    fine = of("0:135 120:70 180:60", 180, "39 F")
    assert (fine.cannot, fine.slow) == (False, False)
    # In the first stage the limit is 70 °F.
    counter = of("0:135 60:110", 60, "72 F")
    assert counter.cannot


def test_a_celsius_log_is_paced_by_the_celsius_figures() -> None:
    got = of("0:57.0C 60:40.0C", 60, "3 C")
    # 57, 21 and 5 °C have a line of their own: 33.9 °C after an hour, 34.33 if converted.
    line = pace_line(57, 21, 5, 2, 6)
    assert line is not None
    assert got.should_be == Temperature(Decimal(str(math.floor(line.at(1) * 10) / 10)), "C")
    assert got.needs_times_faster is not None


def test_a_last_stage_with_minutes_of_its_own_is_paced_from_when_it_began() -> None:
    # New York: 120 to 70 °F in 2 hours, then 45 °F within 4 more. Down after one hour, the clock
    # of the last stage began then: 45 °F five hours after the start, not six.
    new_york = made("120", "70", "45", 120, second=240, scale="F")
    got = of("0:120 59:71 60:70 61:69", 299, "34 F", new_york)
    line = pace_line(120, 70, 45, 2, 6)
    assert line is not None
    assert got.should_be == Temperature(Decimal(math.floor(line.at(6))), "F")
    early = of("0:120 59:71 60:70 61:69", 61, "34 F", new_york)
    assert early.should_be.degrees <= 70


def test_one_limit_is_paced_by_the_surroundings() -> None:
    # France, arrêté du 21 décembre 2009: 63 to 10 °C in 2 hours, in 3 °C.
    french = made("63", "", "10", 120)
    got = of("0:63C 30:50C 60:40C", 60, "3 C", french)
    assert got.should_be.degrees == Decimal(str(math.floor((3 + 60 * math.sqrt(7 / 60)) * 10) / 10))
    # ln(37/7)/1 h over ln(47/37)/0.5 h: 3.48.
    assert got.needs_times_faster == Decimal("3.5")
    assert paced("0:63C 60:40C", 60, "", french) is None
    assert paced("0:63C 60:40C", 60, "12 C", french) is None


def test_a_reading_on_a_scale_without_a_figure_is_not_converted() -> None:
    got = of("0:60C 30:112F 60:95F", 60, "3 C", made("60", "21", "5", 120, second=240))
    assert got.should_be.scale == "C"
    assert got.needs_times_faster is None


def test_without_a_start_there_is_no_pace() -> None:
    assert paced("0:118 60:95", 60) is None


@pytest.mark.parametrize(
    ("last", "deadline", "next_"), [(0, 120, 30), (80, 120, 100), (118, 120, 119), (120, 120, 120)]
)
def test_the_next_reading_is_due_in_half_the_time_left(
    last: int, deadline: int, next_: int
) -> None:
    due = read_next(Instant(last * MINUTE), Instant(deadline * MINUTE))
    assert due == next_ * MINUTE


# ---- in words --------------------------------------------------------------------------------


def words(*log: Event, now: str, around: str = "38 F") -> str:
    holding: Holding = found(
        history(
            event("06-01 12:00", ev.Prepared()),
            event("06-01 12:00", ev.OffHeat()),
            event("06-01 12:00", ev.CoolingIn(read_temperature(around))),
            *log,
        ),
        now,
    )
    return " ".join(outlook.told(holding.ahead, CHICAGO))


def test_the_cook_is_told_when_to_read_it_next() -> None:
    said = words(now="06-01 12:05")
    assert "Read it by 12:30, as it passes 135 °F and just before 14:00." in said
    later = words(cooling("06-01 12:40", "120 F"), now="06-01 13:30")
    assert "Read it now and just before 14:00." in later
    assert "135" not in later


def test_the_cook_is_told_what_to_do_when_it_is_behind() -> None:
    said = words(
        cooling("06-01 12:01", "135 F"), cooling("06-01 13:01", "110 F"), now="06-01 13:01"
    )
    assert "By now it should be at 93 °F or colder." in said
    assert "has to cool 2.8 times as fast" in said
    assert "half the depth cools at least twice as fast" in said
    assert "inch" not in said


def test_nobody_is_told_that_it_keeps_the_pace_while_it_is_behind_or_has_to_be_hurried() -> None:
    """At 110 °F after 50 minutes it is behind the line (99 °F), and the range crosses the limit."""
    said = words(
        cooling("06-01 12:30", "134 F"),
        cooling("06-01 12:50", "110 F"),
        now="06-01 12:50",
        around="33 F",
    )
    assert "act now" in said
    assert "keeps the pace" not in said
    ahead = words(
        cooling("06-01 12:10", "130 F"), cooling("06-01 12:40", "90 F"), now="06-01 12:40",
        around="33 F",
    )  # fmt: skip
    assert "On track." in ahead
    assert "For 70 °F it keeps the pace." in ahead


def test_no_figure_is_given_that_nothing_in_a_kitchen_reaches() -> None:
    said = words(cooling("06-01 12:10", "134 F"), cooling("06-01 13:50", "95 F"), now="06-01 13:55")
    assert "has to cool more than 5 times as fast as it did" in said


def test_the_cook_is_told_that_it_cannot_get_there() -> None:
    log = (cooling("06-01 12:01", "135 F"), cooling("06-01 13:50", "69 F"))
    said = words(*log, now="06-01 14:00", around="42 F")
    assert "It cannot reach 41 °F in there: it is 42 °F." in said
    assert "very slow in there" in words(*log, now="06-01 14:00", around="40 F")


def test_food_made_at_room_temperature_is_paced_to_its_one_limit() -> None:
    # §3-501.14(B): 41 °F within 4 hours.
    salad = history(
        event("06-01 12:00", ev.Prepared()),
        event("06-01 12:00", ev.CoolingIn(read_temperature("36 F"))),
        cooling("06-01 12:00", "68 F"),
        cooling("06-01 13:00", "58 F"),
        of=food("tuna salad", "cooked-dish", ambient_ingredients=True),
    )
    holding = found(salad, "06-01 13:00")
    assert holding.ahead is not None
    assert holding.ahead.forecast is None
    # 36 + 32 (5/32)^(1/4) = 56.1; ln(22/5)/3 h over ln(32/22)/1 h is 1.318.
    assert outlook.as_json(holding.ahead, CHICAGO) == {
        "forecast": None,
        "pace": {"should_be": "56 F", "needs_times_faster": 1.4},
    }


def test_the_pace_follows_the_clock_and_not_the_wall() -> None:
    # Clocks went back on 1 November 2026 at 2:00 in Chicago: from 0:30 to 1:30 the second time
    # are two hours.
    begun = Event(Instant(1_793_511_000_000), ev.OffHeat(), Instant(1_793_511_000_000))
    made_at = Event(begun.at, ev.Prepared(), begun.at)
    holding = found(history(made_at, begun), "2026-11-01 00:31")
    assert holding.ahead is not None
    assert holding.ahead.deadline == begun.at + 2 * HOUR
    assert outlook.told(holding.ahead, CHICAGO)[-1].endswith("just before 01:30.")
