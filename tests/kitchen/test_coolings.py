"""Coolings as a kitchen logs them: what runs, what is late, what is missed, what is unproven.

Limits: FDA Food Code 2022 3-501.14(A): from 135 °F to 70 °F within 2 hours, to 41 °F within 6
hours in all. Reheating: 3-403.11, 165 °F for 15 seconds. The figures of the forecast are those
of readings 30 minutes apart in surroundings of 38 °F, worked out by a second method in
tests/rules/test_forecast.py.
"""

from collections.abc import Callable
from decimal import Decimal

import pytest

from holdlog.cli.cooling_words import fit, logged_told, short
from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import MINUTE, Instant
from holdlog.kitchen import cool, discard, handle, label, setup
from holdlog.kitchen.cool import PutIn
from holdlog.kitchen.cooling_plot import cooling_plot
from holdlog.kitchen.coolings import Logged, cooling_of, coolings
from holdlog.kitchen.due import due, everything
from holdlog.kitchen.recall import recall
from holdlog.kitchen.surroundings import last_read
from holdlog.kitchen.why import why
from holdlog.labels.faces import face
from holdlog.reports.plots import drawn
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import Shop, at, codes, temp


def logs(shop: Shop, code: str, wall: str, reading: str, **more: str) -> cool.Cooled:
    """A reading at ``wall`` of 1 June, typed then."""
    shop.it_is(f"06-01 {wall}")
    return log_cooling(shop.kitchen, "mk", code, shop.hand.now, temp(reading), **more)


def puts(shop: Shop, code: str, wall: str, method: str, surroundings: str = "") -> None:
    shop.it_is(f"06-01 {wall}")
    around = temp(surroundings) if surroundings else None
    unit = shop.kitchen.units.get(method)
    there = PutIn(method, unit, around)
    cool.log(shop.kitchen, "mk", code, shop.hand.now, [], put_in=there)


def only(shop: Shop) -> Logged:
    (each,) = coolings(shop.kitchen)
    return each


def test_nothing_cools_in_a_kitchen_with_cold_food_only(shop: Shop) -> None:
    shop.tub("chicken stock")
    assert coolings(shop.kitchen) == []
    assert due(shop.kitchen).cooling == ()


def test_a_stockpot_is_too_close_goes_into_an_ice_bath_and_is_met(shop: Shop) -> None:
    rows = shop.prep("fish stock", 3, off_heat_at=shop.hand.now).rows
    code = rows[1].code
    puts(shop, code, "06:00", "walk-in", "38 F")
    logs(shop, code, "06:00", "135 F")
    logs(shop, code, "06:30", "112 F")
    each = only(shop)
    assert (each.stands, codes(each.rows)) == ("running", codes(rows))
    ahead = each.ahead
    assert ahead is not None
    assert ahead.forecast is not None
    # (0, 135) (30, 112) in 38 °F: from 114.302 to 166.864 minutes, and the limit is 120.
    assert ahead.forecast.says == "too-close"
    assert ahead.forecast.early == at("06-01 06:00") + int(114.302 * 60) * 1000
    assert ahead.forecast.late == at("06-01 06:00") + (int(166.864 * 60) + 1) * 1000
    assert ahead.read_by == at("06-01 07:00")

    puts(shop, code, "06:35", "ice bath", "33 F")
    each = only(shop)
    assert each.ahead is not None
    # Elsewhere it begins anew, and what was read before says nothing of it.
    assert (each.ahead.forecast, each.method) == (None, "ice bath")
    assert "Too few readings" in each.ahead.no_forecast
    logs(shop, code, "06:40", "104 F")
    logs(shop, code, "07:00", "80 F")
    coming = only(shop).ahead
    assert coming is not None
    assert coming.forecast is not None
    assert coming.forecast.says == "on-track"

    logs(shop, code, "07:10", "70 F")
    each = only(shop)
    assert each.record.verdict is not None
    assert (each.record.verdict.first, each.record.verdict.whole) == ("met", "running")
    assert each.ahead is not None
    assert each.ahead.forecast is None  # no clock time for the cold limit
    assert each.ahead.pace is not None
    logs(shop, code, "10:00", "41 F")
    assert coolings(shop.kitchen) == []
    done = cooling_of(shop.kitchen, code)
    assert (done.stands, done.holding.verdict) == ("met", "serve")
    assert [each.stage for each in done.record.grounds] == ["met", "met"]
    assert [each.longest for each in done.record.grounds] == [70 * MINUTE, 240 * MINUTE]
    assert shop.bad() == []


