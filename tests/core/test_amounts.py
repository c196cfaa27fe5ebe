"""Amounts. Factors: NIST Handbook 44 (2024), Appendix C, written out here on their own.

The pound is 0.453 592 37 kg, the inch 2.54 cm and the US gallon 231 cubic inches, all exactly.
"""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import fluid_ounce, gallon, oz, pound

from holdlog.core.amounts import (
    UNITS,
    Amount,
    alike,
    read_amount,
    read_named,
    share,
    show_total,
    totals,
)
from holdlog.core.errors import Mistake

INCH = Fraction(254, 100)
GALLON = 231 * INCH**3
POUND = Fraction(45359237, 100000)
# Counted as they are: a tray or a bunch has no size that could be looked up.
COUNTED = (
    "each", "portion", "tray", "bunch", "bottle", "jar", "can", "pack", "pan", "loaf", "head",
)  # fmt: skip


@pytest.mark.parametrize(
    ("unit", "base"),
    [
        ("g", Fraction(1)), ("kg", Fraction(1000)), ("lb", POUND), ("oz", POUND / 16),
        ("ml", Fraction(1)), ("l", Fraction(1000)), ("gal", GALLON), ("qt", GALLON / 4),
        ("pint", GALLON / 8), ("cup", GALLON / 16), ("fl oz", GALLON / 128),
        ("cl", Fraction(10)), ("dl", Fraction(100)), ("tbsp", GALLON / 256),
        ("tsp", GALLON / 768), ("dozen", Fraction(12)),
        *((name, Fraction(1)) for name in COUNTED),
    ],
)  # fmt: skip
def test_a_unit_is_what_the_handbook_says(unit: str, base: Fraction) -> None:
    assert Fraction(Amount(Decimal(1), unit).base) == base


def test_every_unit_was_checked() -> None:
    assert len(UNITS) == 16 + len(COUNTED)


@pytest.mark.parametrize(
    ("one", "many", "other"),
    [
        ("tbsp", 3, "tsp"), ("fl oz", 2, "tbsp"), ("fl oz", 6, "tsp"), ("cup", 8, "fl oz"),
        ("cup", 16, "tbsp"), ("pint", 2, "cup"), ("qt", 2, "pint"), ("qt", 32, "fl oz"),
        ("gal", 4, "qt"),
    ],
)  # fmt: skip
def test_a_measure_of_the_kitchen_is_so_many_of_the_next(one: str, many: int, other: str) -> None:
    """NIST SP 430, Household Weights and Measures, table 1 (exact), and Handbook 44, Appendix C."""
    assert Amount(Decimal(1), one).base == Amount(Decimal(many), other).base


@pytest.mark.parametrize(
    ("unit", "published"),
    [("tsp", "4.9"), ("tbsp", "15"), ("fl oz", "30"), ("cup", "237"), ("pint", "473"),
     ("qt", "946")],
)  # fmt: skip
def test_a_measure_rounds_to_the_millilitres_that_are_published(unit: str, published: str) -> None:
    """NIST SP 430, table 1, to the figures printed there (30 for 29.57, 15 for 14.79)."""
    places = Decimal(published).as_tuple().exponent
    assert isinstance(places, int)
    exact = Amount(Decimal(1), unit).base
    shown = round(exact, -1) if published == "30" else round(exact, -places)
    assert shown == Decimal(published)


def test_the_factors_are_those_of_a_general_library() -> None:
    """scipy.constants, from CODATA and NIST SP 811; it knows neither cups nor spoons."""
    for unit, si in (("lb", pound), ("oz", oz)):
        assert float(Amount(Decimal(1), unit).base) == pytest.approx(si * 1e3, rel=1e-12)
    for unit, si in (("gal", gallon), ("fl oz", fluid_ounce)):
        assert float(Amount(Decimal(1), unit).base) == pytest.approx(si * 1e6, rel=1e-12)


def test_a_dozen_is_twelve_and_other_counts_keep_to_themselves() -> None:
    amounts = [read_amount("2 dozen"), read_amount("3 pieces"), read_amount("2 bunches")]
    assert totals(amounts) == {"each": 27, "bunch": 2}
    assert alike(amounts[0], amounts[1])
    assert not alike(amounts[1], amounts[2])
    assert not alike(read_amount("1 l"), read_amount("1 kg"))


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [("2 l", "2", "l"), ("1.5kg", "1.5", "kg"), ("1,5 kg", "1.5", "kg"), ("3 Quarts", "3", "qt"),
     ("12 portions", "12", "portion"), ("8 fl oz", "8", "fl oz"), (" 500 G ", "500", "g"),
     ("1000 g", "1000", "g"), ("0,25 kg", "0.25", "kg"), ("1pint", "1", "pint"),
     ("2 tablespoons", "2", "tbsp"), ("3 loaves", "3", "loaf"), ("4 bottles", "4", "bottle")],
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


@pytest.mark.parametrize(
    ("text", "name", "amount"),
    [
        ("cooked rice 500g", "cooked rice", "500 g"),
        ("cooked rice 1.5 kg", "cooked rice", "1.5 kg"),
        ("milk 8 fl oz", "milk", "8 fl oz"),
        ("brown sauce", "brown sauce", None),
        ("rice from tray 3", "rice from tray 3", None),
        ("500 g", "500 g", None),  # of nothing: a name is needed
    ],
)
def test_a_name_may_end_in_an_amount(text: str, name: str, amount: str | None) -> None:
    what, much = read_named(text)
    assert (what, str(much) if much else None) == (name, amount)
