"""What food costs: a number per unit of it, and what an amount of it is worth.

The kitchen's own figures, in the kitchen's own currency: letters that it may leave out. Costs
in different currencies are never added.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from holdlog.core.amounts import UNITS, Amount, alike, read_amount
from holdlog.core.errors import HoldlogError, Mistake
from holdlog.core.visible import quoted

_NUMBER = r"(\d{1,7}(?:[.,]\d{1,4})?)"
_LETTERS = r"([A-Za-z]{1,5})?"
_COST = re.compile(rf"\s*{_LETTERS}\s*{_NUMBER}\s*{_LETTERS}\s*(?:/|\s+per\s)\s*([A-Za-z ]+)")


@dataclass(frozen=True, slots=True)
class Cost:
    """``number`` of ``currency`` for one ``per`` (one of ``UNITS``). ``currency`` may be empty."""

    number: Decimal
    per: str
    currency: str = ""

    def __str__(self) -> str:
        return f"{self.number} {self.currency}".rstrip() + f"/{self.per}"


@dataclass(frozen=True, slots=True)
class Money:
    """A sum of money, to the cent."""

    number: Decimal
    currency: str = ""

    def __str__(self) -> str:
        return show_money(self.currency, self.number)


def read_cost(text: str) -> Cost:
    """Read ``"4.20/kg"``, ``"4.20 EUR/kg"`` or ``"EUR 4.20 per kg"``.

    Raises ``Mistake("bad-cost")``.
    """
    match = _COST.fullmatch(text)
    if match is None or (match[1] and match[3]):
        raise _bad(text, "is not a cost")
    try:
        one = read_amount(f"1 {match[4]}")
    except HoldlogError as error:
        raise _bad(text, "names no unit that is known") from error
    if re.fullmatch(r"\d{1,3},\d{3}", match[2]):
        raise _bad(text, "can be read in two ways")
    number = Decimal(match[2].replace(",", "."))
    if number == 0:
        raise _bad(text, "is nothing")
    return Cost(number, one.unit, (match[1] or match[3] or "").upper())


def _bad(text: str, why: str) -> Mistake:
    return Mistake(
        "bad-cost",
        f"{quoted(text)} {why}.",
        f"Write a number, perhaps letters for the currency, and a unit: 4.20/kg or "
        f"4.20 EUR/kg; units: {', '.join(UNITS)}.",
    )


def worth(cost: Cost, amount: Amount) -> Money | None:
    """What ``amount`` cost, to the cent; half a cent goes to the even one. None where the cost is
    for another kind of measure: a litre is never guessed to be a kilogram.
    """
    one = Amount(Decimal(1), cost.per)
    if not alike(one, amount):
        return None
    # In fractions, so that half a cent is just that; ``round`` takes a half to the even one.
    cents = round(Fraction(cost.number) * Fraction(amount.base) / Fraction(one.base) * 100)
    return Money(Decimal(cents).scaleb(-2), cost.currency)


def money_totals(sums: Iterable[Money]) -> dict[str, Decimal]:
    """Sums by currency, exact."""
    found: dict[str, Decimal] = {}
    for each in sums:
        found[each.currency] = found.get(each.currency, Decimal(0)) + each.number
    return found


def show_money(currency: str, number: Decimal) -> str:
    """Money for people: ``12.60 EUR``."""
    return f"{number:.2f} {currency}".rstrip()
