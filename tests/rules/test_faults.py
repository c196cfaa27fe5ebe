"""Faults override dates, stay with the food, and travel to what is made of it."""

from decimal import Decimal

import pytest

from holdlog.core import events as ev
from holdlog.core.moments import DAY, Instant
from holdlog.core.temperature import Scale, Temperature
from holdlog.rules.history import Event, History, Joined
from tests.rules.making import at, cooling, event, food, found, history


def warm(degrees: str, scale: Scale = "F") -> Temperature:
    return Temperature(Decimal(degrees), scale)


@pytest.mark.parametrize(
    ("reading", "verdict"),
    [
        # §3-501.16(A)(2): 41 °F (5 °C) or below; the figure itself passes, on its own scale.
        (warm("41"), "serve"),
        (warm("41.1"), "hold"),
        (warm("5.0", "C"), "serve"),
        (warm("5.1", "C"), "hold"),
    ],
)
def test_a_cold_reading_beyond_its_limit_holds_the_food(reading: Temperature, verdict: str) -> None:
    stew = history(event("06-01 10:00", ev.Prepared()), event("06-02 10:00", ev.Reading(reading)))
    assert found(stew, "06-02 11:00").verdict == verdict


@pytest.mark.parametrize(
    ("reading", "verdict"),
    # §3-501.16(A)(1): 135 °F (57 °C) or above.
    [(warm("135"), "serve"), (warm("134.9"), "hold"), (warm("57.0", "C"), "serve")],
)
def test_a_hot_reading_beyond_its_limit_holds_the_food(reading: Temperature, verdict: str) -> None:
    stew = history(event("06-01 10:00", ev.Prepared()), event("06-01 12:00", ev.HotHeld(reading)))
    assert found(stew, "06-01 13:00").verdict == verdict


def test_a_good_reading_later_does_not_release_it() -> None:
    stew = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 10:00", ev.Reading(warm("50"))),
        event("06-02 12:00", ev.Reading(warm("38"))),
    )
    holding = found(stew, "06-02 13:00")
    assert holding.verdict == "hold"
    assert "50 °F" in holding.reason


def test_freezing_does_not_release_it() -> None:
    stew = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 10:00", ev.Reading(warm("50"))),
        event("06-02 12:00", ev.Frozen()),
    )
    assert found(stew, "06-20 13:00").verdict == "hold"


@pytest.mark.parametrize(("degrees", "verdict"), [("32", "serve"), ("33", "hold")])
def test_food_above_freezing_in_the_freezer_is_not_frozen(degrees: str, verdict: str) -> None:
    # §3-501.11: stored frozen food is kept frozen. The figure is the freezing point of water.
    stew = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 12:00", ev.Frozen()),
        event("06-03 12:00", ev.Reading(warm(degrees))),
    )
    assert found(stew, "06-03 13:00").verdict == verdict


def test_unmarked_food_is_discarded() -> None:
    # §3-501.18(A)(2).
    assert found(history(event("06-01 10:00", ev.Chilled())), "06-01 11:00").verdict == "discard"
    assert found(history(), "06-01 11:00").verdict == "discard"


def test_thawed_without_having_been_frozen_is_refused() -> None:
    stew = history(
        event("06-01 10:00", ev.Prepared()), event("06-02 10:00", ev.Thawed("refrigerator"))
    )
    assert found(stew, "06-02 11:00").verdict == "refuse"


def test_thawing_and_chilling_written_for_one_moment_are_no_contradiction() -> None:
    stew = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 10:00", ev.Frozen()),
        event("06-09 10:00", ev.Chilled(warm("38"))),
        event("06-09 10:00", ev.Thawed("refrigerator")),
    )
    assert found(stew, "06-09 11:00").verdict == "serve"


@pytest.mark.parametrize("kind", ["raw-seafood", "cured-seafood", "cooked-seafood"])
def test_fish_is_packed_without_air_only_frozen(kind: str) -> None:
    # §3-502.12(C).
    fish = [event("06-01 09:00", ev.Received()), event("06-01 10:00", ev.Frozen())]
    packed = event("06-01 12:00", ev.Packed("vacuum"))
    of = food("halibut", kind)
    assert found(history(*fish, packed, of=of), "06-01 13:00").verdict != "refuse"
    thawed = event("06-02 10:00", ev.Thawed("refrigerator"))
    assert found(history(*fish, packed, thawed, of=of), "06-02 11:00").verdict == "refuse"
    assert found(history(fish[0], packed, of=of), "06-01 13:00").verdict == "refuse"
    late = event("06-01 10:00", ev.Frozen(), written="06-02 09:00")
    assert found(history(fish[0], late, packed, of=of), "06-02 10:00").verdict == "refuse"


