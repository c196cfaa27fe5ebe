"""Every template, with every label it offers, at every resolution: what a scanner meets.

The dots are judged here, not the layout: symbols are cut out of the drawn picture.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

import pytest
from PIL import Image

from holdlog.core import codes
from holdlog.core.errors import Fault
from holdlog.labels import faces, press, symbols, template
from holdlog.labels.geometry import Dots
from holdlog.labels.layout import BarsMark, Layout, QrMark, lay_out
from holdlog.labels.raster import draw
from holdlog.labels.template import Template
from tests.labels.readers import zbar
from tests.labels.samples import CODE, a_label, crowded, every_face, scan
from tests.system import need

# At 600 dots an inch, which few label printers have, the ordinary labels will do.
LABELS = {203: every_face() | crowded(), 300: every_face() | crowded(), 600: every_face()}
NAMES = template.names()

# ISO/IEC 15417: 10 modules left and right of Code 128. ISO/IEC 18004: 4 all around a QR code.
BARS_WHITE, QR_WHITE = 10, 4

EDGE_MM = 0.5
"""What a printer may lose at the edge of a label. Common practice, no source."""

# Dots a module: below 2, heat on thermal paper makes neighbours run together (measured: half a
# dot lost on each side leaves nothing to read at 2, everything at 3).
LEAST_BAR, LEAST_QR = 2, 3


@dataclass(frozen=True)
class Drawn:
    """A label as it stands before it is turned for the printer, and its picture."""

    name: str
    layout: Layout
    image: Image.Image


def every(name: str, dpi: int) -> Iterator[Drawn]:
    """Each label that the template offers."""
    found = template.find(name)
    for label_name, label in LABELS[dpi].items():
        if found.offers(faces.face(label)):
            layout = lay_out(found, dpi, label)
            yield Drawn(label_name, layout, _upright(draw(layout), found.turned))


@dataclass(frozen=True)
class Every:
    """All labels of one template at one resolution."""

    template: Template
    dpi: int
    labels: list[Drawn]


# For the whole module, so that every label is drawn once and each test looks at it.
@pytest.fixture(
    scope="module",
    params=[(name, dpi) for name in NAMES for dpi in LABELS],
    ids=[f"{name}-{dpi}" for name in NAMES for dpi in LABELS],
)
def drawn(request: pytest.FixtureRequest) -> Every:
    name, dpi = request.param
    return Every(template.find(name), dpi, list(every(name, dpi)))


def _upright(image: Image.Image, turned: bool) -> Image.Image:
    return image.transpose(Image.Transpose.ROTATE_90) if turned else image


def cut(image: Image.Image, box: Dots) -> Image.Image:
    return image.crop((box.x, box.y, box.right, box.bottom))


def rows(image: Image.Image) -> set[bytes]:
    """The different rows of a picture, an octet a dot: 0 ink, 255 white."""
    data = image.convert("L").tobytes()
    return {data[at : at + image.width] for at in range(0, len(data), image.width)}


def lengths(row: bytes) -> list[int]:
    """The stretches of one colour."""
    return [len(list(same)) for _, same in groupby(row)]


def is_white(image: Image.Image) -> bool:
    return image.convert("L").getextrema() == (255, 255)


def test_every_symbol_scans_as_the_code(drawn: Every) -> None:
    kinds = {field.kind for field in drawn.template.fields} & {"bars", "qr"}
    expected = dict.fromkeys(kinds, CODE)
    assert "qr" in expected
    seen = {label.name: scan(label.image) for label in drawn.labels}
    assert seen == dict.fromkeys(seen, expected)


def test_every_module_is_the_same_number_of_dots(drawn: Every) -> None:
    for label in drawn.labels:
        for mark in label.layout.marks:
            if isinstance(mark, BarsMark):
                (row,) = rows(cut(label.image, mark.ink))  # every row of a bar is alike
                module = min(lengths(row))
                assert module >= LEAST_BAR
                # Code 128 has bars and gaps of 1 to 4 modules, and starts and ends with a bar.
                assert {length / module for length in lengths(row)} <= {1, 2, 3, 4}
                assert row[0] == row[-1] == 0
            elif isinstance(mark, QrMark):
                symbol = cut(label.image, mark.ink)
                module = symbol.width // 21  # version 1
                assert module >= LEAST_QR
                assert symbol.size == (21 * module, 21 * module)
                for turned in (symbol, symbol.transpose(Image.Transpose.ROTATE_90)):
                    assert all(
                        length % module == 0 for row in rows(turned) for length in lengths(row)
                    )


def test_the_white_around_every_symbol_is_white(drawn: Every) -> None:
    for label in drawn.labels:
        paper = Dots(0, 0, *label.image.size)
        for mark in label.layout.marks:
            if isinstance(mark, BarsMark):
                side = BARS_WHITE * min(lengths(next(iter(rows(cut(label.image, mark.ink))))))
                high = 0
            elif isinstance(mark, QrMark):
                side = high = QR_WHITE * (mark.ink.width // 21)
            else:
                continue
            ink = mark.ink
            around = Dots(ink.x - side, ink.y - high, ink.width + 2 * side, ink.height + 2 * high)
            assert around.inside(paper), label.name
            alone = label.image.copy()
            alone.paste(1, (ink.x, ink.y, ink.right, ink.bottom))
            assert is_white(cut(alone, around)), label.name


def test_nothing_is_lost_at_the_edge(drawn: Every) -> None:
    edge = round(EDGE_MM * drawn.dpi / 25.4)
    for label in drawn.labels:
        width, height = label.image.size
        paper = Dots(0, 0, width, height)
        # Ink that leaves the picture is not in the picture: only the layout can tell.
        assert [mark for mark in label.layout.marks if not mark.ink.inside(paper)] == []
        inner = label.image.copy()
        inner.paste(1, (edge, edge, width - edge, height - edge))
        assert is_white(inner), label.name


# --- every code -------------------------------------------------------------------------------


def each_character_in_each_place() -> list[str]:
    """Codes that hold every character of the alphabet wherever it may stand."""
    made = []
    for at in range(codes.LENGTH - 1):
        for character in codes.ALPHABET if at else codes.LETTERS:
            body = "H7K39QX"[:at] + character + "H7K39QX"[at + 1 :]
            made.append(body + codes.check_character(body))
    assert {code[-1] for code in made} == set(codes.ALPHABET)
    return made


@pytest.mark.parametrize("dpi", [203, 300])
def test_every_character_of_a_code_survives_the_dots(dpi: int) -> None:
    two_by_two = template.find("two-by-two")
    wrong = [
        (code, seen)
        for code in each_character_in_each_place()
        if (seen := scan(press.render(two_by_two, dpi, a_label(code=code)).image))
        != {"bars": code, "qr": code}
    ]
    assert wrong == []


@pytest.mark.parametrize("text", ["99123456", "9912", "99A", "99999999", "9999H7K3", "A9912345"])
@pytest.mark.parametrize("module", [2, 3])
def test_bars_that_start_with_99_are_right_or_are_not_drawn(text: str, module: int) -> None:
    # python-barcode 0.16.1 draws other bars for what starts in set C with 99 (its issue 251).
    modules = _bars(text)
    if modules is None:
        assert text.startswith("99")
        return
    white = 10 * module
    ink = Dots(white, white, len(modules) * module, 60)
    mark = BarsMark("bars", ink, ink, module, modules)
    layout = Layout(ink.width + 2 * white, 60 + 2 * white, 203, (mark,), ())
    assert scan(draw(layout)) == {"bars": text}


def _bars(text: str) -> str | None:
    try:
        return symbols.bars(text)
    except Fault:
        return None


# --- a second decoder -------------------------------------------------------------------------


@pytest.mark.system
@pytest.mark.parametrize("dpi", [203, 300])
def test_another_decoder_reads_the_same(tmp_path: Path, dpi: int) -> None:
    program = need("zbarimg")
    sample = {name: next(every(name, dpi)).image for name in NAMES}
    kinds = {
        name: {field.kind for field in template.find(name).fields} & {"bars", "qr"}
        for name in NAMES
    }
    assert zbar(sample, tmp_path, program) == {
        name: dict.fromkeys(kinds[name], CODE) for name in NAMES
    }
