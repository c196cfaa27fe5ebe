"""Instants and days. Reference: UTC arithmetic on published change-overs of the clocks.

United States (15 U.S.C. §260a): 8 March 2026, 02:00 CST to 03:00 CDT; 1 November 2026, 02:00 CDT
to 01:00 CST. Chicago is UTC-6 in winter and UTC-5 in summer.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.errors import Mistake
from holdlog.core.moments import (
    DAY,
    HOUR,
    Instant,
    end_of_day,
    from_local,
    instant,
    iso,
    later,
    local_date,
    read_day,
    read_moment,
    show_dated,
    show_dated_day,
    show_day,
    show_full_day,
    show_moment,
    start_of_day,
    to_local,
    zone,
)

CHICAGO = ZoneInfo("America/Chicago")


def utc(text: str) -> Instant:
    return instant(datetime.fromisoformat(text).replace(tzinfo=UTC))


@pytest.mark.parametrize(
    ("wall", "same"),
    [
        ("2026-03-08 01:59", "2026-03-08 07:59"),
        ("2026-03-08 03:00", "2026-03-08 08:00"),
        # 02:30 was never shown: the earlier reading is 01:30 CST.
        ("2026-03-08 02:30", "2026-03-08 07:30"),
        # 01:30 was shown twice: the earlier one is 01:30 CDT.
        ("2026-11-01 01:30", "2026-11-01 06:30"),
        ("2026-11-01 02:00", "2026-11-01 08:00"),
        ("2026-11-01 00:59", "2026-11-01 05:59"),
    ],
)
def test_the_nights_when_the_clocks_change(wall: str, same: str) -> None:
    assert from_local(datetime.fromisoformat(wall), CHICAGO) == utc(same)


def test_elapsed_time_runs_through_the_change_of_the_clocks() -> None:
    spring = from_local(datetime(2026, 3, 8, 0, 30), CHICAGO)
    assert iso(later(spring, hours=4), CHICAGO) == "2026-03-08T05:30:00-05:00"
    autumn = from_local(datetime(2026, 11, 1, 0, 30), CHICAGO)
    assert iso(later(autumn, hours=4), CHICAGO) == "2026-11-01T03:30:00-06:00"
    assert later(Instant(0), hours=1, minutes=30) == Instant(90 * 60_000)


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 8), 23), (date(2026, 11, 1), 25), (date(2026, 6, 1), 24)]
)
def test_a_day_has_the_hours_it_has(day: date, hours: int) -> None:
    length = start_of_day(day + timedelta(days=1), CHICAGO) - start_of_day(day, CHICAGO)
    assert length == hours * HOUR


def test_a_day_without_a_midnight_begins_when_the_clocks_do() -> None:
    # Cairo, 24 April 2026: 00:00 EET became 01:00 EEST (IANA zone database).
    cairo = ZoneInfo("Africa/Cairo")
    begins = start_of_day(date(2026, 4, 24), cairo)
    assert iso(begins, cairo) == "2026-04-24T01:00:00+03:00"
    assert local_date(Instant(begins - 1), cairo) == date(2026, 4, 23)
    assert end_of_day(date(2026, 4, 23), cairo) < begins


@given(
    st.dates(date(1990, 1, 1), date(2037, 12, 31)),
    st.sampled_from(
        ["America/Chicago", "Africa/Cairo", "America/Havana", "Asia/Beirut", "America/Santiago",
         "Pacific/Apia", "Australia/Lord_Howe", "Asia/Kathmandu", "Europe/Dublin", "UTC"]
    ),
)  # fmt: skip
def test_a_day_ends_within_itself_and_before_the_next(day: date, name: str) -> None:
    where = ZoneInfo(name)
    if name == "Pacific/Apia" and day in {date(2011, 12, 29), date(2011, 12, 30)}:
        return  # Samoa had no 30 December 2011.
    assert local_date(end_of_day(day, where), where) == day
    assert local_date(start_of_day(day, where), where) == day
    assert start_of_day(day, where) < end_of_day(day, where)
    assert end_of_day(day, where) < start_of_day(day + timedelta(days=1), where)


@given(st.integers(0, 4 * 10**12))
def test_local_time_and_back_is_never_later(milliseconds: int) -> None:
    at = Instant(milliseconds)
    back = from_local(to_local(at, CHICAGO).replace(tzinfo=None), CHICAGO)
    assert back in {at, at - HOUR}


NOW = from_local(datetime(2026, 6, 2, 9, 0), CHICAGO)


@pytest.mark.parametrize(
    ("text", "wall"),
    [
        ("08:30", "2026-06-02T08:30:00-05:00"),
        ("8.30", "2026-06-02T08:30:00-05:00"),
        ("8h30", "2026-06-02T08:30:00-05:00"),
        ("today 00:05", "2026-06-02T00:05:00-05:00"),
        ("Yesterday 22:15", "2026-06-01T22:15:00-05:00"),
        ("2026-05-30 14:30", "2026-05-30T14:30:00-05:00"),
        ("2026-05-30T14:30", "2026-05-30T14:30:00-05:00"),
    ],
)
def test_moments_as_people_write_them(text: str, wall: str) -> None:
    assert iso(read_moment(text, NOW, CHICAGO), CHICAGO) == wall


@pytest.mark.parametrize("text", ["", "noon", "25:00", "12:60", "tomorrow 08:00", "06/02 08:00"])
def test_what_is_no_moment_is_refused(text: str) -> None:
    with pytest.raises(Mistake) as caught:
        read_moment(text, NOW, CHICAGO)
    assert caught.value.code == "bad-time"


def test_nothing_is_logged_before_it_happens() -> None:
    with pytest.raises(Mistake) as caught:
        read_moment("22:15", NOW, CHICAGO)
    assert caught.value.code == "in-the-future"
    assert "yesterday 22:15" in caught.value.hint


def test_days_are_shown_so_that_nobody_swaps_day_and_month() -> None:
    assert show_day(date(2026, 6, 7)) == "Sun 7 June"
    assert show_moment(NOW, CHICAGO, NOW) == "Tue 2 June 09:00"


def test_of_another_year_and_of_what_is_kept_the_year_is_told() -> None:
    """Ours: frozen food and old holds are read in other years."""
    later_on = from_local(datetime(2027, 1, 4, 8), CHICAGO)
    assert show_day(date(2026, 6, 7), date(2027, 1, 4)) == "Sun 7 June 2026"
    assert show_moment(NOW, CHICAGO, later_on) == "Tue 2 June 2026 09:00"
    # Said without a day to hold it against, it is for whenever somebody reads it.
    assert show_dated(NOW, CHICAGO) == "Tue 2 June 2026 09:00"
    assert show_dated_day(date(2026, 6, 7)) == "Sun 7 June 2026"
    assert show_full_day(date(2026, 6, 7)) == "Sunday 7 June 2026"
    assert read_day(" 2026-06-07 ") == date(2026, 6, 7)
    with pytest.raises(Mistake):
        read_day("7/6/2026")


@pytest.mark.parametrize("typed", ["9999-12-31", "3000-01-01", "1899-12-31", "0001-01-02"])
def test_a_day_from_which_no_days_can_be_counted_is_refused(typed: str) -> None:
    with pytest.raises(Mistake, match="of that year"):
        read_day(typed)
    assert [read_day(each).year for each in ("1900-01-01", "2999-12-31")] == [1900, 2999]


@pytest.mark.parametrize("name", ["", "Chicago", "../etc/passwd", "America", "a\0b", "x" * 999])
def test_a_zone_that_is_none_is_refused(name: str) -> None:
    with pytest.raises(Mistake) as caught:
        zone(name)
    assert caught.value.code == "bad-zone"


def test_a_day_is_a_day() -> None:
    assert DAY == 24 * HOUR == 86_400_000
