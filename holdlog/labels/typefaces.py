"""Font files: the one that is shipped, and the kitchen's own for signs which that one lacks.

Pillow has no fallback of its own and draws boxes for what a font lacks. So a text is split into
runs, each in the first font that has its signs. Which those are is asked of the font itself: a
sign it lacks is drawn exactly like a character that nobody has.
"""

import os
import unicodedata
from functools import lru_cache
from importlib import resources
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from holdlog.core import files
from holdlog.core.errors import Mistake
from holdlog.core.whole_files import why

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

Fonts = tuple[Path, ...]
"""The kitchen's font files, in the order in which they are asked for a sign."""

Face = Path | None
"""A font: one of the kitchen's, or ``None``, the label font."""

Run = tuple[Face, str]

_FILES = {False: "DejaVuSansCondensed.ttf", True: "DejaVuSansCondensed-Bold.ttf"}
_NOBODYS = "\uffff"  # a noncharacter: no font has a glyph for it

# Letters that change shape or place beside others: Indic scripts and Sinhala, Tibetan, Burmese,
# Khmer, Mongolian. The basic engine sets them one by one, which is wrong without a sign of it.
_SHAPED = ((0x0900, 0x0DFF), (0x0F00, 0x109F), (0x1780, 0x18AF), (0xA8E0, 0xA8FF))


@lru_cache(maxsize=2)
def label_font(bold: bool) -> bytes:
    """The file of the label font, DejaVu Sans Condensed, upright or bold (TrueType)."""
    return resources.files("holdlog.labels.fonts").joinpath(_FILES[bold]).read_bytes()


@lru_cache(maxsize=256)
def font(face: Face, px: int, bold: bool) -> "FreeTypeFont":
    """``face`` at ``px`` dots. The kitchen's own have one weight, which serves for bold too."""
    from PIL import ImageFont  # noqa: PLC0415

    source = BytesIO(label_font(bold)) if face is None else str(face)
    return ImageFont.truetype(source, px, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=16384)
def _has(face: Face, sign: str) -> bool:
    return _drawn(face, sign) != _drawn(face, _NOBODYS)


def _drawn(face: Face, sign: str) -> tuple[tuple[int, int], bytes]:
    try:
        mask = font(face, 40, bold=True).getmask(sign, mode="1")
    except OSError as error:  # a letter made of others that are not there, and the like
        raise Mistake(
            "bad-font",
            f"The font {face} is damaged: {sign!r} cannot be drawn ({error}).",
            "Mend the file, or take it out: holdlog label-words --no-fonts",
        ) from error
    return mask.size, bytes(mask)


@lru_cache(maxsize=16384)
def face_of(sign: str, fonts: Fonts) -> tuple[Face] | None:
    """The first font that has ``sign``, the label font before all others; ``None``: none has."""
    if any(first <= ord(sign) <= last for first, last in _SHAPED):
        return None
    for face in (None, *fonts):
        if _has(face, sign):
            return (face,)
    return None


@lru_cache(maxsize=4096)
def runs(text: str, fonts: Fonts) -> tuple[Run, ...]:
    """``text`` in stretches of one font each. A sign that no font has stays with the label font.

    An accent of its own stays with its letter, wherever the font of that letter has it.
    """
    if not fonts:
        return ((None, text),)
    split: list[Run] = []
    for sign in text:
        found = face_of(sign, fonts)
        face = found[0] if found else None
        if split and unicodedata.combining(sign) and _has(split[-1][0], sign):
            face = split[-1][0]
        if split and split[-1][0] == face:
            split[-1] = (face, split[-1][1] + sign)
        else:
            split.append((face, sign))
    return tuple(split) or ((None, ""),)


def usable(fonts: Fonts) -> tuple[Fonts, tuple[str, ...]]:
    """Those of ``fonts`` that can be used, and a sentence about each that cannot."""
    fit, faults = [], []
    for path in fonts:
        fault = _fault(path)
        if fault:
            faults.append(fault)
        else:
            fit.append(path)
    return tuple(fit), tuple(faults)


def check(fonts: Fonts) -> None:
    """Raise ``Mistake("bad-font")`` naming each file of ``fonts`` that cannot be used."""
    _, faults = usable(fonts)
    if faults:
        raise Mistake("bad-font", " ".join(faults), "Mend the path, or take it out.")


def _fault(path: Path) -> str:
    try:
        with files.open_file(path) as file:
            found = os.fstat(file.fileno())
    except OSError as error:
        return f"Font {path}: {why(error, path)}."
    return _unfit(path, found.st_mtime_ns, found.st_size)


@lru_cache
def _unfit(path: Path, changed: int, size: int) -> str:  # noqa: ARG001  # they tell a new file
    try:
        for px in (17, 40):  # a font of fixed sizes, as those of coloured signs, fails at one
            font(path, px, bold=False).getmask("H", mode="1")
    except (OSError, ValueError) as error:
        return f"Font {path}: not a font that labels can be set in ({error})."
    return ""
