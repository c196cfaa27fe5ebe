"""Packs, times out and slow coolings under the books of several authorities: what may not slip.

Each figure is named beside its check; the logs are ours.
"""

from datetime import date
from decimal import Decimal

import pytest

from holdlog.core import events as ev
from holdlog.core.errors import BadFile
from holdlog.core.temperature import read_temperature
from holdlog.rules import rulebook
from holdlog.rules.history import Event, History, Joined
from holdlog.rules.stack import Stack, build
from tests.rules.making import at, book_text, categories, cooling, event, food, found, history


def standing_on(*names: str, house: str = "") -> Stack:
    books = [rulebook.load(*book_text(name)) for name in names]
    return build([*books, *([rulebook.load(house, "house.toml")] if house else [])], categories())


def degrees(text: str) -> ev.Reading:
    return ev.Reading(read_temperature(text))


def out(wall: str, plan: str, read: str = "") -> Event:
    temperature = read_temperature(read) if read else None
    return event(wall, ev.Out(plan, temperature))  # type: ignore[arg-type]


# ---- packs -----------------------------------------------------------------------------------


def sous_vide(*more: Event, how: str = "sous-vide", **facts: object) -> History:
    facts = {"haccp_plan": True, "reduced_oxygen": "sous-vide", **facts}
    return history(
        event("06-01 08:00", ev.Packed(how)),  # type: ignore[arg-type]
        event("06-01 12:00", ev.Prepared()),
        *more,
        of=food("short rib", "cooked-meat", **facts),
    )


def test_opening_a_72_hour_pack_does_not_set_its_food_free() -> None:
    """2009 3-502.12(D)(2)(e)(iii): the food is used within 72 hours of packing, opened or not."""
    opened = sous_vide(event("06-03 12:00", ev.Opened()))
    assert found(opened, "06-04 07:00", standing_on("us-food-code-2009")).use_by == at(
        "06-04 08:00"
    )


def test_a_pack_said_to_be_vacuum_is_no_sous_vide_pack() -> None:
    """3-502.12(D) is for food sealed before cooking or while hot; any other pack has 48 hours."""
    assert found(sous_vide(how="vacuum"), "06-02 09:00").use_by == at("06-03 08:00")


def test_food_sealed_after_it_went_cold_is_no_cook_chill_pack() -> None:
    """3-502.12(D)(2)(b): sealed before cooking, or while still at 135 °F or above."""
    late = history(
        event("06-01 12:00", ev.Prepared()),
        event("06-01 16:00", ev.Chilled(read_temperature("40 F"))),
        event("06-02 08:00", ev.Packed("cook-chill")),
        of=food("chili", haccp_plan=True, reduced_oxygen="cook-chill"),
    )
    assert found(late, "06-02 09:00").use_by == at("06-04 08:00")


def test_a_pack_that_is_not_allowed_stops_no_count() -> None:
    """3-502.12(C): fish is packed only frozen; its days of date marking run on in such a pack."""
    fish = history(
        event("06-01 09:00", ev.Prepared()),
        event("06-01 10:00", ev.Packed("vacuum")),
        event("06-20 10:00", ev.Opened()),
        of=food("gravlax", "cured-seafood", haccp_plan=True, aw="0.90", variance=True),
    )
    holding = found(fish, "06-20 11:00")
    assert holding.verdict == "discard"
    assert holding.last_day is not None
    assert holding.last_day.isoformat() == "2026-06-07"


def test_cooked_meat_no_longer_has_the_barrier_of_raw_meat() -> None:
    """3-502.12(B)(1)(d): competing organisms, as on raw meat; cooking kills them."""
    made = [event("06-01 09:00", ev.Received()), event("06-01 15:00", ev.Packed("vacuum"))]
    cooked = [event("06-01 11:00", ev.OffHeat()), cooling("06-01 12:30", "70 F"),
              cooling("06-01 14:00", "41 F")]  # fmt: skip
    beef = food("beef", "raw-meat", haccp_plan=True)
    raw = found(history(*made, of=beef), "06-02 09:00")
    assert raw.last_day is not None
    assert raw.last_day.isoformat() == "2026-06-30"
    assert found(history(*made, *cooked, of=beef), "06-02 09:00").use_by == at("06-03 15:00")


