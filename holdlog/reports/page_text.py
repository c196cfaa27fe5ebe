"""Text on a PDF page: what its fonts can set, how wide it is, and where its lines break.

Sizes are in mm. A text is split into runs, each in the first font that has its signs: the
shipped one, then the kitchen's own. What no font has a sign for is shown as ``?`` and told to
the caller.
"""

import unicodedata
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from holdlog.core.visible import only_chooses
from holdlog.reports.line_ends import pieces
from holdlog.reports.page_fonts import Own, has, own_fonts

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
    """A TrueType font, upright and bold, as bytes; and other font files, one weight each, for
    signs that it lacks, in the order in which they are asked.
    """

    upright: bytes
    bold: bytes
    others: tuple[Path, ...] = ()


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

    ``missing`` gathers the signs that no font has.
    """

    typeface: Typeface
    width: float
    height: float
    missing: dict[str, None] = field(default_factory=dict)
    canvas: "Canvas" = field(init=False)
    own: Own = field(init=False)
    _faces: dict[str, int | None] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        """Open the kitchen's own fonts."""
        self.own = own_fonts(self.typeface.others)

    def font(self, *, bold: bool) -> "TTFont":
        """The font as a PDF holds it; a file gets only the letters that it uses."""
        if bold:
            return _font(self.typeface.bold, "report-bold")
        return _font(self.typeface.upright, "report-upright")

    def clean(self, text: str) -> str:
        """``text`` as the fonts can set it: composed, on one line, nothing invisible."""
        out = []
        for sign in unicodedata.normalize("NFC", text):
            category = unicodedata.category(sign)
            if sign.isspace() or category in ("Zl", "Zp"):
                out.append(" ")
            elif category in ("Cc", "Cf") or only_chooses(sign):
                continue
            elif self._face(sign) is not None:
                out.append(sign)
            else:
                self.missing[sign] = None
                out.append(UNKNOWN_SIGN)
        return " ".join("".join(out).split())

    def _face(self, sign: str) -> int | None:
        """Which font sets ``sign``: 0 the shipped one, 1 the kitchen's first; None: none."""
        if sign not in self._faces:
            self._faces[sign] = self._found(sign)
        return self._faces[sign]

    def _found(self, sign: str) -> int | None:
        if unicodedata.bidirectional(sign) in _TURNED:
            return None
        if any(first <= ord(sign) <= last for first, last in _SHAPED):
            return None
        if all(has(self.font(bold=bold), sign) for bold in (False, True)):
            return 0
        return next((n for n, font in enumerate(self.own.fit, 1) if has(font, sign)), None)

    def _runs(self, text: str, *, bold: bool) -> list[tuple["TTFont", str]]:
        """Cleaned ``text`` in stretches of one font each. An accent of its own stays with its
        letter, wherever the font of that letter has it.
        """
        first = self.font(bold=bold)
        if not self.own.fit or text.isascii():
            return [(first, text)]
        found: list[tuple[TTFont, str]] = []
        for sign in text:
            face = self._face(sign)
            font = self.own.fit[face - 1] if face else first
            if found and unicodedata.combining(sign) and has(found[-1][0], sign):
                font = found[-1][0]
            if found and found[-1][0] is font:
                found[-1] = (font, found[-1][1] + sign)
            else:
                found.append((font, sign))
        return found

    def wide(self, text: str, size: float, *, bold: bool = False) -> float:
        """The width of cleaned ``text`` in mm."""
        runs = self._runs(text, bold=bold)
        return float(sum(font.stringWidth(run, size) for font, run in runs))

    def lines(
        self, text: str, size: float, room: float, *, bold: bool = False, most: int = 0
    ) -> list[str]:
        """``text``, cleaned, in lines of at most ``room`` mm; a word too long is broken.

        With ``most``, what goes on after so many lines is cut, with a mark.
        """
        found: list[str] = []
        line = ""
        for word in self.clean(text).split(" "):
            gap = " " if line else ""
            for piece in pieces(word):
                joined = line + gap + piece
                gap = ""
                if self.wide(joined, size, bold=bold) <= room:
                    line = joined
                    continue
                if line:
                    found.append(line)
                line = piece
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
        x -= {"left": 0.0, "center": 0.5, "right": 1.0}[align] * self.wide(text, size, bold=bold)
        line = self.canvas.beginText(x * POINT, (self.height - y) * POINT)
        for font, run in self._runs(text, bold=bold):
            line.setFont(font.fontName, size * POINT)
            line.textOut(run)
        self.canvas.drawText(line)

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
