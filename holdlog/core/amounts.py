"""Amounts of food: a number and a unit, exact.

Factors: NIST Handbook 44 (2024), Appendix C: the pound is 453.59237 g and the US gallon
3.785411784 l by definition; the smaller US units are exact parts of them. Pints, quarts and
gallons are US liquid ones: nothing here is a British pint.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from holdlog.core.errors import Mistake
from holdlog.core.visible import quoted

Measure = Literal["mass", "volume", "count"]

_GALLON = Decimal("3785.411784")
_POUND = Decimal("453.59237")
# What is counted and has no size of its own adds up only with its own kind.
_COUNTED = (
    "each", "portion", "tray", "bunch", "bottle", "jar", "can", "pack", "pan", "loaf", "head",
)  # fmt: skip
_UNITS: dict[str, tuple[Measure, Decimal]] = {
    "g": ("mass", Decimal(1)),
    "kg": ("mass", Decimal(1000)),
    "oz": ("mass", _POUND / 16),
    "lb": ("mass", _POUND),
    "ml": ("volume", Decimal(1)),
    "cl": ("volume", Decimal(10)),
    "dl": ("volume", Decimal(100)),
    "l": ("volume", Decimal(1000)),
    "tsp": ("volume", _GALLON / 768),
    "tbsp": ("volume", _GALLON / 256),
    "fl oz": ("volume", _GALLON / 128),
    "cup": ("volume", _GALLON / 16),
    "pint": ("volume", _GALLON / 8),
    "qt": ("volume", _GALLON / 4),
    "gal": ("volume", _GALLON),
    **{name: ("count", Decimal(1)) for name in _COUNTED},
    "dozen": ("count", Decimal(12)),
}
_ALIASES = {
    "litre": "l", "litres": "l", "liter": "l", "liters": "l", "lbs": "lb", "quart": "qt",
    "quarts": "qt", "pt": "pint", "pints": "pint", "cups": "cup", "gallon": "gal",
    "gallons": "gal", "floz": "fl oz", "portions": "portion", "trays": "tray", "ea": "each",
    "pc": "each", "pcs": "each", "piece": "each", "pieces": "each", "dz": "dozen",
    "dozens": "dozen", "bunches": "bunch", "bottles": "bottle", "jars": "jar", "cans": "can",
    "packs": "pack", "pans": "pan", "loaves": "loaf", "heads": "head", "gram": "g", "grams": "g",
    "kilo": "kg", "kilos": "kg", "ounce": "oz", "ounces": "oz", "pound": "lb", "pounds": "lb",
    "teaspoon": "tsp", "teaspoons": "tsp", "tablespoon": "tbsp", "tablespoons": "tbsp",
}  # fmt: skip
_AMOUNT_WORDS = 3  # 8 fl oz
_AMOUNT = re.compile(r"\s*(\d{1,7}(?:[.,]\d{1,4})?)\s*([A-Za-z][A-Za-z ]*?)\s*")


@dataclass(frozen=True, slots=True)
class Amount:
    """``number`` of ``unit``; ``unit`` is one of ``UNITS``."""

    number: Decimal
    unit: str

    def __str__(self) -> str:
        return f"{self.number.normalize():f} {self.unit}"

    @property
    def measure(self) -> Measure:
        """What is measured: mass, volume or count."""
        return _UNITS[self.unit][0]

    @property
    def base(self) -> Decimal:
        """The amount in grams, millilitres or pieces."""
        return self.number * _UNITS[self.unit][1]

    @property
    def adds_as(self) -> str:
        """What ``base`` is a number of: "g", "ml", or the thing counted (a dozen is 12 each)."""
        if self.measure == "count":
            return "each" if self.unit == "dozen" else self.unit
        return "g" if self.measure == "mass" else "ml"


UNITS = tuple(_UNITS)


def read_amount(text: str) -> Amount:
    """Read ``"2 l"``, ``"1.5kg"``, ``"12 portions"``. Raises ``Mistake("bad-amount")``."""
    match = _AMOUNT.fullmatch(text)
    unit = _ALIASES.get(match[2].lower(), match[2].lower()) if match else ""
    if match is None or unit not in _UNITS:
        raise Mistake(
            "bad-amount",
            f"{quoted(text)} is not an amount.",
            f"Write a number and a unit, such as 2 l or 500 g; units: {', '.join(UNITS)}.",
        )
    if re.fullmatch(r"\d{1,3},\d{3}", match[1]):
        raise Mistake(
            "bad-amount",
            f"{quoted(text)} can be read in two ways.",
            "Write thousands without a comma (1000 g) and parts with a point (1.5 l).",
        )
    number = Decimal(match[1].replace(",", "."))
    if number == 0:
        raise Mistake("bad-amount", f"{quoted(text)} is nothing.", "Write how much there is.")
    return Amount(number, unit)


def read_named(text: str) -> tuple[str, Amount | None]:
    """What something is and how much of it there is, where the last words say so: ``"cooked rice
    500g"``, ``"stock 1.5 kg"``, ``"milk 8 fl oz"``. A name alone is a name.
    """
    words = text.split()
    for count in range(_AMOUNT_WORDS, 0, -1):
        if count < len(words) and words[-count][0].isdigit():
            try:
                return " ".join(words[:-count]), read_amount(" ".join(words[-count:]))
            except Mistake:
                continue
    return text.strip(), None


def share(whole: Amount, parts: int) -> Amount:
    """One of ``parts`` equal parts, to four decimals."""
    return Amount(round(whole.number / parts, 4), whole.unit)


def alike(one: Amount, other: Amount) -> bool:
    """Whether they add up: masses, volumes, or the same counted thing."""
    return one.adds_as == other.adds_as


def in_unit_of(amount: Amount, base: Decimal) -> Amount | None:
    """``base`` (grams, millilitres or pieces) in the unit of ``amount``, to four decimals; None
    where nothing is left.
    """
    number = round(base / Amount(Decimal(1), amount.unit).base, 4)
    return Amount(number, amount.unit) if number > 0 else None


def totals(amounts: Iterable[Amount]) -> dict[str, Decimal]:
    """Sums by what can be added: ``{"g": …, "ml": …, "portion": …}``, exact.

    Masses add to grams, volumes to millilitres; counted things only with their own kind.
    """
    sums: dict[str, Decimal] = {}
    for amount in amounts:
        key = amount.adds_as
        sums[key] = sums.get(key, Decimal(0)) + amount.base
    return sums


def show_total(key: str, base: Decimal) -> str:
    """A sum from ``totals`` for people: grams and millilitres grow into kg and l."""
    bigger = {"g": "kg", "ml": "l"}.get(key)
    if bigger and base >= 1000:  # noqa: PLR2004
        return f"{round(base / 1000, 3).normalize():f} {bigger}"
    return f"{round(base, 1).normalize():f} {key}"