@pytest.mark.parametrize("plan", ["4h", "6h"])
def test_no_time_control_of_raw_egg_for_highly_susceptible_people(plan: str) -> None:
    # §3-501.19(D).
    out = event("06-01 10:00", ev.Out("4h" if plan == "4h" else "6h", warm("40")))
    begun = event("06-01 09:00", ev.Received())
    egg = food("egg, pooled", "egg", susceptible_population=True)
    assert found(history(begun, out, of=egg), "06-01 11:00").verdict == "refuse"
    others = food("egg, pooled", "egg")
    assert found(history(begun, out, of=others), "06-01 11:00").verdict != "refuse"


@pytest.mark.parametrize(
    ("plan", "degrees", "verdict"),
    [
        # §3-501.19(B)(1), (C)(1): from 41 °F or below, or (four hours only) 135 °F or above.
        ("4h", "41", "last-day"),
        ("4h", "42", "hold"),
        ("4h", "135", "last-day"),
        ("4h", "134", "hold"),
        ("6h", "41", "last-day"),
        ("6h", "42", "hold"),
        ("6h", "71", "discard"),
    ],
)
def test_time_control_starts_cold_or_hot(plan: str, degrees: str, verdict: str) -> None:
    out = ev.Out("4h" if plan == "4h" else "6h", warm(degrees))
    tray = history(event("06-01 09:00", ev.Prepared()), event("06-01 10:00", out))
    assert found(tray, "06-01 11:00").verdict == verdict


@pytest.mark.parametrize(
    "fact", [ev.Reading(warm("70.1")), ev.HotHeld(warm("140")), ev.Chilled(warm("71"))], ids=str
)
def test_above_seventy_the_six_hour_plan_ends_at_once(fact: ev.Fact) -> None:
    tray = history(
        event("06-01 09:00", ev.Prepared()),
        event("06-01 10:00", ev.Out("6h", warm("40"))),
        event("06-01 11:00", fact),
    )
    assert found(tray, "06-01 11:01").verdict == "discard"


def test_food_that_started_at_room_temperature_stays_at_or_below_seventy() -> None:
    # §3-501.19(B)(2).
    melon = history(
        event("06-01 09:00", ev.Prepared()),
        event("06-01 09:30", ev.Out("4h", warm("69"))),
        event("06-01 10:00", ev.Reading(warm("75"))),
        of=food("melon, cut", "cut-melon"),
    )
    assert found(melon, "06-01 10:01").verdict == "discard"


def test_a_reason_tells_the_year_once_and_again_where_it_changed() -> None:
    """Ours: a reason is kept, and read in other years. 31 December 2026 is a Thursday."""
    began = ("2026-12-31 10:00", "2027-01-01 06:00")
    stews = [
        history(
            event("2026-12-31 08:00", ev.Prepared()),
            event("2026-12-31 20:00", ev.Reading(warm("38"))),
            event("2027-01-01 07:30", ev.Reading(warm("50"))),
        ),
        *(
            history(
                event("2026-12-31 08:00", ev.Prepared()),
                event("2027-01-01 07:30", ev.Excursion(None, 60, unit="walk-in", began=at(since))),
            )
            for since in began
        ),
    ]
    told = [found(stew, "2027-01-01 08:00").reason for stew in stews]
    assert "50 °F on Fri 1 January 2027 07:30, limit 41 °F" in told[0]
    assert "since the last good reading, Thu 31 December 2026 20:00." in told[0]
    assert "from Thu 31 December 2026 10:00 to Fri 1 January 2027 07:30 (" in told[1]
    assert "from Fri 1 January 2027 06:00 to 07:30 (" in told[2]


def test_an_ingredient_that_was_past_its_day_is_told_with_the_year_of_that_day() -> None:
    """Seven days, the first of them day 1 (Food Code 3-501.17(A))."""
    old = history(event("05-20 10:00", ev.Prepared()), of=food("stock", "stock"))
    assert (
        "not fit then: Past its limit: Tue 26 May 2026." in found(dish(old), "06-02 13:00").reason
    )


def test_a_reheat_that_took_too_long_holds_the_food() -> None:
    # §3-403.11(D): within two hours.
    slow = ev.Reheated(warm("165"), held_seconds=15, took_minutes=300)
    stew = history(event("06-01 10:00", ev.Prepared()), event("06-02 10:00", slow))
    assert found(stew, "06-02 11:00").verdict == "hold"


def test_discarded_food_stays_discarded_whatever_is_logged_after() -> None:
    stew = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 10:00", ev.Discarded()),
        event("06-02 12:00", ev.Chilled(warm("38"))),
    )
    assert found(stew, "06-02 13:00").state == "gone"


