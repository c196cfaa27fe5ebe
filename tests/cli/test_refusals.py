"""What cannot be is refused in one clear line, and nothing is written."""

import re
from pathlib import Path

import pytest

from holdlog.core.codes import ALPHABET, is_code, new_code
from tests.cli.conftest import Stock
from tests.cli.running import ROOT, Till, set_up, zone_where_it_is

# The command, what its line must name, and what it must say to do. STOCK, FROZEN, HAM stand for
# codes.
MISTAKES: dict[str, tuple[list[str], str, str]] = {
    "unknown item": (["prep", "unicorn", "6l"], "'unicorn'", "holdlog item list"),
    "item of two words": (["prep", "chicken", "stock", "6l"], "6l", "in quotes"),
    "ambiguous item": (["prep", "stock", "6l"], "chicken stock; fish stock", "Say which"),
    "unknown unit": (["prep", "chicken stock", "6l", "-u", "garage"], "'garage'", "Known: walk-in"),
    "into the freezer at once": (
        ["prep", "chicken stock", "6l", "-u", "chest"], "chest freezer", "holdlog freeze",
    ),
    "unknown code": (["discard", "H7K3-9QX2", "-r", "date"], "H7K3-9QX2", "Read it again"),
    "amount without a unit": (["prep", "chicken stock", "6"], "'6'", "2 l or 500 g"),
    "amount that is nothing": (["prep", "chicken stock", "0l"], "'0l'", "how much"),
    "amount read in two ways": (["prep", "chicken stock", "1,500g"], "'1,500g'", "1000 g"),
    "no containers": (["prep", "chicken stock", "6l", "-c", "0"], "0 containers", "from 1"),
    "too many containers": (["prep", "chicken stock", "6l", "-c", "999"], "999", "to 500"),
    "count in words": (["prep", "chicken stock", "6l", "-c", "two"], "'two'", "--help"),
    "temperature without a scale": (
        ["prep", "chicken stock", "6l", "--warm", "150"], "'150'", "68 F",
    ),
    "impossible temperature": (["read", "STOCK", "900F"], "900 °F", "Read the probe again"),
    "pH out of range": (["prep", "chicken stock", "6l", "--ph", "20"], "'20'", "0 to 14"),
    "unknown allergen": (["prep", "chicken stock", "6l", "-a", "moss"], "'moss'", "milk"),
    "in the future": (
        ["discard", "STOCK", "-r", "date", "--at", "2131-06-01 12:00"], "still to come", "happened",
    ),
    "tonight": (["prep", "chicken stock", "6l", "--made", "23:59"], "still to come", "yesterday"),
    "no time at all": (["freeze", "STOCK", "--at", "soon"], "'soon'", "yesterday 22:15"),
    "no date at all": (["audit", "--from", "1/6/26"], "'1/6/26'", "2026-06-07"),
    "period the wrong way round": (
        ["audit", "--from", "2026-06-02", "--to", "2026-06-01"], "2026-06-01", "--from",
    ),
    "before it was made": (
        ["discard", "STOCK", "-r", "date", "--at", "2020-06-01 12:00"], "was made", "--at",
    ),
    "thaw of what is not frozen": (["thaw", "STOCK"], "not frozen", "holdlog freeze"),
    "freezing twice": (["freeze", "FROZEN"], "frozen already", ""),
    "unknown way to thaw": (["thaw", "FROZEN", "--method", "sun"], "'sun'", "refrigerator"),
    "out of the freezer by a move": (["move", "FROZEN", "walk-in"], "cannot", "holdlog thaw"),
    "a reason nobody knows": (["discard", "STOCK", "-r", "bored"], "'bored'", "past its date"),
    "no reason": (["discard", "STOCK"], "Why", "-r"),
    "other, and no note": (["discard", "STOCK", "-r", "other"], "Other", "--note"),
    "an end nobody knows": (["use", "STOCK", "--as", "lost"], "'lost'", "staff-meal"),
    "a plan nobody knows": (["out", "STOCK", "--plan", "9h"], "'9h'", "4h"),
    "split into none": (["split", "STOCK", "--into", "0"], "0 containers", "--into 2"),
    "poured into itself": (["top-up", "STOCK", "STOCK"], "", ""),
    "combined from nothing": (["combine", "chicken stock"], "from what", "codes"),
    "wrong resolution": (["label", "STOCK", "--dpi", "150"], "150", "203 or 300"),
    "category nobody knows": (["item", "add", "x", "-k", "y"], "'y'", "cooked-legume"),
    "item without a name": (["item", "add", " ", "-k", "stock"], "called", "Say its name"),
    "unit twice": (["unit", "add", "walk-in"], "walk-in", "another name"),
    "sort nobody knows": (["unit", "add", "cave", "--sort", "cave"], "cave", "reach-in"),
    "void without a reason": (["void", "60"], "Why", "--why"),
    "void of the future": (["void", "9999", "--why", "typo"], "9999", ""),
    "correct nothing": (["correct", "STOCK"], "Correct what", "--made"),
    "rulebook nobody knows": (["adopt", "-R", "nowhere-1999"], "'nowhere-1999'", "us-food-code"),
    "looser without a ruling": (
        ["adopt", "-R", "us-food-code-2022", "--freeze-day", "does-not-count"],
        "authority", "--ruling",
    ),
    "a second kitchen": (
        ["setup", "--name", "X", "--zone", "UTC", "--scale", "F", "-R", "us-food-code-2022",
         "-u", "walk-in"],
        "already holds a kitchen", "--db",
    ),
    "no such command": (["dicard", "STOCK"], "'dicard'", "Did you mean discard?"),
    "no such option": (["due", "--walkin"], "--walkin", "holdlog due --help"),
    "argument left out": (["prep"], "ITEM", "holdlog prep --help"),
}  # fmt: skip


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_one_line_and_writes_nothing(stock: Stock, name: str) -> None:
    arguments, names, hints = MISTAKES[name]
    codes = {"STOCK": stock.stock[0], "FROZEN": stock.frozen, "HAM": stock.ham}
    before = stock.till.journal.read_bytes()
    done = stock.till.run(*(codes.get(word, word) for word in arguments))
    line = done.refusal()
    assert names in line
    assert hints in line
    assert done.out == ""
    assert stock.till.journal.read_bytes() == before


