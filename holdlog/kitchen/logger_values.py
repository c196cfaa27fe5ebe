"""A cell of a logger's file as a temperature in whole hundredths, or the reason why it is none.

A logger whose probe is missing writes a number all the same. The numbers refused here are those
that makers' sheets document, by scale: the sensor's power-on value of 85 °C (Maxim DS18B20,
scratchpad register) and what common drivers give for a lost one (−127 °C, −196.6 °F), the
largest value of a 16-bit register (327.67), and rows of nines (common practice, no source).
"""

import re
from decimal import Decimal
from typing import Literal

from holdlog.core.temperature import Scale

Sign = Literal[".", ","]

VALUE = re.compile(
    r"(?P<sign>[-+−]?)(?P<whole>\d{1,5})(?:(?P<mark>[.,])(?P<part>\d{1,9}))?"
    r"\s*(?:[°º]|deg\.?)?\s*(?P<scale>[FfCc])?",
    re.ASCII,
)
_NO_DATA = re.compile(
    r"|[-–—]+(?:\.[-–—]+)?|\*+|\?+|x|err(?:or)?\.?|o[./]?l|or|#?n/?a|nan|null|none|nil|[-+]?inf"
    r"|open|short|fault|missing|nc|lo|hi|low|high"
    r"|(?:no[- ]?(?:data|probe|sensor)|not connected|disconnected|probe error)\b.*",
    re.IGNORECASE,
)
_LOST = {
    "F": frozenset((-19660, 18500)),
    "C": frozenset((-12700, 8500)),
}
_LOST_EITHER = frozenset(
    sign * lost
    for sign in (1, -1)
    for lost in (32767, 32768, 3276700, 3276800, 99900, 99990, 99999, 999900, 999990, 999999)
)
# As core/temperature: what no probe of a kitchen shows, in hundredths.
_PLAUSIBLE = {"F": (-8000, 60000), "C": (-6000, 32000)}
# Different texts that are kept with their values: more than any probe has steps.
_KEPT = 100_000
_TENTH = 10
_HUNDREDTHS = Decimal(100)


def no_data(text: str) -> bool:
    """Whether a cell says that there was nothing to measure."""
    return _NO_DATA.fullmatch(text.strip()) is not None


class Values:
    """Reads the cells of one file: one scale, one decimal sign, each text worked out once.

    ``named``: the cells name their scale, so one that does not is refused.
    """

    def __init__(self, scale: Scale, sign: Sign | None, *, named: bool) -> None:
        self.scale = scale
        self.named = named
        self.sign = sign
        self.known: dict[str, int] = {}
        self.decimals: set[int] = set()
        self.rounded = False

    def read(self, text: str) -> int | str:
        """The hundredths of a cell, or a reason (a sentence without its stop)."""
        if no_data(text):
            return "no reading"
        match = VALUE.fullmatch(text.strip())
        if match is None:
            return "not a temperature"
        oddity = self._odd(match["scale"], match["mark"])
        if oddity:
            return oddity
        value = self._hundredths(match)
        reason = self._refused(value)
        if reason:
            return reason
        self.decimals.add(len(match["part"] or ""))
        if len(self.known) < _KEPT:
            self.known[text] = value
        return value

    def _odd(self, scale: str | None, mark: str | None) -> str:
        """How a cell is written otherwise than the others, or empty."""
        if scale and scale.upper() != self.scale:
            return f"in °{scale.upper()}, but the file is read in °{self.scale}"
        if self.named and not scale:
            return "it does not name its scale as the other rows do"
        if mark:
            if self.sign is None:
                self.sign = "," if mark == "," else "."
            if mark != self.sign:
                return f"the decimal sign here is {self.sign!r}, not {mark!r}"
        return ""

    def _refused(self, value: int) -> str:
        if value in _LOST_EITHER or value in _LOST[self.scale]:
            return "no reading: loggers write this number when the probe is missing or starts up"
        low, high = _PLAUSIBLE[self.scale]
        if not low <= value <= high:
            return "no probe of a kitchen shows that"
        return ""

    def _hundredths(self, match: re.Match[str]) -> int:
        exact = Decimal(f"{match['whole']}.{match['part'] or '0'}") * _HUNDREDTHS
        value = int(exact)
        left = exact - value
        if left:
            # Limits are printed in whole degrees or tenths. What is a trace above or below one
            # stays above or below it: it is never rounded onto a tenth.
            self.rounded = True
            up = value + 1
            nearer_up = left + left >= 1
            if nearer_up:
                value = up if up % _TENTH else value
            elif not value % _TENTH:
                value = up
        return -value if match["sign"] in ("-", "−") else value
