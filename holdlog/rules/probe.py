"""Is the thermometer right? The ice point decides; the boiling point is advice.

How far it may be off: FDA Food Code 4-203.11: ±1 °C where the thermometer shows Celsius, alone or
beside Fahrenheit, ±2 °F where it shows Fahrenheit alone. So a thermometer with both scales fails
at 33.9 °F, although that is within two degrees. An offset is kept beside a reading and never
worked into it.
"""

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from holdlog.core.errors import Mistake
from holdlog.core.events import ProbeScale
from holdlog.core.temperature import Scale, Temperature
from holdlog.rules.degrees import F_A_C

FOOT = 0.3048
ALTITUDES = (-450.0, 9000.0)  # metres: from the shore of the Dead Sea to the highest peak
PRESSURES = (300.0, 1100.0)  # hPa
_FREEZES: dict[Scale, Decimal] = {"F": Decimal(32), "C": Decimal(0)}


@dataclass(frozen=True, slots=True)
class Check:
    """What a check found. ``offset`` is what it shows too much (negative: too little), in degrees
    of ``scale``; ``allowed`` how far it may be off either way; ``expected`` what it should show.

    ``decides`` is False for the boiling point, which only gives reason to check in ice.
    """

    expected: Decimal
    offset: Decimal
    allowed: Decimal
    scale: Scale
    decides: bool

    @property
    def within(self) -> bool:
        """Whether it is within what is allowed; the figure itself passes."""
        return abs(self.offset) <= self.allowed


def allowed_error(shows: ProbeScale, scale: Scale) -> Decimal:
    """How far a thermometer may be off, in degrees of the ``scale`` it was read on."""
    if shows == "F":
        return Decimal(2) if scale == "F" else Decimal(2) / F_A_C
    return Decimal(1) if scale == "C" else F_A_C


def ice_check(reading: Temperature, shows: ProbeScale) -> Check:
    """A thermometer in a full slush of ice and water.

    Raises ``Mistake("wrong-scale")`` where it was read on a scale it does not show.
    """
    _shown(reading, shows)
    freezes = _FREEZES[reading.scale]
    return Check(
        freezes,
        reading.degrees - freezes,
        allowed_error(shows, reading.scale),
        reading.scale,
        decides=True,
    )


def boiling_check(reading: Temperature, shows: ProbeScale, pascals: float) -> Check:
    """A thermometer in plain water at a rolling boil, at the air pressure of the place.

    Half a degree Celsius (1 °F) is allowed on top, since weather moves the boiling point by as
    much. Raises ``Mistake("wrong-scale")``.
    """
    _shown(reading, shows)
    celsius = Decimal(boiling_point(pascals))
    exact = celsius if reading.scale == "C" else celsius * F_A_C + 32
    expected = exact.quantize(Decimal("0.1"), ROUND_HALF_UP)
    weather = Decimal(1) if reading.scale == "F" else Decimal(1) / F_A_C
    return Check(
        expected,
        reading.degrees - expected,
        allowed_error(shows, reading.scale) + weather,
        reading.scale,
        decides=False,
    )


def _shown(reading: Temperature, shows: ProbeScale) -> None:
    if reading.scale not in shows:
        raise Mistake(
            "wrong-scale",
            f"{reading} was read on a thermometer that shows °{shows} alone.",
            "Say which scales it shows, or read it on its own scale.",
        )


def pressure_at(metres: float) -> float:
    """The pressure in Pa at an altitude, by the US Standard Atmosphere, 1976 (geopotential metres;
    the difference to metres on a map is below 0.2 % in any town).

    Raises ``Mistake("bad-altitude")`` outside −450 to 9000 m.
    """
    low, high = ALTITUDES
    if not low <= metres <= high:
        raise Mistake(
            "bad-altitude",
            f"{metres:g} m is no altitude of a kitchen.",
            "Give metres (or feet) above the sea, −450 to 9000 m.",
        )
    return float(101325.0 * (1 - 2.25577e-5 * metres) ** 5.25588)


def metres(feet: float) -> float:
    """Feet in metres: the international foot, exactly 0.3048 m."""
    return feet * FOOT


def station_pressure(hectopascals: float) -> float:
    """A barometer's reading at the place itself (not reduced to sea level) in Pa.

    Raises ``Mistake("bad-pressure")`` outside 300 to 1100 hPa.
    """
    low, high = PRESSURES
    if not low <= hectopascals <= high:
        raise Mistake(
            "bad-pressure",
            f"{hectopascals:g} hPa is no air pressure.",
            "Give hectopascals as a barometer in the place shows them, 300 to 1100.",
        )
    return hectopascals * 100


def boiling_point(pascals: float) -> float:
    """Where plain water boils, in °C, by Antoine's equation (constants for water, 1 to 100 °C, as
    in Lange's and Dean's tables: mmHg and °C; from memory, within 0.07 °C of IAPWS-95 up to
    10 000 ft).
    """
    return 1730.63 / (8.07131 - math.log10(pascals / 133.322)) - 233.426