# ---- ingredients -----------------------------------------------------------------------------


def dish(*parts: History, when: str = "06-02 12:00") -> History:
    joined = [Joined(part, at(when)) for part in parts]
    return history(event(when, ev.Prepared()), of=food("pie"), made_from=joined)


def test_an_ingredient_past_its_day_gives_its_verdict_to_the_dish() -> None:
    old = history(event("05-20 10:00", ev.Prepared()), of=food("stock", "stock"))
    assert found(dish(old), "06-02 13:00").verdict == "discard"


def test_a_discarded_ingredient_makes_the_dish_one_to_discard() -> None:
    binned = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 09:00", ev.Discarded()),
        of=food("stock", "stock"),
    )
    assert found(dish(binned), "06-02 13:00").verdict == "discard"


def test_an_ingredient_that_needed_reheating_puts_the_dish_on_hold() -> None:
    slow = history(
        event("06-02 08:00", ev.OffHeat()),
        event("06-02 08:00", ev.Prepared()),
        cooling("06-02 08:01", "134 F"),
        cooling("06-02 10:10", "75 F"),
        of=food("stock", "stock"),
    )
    assert found(slow, "06-02 12:00").verdict == "reheat"
    assert found(dish(slow), "06-02 13:00").verdict == "hold"


def test_a_fault_found_later_travels_to_what_was_made_before() -> None:
    stock = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 08:00", ev.Reading(warm("38"))),
        event("06-02 18:00", ev.Reading(warm("60"))),
        of=food("stock", "stock"),
    )
    pie = dish(stock)
    assert found(pie, "06-02 17:00").verdict == "serve"
    holding = found(pie, "06-02 19:00")
    assert holding.verdict == "hold"
    assert "found later" in holding.reason


def test_a_fault_found_later_travels_through_two_dishes() -> None:
    stock = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 18:00", ev.Reading(warm("60"))),
        of=food("stock", "stock"),
    )
    sauce = history(
        event("06-02 09:00", ev.Prepared()),
        of=food("gravy", "sauce"),
        made_from=[Joined(stock, at("06-02 09:00"))],
    )
    assert found(dish(sauce), "06-02 19:00").verdict == "hold"


def test_a_good_reading_after_it_was_used_clears_the_ingredient_of_what_came_later() -> None:
    stock = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 13:00", ev.Reading(warm("38"))),
        event("06-02 18:00", ev.Reading(warm("60"))),
        of=food("stock", "stock"),
    )
    assert found(dish(stock), "06-02 19:00").verdict == "serve"


def test_an_excursion_that_began_before_it_was_used_travels_too() -> None:
    unit = event("06-02 14:00", ev.Excursion(seconds=3600, unknown_seconds=3601))
    stock = history(event("06-01 10:00", ev.Prepared()), unit, of=food("stock", "stock"))
    assert found(dish(stock), "06-02 15:00").verdict == "hold"
    shorter = event("06-02 14:00", ev.Excursion(seconds=3600))
    stock = history(event("06-01 10:00", ev.Prepared()), shorter, of=food("stock", "stock"))
    assert found(dish(stock), "06-02 15:00").verdict == "serve"


# ---- size ------------------------------------------------------------------------------------


def test_one_ingredient_by_very_many_paths_is_folded_once() -> None:
    """Forty layers, each made of the layer below twice: 2**40 paths."""
    layer = history(event("06-01 10:00", ev.Prepared()), of=food("base", "sauce"))
    for number in range(40):
        when = f"06-01 11:{number:02}"
        halves = [
            history(
                event(when, ev.Prepared()),
                of=food(f"half {side} {number}", "sauce"),
                made_from=[Joined(layer, at(when))],
            )
            for side in ("a", "b")
        ]
        layer = history(
            event(when, ev.Prepared()),
            of=food(f"layer {number}", "sauce"),
            made_from=[Joined(half, at(when)) for half in halves],
        )
    holding = found(layer, "06-02 10:00")
    assert str(holding.last_day) == "2026-06-07"
    assert len(holding.basis) < 1000


def test_a_starter_fed_two_thousand_times_is_still_folded() -> None:
    of = food("starter", "ferment", variance=True, ph="3.9")
    starter = history(event("2020-01-01 10:00", ev.Prepared()), of=of)
    begun = at("2020-01-02 10:00")
    for number in range(2000):
        moment = Instant(begun + number * DAY)
        fed = Event(moment, ev.Prepared(), moment)
        starter = history(fed, of=of, made_from=[Joined(starter, moment)])
    assert found(starter, "2025-06-24 12:00").verdict == "serve"
