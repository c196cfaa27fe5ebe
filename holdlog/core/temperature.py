"""Temperatures as they were read: a number, and the scale of the probe that showed it.

The °C figures printed in food codes are rounded partners of the °F figures, not conversions
(135 °F and 57 °C differ by 0.4 °F). So a limit is a pair, and a reading is compared with the
figure printed for its own scale. Nothing here converts.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from holdlog.core.errors import Mistake
from holdlog.core.visible import quoted

Scale = Literal["F", "C"]
_READING = re.compile(r"\s*([+-]?\d{1,4}(?:[.,]\d{1,2})?)\s*°?\s*([FfCc])\s*")
_PLAUSIBLE = {"F": (Decimal(-80), Decimal(600)), "C": (Decimal(-60), Decimal(320))}


@dataclass(frozen=True, slots=True)
class Temperature:
    """A reading: ``degrees`` on ``scale`` ("F" or "C"), with the digits the probe showed."""

    degrees: Decimal
    scale: Scale

    def __str__(self) -> str:
        return f"{self.degrees} °{self.scale}"


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit as published: its figure in °F and in °C; None where the authority prints none.

    The figure itself passes, unless ``exclusive`` ("above", "below").
    """

    f: Decimal | None
    c: Decimal | None
    exclusive: bool = False

    def figure(self, scale: Scale) -> Decimal | None:
        """The published figure for a probe of ``scale``."""
        return self.f if scale == "F" else self.c

    def speaks(self, reading: Temperature) -> bool:
        """Whether the authority prints a figure on the scale of ``reading``."""
        return self.figure(reading.scale) is not None

    def show(self, scale: Scale) -> str:
        """The limit for people who read ``scale``: ``41 °F``; the other scale if it must be."""
        if self.figure(scale) is None:
            scale = "C" if scale == "F" else "F"
        return f"{self.figure(scale)} °{scale}"

    def reached_from_above(self, reading: Temperature) -> bool:
        """Whether ``reading`` is known to be at the limit or colder ("or less")."""
        figure = self.figure(reading.scale)
        if figure is None:
            return False
        return reading.degrees < figure if self.exclusive else reading.degrees <= figure

    def reached_from_below(self, reading: Temperature) -> bool:
        """Whether ``reading`` is known to be at the limit or hotter ("or above")."""
        figure = self.figure(reading.scale)
        if figure is None:
            return False
        return reading.degrees > figure if self.exclusive else reading.degrees >= figure


def read_temperature(text: str) -> Temperature:
    """Read ``"68 F"``, ``"5.0 C"``, ``"68°F"``; the scale must be said.

    Raises ``Mistake("bad-temperature")`` for anything else, or for a figure that no kitchen
    probe shows (outside −80…600 °F, −60…320 °C).
    """
    match = _READING.fullmatch(text)
    if match is None:
        raise Mistake(
            "bad-temperature",
            f"{quoted(text)} is not a temperature.",
            'Write the number and its scale: "68 F" or "5.0 C".',
        )
    degrees = Decimal(match[1].replace(",", "."))
    scale: Scale = "F" if match[2] in "Ff" else "C"
    low, high = _PLAUSIBLE[scale]
    if not low <= degrees <= high:
        raise Mistake(
            "bad-temperature",
            f"{degrees} °{scale} cannot be right.",
            "Read the probe again, and check its scale.",
        )
    return Temperature(degrees, scale)
