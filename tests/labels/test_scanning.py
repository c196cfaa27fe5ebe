"""The 2 x 2 inch label as a scanner meets it: many codes, held as they come, its modules.

``test_every_label.py`` looks at the dots and the white of every template.
"""

from random import Random

import pytest
from PIL import Image

from holdlog.core import codes
from holdlog.core.errors import Mistake
from holdlog.labels import press
from holdlog.labels.layout import BarsMark, QrMark, lay_out
from holdlog.labels.template import Template
from tests.labels.samples import CODE, RESOLUTIONS, a_label, scan


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


# Whole dots a module, at least 2 for thermal paper; the widths are those of 8 characters in set
# B (11 modules each, start, check, 13 for stop: ISO/IEC 15417) on the room a 2 inch label has.
@pytest.mark.parametrize(("dpi", "bar_dots", "qr_dots"), [(203, 2, 4), (300, 3, 6)])
def test_the_modules_are_as_large_as_the_label_allows(
    two_by_two: Template, dpi: int, bar_dots: int, qr_dots: int
) -> None:
    marks = lay_out(two_by_two, dpi, a_label()).marks
    assert [mark.module for mark in marks if isinstance(mark, BarsMark)] == [bar_dots]
    assert [mark.module for mark in marks if isinstance(mark, QrMark)] == [qr_dots]


def test_a_code_that_does_not_check_gets_no_label(two_by_two: Template) -> None:
    wrong = CODE[:-1] + ("2" if CODE[-1] != "2" else "3")
    with pytest.raises(Mistake, match="is not a container code"):
        lay_out(two_by_two, 203, a_label(code=wrong))
