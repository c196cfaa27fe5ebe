"""What was ticked on a round sheet: shown first, then all of it or nothing."""

from dataclasses import replace

import pytest

from holdlog.core import events as ev
from holdlog.core.codes import ALPHABET, LETTERS, check_character
from holdlog.core.errors import Mistake
from holdlog.core.moments import MINUTE, Instant
from holdlog.journal.codec import fact_of
from holdlog.kitchen import handle, units
from holdlog.kitchen.due import everything
from holdlog.kitchen.round import find
from holdlog.kitchen.round_sheet import sheet_data
from holdlog.kitchen.sheet_entry import Entered, enter
from tests.kitchen.shop import Shop, codes, temp


def entered(shop: Shop, *lines: str, keep: bool = True, in_charge: str = "") -> Entered:
    return enter(shop.kitchen, "mk", lines, shop.hand.now, in_charge, keep=keep)


def refused(shop: Shop, *lines: str) -> Mistake:
    """The refusal; nothing may have been written for it."""
    before = shop.entries()
    with pytest.raises(Mistake) as caught:
        entered(shop, *lines)
    assert shop.entries() == before
    return caught.value


# ---- the sheet -------------------------------------------------------------------------------


def test_the_sheet_stands_in_the_order_of_the_walk(shop: Shop) -> None:
    shop.tub("chicken stock", unit="reach-in")
    shop.tub("chicken stock")
    shop.tub("garlic oil")
    hold = shop.tub("fish stock")
    handle.freeze(shop.kitchen, "mk", shop.tub("vegetable stock"), shop.hand.now, None)
    handle.reading(shop.kitchen, "mk", hold, shop.hand.now, temp("60 F"))
    found = sheet_data(shop.kitchen)
    assert [each.name for each in found.units] == list(shop.kitchen.units)
    lines = [line for each in found.units for line in each.lines]
    assert codes(lines) == codes(everything(shop.kitchen))
    assert codes(lines)[0] == hold
    (reach,) = sheet_data(shop.kitchen, "reach").units
    assert len(reach.lines) == 1


# ---- entering --------------------------------------------------------------------------------


def test_a_walked_sheet_becomes_a_round(shop: Shop) -> None:
    gone, used, missing, seen = codes(shop.prep("chicken stock", 4, amount="8l").rows)
    mark = sheet_data(shop.kitchen).mark
    late = shop.tub("chicken stock")  # made after the sheet was printed: nobody saw it
    other = shop.tub("garlic oil", unit="reach-in")
    done = entered(
        shop, f"sheet {mark}", "read walk-in 39F", f"bin {gone[-4:].lower()} dropped",
        f"used {used[-4:]}", f"missing {missing[:4]}-{missing[4:]}", "rest walk-in",
        "found walk-in cooked rice 500g", in_charge="jr",
    )  # fmt: skip
    assert set(codes(shop.live())) == {missing, seen, late, other}
    assert set(codes(done.outcome.not_seen)) == {missing, late}
    assert done.outcome.seen == 2  # the binned one was there, too
    walk = find(shop.kitchen)
    assert walk.end is not None
    assert walk.end[1].in_charge == "JR"
    assert [(fact.what, str(fact.amount)) for _, fact in walk.found] == [("cooked rice", "500 g")]
    assert all(scan.by_eye for scan in walk.scans)
    assert [str(each.read) for each in done.outcome.units] == ["39 °F"]
    binned = [fact_of(entry) for entry in shop.facts("discarded")]
    assert [(fact.reason, str(fact.amount)) for fact in binned
            if isinstance(fact, ev.Discarded)] == [("dropped", "2 l")]  # fmt: skip
    assert shop.everything() == shop.replayed()
    assert shop.bad() == []


def test_a_rehearsal_says_the_same_and_keeps_nothing(shop: Shop) -> None:
    first, second = codes(shop.prep("chicken stock", 2).rows)
    before = shop.entries(), shop.everything()
    lines = "read walk-in 39F", f"bin {first[-4:]} off", f"used {second[-4:]}"
    would = entered(shop, *lines, keep=False)
    assert (shop.entries(), shop.everything()) == before
    did = entered(shop, *lines)
    assert would.says == did.says
    assert would.outcome.seen == did.outcome.seen
    assert shop.live() == []


