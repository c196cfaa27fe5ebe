"""Text in dots: font sizes, widths, ink, and what can be printed at all.

Sizes are given as *cap height*, the height of a capital H, since that is what the eye
measures. DejaVu Sans Condensed is shipped with the program, and always laid out by Pillow's
basic engine: its other engine depends on a system library and sets other pixels. ``fonts`` are
the kitchen's own, used only for signs that DejaVu lacks, at the same size.
"""

import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from math import ceil
from typing import TYPE_CHECKING

from holdlog.core.errors import Mistake
from holdlog.core.visible import only_chooses
from holdlog.labels.typefaces import Face, Fonts, face_of, font, runs
from holdlog.labels.words import UNKNOWN_SIGN

if TYPE_CHECKING:
    from PIL import Image

_RIGHT_TO_LEFT = ("R", "AL", "RLE", "RLO", "RLI", "AN")


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
def width(text: str, px: int, bold: bool, fonts: Fonts = ()) -> int:
    """The width of ``text`` in dots, never less than its ink; quick, for finding line ends."""
    first = last = 0
    for start, face, run in _placed(text, px, bold, fonts):
        left, _, right, _ = font(face, px, bold).getbbox(run, mode="1", anchor="ls")
        first, last = min(first, start + int(left)), max(last, start + int(right))
    return last - first


def _placed(text: str, px: int, bold: bool, fonts: Fonts) -> tuple[tuple[int, Face, str], ...]:
    """The runs of ``text``, each with its font and where it starts, in dots."""
    placed: list[tuple[int, Face, str]] = []
    start = 0
    for face, run in runs(text, fonts):
        if placed:
            _, before, last = placed[-1]
            start += ceil(font(before, px, bold).getlength(last, mode="1"))
        placed.append((start, face, run))
    return tuple(placed)


@dataclass(frozen=True, slots=True)
class _Set:
    """A text set once: its picture, cut to the ink, and where that lies."""

    picture: "Image.Image"
    ink: tuple[int, int, int, int]


@lru_cache(maxsize=4096)
def _set(text: str, px: int, bold: bool, fonts: Fonts) -> _Set:
    from PIL import Image, ImageDraw  # noqa: PLC0415

    placed = _placed(text, px, bold, fonts)
    boxes = [
        (start + left, top, start + right, bottom)
        for start, face, run in placed
        for left, top, right, bottom in (font(face, px, bold).getbbox(run, anchor="ls"),)
    ]
    # The font's own box can be a dot or two larger than what it draws, so look at the dots.
    left, top = (int(min(box[i] for box in boxes)) - 2 for i in (0, 1))
    right, bottom = (int(max(box[i] for box in boxes)) + 2 for i in (2, 3))
    image = Image.new("1", (right - left, bottom - top), 0)
    draw = ImageDraw.Draw(image)
    draw.fontmode = "1"
    for start, face, run in placed:
        draw.text((start - left, -top), run, fill=1, font=font(face, px, bold), anchor="ls")
    box = image.getbbox() or (0, 0, 1, 1)
    return _Set(image.crop(box), (box[0] + left, box[1] + top, box[2] + left, box[3] + top))


def ink(text: str, px: int, bold: bool, fonts: Fonts = ()) -> tuple[int, int, int, int]:
    """Where the ink of ``text`` lies, in dots from the start of its baseline.

    Left, top (negative above the baseline), right, bottom.
    """
    return _set(text, px, bold, fonts).ink


def mask(text: str, px: int, bold: bool, fonts: Fonts = ()) -> "Image.Image":
    """``text`` as a 1-bit picture the size of its ``ink``, 1 where there is ink.

    Kept, since a day's labels say the same words again and again: pasting a kept mask is about
    ten times as fast as setting the text anew.
    """
    return _set(text, px, bold, fonts).picture


@lru_cache(maxsize=4096)
def printable(text: str, fonts: Fonts = ()) -> tuple[str, tuple[str, ...]]:
    """``text`` as it can be set, and the characters no font has, each replaced by ``?``.

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
        elif category in ("Cc", "Cf") or only_chooses(sign):
            continue  # invisible: controls, joiners, and the selectors that choose a drawing
        elif face_of(sign, fonts):
            out.append(sign)
        else:
            missing.append(sign)
            out.append(UNKNOWN_SIGN)
    return "".join(out), tuple(dict.fromkeys(missing))
