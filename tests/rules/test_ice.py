"""How much ice: the energy balance, worked backwards.

Constants: heat of fusion of ice 333.55 kJ/kg (CRC Handbook, from memory), checked here against
CoolProp's water; 3.9 kJ/kg K for the food is our own round figure.
"""

import pytest
from CoolProp.CoolProp import PropsSI

from holdlog.core.errors import Mistake
from holdlog.core.temperature import read_temperature
from holdlog.rules.ice import MELTING, ice_around, ice_stirred_in


@pytest.mark.parametrize(
    ("warm", "target", "stirred"),
    [("135 F", "70 F", 0.3338), ("135 F", "41 F", 0.5746), ("80 C", "70 F", 0.5443)],
)
def test_ice_stirred_in_takes_up_what_the_food_gives_off(
    warm: str, target: str, stirred: float
) -> None:
    ice = ice_stirred_in(read_temperature(warm), read_temperature(target))
    assert ice == pytest.approx(stirred, abs=5e-5)
    # Second method: the balance. The enthalpy of the melt-water is that of CoolProp (IAPWS-95).
    hot, cold = ((each.degrees - 32) * 5 / 9 if each.scale == "F" else each.degrees
                 for each in (read_temperature(warm), read_temperature(target)))  # fmt: skip
    water = (
        PropsSI("H", "T", 273.15 + float(cold), "P", 101325, "Water")
        - PropsSI("H", "T", 273.16, "P", 101325, "Water")
    ) / 1000
    assert ice * (MELTING + water) == pytest.approx(3.9 * float(hot - cold), rel=2e-3)


@pytest.mark.parametrize(("target", "around"), [("70 F", 0.4222), ("41 F", 0.6106)])
def test_ice_around_is_what_melts(target: str, around: float) -> None:
    ice = ice_around(read_temperature("135 F"), read_temperature(target))
    assert ice == pytest.approx(around, abs=5e-5)
    # Melt-water that is poured off colder than the food takes up less: more ice is wanted.
    assert ice > ice_stirred_in(read_temperature("135 F"), read_temperature(target))


@pytest.mark.parametrize(("warm", "target"), [("41 F", "70 F"), ("70 F", "70 F"), ("70 F", "32 F")])
def test_ice_does_not_heat_or_freeze(warm: str, target: str) -> None:
    for each in (ice_around, ice_stirred_in):
        with pytest.raises(Mistake, match="Ice does not"):
            each(read_temperature(warm), read_temperature(target))