@pytest.mark.parametrize(("variance", "hours"), [(True, False), (False, True)])
def test_acid_added_here_is_a_barrier_only_under_a_variance(variance: bool, hours: bool) -> None:
    """3-502.11(C); 3-502.12(B)(1)(b) asks for pH 4.6 or less."""
    pickle = food("onions", "pickle", ph="4.5", haccp_plan=True, variance=variance)
    packed = history(
        event("06-01 09:00", ev.Prepared()), event("06-01 10:00", ev.Packed("vacuum")), of=pickle
    )
    use_by = found(packed, "06-02 09:00").use_by
    assert (use_by == at("06-03 10:00")) == hours


def test_the_makers_date_ends_the_thirty_days_whatever_it_was_set_for() -> None:
    """3-502.12(B)(4): or the maker's sell-by or use-by date, whichever is first."""
    received = ev.Received(maker_use_by=date(2026, 6, 12), maker_date_for="quality")
    beef = history(
        event("06-01 09:00", received),
        event("06-01 10:00", ev.Packed("vacuum")),
        of=food("beef", "raw-meat", haccp_plan=True),
    )
    holding = found(beef, "06-02 09:00")
    assert holding.last_day is not None
    assert holding.last_day.isoformat() == "2026-06-12"


def test_a_ruling_on_freezing_settles_nothing_of_packing() -> None:
    """North Carolina leaves out the day of freezing; that the day of packing counts is ours."""
    ham = food("ham", "cooked-meat", haccp_plan=True, aw="0.90", reduced_oxygen="vacuum")
    opened = history(
        event("06-01 09:00", ev.Prepared()),
        event("06-02 09:00", ev.Packed("vacuum")),
        event("06-20 09:00", ev.Opened()),
        of=ham,
    )
    by = standing_on("us-food-code-2017", "us-nc")
    last_day = found(opened, "06-20 10:00", by).last_day
    assert last_day is not None
    assert last_day.isoformat() == "2026-06-24"


@pytest.mark.parametrize("name", ["fr-2009", "au-3-2-2", "uk-scotland", "ie-cook-chill", "us-ny"])
def test_a_pack_that_the_rules_say_nothing_of_is_not_passed_over_in_silence(name: str) -> None:
    packed = history(event("06-01 09:00", ev.Prepared()), event("06-01 10:00", ev.Packed("vacuum")))
    cautions = found(packed, "06-01 11:00", standing_on(name)).cautions
    assert any("nothing of packing with the oxygen reduced" in each for each in cautions)


def test_france_leaves_no_frozen_time_out_and_says_so() -> None:
    """The decree says nothing of time frozen: three days after the day it was made."""
    frozen = [event("06-01 09:00", ev.Prepared()), event("06-01 18:00", ev.Frozen())]
    thawed = event("06-10 08:00", ev.Thawed("refrigerator"))
    by = standing_on("fr-2009")
    holding = found(history(*frozen, thawed), "06-10 09:00", by)
    assert holding.verdict == "discard"
    assert any("run on in the freezer" in each for each in holding.cautions)


# ---- time control ----------------------------------------------------------------------------


def test_going_back_does_not_mend_a_warm_start() -> None:
    """Australia: food may go back after under 2 hours, but it has to have been cold before."""
    log = [
        event("06-01 09:00", ev.Prepared()),
        out("06-01 10:00", "4h", "12 C"),
        event("06-01 11:00", ev.Chilled(read_temperature("5 C"))),
    ]
    assert found(history(*log), "06-01 11:30", standing_on("au-3-2-2")).verdict == "hold"