def test_one_bad_line_and_nothing_is_recorded(shop: Shop) -> None:
    code = shop.tub("chicken stock")
    old = shop.tub("garlic oil")
    shop.it_is("06-06 09:00")
    said = refused(shop, f"bin {code[-4:]} dropped", f"used {old[-4:]}")
    assert said.sentence.startswith("Line 2, 'used': garlic oil")
    assert "was not to be served" in said.sentence
    assert shop.row(code).ended_at is None


def test_a_warm_unit_puts_its_food_on_hold_with_the_sheet(shop: Shop) -> None:
    code = shop.tub("chicken stock")
    done = entered(shop, "read walk-in 60F", f"seen {code[-4:]}")
    assert any("BEYOND ITS LIMIT" in each for each in done.says)
    assert shop.row(code).verdict == "hold"
    with shop.db.reading() as conn:
        last = units.last_reading(shop.kitchen, conn, "walk-in")
    assert last is not None
    assert str(last.temperature) == "60 °F"


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("eat 9QX2", "begins no line"),
        ("bin", "bin what"),
        ("used 7", "number of a row"),
        ("used ZZZZ", "Nothing on hand"),
        ("bin {code}", "Why was it binned"),
        ("bin {code} gladly", "Why was it binned"),
        ("bin {code} other", "Other than what"),
        ("read walk-in 39", "not a temperature"),
        ("read cellar 39F", "no unit"),
        ("rest walk-in", "Of which sheet"),
        ("rest walk-in please", "no unit"),
        ("found walk-in", "What was found"),
        ("sheet 3-FFFF\nrest walk-in", "No sheet"),
        ("sheet x\nrest walk-in", "No sheet"),
        ("sheet 3-FFFF", "Nothing was entered"),
        ("", "Nothing was entered"),
        ("seen {code}\nmissing {code}", "Lines 1 and 2"),
    ],
)
def test_what_cannot_be_is_told_in_a_line(shop: Shop, line: str, says: str) -> None:
    code = shop.tub("chicken stock")[-4:]
    said = refused(shop, *line.format(code=code).split("\n")).line()
    assert says in said
    assert "\n" not in said


def test_an_ending_that_two_codes_share_wants_the_whole_code(shop: Shop) -> None:
    one = shop.tub("chicken stock")
    # Another code with the same last four signs, found by trying them all.
    other = next(
        body + one[-1]
        for first in LETTERS
        for second in ALPHABET
        for third in ALPHABET
        for fourth in ALPHABET
        if (body := first + second + third + fourth + one[4:7]) != one[:7]
        and check_character(body) == one[-1]
    )
    signs = iter(other[:-1])
    shop.kitchen = replace(shop.kitchen, draw=lambda _: next(signs))
    assert shop.tub("garlic oil") == other
    assert "could be" in refused(shop, f"used {one[-4:]}").sentence
    entered(shop, f"used {one}")
    assert codes(shop.live()) == [other]


def test_a_mark_knows_its_own_journal(shop: Shop) -> None:
    shop.tub("chicken stock")
    mark = sheet_data(shop.kitchen).mark
    number, _, piece = mark.partition("-")
    wrong = f"{number}-{'0000' if piece != '0000' else '1111'}"
    assert "No sheet" in refused(shop, f"sheet {wrong}", "rest walk-in").sentence
    entered(shop, f"sheet {mark.lower()}", "rest walk-in")


def test_a_split_off_that_came_later_was_not_seen(shop: Shop) -> None:
    code = shop.tub("chicken stock")
    mark = sheet_data(shop.kitchen).mark
    made = handle.split(shop.kitchen, "mk", code, shop.hand.now, 2, None, None, keep=True).made
    done = entered(shop, f"sheet {mark}", "rest walk-in")
    assert set(codes(done.outcome.not_seen)) == set(codes(made))
    assert done.outcome.seen == 1


def test_what_was_found_on_paper_keeps_its_amount_and_its_hour(shop: Shop) -> None:
    shop.tub("chicken stock")
    then = Instant(shop.hand.now - 20 * MINUTE)
    lines = ("found walk-in cooked rice 1.5 kg", "found walk-in milk 8 fl oz")
    enter(shop.kitchen, "mk", lines, then, keep=True)
    found = shop.facts("round-found")
    assert [each.at for each in found] == [then, then]
    facts = [fact for each in found if isinstance(fact := fact_of(each), ev.RoundFound)]
    assert [(fact.what, str(fact.amount)) for fact in facts] == [
        ("cooked rice", "1.5 kg"), ("milk", "8 fl oz"),
    ]  # fmt: skip
