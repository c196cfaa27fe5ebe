"""What each job does to a container: its date, its place, its amount, what it passes on.

Seven days with day one counted: FDA Food Code 2022, 3-501.17(A). The earliest ingredient's date:
3-501.17(C). Figures for cooling: 3-501.14(A). Cold holding 41 °F, hot 135 °F: 3-501.16(A).
"""

from dataclasses import replace
from decimal import Decimal

import pytest

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import Instant
from holdlog.kitchen import discard, handle, label, prep, tape
from holdlog.kitchen.items import add_item
from holdlog.kitchen.why import why
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import Shop, at, codes, temp

HOT = ev.Reheated(temp("165 F"), 15)


def freeze(shop: Shop, code: str) -> None:
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)


def thaw(shop: Shop, code: str, method: ev.ThawMethod = "refrigerator") -> None:
    handle.thaw(shop.kitchen, "mk", code, shop.hand.now, method, None)


def stew(shop: Shop, *used: str, partly: tuple[str, ...] = ()) -> prep.Recorded:
    wanted = replace(shop.batch("fish stock"), made_from=used, partly=partly)
    return prep.record(shop.kitchen, "mk", wanted)


# ---- prep ------------------------------------------------------------------------------------


def test_a_batch_is_shared_out_and_numbered(shop: Shop) -> None:
    made = shop.prep("chicken stock", 3, amount="7 l")
    assert [(row.number, row.count, row.amount) for row in made.rows] == [
        (1, 3, "2.3333 l"), (2, 3, "2.3333 l"), (3, 3, "2.3333 l"),
    ]  # fmt: skip
    assert {row.last_day for row in made.rows} == {"2026-06-07"}
    assert len({row.code for row in made.rows}) == 3


def test_a_batch_finished_after_midnight_has_that_day_for_day_one(shop: Shop) -> None:
    shop.it_is("06-02 00:40")
    assert shop.row(shop.tub(made="06-02 00:10")).last_day == "2026-06-08"
    assert shop.row(shop.tub(made="06-01 23:50")).last_day == "2026-06-07"


def test_a_typed_code_counts_once_however_it_is_written(shop: Shop) -> None:
    code = shop.tub()
    stew(shop, code, f"{code[:4].lower()}-{code[4:]}")
    assert len([entry for entry in shop.facts("used") if entry.subject == code]) == 1


def test_a_dish_inherits_allergens_at_every_depth_and_through_a_top_up(shop: Shop) -> None:
    kept = shop.tub("vegetable stock", allergens=())
    poured = shop.tub("vegetable stock", allergens=("sesame", "wheat"))
    handle.top_up(shop.kitchen, "mk", kept, poured, shop.hand.now)
    dish = prep.record(
        shop.kitchen, "mk", replace(shop.batch("lentil, cooked"), made_from=(kept,), allergens=())
    )
    assert set(dish.allergens) == {"sesame", "wheat"}
    part = handle.split(shop.kitchen, "mk", dish.rows[0].code, shop.hand.now, 2).made[0]
    assert set(why(shop.kitchen, part.code).allergens) == {"sesame", "wheat"}


def test_an_item_of_any_script_stays_an_item_of_its_own(shop: Shop) -> None:
    for name in ("суп 1", "борщ 1", "味噌 soup", "soup"):
        add_item(shop.kitchen, "mk", ev.ItemAdded(name, "cooked-dish"))
    found = {name: shop.row(shop.tub(name)).item for name in ("суп 1", "борщ 1", "味噌 soup")}
    assert len({*found.values(), shop.row(shop.tub("soup")).item}) == 4
    assert shop.row(shop.tub("BECHAMEL")).item_name == "béchamel"
    with pytest.raises(Mistake, match="not the same item"):
        handle.top_up(shop.kitchen, "mk", shop.tub("суп 1"), shop.tub("борщ 1"), shop.hand.now)


# ---- freezer ---------------------------------------------------------------------------------


def test_days_stand_still_in_the_freezer_and_go_on_after_it(shop: Shop) -> None:
    code = shop.tub()
    freeze(shop, code)
    assert shop.row(code).unit == "chest freezer"
    assert (shop.row(code).days_left, shop.row(code).use_by) == (6, None)
    shop.reopens("07-01 08:00")
    thaw(shop, code)
    # Day 1 is 1 June, frozen that day; the day of thawing is day 2.
    assert shop.row(code).last_day == "2026-07-06"
    assert shop.row(code).unit == "walk-in"


