"""Text on a PDF page: what a font can set, how wide it is, and where its lines break.

Sizes are in mm. What the font has no sign for is shown as ``?`` and told to the caller.
"""

import unicodedata
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

POINT = 72 / 25.4  # points in a mm (ISO 32000-1, 8.3.2.3: 72 points an inch)
UNKNOWN_SIGN = "?"
CUT = "…"
# Written from right to left, or changing shape beside others: set one by one they are wrong.
_TURNED = ("R", "AL", "RLE", "RLO", "RLI", "AN")
_SHAPED = ((0x0900, 0x0DFF), (0x0F00, 0x109F), (0x1780, 0x18AF), (0xA8E0, 0xA8FF))


@dataclass(frozen=True, slots=True)
class Typeface:
    """A TrueType font, upright and bold, as bytes."""

    upright: bytes
    bold: bytes


@cache
def _font(data: bytes, name: str) -> "TTFont":
    from reportlab.pdfbase import pdfmetrics  # noqa: PLC0415
    from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415

    made = TTFont(name, BytesIO(data))
    pdfmetrics.registerFont(made)
    return made


@dataclass(slots=True)
class Pen:
    """Writes in one typeface on pages of ``width`` and ``height`` mm, measured from the top left.

    ``missing`` gathers the signs that the font does not have.
    """

    typeface: Typeface
    width: float
    height: float
    missing: dict[str, None] = field(default_factory=dict)
    canvas: "Canvas" = field(init=False)

    def font(self, *, bold: bool) -> "TTFont":
        """The font as a PDF holds it; a file gets only the letters that it uses."""
        if bold:
            return _font(self.typeface.bold, "report-bold")
        return _font(self.typeface.upright, "report-upright")

    def clean(self, text: str) -> str:
        """``text`` as the font can set it: composed, on one line, nothing invisible."""
        out = []
        for sign in unicodedata.normalize("NFC", text):
            category = unicodedata.category(sign)
            if sign.isspace() or category in ("Zl", "Zp"):
                out.append(" ")
            elif category in ("Cc", "Cf") or "\ufe00" <= sign <= "\ufe0f":
                continue
            elif self._has(sign):
                out.append(sign)
            else:
                self.missing[sign] = None
                out.append(UNKNOWN_SIGN)
        return " ".join("".join(out).split())

    def _has(self, sign: str) -> bool:
        if unicodedata.bidirectional(sign) in _TURNED:
            return False
        if any(first <= ord(sign) <= last for first, last in _SHAPED):
            return False
        return all(ord(sign) in self.font(bold=bold).face.charToGlyph for bold in (False, True))

    def wide(self, text: str, size: float, *, bold: bool = False) -> float:
        """The width of cleaned ``text`` in mm."""
        return float(self.font(bold=bold).stringWidth(text, size))

    def lines(
        self, text: str, size: float, room: float, *, bold: bool = False, most: int = 0
    ) -> list[str]:
        """``text``, cleaned, in lines of at most ``room`` mm; a word too long is broken.

        With ``most``, what goes on after so many lines is cut, with a mark.
        """
        found: list[str] = []
        line = ""
        for word in self.clean(text).split(" "):
            joined = f"{line} {word}" if line else word
            if self.wide(joined, size, bold=bold) <= room:
                line = joined
                continue
            if line:
                found.append(line)
            line = word
            while self.wide(line, size, bold=bold) > room and len(line) > 1:
                cut = len(line) - 1
                while cut > 1 and self.wide(line[:cut], size, bold=bold) > room:
                    cut -= 1
                found.append(line[:cut])
                line = line[cut:]
        found = [*found, line] if line else found
        if most and len(found) > most:
            return [*found[: most - 1], found[most - 1][:-1].rstrip() + CUT]
        return found

    def write(
        self, x: float, y: float, text: str, size: float, *, bold: bool = False, align: str = "left"
    ) -> None:
        """Cleaned ``text`` with its baseline at ``y``, starting, ending or centred at ``x``."""
        self.canvas.setFont(self.font(bold=bold).fontName, size * POINT)
        say = {
            "left": self.canvas.drawString,
            "right": self.canvas.drawRightString,
            "center": self.canvas.drawCentredString,
        }[align]
        say(x * POINT, (self.height - y) * POINT, text)

    def rule(self, x: float, y: float, to_x: float, thick: float = 0.2) -> None:
        """A level stroke."""
        self.canvas.setLineWidth(thick * POINT)
        down = (self.height - y) * POINT
        self.canvas.line(x * POINT, down, to_x * POINT, down)

    def box(self, x: float, y: float, wide: float, high: float) -> None:
        """An empty rectangle with its top left at ``x``, ``y``."""
        self.canvas.setLineWidth(0.3 * POINT)
        down = (self.height - y - high) * POINT
        self.canvas.rect(x * POINT, down, wide * POINT, high * POINT)