def test_a_batch_that_has_cooled_is_chilled_and_one_that_has_not_is_not(shop: Shop) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    logs(shop, code, "07:50", "70 F")
    assert shop.row(code).state == "cooling"
    logs(shop, code, "11:50", "41 F")
    assert shop.row(code).state == "chilled"
    # Warm again, by whatever reading, it has not cooled.
    logs(shop, code, "11:55", "50 F")
    assert shop.row(code).state == "cooling"
    assert shop.everything() == shop.replayed()


def test_a_reading_that_is_late_is_overdue_and_comes_first(shop: Shop) -> None:
    first = shop.tub("fish stock", off_heat_at=shop.hand.now)
    shop.it_is("06-01 06:20")
    second = shop.tub("chicken stock", off_heat_at=shop.hand.now)
    logs(shop, first, "06:25", "120 F")
    # Half an hour after its last reading the next one is due; at that minute it is not late yet.
    shop.it_is("06-01 06:50")
    assert [each.overdue_since for each in coolings(shop.kitchen)] == [None, None]
    shop.it_is("06-01 06:51")
    found = coolings(shop.kitchen)
    assert [codes(each.rows) for each in found] == [[second], [first]]
    assert [each.overdue_since for each in found] == [at("06-01 06:50"), None]
    assert {row.code for each in due(shop.kitchen).cooling for row in each.rows} == {first, second}
    # It comes before what may still be mended by heat.
    logs(shop, second, "06:55", "134 F")
    logs(shop, second, "09:00", "90 F")
    assert cooling_of(shop.kitchen, second).holding.verdict == "reheat"
    third = shop.tub("vegetable stock", off_heat_at=shop.hand.now)
    shop.it_is("06-01 09:31")
    assert [codes(each.rows) for each in coolings(shop.kitchen)] == [[third], [second], [first]]


def test_unproven_is_released_by_the_missing_readings_and_their_paper(shop: Shop) -> None:
    code = shop.tub("chickpea, cooked", warm=temp("120 F"))
    each = only(shop)
    assert each.stands == "unproven"
    assert each.record.grounds[0].begun_after is None
    off = at("06-01 05:40")
    log_cooling(shop.kitchen, "mk", code, off, None, "cooling sheet 3, JR")
    assert only(shop).stands == "running"
    shop.it_is("06-02 09:00")
    each = only(shop)
    assert [one.stage for one in each.record.grounds] == ["unproven", "unproven"]
    # Of yesterday and without a paper, a reading proves nothing.
    log_cooling(shop.kitchen, "mk", code, at("06-01 07:40"), temp("70 F"))
    assert only(shop).stands == "unproven"
    for wall, reading in (("06-01 07:39", "69 F"), ("06-01 11:40", "41 F")):
        log_cooling(shop.kitchen, "mk", code, at(wall), temp(reading), "logger 4, file june.csv")
    assert coolings(shop.kitchen) == []
    assert cooling_of(shop.kitchen, code).stands == "met"
    assert shop.holding(code).verdict == "serve"


def test_a_missed_first_limit_is_reheated_once_and_never_again(shop: Shop) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    logs(shop, code, "06:05", "134 F")
    logs(shop, code, "08:10", "90 F")
    each = only(shop)
    assert (each.stands, each.holding.verdict) == ("missed", "reheat")
    assert each.record.grounds[0].shortest == 125 * MINUTE
    shop.it_is("06-01 08:40")
    handle.reheat(
        shop.kitchen, "mk", code, shop.hand.now, ev.Reheated(temp("165 F"), held_seconds=15)
    )
    again = only(shop)
    assert (again.stands, again.record.again, again.alone) == ("running", True, True)
    logs(shop, code, "08:45", "134 F")
    logs(shop, code, "10:50", "75 F")
    each = only(shop)
    assert (each.stands, each.holding.verdict) == ("missed", "discard")
    assert codes(due(shop.kitchen).go) == [code]


