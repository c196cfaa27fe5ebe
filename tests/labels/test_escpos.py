"""ESC/POS, octet for octet against python-escpos, an encoder that many printers have met."""

from collections.abc import Sequence
from random import Random
from typing import Any

import pytest
from escpos.printer import Dummy
from PIL import Image

from holdlog.core import codes
from holdlog.labels import escpos, press
from holdlog.labels.template import Template
from tests.labels.readers import differing
from tests.labels.samples import RESOLUTIONS, a_label, scan


def theirs(images: Sequence[Image.Image], after: bytes) -> bytes:
    """The same job by python-escpos; ``after`` follows each label."""
    printer: Any = Dummy()
    printer.hw("INIT")
    for image in images:
        printer.image(image, impl="bitImageRaster", fragment_height=escpos.BAND)
        printer._raw(after)
    return bytes(printer.output)


def noise(width: int, height: int) -> Image.Image:
    data = Random(3).randbytes((width + 7) // 8 * height)
    return Image.frombytes("1", (width, height), data)


CUT = b"\x1dV\x42\x00"  # GS V 66 0: feed to the knife and cut partly
FEED = b"\x1bd\x04"  # ESC d 4: print and feed four lines


@pytest.mark.parametrize("dpi", RESOLUTIONS)
def test_a_label_is_what_the_other_encoder_makes_of_it(two_by_two: Template, dpi: int) -> None:
    image = press.render(two_by_two, dpi, a_label()).image
    assert escpos.escpos_bytes([image], cut=True) == theirs([image], CUT)
    assert escpos.escpos_bytes([image], cut=False) == theirs([image], FEED)


@pytest.mark.parametrize(
    "size", [(1, 1), (7, 239), (8, 240), (9, 241), (576, 480), (575, 1201)], ids=str
)
def test_any_picture_is_what_the_other_encoder_makes_of_it(size: tuple[int, int]) -> None:
    image = noise(*size)
    assert escpos.escpos_bytes([image, image], cut=True) == theirs([image, image], CUT)


def test_each_label_of_a_batch_is_cut_off(two_by_two: Template) -> None:
    bodies = ["H7K39QX", "J2M4N6P"]
    batch = [body + codes.check_character(body) for body in bodies]
    images = [press.render(two_by_two, 203, a_label(code=code)).image for code in batch]
    start, *sheets = _printed(escpos.escpos_bytes(images, cut=True))
    assert start == []
    assert [scan(_joined(bands))["qr"] for bands in sheets] == batch
    assert [differing(_joined(b), i) for b, i in zip(sheets, images, strict=True)] == [0, 0]


def _printed(stream: bytes) -> list[list[Image.Image]]:
    """What a printer does with the four commands we send: bands, parted by start, feed and cut.

    Written from the commands' descriptions: GS v 0 m xL xH yL yH, octets across, dots down.
    """
    sheets: list[list[Image.Image]] = [[]]
    at = 0
    while at < len(stream):
        if stream.startswith(b"\x1b@", at):
            at += 2
            sheets.append([])
        elif stream.startswith(b"\x1dv0\x00", at):
            across = stream[at + 4] + 256 * stream[at + 5]
            down = stream[at + 6] + 256 * stream[at + 7]
            data = stream[at + 8 : at + 8 + across * down]
            sheets[-1].append(Image.frombytes("1", (across * 8, down), data, "raw", "1;I"))
            at += 8 + across * down
        else:
            assert stream.startswith(CUT, at), stream[at : at + 8]
            at += len(CUT)
            sheets.append([])
    assert sheets.pop() == []  # paper is cut at the end
    return sheets


def _joined(bands: list[Image.Image]) -> Image.Image:
    whole = Image.new("1", (bands[0].width, sum(band.height for band in bands)), 1)
    top = 0
    for band in bands:
        whole.paste(band, (0, top))
        top += band.height
    return whole.crop((0, 0, 406, whole.height))
