"""A stranger reads the label: tesseract, on the printed dots, slightly blurred as on paper."""

import os
import subprocess
import unicodedata
from difflib import SequenceMatcher
from pathlib import Path

import pytest
from PIL import Image, ImageFilter

from holdlog.labels import template
from holdlog.labels.faces import face
from holdlog.labels.layout import TextMark, lay_out
from holdlog.labels.raster import draw
from tests.labels.samples import a_label, crowded, every_face
from tests.system import need

pytestmark = pytest.mark.system

LABELS = {
    **every_face(),
    "accents": a_label(item="jalapeño crème brûlée"),
    "long": crowded()["crowded prepared"],
}

# Each label on the 2 x 2 inch template; on every other template, the dated one and the frozen
# one, which has other fields. All at the coarser resolution, some at both: a look takes 0.2 s.
LOOKS = [
    *(("two-by-two", label, 203) for label in LABELS),
    *(("two-by-two", label, 300) for label in ("prepared", "frozen", "hour", "accents", "long")),
    *(
        (name, label, 203)
        for name in template.names()
        for label in ("prepared", "frozen")
        if name != "two-by-two" and template.find(name).offers(face(LABELS[label]))
    ),
]


def read(image: Image.Image, path: Path) -> str:
    program = need("tesseract")
    grey = image.convert("L").resize((image.width * 2, image.height * 2))
    page = Image.new("L", (grey.width + 80, grey.height + 80), 255)
    page.paste(grey, (40, 40))
    page.filter(ImageFilter.GaussianBlur(1.5)).save(path)
    ran = subprocess.run(
        [program, str(path), "-", "--psm", "6"],
        # Its threads fight over a small machine and win nothing on three words.
        env=os.environ | {"OMP_THREAD_LIMIT": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    return " ".join(ran.stdout.split())


@pytest.mark.parametrize("part", ["item", "headline"])
@pytest.mark.parametrize(("name", "label", "dpi"), LOOKS)
def test_name_and_use_by_are_read_as_printed(
    tmp_path: Path, name: str, label: str, dpi: int, part: str
) -> None:
    found = template.find(name)
    layout = lay_out(found, dpi, LABELS[label])
    image = draw(layout)
    if found.turned:
        image = image.transpose(Image.Transpose.ROTATE_90)
    fields = {field.name for field in found.fields if part in field.show}
    marks = [mark for mark in layout.marks if isinstance(mark, TextMark) and mark.field in fields]
    box = (
        min(mark.ink.x for mark in marks),
        min(mark.ink.y for mark in marks),
        max(mark.ink.right for mark in marks),
        max(mark.ink.bottom for mark in marks),
    )
    printed = " ".join(mark.text for mark in marks).replace("\N{NO-BREAK SPACE}", " ")
    seen = read(image.crop(box), tmp_path / "line.png")
    # English tesseract does not know all accents; letters without them are what is compared.
    assert SequenceMatcher(None, _plain(printed), _plain(seen)).ratio() >= 0.95, seen


def _plain(text: str) -> str:
    apart = unicodedata.normalize("NFD", text)
    return "".join(sign for sign in apart if not unicodedata.combining(sign)).casefold()
