"""A drawn label as PNG or PDF. Same dots, other envelope."""

import zlib
from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image


def png_bytes(image: "Image.Image", dpi: int) -> bytes:
    """``image`` as PNG that knows its resolution, so that it prints at its true size.

    Level 1 looking for runs only: a 1-bit picture is made of runs, and the higher levels cost up
    to ten times as much to save a kilobyte.
    """
    out = BytesIO()
    image.save(out, "PNG", dpi=(dpi, dpi), compress_level=1, compress_type=zlib.Z_RLE)
    return out.getvalue()


def pdf_bytes(images: "Sequence[Image.Image]", dpi: int) -> bytes:
    """One page a label, each exactly as large as the label; dots kept as they are (1-bit CCITT).

    Equal images give equal bytes: no date is written into the file.
    """
    first, *others = images
    out = BytesIO()
    first.save(
        out,
        "PDF",
        resolution=float(dpi),
        save_all=True,
        append_images=others,
        title="Labels",
        creationDate=None,
        modDate=None,
    )
    return out.getvalue()
