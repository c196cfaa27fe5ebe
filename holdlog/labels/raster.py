"""A layout as a 1-bit picture, one pixel a printer dot, black on white. Decides nothing."""

from functools import lru_cache
from typing import TYPE_CHECKING

from holdlog.labels import lettering
from holdlog.labels.layout import BarsMark, Layout, Mark, QrMark, Shared, TextMark

if TYPE_CHECKING:
    from PIL import Image


def draw(layout: Layout) -> "Image.Image":
    """The picture of ``layout``: mode ``1``, 0 black, 255 white.

    A turned one is drawn upright and then turned a quarter clockwise, dot for dot: what a dead
    dot of the print head takes from bars that lie across the feed, it takes from all alike.
    """
    from PIL import Image  # noqa: PLC0415

    image = _drawn(layout.shared, layout.width, layout.height).copy()
    _add(image, layout.marks[len(layout.shared.marks) :])
    return image.transpose(Image.Transpose.ROTATE_270) if layout.turned else image


@lru_cache(maxsize=16)
def _drawn(shared: Shared, width: int, height: int) -> "Image.Image":
    """What the labels of a batch share; kept, and copied for each of them."""
    from PIL import Image  # noqa: PLC0415

    image = Image.new("1", (width, height), 1)
    _add(image, shared.marks)
    return image


def _add(image: "Image.Image", marks: tuple[Mark, ...]) -> None:
    for mark in marks:
        corner = (mark.ink.x, mark.ink.y)
        if isinstance(mark, TextMark):
            image.paste(0, corner, lettering.mask(mark.text, mark.px, mark.bold, mark.fonts))
        elif isinstance(mark, BarsMark):
            image.paste(_modules((mark.modules,), (mark.ink.width, mark.ink.height)), corner)
        elif isinstance(mark, QrMark):
            image.paste(_modules(mark.rows, (mark.ink.width, mark.ink.height)), corner)
        else:
            image.paste(0, (*corner, mark.ink.right, mark.ink.bottom))


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
