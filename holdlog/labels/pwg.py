"""Drawn labels as PWG raster, the format that every IPP Everywhere printer takes.

PWG 5102.4-2012. A file is the sync word, then for each page a header of fixed length and the
rows, packed. Nothing in it scales: one pixel is one dot of the printer, so bars stay whole.
"""

import re
import struct
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image

_SYNC = b"RaS2"
_HEADER = 1796  # octets
_POINTS = 72  # an inch
_MOST_REPEATS = 256  # of a row, which one octet counts

# The fields of the page header that are not zero ("the printer's default"), by their first octet:
# PWG 5102.4, table 1. Numbers are 32 bits, high octet first; text ends with NUL.
_PWG_RASTER = 0
_HW_RESOLUTION = 276  # across, along; dots per inch
_NUM_COPIES = 340
_PAGE_SIZE = 352  # width, length; points
_WIDTH = 372  # then Height; pixels
_BITS_PER_COLOR = 384  # then BitsPerPixel, BytesPerLine, ColorOrder, ColorSpace
_NUM_COLORS = 420
_TOTAL_PAGE_COUNT = 452  # then CrossFeedTransform, FeedTransform: 1 is neither turned nor mirrored
_PAGE_SIZE_NAME = 1732
_LONGEST_NAME = 63

_CHUNKY = 0
_BLACK = 3  # 1 is ink
_SGRAY = 18  # 0 is ink, 255 paper

# What one octet of the packed row can announce: the same value 2 to 128 times, or 1 to 128 values
# none of which equals its successor.
_STRETCH = re.compile(rb"(.)\1{1,127}|(?:(.)(?!\2)){1,128}", re.DOTALL)


def pwg_bytes(
    images: "Sequence[Image.Image]", dpi: int, media: str, *, grey: bool = False
) -> bytes:
    """One page a label, in order. ``media`` is the name of the paper (``media_name``).

    Normally ``black_1``, one bit a dot; ``grey`` makes ``sgray_8``, for a printer that lists
    only that. The dots are the same. The images are 1-bit, as ``raster.draw`` makes them.
    """
    out = bytearray(_SYNC)
    for image in images:
        raw = image.convert("L").tobytes() if grey else image.tobytes("raw", "1;I")
        stride = len(raw) // image.height
        out += _header(image.size, dpi, media, stride, len(images), grey=grey)
        rows = [raw[at : at + stride] for at in range(0, len(raw), stride)]
        at = 0
        while at < len(rows):
            end = at + 1
            while end < len(rows) and end - at < _MOST_REPEATS and rows[end] == rows[at]:
                end += 1
            out.append(end - at - 1)
            out += _packed(rows[at])
            at = end
    return bytes(out)


def media_name(width_mm: float, height_mm: float, turned: bool = False) -> str:
    """The self-describing name of a label stock, ``custom_label_50.8x50.8mm``.

    PWG 5101.1, 5: class, name, width and length in whole hundredths at the finest, no zeros at
    the end. The width lies across the feed, also where it is the longer side; ``turned`` stock
    is fed with its height across.
    """
    across, along = (height_mm, width_mm) if turned else (width_mm, height_mm)
    return f"custom_label_{_plain(across)}x{_plain(along)}mm"


def _plain(mm: float) -> str:
    return f"{mm:.2f}".rstrip("0").rstrip(".")


def _header(
    size: tuple[int, int], dpi: int, media: str, stride: int, pages: int, *, grey: bool
) -> bytes:
    width, height = size
    bits = 8 if grey else 1
    head = bytearray(_HEADER)

    def put(at: int, *numbers: int) -> None:
        struct.pack_into(f">{len(numbers)}I", head, at, *numbers)

    struct.pack_into("10s", head, _PWG_RASTER, b"PwgRaster")
    put(_HW_RESOLUTION, dpi, dpi)
    put(_NUM_COPIES, 1)
    put(_PAGE_SIZE, round(width * _POINTS / dpi), round(height * _POINTS / dpi))
    put(_WIDTH, width, height)
    put(_BITS_PER_COLOR, bits, bits, stride, _CHUNKY, _SGRAY if grey else _BLACK)
    put(_NUM_COLORS, 1)
    put(_TOTAL_PAGE_COUNT, pages, 1, 1)
    struct.pack_into(f"{_LONGEST_NAME}s", head, _PAGE_SIZE_NAME, media.encode("ascii"))
    return bytes(head)


def _packed(row: bytes) -> bytes:
    """``row`` in stretches: ``n - 1`` and one octet n times, or ``257 - n`` and n octets."""
    out = bytearray()
    for stretch in _STRETCH.finditer(row):
        found = stretch.group()
        if stretch.group(1) is not None or len(found) == 1:
            out.append(len(found) - 1)
            out.append(found[0])
        else:
            out.append(257 - len(found))
            out += found
    return bytes(out)
