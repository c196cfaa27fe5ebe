"""A layout drawn on a PDF page: bars, squares and lines as rectangles, words as text.

Everything is drawn in the layout's own dots, so the numbers in the file are whole numbers and
a bar can be no wider or narrower than its neighbours by a rounding.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from typing import TYPE_CHECKING

from holdlog.labels import lettering
from holdlog.labels.geometry import MM_PER_INCH, Box
from holdlog.labels.layout import BarsMark, Layout, QrMark, TextMark
from holdlog.labels.typefaces import label_font
from holdlog.labels.words import loose

if TYPE_CHECKING:
    from PIL import Image
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.pdfgen.textobject import PDFTextObject

POINT = 72  # points an inch, the unit of PDF (ISO 32000-1, 8.3.2.3)

_DARK = re.compile("1+")

# Left, top, width, height in dots, y downwards.
Rectangle = tuple[int, int, int, int]


def points(mm: float) -> float:
    """``mm`` in the unit of PDF."""
    return mm * POINT / MM_PER_INCH


@dataclass(frozen=True, slots=True)
class Page:
    """A document and the size of its pages in mm; what is drawn is measured from the top left."""

    canvas: "Canvas"
    width: float
    height: float

    def line(self, x: float, y: float, to_x: float, to_y: float) -> None:
        """A stroke between two places, in mm."""
        down = points(self.height)
        self.canvas.line(points(x), down - points(y), points(to_x), down - points(to_y))

    def box(self, box: Box, *, stroke: int = 1, fill: int = 0) -> None:
        """A rectangle, in mm."""
        down = points(self.height - box.bottom)
        size = points(box.width), points(box.height)
        self.canvas.rect(points(box.x), down, *size, stroke=stroke, fill=fill)

    def text(self, x: float, y: float, text: str, align: str = "left") -> None:
        """Text with its baseline at ``y`` mm, starting, ending or centred at ``x`` mm."""
        set_text = {
            "left": self.canvas.drawString,
            "right": self.canvas.drawRightString,
            "center": self.canvas.drawCentredString,
        }[align]
        set_text(points(x), points(self.height - y), text)


def document(out: BytesIO, size: tuple[float, float], title: str) -> Page:
    """A document of pages of ``size`` mm. Equal pages give equal bytes: no date, no chance.

    It names the label font from the start, else every file would ask for one it does not hold.
    """
    from reportlab.pdfgen.canvas import Canvas  # noqa: PLC0415

    made = Canvas(
        out,
        pagesize=(points(size[0]), points(size[1])),
        pageCompression=1,
        invariant=1,
        # The type stubs call this name a number.
        initialFontName=font(bold=False).fontName,  # type: ignore[arg-type]
    )
    made.setTitle(title)
    made.setAuthor("holdlog")
    made.setSubject(title)
    made.setCreator("holdlog")
    return Page(made, *size)


@lru_cache(maxsize=2)
def font(bold: bool) -> "TTFont":
    """The label font as a PDF holds it; each file gets only the letters that it uses."""
    from reportlab.pdfbase import pdfmetrics  # noqa: PLC0415
    from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415

    name = "holdlog-bold" if bold else "holdlog-regular"
    made = TTFont(name, BytesIO(label_font(bold)))
    pdfmetrics.registerFont(made)
    return made


def draw(page: Page, layout: Layout, corner: tuple[int, int]) -> None:
    """Draw ``layout`` with its top left ``corner`` so many dots from that of the page."""
    dot = POINT / layout.dpi
    canvas = page.canvas
    canvas.saveState()
    canvas.transform(dot, 0, 0, dot, corner[0] * dot, points(page.height) - corner[1] * dot)
    solid: list[Rectangle] = []
    text = canvas.beginText()
    for mark in layout.marks:
        if isinstance(mark, TextMark):
            if _has_letters(mark):
                _write(text, mark)
            else:
                picture = lettering.mask(mark.text, mark.px, mark.bold, mark.fonts)
                solid += _rectangles(_rows(picture), (mark.ink.x, mark.ink.y), (1, 1))
        elif isinstance(mark, BarsMark):
            size = (mark.module, mark.ink.height)
            solid += _rectangles((mark.modules,), (mark.ink.x, mark.ink.y), size)
        elif isinstance(mark, QrMark):
            size = (mark.module, mark.module)
            solid += _rectangles(mark.rows, (mark.ink.x, mark.ink.y), size)
        else:
            solid.append((mark.ink.x, mark.ink.y, mark.ink.width, mark.ink.height))
    _fill(canvas, solid)
    canvas.drawText(text)
    canvas.restoreState()


def _fill(canvas: "Canvas", solid: Iterable[Rectangle]) -> None:
    """Fill rectangles as one shape, so that no hairline shows where two of them meet."""
    path = canvas.beginPath()
    for x, y, width, height in solid:
        path.rect(x, -y - height, width, height)
    canvas.drawPath(path, stroke=0, fill=1)


def _has_letters(mark: TextMark) -> bool:
    """Whether the label font can set it; what it cannot is drawn dot by dot, as printers do."""
    signs = font(mark.bold).face.charToGlyph
    return all(ord(sign) in signs for sign in loose(mark.text))


def _write(text: "PDFTextObject", mark: TextMark) -> None:
    """Set a line of text as wide as the layout says it is.

    On a label printer letters stand on whole dots, which makes them a little wider or narrower
    than they are drawn. The difference is spread over the line: it ends where the layout has
    made room for it.
    """
    shown = loose(mark.text)
    made = font(mark.bold)
    drawn = made.stringWidth(shown, mark.px)
    meant = lettering.width(mark.text, mark.px, mark.bold, mark.fonts)
    text.setFont(made.fontName, mark.px)
    text.setHorizScale(100 * meant / drawn if drawn else 100)
    text.setTextOrigin(mark.x, -mark.y)
    text.textOut(shown)


def _rows(picture: "Image.Image") -> tuple[str, ...]:
    """A 1-bit picture as rows of ``1`` and ``0``, as the modules of a QR are written."""
    stride = (picture.width + 7) // 8
    packed = picture.tobytes()
    return tuple(
        f"{int.from_bytes(packed[at : at + stride], 'big'):0{stride * 8}b}"[: picture.width]
        for at in range(0, len(packed), stride)
    )


def _rectangles(
    rows: Sequence[str], corner: tuple[int, int], size: tuple[int, int]
) -> Iterator[Rectangle]:
    """The dark runs of ``rows``, the same run in rows one below another as one rectangle.

    ``corner`` is the top left of the first module, ``size`` a module's width and height, in dots.
    """
    (left, top), (wide, high) = corner, size
    open_runs: dict[tuple[int, int], int] = {}
    for number, row in enumerate((*rows, "")):
        runs = {found.span() for found in _DARK.finditer(row)}
        for start, end in [run for run in open_runs if run not in runs]:
            first = open_runs.pop((start, end))
            yield (
                left + start * wide,
                top + first * high,
                (end - start) * wide,
                (number - first) * high,
            )
        for run in sorted(runs):
            open_runs.setdefault(run, number)
