"""Text that must not become a formula. Which beginnings are dangerous: OWASP, "CSV Injection"
(=, +, -, @, TAB, CR, LF and the full-width forms); the reader is the standard library's (RFC 4180).
"""

import csv
import io
import re
from decimal import Decimal

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from holdlog.core.csv_text import lines, neutral, restored

DANGEROUS = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
texts = st.text(st.characters(codec="utf-8", exclude_characters="\0"))
risky = st.builds(str.__add__, st.sampled_from([*DANGEROUS, "'", "''="]), texts)


def read_back(text: str) -> list[list[str]]:
    assert text.startswith("\ufeff")
    return list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True))


@given(st.lists(st.lists(texts | risky, min_size=3, max_size=3), max_size=5))
@example([["=1+1", "'=1", "-5"], ["'nduja", '"', "a;b,c"]])
def test_no_cell_of_text_can_be_taken_for_a_formula_and_every_one_comes_back(
    rows: list[list[str]],
) -> None:
    text = "".join(lines(("a", "b", "c"), rows))
    found = read_back(text)[1:]
    for cell in (cell for row in found for cell in row):
        assert not cell.startswith(DANGEROUS)
    # A row of empty cells only is no row to some readers, but it is to this one.
    assert [[restored(cell) for cell in row] for row in found] == rows


@given(texts | risky)
def test_taking_one_apostrophe_away_gives_the_text_back(text: str) -> None:
    assert restored(neutral(text)) == text


@pytest.mark.parametrize("text", ["'nduja", "crème brûlée", "", "3 × 2", " =1"])
def test_harmless_text_stays_as_it_is(text: str) -> None:
    assert neutral(text) == text


def test_numbers_stay_numbers_and_lines_end_as_the_standard_says() -> None:
    text = "".join(lines(("t (°F)", "n"), [(Decimal("-1.50"), -3), (None, True)]))
    assert text == "\ufefft (°F),n\r\n-1.50,-3\r\n,yes\r\n"


@given(st.lists(texts | risky | st.just("soup;=1+1"), min_size=1, max_size=3))
@example(["soup;=1+1", "a\n@b", "x\t+3", "a;'=1"])
def test_where_semicolons_part_cells_none_becomes_a_formula_either(cells: list[str]) -> None:
    """A spreadsheet that parts at semicolons, tabs and line ends, and knows no commas."""
    (_, line) = lines(["head"] * len(cells), [cells])
    inner = ";".join(next(csv.reader(io.StringIO(line, newline=""), strict=True)))
    for piece in re.split(r"[;\t\r\n]", inner):
        assert not piece.startswith(DANGEROUS)
