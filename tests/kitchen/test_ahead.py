"""Looking ahead, against dates reckoned by hand and against doing the thing itself.

Seven days with day one counted (FDA Food Code 2022, 3-501.17(A)), four for garlic in oil
(National Center for Home Food Preservation); the day of freezing and that of thawing both count
(our reading where the code is silent). Tern & Tide is closed on Wednesdays.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from random import Random

import pytest

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant, end_of_day, start_of_day, to_local
from holdlog.kitchen import handle
from holdlog.kitchen.ahead import Ahead, ahead
from holdlog.kitchen.due import due, everything
from holdlog.kitchen.items import add_item
from holdlog.kitchen.setup import WEEKDAYS
from holdlog.rules import scenario
from tests.kitchen.shop import WHERE, Shop, at, codes, day, temp
from tests.rules.making import book_text, category_text

ONE = timedelta(days=1)


def going(found: Ahead) -> dict[str, list[str]]:
    """The codes whose last day a day is."""
    return {
        each.day.isoformat()[5:]: [going.line.row.code for going in each.goes]
        for each in found.days
        if each.goes
    }


def pulling(found: Ahead) -> dict[str, tuple[date, date | None]]:
    return {each.line.row.code: (day.day, each.carries) for day in found.days for each in day.pull}


def freezing(found: Ahead) -> dict[str, tuple[date, int]]:
    return {
        each.line.row.code: (day.day, each.days_left) for day in found.days for each in day.freeze
    }


def frozen(shop: Shop, item: str = "chicken stock") -> str:
    code = shop.tub(item)
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    return code


# ---- what goes when --------------------------------------------------------------------------


def test_each_container_stands_on_its_last_day(shop: Shop) -> None:
    oil = shop.tub("garlic oil")  # Mon 1 June: through Thu 4
    stock = shop.tub("chicken stock")  # through Sun 7
    shop.it_is("06-02 09:00")
    later = shop.tub("chickpea, cooked")  # through Mon 8
    found = ahead(shop.kitchen)
    assert [each.day for each in found.days][:: len(found.days) - 1] == [day("06-02"), day("06-08")]
    assert going(found) == {"06-04": [oil], "06-07": [stock], "06-08": [later]}
    assert going(ahead(shop.kitchen, 6)) == {"06-04": [oil], "06-07": [stock]}
    assert found.on_hand == 3


def test_what_goes_while_closed_is_to_be_seen_to_on_the_last_open_day(shop: Shop) -> None:
    shop.it_is("06-04 09:00")
    code = shop.tub("fish stock")  # through Wed 10, closed
    shop.it_is("06-05 09:00")
    shut = replace(shop.kitchen, closed=("tue", "wed"))
    (wednesday,) = [each for each in ahead(shut).days if each.goes]
    assert (wednesday.day, wednesday.closed) == (day("06-10"), True)
    assert [(each.line.row.code, each.act_by) for each in wednesday.goes] == [(code, day("06-08"))]
    open_all_week = replace(shop.kitchen, closed=())
    assert [each.act_by for each in ahead(open_all_week).goes] == [None]


def test_an_hour_limit_has_its_hour(shop: Shop) -> None:
    code = shop.tub("chicken stock")
    shop.it_is("06-02 10:00")
    handle.take_out(shop.kitchen, "mk", code, shop.hand.now, ev.Out("4h", temp("40 F")))
    (each,) = ahead(shop.kitchen).goes
    # Four hours from leaving the cold: 3-501.19(B).
    assert (each.day, each.until) == (day("06-02"), at("06-02 14:00"))


def test_a_makers_date_runs_on_in_the_freezer(shop: Shop) -> None:
    code = shop.tub("chicken, poached", kind="received", maker_use_by=day("06-05"))
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    found = ahead(shop.kitchen)
    assert going(found) == {"06-05": [code]}
    assert freezing(found) == {}


def test_food_on_hold_is_told_apart_and_food_to_discard_is_not_planned_with(shop: Shop) -> None:
    hold = shop.tub("lentil, cooked")
    handle.reading(shop.kitchen, "mk", hold, shop.hand.now, temp("60 F"))
    raw = shop.tub("halibut portion, raw", kind="received")
    found = ahead(shop.kitchen)
    assert codes(found.held) == [hold]
    assert codes(found.no_limit) == [raw]
    assert freezing(found) == {}
    shop.it_is("06-20 09:00")
    later = ahead(shop.kitchen)
    assert codes(later.gone) == [hold]
    assert later.goes == []


def test_every_day_agrees_with_the_morning_list_of_that_day(another: Callable[[], Shop]) -> None:
    """What is ahead today is what ``due`` says on each of the days, if nothing happens."""
    shop = another()
    dice = Random(11)
    made = "chicken stock", "garlic oil", "fish stock", "chickpea, cooked", "halibut portion, raw"
    for number in range(12):
        shop.it_is(f"06-01 {6 + number // 2:02}:{30 * (number % 2):02}")
        item = dice.choice(made)
        shop.tub(item, kind="received" if "raw" in item else "prepared")
    frozen(shop)
    shop.it_is("06-02 09:00")
    planned = going(ahead(shop.kitchen, 10))
    seen: dict[str, list[str]] = {}
    for number in range(10):
        now = day("06-02") + number * ONE
        shop.hand.now = end_of_day(now, WHERE)
        last = [each.row.code for each in everything(shop.kitchen) if each.verdict == "last-day"]
        if last:
            seen[now.isoformat()[5:]] = last
    assert planned == seen


# ---- the last chance to freeze ---------------------------------------------------------------


def test_the_last_chance_leaves_one_day(shop: Shop) -> None:
    code = shop.tub("chicken stock")  # through Sun 7; frozen on Sat 6 six days are used
    assert freezing(ahead(shop.kitchen)) == {code: (day("06-06"), 1)}
    shop.it_is("06-07 09:00")
    assert freezing(ahead(shop.kitchen)) == {}


@pytest.mark.parametrize("closed", [(), ("sat",), ("fri", "sat"), ("wed", "thu", "sat")])
def test_it_is_the_last_open_day_on_which_a_freezing_works(
    another: Callable[[], Shop], closed: tuple[str, ...]
) -> None:
    """Brute force: on every day of the week a kitchen of its own freezes the same tubs."""
    best: dict[str, tuple[date, int]] = {}
    planned: dict[str, tuple[date, int]] | None = None
    for number in range(7):
        shop = another()
        tubs = [shop.tub("chicken stock", made="06-01 05:00"), shop.tub("garlic oil")]
        shop.kitchen = replace(shop.kitchen, closed=closed)
        found = freezing(ahead(shop.kitchen))
        assert planned in (None, found)
        planned = found
        now = day("06-01") + number * ONE
        shop.hand.now = Instant(max(shop.hand.now, start_of_day(now, WHERE)))
        if number and WEEKDAYS[now.weekday()] in closed:
            continue
        for code in tubs:
            try:
                row = handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None).row
            except Mistake:
                continue
            if row.days_left and not row.verdict:
                best[code] = (now, row.days_left)
    assert planned == best
    assert len(best) == 2


# ---- what to pull ----------------------------------------------------------------------------


def test_the_next_tub_is_thawed_on_the_last_day_of_the_one_before(shop: Shop) -> None:
    fact = ev.ItemAdded("beef shin, braised", "cooked-meat", thaw_days=2)
    add_item(shop.kitchen, "mk", fact)
    first = frozen(shop, "beef shin")
    shop.tub("beef shin")  # chilled, through Sun 7
    found = pulling(ahead(shop.kitchen, 7))
    # Fri 5 and Sat 6 to thaw. Frozen on day 1, thawing is day 2: through Wed 10, day 7.
    assert found == {first: (day("06-05"), day("06-10"))}
    (pull,) = ahead(shop.kitchen, 7).days[4].pull
    assert (pull.lead, pull.ready, pull.too_slow) == (2, day("06-07"), False)


def test_nobody_pulls_on_a_closed_day(shop: Shop) -> None:
    first = frozen(shop)
    shop.tub("chicken stock")
    wide = replace(shop.kitchen, closed=("thu", "fri", "sat"))
    open_days = pulling(ahead(replace(shop.kitchen, closed=())))
    assert pulling(ahead(wide))[first][0] == day("06-03")
    assert open_days[first][0] > day("06-03")


def test_todays_pulls_are_those_of_the_morning_list(shop: Shop) -> None:
    for item in ("chicken stock", "vegetable stock", "garlic oil"):
        frozen(shop, item)
    shop.tub("vegetable stock")
    for wall in ("06-01 09:00", "06-05 09:00", "06-06 09:00", "06-07 09:00"):
        shop.it_is(wall)
        morning = {(each.row.code, each.ready) for each in due(shop.kitchen).pull}
        today = {
            (each.line.row.code, each.ready)
            for each in ahead(shop.kitchen).days[0].pull
            if not each.too_slow
        }
        assert morning <= {(pull.line.row.code, pull.ready) for pull in
                           ahead(shop.kitchen).days[0].pull}  # fmt: skip
        assert {code for code, _ in today} <= {code for code, _ in morning}


def test_a_tub_whose_days_end_before_it_is_thawed_says_so_and_is_not_counted_on(
    shop: Shop,
) -> None:
    fact = ev.ItemAdded("beef shin, braised", "cooked-meat", thaw_days=3)
    add_item(shop.kitchen, "mk", fact)
    old = shop.tub("beef shin")
    shop.it_is("06-06 09:00")
    handle.freeze(shop.kitchen, "mk", old, shop.hand.now, None)  # one day is left
    young = frozen(shop, "beef shin")
    found = {each.line.row.code: each for each in ahead(shop.kitchen).days[0].pull}
    assert found[old].too_slow
    assert found[old].carries == day("06-07")  # today is day 6
    assert not found[young].too_slow


def test_the_date_it_would_carry_is_that_of_the_same_events_in_a_scenario(shop: Shop) -> None:
    """The scenario is written by hand from what was done, and folded without the kitchen."""
    made = shop.hand.now
    code = shop.tub("chicken stock")
    shop.it_is("06-03 09:00")
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    froze = shop.hand.now
    shop.it_is("06-20 09:00")
    shop.tub("chicken stock")  # through Fri 26: pulled two days before, or one
    ((pulled, carries),) = [found for key, found in pulling(ahead(shop.kitchen)).items()
                            if key == code]  # fmt: skip
    walls = [to_local(each, WHERE).replace(tzinfo=None).isoformat() for each in (made, froze)]
    text = f"""
