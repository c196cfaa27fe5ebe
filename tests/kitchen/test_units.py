"""Units: their limits, their readings, and what a reading beyond the limit does at once.

The limits are those of the Food Code 2022, 3-501.16: cold food at 41 °F (5 °C) or below, hot food
at 135 °F (57 °C) or above, raw shell eggs in air of 45 °F (7 °C) or below.
"""

from dataclasses import replace

import pytest

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import HOUR, MINUTE
from holdlog.kitchen.correct import void
from holdlog.kitchen.due import due
from holdlog.kitchen.handle import end, freeze, move, reheat, split
from holdlog.kitchen.items import add_item
from holdlog.kitchen.kitchen import look
from holdlog.kitchen.setup import adopt
from holdlog.kitchen.unit_story import story, unit_now
from holdlog.kitchen.units import UnitNow, overview
from tests.kitchen.cold import every, excursions, file, read, take_in
from tests.kitchen.shop import Shop, at, codes, temp


def units(shop: Shop) -> dict[str, UnitNow]:
    with shop.db.reading() as conn:
        return {each.unit.name: each for each in overview(shop.kitchen, conn, shop.hand.now)}


def test_each_sort_of_unit_has_the_limit_of_its_section(shop: Shop) -> None:
    said = {
        name: (now.limit.show("F"), now.limit.cite("F")) if now.limit else None
        for name, now in units(shop).items()
    }
    assert said == {
        "walk-in": ("41 °F or below", "3-501.16(A)(2)"),
        "reach-in": ("41 °F or below", "3-501.16(A)(2)"),
        # No figure in the code ("frozen"): ice is our reading of it.
        "chest freezer": ("32 °F or below", "3-501.11"),
        "hot box": ("135 °F or above", "3-501.16(A)(1)"),
        "pass shelf": None,
    }


def test_the_newest_reading_counts_whoever_took_it(shop: Shop) -> None:
    read(shop, "39F", when="06-01 05:00")
    assert str(units(shop)["walk-in"].last.temperature) == "39 °F"  # type: ignore[union-attr]
    take_in(shop, file([("2026-06-01 05:30", "38.5"), ("2026-06-01 05:45", "38.6")]))
    last = units(shop)["walk-in"].last
    assert last is not None
    assert (str(last.temperature), last.by_logger, last.at) == ("38.6 °F", True, at("06-01 05:45"))
    read(shop, "40F")
    assert str(units(shop)["walk-in"].last.temperature) == "40 °F"  # type: ignore[union-attr]
    void(shop.kitchen, "mk", shop.entries()[-1].number, "read the reach-in")
    assert str(units(shop)["walk-in"].last.temperature) == "38.6 °F"  # type: ignore[union-attr]


def test_a_good_reading_holds_nothing(shop: Shop) -> None:
    code = shop.tub()
    before = shop.row(code)
    done = read(shop, "41F")  # the limit itself is kept
    assert (done.good, done.rows, done.left) == (True, (), ())
    assert shop.row(code) == before
    assert shop.everything() == shop.replayed()


def test_one_command_holds_the_whole_unit_and_nothing_else(shop: Shop) -> None:
    tubs = [shop.tub(), shop.tub("white bean, cooked")]
    elsewhere = shop.tub(unit="reach-in")
    shop.it_is("06-01 22:00")
    read(shop, "38F")
    shop.it_is("06-02 05:40")
    done = read(shop, "52F")
    assert codes(done.rows) == sorted(tubs)
    assert {row.verdict for row in done.rows} == {"hold"}
    for row in done.rows:
        assert "from Mon 1 June 22:00 to Tue 2 June 2026 05:40" in row.reason
        assert "7 h 40 min without readings" in row.reason
        assert "52 °F" in row.reason
    assert shop.row(elsewhere).verdict == ""
    assert codes(due(shop.kitchen).hold) == codes(done.rows)
    assert shop.bad() == []


def test_without_a_good_reading_it_counts_from_when_the_food_came(shop: Shop) -> None:
    early = shop.tub()
    shop.it_is("06-01 14:00")
    late = shop.tub()
    shop.it_is("06-01 16:30")
    done = read(shop, "45F")
    assert done.since is None
    spans = {code: (fact.began, fact.unknown_seconds) for code, _, fact in excursions(shop)}
    assert spans == {
        early: (at("06-01 06:00"), 10.5 * 3600),
        late: (at("06-01 14:00"), 2.5 * 3600),
    }


def test_food_that_came_after_the_last_good_reading_counts_from_then(shop: Shop) -> None:
    read(shop, "38F")
    shop.it_is("06-01 14:00")
    code = shop.tub()
    shop.it_is("06-01 15:00")
    read(shop, "45F")
    ((_, _, fact),) = excursions(shop, code)
    assert (fact.began, fact.unknown_seconds) == (at("06-01 14:00"), 3600)


