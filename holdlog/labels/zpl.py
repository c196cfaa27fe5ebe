"""Drawn labels in ZPL II, the language that most thermal label printers take over a socket.

Each label is one picture (``^GF``), not the printer's own text and bars: what was tested is what
prints, in any script. The run-length form is a third of plain hexadecimal and, unlike the
deflated one, has no check sum that a clone of the language could want otherwise.
"""

import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image

# "G" to "Y" stand for 1 to 19 of the digit that follows, "g" to "z" for 20 to 400 by twenties.
_TWENTY, _MOST = 20, 400
_RUN = re.compile(r"([0-9A-F])\1{2,}")  # two of a digit are as short as they are


def zpl_bytes(images: "Sequence[Image.Image]", *, copies: int = 1) -> bytes:
    """One format a label, in order, each printed ``copies`` times.

    Width and length are those of the picture, in dots: the printer has to have the resolution
    that the label was laid out for. Nothing else of its settings is touched, so that darkness,
    speed and the offsets of its calibration stay.
    """
    return b"".join(_format(image, copies) for image in images)


def _format(image: "Image.Image", copies: int) -> bytes:
    raw = image.tobytes("raw", "1;I")
    stride = len(raw) // image.height
    rows = (raw[at : at + stride] for at in range(0, len(raw), stride))
    return (
        f"^XA^PW{image.width}^LL{image.height}^LH0,0^FO0,0"
        f"^GFA,{len(raw)},{len(raw)},{stride},{_lines(rows, stride)}^FS^PQ{copies}^XZ\n"
    ).encode("ascii")


def _lines(rows: Iterable[bytes], stride: int) -> str:
    """The rows as digits, runs shortened; ``:`` is the row before, ``,`` white to the end.

    The sign for black to the end (``!``) is left out: it saves little and not every reader of
    the language knows it.
    """
    out, before = [], b""
    for row in rows:
        if row == before:
            out.append(":")
            continue
        ink = row.rstrip(b"\0")
        digits = _RUN.sub(_shortened, ink.hex().upper())
        out.append(digits if len(ink) == stride else digits + ",")
        before = row
    return "".join(out)


def _shortened(run: re.Match[str]) -> str:
    count = len(run.group())
    whole, rest = divmod(count, _MOST)
    twenties, ones = divmod(rest, _TWENTY)
    return (
        "z" * whole
        + (chr(ord("g") + twenties - 1) if twenties else "")
        + (chr(ord("G") + ones - 1) if ones else "")
        + run.group(1)
    )
