"""A logger's file and what it did to the food: found once, the same in any order, and never lost.

Expected times are worked out by hand in the comments, or by numpy on a grid: a second method.
"""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from holdlog.core.errors import Mistake
from holdlog.core.moments import MINUTE
from holdlog.journal import readings
from holdlog.kitchen.handle import end, move, split
from holdlog.kitchen.unit_story import story
from tests.kitchen.cold import Step, every, excursions, file, read, same, take_in, wall
from tests.kitchen.shop import Shop, at, codes

# A night: good, then 50 °F from 03:00 for a little over two hours and a half, good again.
NIGHT = [
    *every(5, "06-01 21:00", "06-02 03:00", "38.5"),
    *every(5, "06-02 03:00", "06-02 05:40", "50"),
    *every(5, "06-02 05:40", "06-02 06:30", "38"),
]
# Up: 38.5 at 02:55 to 50 at 03:00 crosses 41 after 300 s × 2.5/11.5 = 65.2 s, so 234.8 s are
# beyond. 03:00 to 05:35 are 9300 s. Down: 50 to 38 crosses 41 after 300 s × 9/12 = 225 s.
SECONDS = 9760


@pytest.fixture
def night(shop: Shop) -> Shop:
    """Two tubs in the walk-in and one beside it, the morning after."""
    shop.tub()
    shop.tub("white bean, cooked")
    shop.tub("fish stock", unit="reach-in")
    shop.it_is("06-02 07:00")
    return shop


def test_what_stood_there_is_held_with_the_time_it_stood_there(night: Shop) -> None:
    done = take_in(night, file(NIGHT))
    inside = [row.code for row in night.live() if row.unit == "walk-in"]
    assert sorted(codes(done.rows)) == sorted(inside)
    for code, _, fact in excursions(night):
        assert code in inside
        assert (fact.seconds, fact.unknown_seconds) == (SECONDS, 0)
        assert str(fact.peak) == "50 °F"
    assert {row.verdict for row in done.rows} == {"hold"}
    assert night.bad() == []


def test_the_same_file_again_changes_nothing(night: Shop) -> None:
    take_in(night, file(NIGHT))
    entries = night.entries()
    again = take_in(night, file(NIGHT))
    assert (again.put.added, again.put.already) == (0, len(NIGHT))
    assert (again.entry, again.excursions, again.replaced) == (None, 0, 0)
    assert night.entries() == entries


def celsius(rows: list[Step]) -> list[Step]:
    return [(when, f"{(float(reads) - 32) / 1.8:.2f}") for when, reads in rows]


@pytest.mark.parametrize("other", ["the same night in Celsius", "another unit's good night"])
def test_a_file_at_odds_with_what_is_there_releases_nothing(night: Shop, other: str) -> None:
    take_in(night, file(NIGHT))
    before = excursions(night)
    if other == "the same night in Celsius":
        again = take_in(night, file(celsius(NIGHT), "C"))
    else:
        again = take_in(night, file(every(5, "06-01 21:00", "06-02 06:30", "38")))
    assert again.put.conflicting
    assert not again.put.added
    assert again.replaced == 0
    # The same hours are not counted twice.
    assert excursions(night) == before
    assert {row.verdict for row in night.live() if row.unit == "walk-in"} == {"hold"}
    assert night.bad() == []


def test_a_warm_file_at_odds_with_a_good_one_holds_what_stood_there(night: Shop) -> None:
    """The file of the reach-in, taken in for the walk-in first, hides nothing."""
    take_in(night, file(every(5, "06-01 21:00", "06-02 06:30", "38")))
    assert excursions(night) == []
    again = take_in(night, file(NIGHT))
    assert again.put.conflicting
    assert {fact.seconds for _, _, fact in excursions(night)} == {SECONDS}
    assert {row.verdict for row in night.live() if row.unit == "walk-in"} == {"hold"}
    entries = len(night.facts("excursion"))
    take_in(night, file(NIGHT))
    # And what comes later beside it does not take it back.
    take_in(night, file(every(5, "06-02 06:30", "06-02 06:55", "38")))
    assert len(night.facts("excursion")) == entries
    assert {row.verdict for row in night.live() if row.unit == "walk-in"} == {"hold"}
    assert night.bad() == []


