"""Which limits bind, and which is the earliest."""

from datetime import date
from decimal import Decimal

import pytest

from holdlog.core import events as ev
from holdlog.core.moments import end_of_day
from holdlog.core.temperature import Temperature
from holdlog.rules.history import Joined
from tests.rules.making import CHICAGO, at, event, food, found, history, stack


def warm(degrees: str) -> Temperature:
    return Temperature(Decimal(degrees), "F")


def binds(what: object) -> str:
    binding = getattr(what, "binding", None)
    return binding.source.rule if binding else ""


def test_the_losing_limits_stay_in_the_basis() -> None:
    oil = history(event("06-01 15:00", ev.Prepared()), of=food("garlic oil", "herb-oil"))
    holding = found(oil, "06-02 09:00")
    assert binds(holding) == "garlic-oil-four-days"
    assert {finding.source.rule for finding in holding.basis} >= {"prepared", "tcs"}
    assert str(holding.last_day) == "2026-06-04"


def test_made_twice_the_first_day_counts() -> None:
    twice = history(event("06-03 10:00", ev.Prepared()), event("06-01 10:00", ev.Prepared()))
    assert str(found(twice, "06-03 12:00").last_day) == "2026-06-07"


def test_received_and_later_opened_it_counts_from_the_opening() -> None:
    ham = food("ham", "cooked-meat", commercial=True)
    pack = history(event("06-01 10:00", ev.Received()), event("06-10 10:00", ev.Opened()), of=ham)
    assert str(found(pack, "06-10 12:00").last_day) == "2026-06-16"


def test_an_exempt_cheese_made_into_something_here_is_dated() -> None:
    # §3-501.17(G) exempts opened cheese from (B); what is prepared on site falls under (A).
    cheese = food("cheddar spread", "dairy", commercial=True, exempt_as="hard-cheese")
    opened = event("06-01 10:00", ev.Opened())
    assert found(history(opened, of=cheese), "06-02 10:00").last_day is None
    spread = history(opened, event("06-20 10:00", ev.Prepared()), of=cheese)
    assert str(found(spread, "06-20 12:00").last_day) == "2026-06-26"


def test_an_exemption_is_only_for_food_of_an_inspected_plant() -> None:
    own = food("potato salad", "cooked-dish", exempt_as="deli-salad")
    holding = found(history(event("06-01 10:00", ev.Prepared()), of=own), "06-02 10:00")
    assert str(holding.last_day) == "2026-06-07"
    assert any("ignored" in caution for caution in holding.cautions)
    said_so = food("salad", "cooked-dish", exempt_as="deli-salad", commercial=True,
                   made_on_site=True)  # fmt: skip
    opened = history(event("06-01 10:00", ev.Opened()), of=said_so)
    assert str(found(opened, "06-02 10:00").last_day) == "2026-06-07"


# ---- makers' dates ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "second"),
    [(date(2026, 6, 4), date(2026, 6, 9)), (date(2026, 6, 9), date(2026, 6, 4))],
)
def test_of_two_makers_dates_the_earlier_binds(first: date, second: date) -> None:
    ham = food("ham", "cooked-meat", commercial=True)
    pack = history(
        event("06-01 10:00", ev.Received(maker_use_by=first)),
        event("06-02 10:00", ev.Opened(second)),
        of=ham,
    )
    holding = found(pack, "06-02 12:00")
    assert binds(holding) == "maker-date"
    assert str(holding.last_day) == "2026-06-04"


def test_a_date_once_read_as_safety_is_not_made_quality_at_opening() -> None:
    ham = food("ham", "cooked-meat", commercial=True)
    day = date(2026, 6, 4)
    pack = history(
        event("06-01 10:00", ev.Received(maker_use_by=day)),
        event("06-02 10:00", ev.Opened(day, "quality")),
        of=ham,
    )
    assert str(found(pack, "06-02 12:00").last_day) == "2026-06-04"


def test_a_use_or_freeze_by_date_stands_still_in_the_freezer() -> None:
    chicken = food("chicken", "raw-meat", commercial=True)
    pack = [
        event("06-01 10:00", ev.Received(maker_use_by=date(2026, 6, 5),
                                         maker_date_for="use-or-freeze-by")),
        event("06-03 10:00", ev.Frozen()),
    ]  # fmt: skip
    assert found(history(*pack, of=chicken), "06-20 10:00").days_left_once_thawed == 2
    pack.append(event("06-20 10:00", ev.Thawed("refrigerator")))
    assert str(found(history(*pack, of=chicken), "06-20 12:00").last_day) == "2026-06-21"


