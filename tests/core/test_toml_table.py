"""Reading TOML that people write: nothing wrong is passed over, everything wrong is named."""

from datetime import date, datetime
from decimal import Decimal

import pytest

from holdlog.core.errors import BadFile
from holdlog.core.toml_table import Table, parse


def read(text: str) -> Table:
    return parse(text, "f.toml")


def test_values_come_out_by_type() -> None:
    top = read(
        'a = "x"\nb = true\nc = 7\nd = 4.20\ne = 2026-06-07\nf = 2026-06-07T08:00:00\n'
        'g = "68 F"\nh = { f = 41, c = 5 }\ni = ["x", "y"]\n'
    )
    assert top.text("a") == "x"
    assert top.flag("b") is True
    assert top.whole("c") == 7
    assert str(top.number("d")) == "4.20"
    assert top.day("e") == date(2026, 6, 7)
    assert top.wall_time("f") == datetime(2026, 6, 7, 8)
    assert str(top.temperature("g")) == "68 °F"
    assert top.limit("h").figure("C") == Decimal(5)
    assert top.texts("i") == ("x", "y")
    top.finish()
    assert top.faults == []


@pytest.mark.parametrize(
    ("text", "method"),
    [
        ("x = 1", "text"), ("x = ''", "text"), ("x = '  '", "text"), ("", "text"),
        ("x = 1", "flag"), ("x = 'true'", "flag"),
        ("x = true", "whole"), ("x = 1.0", "whole"), ("x = -1", "whole"), ("x = '1'", "whole"),
        ("x = 100001", "whole"), ("x = true", "number"), ("x = nan", "number"),
        ("x = inf", "number"), ("x = -inf", "number"), ("x = 1001", "number"),
        ("x = 1e999", "number"), ("x = 2026-06-07T08:00:00", "day"), ("x = '2026-06-07'", "day"),
        ("x = 1969-12-31", "day"), ("x = 2200-01-01", "day"), ("x = 2026-06-07", "wall_time"),
        ("x = 08:00:00", "wall_time"), ("x = 1900-06-07T08:00:00", "wall_time"),
        ("x = 68", "temperature"), ("x = '68'", "temperature"), ("x = 41", "limit"),
        ("x = { }", "limit"), ("x = { f = 41, c = true }", "limit"), ("", "limit"),
        ("x = 'a'", "texts"), ("x = ['a', 1]", "texts"), ("x = 1", "tables"), ("x = [1]", "tables"),
        ("x = []\nx2 = 1", "table"), ("x = 1", "rows"), ("x = [1]", "rows"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_a_fault_that_names_file_and_key(text: str, method: str) -> None:
    top = read(text)
    getattr(top, method)("x")
    assert top.faults
    assert all(fault.startswith("f.toml: ") for fault in top.faults)
    assert any("x" in fault for fault in top.faults)


def test_a_wrong_value_never_stands_in_for_the_right_one() -> None:
    assert read("x = 500").whole("x", high=400) is None
    assert read("x = 500").whole("x", 3, high=400) == 3


def test_keys_that_nobody_asked_for_are_named_with_those_that_are_known() -> None:
    top = read("days = 7\ndyas = 3\n")
    top.whole("days")
    top.finish()
    assert top.faults == ["f.toml: dyas: unknown key (known here: days)"]


def test_tables_are_named_by_their_path() -> None:
    top = read('[rule."two words"]\nx = 1\n[[batch.a.event]]\nx = 1\n')
    top.table("rule").table("two words").text("x")
    top.table("batch").table("a").tables("event")[0].text("x")
    assert [fault.split(" x:")[0] for fault in top.faults] == [
        "f.toml: [rule.'two words']",
        "f.toml: [batch.a.event #1]",
    ]


def test_a_key_with_a_line_break_stays_on_one_line() -> None:
    top = read('"a\\nb" = 1')
    top.finish()
    assert "\n" not in top.faults[0]


@pytest.mark.parametrize("value", [f"0x{'f' * 9000}", "'" + "x" * 5000 + "'", "[" * 90 + "]" * 90])
def test_a_huge_value_is_not_printed_whole(value: str) -> None:
    top = read(f"x = {value}")
    top.flag("x")
    assert len(top.faults[0]) < 150


def test_all_faults_come_together_and_each_once() -> None:
    top = read("a = 1\nb = 2\n")
    top.text("a")
    top.text("a")
    top.text("b")
    with pytest.raises(BadFile) as caught:
        top.refuse_faults("bad-thing")
    assert caught.value.code == "bad-thing"
    assert len(caught.value.faults) == 2


@pytest.mark.parametrize("text", ["x", "x = ", "x = 1\nx = 2", "\0", "x = 1979-13-40", "[a]\n[a]"])
def test_what_is_not_toml_is_said(text: str) -> None:
    with pytest.raises(BadFile, match=r"f\.toml: not valid TOML"):
        read(text)
