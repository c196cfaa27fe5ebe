"""How food ends: wholly or in part, for a reason, at what cost; and the share that was wasted."""

from decimal import Decimal

import pytest

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.costs import read_cost
from holdlog.core.errors import Mistake
from holdlog.kitchen import correct, discard, handle
from holdlog.kitchen.audit import Audit, audit
from holdlog.kitchen.ended import NOT_SAID
from holdlog.kitchen.items import add_item, find_item, items
from holdlog.kitchen.prep import record
from holdlog.kitchen.why import why
from tests.kitchen.shop import Shop, at, day, temp


def binned(
    shop: Shop, code: str, much: str = "", reason: str = "off", *, part: bool = False
) -> str:
    amount = read_amount(much) if much else None
    done = discard.discard(shop.kitchen, "mk", code, shop.hand.now, reason, amount, part=part)
    return str(done.cost)


def used(
    shop: Shop, code: str, much: str = "", how: ev.EndedAs = "used", *, part: bool = False
) -> None:
    amount = read_amount(much) if much else None
    handle.end(shop.kitchen, "mk", code, shop.hand.now, how, amount, part=part)


def costs(shop: Shop, item: str, text: str) -> None:
    with shop.db.reading() as conn:
        known = find_item(items(shop.kitchen, conn), item).fact
    fact = ev.ItemAdded(known.name, known.category, cost=read_cost(text))
    add_item(shop.kitchen, "jr", fact)


def received(shop: Shop) -> str:
    batch = shop.batch("halibut portion, raw", 1, amount="3 kg", kind="received")
    return record(shop.kitchen, "mk", batch).rows[0].code


def today(shop: Shop) -> Audit:
    return audit(shop.kitchen, day("06-01"), day("06-01"))


def refused(told: pytest.ExceptionInfo[Mistake]) -> tuple[str, str]:
    return told.value.code, told.value.sentence


# ---- a part of it ----------------------------------------------------------------------------


def test_what_was_not_taken_stays_on_hand(shop: Shop) -> None:
    code = shop.tub(amount="3 l")
    before = shop.row(code)
    binned(shop, code, "1 pint", part=True)
    assert shop.row(code).amount == "2.5268 l"
    used(shop, code, "500 ml", part=True)
    row = shop.row(code)
    assert row.amount == "2.0268 l"
    assert (row.ended_at, row.state, row.use_by) == (None, before.state, before.use_by)
    assert shop.everything() == shop.replayed()
    assert shop.bad() == []
    used(shop, code)
    (_, last) = shop.facts("used")
    assert '"2.0268 l"' in last.body
    assert shop.everything() == shop.replayed()


def test_what_is_split_off_afterwards_shares_what_is_left(shop: Shop) -> None:
    code = shop.tub(amount="3 kg")
    used(shop, code, "1 kg", part=True)
    made = handle.split(shop.kitchen, "mk", code, shop.hand.now, 4).made
    assert {row.amount for row in made} == {"0.5 kg"}
    assert shop.everything() == shop.replayed()


def test_no_more_goes_than_is_known_to_be_in_it(shop: Shop) -> None:
    code = shop.tub(amount="2 kg")
    with pytest.raises(Mistake, match=r"holds 2 kg, not 5 lb") as told:
        binned(shop, code, "5 lb", part=True)
    assert told.value.code == "too-much"
    with pytest.raises(Mistake, match=r"holds 2 kg, not 2100 g"):
        used(shop, code, "2100 g")
    with pytest.raises(Mistake) as told:
        used(shop, code, "2000 g", part=True)
    assert refused(told)[0] == "all-of-it"
    with pytest.raises(Mistake) as told:
        binned(shop, code, part=True)
    assert refused(told)[0] == "no-amount"
    assert shop.facts("discarded") == shop.facts("used") == []


def test_more_than_was_written_can_be_corrected_first(shop: Shop) -> None:
    codes = [row.code for row in shop.prep(count=2, amount="4 l").rows]
    more = correct.with_amount(read_amount("5 l"))
    correct.correct_making(shop.kitchen, "jr", codes[0], more, None, "weighed again")
    assert shop.row(codes[1]).amount == "2.5 l"
    binned(shop, codes[0], "2.4 l")
    assert shop.everything() == shop.replayed()