def test_frozen_after_its_use_or_freeze_by_date_it_is_past() -> None:
    chicken = food("chicken", "raw-meat", commercial=True)
    pack = history(
        event("06-01 10:00", ev.Received(maker_use_by=date(2026, 6, 5),
                                         maker_date_for="use-or-freeze-by")),
        event("06-06 10:00", ev.Frozen()),
        of=chicken,
    )  # fmt: skip
    assert found(pack, "06-20 10:00").verdict == "discard"


def test_no_convention_carries_a_use_or_freeze_by_date_past_its_day() -> None:
    chicken = food("chicken", "raw-meat", commercial=True)
    pack = history(
        event("06-01 18:00", ev.Received(maker_use_by=date(2026, 6, 5),
                                         maker_date_for="use-or-freeze-by")),
        of=chicken,
    )  # fmt: skip
    exact = stack(day_end="exact-hours")
    assert found(pack, "06-02 10:00", exact).use_by == end_of_day(date(2026, 6, 5), CHICAGO)


# ---- hours -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("when", "verdict"), [("14:00", "last-day"), ("14:00:01", "discard")])
def test_the_instant_of_the_limit_passes_and_the_next_second_does_not(
    when: str, verdict: str
) -> None:
    tray = history(
        event("06-02 08:00", ev.Prepared()), event("06-02 10:00", ev.Out("4h", warm("40")))
    )
    assert found(tray, f"06-02 {when}").verdict == verdict


@pytest.mark.parametrize(
    ("when", "verdict"),
    [("06-06 23:59:59", "serve"), ("06-07 00:00", "last-day"), ("06-07 23:59:59", "last-day"),
     ("06-08 00:00", "discard")],
)  # fmt: skip
def test_the_last_day_lasts_from_midnight_to_midnight(when: str, verdict: str) -> None:
    assert found(history(event("06-01 15:00", ev.Prepared())), when).verdict == verdict


def test_taken_out_twice_the_earlier_end_counts() -> None:
    tray = history(
        event("06-02 08:00", ev.Prepared()),
        event("06-02 10:00", ev.Out("6h", warm("40"))),
        event("06-02 10:30", ev.Out("4h", warm("40"))),
    )
    assert found(tray, "06-02 11:00").use_by == at("06-02 14:30")


@pytest.mark.parametrize(
    "after",
    [
        ev.Chilled(warm("38")), ev.Frozen(), ev.HotHeld(warm("150")), ev.Packed(),
        ev.Reheated(warm("165")), ev.Cooling(warm("40")), ev.Opened(), ev.Prepared(),
    ],
    ids=lambda fact: type(fact).__name__,
)  # fmt: skip
def test_there_is_no_way_back_from_time_control(after: ev.Fact) -> None:
    # §3-501.19(B)(3): served or discarded within four hours.
    tray = history(
        event("06-02 08:00", ev.Prepared()),
        event("06-02 10:00", ev.Out("4h", warm("40"))),
        event("06-02 11:00", after),
    )
    assert found(tray, "06-02 12:00").use_by == at("06-02 14:00")
    assert found(tray, "06-02 14:01").verdict == "discard"


def test_a_makers_date_read_while_it_is_out_still_shortens() -> None:
    pack = history(
        event("06-02 08:00", ev.Received()),
        event("06-02 10:00", ev.Out("4h", warm("40"))),
        event("06-02 10:30", ev.Opened(date(2026, 6, 1))),
        of=food("ham", "cooked-meat", commercial=True),
    )
    assert found(pack, "06-02 11:00").verdict == "discard"


@pytest.mark.parametrize("temperature", [warm("68"), None])
def test_produce_cut_at_room_temperature_counts_from_the_cutting(
    temperature: Temperature | None,
) -> None:
    # §3-501.19(B)(2), new in 2022.
    tomato = history(
        event("06-02 09:00", ev.Prepared()),
        event("06-02 10:00", ev.Out("4h", temperature)),
        of=food("tomato, diced", "cut-tomato"),
    )
    assert found(tomato, "06-02 11:00").use_by == at("06-02 13:00")


def test_a_thaw_for_use_at_once_is_not_undone_by_freezing_and_thawing_again() -> None:
    fish = history(
        event("06-01 09:00", ev.Prepared()),
        event("06-01 10:00", ev.Frozen()),
        event("06-02 10:00", ev.Thawed("microwave")),
        event("06-02 11:00", ev.Frozen()),
        event("06-09 10:00", ev.Thawed("microwave")),
    )
    assert found(fish, "06-09 10:30").verdict == "discard"


def test_packed_twice_the_first_pack_runs_on() -> None:
    pork = history(
        event("06-01 09:00", ev.Prepared()),
        event("06-01 10:00", ev.Packed()),
        event("06-03 09:00", ev.Packed()),
    )
    assert found(pork, "06-03 09:30").use_by == at("06-03 10:00")


