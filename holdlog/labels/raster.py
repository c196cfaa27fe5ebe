"""A layout as a 1-bit picture, one pixel a printer dot, black on white. Decides nothing."""

from typing import TYPE_CHECKING

from holdlog.labels import lettering
from holdlog.labels.layout import BarsMark, Layout, QrMark, TextMark

if TYPE_CHECKING:
    from PIL import Image


def draw(layout: Layout) -> "Image.Image":
    """The picture of ``layout``: mode ``1``, 0 black, 255 white."""
    from PIL import Image  # noqa: PLC0415

    image = Image.new("1", (layout.width, layout.height), 1)
    for mark in layout.marks:
        corner = (mark.ink.x, mark.ink.y)
        if isinstance(mark, TextMark):
            image.paste(0, corner, lettering.mask(mark.text, mark.px, mark.bold))
        elif isinstance(mark, BarsMark):
            image.paste(_modules((mark.modules,), (mark.ink.width, mark.ink.height)), corner)
        elif isinstance(mark, QrMark):
            image.paste(_modules(mark.rows, (mark.ink.width, mark.ink.height)), corner)
        else:
            image.paste(0, (*corner, mark.ink.right, mark.ink.bottom))
    return image


def _modules(rows: tuple[str, ...], size: tuple[int, int]) -> "Image.Image":
    """Rows of ``1`` (dark) and ``0``, stretched to ``size`` dots, a whole multiple of both sides.

    Stretching by a whole number copies pixels: every module gets exactly the same dots.
    """
    from PIL import Image  # noqa: PLC0415

    width = len(rows[0])
    stride = (width + 7) // 8
    packed = b"".join((int(row, 2) << (stride * 8 - width)).to_bytes(stride, "big") for row in rows)
    image = Image.frombytes("1", (width, len(rows)), packed, "raw", "1;I")
    return image.resize(size, Image.Resampling.NEAREST)
