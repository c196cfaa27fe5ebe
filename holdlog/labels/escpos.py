"""Drawn labels in ESC/POS, for receipt printers that are fed with label or plain roll."""

import struct
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image

_START = b"\x1b@"  # ESC @: forget what the last job set
_RASTER = b"\x1dv0\x00"  # GS v 0, one dot a dot both ways
_FEED = b"\x1bd\x04"  # ESC d: four lines, past the tear-off edge
_CUT = b"\x1dVB\x00"  # GS V 66: on to the knife, then cut all but a bridge

BAND = 240
"""Rows a command. A small printer holds only so much of a picture before it has to print."""


def escpos_bytes(images: "Sequence[Image.Image]", cut: bool) -> bytes:
    """The labels in order, each followed by a cut, or where ``cut`` is false by some paper.

    The head prints a dot a pixel; what lies beyond its width is lost, so the label has to be
    laid out for the width and resolution of the printer.
    """
    out = bytearray(_START)
    for image in images:
        raw = image.tobytes("raw", "1;I")
        stride = len(raw) // image.height
        for top in range(0, image.height, BAND):
            rows = min(BAND, image.height - top)
            # Octets across, rows down: 16 bits each, low octet first.
            out += _RASTER + struct.pack("<HH", stride, rows)
            out += raw[top * stride : (top + rows) * stride]
        out += _CUT if cut else _FEED
    return bytes(out)
