"""Costs: read as people write them, worked out to the cent, never guessed."""

from decimal import ROUND_HALF_EVEN, Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.amounts import UNITS, Amount, read_amount
from holdlog.core.costs import Cost, Money, money_totals, read_cost, worth
from holdlog.core.errors import Mistake


@pytest.mark.parametrize(
    ("text", "cost"),
    [
        ("4.20/kg", Cost(Decimal("4.20"), "kg")),
        ("4.20 EUR/kg", Cost(Decimal("4.20"), "kg", "EUR")),
        ("usd 3,5 / lb", Cost(Decimal("3.5"), "lb", "USD")),
        ("12 per dozen", Cost(Decimal(12), "dozen")),
        ("1.10 CHF per fl oz", Cost(Decimal("1.10"), "fl oz", "CHF")),
        ("0.0125/g", Cost(Decimal("0.0125"), "g")),
    ],
)
def test_a_cost_as_people_write_it(text: str, cost: Cost) -> None:
    assert read_cost(text) == cost


@pytest.mark.parametrize(
    "text",
    ["", "4.20", "/kg", "4.20/", "4.20/bucket", "-1/kg", "0/kg", "EUR 4 EUR/kg", "1,250/kg",
     "1e3/kg", "nan/kg", "4.20 /2kg", "4 $/kg"],
)  # fmt: skip
def test_what_is_no_cost_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(Mistake) as told:
        read_cost(text)
    assert told.value.code == "bad-cost"
    assert "4.20/kg" in told.value.hint


@given(
    st.decimals("0.0001", 9999, places=4),
    st.sampled_from(UNITS),
    st.sampled_from(["", "EUR", "USD"]),
)
def test_what_is_shown_can_be_read_again(number: Decimal, per: str, currency: str) -> None:
    cost = Cost(number, per, currency)
    assert read_cost(str(cost)) == cost


@pytest.mark.parametrize(
    ("cost", "amount", "money"),
    [
        # By hand: 4.20 x 1.5; 3 lb are 1360.77711 g, at 0.01 a gram; 500 ml of 2.50 a litre.
        ("4.20 EUR/kg", "1.5 kg", "6.30 EUR"),
        ("10/kg", "3 lb", "13.61"),
        ("2.50/l", "500 ml", "1.25"),
        # 1 pint is 473.176473 ml; at 8 a quart it is exactly 4.
        ("8/qt", "1 pint", "4.00"),
        ("6/dozen", "4 each", "2.00"),
        ("0.01/portion", "1 portion", "0.01"),
        # Half a cent goes to the even one.
        ("0.25/kg", "500 g", "0.12"),
        ("0.75/kg", "500 g", "0.38"),
        ("0.01/kg", "100 g", "0.00"),
    ],
)
def test_what_an_amount_is_worth(cost: str, amount: str, money: str) -> None:
    assert str(worth(read_cost(cost), read_amount(amount))) == money


@pytest.mark.parametrize(
    ("cost", "amount"),
    [("4/kg", "1 l"), ("4/l", "1 lb"), ("4/tray", "1 portion"), ("1/each", "1 g")],
)
def test_a_litre_is_never_guessed_to_be_a_kilogram(cost: str, amount: str) -> None:
    assert worth(read_cost(cost), read_amount(amount)) is None


@given(
    st.decimals("0.0001", 999, places=4), st.decimals("0.001", 9999, places=3),
    st.sampled_from(["kg", "lb", "oz"]), st.sampled_from(["g", "kg", "lb"]),
)  # fmt: skip
def test_the_cent_is_that_of_decimal_arithmetic_with_digits_to_spare(
    price: Decimal, number: Decimal, per: str, unit: str
) -> None:
    grams = {"g": "1", "kg": "1000", "lb": "453.59237", "oz": "28.349523125"}
    with localcontext() as exact:
        exact.prec = 60
        value = price * number * Decimal(grams[unit]) / Decimal(grams[per])
        cents = value.quantize(Decimal("0.01"), ROUND_HALF_EVEN)
    found = worth(Cost(price, per), Amount(number, unit))
    assert found == Money(cents)


def test_currencies_are_never_added() -> None:
    sums = money_totals(
        [
            Money(Decimal("1.10"), "EUR"),
            Money(Decimal("2.20"), "USD"),
            Money(Decimal("0.05"), "EUR"),
        ]
    )
    assert sums == {"EUR": Decimal("1.15"), "USD": Decimal("2.20")}
