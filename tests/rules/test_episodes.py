"""Which stretches of a unit's readings hold food; the spans are worked out by hand beside each."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.moments import HOUR, MINUTE, Instant
from holdlog.rules.episodes import PAUSE, Course, course, known_time

HALF_HOUR = 30 * MINUTE


def under(samples: list[tuple[int, float]], limit: float = 41, **more: object) -> Course:
    """Samples in minutes and degrees, under a limit in °F."""
    scaled = [(at * MINUTE, round(value * 100)) for at, value in samples]
    return course(scaled, round(limit * 100), side="above", scale="F", **more)  # type: ignore[arg-type]


def steady(start: int, end: int, value: float) -> list[tuple[int, float]]:
    return [(at, value) for at in range(start, end, 10)]


def minutes(found: Course) -> list[tuple[float, float]]:
    return [(each.begins / MINUTE, each.ends / MINUTE) for each in found.episodes]


def test_an_event_is_an_episode_and_one_warm_sample_is_none() -> None:
    assert minutes(under([*steady(0, 60, 38), (60, 42), *steady(70, 120, 38)])) == []
    two = under([*steady(0, 60, 39), (60, 43), (70, 43), *steady(80, 120, 39)])
    assert minutes(two) == [(55, 75)]  # 39 to 43 in ten minutes: 41 half way


def test_a_gap_with_a_warm_end_is_one_and_with_good_ends_is_none() -> None:
    good = under([*steady(0, 60, 38), *steady(200, 260, 38)])
    assert minutes(good) == []
    assert [(each.begins, each.ends) for each in good.gaps] == [(50 * MINUTE, 200 * MINUTE)]
    for before, after in ((45, 38), (38, 45)):
        ends = under([*steady(0, 50, 38), (50, before), (200, after), *steady(210, 260, 38)])
        assert minutes(ends) == [(50, 200)]


def test_a_good_gap_longer_than_the_hours_of_an_outage_is_one() -> None:
    samples = [*steady(0, 60, 38), *steady(350, 400, 38)]  # five hours between
    assert minutes(under(samples, longest_gap=5 * HOUR)) == []
    assert minutes(under(samples, longest_gap=4 * HOUR)) == [(50, 350)]


def test_with_a_pause_of_less_than_six_hours_two_are_one_story() -> None:
    def twice(apart: int) -> Course:
        night = [*steady(0, 20, 38), (20, 44), (30, 44), *steady(40, 30 + apart, 38)]
        return under([*night, (30 + apart, 44), (40 + apart, 44), (50 + apart, 38)])

    hours = PAUSE // MINUTE
    assert len(twice(hours).episodes) == 1
    assert len(twice(hours + 60).episodes) == 2
    total = twice(hours).within(Instant(0), Instant(2 * PAUSE)).total
    assert total == twice(hours).total.total  # the pause is not counted


def test_food_that_came_in_the_middle_has_only_its_part() -> None:
    found = under([*steady(0, 60, 38), *steady(60, 130, 45), *steady(130, 200, 38)])
    part = found.within(Instant(90 * MINUTE), Instant(100 * MINUTE))
    assert (part.total, part.unknown, part.worst) == (10 * MINUTE, 0, 4500)


def test_a_part_of_a_gap_stays_unknown_however_short() -> None:
    found = under([*steady(0, 60, 45), *steady(300, 400, 45)])
    part = found.within(Instant(100 * MINUTE), Instant(101 * MINUTE))
    assert (part.total, part.unknown) == (0, MINUTE)


@pytest.mark.parametrize(("usual", "close"), [(38.5, False), (40, False), (40.1, True), (44, True)])
def test_a_unit_within_a_degree_of_its_limit_is_too_close(usual: float, close: bool) -> None:
    assert under(steady(0, 300, usual)).too_close is close


def test_between_two_readings_it_was_beyond_if_either_was() -> None:
    readings = [(Instant(0), False), (Instant(HALF_HOUR), True), (Instant(2 * HALF_HOUR), False)]
    end = Instant(2 * HALF_HOUR)
    assert known_time(readings, Instant(0), end, HALF_HOUR) == (2 * HALF_HOUR, 0)
    assert known_time(readings, Instant(0), end, HALF_HOUR - 1) == (0, 2 * HALF_HOUR)


def test_what_no_reading_bounds_is_unknown() -> None:
    one = [(Instant(10), False)]
    assert known_time(one, Instant(0), Instant(30), HALF_HOUR) == (0, 30)
    assert known_time([], Instant(5), Instant(30), HALF_HOUR) == (0, 25)


@given(
    st.lists(st.tuples(st.integers(0, 1000), st.booleans()), max_size=12),
    st.integers(0, 1000),
    st.integers(0, 1000),
    st.tuples(st.integers(0, 1000), st.booleans()),
)
def test_one_more_reading_never_makes_more_unknown(
    some: list[tuple[int, bool]], one: int, other: int, more: tuple[int, bool]
) -> None:
    since, until = Instant(min(one, other)), Instant(max(one, other))
    readings = sorted((Instant(at), over) for at, over in some)
    with_it = sorted([*readings, (Instant(more[0]), more[1])])
    beyond, unknown = known_time(readings, since, until, 60)
    assert beyond + unknown <= until - since
    assert known_time(with_it, since, until, 60)[1] <= unknown
