"""Temperatures are judged by the figure printed for the scale they were read in.

Figures: FDA Food Code 2022, §§3-501.14, 3-501.16, 3-403.11: 135 °F (57 °C), 70 °F (21 °C),
41 °F (5 °C), 165 °F (74 °C). The pairs are rounded, so neither is a conversion of the other.
"""

from contextlib import suppress
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.errors import Mistake
from holdlog.core.temperature import Limit, Temperature, read_temperature

HOT = Limit(Decimal(135), Decimal(57))
MIDDLE = Limit(Decimal(70), Decimal(21))
COLD = Limit(Decimal(41), Decimal(5))
REHEAT = Limit(Decimal(165), Decimal(74))


@pytest.mark.parametrize(
    ("text", "limit", "passes"),
    [
        ("70 F", MIDDLE, True),
        ("70.1 F", MIDDLE, False),
        ("21 C", MIDDLE, True),
        # 69.98 °F, but above the printed 21 °C.
        ("21.1 C", MIDDLE, False),
        ("41 F", COLD, True),
        ("41.4 F", COLD, False),
        ("5.0 C", COLD, True),
        ("5.1 C", COLD, False),
    ],
)
def test_cold_enough(text: str, limit: Limit, *, passes: bool) -> None:
    assert limit.reached_from_above(read_temperature(text)) is passes


@pytest.mark.parametrize(
    ("text", "limit", "passes"),
    [
        ("135 F", HOT, True),
        # 57.17 °C, but below the printed 135 °F.
        ("134.9 F", HOT, False),
        # 134.6 °F, but at the printed 57 °C.
        ("57.0 C", HOT, True),
        ("56.9 C", HOT, False),
        ("164.9 F", REHEAT, False),
        ("165 F", REHEAT, True),
        ("73.9 C", REHEAT, False),
        ("74 C", REHEAT, True),
    ],
)
def test_hot_enough(text: str, limit: Limit, *, passes: bool) -> None:
    assert limit.reached_from_below(read_temperature(text)) is passes


@pytest.mark.parametrize("text", ["68 F", "68F", " 68 °F ", "+68 f", "68.0F"])
def test_a_reading_in_fahrenheit(text: str) -> None:
    reading = read_temperature(text)
    assert (reading.degrees, reading.scale) == (Decimal(68), "F")


def test_the_digits_of_the_probe_are_kept() -> None:
    assert str(read_temperature("5,0 c")) == "5.0 °C"
    assert str(read_temperature("-18 C")) == "-18 °C"
    assert COLD.show("C") == "5 °C"


@pytest.mark.parametrize(
    "text",
    ["", "68", "F", "68 K", "68 F F", "6 8 F", "1e3 F", "nan F", "inf C", "601 F", "-81 F", "321 C",
     "-61 C", "68.123 F", "99999 F", "68\nF 70", "six F"],
)  # fmt: skip
def test_what_no_probe_shows_is_refused(text: str) -> None:
    with pytest.raises(Mistake) as caught:
        read_temperature(text)
    assert caught.value.code == "bad-temperature"
    assert caught.value.hint


@given(st.decimals(-60, 320, places=1), st.sampled_from(["F", "C"]))
def test_what_is_shown_can_be_read_again(degrees: Decimal, scale: str) -> None:
    reading = Temperature(degrees, "F" if scale == "F" else "C")
    assert read_temperature(str(reading)) == reading


@given(st.text(max_size=12))
def test_no_text_crashes(text: str) -> None:
    with suppress(Mistake):
        assert str(read_temperature(text))
