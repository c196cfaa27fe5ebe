"""Degrees for physics: the one place where a reading is converted.

Forecast, pace, ice and the boiling point are worked out with these. No limit of a rule is ever
judged with a converted reading (``core/temperature.py`` says why).
"""

from decimal import Decimal

from holdlog.core.temperature import Scale, Temperature

F_A_C = Decimal("1.8")  # degrees Fahrenheit to a degree Celsius


def degrees_on(scale: Scale, reading: Temperature) -> float:
    """``reading`` in degrees of ``scale``."""
    return convert(reading.degrees, reading.scale, scale)


def convert(degrees: Decimal, printed: Scale, scale: Scale) -> float:
    """A figure of the scale ``printed`` on ``scale``; on its own scale it stays as it is."""
    if printed == scale:
        return float(degrees)
    if scale == "C":
        return float((degrees - 32) / F_A_C)
    return float(degrees * F_A_C + 32)


def span_on(scale: Scale, fahrenheit: float) -> float:
    """A difference of so many degrees Fahrenheit, in degrees of ``scale``."""
    return fahrenheit if scale == "F" else fahrenheit / float(F_A_C)
