"""Tells when a logger was set from °F to °C, or back, in the middle of a file.

38 °F becomes 3.3, 4 °C becomes 39.2: from one row to the next the readings go where a conversion
would put them, and stay there. A defrost or an open door may jump as far, but comes back, and
the way back is no change either.
"""

from collections.abc import Sequence
from itertools import pairwise

# Hundredths of a degree. A jump smaller than this is weather in the unit, whatever it equals.
_JUMP = 1000
# How near to the converted figure, in hundredths: about what a reading changes by in one step.
_NEAR_F, _NEAR_C = 200, 110
_STAYS = 5


def switched(samples: Sequence[tuple[int, int]]) -> int | None:
    """The index of the first sample that seems to be on the other scale, or None."""
    values = [value for _, value in samples]
    for index, (before, after) in enumerate(pairwise(values), 1):
        if abs(after - before) < _JUMP:
            continue
        to_c, to_f = _to_c(before), _to_f(before)
        for target, near in ((to_c, _NEAR_C), (to_f, _NEAR_F)):
            if abs(after - target) <= near and abs(target - before) >= _JUMP:
                next_few = values[index : index + _STAYS]
                last_few = values[max(0, index - _STAYS) : index]
                if all(abs(value - target) < abs(value - before) for value in next_few) and all(
                    abs(value - before) < abs(value - target) for value in last_few
                ):
                    return index
    return None


def _to_c(hundredths: int) -> float:
    return (hundredths - 3200) / 1.8


def _to_f(hundredths: int) -> float:
    return hundredths * 1.8 + 3200
