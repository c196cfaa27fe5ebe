"""PWG raster: read by a reader written from PWG 5102.4, and by the library of CUPS."""

import ctypes
import re
from collections.abc import Sequence
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from holdlog.core import codes
from holdlog.labels import press, pwg
from holdlog.labels.template import Template
from tests.labels.readers import cups_pages, differing, read_pwg
from tests.labels.samples import CODE, RESOLUTIONS, a_label, scan
from tests.system import need

MEDIA = "custom_label_50.8x50.8mm"


def speckled(width: int, height: int, seed: int = 1) -> Image.Image:
    """Dots at random: nothing in it repeats."""
    data = Random(seed).randbytes((width + 7) // 8 * height)
    return Image.frombytes("1", (width, height), data)


@pytest.mark.parametrize("grey", [False, True])
@pytest.mark.parametrize("dpi", RESOLUTIONS)
def test_a_page_holds_the_dots_of_the_label(two_by_two: Template, dpi: int, grey: bool) -> None:
    image = press.render(two_by_two, dpi, a_label()).image
    (page,) = read_pwg(pwg.pwg_bytes([image], dpi, MEDIA, grey=grey))
    assert differing(page.image(), image) == 0
    assert scan(page.image()) == {"bars": CODE, "qr": CODE}
    assert page.name == MEDIA
    # The keywords of pwg-raster-document-type-supported, PWG 5102.4, table 12:
    # bits a color, bits a pixel, color space, colors.
    kind = tuple(
        page.fields[name] for name in ("BitsPerColor", "BitsPerPixel", "ColorSpace", "NumColors")
    )
    assert kind == ((8, 8, 18, 1) if grey else (1, 1, 3, 1))  # sgray_8, black_1
    assert (page.fields["HWResolutionX"], page.fields["HWResolutionY"]) == (dpi, dpi)
    assert (page.fields["PageWidth"], page.fields["PageLength"]) == (144, 144)  # 2 in in points
    assert (page.fields["CrossFeedTransform"], page.fields["FeedTransform"]) == (1, 1)


def test_a_batch_is_a_page_a_label_in_order_and_each_page_knows_how_many(
    two_by_two: Template,
) -> None:
    bodies = ["H7K39QX", "J2M4N6P", "K3N5P7R"]
    batch = [body + codes.check_character(body) for body in bodies]
    images = [press.render(two_by_two, 203, a_label(code=code)).image for code in batch]
    pages = read_pwg(pwg.pwg_bytes(images, 203, MEDIA))
    assert [scan(page.image())["qr"] for page in pages] == batch
    assert [page.fields["TotalPageCount"] for page in pages] == [3, 3, 3]
    assert [page.fields["NumCopies"] for page in pages] == [1, 1, 1]


# Widths on both sides of whole octets; heights and widths on both sides of what one count holds
# (256 rows, 128 octets).
SHAPES = [(1, 1), (7, 3), (8, 256), (9, 257), (1024, 2), (1032, 2), (2048, 513)]


@pytest.mark.parametrize("grey", [False, True])
@pytest.mark.parametrize("ink", ["white", "black", "speckled", "striped"])
@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_any_picture_comes_back(shape: tuple[int, int], ink: str, grey: bool) -> None:
    if ink == "speckled":
        image = speckled(*shape)
    elif ink == "striped":
        image = Image.effect_noise((shape[0], 1), 90).convert("1", dither=Image.Dither.NONE)
        image = image.resize(shape, Image.Resampling.NEAREST)
    else:
        image = Image.new("1", shape, ink)
    (page,) = read_pwg(pwg.pwg_bytes([image], 300, MEDIA, grey=grey))
    assert differing(page.image(), image) == 0


@given(st.lists(st.sampled_from([0, 255, 170]), min_size=1, max_size=400))
def test_any_row_comes_back(row: list[int]) -> None:
    image = Image.frombytes("1", (8 * len(row), 1), bytes(row))
    (page,) = read_pwg(pwg.pwg_bytes([image], 203, MEDIA))
    assert differing(page.image(), image) == 0


def test_white_past_the_edge_is_never_ink() -> None:
    (page,) = read_pwg(pwg.pwg_bytes([Image.new("1", (9, 1), 0)], 203, MEDIA))
    assert page.pixels == b"\xff\x80"


def test_an_ordinary_label_is_smaller_than_its_dots(two_by_two: Template) -> None:
    image = press.render(two_by_two, 203, a_label()).image
    assert len(pwg.pwg_bytes([image], 203, MEDIA)) < len(image.tobytes()) / 2


# --- the library of CUPS ----------------------------------------------------------------------


@pytest.mark.system
@pytest.mark.parametrize("grey", [False, True])
def test_cups_reads_the_same_pages(two_by_two: Template, tmp_path: Path, grey: bool) -> None:
    need("lp")  # comes with the library
    labels = [press.render(two_by_two, dpi, a_label()).image for dpi in RESOLUTIONS]
    images = [*labels, speckled(1031, 300), Image.new("1", (2000, 700), 1)]
    path = tmp_path / "labels.pwg"
    path.write_bytes(pwg.pwg_bytes(images, 203, MEDIA, grey=grey))
    pages = list(cups_pages(path))
    assert [size for size, _, _ in pages] == [image.size for image in images]
    assert [bits for _, bits, _ in pages] == [8 if grey else 1] * len(images)
    for (size, _, pixels), image in zip(pages, images, strict=True):
        seen = (
            Image.frombytes("L", size, pixels)
            if grey
            else Image.frombytes("1", size, pixels, "raw", "1;I")
        )
        assert differing(seen, image) == 0


STOCKS: Sequence[tuple[float, float, bool, str]] = [
    (50.8, 50.8, False, "custom_label_50.8x50.8mm"),
    (62, 40, False, "custom_label_62x40mm"),
    (62, 40, True, "custom_label_40x62mm"),
    (101.6, 25.4, False, "custom_label_101.6x25.4mm"),
    (100, 150.0, False, "custom_label_100x150mm"),
    (28.6, 0.5, False, "custom_label_28.6x0.5mm"),
    (31.754, 88.9, True, "custom_label_88.9x31.75mm"),
]


@pytest.mark.parametrize(("width", "height", "turned", "name"), STOCKS)
def test_the_name_of_a_stock_follows_its_standard(
    width: float, height: float, turned: bool, name: str
) -> None:
    made = pwg.media_name(width, height, turned)
    # PWG 5101.1 (the ABNF that its editors publish beside it): class-mm "_" size-name "_"
    # width-dim "x" length-dim "mm"; a dimension has no zero at its front or at its end.
    dim = r"(?:[1-9][0-9]*(?:\.[0-9]*[1-9])?|0\.[0-9]*[1-9])"
    assert re.fullmatch(rf"custom_[a-z0-9][a-z0-9.-]*_{dim}x{dim}mm", made)
    assert made == name


@pytest.mark.system
@pytest.mark.parametrize(("width", "height", "turned", "name"), STOCKS)
def test_cups_finds_the_size_in_the_name(
    width: float, height: float, turned: bool, name: str
) -> None:
    need("lp")
    cups = ctypes.CDLL("libcups.so.2")
    cups.pwgMediaForPWG.restype = ctypes.POINTER(_PwgMedia)
    found = cups.pwgMediaForPWG(pwg.media_name(width, height, turned).encode())
    assert found, name
    across, along = (height, width) if turned else (width, height)
    assert abs(found.contents.width - across * 100) <= 1  # hundredths of a millimetre
    assert abs(found.contents.length - along * 100) <= 1


class _PwgMedia(ctypes.Structure):
    """``pwg_media_t`` of cups/pwg.h."""

    _fields_ = (
        ("pwg", ctypes.c_char_p),
        ("legacy", ctypes.c_char_p),
        ("ppd", ctypes.c_char_p),
        ("width", ctypes.c_int),
        ("length", ctypes.c_int),
    )
