"""A label template as data: the stock, and in millimetres where each thing stands on it."""

from dataclasses import dataclass
from typing import Literal

from holdlog.core.codes import LENGTH
from holdlog.labels import symbols
from holdlog.labels.faces import Face
from holdlog.labels.geometry import Box, Symbol, place_bars, place_square, to_dots

Kind = Literal["text", "box", "cells", "bars", "qr", "line"]
Align = Literal["left", "right", "center"]
Valign = Literal["top", "middle"]

FLOOR_MM = 1.5
"""The least cap height anything is printed in. Measured: ordinary text is read back almost
whole from 1.5 mm capitals at 203 dpi, below that it gets worse."""

INSET_MM = 0.8
"""From the frame of a ``box`` or a cell to the text in it."""


@dataclass(frozen=True, slots=True)
class Field:
    """One place on the label. ``box`` in mm; ``largest`` and ``least`` are cap heights in mm.

    ``on`` names the faces that have the field; ``show`` the parts set in it, top to bottom;
    ``bold`` those in bold; ``keep`` those cut last. ``grows``: the label gets longer for it.
    """

    name: str
    kind: Kind
    box: Box
    on: tuple[Face, ...]
    show: tuple[str, ...] = ()
    largest: float = FLOOR_MM
    least: float = FLOOR_MM
    lines: int = 99
    align: Align = "left"
    valign: Valign = "top"
    bold: tuple[str, ...] = ()
    keep: tuple[str, ...] = ()
    grows: bool = False


@dataclass(frozen=True, slots=True)
class Template:
    """A label of ``width`` x ``height`` mm and the fields on it, as it is read.

    ``longest``: of continuous stock, how long it may grow; ``height`` is the least then.
    ``turned``: it comes out of the printer a quarter round, its bars across the feed.
    ``leaves_out`` names details it has no room for; ``refuses`` the faces it does not offer,
    each with the name of a template that does.
    """

    name: str
    title: str
    width: float
    height: float
    fields: tuple[Field, ...]
    longest: float | None = None
    turned: bool = False
    leaves_out: tuple[str, ...] = ()
    refuses: tuple[tuple[Face, str], ...] = ()

    def __hash__(self) -> int:
        """Enough to tell templates apart, and quick: layouts are kept by their template."""
        return hash((self.name, self.width, self.height))

    @property
    def stock(self) -> tuple[float, float]:
        """Width across the feed and length along it, in mm, of the paper it is printed on.

        Of continuous stock the length is the least one; the drawn label has its own.
        """
        return (self.height, self.width) if self.turned else (self.width, self.height)

    def on(self, face: Face) -> tuple[Field, ...]:
        """The fields of one face, in the order of the file."""
        return tuple(field for field in self.fields if face in field.on)

    def offers(self, face: Face) -> bool:
        """Whether labels with this face can be printed on it."""
        return face not in dict(self.refuses)


def symbol(field: Field, dpi: int, bar_modules: int | None = None) -> Symbol | None:
    """Where the symbol of a ``bars`` or ``qr`` field stands at ``dpi``; ``None``: no room."""
    box = to_dots(field.box, dpi)
    if field.kind == "qr":
        return place_square(box, symbols.QR_SIDE, symbols.QR_QUIET)
    return place_bars(box, bar_modules or symbols.bars_width(LENGTH), symbols.BARS_QUIET)
