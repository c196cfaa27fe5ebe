"""Time beyond a limit from the samples of a logger.

The limits are those of FDA Food Code 2022 §3-501.16: above 41 °F (5 °C) is too warm, below
135 °F too cool; the figure itself passes. Second method: a fine numerical grid (numpy).
"""

import random
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import HOUR, MINUTE, Instant
from holdlog.core.temperature import Temperature
from holdlog.rules.excursion import Sample, Spell, TimeBeyond, time_beyond
from holdlog.rules.history import Event, Joined
from tests.rules.making import at, event, found, history, stack

LIMIT = 4100


def samples(log: str) -> list[Sample]:
    """``"0:38 10:40.5"``: minutes and degrees."""
    pairs = (each.split(":") for each in log.split())
    return [
        (round(float(minute) * MINUTE), int(Decimal(degrees) * 100)) for minute, degrees in pairs
    ]


def minute(at: float) -> Instant:
    return Instant(round(at * MINUTE))


def counted(log: str, **more: object) -> TimeBeyond:
    return time_beyond(samples(log), LIMIT, **more)  # type: ignore[arg-type]


HUMP = "0:38 10:40 20:44 30:47 40:43 50:39 60:38"


@pytest.mark.parametrize(
    ("log", "total", "longest", "runs", "degree_minutes"),
    [
        (HUMP, 32.5, 32.5, 1, 101.25),
        ("0:40 15:42 22:40.5 60:46 61:41 90:41", 47.712121, 35.545455, 2, 94.947),
        ("0:40 10:42 20:40", 10, 10, 1, 5.0),
        ("0:41 10:41 20:41", 0, 0, 0, 0),
        ("0:41 10:41.1 20:41", 20, 20, 1, 1.0),
        ("0:45 10:45", 10, 10, 1, 40),
    ],
)
def test_the_time_above_a_limit(
    log: str, total: float, longest: float, runs: int, degree_minutes: float
) -> None:
    got = counted(log)
    # A millisecond is rounded up at each crossing.
    assert got.total / MINUTE == pytest.approx(total, abs=1e-4)
    assert got.longest / MINUTE == pytest.approx(longest, abs=1e-4)
    assert got.runs == runs
    assert got.degree_minutes == pytest.approx(degree_minutes, abs=1e-3)
    assert (got.unknown, got.at_most) == (0, got.total)

    times, degrees = np.array(samples(log)).T
    grid = np.linspace(times[0], times[-1], 2_000_001)
    over = np.interp(grid, times, degrees) - LIMIT
    step = (grid[1] - grid[0]) / MINUTE
    assert np.count_nonzero(over > 1e-9) * step == pytest.approx(total, abs=1e-3)
    assert np.sum(np.clip(over, 0, None)) / 100 * step == pytest.approx(degree_minutes, abs=1e-2)


LOGS = st.lists(
    st.tuples(st.integers(1, 29), st.integers(3500, 4700)), min_size=2, max_size=30
).map(
    lambda steps: [
        (sum(gap for gap, _ in steps[: number + 1]) * MINUTE, value)
        for number, (_, value) in enumerate(steps)
    ]
)


@given(log=LOGS)
def test_any_log_agrees_with_numpy(log: list[Sample]) -> None:
    got = time_beyond(log, LIMIT)
    times, degrees = np.array(log, dtype=float).T
    crossings = []
    for (begun, one), (ended, other) in pairwise(log):
        low, high = sorted((one - LIMIT, other - LIMIT))
        share = 0.0 if high <= 0 else 1.0 if low >= 0 and high > 0 else high / (high - low)
        crossings.append(share * (ended - begun))
    assert got.total == pytest.approx(sum(crossings), abs=len(log))
    assert got.worst == degrees.max()
    assert got.longest <= got.total <= got.at_most
    assert got.total <= times[-1] - times[0]


@given(log=LOGS, limit=st.integers(3600, 4600))
def test_below_is_above_in_a_mirror(log: list[Sample], limit: int) -> None:
    above = time_beyond(log, limit)
    below = time_beyond([(when, -value) for when, value in log], -limit, side="below")
    assert above.worst is not None
    assert below.worst == -above.worst
    assert (below.total, below.runs, below.unknown) == (above.total, above.runs, above.unknown)
    assert [(each.begins, each.ends) for each in below.events] == [
        (each.begins, each.ends) for each in above.events
    ]