def test_two_batches_cool_side_by_side(shop: Shop) -> None:
    one = shop.prep("fish stock", 2, off_heat_at=shop.hand.now)
    other = shop.prep("chicken stock", 3, off_heat_at=shop.hand.now)
    logs(shop, one.rows[0].code, "06:20", "120 F")
    logs(shop, other.rows[2].code, "06:30", "130 F")
    found = {each.batch: each for each in coolings(shop.kitchen)}
    assert {batch: len(each.rows) for batch, each in found.items()} == {
        one.batch: 2, other.batch: 3,
    }  # fmt: skip
    last = {batch: str(each.record.readings[-1].temperature) for batch, each in found.items()}
    assert last == {one.batch: "120 °F", other.batch: "130 °F"}


def test_put_into_a_cold_unit_its_containers_stand_there(shop: Shop) -> None:
    rows = shop.prep("fish stock", 2, off_heat_at=shop.hand.now).rows
    puts(shop, rows[0].code, "06:10", "reach-in", "38 F")
    assert [shop.row(row.code).unit for row in rows] == ["reach-in", "reach-in"]
    moves = only(shop).record.moves
    assert [str(move.surroundings) for move in moves] == ["38 °F"]
    puts(shop, rows[0].code, "06:20", "ice bath", "33 F")
    assert [shop.row(row.code).unit for row in rows] == ["reach-in", "reach-in"]


def test_the_surroundings_are_what_the_unit_was_read_at_lately(shop: Shop) -> None:
    walk_in = shop.unit("walk-in")

    def known(wall: str) -> str:
        with shop.db.reading() as conn:
            found = last_read(shop.kitchen, conn, walk_in, at(wall))
        return str(found[1]) if found is not None else ""

    assert known("06-01 06:00") == ""
    with shop.kitchen.writing("mk") as write:
        write.append((ev.UnitRead(temp("39 F")), shop.hand.now, "walk-in"))
    assert known("06-01 10:00") == "39 °F"
    assert known("06-01 10:01") == ""  # four hours on, nobody knows
    shop.it_is("06-01 07:00")
    (entry,) = shop.facts("unit-read")
    with shop.kitchen.writing("mk") as write:
        write.append((ev.Voided(entry.number, "the other walk-in"), shop.hand.now, "walk-in"))
    assert known("06-01 07:00") == ""
    # What somebody remembers the next day is no measurement.
    shop.it_is("06-02 00:30")
    with shop.kitchen.writing("mk") as write:
        write.append((ev.UnitRead(temp("39 F")), at("06-01 23:30"), "walk-in"))
    assert known("06-02 00:30") == ""


def test_a_probe_that_the_kitchen_does_not_have_is_refused(shop: Shop) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    before = len(shop.entries())
    with pytest.raises(Mistake) as told:
        logs(shop, code, "06:30", "110 F", probe="gold")
    assert told.value.code == "no-probe"
    assert len(shop.entries()) == before


@pytest.mark.parametrize("stage", ["missed", "unproven"])
def test_what_missed_or_is_unproven_gets_no_ordinary_label(shop: Shop, stage: str) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    if stage == "missed":
        logs(shop, code, "06:05", "134 F")
        logs(shop, code, "08:10", "90 F")
    shop.it_is("06-01 09:00")
    assert only(shop).stands == stage
    with shop.db.reading() as conn:
        made = label.ready(shop.kitchen, conn, code).label
    # It says ON HOLD, the reason and no date: a box for a reading would promise what is over.
    assert {"missed": "missed its first limit", "unproven": "do not prove"}[stage] in made.held
    assert face(made) == "hold"