timezone = "America/New_York"
rulebooks = ["us-food-code-2022"]
now = {pulled.isoformat()}T12:00:00

[batch.stock]
item = "chicken stock"
category = "stock"
[[batch.stock.event]]
event = "prepared"
at = {walls[0]}
[[batch.stock.event]]
event = "frozen"
at = {walls[1]}
[[batch.stock.event]]
event = "thawed"
method = "refrigerator"
at = {pulled.isoformat()}T09:00:00
"""
    read = scenario.read(text, "pull.toml", book_text, category_text)
    assert scenario.fold(read)["stock"].last_day == carries
    assert carries is not None


@pytest.mark.parametrize("seed", range(4))
def test_doing_what_was_planned_gives_the_date_that_was_said(
    another: Callable[[], Shop], seed: int
) -> None:
    dice = Random(seed)
    shop = another()
    for number in range(5):
        shop.it_is(f"06-0{number + 1} 10:00")
        code = shop.tub(dice.choice(["chicken stock", "garlic oil"]))
        if dice.random() < 0.7:
            handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    found = pulling(ahead(shop.kitchen))
    assert found
    for code, (when, carries) in sorted(found.items(), key=lambda pair: pair[1][0]):
        shop.hand.now = Instant(max(shop.hand.now + 1, start_of_day(when, WHERE)))
        row = handle.thaw(shop.kitchen, "mk", code, shop.hand.now, "refrigerator", None).row
        assert row.last_day == (carries.isoformat() if carries else None)


# ---- narrowed, and empty ---------------------------------------------------------------------


def test_one_unit_or_one_item(shop: Shop) -> None:
    ice = frozen(shop)
    reach = shop.tub("chicken stock", unit="reach-in")
    walk = shop.tub("garlic oil")
    assert going(ahead(shop.kitchen, unit="reach")) == {"06-07": [reach]}
    assert going(ahead(shop.kitchen, item="garlic oil")) == {"06-04": [walk]}
    # The stock in the reach-in is why it is not pulled today.
    assert pulling(ahead(shop.kitchen, unit="chest")) == pulling(ahead(shop.kitchen)) != {}
    assert list(pulling(ahead(shop.kitchen))) == [ice]
    assert pulling(ahead(shop.kitchen, unit="walk-in")) == {}


def test_an_empty_kitchen_has_quiet_days(shop: Shop) -> None:
    found = ahead(shop.kitchen, 3)
    assert [each.empty for each in found.days] == [True] * 3
    assert found.on_hand == 0


def test_looking_writes_nothing(shop: Shop) -> None:
    frozen(shop)
    before = shop.entries(), shop.everything()
    ahead(shop.kitchen)
    assert (shop.entries(), shop.everything()) == before


@pytest.mark.parametrize("days", [0, -1, 61])
def test_days_out_of_reach_are_refused(shop: Shop, days: int) -> None:
    with pytest.raises(Mistake, match="days"):
        ahead(shop.kitchen, days)


def test_a_summer_time_change_moves_no_day(shop: Shop) -> None:
    """Clocks in New York go back on Sun 1 November 2026, in the middle of the seven days."""
    shop.reopens("10-29 23:30")
    code = shop.tub("chicken stock")
    assert going(ahead(shop.kitchen)) == {"11-04": [code]}
    assert freezing(ahead(shop.kitchen))[code][0] == day("11-03")


def test_raw_food_that_nothing_limits_is_pulled_without_a_date(shop: Shop) -> None:
    code = shop.tub("halibut portion, raw", kind="received")
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    assert pulling(ahead(shop.kitchen)) == {code: (day("06-01"), None)}
