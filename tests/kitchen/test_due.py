"""The morning list of a hand-made day.

Dates are reckoned by hand: seven days with day one counted (FDA Food Code 2022, 3-501.17(A)),
four for garlic in oil (National Center for Home Food Preservation). Tern & Tide is closed on
Wednesdays.
"""

from dataclasses import replace
from pathlib import Path

from holdlog.core import events as ev
from holdlog.core.moments import DAY, Instant
from holdlog.kitchen import handle, printing, setup
from holdlog.kitchen.due import closing, due, everything, walk_order
from holdlog.kitchen.items import add_item
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import CONVENTIONS, Shop, at, codes, day, temp

HOUSE = """
id = "tern-and-tide"
title = "Tern & Tide, house rules"
role = "house"

[rule.short]
kind = "date-mark"
starts = "prepared"
days = 3
cite = "house"
says = "We keep it 3 days."
seen = "text"
"""


def test_each_tub_of_a_morning_stands_in_its_own_list(shop: Shop) -> None:
    gone = shop.tub("garlic oil")  # Mon 1 June: through Thu 4
    last = shop.tub("chicken stock", made="06-01 05:00")  # through Sun 7
    shop.it_is("06-02 09:00")
    tomorrow = shop.tub("vegetable stock")  # through Mon 8
    shop.it_is("06-04 09:00")
    closed = shop.tub("fish stock")  # through Wed 10, when the kitchen is closed
    hold = shop.tub("lentil, cooked")
    handle.reading(shop.kitchen, "mk", hold, shop.hand.now, temp("60 F"))
    raw = shop.tub("halibut portion, raw", kind="received")
    shop.it_is("06-06 09:00")
    fine = shop.tub("chickpea, cooked")  # through Fri 12
    shop.it_is("06-07 06:10")
    found = due(shop.kitchen)
    assert found.today == day("06-07")
    assert codes(found.go) == [gone]
    assert codes(found.hold) == [hold]
    assert codes(found.today_last) == [last]
    assert codes(found.tomorrow) == [tomorrow]
    assert codes(found.closed) == [closed]
    assert codes(found.no_limit) == [raw]
    assert found.closed_days == (day("06-10"),)
    assert found.on_hand == 7
    listed = [*found.go, *found.hold, *found.today_last, *found.tomorrow, *found.closed]
    assert fine not in codes([*listed, *found.no_limit])


def test_the_walk_goes_unit_by_unit_and_worst_first(shop: Shop) -> None:
    reach = shop.tub("chicken stock", unit="reach-in")
    fine = shop.tub("chicken stock")
    short = shop.tub("garlic oil")
    hold = shop.tub("fish stock")
    raw = shop.tub("halibut portion, raw", kind="received")
    handle.reading(shop.kitchen, "mk", hold, shop.hand.now, temp("60 F"))
    lines = everything(shop.kitchen)
    assert codes(lines) == [raw, hold, short, fine, reach]
    assert codes(walk_order(shop.kitchen, lines[::-1])) == codes(lines)
    assert codes(everything(shop.kitchen, "reach")) == [reach]


def test_food_whose_unit_was_never_known_comes_first(shop: Shop) -> None:
    shop.tub("garlic oil")
    odd = shop.tub("chicken stock")
    with shop.db.appending() as conn:
        conn.exec_driver_sql(f"UPDATE container SET unit = '' WHERE code = '{odd}'")
    assert codes(everything(shop.kitchen))[0] == odd


