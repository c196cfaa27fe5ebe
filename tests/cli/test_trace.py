"""Trace, recall, registers and imports as a person at the till sees them."""

import csv
import io
from datetime import UTC, datetime, timedelta

import pytest

from tests.cli.conftest import Stock
from tests.cli.running import Till


@pytest.fixture
def soup(stock: Stock) -> dict[str, str]:
    """Cream of a lot, in a soup that was split and made into another one, together with it."""
    till = stock.till
    till.ok("item", "add", "bean soup", "-k", "cooked-dish")
    (cream,) = till.codes("open", "cream, opened", "2l", "--lot", "L-442", "--tape")
    first, second = till.codes(
        "combine", "bean soup", "--partly", cream, "--amount", "6l", "-c", "2", "--tape"
    )
    (taken,) = till.codes("split", second, "--into", "1", "--each", "1l", "--keep", "--tape")[-1:]
    till.ok("use", second, "--as", "sold", "--amount", "500ml", "--part")
    (again,) = till.codes(
        "combine", "bean soup", first, "--partly", cream, "--amount", "4l", "--tape"
    )
    return {"cream": cream, "first": first, "second": second, "taken": taken, "again": again}


def shown(code: str) -> str:
    return f"{code[:4]}-{code[4:]}"


def test_a_trace_is_a_tree_of_words_within_80_columns(till: Till, soup: dict[str, str]) -> None:
    for args in ((soup["cream"],), (soup["again"],), ("--lot", "l442")):
        text = till.ok("trace", *args)
        assert max(map(len, text.splitlines())) <= 80
        assert text.isprintable() or all(ch.isprintable() or ch == "\n" for ch in text)
    text = " ".join(till.ok("trace", "--lot", "l442").split())
    for code in soup.values():
        assert shown(code) in text
    assert "Makers' lots in it: L-442." in text
    assert text.count("see above") == 1  # the second soup is reached by the first, and by the cream


def test_what_is_deeper_than_a_line_is_wide_says_its_depth(
    till: Till, soup: dict[str, str]
) -> None:
    code = soup["again"]
    for _ in range(5):
        (code,) = till.codes("combine", "bean soup", code, "--amount", "4l", "--tape")
    text = till.ok("trace", soup["cream"])
    assert "[13] " in text
    assert max(map(len, text.splitlines())) <= 80


def test_what_happened_in_another_year_is_told_with_it(till: Till) -> None:
    made = datetime.now(tz=UTC).date() - timedelta(days=400)
    day = f"{made:%a} {made.day} {made:%B %Y} 12:00"
    # Past its limit, it gets no label.
    prepared = ("prep", "chicken stock", "2l", "--made", f"{made} 12:00", "--tape", "--json")
    code = till.run(*prepared).json()["containers"][0]["code"]
    till.ok("unit", "read", "walk-in", "38F", "--at", f"{made} 12:00")
    for words in (("trace", code), ("why", code), ("unit", "list")):
        assert day in " ".join(till.ok(*words).split()), words


def test_a_trace_for_programs(till: Till, soup: dict[str, str]) -> None:
    found = till.data("trace", soup["cream"])
    assert set(found) == {
        "of", "names", "at", "lots", "back", "forward", "containers", "batches", "look_alike",
    }  # fmt: skip
    assert {name for name in found["forward"]["names"] if len(name) == 8} == set(soup.values())
    assert set(found["forward"]["steps"][0]) == {
        "from", "into", "how", "at", "entry", "voided", "counts",
    }  # fmt: skip
    assert [each["lot"] for each in found["lots"]] == ["L-442"]


def test_a_recall_holds_and_the_morning_list_says_so(till: Till, soup: dict[str, str]) -> None:
    looked = till.data("recall", "--lot", "l-442", "--dry-run")
    assert looked["recorded"] is False
    live = {soup[name] for name in ("cream", "second", "taken", "again")}
    assert {each["code"] for each in looked["containers"]} == live
    text = till.ok("recall", "--lot", "L442", "--why", "maker's notice 4711: listeria")
    assert "do not serve" in text
    assert max(map(len, text.splitlines())) <= 80
    assert live <= {each["code"] for each in till.data("due")["hold"]}
    refused = till.run("use", soup["again"]).refusal()
    assert "listeria" in refused
    assert "listeria" in till.ok("why", soup["again"])
    told = till.ok("why", soup["cream"])
    assert "recalled (lot L-442)" in told  # among what happened, too
    sold = [each for each in till.data("recall", "--lot", "l442", "--dry-run")["gone"]
            if each["how"] == "sold"]  # fmt: skip
    assert [(each["code"], each["amount"], each["part"]) for each in sold] == [
        (soup["second"], "500 ml", True)
    ]