def test_what_is_gone_cannot_go_again(stock: Stock) -> None:
    till, code = stock.till, stock.stock[0]
    till.ok("discard", code, "-r", "off")
    kept = till.entries()
    for again in (["discard", code, "-r", "off"], ["use", code], ["freeze", code], ["label", code]):
        line = till.run(*again).refusal()
        assert "is gone: discarded on" in line
        assert "void" in line
    assert till.entries() == kept


def test_a_mistyped_code_is_answered_with_the_live_one_beside_it(stock: Stock) -> None:
    """A wrong character, two swapped, one missing, one too many: each finds the container."""
    code = stock.stock[0]
    other = next(ch for ch in ALPHABET if ch != code[3])
    at = next(n for n in range(1, 7) if code[n] != code[n + 1])
    typed = [
        code[:3] + other + code[4:],
        code[:at] + code[at + 1] + code[at] + code[at + 2 :],
        code[:5] + code[6:],
        code[:5] + "7" + code[5:],
    ]
    for wrong in typed:
        assert not is_code(wrong)
        line = stock.till.run("why", wrong).refusal()
        assert f"Did you mean {code[:4]}-{code[4:]}" in line or f"or {code[:4]}-{code[4:]}" in line


def test_a_code_that_checks_but_is_unknown_is_not_guessed(till: Till) -> None:
    stranger = new_code(lambda characters: characters[-1])
    line = till.run("why", stranger).refusal()
    assert "No container" in line


