"""At a terminal: questions are asked, nothing is told by colour, and narrow screens are legible."""

import re

import pytest

from holdlog.reports.wrapping import width
from tests.cli.conftest import Stock
from tests.cli.running import Till, set_up, zone_where_it_is

ESCAPE = re.compile(r"\x1b\[([0-9;]*)[A-Za-z]")


def bare(text: str) -> str:
    return ESCAPE.sub("", text)


def test_set_up_asks_for_what_it_needs(empty: Till) -> None:
    done = empty.at_a_terminal(
        "setup",
        types=[
            "Tern & Tide\n", f"{zone_where_it_is(12)}\n", "f\n", "us-food-code-2022\n",
            "walk-in, reach-in, chest freezer:freezer\n",
        ],
    )  # fmt: skip
    assert done.code == 0, done
    assert "Tern & Tide is set up" in done.out
    assert [each["unit"] for each in empty.data("unit", "list")] == [
        "walk-in", "reach-in", "chest freezer",
    ]  # fmt: skip


@pytest.mark.parametrize(("answer", "hour"), [("y\n", "23:59"), ("\n", "23:59"), ("n\n", "02:")])
def test_past_midnight_it_asks_which_day_it_was_made(empty: Till, answer: str, hour: str) -> None:
    till = set_up(empty.folder, zone_where_it_is(2))
    done = till.at_a_terminal("prep", "chicken stock", "6l", "--tape", types=[answer])
    assert done.code == 0, done
    assert "Past midnight. Was it finished yesterday" in done.out
    (row,) = till.data("on-hand")
    assert row["made_at"][11:16].startswith(hour)


def test_food_without_a_known_limit_asks_for_the_houses_own(till: Till) -> None:
    done = till.at_a_terminal("receive", "halibut", "2kg", "--tape", types=["two\n", "2\n"])
    assert done.code == 0, done
    assert "How many days does this kitchen keep it?" in done.out
    assert "whole number of days" in done.out
    assert "By house rule" in done.out


def test_initials_are_asked_for(till: Till) -> None:
    done = till.at_a_terminal(
        "prep", "chicken stock", "1l", "--tape", types=["an\n"], env={"HOLDLOG_BY": ""}
    )
    assert done.code == 0, done
    assert re.search(r"made .*  AN$", done.out, re.MULTILINE)


def test_the_reason_of_a_discard_is_asked_for(stock: Stock) -> None:
    done = stock.till.at_a_terminal("discard", stock.stock[0], types=["off\n"])
    assert done.code == 0, done
    assert "off in look or smell" in done.out


@pytest.mark.parametrize(("key", "code"), [("\x03", 130), ("\x04", 2)])
def test_a_question_left_with_ctrl_c_or_ctrl_d_records_nothing(
    till: Till, key: str, code: int
) -> None:
    """130 is what a shell gives a program that Ctrl-C has ended: 128 and SIGINT's number."""
    before = till.entries()
    done = till.at_a_terminal("receive", "halibut", "2kg", types=[key])
    assert done.code == code
    assert "nothing was recorded" in done.out
    assert "Traceback" not in done.out
    assert till.entries() == before


LONG = "lobster, langoustine and scallop bisque, double cream, for the harbour terrace"


@pytest.mark.parametrize("command", ["due", "on-hand", "why", "audit", "item list"])
def test_every_list_fits_the_screen(stock: Stock, command: str) -> None:
    till = stock.till
    till.ok("item", "add", LONG, "-k", "cooked-seafood", "-a", "milk", "-a", "fish")
    (code,) = till.codes("prep", LONG, "12.345 portions", "--house-days", "1", "--tape")
    if command == "audit":
        note = "the lid was off and it stood beside the dish machine all evening"
        till.ok("discard", code, "-r", "other", "--note", note)
    arguments = [*command.split(), *([code] if command == "why" else [])]
    for columns in (40, 80):
        piped = till.ok(*arguments, COLUMNS=str(columns))
        shown = till.at_a_terminal(*arguments, columns=columns)
        assert shown.code == 0, shown
        for text in (piped, bare(shown.out)):
            assert [line for line in text.splitlines() if width(line.rstrip()) > columns] == []
            for word in LONG.split():
                assert word.strip(",") in text


def test_piped_output_has_no_escape_codes_and_80_columns(stock: Stock) -> None:
    for arguments in (["due"], ["on-hand"], ["why", stock.stock[0]], ["audit"], ["item", "list"]):
        said = stock.till.ok(*arguments)
        assert "\x1b" not in said
        assert [line for line in said.splitlines() if width(line) > 80] == []


@pytest.mark.parametrize("env", [{}, {"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_nothing_is_told_by_colour(stock: Stock, env: dict[str, str]) -> None:
    """At most bold and back (SGR 1 and 0, ECMA-48): a screen without them says the same."""
    done = stock.till.at_a_terminal("on-hand", env=env)
    assert {code for codes in ESCAPE.findall(done.out) for code in codes.split(";")} <= {
        "", "0", "1",
    }  # fmt: skip
    words = bare(done.out)
    for needed in ("serve", "HOLD", "NO LIMIT", "walk-in", "chest freezer"):
        assert needed in words
    if env.get("TERM") == "dumb":
        assert "\x1b" not in done.out