def test_between_two_readings_half_an_hour_apart_nothing_is_unknown(shop: Shop) -> None:
    code = shop.tub()
    read(shop, "38F")
    shop.it_is("06-01 06:30")
    read(shop, "45F")
    ((_, _, fact),) = excursions(shop, code)
    # Nobody knows when in the half hour: all of it counts as beyond.
    assert (fact.seconds, fact.unknown_seconds) == (1800, 0)


def test_a_second_bad_reading_adds_only_the_time_since_the_first(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-01 08:00")
    read(shop, "45F")
    shop.it_is("06-01 09:00")
    read(shop, "46F")
    total = sum(f.seconds + f.unknown_seconds for _, _, f in excursions(shop, code))
    assert total == 3 * 3600
    assert shop.bad() == []


def test_what_left_in_that_time_is_named_and_what_moved_is_held_too(shop: Shop) -> None:
    moved, used, sold_before = shop.tub(), shop.tub(), shop.tub()
    shop.it_is("06-01 08:00")
    end(shop.kitchen, "mk", sold_before, shop.hand.now, "sold", None)
    shop.it_is("06-01 09:00")
    read(shop, "38F")
    shop.it_is("06-01 10:00")
    move(shop.kitchen, "mk", moved, shop.hand.now, shop.unit("reach-in"))
    end(shop.kitchen, "mk", used, shop.hand.now, "used", None)
    shop.it_is("06-01 12:00")
    done = read(shop, "50F")
    assert codes(done.rows) == []
    assert codes(done.left) == sorted([moved, used])
    assert shop.row(moved).verdict == "hold"
    ((_, ends, fact),) = excursions(shop, moved)
    assert (ends, fact.unknown_seconds) == (at("06-01 10:00"), 3600)


def test_a_dish_made_of_what_stood_there_is_held(shop: Shop) -> None:

    beans = shop.tub("white bean, cooked")
    read(shop, "38F")
    shop.it_is("06-01 09:00")
    soup = shop.prep("chicken stock", unit="reach-in", made_from=(beans,))
    shop.it_is("06-01 12:00")
    read(shop, "50F")
    row = shop.row(soup.rows[0].code)
    assert row.verdict == "hold"
    assert "white bean" in row.reason
    assert shop.bad() == []


def test_what_was_taken_out_of_a_tub_carries_the_time_before(shop: Shop) -> None:
    whole = shop.tub()
    read(shop, "38F")
    shop.it_is("06-01 10:00")
    (part,) = codes(split(shop.kitchen, "mk", whole, shop.hand.now, 1, keep=True).made)
    shop.it_is("06-01 12:00")
    read(shop, "50F")
    with shop.db.reading() as conn:
        container, _ = look(shop.kitchen, conn, part, shop.hand.now)
    times = [
        event.fact.unknown_seconds
        for event in container.history.events
        if isinstance(event.fact, ev.Excursion)
    ]
    assert sum(times) == 6 * 3600
    assert {shop.row(code).verdict for code in (whole, part)} == {"hold"}


def test_eggs_keep_to_their_own_limit(shop: Shop) -> None:

    add_item(shop.kitchen, "mk", ev.ItemAdded("egg, in the shell", "shell-egg"))
    eggs, stock = shop.tub("egg, in the shell"), shop.tub()
    shop.it_is("06-01 12:00")
    read(shop, "44F")  # within 3-501.16(B), beyond (A)(2)
    assert excursions(shop, eggs) == []
    assert shop.row(stock).verdict == "hold"
    shop.it_is("06-01 12:10")
    read(shop, "46F")
    assert len(excursions(shop, eggs)) == 1


def test_frozen_food_is_held_when_its_freezer_is_above_ice(shop: Shop) -> None:
    code = shop.tub()
    freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    shop.it_is("06-01 12:00")
    assert read(shop, "20F", "chest freezer").good
    shop.it_is("06-02 12:00")
    read(shop, "34F", "chest freezer")
    assert shop.row(code).verdict == "hold"
    assert shop.row(code).state == "frozen"


def test_a_hot_box_is_beyond_below_its_limit(shop: Shop) -> None:

    code = shop.tub()
    fact = ev.Reheated(temp("165F"), 15, 30)
    reheat(shop.kitchen, "mk", code, shop.hand.now, fact, shop.unit("hot box"))
    shop.it_is("06-01 07:00")
    assert read(shop, "135F", "hot box").good
    assert shop.row(code).verdict == ""
    shop.it_is("06-01 09:00")
    read(shop, "134.9F", "hot box")
    assert shop.row(code).verdict == "hold"


def test_a_room_has_no_limit(shop: Shop) -> None:
    done = read(shop, "72F", "pass shelf")
    assert (done.limit, done.good, done.rows) == (None, None, ())


def test_a_reading_on_a_scale_that_the_rules_do_not_print_is_refused(shop: Shop) -> None:
    adopt(shop.kitchen, "jr", ["fr-2009"], None, "")
    entries = len(shop.entries())
    with pytest.raises(Mistake) as caught:
        read(shop, "38F")
    assert caught.value.code == "other-scale"
    assert len(shop.entries()) == entries
    assert read(shop, "3C").good


def test_a_good_reading_of_an_earlier_day_proves_nothing_without_its_paper(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-02 08:00")
    done = read(shop, "38F", when="06-01 23:00")
    assert not done.reading.proves
    read(shop, "50F")
    ((_, _, fact),) = excursions(shop, code)
    assert fact.began == at("06-01 06:00")
    named = read(shop, "38F", when="06-01 23:30", evidence="walk-in sheet of 1 June")
    assert named.reading.proves
    ((_, _, fact),) = excursions(shop, code)
    assert (fact.began, fact.unknown_seconds) == (at("06-01 23:30"), 8.5 * 3600)
    assert shop.bad() == []


def test_a_reading_on_a_probe_that_is_off_proves_nothing(shop: Shop) -> None:
    code = shop.tub()
    with shop.kitchen.writing("mk") as write:
        now = write.recorded_at
        write.append(
            (ev.ProbeAdded("F"), now, "probe red"),
            (ev.ProbeChecked("ice", temp("38F"), temp("32F"), passed=False), now, "probe red"),
        )
    shop.it_is("06-01 08:00")
    assert not read(shop, "38F", probe="red").reading.proves
    shop.it_is("06-01 10:00")
    read(shop, "50F")
    ((_, _, fact),) = excursions(shop, code)
    assert fact.began == at("06-01 06:00")


def test_a_wrong_reading_is_taken_back_with_what_it_did(shop: Shop) -> None:
    code = shop.tub()
    before = shop.row(code)
    shop.it_is("06-01 12:00")
    done = read(shop, "83F")
    assert shop.row(code).verdict == "hold"
    void(shop.kitchen, "mk", done.reading.entry, "38, not 83")
    assert excursions(shop) == []
    assert replace(shop.row(code), judged_at=before.judged_at) == before
    assert shop.bad() == []


def test_on_a_later_day_that_waits_for_the_paper(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-01 12:00")
    done = read(shop, "83F")
    shop.it_is("06-02 08:00")
    void(shop.kitchen, "mk", done.reading.entry, "38, not 83")
    assert shop.row(code).verdict == "hold"


def test_with_the_paper_it_is_taken_back_on_a_later_day(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-01 12:00")
    done = read(shop, "83F")
    shop.it_is("06-02 08:00")
    void(shop.kitchen, "mk", done.reading.entry, "38, not 83", "walk-in sheet: 38")
    assert shop.row(code).verdict == ""
    assert shop.bad() == []


def test_the_morning_names_a_unit_that_is_beyond_or_not_read_for_a_day(shop: Shop) -> None:
    assert due(shop.kitchen).units == ()  # never read: not named
    read(shop, "38F")
    shop.hand.now += 24 * HOUR  # type: ignore[assignment]
    assert due(shop.kitchen).units == ()
    shop.hand.now += MINUTE  # type: ignore[assignment]
    assert [each.unit.name for each in due(shop.kitchen).units] == ["walk-in"]
    assert due(shop.kitchen, "reach-in").units == ()
    read(shop, "44F")
    (named,) = due(shop.kitchen).units
    assert (named.good, named.stale) == (False, False)
    read(shop, "39F")
    assert due(shop.kitchen).units == ()


def test_a_unit_shows_its_day_and_what_is_in_it(shop: Shop) -> None:
    code = shop.tub()
    read(shop, "38F")
    shop.it_is("06-02 05:00")
    read(shop, "39F")
    shop.it_is("06-02 07:00")
    found = unit_now(shop.kitchen, shop.unit("walk-in"), 24 * HOUR)
    assert [str(each.temperature) for each in found.readings] == ["39 °F"]
    assert codes(found.inside) == [code]
    assert found.held == ()


def test_a_period_that_runs_backwards_is_refused(shop: Shop) -> None:
    with pytest.raises(Mistake) as caught:
        story(shop.kitchen, shop.unit("walk-in"), at("06-01 05:00"), at("06-01 04:00"))
    assert caught.value.code == "bad-period"


def test_a_unit_too_close_to_its_limit_is_to_be_turned_down(shop: Shop) -> None:
    shop.it_is("06-02 00:00")
    close = file(every(5, "06-01 06:00", "06-01 12:00", "40.5"))
    fine = file(every(5, "06-01 06:00", "06-01 12:00", "38.5"))
    near, far = take_in(shop, close), take_in(shop, fine, "reach-in")
    assert near.course is not None
    assert near.course.too_close
    assert far.course is not None
    assert not far.course.too_close
