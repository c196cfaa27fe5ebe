"""Counting days: day one is day 1, frozen time is left out, nothing is ever gained.

FDA Food Code 2022, §3-501.17(A): day of preparation is day 1; §3-501.18(A)(1): time frozen is
not counted. How partial days count is a local matter (the conventions).
"""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdlog.core.events import Conventions, DayCounting
from holdlog.core.moments import HOUR, Instant, end_of_day, from_local, local_date
from holdlog.rules.counting import DayCount, Spell, last_instant, used
from tests.rules.making import CHICAGO, at

STRICT = Conventions()
ONE = timedelta(days=1)
COUNTINGS: tuple[DayCounting, DayCounting] = ("counts", "does-not-count")


def last_day(count: DayCount, conventions: Conventions = STRICT, where: ZoneInfo = CHICAGO) -> date:
    return local_date(last_instant(count, conventions, where), where)


def spell(since: str, until: str | None) -> Spell:
    return Spell(at(since), at(until) if until else None)


def test_seven_days_from_april_1_end_with_april_7() -> None:
    # Southern Nevada Health District, FAQ on TCS food: prepared April 1, use by April 7.
    count = DayCount(7, at("04-01 23:59"), ())
    assert last_instant(count, STRICT, CHICAGO) == end_of_day(date(2026, 4, 7), CHICAGO)


@pytest.mark.parametrize(
    ("freeze_day", "thaw_day", "last"),
    [
        # North Carolina: cooked on the 1st, frozen on the 3rd, thawed on the 10th, used by the
        # 14th (day of freezing left out, day of thawing counted). Jefferson County counts both.
        ("does-not-count", "counts", date(2026, 10, 14)),
        ("counts", "counts", date(2026, 10, 13)),
        ("counts", "does-not-count", date(2026, 10, 14)),
        ("does-not-count", "does-not-count", date(2026, 10, 15)),
    ],
)
def test_partial_days_count_as_the_convention_says(
    freeze_day: DayCounting, thaw_day: DayCounting, last: date
) -> None:
    count = DayCount(7, at("10-01 10:00"), (spell("10-03 08:00", "10-10 09:00"),))
    assert last_day(count, Conventions(freeze_day, thaw_day)) == last


@pytest.mark.parametrize("freeze_day", COUNTINGS)
@pytest.mark.parametrize("thaw_day", COUNTINGS)
def test_a_day_of_thawing_and_freezing_counts_once(
    freeze_day: DayCounting, thaw_day: DayCounting
) -> None:
    twice = DayCount(
        7,
        at("06-01 10:00"),
        (spell("06-01 20:00", "06-10 08:00"), spell("06-10 20:00", "06-20 08:00")),
    )
    used_by_the_19th = used(twice, at("06-19 12:00"), Conventions(freeze_day, thaw_day), CHICAGO)
    assert used_by_the_19th == 2


@pytest.mark.parametrize("freeze_day", COUNTINGS)
def test_frozen_after_its_last_day_it_stays_past_it(freeze_day: DayCounting) -> None:
    count = DayCount(7, at("06-01 10:00"), (spell("06-08 00:00", "06-20 08:00"),))
    assert last_day(count, Conventions(freeze_day)) == date(2026, 6, 7)


def test_food_frozen_today_has_used_today() -> None:
    count = DayCount(7, at("06-01 10:00"), (spell("06-03 08:00", None),))
    assert used(count, at("06-03 09:00"), STRICT, CHICAGO) == 3
    assert used(count, at("07-03 09:00"), STRICT, CHICAGO) == 3


def test_frozen_before_it_was_opened_the_opening_is_day_one_all_the_same() -> None:
    count = DayCount(7, at("06-05 10:00"), (spell("06-01 08:00", "06-10 08:00"),))
    # 5, then 10 to 15.
    assert last_day(count) == date(2026, 6, 15)


def test_exact_hours_are_168_hours_from_day_one() -> None:
    count = DayCount(7, at("06-01 23:00"), ())
    exact = Conventions(day_end="exact-hours")
    assert last_instant(count, exact, CHICAGO) == at("06-01 23:00") + 168 * HOUR
    assert used(count, at("06-02 22:59"), exact, CHICAGO) == 1
    assert used(count, at("06-02 23:01"), exact, CHICAGO) == 2


