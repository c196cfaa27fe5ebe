"""How much ice it takes to cool food: an energy balance.

Melting ice takes 333.55 kJ/kg, and each kilogram of melt-water 4.186 kJ for each degree Celsius it
warms. Food counts as 3.9 kJ/kg K, which is on the high side of cooked dishes, so the answer is not
too little ice.
"""

from holdlog.core.errors import Mistake
from holdlog.core.temperature import Temperature
from holdlog.rules.degrees import degrees_on

MELTING = 333.55  # kJ/kg
WATER = 4.186  # kJ/kg K
FOOD = 3.9  # kJ/kg K


def ice_stirred_in(warm: Temperature, target: Temperature, food: float = FOOD) -> float:
    """Kilograms of ice (at 0 °C) for each kilogram of food, melted into it, from ``warm`` to
    ``target``. ``food`` is its specific heat in kJ/kg K.

    Raises ``Mistake("no-cooling")`` unless ``warm`` is warmer than ``target`` and ``target`` is
    above freezing.
    """
    begins, ends = _both(warm, target)
    return food * (begins - ends) / (MELTING + WATER * ends)


def ice_around(warm: Temperature, target: Temperature, food: float = FOOD) -> float:
    """Kilograms of ice for each kilogram of food that an ice bath melts, from ``warm`` to
    ``target``. The least there can be: pot and air melt some too, and some has to be left at the
    end; half as much again is a fair guess (ours, no source).

    Raises ``Mistake("no-cooling")`` as above.
    """
    begins, ends = _both(warm, target)
    return food * (begins - ends) / MELTING


def _both(warm: Temperature, target: Temperature) -> tuple[float, float]:
    begins, ends = degrees_on("C", warm), degrees_on("C", target)
    if not begins > ends > 0:
        raise Mistake(
            "no-cooling",
            f"Ice does not bring food from {warm} to {target}.",
            "Name a target above freezing that is colder than the food.",
        )
    return begins, ends
