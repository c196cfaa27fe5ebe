"""Draws every label that every template offers, one PNG a template: `make label-gallery`.

Each sheet shows the labels of the tests at 203 dots an inch, a dot a pixel, with their names
below, and at its end one label in two languages. Another folder may be named:
`python -m docs.label_gallery FOLDER`.
"""

import sys
from collections.abc import Iterator
from math import ceil, sqrt
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from holdlog.labels import press, template
from holdlog.labels.faces import face
from holdlog.labels.template import Template
from holdlog.labels.words import speak
from tests.labels.samples import crowded, every_face

HERE = Path(__file__).resolve().parents[1] / "label-gallery"
DPI = 203
GAP, CAPTION = 28, 24  # pixels
PAPER, LABEL = 214, 255


def labels(found: Template) -> Iterator[tuple[str, Image.Image]]:
    """Name and picture of each label that ``found`` offers, ordinary ones first."""
    for name, label in (every_face() | crowded()).items():
        if found.offers(face(label)):
            yield name, press.render(found, DPI, label).image
    both = speak(("en", "es"))
    for name in ("prepared", "cooling"):
        label = every_face()[name]
        if found.offers(face(label)):
            yield f"{name}, en + es", press.render(found, DPI, label, both).image


def contact_sheet(found: Template) -> Image.Image:
    """The labels of one template side by side on grey, so that their edges can be seen."""
    drawn = list(labels(found))
    font = ImageFont.load_default(size=18)
    width = max(image.width for _, image in drawn) + GAP
    height = max(image.height for _, image in drawn) + CAPTION + GAP
    across = ceil(sqrt(len(drawn) * height / width))  # about as wide as high
    rows = [drawn[at : at + across] for at in range(0, len(drawn), across)]
    heights = [max(image.height for _, image in row) + CAPTION + GAP for row in rows]
    title = f"{found.name}: {found.title}, {found.width:g} x {found.height:g} mm"
    sheet = Image.new("L", (across * width + GAP, sum(heights) + 2 * GAP + CAPTION), PAPER)
    pen = ImageDraw.Draw(sheet)
    pen.text((GAP, GAP // 2), title, 0, font)
    top = GAP + CAPTION
    for row, high in zip(rows, heights, strict=True):
        for at, (name, image) in enumerate(row):
            left = GAP + at * width
            sheet.paste(LABEL, (left, top, left + image.width, top + image.height))
            sheet.paste(image.convert("L"), (left, top))
            pen.text((left, top + image.height + 2), name, 0, font)
        top += high
    return sheet


def write_gallery(folder: Path) -> None:
    """Write a sheet for each template, and take away that of a template that is no more."""
    folder.mkdir(parents=True, exist_ok=True)
    names = template.names()
    for old in folder.glob("*.png"):
        if old.stem not in names:
            old.unlink()
    for name in names:
        contact_sheet(template.find(name)).save(folder / f"{name}.png", optimize=True)


if __name__ == "__main__":
    write_gallery(Path(sys.argv[1]) if sys.argv[1:] else HERE)