def test_another_kind_of_measure_leaves_the_rest_unknown(shop: Shop) -> None:
    code = shop.tub(amount="2 l")
    binned(shop, code, "300 g", part=True)
    assert shop.row(code).amount == ""
    binned(shop, code)
    assert [each.amount for each in today(shop).discards] == [read_amount("300 g"), None]
    assert today(shop).overall.unknown == 1


def test_a_part_taken_back_is_in_it_again(shop: Shop) -> None:
    code = shop.tub(amount="2 l")
    binned(shop, code, "500 ml", part=True)
    (entry,) = shop.facts("discarded")
    correct.void(shop.kitchen, "jr", entry.number, "it was the other tub")
    assert shop.row(code).amount == "2 l"
    found = today(shop)
    assert (found.discards, found.overall.containers) == ((), 0)
    assert [each.voided for each in found.voided] == ["it was the other tub"]
    assert shop.everything() == shop.replayed()


def test_a_part_ends_no_food_for_the_rules(shop: Shop) -> None:
    code = shop.tub(amount="2 l")
    binned(shop, code, "500 ml", part=True)
    shop.it_is("06-08 06:00")
    assert shop.holding(code).verdict == "discard"
    assert shop.holding(code).reason != ""
    told = [each.says for each in why(shop.kitchen, code).story]
    assert any("part discarded" in each for each in told)


# ---- other ends ------------------------------------------------------------------------------


def test_only_a_makers_goods_go_back_and_they_may_be_unfit(shop: Shop) -> None:
    own = shop.tub(amount="2 l")
    with pytest.raises(Mistake) as told:
        used(shop, own, how="returned")
    assert refused(told)[0] == "not-received"
    fish = received(shop)
    handle.reading(shop.kitchen, "mk", fish, shop.hand.now, temp("70F"))
    with pytest.raises(Mistake) as told:
        used(shop, fish)
    assert refused(told)[0] == "unfit"
    used(shop, fish, how="returned")
    assert shop.row(fish).ended_as == "returned"
    assert dict(today(shop).ended) == {"discarded": 0, "returned": 1}


def test_each_end_is_counted_apart_and_the_waste_share_is_true(shop: Shop) -> None:
    stock = [row.code for row in shop.prep("chicken stock", 6, amount="12 l").rows]
    for code, how in zip(stock[:4], ("used", "sold", "staff meal", "donated"), strict=True):
        used(shop, code, how=how)  # type: ignore[arg-type]
    binned(shop, stock[4], "500 ml", part=True)
    binned(shop, stock[5], "1.5 l", reason="over-made")
    beans = shop.tub("lentil, cooked", amount="2 kg")
    binned(shop, beans)
    unknown = shop.tub("lentil, cooked")
    used(shop, unknown)
    found = today(shop)
    by_name = {each.name: each for each in found.balances}
    # By hand: eight litres ended well, 2 were binned, and of the last tub 0.5 l had gone before.
    assert by_name["chicken stock"].ended == {
        "used": {"ml": 2000}, "sold": {"ml": 2000}, "staff meal": {"ml": 2000},
        "donated": {"ml": 2000}, "discarded": {"ml": 2000}, NOT_SAID: {"ml": 500},
    }  # fmt: skip
    assert by_name["chicken stock"].waste == {"ml": Decimal("0.1905")}  # 2 / 10.5
    assert by_name["lentil, cooked"].waste == {"g": 1}
    assert by_name["lentil, cooked"].unknown == {"used": 1}
    assert found.balance.waste == {"g": 1, "ml": Decimal("0.1905")}
    assert found.overall.containers == 3
    # The tub that lost half a litre is still there.
    assert dict(found.ended)["discarded"] == 2


def test_what_goes_on_in_another_container_has_not_ended(shop: Shop) -> None:
    code = shop.tub(amount="4 l")
    made = handle.split(shop.kitchen, "mk", code, shop.hand.now, 2).made
    binned(shop, made[0].code)
    handle.top_up(shop.kitchen, "mk", shop.tub(amount="1 l"), made[1].code, shop.hand.now)
    found = today(shop)
    assert found.balance.ended == {"discarded": {"ml": 2000}}
    assert found.balance.unknown == {}
    assert dict(found.ended) == {"discarded": 1, "split": 1, "poured together": 1}


