"""A clock that is far ahead, or was and is put back: nothing is dated by it, food never becomes
younger, and the line says what to do.

The order of entries never rests on the clock (they are numbered); their moments do.
"""

from collections.abc import Callable

import pytest

from holdlog.core import events as ev
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import DAY, HOUR, Instant
from holdlog.journal.codec import fact_of
from holdlog.kitchen import audit, clocks, correct, discard, due, handle
from holdlog.kitchen.clock_right import found_right, look
from holdlog.kitchen.printing import print_labels, write_by_hand
from holdlog.kitchen.recall import recall
from holdlog.kitchen.tape import tape
from holdlog.kitchen.telling import tell
from holdlog.kitchen.why import why
from tests.kitchen.shop import Shop, at, codes, day, temp


def verdict(shop: Shop, code: str) -> str:
    return next(each.verdict for each in due.everything(shop.kitchen) if each.row.code == code)


def test_while_the_clock_is_ahead_food_is_older_never_younger(shop: Shop) -> None:
    """Seven days, the first of them day 1 (Food Code 3-501.17(A)): ahead, it is past them."""
    code = shop.tub()
    assert verdict(shop, code) == "serve"
    shop.hand.now = Instant(shop.hand.now + 8 * DAY)
    assert verdict(shop, code) == "discard"


def test_a_clock_put_back_dates_nothing_and_judges_as_of_the_last_entry(shop: Shop) -> None:
    """Nothing becomes younger again: stock of Monday is past its seven days the Monday after."""
    code = shop.tub()
    right = shop.hand.now
    shop.hand.now = Instant(right + 8 * DAY)
    ahead = shop.tub("garlic oil")
    kept = len(shop.entries())
    shop.hand.now = Instant(right + HOUR)
    shop.reopen()
    mk, now = (shop.kitchen, "mk"), shop.kitchen.now()
    jobs: list[Callable[[], object]] = [
        lambda: shop.prep("fish stock"),
        lambda: shop.prep("chicken, poached", kind="received"),
        lambda: write_by_hand(*mk, [ahead]),
        lambda: print_labels(*mk, [ahead], shop.path.parent),
        lambda: handle.freeze(*mk, ahead, now, None),
        lambda: handle.move(*mk, ahead, now, shop.unit("reach-in")),
        lambda: handle.split(*mk, ahead, now, 2),
        lambda: handle.reading(*mk, ahead, now, temp("38F")),
        lambda: handle.take_out(*mk, ahead, now, ev.Out()),
        lambda: correct.void(*mk, shop.facts("prepared")[-1].number, "wrong"),
        lambda: found_right(shop.kitchen, "jr"),
    ]
    for job in jobs:
        with pytest.raises(Fault) as told:
            job()
        assert told.value.code == "clock-back"
    assert len(shop.entries()) == kept
    assert now == right + 8 * DAY
    assert verdict(shop, code) == "discard"
    assert due.due(shop.kitchen).at == now
    assert why(shop.kitchen, code).at == now
    assert audit.audit(shop.kitchen, day("06-01"), day("06-09")).entries == kept
    assert shop.bad() == ["clock"]
    shop.hand.now = Instant(right + 8 * DAY + HOUR)
    assert verdict(shop, code) == "discard"
    assert shop.bad() == []
    shop.tub("fish stock")


def test_while_the_clock_is_back_food_ends_and_is_recalled_as_of_the_last_entry(
    shop: Shop,
) -> None:
    """Also where the clock is put back while a program runs, which goes by what it said."""
    binned, used, lot = shop.tub(), shop.tub("garlic oil"), shop.tub(kind="opened", lot="L 442")
    last = shop.hand.now
    shop.hand.now = Instant(last - 3 * DAY)
    now = shop.hand.now
    discard.discard(shop.kitchen, "mk", binned, now, "off")
    handle.end(shop.kitchen, "mk", used, now, "used", None)
    found = recall(shop.kitchen, "jr", "", "L 442", "maker's notice 4711")
    assert [row.code for row in found.live] == [lot]
    written = shop.entries()[-3:]
    assert [(each.kind, each.at, each.recorded_at) for each in written] == [
        (kind, last, last) for kind in ("discarded", "used", "recalled")
    ]
    assert codes(due.everything(shop.kitchen)) == [lot]
    assert verdict(shop, lot) == "hold"
    assert shop.everything() == shop.replayed()
    # Taken back, it would be on the list again; that waits for the right clock.
    with pytest.raises(Fault, match="went backwards"):
        correct.void(shop.kitchen, "mk", written[0].number, "the wrong tub")