def test_a_pack_said_the_next_day_to_have_been_opened_in_time_was_not() -> None:
    opened = event("06-03 09:00", ev.Opened(), written="06-05 09:00")
    pork = [event("06-01 09:00", ev.Prepared()), event("06-01 10:00", ev.Packed()), opened]
    assert found(history(*pork), "06-05 10:00").verdict == "discard"


def test_the_printed_date_binds_until_there_is_a_new_label() -> None:
    stew = [
        event("06-01 09:00", ev.Prepared()),
        event("06-01 09:05", ev.Labelled("two-by-two", "prepared", at("06-05 23:59:59"))),
    ]
    assert binds(found(history(*stew), "06-02 09:00")) == "printed-label"
    stew.append(event("06-03 09:05", ev.Labelled("two-by-two", "prepared", at("06-07 23:59:59"))))
    assert str(found(history(*stew), "06-03 10:00").last_day) == "2026-06-07"


def test_a_late_entry_of_freezing_does_not_take_the_label_off() -> None:
    stew = history(
        event("06-01 09:00", ev.Prepared()),
        event("06-01 09:05", ev.Labelled("two-by-two", "prepared", at("06-05 23:59:59"))),
        event("06-02 09:00", ev.Frozen(), written="06-03 09:00"),
        event("06-03 10:00", ev.Thawed("refrigerator")),
    )
    assert str(found(stew, "06-03 11:00").last_day) == "2026-06-05"


# ---- ingredients -----------------------------------------------------------------------------


def test_a_limit_travels_through_food_that_is_not_ready_to_eat() -> None:
    bacon = history(event("06-01 10:00", ev.Prepared()), of=food("bacon, cooked", "cooked-meat"))
    patty = history(
        event("06-03 10:00", ev.Prepared()),
        of=food("bacon patty, raw", "raw-meat"),
        made_from=[Joined(bacon, at("06-03 10:00"))],
    )
    pie = history(event("06-05 10:00", ev.Prepared()), made_from=[Joined(patty, at("06-05 10:00"))])
    assert str(found(pie, "06-05 12:00").last_day) == "2026-06-07"


def test_an_ingredient_used_straight_from_the_freezer_kept_its_days() -> None:
    frozen = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 10:00", ev.Frozen()),
        event("06-20 10:00", ev.Used("made into")),
        of=food("stock", "stock"),
    )
    soup = history(
        event("06-20 10:00", ev.Prepared()), made_from=[Joined(frozen, at("06-20 10:00"))]
    )
    holding = found(soup, "06-20 12:00")
    assert holding.verdict == "serve"
    assert str(holding.last_day) == "2026-06-24"


def test_used_in_part_the_rest_stays_frozen() -> None:
    stock = history(
        event("06-01 10:00", ev.Prepared()),
        event("06-02 10:00", ev.Frozen()),
        event("06-10 10:00", ev.Used()),
        event("06-20 10:00", ev.Thawed("refrigerator")),
    )
    assert str(found(stock, "06-20 12:00").last_day) == "2026-06-24"


def test_raw_food_cooked_here_is_dated_as_ready_to_eat() -> None:
    # §1-201.10(B): TCS food cooked and cooled is ready to eat.
    roast = history(
        event("06-01 10:00", ev.OffHeat()),
        event("06-01 10:00", ev.Prepared()),
        of=food("pork shoulder", "raw-meat"),
    )
    assert str(found(roast, "06-01 12:00").last_day) == "2026-06-07"


def test_the_older_of_two_raw_tubs_poured_together_keeps_its_house_days() -> None:
    thighs = food("chicken thighs, marinated", "raw-meat", house_days=2)
    older = history(event("06-01 10:00", ev.Prepared()), of=thighs)
    newer = history(
        event("06-02 10:00", ev.Prepared()),
        of=thighs,
        made_from=[Joined(older, at("06-02 11:00"))],
    )
    assert str(found(newer, "06-02 12:00").last_day) == "2026-06-02"


def test_food_without_a_limit_says_so() -> None:
    steak = history(event("06-01 10:00", ev.Received()), of=food("steak", "raw-meat"))
    holding = found(steak, "06-02 10:00")
    assert holding.use_by is None
    assert any(caution.startswith("no-limit-known") for caution in holding.cautions)


def test_dry_food_past_its_best_is_served_with_a_caution() -> None:
    egg = history(event("06-01 10:00", ev.Prepared()), of=food("egg", "boiled-egg-in-shell"))
    holding = found(egg, "06-09 10:00")
    assert holding.verdict == "serve"
    assert any(caution.startswith("past-best") for caution in holding.cautions)