def test_the_hours_an_ingredient_was_out_add_up_in_the_dish() -> None:
    """FSANZ, the 2 hour/4 hour rule: all the times out are added up."""
    ham = history(
        event("06-01 08:00", ev.Prepared()),
        out("06-01 09:00", "4h", "4 C"),
        event("06-01 10:30", ev.Chilled(read_temperature("5 C"))),
        of=food("ham", "cooked-meat"),
    )
    dish = history(
        event("06-01 12:00", ev.Prepared()),
        out("06-01 13:00", "4h", "4 C"),
        made_from=[Joined(ham, at("06-01 12:00"))],
    )
    use_by = found(dish, "06-01 13:05", standing_on("au-3-2-2")).use_by
    assert use_by is not None
    assert at("06-01 15:29") < use_by < at("06-01 15:30")


def test_what_was_cooked_while_out_still_has_to_be_shown_to_cool() -> None:
    """Australia: 60 to 21 °C within 2 hours (7(3)); putting it away in time proves nothing."""
    stew = history(
        event("06-01 09:00", ev.Received()),
        out("06-01 10:00", "4h", "4 C"),
        event("06-01 10:30", ev.OffHeat()),
        event("06-01 11:00", ev.Chilled()),
    )
    assert found(stew, "06-02 11:30", standing_on("au-3-2-2")).verdict == "hold"


@pytest.mark.parametrize(
    ("name", "plan"), [("uk-england", "4h"), ("us-food-code-2022", "6h"), ("au-3-2-2", "4h")]
)
def test_hot_food_nobody_measured_does_not_start_a_plan_for_cold_food(name: str, plan: str) -> None:
    """England gives hot food 2 hours and cold food 4; FDA's 6 hours start at 41 °F."""
    log = [
        event("06-01 09:00", ev.Prepared()),
        event("06-01 09:30", ev.HotHeld(read_temperature("70 C"))),
        out("06-01 10:00", plan),
    ]
    assert found(history(*log), "06-01 10:30", standing_on(name)).verdict == "hold"


def test_a_reading_on_the_other_scale_while_out_holds_and_does_not_discard() -> None:
    """France prints 10 °C."""
    log = [event("06-01 09:00", ev.Prepared()), out("06-01 10:00", "2h", "3 C")]
    odd = event("06-01 10:30", degrees("40 F"))
    assert found(history(*log, odd), "06-01 10:35", standing_on("fr-2009")).verdict == "hold"
    warm = event("06-01 10:30", degrees("10.5 C"))
    assert found(history(*log, warm), "06-01 10:35", standing_on("fr-2009")).verdict == "discard"


def test_a_measurement_remembered_the_next_day_is_no_measurement() -> None:
    """New York City 81.10: measured at 4 hours. The log crosses midnight."""
    log = [event("06-02 08:00", ev.Prepared()), out("06-02 19:30", "6h", "40 F")]
    by = standing_on("us-ny", "us-nyc")
    on_time = event("06-02 23:30", degrees("60 F"))
    remembered = event("06-02 23:30", degrees("60 F"), written="06-03 00:10")
    assert found(history(*log, on_time), "06-03 00:20", by).verdict == "last-day"
    assert found(history(*log, remembered), "06-03 00:20", by).verdict == "hold"


# ---- cooling ---------------------------------------------------------------------------------


def test_a_reading_on_the_other_scale_may_contradict_a_cooling() -> None:
    """Standard 3.2.2 7(3) prints °C: what came after the last good reading is not known."""
    log = [
        event("05-04 10:00", ev.Prepared()),
        event("05-04 10:00", ev.OffHeat()),
        cooling("05-04 11:00", "21 C"),
        cooling("05-04 12:00", "5 C"),
    ]
    by = standing_on("au-3-2-2")
    assert found(history(*log), "05-04 20:00", by).verdict == "serve"
    assert found(history(*log, cooling("05-04 13:00", "90 F")), "05-04 20:00", by).verdict == "hold"