def test_a_trial_leaves_nothing_behind_and_says_the_same(night: Shop) -> None:
    entries = night.entries()
    tried = take_in(night, file(NIGHT), dry_run=True)
    assert night.entries() == entries
    assert night.live()[0].verdict == ""
    done = take_in(night, file(NIGHT))
    assert (tried.put, tried.excursions) == (done.put, done.excursions)
    assert [row.reason for row in tried.rows] == [row.reason for row in done.rows]


def test_food_that_came_or_went_in_the_middle_has_its_own_part(shop: Shop) -> None:
    stays, leaves = shop.tub(), shop.tub()
    shop.it_is("06-02 04:00")
    comes = shop.tub()
    move(shop.kitchen, "mk", leaves, shop.hand.now, shop.unit("reach-in"))
    shop.it_is("06-02 04:30")
    used = shop.tub()
    shop.it_is("06-02 05:00")
    end(shop.kitchen, "mk", used, shop.hand.now, "used", None)
    shop.it_is("06-02 07:00")
    take_in(shop, file(NIGHT))
    seconds = {code: fact.seconds for code, _, fact in excursions(shop)}
    assert seconds == {
        stays: SECONDS,
        leaves: 235 + 3600,
        comes: 5700 + 225,  # 04:00 to 05:35, and down
        used: 1800,
    }
    assert shop.row(leaves).verdict == "hold"
    found = story(shop.kitchen, shop.unit("walk-in"), at("06-02 00:00"), at("06-02 07:00"))
    assert {each.row.code: each.decision for each in found.struck} == {
        stays: "on hold", leaves: "on hold", comes: "on hold", used: "used",
    }  # fmt: skip


def test_what_was_split_off_carries_the_time_before_and_adds_its_own(shop: Shop) -> None:
    whole = shop.tub()
    shop.it_is("06-02 04:00")
    (part,) = codes(split(shop.kitchen, "mk", whole, shop.hand.now, 1, keep=True).made)
    shop.it_is("06-02 07:00")
    take_in(shop, file(NIGHT))
    own = [fact.seconds for _, _, fact in excursions(shop, part)]
    kept = [fact.seconds for _, _, fact in excursions(shop, whole)]
    assert own == [5925]
    assert kept == [3835, 5925]  # what was before the split is carried over to the part
    assert shop.bad() == []


def test_a_single_warm_sample_is_no_event_and_is_in_the_totals(night: Shop) -> None:
    steps = [
        *every(5, "06-02 00:00", "06-02 01:00", "38"),
        ("2026-06-02 01:00:00", "42"),
        *every(5, "06-02 01:05", "06-02 02:00", "38"),
    ]
    done = take_in(night, file(steps))
    assert excursions(night) == []
    assert done.course is not None
    # 38 to 42 and back in five minutes each: above 41 for a quarter of both.
    assert done.course.total.total == 150_000
    assert done.course.total.events == ()


def test_a_gap_between_good_readings_is_said_and_holds_nothing(night: Shop) -> None:
    steps = [
        *every(5, "06-01 22:00", "06-01 23:00", "38"),
        *every(5, "06-02 05:00", "06-02 06:00", "38"),
    ]
    done = take_in(night, file(steps))
    assert done.course is not None
    assert len(done.course.gaps) == 1
    assert done.course.total.unknown == (6 * 60 + 5) * MINUTE
    assert excursions(night) == []


def test_a_gap_with_a_warm_end_holds_and_the_missing_file_makes_it_plain(night: Shop) -> None:
    first = every(5, "06-01 22:00", "06-01 23:00", "38")
    last = [("2026-06-02 05:00:00", "44"), *every(5, "06-02 05:05", "06-02 06:00", "38")]
    take_in(night, file([*first, *last]))
    (found, other) = excursions(night)
    assert found[2].unknown_seconds == (6 * 60 + 5) * 60
    missing = every(5, "06-01 23:00", "06-02 05:00", "38")
    done = take_in(night, file(missing))
    # One sample alone beyond, with good ones on both sides, is no event.
    assert excursions(night) == []
    assert done.replaced == 2
    assert {night.row(code).verdict for code in (found[0], other[0])} == {""}
    assert night.bad() == []


