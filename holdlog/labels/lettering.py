"""The label font: sizes in whole dots, widths, ink, and which characters it has.

Sizes are given as *cap height*, the height of a capital H, since that is what the eye
measures. DejaVu Sans Condensed is shipped with the program, and always laid out by Pillow's
basic engine: its other engine depends on a system library and sets other pixels.
"""

import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from io import BytesIO
from typing import TYPE_CHECKING

from holdlog.core.errors import Mistake
from holdlog.labels import words

if TYPE_CHECKING:
    from PIL import Image
    from PIL.ImageFont import FreeTypeFont

_FILES = {False: "DejaVuSansCondensed.ttf", True: "DejaVuSansCondensed-Bold.ttf"}
_NOBODYS = "\uffff"  # a noncharacter: no font has a glyph for it
_RIGHT_TO_LEFT = ("R", "AL", "RLE", "RLO", "RLI", "AN")


@lru_cache(maxsize=2)
def _file(bold: bool) -> bytes:
    return resources.files("holdlog.labels.fonts").joinpath(_FILES[bold]).read_bytes()


@lru_cache(maxsize=128)
def _font(bold: bool, px: int) -> "FreeTypeFont":
    from PIL import ImageFont  # noqa: PLC0415

    return ImageFont.truetype(BytesIO(_file(bold)), px, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=512)
def size_for(cap: int, bold: bool) -> int:
    """The font size in dots whose capital H is at least ``cap`` dots tall."""
    px = cap
    while cap_height(px, bold) < cap:
        px += 1
    return px


@lru_cache(maxsize=512)
def cap_height(px: int, bold: bool) -> int:
    """How many dots tall a capital H is at font size ``px``."""
    _, top, _, bottom = ink("H", px, bold)
    return bottom - top


@lru_cache(maxsize=8192)
def width(text: str, px: int, bold: bool) -> int:
    """The width of ``text`` in dots, never less than its ink; quick, for finding line ends."""
    left, _, right, _ = _font(bold, px).getbbox(text, mode="1", anchor="ls")
    return int(right) - min(0, int(left))


@dataclass(frozen=True, slots=True)
class _Set:
    """A text set once: its picture, cut to the ink, and where that lies."""

    picture: "Image.Image"
    ink: tuple[int, int, int, int]


@lru_cache(maxsize=4096)
def _set(text: str, px: int, bold: bool) -> _Set:
    from PIL import Image, ImageDraw  # noqa: PLC0415

    # The font's own box can be a dot or two larger than what it draws, so look at the dots.
    left, top, right, bottom = (int(edge) for edge in _font(bold, px).getbbox(text, anchor="ls"))
    left, top = left - 2, top - 2
    image = Image.new("1", (right + 2 - left, bottom + 2 - top), 0)
    draw = ImageDraw.Draw(image)
    draw.fontmode = "1"
    draw.text((-left, -top), text, fill=1, font=_font(bold, px), anchor="ls")
    box = image.getbbox() or (0, 0, 1, 1)
    return _Set(image.crop(box), (box[0] + left, box[1] + top, box[2] + left, box[3] + top))


def ink(text: str, px: int, bold: bool) -> tuple[int, int, int, int]:
    """Where the ink of ``text`` lies, in dots from the start of its baseline.

    Left, top (negative above the baseline), right, bottom.
    """
    return _set(text, px, bold).ink


def mask(text: str, px: int, bold: bool) -> "Image.Image":
    """``text`` as a 1-bit picture the size of its ``ink``, 1 where there is ink.

    Kept, since a day's labels say the same words again and again: pasting a kept mask is about
    ten times as fast as setting the text anew.
    """
    return _set(text, px, bold).picture


@lru_cache(maxsize=4096)
def _has(sign: str) -> bool:
    font = _font(bold=True, px=40)
    return bytes(font.getmask(sign, mode="1")) != bytes(font.getmask(_NOBODYS, mode="1"))


@lru_cache(maxsize=4096)
def printable(text: str) -> tuple[str, tuple[str, ...]]:
    """``text`` as the font can set it, and the characters it lacks, each replaced by ``?``.

    Composes accents (NFC), turns line ends into spaces, drops invisible format characters.
    Raises ``Mistake("right-to-left")`` for Arabic, Hebrew and their like, which the basic
    layout engine would print reversed and unjoined, hence wrong without a sign of it.
    """
    missing: list[str] = []
    out: list[str] = []
    for sign in unicodedata.normalize("NFC", text):
        if unicodedata.bidirectional(sign) in _RIGHT_TO_LEFT:
            raise Mistake(
                "right-to-left",
                f"{text!r} has letters that run from right to left; labels cannot set them yet.",
                "Write it in Latin, Greek or Cyrillic letters.",
            )
        category = unicodedata.category(sign)
        if sign in "\t\n\r\v\f" or category in ("Zl", "Zp"):
            out.append(" ")
        elif category in ("Cc", "Cf") or "\ufe00" <= sign <= "\ufe0f":
            continue  # invisible: controls, joiners, and the selectors that choose a drawing
        elif _has(sign):
            out.append(sign)
        else:
            missing.append(sign)
            out.append(words.UNKNOWN_SIGN)
    return "".join(out), tuple(dict.fromkeys(missing))
