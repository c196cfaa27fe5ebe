"""Template + printer + label → what to draw where, in whole dots. Pure: nothing is drawn here.

The same arguments give the same layout; the raster only follows it.
"""

from dataclasses import dataclass
from functools import lru_cache

from holdlog.core.errors import Mistake
from holdlog.labels import content, lettering, symbols, words
from holdlog.labels.content import Part
from holdlog.labels.fitting import Room, fit
from holdlog.labels.geometry import Dots, dots, to_dots
from holdlog.labels.label import Label
from holdlog.labels.template import Field, Template, symbol

LEAST_DPI, MOST_DPI = 203, 1200

# Half a date or half a code is worse than no label.
_NEVER_CUT = ("kicker", "year", "headline", "beside", "then", "code", "writing")


@dataclass(frozen=True, slots=True)
class TextMark:
    """A line of text, its baseline starting at ``x, y``. ``cap`` is its cap height in dots."""

    field: str
    text: str
    bold: bool
    px: int
    cap: int
    x: int
    y: int
    ink: Dots


@dataclass(frozen=True, slots=True)
class BarsMark:
    """Code 128: ``modules`` of ``module`` dots each, from the left of ``ink``."""

    field: str
    ink: Dots
    quiet: Dots
    module: int
    modules: str


@dataclass(frozen=True, slots=True)
class QrMark:
    """QR: rows of modules, ``module`` dots a side."""

    field: str
    ink: Dots
    quiet: Dots
    module: int
    rows: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LineMark:
    """A solid black rectangle."""

    field: str
    ink: Dots


Mark = TextMark | BarsMark | QrMark | LineMark


@dataclass(frozen=True, slots=True)
class Layout:
    """A label in dots. ``warnings`` say what was cut or could not be printed as written."""

    width: int
    height: int
    dpi: int
    marks: tuple[Mark, ...]
    warnings: tuple[str, ...]


def lay_out(template: Template, dpi: int, label: Label) -> Layout:
    """Lay ``label`` out on ``template`` for a printer of ``dpi`` dots per inch (203 to 1200).

    Raises ``Mistake``: a code that does not check, right-to-left letters, a resolution at which
    a symbol or its quiet zone does not fit.
    """
    if not LEAST_DPI <= dpi <= MOST_DPI:
        raise Mistake(
            "bad-dpi", f"{dpi} dpi: labels are made for {LEAST_DPI} to {MOST_DPI} dots per inch."
        )
    warnings: list[str] = []
    parts = {key: _printable(part, warnings) for key, part in content.say(label).items()}
    marks: list[Mark] = []
    for field in template.on(content.face(label)):
        if field.kind == "text":
            shown = tuple(parts[key] for key in field.show if key in parts)
            if shown:
                lines, cut = _text(field, shown, to_dots(field.box, dpi), dpi)
                marks += lines
                warnings += cut
        elif field.kind == "cells":
            captions = content.writing(label)
            marks += _cells(field, captions, dpi, warnings)
        elif field.kind == "line":
            marks.append(LineMark(field.name, to_dots(field.box, dpi)))
        else:
            marks.append(_symbol(field, label.code, dpi))
    layout = Layout(
        dots(template.width, dpi), dots(template.height, dpi), dpi, tuple(marks), tuple(warnings)
    )
    _check_quiet(layout)
    return layout


def _printable(part: Part, warnings: list[str]) -> Part:
    text, missing = lettering.printable(part.text)
    if missing:
        warnings.append(words.sign_warning(part.key, " ".join(missing)))
    if text == part.text:
        return part
    pieces = tuple(lettering.printable(piece)[0] for piece in part.pieces)
    shorter = tuple(lettering.printable(wording)[0] for wording in part.shorter)
    return Part(part.key, text, pieces, part.lead, shorter)


