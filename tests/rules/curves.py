"""How food really cools, for simulations: four kinds of truth, none of them the program's own.

Minutes and °F; at minute 0 the food is at ``start``. Sources of the models: lumped bodies and
slabs as in Çengel, Heat and Mass Transfer, chapter 4 (from memory); natural convection as
``h ∝ ΔT^n``; evaporation by the psychrometric constant, 0.066 kPa/K at sea level (from memory).
"""

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache


@dataclass(frozen=True)
class Curve:
    """A falling temperature: ``at`` gives °F at a minute."""

    kind: str
    surroundings: float
    at: Callable[[float], float]

    def when(self, degrees: float) -> float:
        """The minute at which it falls to ``degrees``; infinite: not within a month."""
        low, high = 0.0, 1.0
        if self.at(0) <= degrees:
            return 0.0
        while self.at(high) > degrees:
            low, high = high, high * 2
            if high > 50_000:
                return math.inf
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if self.at(middle) > degrees else (low, middle)
        return high


def newton(start: float, surroundings: float, half: float) -> Curve:
    """A stirred pot: half the way to the surroundings every ``half`` minutes."""
    rate = math.log(2) / half
    return Curve(
        "Newton",
        surroundings,
        lambda minute: surroundings + (start - surroundings) * math.exp(-rate * minute),
    )


def natural_convection(start: float, surroundings: float, half: float, n: float = 0.25) -> Curve:
    """Still air: the cooler the pot, the weaker the draught. ``half``: minutes for the first half
    of the way.
    """
    begun = (start - surroundings) ** -n
    rate = (((start - surroundings) / 2) ** -n - begun) / half
    return Curve(
        "natural convection",
        surroundings,
        lambda minute: surroundings + (begun + rate * minute) ** (-1 / n),
    )


@cache
def slab_terms(biot: float, count: int = 60) -> tuple[tuple[float, float], ...]:
    """The roots of ``λ tan λ = Bi`` and the factors of the series at the centre of a slab."""
    terms = []
    for number in range(count):
        low, high = number * math.pi, (number + 0.5) * math.pi
        for _ in range(80):
            root = (low + high) / 2
            # λ sin λ − Bi cos λ has the same roots and no poles.
            under = (root * math.sin(root) - biot * math.cos(root)) * (-1) ** number < 0
            low, high = (root, high) if under else (low, root)
        terms.append((root, 4 * math.sin(root) / (2 * root + math.sin(2 * root))))
    return tuple(terms)


def slab_centre(biot: float, fourier: float) -> float:
    """The share of the first difference that is left at the centre of a slab."""
    left = 0.0
    for root, factor in slab_terms(biot):
        if root * root * fourier > 40:
            break
        left += factor * math.exp(-root * root * fourier)
    return left


def slab(start: float, surroundings: float, biot: float, unit: float) -> Curve:
    """Thick food, unstirred, read at its centre. ``unit``: half the thickness squared, over the
    diffusivity, in minutes.
    """

    def at(minute: float) -> float:
        if minute <= 0:
            return start
        # The series wavers at the very beginning, where nothing has reached the centre yet.
        return surroundings + (start - surroundings) * min(1.0, slab_centre(biot, minute / unit))

    return Curve("slab", surroundings, at)


def open_pan(start: float, surroundings: float, half: float, wet: float = 0.3) -> Curve:
    """An uncovered pan: it dries off heat where its surface (``wet`` of it) is hot.

    ``half`` is the half time without evaporation, in minutes; air at 70 % humidity.
    """
    rate = math.log(2) / half

    def vapour(fahrenheit: float) -> float:
        """Saturation pressure in kPa, by Magnus (constants of Sonntag 1990, from memory)."""
        celsius = (fahrenheit - 32) / 1.8
        return 0.6112 * math.exp(17.62 * celsius / (243.12 + celsius))

    air = 0.7 * vapour(surroundings)

    def falls(degrees: float) -> float:
        dry = degrees - surroundings
        wettened = 1.8 * wet * max(0.0, vapour(degrees) - air) / 0.066
        return -rate * (dry + wettened)

    step, minutes, path = 1.0, [0.0], [start]
    while minutes[-1] < 1500:
        now = path[-1]
        one = falls(now)
        two = falls(now + step / 2 * one)
        three = falls(now + step / 2 * two)
        four = falls(now + step * three)
        path.append(now + step / 6 * (one + 2 * two + 2 * three + four))
        minutes.append(minutes[-1] + step)

    def at(minute: float) -> float:
        place = min(max(1, bisect_right(minutes, minute)), len(minutes) - 1)
        share = (minute - minutes[place - 1]) / step
        return path[place - 1] + (path[place] - path[place - 1]) * share

    return Curve("open pan", surroundings, at)