@given(log=LOGS, cut=st.integers(0, 600))
def test_two_halves_make_the_whole(log: list[Sample], cut: int) -> None:
    middle = Instant(min(max(log[0][0], cut * MINUTE), log[-1][0]))
    whole = time_beyond(log, LIMIT)
    before = time_beyond(log, LIMIT, until=middle)
    after = time_beyond(log, LIMIT, since=middle)
    # Cut within a pair, a value is rounded to a hundredth, to the worse side.
    hair = 31 * MINUTE // 100
    assert -3 * len(log) <= before.total + after.total - whole.total <= hair * 30


def test_a_lower_limit_never_gives_less_time() -> None:
    seed = random.Random(7)
    log = [(number * MINUTE, seed.randint(3800, 4400)) for number in range(500)]
    totals = [time_beyond(log, limit).total for limit in range(3900, 4300, 50)]
    assert totals == sorted(totals, reverse=True)


# ---- what is not known -----------------------------------------------------------------------


def test_a_gap_is_unknown_and_never_fine() -> None:
    # Every 10 minutes, then nothing for 31: more than three spacings and half an hour.
    got = counted("0:38 10:38 20:38 51:38 61:38")
    assert (got.total, got.unknown, got.at_most) == (0, 31 * MINUTE, 0)
    assert counted("0:38 10:38 20:38 50:38 60:38").unknown == 0


@pytest.mark.parametrize("log", ["0:38 10:38 20:42 90:38 100:38", "0:38 10:38 20:38 90:42 100:42"])
def test_a_gap_with_either_end_too_warm_may_all_have_been_too_warm(log: str) -> None:
    got = counted(log)
    assert got.unknown == 70 * MINUTE
    assert got.at_most == got.total + 70 * MINUTE
    assert got.longest_at_most >= 70 * MINUTE
    assert got.longest < 70 * MINUTE


def test_a_unit_that_was_off_may_have_been_too_warm_all_the_while() -> None:
    log = "0:38 10:38 20:38 90:38"
    assert counted(log).at_most == 0
    assert counted(log, off=True).at_most == 70 * MINUTE


def test_the_usual_spacing_makes_the_gap() -> None:
    hourly = "0:38 60:38 120:38 180:38 359:38"
    assert counted(hourly).unknown == 0
    assert counted(hourly.replace("359", "361")).unknown == 181 * MINUTE


def test_no_sample_since_the_last_is_a_gap_up_to_now() -> None:
    log = "0:38 10:38 20:42"
    got = counted(log, until=minute(60))
    assert got.unknown == 40 * MINUTE
    assert got.at_most == got.total + 40 * MINUTE
    # A sample that is only just due is no gap; the most it can have been still grows.
    due = counted(log, until=minute(25))
    assert due.unknown == 0
    assert due.at_most == due.total + 5 * MINUTE


def test_before_the_first_sample_nothing_is_known() -> None:
    got = counted("60:42 70:38 80:38", since=minute(0))
    assert got.unknown == 60 * MINUTE
    assert got.at_most == got.total + 60 * MINUTE


def test_without_samples_everything_is_unknown() -> None:
    nothing = time_beyond([], LIMIT, since=minute(0), until=minute(90))
    assert (nothing.unknown, nothing.worst, nothing.total) == (90 * MINUTE, None, 0)
    one = time_beyond([(0, 4200)], LIMIT, until=minute(90))
    assert (one.unknown, one.at_most, one.worst) == (90 * MINUTE, 90 * MINUTE, 4200)


def test_samples_that_all_lie_before_it_went_in_say_nothing_of_it() -> None:
    got = counted("0:38 10:38 20:42", since=minute(100), until=minute(110))
    assert (got.total, got.unknown, got.at_most) == (0, 10 * MINUTE, 10 * MINUTE)


