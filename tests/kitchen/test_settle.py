"""Keeping food that was on hold: only with everything measured, and never against a rule."""

from collections.abc import Callable

import pytest

from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.kitchen import audit as auditing
from holdlog.kitchen.correct import void
from holdlog.kitchen.due import due
from holdlog.kitchen.handle import reading, split
from holdlog.kitchen.settle import Settlement, settle, settle_unit
from holdlog.kitchen.unit_story import story
from holdlog.kitchen.why import why
from tests.kitchen.cold import every, excursions, file, read, take_in
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import Shop, at, codes, day, temp

NIGHT = [
    *every(5, "06-01 06:00", "06-02 03:00", "38.5"),
    *every(5, "06-02 03:00", "06-02 03:30", "44"),
    *every(5, "06-02 03:30", "06-02 06:30", "38"),
]
PAPER = "logger file walk-in"


def keep(shop: Shop, code: str, reason: str = "30 min at 44 F, food read 40 F") -> Settlement:
    return settle(shop.kitchen, "jr", code, reason, PAPER)


def refusal(work: Callable[[], object]) -> Mistake:
    with pytest.raises(Mistake) as caught:
        work()
    return caught.value


@pytest.fixture
def morning(shop: Shop) -> Shop:
    """Two tubs of the walk-in on hold by the logger's file of the night."""
    shop.tub()
    shop.tub("white bean, cooked")
    shop.it_is("06-02 07:00")
    take_in(shop, file(NIGHT))
    assert [row.verdict for row in shop.live()] == ["hold", "hold"]
    return shop


def test_a_measured_excursion_is_settled_and_the_food_is_served(morning: Shop) -> None:
    code, other = codes(morning.live())
    done = keep(morning, code)
    assert codes(done.kept) == [code]
    assert done.others == ()
    assert morning.row(code).verdict == ""
    assert morning.row(other).verdict == "hold"
    assert codes(due(morning.kitchen).hold) == [other]
    assert any("food read 40 F" in text for text in morning.holding(code).cautions)
    assert morning.bad() == []


def test_who_kept_it_and_why_is_told(morning: Shop) -> None:
    code = morning.live()[0].code
    keep(morning, code)
    (told,) = [each for each in why(morning.kitchen, code).story if each.says.startswith("kept")]
    assert told.by == "JR"
    assert "food read 40 F" in told.says
    assert PAPER in told.says
    found = auditing.audit(morning.kitchen, day("06-02"), day("06-02"))
    (remark,) = [each for each in found.remarks if each.what == "settled"]
    assert (remark.subject, remark.by) == (code, "JR")
    past = story(morning.kitchen, morning.unit("walk-in"), at("06-02 00:00"), at("06-02 07:00"))
    decided = {each.row.code: each.decision for each in past.struck}
    assert sorted(decided.values()) == ["kept", "on hold"]
    assert decided[code] == "kept"


def test_a_whole_unit_is_settled_at_once(morning: Shop) -> None:
    done = settle_unit(morning.kitchen, "jr", morning.unit("walk-in"), "read 40 F", PAPER)
    assert codes(done.kept) == sorted(codes(morning.live()))
    assert {row.verdict for row in morning.live()} == {""}
    again = refusal(
        lambda: settle_unit(morning.kitchen, "jr", morning.unit("walk-in"), "read 40 F", PAPER)
    )
    assert again.code == "not-on-hold"


def test_it_needs_a_reason_and_what_it_rests_on(morning: Shop) -> None:
    code = morning.live()[0].code
    entries = len(morning.entries())
    assert refusal(lambda: settle(morning.kitchen, "jr", code, " ", PAPER)).code == "no-reason"
    assert refusal(lambda: settle(morning.kitchen, "jr", code, "fine", "")).code == "no-evidence"
    assert len(morning.entries()) == entries


def test_food_that_is_not_on_hold_is_not_settled(shop: Shop) -> None:
    code = shop.tub()
    assert refusal(lambda: keep(shop, code)).code == "not-on-hold"