def test_a_thin_layer_heated_again_before_it_was_cold_has_to_be_shown_cold() -> None:
    beans = history(
        event("06-01 11:50", ev.Prepared()),
        event("06-01 12:00", ev.OffHeat()),
        event("06-01 12:05", ev.CoolingIn(read_temperature("38 F"), "shallow")),
        cooling("06-01 19:00", "100 F"),
        event("06-01 20:00", ev.Reheated(read_temperature("165 F"), 15, 30)),
        of=food("beans", "cooked-legume", depth_in=Decimal(2)),
    )
    by = standing_on("us-food-code-2017", "us-wa")
    assert found(beans, "06-02 12:00", by).verdict == "hold"


@pytest.mark.parametrize(
    ("surroundings", "verdict"), [("38 F", "serve"), ("70 F", "discard"), ("", "discard")]
)
def test_a_thin_layer_has_no_clock_only_in_the_cold(surroundings: str, verdict: str) -> None:
    """WAC 246-215-03515(1)(a): 2 inches or less, in equipment at 41 °F or below."""
    place = read_temperature(surroundings) if surroundings else None
    beans = history(
        event("06-01 11:50", ev.Prepared()),
        event("06-01 12:00", ev.OffHeat()),
        event("06-01 12:05", ev.CoolingIn(place, "shallow")),
        cooling("06-01 12:10", "130 F"),
        cooling("06-01 19:00", "100 F"),
        cooling("06-01 22:00", "41 F"),
        of=food("beans", "cooked-legume", depth_in=Decimal(2)),
    )
    by = standing_on("us-food-code-2017", "us-wa")
    assert found(beans, "06-01 22:30", by).verdict == verdict


@pytest.mark.parametrize(
    ("then", "verdict"),
    [
        # Put elsewhere while still warm, and nobody said how warm it is there.
        ([event("06-01 13:00", ev.Moved("reach-in"))], "discard"),
        ([event("06-01 13:00", ev.CoolingIn(None, "rack"))], "discard"),
        # Measured there as well, or moved once it was cold.
        ([event("06-01 13:00", ev.CoolingIn(read_temperature("39 F"), "rack"))], "serve"),
        ([event("06-01 22:20", ev.Moved("reach-in"))], "serve"),
    ],
)
def test_a_thin_layer_put_where_nobody_measured_has_the_clock(
    then: list[Event], verdict: str
) -> None:
    """WAC 246-215-03515(1)(a) asks for equipment at 41 °F or below, all the way."""
    beans = history(
        event("06-01 11:50", ev.Prepared()),
        event("06-01 12:00", ev.OffHeat()),
        event("06-01 12:05", ev.CoolingIn(read_temperature("38 F"), "shallow")),
        cooling("06-01 12:10", "130 F"),
        *then,
        cooling("06-01 19:00", "100 F"),
        cooling("06-01 22:00", "41 F"),
        of=food("beans", "cooked-legume", depth_in=Decimal(2)),
    )
    by = standing_on("us-food-code-2017", "us-wa")
    assert found(beans, "06-01 22:30", by).verdict == verdict


def test_a_cold_place_written_down_on_a_later_day_proves_no_thin_layer() -> None:
    """Without evidence a late entry proves nothing; with it, it does."""

    def beans(evidence: str) -> History:
        place = ev.CoolingIn(read_temperature("38 F"), "shallow")
        return history(
            event("06-01 11:50", ev.Prepared()),
            event("06-01 12:00", ev.OffHeat()),
            event("06-01 12:05", place, written="06-02 09:00", evidence=evidence),
            cooling("06-01 19:00", "100 F"),
            cooling("06-01 22:00", "41 F"),
            of=food("beans", "cooked-legume", depth_in=Decimal(2)),
        )

    by = standing_on("us-food-code-2017", "us-wa")
    assert found(beans(""), "06-02 10:00", by).verdict == "hold"
    assert found(beans("cooling sheet 12, MK"), "06-02 10:00", by).verdict == "serve"