def test_asked_for_one_reason_the_whole_is_still_the_whole(shop: Shop) -> None:
    for reason in ("off", "recall", "off", "date"):
        binned(shop, shop.tub(amount="1 l"), reason=reason)
    found = audit(shop.kitchen, day("06-01"), day("06-01"), reason="off")
    assert found.overall.sums == {"ml": 2000}
    assert found.balance.waste == {"ml": Decimal("0.5")}
    assert [each.name for each in found.by_reason] == ["off in look or smell"]


# ---- where, and what it cost -----------------------------------------------------------------


def test_the_unit_is_the_one_it_stood_in_then(shop: Shop) -> None:
    code = shop.tub(amount="3 l")
    shop.it_is("06-01 08:00")
    binned(shop, code, "1 l", part=True)
    shop.it_is("06-01 09:00")
    handle.move(shop.kitchen, "mk", code, shop.hand.now, shop.unit("reach-in"))
    shop.it_is("06-01 10:00")
    binned(shop, code, "1 l", part=True)
    shop.it_is("06-01 11:00")
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    shop.it_is("06-01 12:00")
    binned(shop, code)
    found = today(shop)
    assert [each.unit for each in found.discards] == ["walk-in", "reach-in", "chest freezer"]
    assert {each.name: each.sums["ml"] for each in found.by_unit} == {
        "walk-in": 1000, "reach-in": 1000, "chest freezer": 1000,
    }  # fmt: skip
    assert (found.overall.containers, found.overall.discards) == (1, 3)


def test_a_later_price_does_not_rewrite_what_was_binned(shop: Shop) -> None:
    costs(shop, "chicken stock", "1.80 EUR/l")
    assert binned(shop, shop.tub(amount="2 l")) == "3.60 EUR"
    shop.it_is("06-01 10:00")
    costs(shop, "chicken stock", "2.50 EUR/l")
    assert binned(shop, shop.tub(amount="2 l")) == "5.00 EUR"
    # Written afterwards of half past eight, when it still cost the old price.
    late = shop.tub(amount="2 l", made="06-01 06:00")
    done = discard.discard(shop.kitchen, "mk", late, at("06-01 08:30"), "off")
    assert str(done.cost) == "3.60 EUR"
    assert today(shop).overall.cost == {"EUR": Decimal("12.20")}


def test_a_cost_that_cannot_be_worked_out_is_counted_and_not_guessed(shop: Shop) -> None:
    costs(shop, "chicken stock", "2/kg")
    costs(shop, "garlic oil", "9 USD/l")
    costs(shop, "hummus", "8 EUR/kg")
    assert binned(shop, shop.tub("chicken stock", amount="2 l")) == "None"
    assert binned(shop, shop.tub("garlic oil")) == "None"
    assert binned(shop, shop.tub("lentil, cooked", amount="1 kg")) == "None"
    assert binned(shop, shop.tub("garlic oil", amount="500 ml")) == "4.50 USD"
    assert binned(shop, shop.tub("hummus", amount="1 lb")) == "3.63 EUR"
    found = today(shop).overall
    assert found.cost == {"USD": Decimal("4.50"), "EUR": Decimal("3.63")}
    assert (found.discards, found.unpriced) == (5, 3)


@pytest.mark.parametrize(
    ("typed", "word"),
    [("past", "date"), ("too warm", "warm"), ("made", "over-made"), ("da", "date")],
)
def test_a_reason_is_named_by_its_word_or_by_what_it_says(typed: str, word: str) -> None:
    assert discard.reason_of(typed) == word


@pytest.mark.parametrize("typed", ["", "d", "cold", "xyz"])
def test_what_begins_no_reason_or_two_is_refused(typed: str) -> None:
    with pytest.raises(Mistake, match="is no reason"):
        discard.reason_of(typed)


def test_more_on_the_scale_than_was_written_is_binned_whole_and_said(shop: Shop) -> None:
    code = shop.tub(amount="2 kg")
    much = read_amount("5 lb")
    done = discard.discard(shop.kitchen, "mk", code, shop.hand.now, "date", much)
    assert (str(done.amount), str(done.written)) == ("5 lb", "2 kg")
    assert today(shop).overall.sums == {"g": Decimal("2267.96185")}  # NIST Handbook 44, App. C
    assert shop.everything() == shop.replayed()
