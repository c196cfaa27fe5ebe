"""Amounts. Factors: NIST Handbook 44 (2024), Appendix C, written out here on their own.

The pound is 0.453 592 37 kg, the inch 2.54 cm and the US gallon 231 cubic inches, all exactly.
"""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.amounts import UNITS, Amount, read_amount, share, show_total, totals
from holdlog.core.errors import Mistake

INCH = Fraction(254, 100)
GALLON = 231 * INCH**3
POUND = Fraction(45359237, 100000)


@pytest.mark.parametrize(
    ("unit", "base"),
    [
        ("g", Fraction(1)), ("kg", Fraction(1000)), ("lb", POUND), ("oz", POUND / 16),
        ("ml", Fraction(1)), ("l", Fraction(1000)), ("gal", GALLON), ("qt", GALLON / 4),
        ("pint", GALLON / 8), ("cup", GALLON / 16), ("fl oz", GALLON / 128),
        ("each", Fraction(1)), ("portion", Fraction(1)), ("tray", Fraction(1)),
    ],
)  # fmt: skip
def test_a_unit_is_what_the_handbook_says(unit: str, base: Fraction) -> None:
    assert Fraction(Amount(Decimal(1), unit).base) == base


def test_every_unit_was_checked() -> None:
    assert len(UNITS) == 14


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [("2 l", "2", "l"), ("1.5kg", "1.5", "kg"), ("1,5 kg", "1.5", "kg"), ("3 Quarts", "3", "qt"),
     ("12 portions", "12", "portion"), ("8 fl oz", "8", "fl oz"), (" 500 G ", "500", "g"),
     ("1000 g", "1000", "g"), ("0,25 kg", "0.25", "kg")],
)  # fmt: skip
def test_amounts_as_people_write_them(text: str, number: str, unit: str) -> None:
    assert read_amount(text) == Amount(Decimal(number), unit)


@pytest.mark.parametrize("text", ["1,000 g", "0,250 kg"])
def test_three_places_after_a_comma_can_be_thousands_as_well(text: str) -> None:
    with pytest.raises(Mistake, match="two ways"):
        read_amount(text)


@pytest.mark.parametrize(
    "text", ["", "2", "l", "0 g", "-1 g", "1e3 g", "nan g", "2 buckets", "1 000 g", "1.2.3 g"]
)
def test_what_is_no_amount_is_refused(text: str) -> None:
    with pytest.raises(Mistake) as caught:
        read_amount(text)
    assert caught.value.code == "bad-amount"
    assert caught.value.hint


@given(st.decimals("0.001", 9999, places=3), st.sampled_from(UNITS))
def test_what_is_shown_can_be_read_again(number: Decimal, unit: str) -> None:
    amount = Amount(number, unit)
    assert read_amount(str(amount)) == amount


@given(st.lists(st.tuples(st.integers(1, 999), st.sampled_from(UNITS)), max_size=9))
def test_totals_are_exact_and_add_like_to_like(pairs: list[tuple[int, str]]) -> None:
    amounts = [Amount(Decimal(number), unit) for number, unit in pairs]
    sums = totals(amounts)
    mass = sum((Fraction(each.base) for each in amounts if each.measure == "mass"), Fraction(0))
    assert Fraction(sums.get("g", Decimal(0))) == mass
    trays = sum(number for number, unit in pairs if unit == "tray")
    assert sums.get("tray", Decimal(0)) == trays


def test_shares_and_totals_for_people() -> None:
    assert share(Amount(Decimal(2), "l"), 3) == Amount(Decimal("0.6667"), "l")
    assert show_total("g", Decimal(1500)) == "1.5 kg"
    assert show_total("ml", Decimal(999)) == "999 ml"
    assert show_total("tray", Decimal(2000)) == "2000 tray"
