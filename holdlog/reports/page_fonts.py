"""The kitchen's own font files on paper: which of them a PDF can be set in, and why not the rest.

A PDF takes the outlines of a font into itself, only those that it uses (ISO 32000-1, 9.6.3 and
9.9). Here these are TrueType outlines: reportlab reads no others. Of a collection (``.ttc``) the
first font is used, as on labels.
"""

import os
import re
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from holdlog.core import files, whole_files
from holdlog.core.errors import BadFile, Mistake

if TYPE_CHECKING:
    from reportlab.pdfbase.pdfdoc import PDFDocument
    from reportlab.pdfbase.ttfonts import TTFont

# What reportlab raises of a file that is no font, or a damaged one, beside its own PDFError.
DAMAGE = (struct.error, LookupError, ValueError, AttributeError, TypeError, MemoryError)


@dataclass(frozen=True, slots=True)
class Own:
    """Those of the kitchen's fonts that a PDF can be set in, and a sentence about each other."""

    fit: tuple["TTFont", ...]
    faults: tuple[str, ...]


def own_fonts(paths: Sequence[Path]) -> Own:
    """The fonts in ``paths``, in their order."""
    fit, faults = [], []
    for path in paths:
        found = _read(path)
        if isinstance(found, str):
            faults.append(f"Font {path}: cannot be used on paper, {found}.")
        else:
            fit.append(found)
    return Own(tuple(fit), tuple(faults))


def damaged(paths: Sequence[Path], error: Exception) -> Mistake:
    """That one of the fonts in ``paths`` turned out to be damaged as it was set in."""
    names = ", ".join(map(str, paths))
    return Mistake(
        "bad-font",
        f"A font of the kitchen's is damaged, one of {names} ({error}).",
        "Mend the file, or take it out: holdlog label-words --no-fonts",
    )


def has(font: "TTFont", sign: str) -> bool:
    """Whether ``font`` has a glyph for ``sign``; its glyph 0 stands for what it lacks."""
    return bool(font.face.charToGlyph.get(ord(sign)))


def _read(path: Path) -> "TTFont | str":
    try:
        with files.open_file(path) as file:
            found = os.fstat(file.fileno())
    except OSError as error:
        return whole_files.why(error, path)
    return _font(path, found.st_mtime_ns, found.st_size)


@lru_cache(maxsize=16)
def _font(path: Path, changed: int, size: int) -> "TTFont | str":  # noqa: ARG001  # a new file
    from reportlab.pdfbase import pdfmetrics  # noqa: PLC0415
    from reportlab.pdfbase.pdfdoc import PDFError  # noqa: PLC0415
    from reportlab.pdfbase.ttfonts import TTFNameBytes  # noqa: PLC0415

    try:
        data = files.read_bytes(path, whole_files.MOST)
    except OSError as error:
        return whole_files.why(error, path)
    except BadFile:
        return f"it has more than {whole_files.MOST:,} bytes"
    if _outlines(data) == b"OTTO":
        return "its outlines are PostScript ones (CFF), and a PDF is set in TrueType outlines here"
    name = f"kitchen-{sha256(data).hexdigest()[:16]}"
    try:
        made = _kind()(name, BytesIO(data), asciiReadable=False)
    except (PDFError, *DAMAGE) as error:
        return f"it cannot be read as a TrueType font ({error})"
    if not _may_embed(made):
        return "its maker does not allow to embed a part of it (OS/2 table, fsType)"
    # Two files may say the same name of themselves, and reportlab takes those for one font.
    made.face.name = TTFNameBytes(name.encode())
    pdfmetrics.registerFont(made)
    return made


@cache
def _kind() -> "type[TTFont]":
    """A font of reportlab's, whose names can be searched for and copied whatever their signs."""
    from reportlab.pdfbase.pdfdoc import PDFStream  # noqa: PLC0415
    from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415

    class Searchable(TTFont):
        def addObjects(self, doc: "PDFDocument") -> None:  # noqa: N802  # reportlab's name
            super().addObjects(doc)
            ours = f"+{self.face.name.decode()}"
            for name, found in doc.idToObject.items():
                if "toUnicodeCMap:" in name and ours in name and isinstance(found, PDFStream):
                    found.content = _BEYOND.sub(_in_two, found.content)

    return Searchable


# Of a sign beyond U+FFFF reportlab 5.1 writes the number; a PDF asks for UTF-16 (ISO 32000-1,
# 9.10.3).
_BEYOND = re.compile(r"(?<=> <)[0-9A-F]{5,6}(?=>)")


def _in_two(found: re.Match[str]) -> str:
    return chr(int(found[0], 16)).encode("utf-16-be").hex().upper()


def _outlines(data: bytes) -> bytes:
    """The first four bytes of the font, or of the first one of a collection (OpenType: ttcf)."""
    start = int.from_bytes(data[12:16], "big") if data[:4] == b"ttcf" else 0
    return data[start : start + 4]


def _may_embed(font: "TTFont") -> bool:
    """Whether the font's own word on it (OpenType, OS/2 table, fsType) allows what a PDF does with
    it. Not if its one usage permission is none (bit 1), if it is to be embedded whole only (bit
    8), or its bitmaps only (bit 9). reportlab 5.1 reads these and by default minds none of them.
    """
    if "OS/2" not in font.face.table:
        return True
    kind = font.face.get_ushort(font.face.get_table_pos("OS/2")[0] + 8)
    return kind & 0x000E != 0x0002 and not kind & 0x0300  # noqa: PLR2004