def test_readings_by_hand_and_a_logger_are_one_story(night: Shop) -> None:
    night.it_is("06-02 05:30")
    read(night, "52F")
    held = excursions(night)
    assert {fact.unknown_seconds for _, _, fact in held} == {23.5 * 3600}
    night.it_is("06-02 07:00")
    take_in(night, file(NIGHT))
    # The logger is silent before 21:00 the evening before: that is not covered, so it stays.
    assert {fact.unknown_seconds for _, _, fact in excursions(night)} == {23.5 * 3600, 0}
    before = every(5, "06-01 06:00", "06-01 21:00", "38.5")
    done = take_in(night, file(before))
    assert done.replaced == 2
    found = excursions(night)
    assert {(f.seconds, f.unknown_seconds, str(f.peak)) for _, _, f in found} == {
        # The worst is what the person saw, a little warmer than the logger.
        (SECONDS, 0, "52 °F")
    }
    assert night.bad() == []


def test_a_logger_that_contradicts_what_a_person_read_releases_nothing(night: Shop) -> None:
    night.it_is("06-02 05:30")
    read(night, "52F")
    night.it_is("06-02 07:00")
    take_in(night, file(every(5, "06-01 06:00", "06-02 06:30", "38.5")))
    found = excursions(night)
    assert {fact.unknown_seconds for _, _, fact in found} == {0}
    assert {str(fact.peak) for _, _, fact in found} == {"52 °F"}
    assert {night.row(code).verdict for code, _, _ in found} == {"hold"}


def test_the_logger_first_and_then_a_person_count_nothing_twice(night: Shop) -> None:
    warm = [*NIGHT[:-10], *every(5, "06-02 05:40", "06-02 06:30", "50")]
    take_in(night, file(warm))
    read(night, "50F")
    by_code: dict[str, int] = {}
    for code, _, fact in excursions(night):
        by_code[code] = by_code.get(code, 0) + fact.seconds + fact.unknown_seconds
    # 02:56:05.2 to 07:00.
    assert set(by_code.values()) == {4 * 3600 - 5 + 240}


def test_a_correction_on_a_later_day_takes_effect_because_it_names_its_file(night: Shop) -> None:
    take_in(
        night, file([*every(5, "06-01 22:00", "06-01 23:00", "38"), ("2026-06-02 05:00:00", "44")])
    )
    code = excursions(night)[0][0]
    night.it_is("06-03 09:00")
    take_in(
        night,
        file(
            [
                *every(5, "06-01 23:00", "06-02 05:00", "38"),
                *every(5, "06-02 05:05", "06-02 06:00", "38"),
            ]
        ),
    )
    assert excursions(night) == []
    assert night.row(code).verdict == ""
    confirmed = [entry for entry in night.facts("confirmed") if entry.subject == code]
    assert len(confirmed) == 1
    assert "logger.csv" in confirmed[0].body
    assert night.bad() == []


def test_an_excursion_of_a_hot_box_is_below_its_limit(shop: Shop) -> None:
    steps = [
        *every(5, "06-01 10:00", "06-01 11:00", "140"),
        *every(5, "06-01 11:00", "06-01 12:00", "120"),
        *every(5, "06-01 12:00", "06-01 12:30", "145"),
    ]
    shop.it_is("06-01 13:00")
    done = take_in(shop, file(steps), "hot box")
    assert done.course is not None
    assert done.course.total.worst == 12_000
    assert len(done.course.episodes) == 1


def test_celsius_is_judged_by_the_printed_celsius(night: Shop) -> None:
    fine = take_in(night, file(every(5, "06-01 22:00", "06-02 06:00", "5.0"), "C"))
    assert fine.course is not None
    assert fine.course.total.total == 0
    bad = take_in(night, file(every(5, "06-01 22:00", "06-02 06:00", "5.1"), "C"), "reach-in")
    assert bad.course is not None
    assert bad.course.total.total == (8 * 60 - 5) * MINUTE


def test_a_file_from_the_future_is_refused_and_leaves_nothing(night: Shop) -> None:
    entries = night.entries()
    with pytest.raises(Mistake) as caught:
        take_in(night, file(every(5, "06-02 06:00", "06-02 08:00", "38")))
    assert caught.value.code == "in-the-future"
    assert night.entries() == entries


def test_the_doctor_sees_a_reading_that_was_changed_behind_the_journal(night: Shop) -> None:
    take_in(night, file(NIGHT))
    assert night.bad() == []
    with night.db.appending() as conn:
        guard = {
            "sqlite": "DROP TRIGGER reading_no_update",
            "postgresql": "DROP TRIGGER reading_no_change ON reading",
        }
        conn.exec_driver_sql(guard[conn.dialect.name])
        conn.exec_driver_sql("UPDATE reading SET hundredths = 3800 WHERE hundredths = 5000")
    assert "readings" in night.bad()