def test_freezing_on_the_last_day_leaves_nothing(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-07 20:00")
    freeze(shop, code)
    assert shop.row(code).days_left == 0
    assert shop.holding(code).verdict == "discard"
    with shop.db.reading() as conn:
        ready = label.ready(shop.kitchen, conn, code)
    assert "DO NOT USE - no days left" in tape.tape(shop.kitchen, ready)


def test_food_thawed_in_a_microwave_is_for_use_at_once(shop: Shop) -> None:
    code = shop.tub()
    freeze(shop, code)
    shop.it_is("06-02 08:00")
    thaw(shop, code, "microwave")
    assert shop.row(code).use_by == at("06-02 12:00")


# ---- split -----------------------------------------------------------------------------------


def test_what_is_split_off_carries_date_amount_and_history(shop: Shop) -> None:
    code = shop.tub(amount="6 l")
    done = handle.split(shop.kitchen, "mk", code, shop.hand.now, 3)
    assert [row.amount for row in done.made] == ["2 l", "2 l", "2 l"]
    assert {row.parent for row in done.made} == {code}
    assert done.row.ended_as == "split"
    again = handle.split(shop.kitchen, "mk", done.made[0].code, shop.hand.now, 2).made
    assert [row.amount for row in again] == ["1 l", "1 l"]
    assert {row.last_day for row in again} == {"2026-06-07"}


def test_a_part_taken_out_leaves_the_rest_and_its_amount(shop: Shop) -> None:
    code = shop.tub(amount="6 l")
    part = read_amount("500 ml")
    done = handle.split(shop.kitchen, "mk", code, shop.hand.now, 2, None, part, keep=True)
    assert done.row.ended_at is None
    assert (done.row.amount, [row.amount for row in done.made]) == ("5 l", ["500 ml", "500 ml"])
    handle.top_up(shop.kitchen, "mk", done.made[0].code, done.made[1].code, shop.hand.now)
    assert shop.row(done.made[0].code).amount == "1000 ml"


def test_where_nobody_said_how_much_was_taken_nobody_knows_what_is_left(shop: Shop) -> None:
    code = shop.tub(amount="6 l")
    done = handle.split(shop.kitchen, "mk", code, shop.hand.now, 1, keep=True)
    assert (done.row.amount, done.made[0].amount) == ("", "")


def test_a_part_stays_where_it_was_taken_when_the_old_tub_moves(shop: Shop) -> None:
    code = shop.tub(amount="6 l")
    part = handle.split(shop.kitchen, "mk", code, shop.hand.now, 1, keep=True).made[0].code
    shop.it_is("06-01 09:00")
    handle.move(shop.kitchen, "mk", code, shop.hand.now, shop.unit("reach-in"))
    assert (shop.row(code).unit, shop.row(part).unit) == ("reach-in", "walk-in")


def test_what_happens_after_the_split_is_each_ones_own(shop: Shop) -> None:
    code = shop.tub()
    one, two = codes(handle.split(shop.kitchen, "mk", code, shop.hand.now, 2).made)
    shop.it_is("06-01 09:00")
    freeze(shop, one)
    handle.reading(shop.kitchen, "mk", two, shop.hand.now, temp("60 F"))
    assert (shop.row(one).state, shop.row(one).verdict) == ("frozen", "")
    assert (shop.row(two).state, shop.row(two).verdict) == ("chilled", "hold")


def test_a_fault_of_the_batch_travels_to_splits_of_splits_and_to_dishes(shop: Shop) -> None:
    made = shop.prep("chicken stock", 2)
    one, other = codes(made.rows)
    part = handle.split(shop.kitchen, "mk", one, shop.hand.now, 2).made[0].code
    deep = handle.split(shop.kitchen, "mk", part, shop.hand.now, 2).made[0].code
    dish = stew(shop, other).rows[0].code
    shop.it_is("06-01 15:00")
    for when, reading in (("06:00", ""), ("06:05", "130 F"), ("08:06", "95 F"), ("12:30", "60 F")):
        log_cooling(
            shop.kitchen, "mk", deep, at(f"06-01 {when}"), temp(reading) if reading else None
        )
    assert {shop.row(each).verdict for each in (deep, dish)} == {"discard"}


def test_an_opened_tub_split_in_two_stays_opened(shop: Shop) -> None:
    code = shop.tub("chicken, poached", kind="received")
    shop.it_is("06-03 10:00")
    handle.open_container(shop.kitchen, "an", code, shop.hand.now)
    shop.it_is("06-04 10:00")
    part = handle.split(shop.kitchen, "mk", code, shop.hand.now, 1, keep=True).made[0]
    assert (part.made_kind, part.made_at, part.last_day) == (
        "opened", at("06-03 10:00"), "2026-06-09",
    )  # fmt: skip
    with pytest.raises(Mistake) as told:
        handle.open_container(shop.kitchen, "an", part.code, shop.hand.now)
    assert told.value.code == "not-received"
    with shop.db.reading() as conn:
        assert label.ready(shop.kitchen, conn, part.code).label.purpose == "opened"


def test_a_part_of_thawed_food_is_labelled_thawed(shop: Shop) -> None:
    code = shop.tub()
    freeze(shop, code)
    shop.it_is("06-10 10:00")
    thaw(shop, code)
    part = handle.split(shop.kitchen, "mk", code, shop.hand.now, 1, keep=True).made[0].code
    with shop.db.reading() as conn:
        ready = label.ready(shop.kitchen, conn, part)
    assert ready.label.purpose == "thawed"
    assert str(ready.label.thawed_on) == "2026-06-10"


# ---- top up and combine ----------------------------------------------------------------------


def test_poured_together_the_older_date_wins_either_way_round(shop: Shop) -> None:
    old = shop.prep(count=2, amount="2 l")
    shop.it_is("06-03 08:00")
    new = shop.prep(count=2, amount="4 l")
    one = handle.top_up(shop.kitchen, "mk", new.rows[0].code, old.rows[0].code, shop.hand.now)
    two = handle.top_up(shop.kitchen, "mk", old.rows[1].code, new.rows[1].code, shop.hand.now)
    assert (one.row.last_day, two.row.last_day) == ("2026-06-07", "2026-06-07")
    assert (one.row.amount, two.row.amount) == ("3 l", "3 l")
    assert shop.row(old.rows[0].code).ended_as == "poured together"


def test_all_that_was_poured_in_before_is_poured_on(shop: Shop) -> None:
    one, two, three = codes(shop.prep(count=3, amount="3 l").rows)
    handle.top_up(shop.kitchen, "mk", two, one, shop.hand.now)
    assert handle.top_up(shop.kitchen, "mk", three, two, shop.hand.now).row.amount == "3 l"


@pytest.mark.parametrize("how", ["split", "combined"])
def test_food_is_not_poured_back_into_what_it_came_from(shop: Shop, how: str) -> None:
    code = shop.tub()
    if how == "split":
        part = handle.split(shop.kitchen, "mk", code, shop.hand.now, 1, keep=True).made[0].code
    else:
        wanted = replace(shop.batch("chicken stock"), partly=(code,))
        part = prep.record(shop.kitchen, "mk", wanted).rows[0].code
    before = shop.everything()
    with pytest.raises(Mistake) as told:
        handle.top_up(shop.kitchen, "mk", code, part, shop.hand.now)
    assert told.value.code == "made-of-it"
    assert shop.everything() == before
    # The hint's way works.
    assert handle.top_up(shop.kitchen, "mk", part, code, shop.hand.now).row.ended_at is None
    assert shop.everything() == shop.replayed()


def test_a_starter_fed_daily_for_years_can_still_be_read(shop: Shop) -> None:
    add_item(shop.kitchen, "mk", ev.ItemAdded("starter", "ferment"))
    wanted = shop.batch("starter", facts=ev.Food("", "", ph=None, aw=None, house_days=7))
    code = prep.record(shop.kitchen, "mk", wanted).rows[0].code
    # As many feedings as no kitchen does in a day, and more than Python's calls may nest.
    with shop.kitchen.writing("mk") as write:
        for number in range(700):
            new = write.new_codes(1)
            fact = ev.Prepared(
                ev.Food("starter", "ferment", allergens=("wheat",)), new, "walk-in", None, (code,)
            )
            write.append((fact, shop.hand.now, f"B{number + 2}"))
            (code,) = new
    with shop.db.reading() as conn:
        from holdlog.kitchen.project import allergens
        from holdlog.kitchen.records import Reader, ReplayRecords

        records = ReplayRecords()
        for entry in shop.entries():
            records.add(entry)
        history = Reader(records, shop.kitchen.where).container(code).history
        assert conn is not None
    assert allergens(history) == ("wheat",)


def test_an_ingredient_used_in_part_stays_on_hand(shop: Shop) -> None:
    code = shop.tub()
    dish = stew(shop, partly=(code,))
    assert shop.row(code).ended_at is None
    assert why(shop.kitchen, dish.rows[0].code).made_from == (
        f"chicken stock ({code[:4]}-{code[4:]})",
    )


def test_the_earliest_ingredient_dates_a_dish_three_deep(shop: Shop) -> None:
    old = shop.tub()
    shop.it_is("06-02 09:00")
    one = stew(shop, old).rows[0].code
    shop.it_is("06-04 09:00")
    two = stew(shop, one).rows[0].code
    shop.it_is("06-06 09:00")
    assert stew(shop, two).rows[0].last_day == "2026-06-07"


# ---- hot -------------------------------------------------------------------------------------


def test_one_tub_reheated_and_cooled_again_says_nothing_of_its_siblings(shop: Shop) -> None:
    made = shop.prep(count=2, off_heat_at=shop.hand.now)
    hot, cold = codes(made.rows)
    for when, reading in (("07:30", "69 F"), ("11:00", "40 F")):
        shop.it_is(f"06-01 {when}")
        log_cooling(shop.kitchen, "mk", hot, shop.hand.now, temp(reading))
    assert shop.row(cold).verdict == ""
    shop.it_is("06-02 11:00")
    handle.reheat(shop.kitchen, "mk", hot, shop.hand.now, HOT, shop.unit("hot box"))
    assert (shop.row(hot).state, shop.row(hot).unit) == ("hot-held", "hot box")
    shop.it_is("06-02 15:00")
    done = log_cooling(shop.kitchen, "mk", hot, shop.hand.now, temp("120 F"))
    assert done.alone
    assert shop.row(hot).verdict == "hold"
    still = shop.holding(cold)
    assert (still.verdict, still.cooling and still.cooling.whole) == ("serve", "met")
    # Hot-held food that is cooled keeps its day one.
    assert shop.row(hot).last_day == "2026-06-07"


def test_time_control_ends_in_four_hours_and_does_not_go_back(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-02 12:00")
    fact = ev.Out("4h", temp("40 F"))
    row = handle.take_out(shop.kitchen, "mk", code, shop.hand.now, fact).row
    assert (row.state, row.use_by, row.unit) == ("out", at("06-02 16:00"), "pass shelf")
    handle.move(shop.kitchen, "mk", code, shop.hand.now, shop.unit("walk-in"))
    assert shop.row(code).use_by == at("06-02 16:00")


# ---- late, and in any order ------------------------------------------------------------------


def test_freezing_entered_the_same_day_counts_from_when_it_was(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-01 22:00")
    handle.freeze(shop.kitchen, "mk", code, at("06-01 09:00"), None)
    assert shop.row(code).days_left == 6


def test_freezing_entered_days_later_counts_from_its_entry(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-04 09:00")
    handle.freeze(shop.kitchen, "mk", code, at("06-01 09:00"), None)
    assert shop.row(code).days_left == 3


def test_the_order_of_writing_does_not_matter(shop: Shop) -> None:
    one, two = shop.tub(), shop.tub()
    facts: list[tuple[ev.Fact, Instant]] = [
        (ev.Reading(temp("40 F")), at("06-01 07:00")),
        (ev.Frozen("chest freezer"), at("06-01 08:00")),
        (ev.Thawed("refrigerator", "reach-in"), at("06-01 12:00")),
        (ev.Moved("walk-in"), at("06-01 14:00")),
    ]
    shop.it_is("06-01 20:00")
    for code, ordered in ((one, facts), (two, facts[::-1])):
        with shop.kitchen.writing("mk") as write:
            write.append(*((fact, when, code) for fact, when in ordered))
            write.settle(code)
    left = replace(shop.row(one), code="", batch="", judged_at=Instant(0))
    assert left == replace(shop.row(two), code="", batch="", judged_at=Instant(0))
    assert (left.unit, left.last_day) == ("walk-in", "2026-06-07")


def test_a_discard_takes_the_amount_that_is_known(shop: Shop) -> None:
    code, other = shop.tub(amount="2 l"), shop.tub()
    assert str(discard.discard(shop.kitchen, "mk", code, shop.hand.now, "dat").amount) == "2 l"
    assert discard.discard(shop.kitchen, "mk", other, shop.hand.now, "warm").amount is None


def test_a_lost_row_is_told_of_and_no_number_is_given_twice(shop: Shop) -> None:
    shop.tub()
    with shop.db.appending() as conn:
        for table in ("container", "batch"):
            conn.exec_driver_sql(f"DELETE FROM {table}")
    with pytest.raises(Fault, match="in the journal and not on hand") as told:
        shop.tub()
    assert "doctor --rebuild" in told.value.hint


def test_food_that_needs_no_cold_may_stand_on_a_shelf(shop: Shop) -> None:
    add_item(shop.kitchen, "mk", ev.ItemAdded("crumb, dry", "baked"))
    facts = ev.Food("", "", aw=Decimal("0.60"))
    row = shop.row(shop.tub("crumb", unit="pass shelf", facts=facts))
    assert (row.unit, row.tcs) == ("pass shelf", "not-tcs")
    # Warm food may cool on one, and is on hold until it is cold.
    warm = shop.row(shop.tub(unit="pass shelf", off_heat_at=shop.hand.now))
    assert (warm.unit, warm.verdict) == ("pass shelf", "hold")


def test_two_programs_cannot_both_end_one_tub(shop: Shop) -> None:
    code, first = shop.tub(), shop.kitchen
    second = shop.reopen()
    handle.end(first, "mk", code, shop.hand.now, "used", None)
    with pytest.raises(Mistake) as told:
        handle.top_up(second, "an", shop.tub(), code, shop.hand.now)
    assert told.value.code == "gone"
