"""A clock that was ahead and is put back: food never becomes younger, and the line says what to do.

The order of entries never rests on the clock (they are numbered); their moments do.
"""

from collections.abc import Callable

import pytest

from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import DAY, HOUR, Instant
from holdlog.kitchen import audit, due, handle
from holdlog.kitchen.printing import write_by_hand
from holdlog.kitchen.tape import tape
from tests.kitchen.shop import Shop, at, codes, day


def verdict(shop: Shop, code: str) -> str:
    return next(each.verdict for each in due.everything(shop.kitchen) if each.row.code == code)


def test_while_the_clock_is_ahead_food_is_older_never_younger(shop: Shop) -> None:
    """Seven days, the first of them day 1 (Food Code 3-501.17(A)): ahead, it is past them."""
    code = shop.tub()
    assert verdict(shop, code) == "serve"
    shop.hand.now = Instant(shop.hand.now + 8 * DAY)
    assert verdict(shop, code) == "discard"


def test_a_clock_put_back_judges_and_writes_nothing_until_it_has_caught_up(shop: Shop) -> None:
    code = shop.tub()
    right = shop.hand.now
    shop.hand.now = Instant(right + 8 * DAY)
    ahead = shop.tub("garlic oil")
    kept = len(shop.entries())
    shop.hand.now = Instant(right + HOUR)
    jobs: list[Callable[[], object]] = [
        lambda: due.everything(shop.kitchen),
        lambda: shop.prep("fish stock"),
        lambda: write_by_hand(shop.kitchen, "mk", [code]),
        lambda: handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None),
        lambda: audit.audit(shop.kitchen, day("06-01"), day("06-01")),
    ]
    for job in jobs:
        with pytest.raises(Fault) as told:
            job()
        assert told.value.code == "clock-back"
    assert len(shop.entries()) == kept
    shop.hand.now = Instant(right + 8 * DAY + HOUR)
    assert verdict(shop, code) == "discard"
    assert ahead in codes(due.everything(shop.kitchen))


def test_an_entry_of_a_clock_a_year_ahead_is_named_with_its_year_and_what_to_do(
    shop: Shop,
) -> None:
    shop.tub()
    first = len(shop.entries()) + 1
    shop.it_is("2027-06-01 09:00")
    shop.tub("garlic oil")
    shop.it_is("2026-06-01 10:00")
    with pytest.raises(Fault) as told:
        due.due(shop.kitchen)
    line = told.value.line()
    assert "The clock says Mon 1 June 2026 10:00" in line
    assert "last written Tue 1 June 2027 09:00" in line
    assert "Set it right" in line
    assert f"from entry {first} on" in line
    assert "Hold what was labelled since" in line
    assert "docs/faults.md" in line


def test_an_audit_of_days_to_come_or_of_an_unknown_item_is_no_empty_audit(shop: Shop) -> None:
    """Empty, it would look as if nothing had been binned."""
    with pytest.raises(Mistake, match="still to come"):
        audit.audit(shop.kitchen, day("06-02"), day("06-03"))
    with pytest.raises(Mistake, match="unicorn"):
        audit.audit(shop.kitchen, day("06-01"), day("06-01"), item="unicorn")
    assert audit.audit(shop.kitchen, day("06-01"), day("06-01"), item="STOCK").discards == ()


def test_a_date_of_another_year_is_told_with_its_year(shop: Shop) -> None:
    shop.it_is("2026-12-29 15:00")
    (label,) = write_by_hand(shop.kitchen, "mk", [shop.tub()])
    assert label.use_by is not None
    assert label.use_by > at("2027-01-01 00:00")
    assert "USE BY MON 4 JANUARY 2027" in tape(shop.kitchen, label)