def test_exact_hours_leave_frozen_time_out_and_use_up_the_day_of_freezing() -> None:
    exact = Conventions(day_end="exact-hours")
    # 36 hours until frozen: two whole days where the freeze day counts, so 5 x 24 h are left.
    count = DayCount(7, at("06-01 08:00"), (spell("06-02 20:00", "06-10 08:00"),))
    assert last_instant(count, exact, CHICAGO) == at("06-15 08:00")
    loose = Conventions("does-not-count", "counts", "exact-hours")
    assert last_instant(count, loose, CHICAGO) == at("06-15 20:00")


# ---- against a calendar ticked off by hand ----------------------------------------------------


def ticked(count: DayCount, conventions: Conventions, days: int, where: ZoneInfo) -> list[date]:
    """The calendar days that count, one by one, over ``days`` days from day one."""
    first = local_date(count.day_one, where)
    freezes = {local_date(each.since, where) for each in count.spells}
    thaws = {local_date(each.until, where) for each in count.spells if each.until is not None}
    counting = []
    for number in range(days):
        day = first + number * ONE
        wholly_frozen = any(
            local_date(each.since, where) < day
            and (each.until is None or local_date(each.until, where) > day)
            for each in count.spells
        )
        lone_freeze = day in freezes and day not in thaws
        lone_thaw = day in thaws and day not in freezes
        left_out = (
            wholly_frozen
            or (lone_freeze and conventions.freeze_day == "does-not-count")
            or (lone_thaw and conventions.thaw_day == "does-not-count")
        )
        if day == first or not left_out:
            counting.append(day)
    return counting


@st.composite
def counts(draw: st.DrawFn) -> DayCount:
    start = at("03-05 00:00") + draw(st.integers(0, 10 * 24)) * HOUR
    steps = draw(st.lists(st.integers(1, 60), max_size=12))
    moments, now = [], start
    for step in steps:
        now += step * HOUR
        moments.append(Instant(now))
    pairs = zip(moments[::2], moments[1::2], strict=False)
    spells = tuple(Spell(since, until) for since, until in pairs)
    return DayCount(draw(st.integers(1, 10)), Instant(start), spells)


CONVENTIONS = st.builds(Conventions, st.sampled_from(COUNTINGS), st.sampled_from(COUNTINGS))


@settings(max_examples=1000)
@given(count=counts(), conventions=CONVENTIONS)
def test_the_last_day_is_the_nth_that_a_calendar_ticks_off(
    count: DayCount, conventions: Conventions
) -> None:
    days = ticked(count, conventions, 60, CHICAGO)
    assert last_day(count, conventions) == days[count.days - 1]


@settings(max_examples=1000)
@given(count=counts(), conventions=CONVENTIONS, hours=st.integers(0, 900))
def test_days_used_are_those_that_a_calendar_ticks_off(
    count: DayCount, conventions: Conventions, hours: int
) -> None:
    now = Instant(count.day_one + hours * HOUR)
    until = tuple(
        Spell(each.since, each.until if each.until is not None and each.until <= now else None)
        for each in count.spells
        if each.since <= now
    )
    known = DayCount(count.days, count.day_one, until)
    today = local_date(now, CHICAGO)
    days = [day for day in ticked(known, conventions, 60, CHICAGO) if day <= today]
    assert used(known, now, conventions, CHICAGO) == len(days)


@settings(max_examples=1000)
@given(count=counts())
def test_freezing_and_thawing_never_add_days(count: DayCount) -> None:
    """Under the strict conventions no more days with any unfrozen moment than there are."""
    first, last = local_date(count.day_one, CHICAGO), last_day(count)
    unfrozen = 0
    for number in range((last - first).days + 1):
        day = first + number * ONE
        begins = from_local(datetime.combine(day, datetime.min.time()), CHICAGO)
        ends = end_of_day(day, CHICAGO)
        unfrozen += not any(
            each.since <= begins and (each.until is None or each.until > ends)
            for each in count.spells
        )
    assert unfrozen <= count.days


@settings(max_examples=500)
@given(count=counts(), conventions=CONVENTIONS)
def test_no_convention_is_stricter_than_the_default(
    count: DayCount, conventions: Conventions
) -> None:
    assert last_day(count) <= last_day(count, conventions)


@settings(max_examples=500)
@given(count=counts())
def test_in_exact_hours_the_unfrozen_time_is_never_more_than_the_days(count: DayCount) -> None:
    exact = Conventions(day_end="exact-hours")
    end = last_instant(count, exact, CHICAGO)
    frozen = sum(
        max(0, min(end, each.until or end) - max(count.day_one, each.since))
        for each in count.spells
    )
    assert end - count.day_one - frozen <= count.days * 24 * HOUR
