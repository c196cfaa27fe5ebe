"""Both symbols of a drawn label, as a scanner meets them: dots, white and decoded text."""

from random import Random

import pytest
from PIL import Image

from holdlog.core import codes
from holdlog.labels import press
from holdlog.labels.label import Label
from holdlog.labels.layout import BarsMark, Layout, QrMark, lay_out
from holdlog.labels.raster import draw
from holdlog.labels.template import Template
from tests.labels.samples import (
    CODE,
    RESOLUTIONS,
    a_label,
    black_dots,
    crowded,
    every_face,
    runs,
    scan,
)

ALL = every_face() | crowded()


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("label", ALL.values(), ids=ALL)
def test_both_symbols_of_every_label_scan(two_by_two: Template, label: Label, dpi: int) -> None:
    assert scan(press.render(two_by_two, dpi, label).image) == {"bars": CODE, "qr": CODE}


@pytest.mark.parametrize("dpi", RESOLUTIONS)
def test_many_codes_scan(two_by_two: Template, dpi: int) -> None:
    pick = Random(dpi)
    for _ in range(150):
        code = codes.new_code(pick.choice)
        image = press.render(two_by_two, dpi, a_label(code=code)).image
        assert scan(image) == {"bars": code, "qr": code}


@pytest.mark.parametrize("dpi", RESOLUTIONS)
def test_a_label_held_sideways_or_upside_down_scans(two_by_two: Template, dpi: int) -> None:
    image = press.render(two_by_two, dpi, a_label()).image
    for turn in (Image.Transpose.ROTATE_90, Image.Transpose.ROTATE_180):
        assert scan(image.transpose(turn)) == {"bars": CODE, "qr": CODE}


def _laid_out(two_by_two: Template, dpi: int) -> tuple[Layout, BarsMark, QrMark, Image.Image]:
    layout = lay_out(two_by_two, dpi, a_label())
    bars = next(mark for mark in layout.marks if isinstance(mark, BarsMark))
    qr = next(mark for mark in layout.marks if isinstance(mark, QrMark))
    return layout, bars, qr, draw(layout)


# Whole dots a module, at least 2 for thermal paper; the widths are those of 8 characters in set
# B (11 modules each, start, check, 13 for stop: ISO/IEC 15417) on the room a 2 inch label has.
@pytest.mark.parametrize(("dpi", "bar_dots", "qr_dots"), [(203, 2, 4), (300, 3, 6)])
def test_every_bar_is_a_whole_number_of_modules(
    two_by_two: Template, dpi: int, bar_dots: int, qr_dots: int
) -> None:
    _, bars, qr, image = _laid_out(two_by_two, dpi)
    assert (bars.module, qr.module) == (bar_dots, qr_dots)
    for y in (bars.ink.y, bars.ink.y + bars.ink.height // 2, bars.ink.bottom - 1):
        row = image.crop((bars.ink.x, y, bars.ink.right, y + 1))
        lengths = [length for _, length in runs(row, 0)]
        assert {length / bars.module for length in lengths} <= {1, 2, 3, 4}
        assert sum(lengths) == len(bars.modules) * bars.module
    for y in range(qr.ink.y, qr.ink.bottom):
        row = image.crop((qr.ink.x, y, qr.ink.right, y + 1))
        assert all(length % qr.module == 0 for _, length in runs(row, 0))


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("label", crowded().values(), ids=crowded())
def test_nothing_is_printed_in_the_white_around_the_symbols(
    two_by_two: Template, label: Label, dpi: int
) -> None:
    layout = lay_out(two_by_two, dpi, label)
    image = draw(layout)
    # 10 modules beside Code 128 (ISO/IEC 15417), 4 around a QR code (ISO/IEC 18004).
    for mark in layout.marks:
        if isinstance(mark, BarsMark):
            white = 10 * mark.module
            edges = (mark.ink.x - white, mark.ink.y, mark.ink.right + white, mark.ink.bottom)
        elif isinstance(mark, QrMark):
            white = 4 * mark.module
            edges = (
                mark.ink.x - white,
                mark.ink.y - white,
                mark.ink.right + white,
                mark.ink.bottom + white,
            )
        else:
            continue
        assert edges[0] >= 0
        assert edges[1] >= 0
        assert edges[2] <= image.width
        assert edges[3] <= image.height
        outside = [
            (x, y)
            for x, y in black_dots(image, edges)
            if not (mark.ink.x <= x < mark.ink.right and mark.ink.y <= y < mark.ink.bottom)
        ]
        assert outside == []


def test_a_code_that_does_not_check_gets_no_label(two_by_two: Template) -> None:
    from holdlog.core.errors import Mistake

    wrong = CODE[:-1] + ("2" if CODE[-1] != "2" else "3")
    with pytest.raises(Mistake, match="is not a container code"):
        lay_out(two_by_two, 203, a_label(code=wrong))