def test_day_n_of_m_is_said_through_a_spell_in_the_freezer(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-02 09:00")
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    shop.it_is("06-20 09:00")
    handle.thaw(shop.kitchen, "mk", code, shop.hand.now, "refrigerator", None)
    (each,) = everything(shop.kitchen)
    # Day 1 and 2 before it was frozen; the day of thawing is day 3.
    assert (each.day, each.row.of, each.row.last_day) == (3, 7, "2026-06-24")
    shop.it_is("06-24 23:59")
    assert [each.verdict for each in everything(shop.kitchen)] == ["last-day"]
    shop.hand.now = Instant(shop.hand.now + 60_000)
    assert [each.verdict for each in everything(shop.kitchen)] == ["discard"]


def test_what_is_worth_freezing_has_a_day_left_after_tonight(shop: Shop) -> None:
    three = shop.tub("chicken stock", made="06-01 05:00", off_heat_at=at("06-01 05:00"))
    for when, reading in (("05:30", "69 F"), ("05:55", "40 F")):
        log_cooling(shop.kitchen, "mk", three, at(f"06-01 {when}"), temp(reading))
    shop.it_is("06-05 20:00")
    assert codes(due(shop.kitchen).freeze) == [three]
    shop.it_is("06-06 20:00")
    assert codes(due(shop.kitchen).freeze) == [three]
    shop.it_is("06-07 20:00")  # its last day: frozen tonight nothing would be left
    assert due(shop.kitchen).freeze == ()


def test_before_a_closed_day_it_looks_a_day_further(shop: Shop) -> None:
    code = shop.tub("chicken stock")  # through Sun 7
    shop.it_is("06-04 20:00")
    assert due(shop.kitchen).freeze == ()
    closed = replace(shop.kitchen, closed=("fri", "mon"))
    assert codes(due(closed).freeze) == [code]
    # Monday is closed too, but Saturday lies between.
    assert closing(closed, day("06-04")) == (day("06-05"), day("06-08"))
    shop.it_is("06-03 20:00")
    assert due(replace(shop.kitchen, closed=("thu", "mon"))).freeze == ()


def test_a_makers_date_does_not_stand_still_so_freezing_is_not_offered(shop: Shop) -> None:
    shop.tub("chicken, poached", kind="received", maker_use_by=day("06-03"))
    shop.it_is("06-02 20:00")
    assert due(shop.kitchen).freeze == ()


def test_days_left_of_frozen_food_run_down_with_the_makers_date(shop: Shop) -> None:
    code = shop.tub("chicken, poached", kind="received", maker_use_by=day("06-10"))
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    (first,) = everything(shop.kitchen)
    shop.it_is("06-08 09:00")
    (later,) = everything(shop.kitchen)
    shop.it_is("06-11 00:00")
    (after,) = everything(shop.kitchen)
    # 8, 9 and 10 June are left on the 8th.
    assert (later.row.days_left, later.verdict) == (3, "serve")
    assert first.row.days_left is not None
    assert first.row.days_left > 3
    assert after.verdict == "discard"


def test_the_pull_list_names_the_frozen_tub_with_the_fewest_days(shop: Shop) -> None:
    young, old = codes(shop.prep("chicken stock", 2).rows)
    handle.freeze(shop.kitchen, "mk", young, shop.hand.now, None)
    shop.it_is("06-03 09:00")
    handle.freeze(shop.kitchen, "mk", old, shop.hand.now, None)
    (pull,) = due(shop.kitchen).pull
    assert (pull.row.code, pull.days_left) == (old, 4)
    shop.tub("chicken stock")
    assert due(shop.kitchen).pull == ()
    assert due(shop.kitchen, "chest").pull == ()


def test_an_item_that_thaws_for_days_is_pulled_in_time(shop: Shop) -> None:
    fact = ev.ItemAdded("beef shin, braised", "cooked-meat", thaw_days=3)
    add_item(shop.kitchen, "mk", fact)
    code = shop.tub("beef shin")
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    shop.tub("beef shin")  # through 7 June
    shop.it_is("06-03 09:00")
    assert due(shop.kitchen).pull == ()
    shop.it_is("06-04 09:00")
    (pull,) = due(shop.kitchen).pull
    assert (pull.row.code, pull.ready) == (code, day("06-07"))


def test_a_label_that_says_a_later_day_than_the_rules_is_called_out(
    shop: Shop, tmp_path: Path
) -> None:
    old = shop.tub("chicken stock")
    shop.it_is("06-03 09:00")
    new = shop.tub("chicken stock")
    printing.print_labels(shop.kitchen, "mk", [new], tmp_path)
    assert due(shop.kitchen).relabel == ()
    handle.top_up(shop.kitchen, "mk", new, old, shop.hand.now)
    assert codes(due(shop.kitchen).relabel) == [new]
    printing.print_labels(shop.kitchen, "mk", [new], tmp_path)
    assert due(shop.kitchen).relabel == ()


def test_the_list_follows_rules_that_another_program_adopted(shop: Shop, tmp_path: Path) -> None:
    stale = shop.kitchen
    code = shop.tub("chicken stock")
    house = tmp_path / "house.toml"
    house.write_text(HOUSE, encoding="utf-8")
    setup.adopt(shop.reopen(), "jr", ["us-food-code-2022", str(house)], CONVENTIONS, "")
    shop.hand.now = Instant(shop.hand.now + 3 * DAY)
    assert codes(due(stale).go) == [code]
    # A batch recorded through the kitchen that was opened before stands on the new rules.
    shop.kitchen = stale
    assert shop.row(shop.tub("vegetable stock")).last_day == "2026-06-06"
    assert shop.everything() == shop.replayed()


def test_a_missed_cooling_is_on_the_list_from_the_minute_it_can_no_longer_be_met(
    shop: Shop,
) -> None:
    shop.tub("chicken stock", off_heat_at=shop.hand.now)
    shop.it_is("06-01 07:59")
    assert [each.reason for each in everything(shop.kitchen)] == ["Still cooling: do not serve."]
    shop.it_is("06-01 08:00")
    (each,) = everything(shop.kitchen)
    assert each.verdict == "hold"
    assert "do not prove" in each.reason
