"""Is the thermometer right?

Tolerances: FDA Food Code 2022 §4-203.11. Boiling points: CoolProp (IAPWS-95). Pressures: the
definition of the US Standard Atmosphere, 1976, with its own constants.
"""

from decimal import Decimal

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.errors import Mistake
from holdlog.core.events import ProbeScale
from holdlog.core.temperature import read_temperature
from holdlog.rules.probe import (
    boiling_check,
    boiling_point,
    ice_check,
    metres,
    pressure_at,
    station_pressure,
)


@pytest.mark.parametrize(
    ("reading", "shows", "within"),
    [
        # Fahrenheit alone: ±2 °F.
        ("34.0 F", "F", True),
        ("34.1 F", "F", False),
        ("30.0 F", "F", True),
        ("29.9 F", "F", False),
        # Celsius, alone or beside Fahrenheit: ±1 °C, which is 1.8 °F.
        ("1.0 C", "C", True),
        ("1.1 C", "C", False),
        ("-1.0 C", "FC", True),
        ("33.8 F", "FC", True),
        ("33.9 F", "FC", False),
        ("30.1 F", "FC", False),
    ],
)
def test_the_ice_point_decides(reading: str, shows: ProbeScale, within: bool) -> None:
    check = ice_check(read_temperature(reading), shows)
    assert check.within is within
    assert check.decides


def test_the_offset_is_what_it_shows_too_much() -> None:
    assert ice_check(read_temperature("33.5 F"), "F").offset == Decimal("1.5")
    assert ice_check(read_temperature("-0.4 C"), "C").offset == Decimal("-0.4")


@pytest.mark.parametrize(("reading", "shows"), [("32 F", "C"), ("0 C", "F")])
def test_a_thermometer_is_read_on_a_scale_it_shows(reading: str, shows: ProbeScale) -> None:
    with pytest.raises(Mistake, match="alone"):
        ice_check(read_temperature(reading), shows)
    with pytest.raises(Mistake, match="alone"):
        boiling_check(read_temperature(reading), shows, 101325)


# ---- boiling ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("feet", "pascals", "celsius"),
    [
        (0, 101325, 99.974),
        (1000, 97717, 98.961),
        (2000, 94213, 97.948),
        (3000, 90812, 96.934),
        (5000, 84307, 94.903),
        (5280, 83428, 94.618),
        (7000, 78185, 92.869),
        (10000, 69682, 89.812),
    ],
)
def test_water_boils_cooler_higher_up(feet: int, pascals: int, celsius: float) -> None:
    pressure = pressure_at(metres(feet))
    assert pressure == pytest.approx(pascals, abs=1)
    # IAPWS-95 by CoolProp gives the figure of the table; Antoine's equation is within 0.07 °C.
    boils = PropsSI("T", "P", pressure, "Q", 0, "Water") - 273.15
    assert boils == pytest.approx(celsius, abs=2e-3)
    assert boiling_point(pressure) == pytest.approx(boils, abs=0.07)


@pytest.mark.parametrize("hectopascals", [300, 500, 700, 850, 970, 1000, 1013.25, 1030, 1100])
def test_water_boils_by_the_barometer(hectopascals: float) -> None:
    pressure = station_pressure(hectopascals)
    boils = PropsSI("T", "P", pressure, "Q", 0, "Water") - 273.15
    assert boiling_point(pressure) == pytest.approx(boils, abs=0.12)


@given(st.floats(-450, 9000))
def test_the_pressure_is_that_of_the_standard_atmosphere(high: float) -> None:
    # p0 (1 − L h/T0)^(g0 M/(R* L)): 288.15 K, 6.5 K/km, 9.80665, 28.9644 g/mol, 8.31432 J/mol K.
    exponent = 9.80665 * 0.0289644 / (8.31432 * 0.0065)
    assert pressure_at(high) == pytest.approx(
        101325 * (1 - 0.0065 * high / 288.15) ** exponent, rel=2e-5
    )


@pytest.mark.parametrize("high", [-451, 9001, float("nan"), float("inf")])
def test_no_kitchen_lies_there(high: float) -> None:
    with pytest.raises(Mistake, match="altitude"):
        pressure_at(high)


@pytest.mark.parametrize("hectopascals", [29.9, 299, 1101, float("nan")])
def test_no_barometer_shows_that(hectopascals: float) -> None:
    # 29.9 is inches of mercury.
    with pytest.raises(Mistake, match="hPa"):
        station_pressure(hectopascals)


@pytest.mark.parametrize(
    ("reading", "shows", "feet", "within"),
    [
        # Sea level, 212.0 °F: ±2 °F and 1 °F for the weather.
        ("212 F", "F", 0, True),
        ("209.0 F", "F", 0, True),
        ("208.9 F", "F", 0, False),
        # Denver: 202.4 °F. A good thermometer is not blamed for the mountain.
        ("202 F", "F", 5280, True),
        ("212 F", "F", 5280, False),
        # Both scales: 1.8 and 1 °F.
        ("209.2 F", "FC", 0, True),
        ("209.1 F", "FC", 0, False),
        ("98.5 C", "C", 0, True),
        ("98.4 C", "C", 0, False),
    ],
)
def test_the_boiling_point_is_advice(
    reading: str, shows: ProbeScale, feet: int, within: bool
) -> None:
    check = boiling_check(read_temperature(reading), shows, pressure_at(metres(feet)))
    assert check.within is within
    assert not check.decides


# ---- offsets ---------------------------------------------------------------------------------
