"""A label in one call."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from holdlog.labels.label import Label
from holdlog.labels.layout import lay_out
from holdlog.labels.raster import draw
from holdlog.labels.template import Template
from holdlog.labels.typefaces import Fonts
from holdlog.labels.words import ENGLISH, Words

if TYPE_CHECKING:
    from PIL import Image


@dataclass(frozen=True, slots=True)
class Rendered:
    """A drawn label and what its reader has to be told: text that was cut, signs that lack."""

    image: "Image.Image"
    warnings: tuple[str, ...]


def render(
    template: Template, dpi: int, label: Label, words: Words = ENGLISH, fonts: Fonts = ()
) -> Rendered:
    """Lay out and draw ``label``; arguments and errors are those of ``layout.lay_out``."""
    layout = lay_out(template, dpi, label, words, fonts)
    return Rendered(draw(layout), layout.warnings)
