"""The bin and the other ends, as a cook types them: parts, reasons, costs, the audit of it."""

import re
from decimal import Decimal

from holdlog.cli.wiring import clock, draw
from holdlog.journal.engine import open_database
from holdlog.kitchen.discard import discard
from holdlog.kitchen.kitchen import open_kitchen
from tests.cli.conftest import Stock
from tests.cli.running import Till


def story(till: Till, code: str) -> list[str]:
    return [each["says"] for each in till.data("why", code)["story"]]


def test_a_part_is_binned_and_the_rest_stays(stock: Stock) -> None:
    till, (one, _) = stock.till, stock.stock
    said = till.ok("discard", one, "-r", "off", "--amount", "1pint", "--part", COLUMNS="120")
    assert said == (
        "Binned: chicken stock, 1 pint (off in look or smell). On hand is still 2.5268 l.\n"
    )
    said = till.ok("use", one, "--amount", "500ml", "--part", COLUMNS="120")
    assert said == "chicken stock: 500 ml used. On hand is still 2.0268 l.\n"
    rows = {row["code"]: row for row in till.data("on-hand")}
    assert rows[one]["amount"] == "2.0268 l"
    assert story(till, one)[-2:] == [
        "part discarded: off in look or smell, 1 pint", "500 ml used, the rest stays",
    ]  # fmt: skip
    assert "is off the list" in till.ok("use", one, "--as", "donated")


def test_no_more_goes_than_is_in_it_and_both_are_named(stock: Stock) -> None:
    till, (one, _) = stock.till, stock.stock
    before = till.entries()
    told = till.run("discard", one, "-r", "off", "--amount", "1gal", "--part").refusal()
    assert "holds 3 l, not 1 gal" in told
    assert "How much of" in till.run("use", one, "--part").refusal()
    assert "Leave --part out" in till.run("use", one, "--part", "--amount", "3l").refusal()
    assert "no maker" in till.run("use", one, "--as", "returned").refusal()
    assert till.entries() == before
    till.ok("correct", one, "--amount", "12l", "--why", "weighed again")
    till.ok("discard", one, "-r", "off", "--amount", "1gal", "--part")


def test_recalled_goods_are_binned_or_go_back(stock: Stock) -> None:
    till = stock.till
    assert "recalled" in till.ok("discard", stock.fish, "-r", "recall")
    till.ok("use", stock.ham, "--as", "returned")
    audit = till.ok("audit")
    assert "1 discarded, 1 returned" in audit
    # 3 kg of fish binned, 2 kg of ham sent back.
    assert "Wasted, of known amounts: 60.0 %." in audit


def test_a_cost_is_told_by_itself_and_changes_nothing_else(stock: Stock) -> None:
    till = stock.till
    till.ok("item", "add", "ham, cooked", "--cost", "11.5 EUR/kg", "--house-days", "3")
    till.ok("item", "add", "ham, cooked", "--cost", "12.40 EUR/kg")
    (item,) = till.data("item", "list", "ham, cooked")
    assert (item["category"], item["cost"]) == ("cooked-meat", "12.40 EUR/kg")
    assert item["house_days"] == 3
    (before,) = till.data("item", "list", "hummus")
    till.ok("item", "add", "hummus", "--cost", "8/kg")
    (after,) = till.data("item", "list", "hummus")
    # What is on the label for the guests who must know is not lost for the sake of a price.
    assert before["allergens"]
    assert after == {**before, "cost": "8/kg"}
    till.ok("item", "add", "hummus", "--cost", "none")
    assert till.data("item", "list", "hummus") == [before]
    assert "4.20/kg" in till.run("item", "add", "hummus", "--cost", "8").refusal()
    assert "What kind of food?" in till.run("item", "add", "gumbo", "--cost", "8/l").refusal()


def test_the_audit_adds_up_money_and_marks_what_is_void(stock: Stock) -> None:
    till, (one, two) = stock.till, stock.stock
    till.ok("item", "add", "chicken stock", "--cost", "1.80 EUR/l")
    assert "worth 5.40 EUR" in till.ok("discard", one, "-r", "dropped", COLUMNS="120")
    entry = next(
        each["entry"]
        for each in till.data("why", one)["story"]
        if each["says"].startswith("discarded")
    )
    till.ok("void", str(entry), "--why", "it was the other tub")
    till.ok("discard", two, "-r", "dropped", "--amount", "2l")
    audit = till.ok("audit", COLUMNS="160")
    assert "VOID, not counted: it was the other tub" in audit
    assert "In all 1 container: 2 l. Cost: 3.60 EUR." in audit
    assert re.search(r"^ +walk-in +1 +2 l +3\.60 EUR$", audit, re.MULTILINE)
    # Of the three litres that were in it, one had been taken before and nobody said how.
    assert re.search(r"^ +chicken stock +1 +2 l +3\.60 EUR +66\.7 %$", audit, re.MULTILINE)
    assert re.search(r"^ +not said +1 l$", audit, re.MULTILINE)
    found = till.data("audit")
    assert found["overall"]["cost"] == {"EUR": "3.60"}
    assert [each["voided"] for each in found["voided"]] == ["it was the other tub"]
    assert found["became"][-1] == {
        "name": "all", "ended": {"discarded": {"ml": "2000"}, "not said": {"ml": "1000"}},
        "unknown": {}, "waste": {"ml": "0.6667"},
    }  # fmt: skip


def test_a_list_that_nobody_would_read_is_left_to_json(till: Till) -> None:
    codes = till.codes("prep", "chicken stock", "42l", "-c", "42", "--tape")
    db = open_database(till.journal, must_exist=True)
    shop = open_kitchen(db, clock, draw)
    for code in codes:
        discard(shop, "MK", code, shop.now(), "over-made")
    db.close()
    said = till.ok("audit")
    assert "42 discards: ask for fewer days, or --json" in said
    assert "In all 42 containers: 42 l." in said
    assert codes[0][:4] + "-" not in said
    assert len(till.data("audit")["discards"]) == 42


def test_the_scale_is_right_when_more_is_binned_than_was_written(stock: Stock) -> None:
    till, (one, two) = stock.till, stock.stock
    said = till.ok("discard", one, "-r", "date", "--amount", "3.4l", COLUMNS="200")
    (entry,) = re.findall(r"holdlog void (\d+)", said)
    assert "Binned: chicken stock, 3.4 l" in said
    assert "more than the 3 l that was written of it" in said
    assert Decimal(till.data("audit")["overall"]["sums"]["ml"]) == 3400
    till.ok("void", entry, "--why", "mistyped")
    found = till.data("discard", one, "-r", "date", "--amount", "3l")
    assert found["was_written"] is None
    assert "holds 3 l" in till.run("use", two, "--amount", "3.4l").refusal()
    assert till.run("doctor").code == 0