def test_a_recall_of_food_that_cools_is_what_its_label_and_the_list_say(shop: Shop) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    logs(shop, code, "06:20", "120 F")
    with shop.db.reading() as conn:
        assert label.ready(shop.kitchen, conn, code).label.purpose == "cooling"
    recall(shop.kitchen, "jr", code, "", "glass in the pot")
    (line,) = everything(shop.kitchen)
    assert "glass in the pot" in line.reason
    with shop.db.reading() as conn:
        made = label.ready(shop.kitchen, conn, code).label
    assert face(made) == "hold"
    assert "glass in the pot" in made.held


def test_the_reasons_stand_on_the_morning_list_and_behind_the_date(shop: Shop) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    logs(shop, code, "06:05", "134 F")
    logs(shop, code, "08:10", "90 F")
    (line,) = everything(shop.kitchen)
    assert "reheat once" in line.reason
    found = why(shop.kitchen, code)
    assert found.cooling is not None
    assert [each.stage for each in found.cooling.record.grounds] == ["missed", "running"]
    above = found.cooling.record.grounds[0].above
    assert above is not None
    assert (above.at, str(above.temperature)) == (at("06-01 08:10"), "90 °F")


def test_the_second_stage_of_its_own_hours_counts_from_the_middle(
    another: Callable[[], Shop],
) -> None:
    """New York State counts from 120 °F to 70 °F in 2 hours, then 4 hours more to 45 °F (10 NYCRR
    14-1.40(b)).
    """
    shop = another()
    setup.adopt(shop.reopen(), "jr", ["us-ny"], ev.Conventions(), "")
    shop.reopen()
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    for wall, reading in (("06:30", "120 F"), ("07:30", "80 F"), ("08:00", "70 F")):
        logs(shop, code, wall, reading)
    first, last = only(shop).record.grounds
    assert (first.stage, first.deadline) == ("met", at("06-01 08:30"))
    assert (last.stage, last.begun_after, last.begun_by) == (
        "running", at("06-01 07:30"), at("06-01 08:00"),
    )  # fmt: skip
    assert last.deadline == at("06-01 11:30")


def test_the_plot_holds_limits_deadlines_verdict_and_section(shop: Shop) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    puts(shop, code, "06:00", "walk-in", "38 F")
    logs(shop, code, "06:00", "135 F")
    logs(shop, code, "06:30", "112 F")
    plot = cooling_plot(shop.kitchen, only(shop))
    assert [(each.degrees, each.name) for each in plot.limits] == [
        (135, "start"), (70, "first"), (41, "last"),
    ]  # fmt: skip
    assert [f"{each.by:%H:%M}" for each in plot.limits if each.by] == ["08:00", "12:00"]
    assert plot.readings.degrees == (135, 112)
    assert plot.pace is not None
    # The line passes through every limit at its deadline.
    by_time = dict(zip(plot.pace.times, plot.pace.degrees, strict=True))
    start = plot.pace.times[0]
    assert f"{start:%H:%M}" == "06:00"
    for when, degrees in (("06:00", 135), ("08:00", 70), ("12:00", 41)):
        there = next(value for at_, value in by_time.items() if f"{at_:%H:%M}" == when)
        assert there == pytest.approx(degrees, abs=1e-6)
    assert plot.band is not None
    assert plot.now is not None
    svg = drawn(plot, "svg").decode()
    for words in ("3-501.14(A)", "first limit (70 °F) RUNNING", "FDA Food Code 2022", "by 08:00"):
        assert words in svg


def test_a_finished_cooling_is_told_as_of_the_end_of_its_food(shop: Shop) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    logs(shop, code, "07:50", "70 F")
    logs(shop, code, "11:50", "41 F")
    handle.end(shop.kitchen, "mk", code, shop.hand.now, "used", None)
    shop.hand.now = Instant(shop.hand.now + 100 * MINUTE)
    found = cooling_of(shop.kitchen, code)
    assert (found.stands, found.holding.state) == ("met", "gone")
    binned = shop.tub("fish stock", off_heat_at=shop.hand.now)
    discard.discard(shop.kitchen, "mk", binned, shop.hand.now, "dropped")
    shop.hand.now = Instant(shop.hand.now + 300 * MINUTE)
    assert cooling_of(shop.kitchen, binned).stands == "running"
    with pytest.raises(Mistake) as told:
        cooling_of(shop.kitchen, shop.tub("chicken stock"))
    assert told.value.code == "no-cooling"