def _room(field: Field, width: int, height: int, dpi: int) -> Room:
    # Up, since the floor is a floor; the 0.05 forgives 1.5 mm being 11.99 dots.
    least = -int(-(field.least * dpi / 25.4 - 0.05) // 1)
    largest = max(least, dots(field.largest, dpi))
    return Room(width, height, largest, least, field.lines, field.bold, field.keep)


@lru_cache(maxsize=2048)
def _text(
    field: Field, parts: tuple[Part, ...], box: Dots, dpi: int
) -> tuple[tuple[TextMark, ...], tuple[str, ...]]:
    """The lines of one text field and its warnings; kept, as most of a batch's labels agree."""
    fitted = fit(parts, _room(field, box.width, box.height, dpi))
    marks = []
    down = (box.height - fitted.height) // 2 if field.valign == "middle" else 0
    for line in fitted.lines:
        spare = box.width - line.width
        shift = {"left": 0, "center": spare // 2, "right": spare}[field.align]
        x, y = box.x + shift - line.left, box.y + down + line.baseline
        left, top, right, bottom = lettering.ink(line.text, line.px, line.bold)
        ink = Dots(x + left, y + top, right - left, bottom - top)
        marks.append(TextMark(field.name, line.text, line.bold, line.px, fitted.cap, x, y, ink))
    if fitted.lost and (not fitted.lines or any(key in _NEVER_CUT for key, _ in fitted.lost)):
        raise Mistake(
            "no-room",
            f"Field {field.name!r} of the template is too small for "
            + " and ".join(repr(words.loose(part.text)) for part in parts)
            + f" at {dpi} dpi; no label was made.",
            "Make the field larger.",
        )
    return tuple(marks), tuple(words.cut_warning(key, rest) for key, rest in fitted.lost)


def _cells(field: Field, captions: tuple[str, ...], dpi: int, warnings: list[str]) -> list[Mark]:
    """Boxes side by side, each with its caption at the top and room for a pen below."""
    whole = to_dots(field.box, dpi)
    stroke, inset = max(1, dots(0.25, dpi)), dots(0.8, dpi)
    marks: list[Mark] = []
    edges = [whole.x + whole.width * i // len(captions) for i in range(len(captions) + 1)]
    for i, caption in enumerate(captions):
        x, right = edges[i], edges[i + 1]
        if i:
            x -= stroke  # neighbours share one stroke
        width = right - x
        sides = (
            Dots(x, whole.y, width, stroke),
            Dots(x, whole.bottom - stroke, width, stroke),
            Dots(x, whole.y, stroke, whole.height),
            Dots(right - stroke, whole.y, stroke, whole.height),
        )
        marks += [LineMark(field.name, side) for side in sides]
        inner = Dots(x + inset, whole.y + inset, width - 2 * inset, whole.height - 2 * inset)
        part = _printable(Part(field.show[0], caption), warnings)
        lines, cut = _text(field, (part,), inner, dpi)
        marks += lines
        warnings += cut
    return marks


def _symbol(field: Field, code: str, dpi: int) -> Mark:
    if field.kind == "qr":
        placed = symbol(field, dpi)
        if placed:
            return QrMark(field.name, placed.ink, placed.quiet, placed.module, symbols.qr(code))
    else:
        modules = symbols.bars(code)
        placed = symbol(field, dpi, len(modules))
        if placed:
            return BarsMark(field.name, placed.ink, placed.quiet, placed.module, modules)
    raise Mistake("no-room", f"Field {field.name!r}: the code {code} does not fit at {dpi} dpi.")


def _check_quiet(layout: Layout) -> None:
    """No ink in the white around a symbol, none of it off the label."""
    paper = Dots(0, 0, layout.width, layout.height)
    for mark in layout.marks:
        if not isinstance(mark, BarsMark | QrMark):
            continue
        if not mark.quiet.inside(paper):
            raise Mistake(
                "no-room",
                f"Field {mark.field!r}: the white around the symbol leaves the label "
                f"at {layout.dpi} dpi.",
            )
        for other in layout.marks:
            if other is not mark and mark.quiet.touches(other.ink):
                raise Mistake(
                    "no-room",
                    f"Field {other.field!r} stands in the white around {mark.field!r} "
                    f"at {layout.dpi} dpi.",
                )