def test_a_notice_that_comes_before_the_goods_holds_them_when_they_come(till: Till) -> None:
    done = till.data("recall", "--lot", "L977", "--why", "maker's notice 12", "--yes")
    assert (done["recorded"], done["on_record"], done["containers"]) == (True, False, [])
    came = till.run("receive", "ham, cooked", "2kg", "--lot", "l-977", "--tape")
    assert "LOT l-977 IS RECALLED: maker's notice 12" in came.err
    assert "ON HOLD: DO NOT SERVE" in came.out
    assert "DO NOT SERVE - Recalled" in came.out  # as it stands on the tape
    (one,) = till.data("recall", "--list")
    assert (one["what"], one["on_hand"]) == ("lot L977", 1)
    likely = ("receive", "ham, cooked", "2kg", "--lot", "977", "--tape")
    assert "looks like lot L977" in till.run(*likely).refusal()
    near = till.run(*likely, "--other-lot")
    assert "LOOK AT THE LOT: lot L977 is recalled" in near.err
    assert "977: ham, cooked" in till.ok("trace", "--lot", "L977")
    (code,) = till.codes("receive", "ham, cooked", "1kg", "--lot", "X1", "--tape")
    again = ("correct", code, "--lot", "L 97T", "--why", "read again")
    assert "looks like lot L977" in till.run(*again).refusal()
    assert "L 97T looks like it" in till.run(*again, "--other-lot").err


def test_the_person_in_charge_cannot_settle_a_recall_away(till: Till, soup: dict[str, str]) -> None:
    entry = till.data("recall", "--lot", "L442", "--why", "glass")["entry"]
    kept = till.run("settle", soup["cream"], "--keep", "--why", "looks fine", "--evidence", "me")
    assert "voided" in kept.refusal()
    lift = ("void", str(entry), "--why", "it is lot L424")
    assert "lot L-442 is no longer recalled? It stays on hold." in till.run(*lift).refusal()
    assert "--evidence" in " ".join(till.ok("recall", "--list").split())
    till.ok(*lift, "--evidence", "maker's notice 4711")
    assert till.data("why", soup["cream"])["fault"] is None


def test_what_cannot_be_traced_or_recalled_is_refused_in_a_line(till: Till) -> None:
    assert "Of what?" in till.run("trace").refusal()
    refused = till.run("recall", "--lot", "L1", "--why", "x").refusal()
    assert "No batch of lot L1 is on record. Nothing was recorded." in refused
    assert "--yes" in refused
    assert "no batch" in till.run("trace", "B999").refusal()


def test_a_register_on_the_screen_in_a_file_and_for_programs(till: Till) -> None:
    text = till.ok("register", "on-hand", "--csv", "-")
    rows = list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline="")))
    assert len(rows) == 6
    assert "6 rows of on-hand in here.csv." in till.ok("register", "on-hand", "--csv", "here.csv")
    assert (till.folder / "here.csv").read_bytes().startswith(b"\xef\xbb\xbf")
    assert "there already" in till.run("register", "on-hand", "--csv", "here.csv").refusal()
    assert [each["code"] for each in till.data("register", "on-hand")] == [
        each["code"] for each in rows
    ]
    assert "which form" in till.run("register", "items").refusal()
    assert "is of now" in till.run("register", "items", "--from", "2026-06-01", "--json").refusal()


def test_a_file_with_faults_is_told_row_by_row_and_leaves_with_2(till: Till) -> None:
    (till.folder / "in.csv").write_text("item,unit,made on\nchicken stock,cellar,\n")
    before = till.entries()
    done = till.run("import", "inventory", "in.csv", "--yes")
    assert "2 faults: nothing was recorded" in done.refusal()
    assert "row 2, unit:" in done.out
    assert "row 2, made on:" in done.out
    program = till.run("import", "inventory", "in.csv", "--yes", "--json")
    assert program.code == 2
    assert {each["column"] for each in program.json()["faults"]} == {"unit", "made on"}
    assert till.entries() == before


def test_what_is_no_plain_file_is_not_read_in_and_not_said_to_be_missing(till: Till) -> None:
    for name, says in (("/dev/zero", "it is a device or a pipe"), (".", "it is a folder"),
                       ("gone.csv", "There is no file gone.csv")):  # fmt: skip
        assert says in till.run("import", "items", name).refusal()


def test_an_inventory_is_looked_at_then_recorded_then_labelled(till: Till) -> None:
    (till.folder / "in.csv").write_text(
        "item,unit,made on\nchicken stock,walk-in,2026-06-01\n", encoding="utf-8"
    )
    before = till.entries()
    text = till.ok("import", "inventory", "in.csv")
    assert "NOTHING IS RECORDED YET" in text
    assert "PAST ITS DATE, discard" in text
    assert till.entries() == before
    done = till.data("import", "inventory", "in.csv", "--yes")
    assert done["recorded"] is True
    (code,) = [each["code"] for each in done["rows"][0]["containers"]]
    assert code in {each["code"] for each in till.data("due")["discard"]}
    assert "was read in" in till.run("import", "inventory", "in.csv", "--yes").refusal()