def test_without_a_rule_of_cooling_food_on_its_way_is_held_until_it_is_cold() -> None:
    """England: not above 8 °C (schedule 4 paragraph 2), and no minutes for getting there."""
    log = [
        event("06-01 10:00", ev.Prepared()),
        event("06-01 10:00", ev.OffHeat()),
        cooling("06-01 18:00", "30 C"),
    ]
    by = standing_on("uk-england")
    assert found(history(*log), "06-01 18:05", by).verdict == "hold"
    assert found(history(*log, cooling("06-01 19:00", "8 C")), "06-01 19:05", by).verdict == "serve"


# ---- highly susceptible people, and house rules ----------------------------------------------


@pytest.mark.parametrize(("kind", "verdict"), [("cut-produce", "refuse"), ("cooked-dish", "serve")])
def test_raw_sprouts_are_refused_inside_a_dish_too(kind: str, verdict: str) -> None:
    """3-801.11(C): no raw seed sprouts for highly susceptible people."""
    sprouts = history(event("06-01 09:00", ev.Prepared()), of=food("sprouts", "sprouts"))
    mixed = history(
        event("06-01 10:00", ev.Prepared()),
        of=food("mix", "cut-produce"),
        made_from=[Joined(sprouts, at("06-01 10:00"))],
    )
    dish = history(
        event("06-01 11:00", ev.Prepared()),
        of=food("lunch", kind, susceptible_population=True),
        made_from=[Joined(mixed, at("06-01 11:00"))],
    )
    assert found(dish, "06-01 12:00").verdict == verdict


def test_fish_that_was_only_cured_is_refused_where_susceptible_people_are_served() -> None:
    """3-801.11(C)(1): raw-marinated fish is raw animal food."""
    cured = food("gravlax", "cured-seafood", susceptible_population=True)
    assert found(history(event("06-01 09:00", ev.Prepared()), of=cured), "06-01 12:00").verdict == (
        "refuse"
    )


HOUSE_COLD = """
id = "tern-and-tide"
title = "Tern & Tide, house rules"
role = "house"

[rule.ours]
kind = "holding-limit"
place = "cold"
limit = {{ {limit} }}
categories = ["cooked-dish"]
cite = "house"
says = "Ours."
seen = "text"
"""


def test_a_house_limit_for_one_kind_of_food_stands_beside_the_law() -> None:
    """England prints 8 °C; a house figure of 5 °C leaves it standing."""
    by = standing_on("uk-england", house=HOUSE_COLD.format(limit="f = 41, c = 5"))
    quiche = event("06-01 10:00", ev.Prepared())
    assert (
        found(history(quiche, event("06-01 12:00", degrees("5 C"))), "06-01 12:05", by).verdict
        == "serve"
    )
    # 40 °F keeps the house figure, but the law's 8 °C cannot be read on that probe.
    assert (
        found(history(quiche, event("06-01 12:00", degrees("40 F"))), "06-01 12:05", by).verdict
        == "hold"
    )


def test_a_house_limit_on_another_scale_than_the_law_is_refused() -> None:
    with pytest.raises(BadFile, match="another scale"):
        standing_on("uk-england", house=HOUSE_COLD.format(limit="f = 60"))


# ---- packs bring nothing back; hot holding needs a reheat ------------------------------------


def test_packing_food_past_its_days_brings_nothing_back() -> None:
    """3-501.18(A): past its days it is discarded, whatever it is put into."""
    ham = food("ham", "cooked-meat", haccp_plan=True, aw="0.91", ph="6.0", reduced_oxygen="vacuum")
    packed = history(
        event("06-01 09:00", ev.Prepared()), event("06-10 09:00", ev.Packed("vacuum")), of=ham
    )
    holding = found(packed, "06-10 10:00")
    assert holding.verdict == "discard"
    assert holding.last_day is not None
    assert holding.last_day.isoformat() == "2026-06-07"