def test_the_doctor_sees_a_reading_that_nobody_imported(night: Shop) -> None:
    take_in(night, file(NIGHT))
    with night.db.appending() as conn:
        readings.put(conn, night.kitchen.site, "reach-in", 1, "F", [(at("06-02 06:00"), 3800)])
    assert "readings" in night.bad()


def test_a_unit_that_hums_around_its_limit_is_one_story(night: Shop) -> None:
    hum = [
        (wall(at("06-01 22:00") + n * 5 * MINUTE), "42" if n % 6 in (2, 3) else "39")
        for n in range(84)
    ]
    done = take_in(night, file(hum))
    assert done.course is not None
    assert len(done.course.total.events) == 14
    assert len(excursions(night)) == 2  # one for each tub, with all the time in it
    assert {f.seconds for _, _, f in excursions(night)} == {-(-done.course.total.total // 1000)}


# ---- laws ------------------------------------------------------------------------------------


STRETCH = st.tuples(
    st.integers(1, 40), st.integers(340, 540), st.sampled_from("....x"), st.booleans()
)


@st.composite
def nights(draw: st.DrawFn) -> list[Step]:
    """A reading every five minutes, in stretches around one level or without any reading."""
    steps: list[Step] = []
    number = 0
    for length, level, what, noisy in draw(st.lists(STRETCH, min_size=1, max_size=10)):
        for n in range(length):
            degrees = (level + (n * 7 % 13 - 6 if noisy else 0)) / 10
            if what == ".":
                steps.append((wall(at("06-01 12:00") + number * 5 * MINUTE), f"{degrees:.1f}"))
            number += 1
    assume(len(steps) > 3)
    return steps


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(nights(), st.floats(0.05, 0.95), st.booleans())
def test_two_halves_of_a_file_say_what_the_whole_says(
    another: Callable[[], Shop], steps: list[Step], where: float, backwards: bool
) -> None:
    cut = max(1, min(len(steps) - 1, round(len(steps) * where)))
    halves = [steps[:cut], steps[cut:]]
    whole, parts = another(), another()
    for shop in (whole, parts):
        shop.hand.dice.seed(1)
        shop.tub()
        shop.it_is("06-01 18:00")
        shop.tub()
        shop.it_is("06-03 12:00")
    take_in(whole, file(steps))
    for half in reversed(halves) if backwards else halves:
        take_in(parts, file(half))
    assert same(parts) == same(whole)
    assert parts.everything()[1] == parts.replayed()[1]
    entries = len(parts.entries())
    take_in(parts, file(steps))
    assert len(parts.entries()) == entries


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(nights())
def test_what_food_was_exposed_to_is_what_numpy_counts(
    another: Callable[[], Shop], steps: list[Step]
) -> None:
    """On a grid of a second, straight between samples, without the gaps."""
    shop = another()
    code = shop.tub()
    shop.it_is("06-03 12:00")
    take_in(shop, file(steps))
    moments = np.array([at(when) for when, _ in steps]) / 1000
    degrees = np.array([float(value) for _, value in steps])
    for _, ends, fact in excursions(shop, code):
        assert fact.began is not None
        grid = np.arange(fact.began / 1000, ends / 1000, 1.0) + 0.5
        before = np.searchsorted(moments, grid) - 1
        inside = (before >= 0) & (before < len(moments) - 1)
        before, grid = before[inside], grid[inside]
        gap = moments[before + 1] - moments[before] > 1800
        warm = np.interp(grid, moments, degrees) > 41
        crossings = 2 * len(steps)
        assert abs(int((warm & ~gap).sum()) - fact.seconds) <= crossings
        assert abs(int(gap.sum()) - fact.unknown_seconds) <= crossings


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(nights())
def test_all_of_the_time_beyond_an_event_is_somewhere(
    another: Callable[[], Shop], steps: list[Step]
) -> None:
    """A tub that stood there all along has every event and every gap with a warm end."""
    shop = another()
    code = shop.tub()
    shop.it_is("06-03 12:00")
    done = take_in(shop, file(steps))
    assert done.course is not None
    spans = [(fact.began, ends) for _, ends, fact in excursions(shop, code)]
    for event in done.course.total.events:
        assert any(a is not None and a <= event.begins and event.ends <= b for a, b in spans)
