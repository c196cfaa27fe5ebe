"""ZPL II, drawn by a renderer that has nothing of ours in it."""

import re
from random import Random

import pytest
from PIL import Image, ImageDraw

from holdlog.core import codes
from holdlog.labels import press, zpl
from holdlog.labels.template import Template
from tests.labels.readers import NPM, differing, draw_zpl
from tests.labels.samples import CODE, a_label, crowded, every_face, scan
from tests.system import need, need_npm

DOTS = {203: 8, 300: 12, 600: 24}  # dots a millimetre


def pictures() -> dict[str, Image.Image]:
    """Shapes that meet every sign of the encoding, on widths beside whole octets too."""
    noise = Image.frombytes("1", (408, 120), Random(2).randbytes(51 * 120))
    stairs = Image.new("1", (3400, 64), 1)
    draw = ImageDraw.Draw(stairs)
    for row in range(64):  # runs of all lengths, past the 400 digits that one sign counts
        draw.line((0, row, row * 53, row), 0)
        draw.line((3399 - row * 4, row, 3399, row), 0)
    return {
        "white": Image.new("1", (64, 40), 1),
        "black": Image.new("1", (64, 40), 0),
        "all black and wide": Image.new("1", (3400, 16), 0),
        "noise": noise,
        "noise, cut": noise.crop((0, 0, 401, 119)),
        "stairs": stairs,
        "last dot only": _dot(207, 99),
    }


def _dot(width: int, height: int) -> Image.Image:
    image = Image.new("1", (width, height), 1)
    image.putpixel((width - 1, height - 1), 0)
    return image


@pytest.mark.system
def test_the_renderer_draws_the_dots_of_the_labels(two_by_two: Template) -> None:
    node = need("node")
    need_npm(NPM)
    labels = {"plain": a_label(), "crowded": crowded()["crowded frozen"]}
    drawn = {
        f"{name}, {dpi} dpi": (press.render(two_by_two, dpi, label).image, dots)
        for dpi, dots in DOTS.items()
        for name, label in (every_face() | labels if dpi == 203 else labels).items()
    }
    every = drawn | {name: (image, 8) for name, image in pictures().items()}
    jobs = [(zpl.zpl_bytes([image]), image, dots) for image, dots in every.values()]
    seen = draw_zpl(jobs, node)
    assert [len(pages) for pages in seen] == [1] * len(jobs)
    wrong = {
        name: differing(page, image)
        for (name, (image, _)), (page,) in zip(every.items(), seen, strict=True)
    }
    assert wrong == dict.fromkeys(every, 0)
    assert scan(seen[0][0]) == {"bars": CODE, "qr": CODE}


@pytest.mark.system
def test_a_batch_is_one_format_a_label_in_order(two_by_two: Template) -> None:
    node = need("node")
    need_npm(NPM)
    bodies = ["H7K39QX", "J2M4N6P", "K3N5P7R"]
    batch = [body + codes.check_character(body) for body in bodies]
    images = [press.render(two_by_two, 203, a_label(code=code)).image for code in batch]
    ((*pages,),) = draw_zpl([(zpl.zpl_bytes(images), images[0], 8)], node)
    assert [scan(page)["qr"] for page in pages] == batch
    assert [differing(page, image) for page, image in zip(pages, images, strict=True)] == [0, 0, 0]


# ZPL II Programming Guide: ^PW and ^LL in dots, ^PQ the number of labels, ^GF A for digits, the
# octets that are sent, the octets of the picture, the octets of a row.
FRAME = re.compile(
    r"\^XA\^PW(\d+)\^LL(\d+)\^LH0,0\^FO0,0\^GFA,(\d+),(\d+),(\d+),([0-9A-Zg-z,:]*)\^FS"
    r"\^PQ(\d+)\^XZ\n"
)


def test_the_frame_says_how_large_and_how_many() -> None:
    image = Image.new("1", (406, 203), 1)
    made = FRAME.fullmatch(zpl.zpl_bytes([image], copies=3).decode("ascii"))
    assert made
    assert made.group(1, 2) == ("406", "203")
    assert made.group(3, 4, 5) == ("10353", "10353", "51")  # 51 octets hold 406 dots
    assert made.group(7) == "3"


@pytest.mark.parametrize("name", pictures())
def test_only_signs_that_every_reader_knows_are_used(name: str) -> None:
    made = zpl.zpl_bytes([pictures()[name]] * 2).decode("ascii")
    assert len(FRAME.findall(made)) == 2
    assert FRAME.sub("", made) == ""
    assert "!" not in made


def test_an_ordinary_label_is_a_third_of_its_digits(two_by_two: Template) -> None:
    image = press.render(two_by_two, 203, a_label()).image
    assert len(zpl.zpl_bytes([image])) < len(image.tobytes()) * 2 / 3