def test_a_bag_nobody_knows_to_have_been_sealed_hot_is_no_cook_chill() -> None:
    """3-502.12(D)(2)(b): sealed before cooking, or before it falls below 135 °F."""
    shin = food("beef shin", "cooked-meat", haccp_plan=True, reduced_oxygen="cook-chill")
    made, bag = event("06-01 09:00", ev.Prepared()), event("06-01 10:00", ev.Packed("cook-chill"))
    unknown = found(history(made, bag, of=shin), "06-01 11:00")
    assert unknown.use_by == at("06-03 10:00"), "the 48 hours of any pack"
    hot = cooling("06-01 10:05", "150 F")
    cold = cooling("06-01 12:00", "40 F")
    known = found(history(made, bag, hot, cold, of=shin), "06-01 13:00")
    assert known.last_day is not None
    assert known.last_day.isoformat() == "2026-06-07"


@pytest.mark.parametrize(
    ("temperature", "verdict"), [("120 F", "hold"), ("164.9 F", "hold"), ("165 F", "serve")]
)
def test_food_is_held_hot_only_after_a_reheat_that_reached_the_rule(
    temperature: str, verdict: str
) -> None:
    """3-403.11(A): 165 °F for hot holding."""
    stew = history(
        event("06-01 09:00", ev.Prepared()),
        event("06-03 09:00", ev.Reheated(read_temperature(temperature), 15, 30)),
        event("06-03 09:30", ev.HotHeld(read_temperature("140 F"))),
    )
    assert found(stew, "06-03 10:00").verdict == verdict


def test_food_that_was_logged_cold_is_not_held_hot_without_a_reheat() -> None:
    stew = history(
        event("06-01 09:00", ev.Prepared()),
        event("06-02 09:00", ev.Reading(read_temperature("38 F"))),
        event("06-03 09:30", ev.HotHeld(read_temperature("140 F"))),
    )
    assert found(stew, "06-03 10:00").verdict == "hold"
    fresh = history(
        event("06-03 09:00", ev.Prepared()),
        event("06-03 09:30", ev.HotHeld(read_temperature("140 F"))),
    )
    assert found(fresh, "06-03 10:00").verdict == "serve"


def test_a_reheat_hours_after_a_miss_mends_nothing() -> None:
    """Found within the hour, hot again within the two hours that reheating may take: ours."""
    log = [
        event("06-01 09:00", ev.Prepared()),
        event("06-01 10:00", ev.OffHeat()),
        cooling("06-01 10:10", "134 F"),
        cooling("06-01 12:15", "75 F"),
    ]
    late = event("06-01 15:59", ev.Reheated(read_temperature("165 F"), 15, 30))
    prompt = event("06-01 13:30", ev.Reheated(read_temperature("165 F"), 15, 30))
    cooled = [cooling("06-01 17:00", "69 F"), cooling("06-01 18:00", "41 F")]
    again = [cooling("06-01 15:00", "69 F"), cooling("06-01 18:00", "41 F")]
    assert found(history(*log, late, *cooled), "06-01 19:00").verdict == "discard"
    assert found(history(*log, prompt, *again), "06-01 19:00").verdict == "serve"


def test_a_quick_thaw_under_time_control_still_shortens() -> None:
    """Found by the laws: taken out frozen, then thawed in a microwave an hour later."""
    stew = history(
        event("06-01 09:00", ev.Prepared()),
        event("06-01 10:00", ev.Frozen()),
        event("06-03 09:00", ev.Out("6h", read_temperature("40 F"))),
        event("06-03 10:00", ev.Thawed("microwave")),
    )
    assert found(stew, "06-03 10:30").use_by == at("06-03 14:00")
