"""Readers of what goes to a printer, written from the standards and not from our writers."""

import base64
import ctypes
import io
import json
import os
import struct
import subprocess
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree as ET

from PIL import Image, ImageChops

NPM = Path(__file__).parent / "npm"
HEADER = 1796


@dataclass(frozen=True)
class Page:
    """One page of a PWG raster file: the fields of its header by name, and its octets."""

    fields: dict[str, int]
    name: str
    pixels: bytes

    def image(self) -> Image.Image:
        """Its dots: mode ``1``, 0 ink."""
        size = (self.fields["Width"], self.fields["Height"])
        if self.fields["ColorSpace"] == 18:  # Sgray: 0 is ink
            return Image.frombytes("L", size, self.pixels).convert("1")
        return Image.frombytes("1", size, self.pixels, "raw", "1;I")  # Black: 1 is ink


# PWG 5102.4-2012, 4.3, the page header: name, octets, kind (N number, R reserved, T text).
# Text fields are 64 octets. Laid end to end they have to fill the header exactly.
FIELDS = (
    "T PwgRaster, T MediaColor, T MediaType, T PrintContentOptimize, R 12, N CutMedia, N Duplex, "
    "N HWResolutionX, N HWResolutionY, R 16, N InsertSheet, N Jog, N LeadingEdge, R 12, "
    "N MediaPosition, N MediaWeightMetric, R 8, N NumCopies, N Orientation, R 4, N PageWidth, "
    "N PageLength, R 8, N Tumble, N Width, N Height, R 4, N BitsPerColor, N BitsPerPixel, "
    "N BytesPerLine, N ColorOrder, N ColorSpace, R 16, N NumColors, R 28, N TotalPageCount, "
    "N CrossFeedTransform, N FeedTransform, N ImageBoxLeft, N ImageBoxTop, N ImageBoxRight, "
    "N ImageBoxBottom, N AlternatePrimary, N PrintQuality, R 20, N VendorIdentifier, "
    "N VendorLength, R 1088, R 64, T RenderingIntent, T PageSizeName"
)


def read_pwg(data: bytes) -> list[Page]:
    """The pages of a PWG raster file; an ``AssertionError`` where it breaks the standard."""
    assert data[:4] == b"RaS2"
    at, pages = 4, []
    while at < len(data):
        fields, texts = _header(data[at : at + HEADER])
        assert texts["PwgRaster"] == "PwgRaster"
        at += HEADER
        stride, height = fields["BytesPerLine"], fields["Height"]
        assert stride == -(-fields["Width"] * fields["BitsPerPixel"] // 8)
        pixels = b""
        while len(pixels) < stride * height:
            repeats = data[at] + 1
            row, at = _row(data, at + 1, stride, fields["BitsPerPixel"] // 8 or 1)
            pixels += row * repeats
        assert len(pixels) == stride * height
        pages.append(Page(fields, texts["PageSizeName"], pixels))
    return pages


def _header(head: bytes) -> tuple[dict[str, int], dict[str, str]]:
    at, numbers, texts = 0, {}, {}
    for field in FIELDS.split(", "):
        kind, name = field.split()
        if kind == "T":
            text, _, rest = head[at : at + 64].partition(b"\0")
            assert not rest.strip(b"\0")
            texts[name] = text.decode("ascii")
            at += 64
        elif kind == "N":
            (numbers[name],) = struct.unpack_from(">I", head, at)
            at += 4
        else:
            assert not any(head[at : at + int(name)]), f"reserved octets after {at}"
            at += int(name)
    assert at == len(head) == HEADER
    return numbers, texts


def _row(data: bytes, at: int, stride: int, unit: int) -> tuple[bytes, int]:
    """One packed row (4.4): a count below 128 repeats a pixel, one above 128 copies pixels."""
    row = b""
    while len(row) < stride:
        count = data[at]
        assert count != 128  # reserved
        at += 1
        if count < 128:
            row += data[at : at + unit] * (count + 1)
            at += unit
        else:
            row += data[at : at + unit * (257 - count)]
            at += unit * (257 - count)
    assert len(row) == stride
    return row, at


def cups_pages(path: Path) -> Iterator[tuple[tuple[int, int], int, bytes]]:
    """Size, bits a pixel and octets of each page, as the library of CUPS reads them."""
    cups = ctypes.CDLL("libcups.so.2")
    cups.cupsRasterOpen.restype = ctypes.c_void_p
    for function in (cups.cupsRasterReadHeader2, cups.cupsRasterReadPixels, cups.cupsRasterClose):
        function.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_uint]
    cups.cupsRasterReadHeader2.argtypes = [ctypes.c_void_p, ctypes.c_char_p]
    cups.cupsRasterClose.argtypes = [ctypes.c_void_p]
    file = os.open(path, os.O_RDONLY)
    raster = cups.cupsRasterOpen(file, 0)
    assert raster, "CUPS takes it for no raster file"
    head = ctypes.create_string_buffer(HEADER)
    while cups.cupsRasterReadHeader2(raster, head):
        # cups_page_header2_t of cups/raster.h, in the order of octets of this machine.
        width, height = struct.unpack_from("=II", head, 372)
        _, bits, stride = struct.unpack_from("=III", head, 384)
        pixels = ctypes.create_string_buffer(stride * height)
        assert cups.cupsRasterReadPixels(raster, pixels, stride * height) == stride * height
        yield (width, height), bits, pixels.raw
    cups.cupsRasterClose(raster)
    os.close(file)


def draw_zpl(jobs: Sequence[tuple[bytes, Image.Image, int]], node: str) -> list[list[Image.Image]]:
    """What zpl-renderer-js draws for each stream, on paper as large as its image.

    The third of each is dots a millimetre. The renderer takes paper in millimetres and only
    whole dots in them: 8, 12 and 24 stand for 203, 300 and 600 dots an inch.
    """
    asked = [
        {
            "zpl": stream.decode("ascii"),
            "width": image.width / dots,
            "height": image.height / dots,
            "dots": dots,
        }
        for stream, image, dots in jobs
    ]
    ran = subprocess.run(
        [node, NPM / "draw_zpl.mjs"],
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=True,
    )
    return [
        [Image.open(io.BytesIO(base64.b64decode(label))) for label in labels]
        for labels in json.loads(ran.stdout)
    ]


def differing(one: Image.Image, other: Image.Image) -> int:
    """How many dots of two pictures differ; every dot, if their sizes do."""
    if one.size != other.size:
        return one.width * one.height
    return sum(ImageChops.difference(one.convert("L"), other.convert("L")).histogram()[1:])


def zbar(images: dict[str, Image.Image], folder: Path, program: str) -> dict[str, dict[str, str]]:
    """What ZBar sees on each picture: the text by the kind of symbol."""
    kinds = {"CODE-128": "bars", "QR-Code": "qr"}
    for name, image in images.items():
        # A camera sees more pixels than dots.
        large = image.resize((image.width * 2, image.height * 2))
        page = Image.new("1", (large.width + 80, large.height + 80), 1)
        page.paste(large, (40, 40))
        page.save(folder / f"{name}.png")
    ran = subprocess.run(
        [program, "--quiet", "--xml", *(f"{name}.png" for name in images)],
        cwd=folder,
        capture_output=True,
        text=True,
        check=True,
    )
    seen: dict[str, dict[str, str]] = {}
    for source in ET.fromstring(ran.stdout).findall(".//{*}source"):
        name = source.attrib["href"].removesuffix(".png")
        seen[name] = {
            kinds[symbol.attrib["type"]]: symbol.findtext("{*}data", "")
            for symbol in source.findall(".//{*}symbol")
        }
    return seen