def test_a_clock_that_jumped_far_ahead_dates_nothing_and_food_only_looks_older(
    shop: Shop,
) -> None:
    code = shop.tub()
    kept = len(shop.entries())
    shop.it_is("2027-06-01 09:00")
    jobs: list[Callable[[], object]] = [
        lambda: shop.prep("fish stock"),
        lambda: write_by_hand(shop.kitchen, "mk", [code]),
        # Recorded then, it would put the journal ahead of the right clock.
        lambda: discard.discard(shop.kitchen, "mk", code, shop.hand.now, "date"),
    ]
    for job in jobs:
        with pytest.raises(Fault) as told:
            job()
        assert told.value.code == "clock-ahead"
        line = told.value.line()
        assert "The clock says Tue 1 June 2027 09:00" in line
        assert "last written Mon 1 June 2026 06:00" in line
        assert "Set it right" in line
        assert "holdlog clock --right" in line
    assert verdict(shop, code) == "discard"
    assert shop.bad() == ["clock"]
    assert len(shop.entries()) == kept
    shop.it_is("06-01 10:00")
    assert verdict(shop, code) == "serve"
    shop.tub("fish stock")


def test_after_four_days_without_an_entry_the_day_is_told_and_food_is_dated_all_the_same(
    shop: Shop,
) -> None:
    """Four days are ours: longer than a long weekend's closing. 7 June 2026 is a Sunday."""

    def remark() -> str:
        shop.reopen()
        return clocks.remark(shop.kitchen.apart, shop.kitchen.where)

    shop.it_is("06-05 06:00")
    assert remark() == ""
    shop.it_is("06-07 10:00")
    told = remark()
    assert told == (
        "By the clock today is Sunday 7 June 2026; nobody wrote for 6 days. If that is not today, "
        "set the clock before you label."
    )
    found = look(shop.kitchen)
    assert (found.doubt, found.remark) == (None, told)
    assert shop.row(shop.tub()).last_day == "2026-06-13"
    assert remark() == look(shop.kitchen).remark == ""
    # From 30 days on it is no remark any more.
    shop.it_is("07-08 10:00")
    assert "Is the clock right?" in remark()
    assert look(shop.kitchen).remark == ""


def test_a_kitchen_that_was_closed_goes_on_once_the_clock_was_found_right(shop: Shop) -> None:
    """30 days are believed (ours); so is a first entry long after set-up, once somebody looked."""
    shop.hand.now = Instant(at("06-01 06:00") + 30 * DAY)
    assert found_right(shop.kitchen, "jr").recorded is None
    shop.tub()
    shop.hand.now = Instant(shop.hand.now + 92 * DAY + HOUR)
    with pytest.raises(Fault, match="jumped so far"):
        shop.tub()
    with pytest.raises(Mistake, match="You say Wednesday 30 September 2026, the clock says Thu 1"):
        found_right(shop.kitchen, "jr", day("09-30"))
    done = found_right(shop.kitchen, "jr", day("10-01"))
    entry = shop.entries()[-1]
    assert (entry.number, entry.by, entry.at) == (done.recorded, "JR", shop.hand.now)
    assert tell(fact_of(entry)) == "clock found right, 92 days after the entry before"
    assert shop.row(shop.tub()).last_day == "2026-10-07"
    assert look(shop.kitchen).doubt is None
    assert shop.bad() == []


def test_an_entry_of_a_clock_a_year_ahead_is_named_with_its_year_and_what_to_do(
    shop: Shop,
) -> None:
    shop.tub()
    first = len(shop.entries()) + 1
    shop.reopens("2027-06-01 09:00")  # nobody looked
    shop.tub("garlic oil")
    shop.it_is("2026-06-01 10:00")
    with pytest.raises(Fault) as told:
        shop.tub()
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
    shop.reopens("2026-12-29 15:00")
    (label,) = write_by_hand(shop.kitchen, "mk", [shop.tub()])
    assert label.use_by is not None
    assert label.use_by > at("2027-01-01 00:00")
    assert "USE BY MON 4 JANUARY 2027" in tape(shop.kitchen, label)
