"""Making less: which batches tell how much was wanted, and what the kitchen is told to make."""

from collections.abc import Callable
from decimal import Decimal
from random import Random
from statistics import NormalDist

import pytest

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.costs import read_cost
from holdlog.core.errors import Mistake
from holdlog.core.moments import DAY, Instant
from holdlog.kitchen import correct, discard, handle
from holdlog.kitchen.items import find_item, items
from holdlog.kitchen.making_less import ItemPast, making_less
from tests.kitchen.shop import Shop, day

JUNE = day("06-01"), day("12-31")
HOUR = DAY // 24


def past(shop: Shop, share: float = 0.9, item: str = "") -> ItemPast:
    (found,) = making_less(shop.kitchen, *JUNE, share, item=item)
    return found


def a_batch(
    shop: Shop, made: str, used: str = "", binned: str = "", why: str = "date", **more: object
) -> str:
    """A batch of one tub, of which so much was used, and the rest binned."""
    code = shop.tub(str(more.get("item", "hummus")), amount=made)
    if used:
        much = read_amount(used)
        part = bool(binned)
        handle.end(shop.kitchen, "mk", code, shop.hand.now, "used", much, part=part)
    if binned:
        discard.discard(shop.kitchen, "mk", code, shop.hand.now, why, read_amount(binned))
    shop.hand.now = Instant(shop.hand.now + 12 * HOUR)
    return code


def test_what_was_left_tells_the_demand_and_what_ran_out_does_not(shop: Shop) -> None:
    for n in range(5):
        a_batch(shop, "4 kg", f"{n + 1}000 g" if n < 3 else "4 kg", f"{3 - n} kg" if n < 3 else "")
    found = past(shop)
    assert [(int(each.used), each.left) for each in found.batches] == [
        (1000, True), (2000, True), (3000, True), (4000, False), (4000, False)
    ]  # fmt: skip
    assert found.ran_out == 2
    assert not found.enough
    assert found.advice is None


def test_food_lost_for_another_reason_might_have_been_wanted(shop: Shop) -> None:
    reasons = [reason for reason in discard.REASONS if reason != "other"]  # that one wants a note
    for reason in reasons:
        a_batch(shop, "4 kg", "1 kg", "3 kg", reason)
    left = [each.left for each in past(shop).batches]
    assert {reason for reason, too_much in zip(reasons, left, strict=True) if too_much} == {
        "date", "over-made",
    }  # fmt: skip


def test_eight_batches_of_which_three_had_something_left_are_enough(shop: Shop) -> None:
    for used in (4, 4, 4, 4, 4, 3, 3):
        a_batch(shop, "4 kg", f"{used} kg", f"{4 - used} kg" if used < 4 else "")
    assert past(shop).advice is None
    a_batch(shop, "4 kg", "4 kg")
    assert past(shop).advice is None  # eight, but only two tell
    a_batch(shop, "4 kg", "2 kg", "2 kg")
    advice = past(shop, 0.3).advice
    assert advice is not None
    # By hand: of nine, one wanted 2, two wanted 3, and six at least 4: 3 are enough in a third.
    assert advice.size.at == 3000
    assert advice.usual == 4000
    assert advice.left_now == Decimal(4000) / 9
    # Enough in 9 of 10 cases: nobody knows, it ran out too often.
    more = past(shop, 0.9).advice
    assert more is not None
    assert more.size.at is None


def test_what_a_smaller_batch_saves_is_in_the_kitchens_own_money(shop: Shop) -> None:
    with shop.kitchen.writing("jr") as write:
        known = find_item(items(shop.kitchen, write.conn), "hummus")
        fact = known.fact
        priced = ev.ItemAdded(fact.name, fact.category, fact.allergens, cost=read_cost("5 EUR/kg"))
        write.append((priced, write.recorded_at, known.id))
    for _ in range(8):
        a_batch(shop, "4 kg", "1 kg", "3 kg")
    advice = past(shop, 0.9).advice
    assert advice is not None
    assert advice.size.at == 1000
    assert advice.left_then == 0
    assert str(advice.saved) == "15.00 EUR"


def test_batches_that_tell_nothing_are_left_out_and_counted(shop: Shop) -> None:
    a_batch(shop, "4 kg", "1 kg", "3 kg")
    a_batch(shop, "")  # nobody said how much, and it is on hand
    shop.tub("hummus", amount="2 kg")
    code = a_batch(shop, "3 l", "1 l", "2 l")
    shop.hand.now = Instant(shop.hand.now + HOUR)
    voided = a_batch(shop, "9 kg", "9 kg")
    entry = next(each.number for each in shop.facts("used") if each.subject == voided)
    correct.void(shop.kitchen, "jr", entry, "the wrong tub")
    one, other = (shop.tub("hummus", amount="1 kg") for _ in range(2))
    handle.top_up(shop.kitchen, "mk", one, other, shop.hand.now)
    handle.end(shop.kitchen, "mk", one, shop.hand.now, "used", None)
    found = past(shop)
    assert code
    assert len(found.batches) == 1
    assert found.left_out == {
        "nobody said how much was made": 1, "still on hand": 2, "in another measure": 1,
        "poured together with another": 2,
    }  # fmt: skip


def test_a_batch_in_several_tubs_and_pans_counts_once(shop: Shop) -> None:
    rows = shop.prep("hummus", 2, amount="4 kg").rows
    pans = handle.split(shop.kitchen, "mk", rows[0].code, shop.hand.now, 2).made
    for pan in pans:
        handle.end(shop.kitchen, "mk", pan.code, shop.hand.now, "sold", None)
    discard.discard(shop.kitchen, "mk", rows[1].code, shop.hand.now, "date")
    (each,) = past(shop).batches
    assert each.made == 4000
    assert each.used == 2000
    assert each.binned == {"date": Decimal(2000)}


def test_from_a_known_demand_the_size_comes_out_near_the_truth(shop: Shop) -> None:
    """Demand is normal, 3 kg with a deviation of 0.6 kg, and the batches of 2.5 to 4 kg: 60 of
    them are told through the journal; the seed is fixed.
    """
    dice = Random(4)
    for _ in range(60):
        made = dice.choice([2500, 3000, 3500, 4000])
        wanted = round(dice.gauss(3000, 600))
        used = min(made, wanted)
        a_batch(shop, f"{made} g", f"{used} g", f"{made - used} g" if used < made else "")
    advice = past(shop, 0.7, "hummus").advice
    assert advice is not None
    right = NormalDist(3000, 600).inv_cdf(0.7)
    assert advice.size.at is not None
    assert abs(float(advice.size.at) - right) < 200
    assert advice.size.low is not None
    assert float(advice.size.low) < right
    assert advice.size.high is None or float(advice.size.high) > right


@pytest.mark.parametrize("share", [0, 1, -0.5, 7])
def test_a_share_that_is_none_is_refused(shop: Shop, share: float) -> None:
    with pytest.raises(Mistake) as caught:
        making_less(shop.kitchen, *JUNE, share)
    assert caught.value.code == "bad-share"


def test_an_unknown_item_and_a_turned_period_are_refused(shop: Shop) -> None:
    for work in (
        lambda: making_less(shop.kitchen, *JUNE, 0.9, item="no such thing at all"),
        lambda: making_less(shop.kitchen, JUNE[1], JUNE[0], 0.9),
    ):
        refused(work)
    assert making_less(shop.kitchen, *JUNE, 0.9) == []


def refused(work: Callable[[], object]) -> None:
    with pytest.raises(Mistake):
        work()