def test_only_the_time_since_it_went_in_counts() -> None:
    assert counted(HUMP, since=minute(30)).total == 15 * MINUTE
    assert counted(HUMP, until=minute(30)).total == 17.5 * MINUTE
    assert counted(HUMP, since=minute(25), until=minute(35)).total == 10 * MINUTE
    # Within a gap, the part of it counts.
    gap = counted("0:38 10:38 100:42 110:42", since=minute(40), until=minute(110))
    assert gap.unknown == 60 * MINUTE
    assert gap.at_most == 70 * MINUTE


def test_a_log_that_runs_backwards_is_not_sorted_away() -> None:
    with pytest.raises(Mistake, match="Sample 3 is earlier"):
        counted("0:38 10:38 5:38")


@given(
    log=LOGS, since=st.integers(-60, 500), long=st.integers(0, 900), off=st.booleans(),
    thin=st.integers(1, 4),
)  # fmt: skip
def test_known_and_unknown_never_exceed_the_time_there_was(
    log: list[Sample], since: int, long: int, off: bool, thin: int
) -> None:
    begins, ends = minute(since), minute(since + long)
    got = time_beyond(log[::thin], LIMIT, since=begins, until=ends, off=off)
    hair = 2 * len(log)
    span = long * MINUTE
    assert 0 <= got.longest <= got.total <= got.at_most <= span + hair
    assert 0 <= got.unknown <= span
    assert got.total + got.unknown <= span + hair
    assert got.longest <= got.longest_at_most <= got.at_most
    assert all(begins <= each.begins <= each.ends <= ends for each in got.events)
    if off:
        assert got.at_most >= got.total + got.unknown


def test_samples_that_all_come_later_say_nothing_of_it() -> None:
    got = counted("100:42 110:42", since=minute(0), until=minute(60))
    assert (got.total, got.unknown, got.at_most) == (0, 60 * MINUTE, 60 * MINUTE)


def test_a_span_runs_on() -> None:
    with pytest.raises(Mistake, match="ends before"):
        counted("0:38 10:38", since=minute(10), until=minute(0))


# ---- events ----------------------------------------------------------------------------------


def test_a_single_short_spike_is_time_but_no_event() -> None:
    got = counted("0:40 5:42 10:40 15:40")
    assert got.total == 5 * MINUTE
    assert got.events == ()


def test_two_samples_in_a_row_or_ten_minutes_are_an_event() -> None:
    assert counted("0:40 5:42 10:42 15:40").events == (Spell(minute(2.5), minute(12.5), 4200),)
    assert counted("0:40 10:42 20:40").events == (Spell(minute(5), minute(15), 4200),)


def test_an_event_ends_half_a_degree_within_the_limit() -> None:
    log = "0:40 5:42 10:42 15:40.8 20:42 25:42 30:40"
    assert len(counted(log).events) == 1
    assert counted(log).runs == 2
    apart = counted(log.replace("40.8", "40.5"))
    assert len(apart.events) == 2
    assert apart.events[0].begins == minute(2.5)


def test_an_event_that_goes_on_is_told_up_to_the_last_sample() -> None:
    got = counted("0:40 5:42 10:43", until=minute(12))
    assert got.events == (Spell(minute(2.5), minute(10), 4300),)


def test_a_unit_close_to_its_limit_is_not_an_alarm_a_minute() -> None:
    seed = random.Random(3)
    log = [(number * 5 * MINUTE, 4050 + round(seed.gauss(0, 50))) for number in range(288)]
    got = time_beyond(log, LIMIT)
    assert got.total > 60 * MINUTE
    assert 0 < len(got.events) < got.runs


# ---- clocks ----------------------------------------------------------------------------------


def test_the_night_the_clocks_change_is_counted_in_hours_that_passed() -> None:
    """IANA time zone database, America/Chicago: 1 November 2026 back, 8 March 2026 forward."""
    for first, last, hours in (
        ("11-01 00:30", "11-01 02:30", 3),
        ("03-08 01:30", "03-08 03:30", 1),
    ):
        begun, ended = at(first), at(last)
        log = [(begun + step, 4500) for step in range(0, ended - begun + 1, 5 * MINUTE)]
        assert time_beyond(log, LIMIT).total == hours * HOUR