def test_unknown_time_is_entered_first(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-02 05:40")
    read(shop, "44F")
    shop.it_is("06-02 07:00")
    read(shop, "38F")
    refused = refusal(lambda: keep(shop, code))
    assert refused.code == "unknown-time"
    assert "23 h 40 min" in refused.sentence
    assert 'holdlog unit import "walk-in"' in refused.hint
    take_in(
        shop,
        file(
            every(5, "06-01 06:00", "06-02 05:00", "38")
            + every(5, "06-02 05:00", "06-02 06:00", "44")
        ),
    )
    assert keep(shop, code).kept[0].verdict == ""


def test_while_the_unit_is_beyond_its_limit_nothing_in_it_is_kept(morning: Shop) -> None:
    code = morning.live()[0].code
    read(morning, "45F")
    assert refusal(lambda: keep(morning, code)).code == "unknown-time"
    morning.it_is("06-02 07:20")
    read(morning, "39F")
    # Since 06:25 nothing was measured until 07:00: that is entered first.
    assert refusal(lambda: keep(morning, code)).code == "unknown-time"
    take_in(morning, file(every(5, "06-02 06:30", "06-02 07:15", "40")))
    assert keep(morning, code).kept[0].verdict == ""


def test_a_unit_that_is_still_warm_is_read_again_first(morning: Shop) -> None:
    code = morning.live()[0].code
    take_in(morning, file(every(5, "06-02 06:30", "06-02 07:00", "38")))
    read(morning, "45F")
    refused = refusal(lambda: keep(morning, code))
    assert refused.code == "still-beyond"
    assert "45 °F" in refused.sentence
    morning.it_is("06-02 07:10")
    read(morning, "39F")
    assert keep(morning, code).kept[0].verdict == ""


def test_what_the_rules_discard_is_not_settled(morning: Shop) -> None:
    code = morning.live()[0].code
    morning.it_is("06-09 07:00")
    refused = refusal(lambda: keep(morning, code))
    assert refused.code == "unfit"
    assert f"holdlog discard {show(code)}" in refused.hint


def test_an_unproven_cooling_is_not_settled_with_it(shop: Shop) -> None:
    code = shop.tub("fish stock")
    log_cooling(shop.kitchen, "mk", code, at("06-01 06:00"), temp("120F"))
    shop.it_is("06-02 07:00")
    log_cooling(shop.kitchen, "mk", code, shop.hand.now, temp("39F"))
    take_in(shop, file(NIGHT))
    refused = refusal(lambda: keep(shop, code))
    assert refused.code == "unproven"
    assert "--evidence" in refused.hint


def test_a_reading_of_the_food_is_settled_when_the_time_before_it_is_measured(shop: Shop) -> None:
    code = shop.tub()
    reading(shop.kitchen, "mk", code, shop.hand.now, temp("39F"))
    shop.it_is("06-01 09:00")
    reading(shop.kitchen, "mk", code, shop.hand.now, temp("43F"))
    assert shop.row(code).verdict == "hold"
    refused = refusal(lambda: keep(shop, code))
    assert refused.code == "unknown-time"
    assert f"holdlog read {show(code)}" in refused.hint
    shop.it_is("06-01 09:30")
    take_in(shop, file(every(5, "06-01 06:00", "06-01 09:15", "38.5")))
    assert keep(shop, code).kept[0].verdict == ""
    assert shop.bad() == []


def test_a_reading_half_an_hour_after_a_good_one_is_settled_as_it_stands(shop: Shop) -> None:
    code = shop.tub()
    reading(shop.kitchen, "mk", code, shop.hand.now, temp("39F"))
    shop.it_is("06-01 06:25")
    reading(shop.kitchen, "mk", code, shop.hand.now, temp("43F"))
    assert keep(shop, code).kept[0].verdict == ""


def test_a_reading_entered_later_needs_its_paper_to_prove_anything(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-02 09:00")
    reading(shop.kitchen, "mk", code, shop.hand.now, temp("43F"))
    reading(shop.kitchen, "mk", code, at("06-01 23:40"), temp("39F"))
    assert refusal(lambda: keep(shop, code)).code == "unknown-time"


def test_what_was_taken_out_of_a_tub_since_is_released_with_it_and_named(shop: Shop) -> None:
    whole = shop.tub()
    shop.it_is("06-02 05:00")
    (part,) = codes(split(shop.kitchen, "mk", whole, shop.hand.now, 1, keep=True).made)
    shop.it_is("06-02 07:00")
    take_in(shop, file(NIGHT))
    assert {shop.row(code).verdict for code in (whole, part)} == {"hold"}
    done = keep(shop, part)
    assert codes(done.kept) == [part]
    assert codes(done.others) == [whole]
    assert {shop.row(code).verdict for code in (whole, part)} == {""}
    assert shop.bad() == []


def test_a_new_excursion_puts_it_on_hold_again(morning: Shop) -> None:
    code = morning.live()[0].code
    keep(morning, code)
    morning.it_is("06-03 07:00")
    take_in(
        morning,
        file(
            [
                *every(5, "06-02 06:30", "06-03 03:00", "38"),
                *every(5, "06-03 03:00", "06-03 04:00", "46"),
                *every(5, "06-03 04:00", "06-03 06:00", "38"),
            ]
        ),
    )
    assert morning.row(code).verdict == "hold"
    assert len(excursions(morning, code)) == 2
    assert morning.bad() == []


def test_a_dish_on_hold_for_its_ingredient_points_there(shop: Shop) -> None:
    beans = shop.tub("white bean, cooked")
    shop.it_is("06-02 05:00")
    dish = shop.prep("chicken stock", unit="reach-in", made_from=(beans,)).rows[0].code
    shop.it_is("06-02 07:00")
    take_in(shop, file(NIGHT))
    assert shop.row(dish).verdict == "hold"
    refused = refusal(lambda: keep(shop, dish))
    assert refused.code == "not-on-hold"
    assert "ingredient" in refused.line()


def test_a_settlement_that_is_taken_back_keeps_nothing(morning: Shop) -> None:
    code = morning.live()[0].code
    keep(morning, code)
    assert morning.row(code).verdict == ""
    story_of = why(morning.kitchen, code).story
    number = next(each.number for each in story_of if each.says.startswith("kept after"))
    void(morning.kitchen, "jr", number, "the wrong tub")
    assert morning.row(code).verdict == "hold"
    assert morning.bad() == []


def test_what_came_in_too_warm_is_sent_back_and_not_settled(shop: Shop) -> None:
    """It is on hold for a reading: to say that it is not would send the cook in circles."""
    code = shop.tub("halibut portion, raw", kind="received", temperature=temp("52F"))
    with pytest.raises(Mistake, match="came in at 52 °F: for how long") as caught:
        settle(shop.kitchen, "jr", code, "the probe was warm", "sheet 3")
    assert f"holdlog use {show(code)} --as returned" in caught.value.hint
    assert shop.facts("settled") == []