def test_what_was_unproven_before_it_was_heated_again_stays_on_hold(shop: Shop) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    logs(shop, code, "07:40", "100 F")
    logs(shop, code, "08:10", "88 F")
    assert only(shop).stands == "unproven"
    shop.it_is("06-01 08:20")
    fact = ev.Reheated(temp("165 F"), held_seconds=15, took_minutes=10)
    handle.reheat(shop.kitchen, "mk", code, shop.hand.now, fact)
    logs(shop, code, "10:10", "70 F")
    logs(shop, code, "14:00", "41 F")
    found = cooling_of(shop.kitchen, code)
    assert (found.stands, found.holding.verdict) == ("met", "hold")
    assert not fit(found)
    said = logged_told(found, shop.kitchen)
    assert "That is of what was before it was heated again." in said
    assert not any("date label" in line for line in said)


def test_tubs_of_one_batch_that_are_held_for_other_reasons_are_told_apart(shop: Shop) -> None:
    first, second = shop.prep("fish stock", 2, off_heat_at=shop.hand.now).rows
    bad = shop.tub("fish stock")
    discard.discard(shop.kitchen, "mk", bad, shop.hand.now, "off")
    logs(shop, first.code, "06:20", "120 F")
    assert len(coolings(shop.kitchen)) == 1
    with shop.kitchen.writing("mk") as write:
        write.append((ev.ToppedUp(bad), shop.hand.now, second.code))
        write.settle(second.code)
    reasons = {
        row.code: each.holding.reason for each in coolings(shop.kitchen) for row in each.rows
    }
    assert reasons[first.code] == "Still cooling: do not serve."
    assert reasons[second.code] != reasons[first.code]
    words = {row.code: short(each, shop.kitchen)
             for each in coolings(shop.kitchen) for row in each.rows}  # fmt: skip
    # What comes next never hides what is worse.
    assert reasons[second.code] in words[second.code]


def test_a_thin_layer_that_has_no_clock_is_listed_until_it_is_cold(
    another: Callable[[], Shop],
) -> None:
    """Washington: no deeper than 2 inches and uncovered in a cold place (WAC 246-215-03515)."""
    shop = another()
    setup.adopt(shop.reopen(), "jr", ["us-food-code-2017", "us-wa"], ev.Conventions(), "")
    shop.reopen()
    facts = ev.Food(item="", category="", depth_in=Decimal(2))
    code = shop.tub("chickpea, cooked", warm=temp("150 F"), facts=facts)
    puts(shop, code, "06:05", "walk-in", "38 F")
    each = only(shop)
    assert (each.stands, each.record.verdict, each.holding.verdict) == ("no-clock", None, "hold")
    assert cooling_plot(shop.kitchen, each).limits == ()
    logs(shop, code, "09:00", "42 F")
    assert not fit(only(shop))
    logs(shop, code, "10:00", "41 F")
    assert coolings(shop.kitchen) == []
    assert fit(cooling_of(shop.kitchen, code))


def test_what_is_held_hot_or_gone_cools_no_more(shop: Shop) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    logs(shop, code, "06:30", "120 F")
    shop.it_is("06-01 06:40")
    fact = ev.Reheated(temp("165 F"), held_seconds=15, took_minutes=10)
    handle.reheat(shop.kitchen, "mk", code, shop.hand.now, fact, shop.unit("hot box"))
    assert coolings(shop.kitchen) == []
    assert cooling_of(shop.kitchen, code).stands == "running"  # the one that the heat ended
    shop.it_is("06-01 06:50")
    handle.reading(shop.kitchen, "mk", code, shop.hand.now, temp("120 F"))
    assert shop.holding(code).verdict == "hold"  # too cool for the hot box, and no cooling
    assert coolings(shop.kitchen) == []
    other = shop.tub("fish stock", off_heat_at=shop.hand.now)
    assert codes(only(shop).rows) == [other]
    discard.discard(shop.kitchen, "mk", other, shop.hand.now, "dropped")
    assert coolings(shop.kitchen) == []
