"""A stranger reads the label: tesseract, on the printed dots, slightly blurred as on paper."""

import subprocess
from difflib import SequenceMatcher
from pathlib import Path

import pytest
from PIL import Image, ImageFilter

from holdlog.labels.label import Label
from holdlog.labels.layout import TextMark, lay_out
from holdlog.labels.raster import draw
from holdlog.labels.template import Template
from tests.labels.samples import RESOLUTIONS, a_label, crowded, every_face
from tests.system import need

pytestmark = pytest.mark.system


def read(image: Image.Image, path: Path) -> str:
    program = need("tesseract")
    grey = image.convert("L").resize((image.width * 2, image.height * 2))
    page = Image.new("L", (grey.width + 80, grey.height + 80), 255)
    page.paste(grey, (40, 40))
    page.filter(ImageFilter.GaussianBlur(1.5)).save(path)
    ran = subprocess.run(
        [program, str(path), "-", "--psm", "6"], capture_output=True, text=True, check=True
    )
    return " ".join(ran.stdout.split())


LABELS = {
    **every_face(),
    "accents": a_label(item="jalapeño crème brûlée"),
    "long": crowded()["crowded prepared"],
}


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("field", ["item", "headline"])
@pytest.mark.parametrize("name", LABELS)
def test_name_and_use_by_are_read_as_printed(
    two_by_two: Template, tmp_path: Path, name: str, field: str, dpi: int
) -> None:
    label: Label = LABELS[name]
    layout = lay_out(two_by_two, dpi, label)
    heads = ("headline", "state") if field == "headline" else (field,)
    marks = [
        mark for mark in layout.marks if isinstance(mark, TextMark) and mark.field.startswith(heads)
    ]
    box = (
        min(mark.ink.x for mark in marks),
        min(mark.ink.y for mark in marks),
        max(mark.ink.right for mark in marks),
        max(mark.ink.bottom for mark in marks),
    )
    printed = " ".join(mark.text for mark in marks).replace("\N{NO-BREAK SPACE}", " ")
    seen = read(draw(layout).crop(box), tmp_path / "line.png")
    # English tesseract does not know all accents; letters without them are what is compared.
    assert SequenceMatcher(None, _plain(printed), _plain(seen)).ratio() >= 0.95, seen


def _plain(text: str) -> str:
    import unicodedata

    apart = unicodedata.normalize("NFD", text)
    return "".join(sign for sign in apart if not unicodedata.combining(sign)).casefold()