def test_past_midnight_the_day_must_be_said(tmp_path: Path) -> None:
    till = set_up(tmp_path / "kitchen", zone_where_it_is(2))
    line = till.run("prep", "chicken stock", "6l", "--tape").refusal()
    assert "past midnight" in line
    assert '--made "yesterday 23:30"' in line
    made = till.data("prep", "chicken stock", "6l", "--made", "yesterday 23:30", "--tape")
    (row,) = made["containers"]
    assert row["made_at"][11:16] == "23:30"


def test_nobody_asks_about_midnight_before_the_rest_is_right(tmp_path: Path) -> None:
    till = set_up(tmp_path / "kitchen", zone_where_it_is(2))
    assert "'6' is not an amount" in till.run("prep", "chicken stock", "6").refusal()


def test_without_initials_nothing_is_written(stock: Stock) -> None:
    for arguments in (["prep", "chicken stock", "1l"], ["discard", stock.stock[0], "-r", "date"]):
        line = stock.till.run(*arguments, env={"HOLDLOG_BY": ""}).refusal()
        assert "--by" in line
        assert "HOLDLOG_BY" in line


def test_without_a_kitchen_the_line_says_how_to_begin(empty: Till) -> None:
    for arguments in (["due"], ["prep", "x", "1l"], ["audit"], ["doctor"], ["db", "upgrade"]):
        line = empty.run(*arguments).refusal()
        assert "holdlog setup" in line
    assert list(empty.folder.iterdir()) == []


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (["--zone", "Nowhere/Land"], "'Nowhere/Land' is not a time zone"),
        (["--scale", "K"], "'K' is no scale"),
        (["-R", "nowhere-1999"], "There is no rulebook 'nowhere-1999'"),
        (["-u", "cupboard"], "'cupboard': what sort of unit is it"),
        (["-u", "Walk-in"], "two units"),
        (["--closed", "Caturday"], "'Caturday' is not a day of the week"),
        (["--day-end", "noon"], "--day-end noon"),
    ],
)
def test_set_up_refuses_what_cannot_be_and_leaves_no_kitchen(
    empty: Till, change: list[str], says: str
) -> None:
    good = ["--name", "X", "--zone", "UTC", "--scale", "F", "-u", "walk-in"]
    rulebook = [] if "-R" in change else ["-R", "us-food-code-2022"]
    assert says in empty.run("setup", *good, *rulebook, *change).refusal()
    assert empty.run("due").code == 2


def test_the_rulebook_is_never_guessed(empty: Till) -> None:
    line = empty.run(
        "setup", "--name", "X", "--zone", "UTC", "--scale", "F", "-u", "walk-in"
    ).refusal()
    assert "health authority" in line
    assert "us-food-code-2022" in line
    assert "--rulebook" in line


def test_a_rulebook_with_a_wrong_key_is_named_with_file_table_and_key(till: Till) -> None:
    text = (ROOT / "shared" / "rulebooks" / "us-food-code-2022.toml").read_text(encoding="utf-8")
    table = re.findall(r"^\[([a-z0-9.\"-]+)\]$", text, re.MULTILINE)[0]
    wrong = text.replace(f"[{table}]\n", f"[{table}]\nlimmit_days = 9\n", 1)
    (till.folder / "ours.toml").write_text(wrong, encoding="utf-8")
    kept = till.entries()
    line = till.run("adopt", "-R", "ours.toml").refusal()
    for needed in ("ours.toml", table, "limmit_days", "unknown key"):
        assert needed in line
    assert till.entries() == kept


@pytest.mark.parametrize("wait", ["soon", "-1", "9999999999", "٣"])
def test_a_waiting_time_that_is_none_is_refused(till: Till, wait: str) -> None:
    assert "HOLDLOG_WAIT_MS" in till.run("due", env={"HOLDLOG_WAIT_MS": wait}).refusal()