# ---- what the rules say of it ----------------------------------------------------------------

OUTAGE = """
id = "us-harbour-county"
title = "Harbour County food rules"
issuer = "Harbour County"
edition = "2026"
role = "amendment"
amends = ["us-food-code-2022"]

[rule.outage]
kind = "outage"
purpose = "safety"
limit = { f = 41, c = 5 }
hours = 4
cite = "HC 3.4"
says = "Cold food above 41 °F for more than 4 hours is discarded."
seen = "text"

[rule.outage-warm]
kind = "outage"
purpose = "safety"
limit = { f = 50, c = 10 }
hours = 2
cite = "HC 3.5"
says = "Cold food above 50 °F for more than 2 hours is discarded."
seen = "text"
"""


def judged(*excursions: tuple[float, float, str]) -> str:
    """(hours known, hours unknown, worst reading) each; a table of a made-up county."""
    events = [
        event(
            f"06-0{day} 12:00",
            ev.Excursion(
                seconds=round(known * 3600),
                unknown_seconds=round(unknown * 3600),
                peak=Temperature(Decimal(worst), "F") if worst else None,
            ),
        )
        for day, (known, unknown, worst) in enumerate(excursions, 2)
    ]
    stew = history(event("06-01 10:00", ev.Prepared()), *events)
    return found(stew, "06-05 13:00", stack(OUTAGE)).verdict


@pytest.mark.parametrize(
    ("excursions", "verdict"),
    [
        ([(4, 0, "45")], "hold"),
        ([(4.001, 0, "45")], "discard"),
        # Warmer, the shorter time of the table.
        ([(2.001, 0, "51")], "discard"),
        ([(2.001, 0, "50")], "hold"),
        # How warm it was is not known: it may have been warmer than any limit.
        ([(2.001, 0, "")], "discard"),
        # Unknown time proves nothing either way.
        ([(1, 9, "45")], "hold"),
        # It adds up: going cold again gives no time back.
        ([(2.5, 0, "45"), (1.6, 0, "44")], "discard"),
        ([(2, 0, "45"), (1.9, 0, "44")], "hold"),
        # What was not warmer than a limit does not count towards it.
        ([(1.5, 0, "52"), (1, 0, "45")], "hold"),
        ([(1.5, 0, "52"), (1, 0, "52")], "discard"),
    ],
)
def test_an_outage_is_judged_by_degrees_and_hours(
    excursions: list[tuple[float, float, str]], verdict: str
) -> None:
    assert judged(*excursions) == verdict


def test_to_settle_one_keeps_the_food_but_not_its_hours() -> None:
    """Ours: a person may decide that the food is good, and no more hours are had by it."""
    peak = Temperature(Decimal(45), "F")

    def beyond(wall: str, hours: float, settled: str = "") -> Event:
        made = event(wall, ev.Excursion(seconds=round(hours * 3600), peak=peak))
        return replace(made, settled=settled)

    first = beyond("06-02 12:00", 2.5, "probed at 39 °F, JR")
    for later_on, verdict in (([], "serve"), ([1.4], "hold"), ([1.6], "discard")):
        more = [beyond("06-03 12:00", hours) for hours in later_on]
        stew = history(event("06-01 10:00", ev.Prepared()), first, *more)
        assert found(stew, "06-04 13:00", stack(OUTAGE)).verdict == verdict


def test_a_dish_made_before_the_hours_had_passed_is_not_discarded_with_it() -> None:
    def short(wall: str) -> ev.Fact:
        peak = Temperature(Decimal(45), "F")
        return ev.Excursion(seconds=9000, peak=peak, began=int(at(wall)))

    stock = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 12:00", short("06-02 09:00")),
        event("06-03 12:00", short("06-03 09:00")),
        name="stock",
    )
    assert found(stock, "06-04 13:00", stack(OUTAGE)).verdict == "discard"
    for made, verdict in (("06-03 08:00", "hold"), ("06-03 09:30", "discard")):
        soup = history(event(made, ev.Prepared()), made_from=[Joined(stock, at(made))])
        assert found(soup, "06-04 13:00", stack(OUTAGE)).verdict == verdict
