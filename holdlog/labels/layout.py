"""Template + printer + label → what to draw where, in whole dots. Pure: nothing is drawn here.

The same arguments give the same layout; the raster only follows it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache

from holdlog.core import codes
from holdlog.core.errors import Mistake
from holdlog.labels import content, lettering, symbols
from holdlog.labels.content import Part
from holdlog.labels.faces import BARE, NEVER_CUT, TOLD, Face, face
from holdlog.labels.fields import INSET_MM, Field, Template, symbol
from holdlog.labels.fitting import Fitted, fit, fit_whole, room
from holdlog.labels.geometry import Dots, dots, to_dots
from holdlog.labels.growth import grown
from holdlog.labels.label import Label
from holdlog.labels.typefaces import Fonts, usable
from holdlog.labels.words import (
    ENGLISH,
    LISTED,
    Words,
    cut_warning,
    left_out_warning,
    loose,
    sign_warning,
    wording_left_out_warning,
)

LEAST_DPI, MOST_DPI = 203, 1200


@dataclass(frozen=True, slots=True)
class TextMark:
    """A line of text, its baseline starting at ``x, y``. ``cap`` is its cap height in dots.

    ``fonts`` are the kitchen's own, for signs that the label font lacks.
    """

    field: str
    text: str
    bold: bool
    px: int
    cap: int
    x: int
    y: int
    ink: Dots
    fonts: Fonts = ()


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


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """The marks that all labels of a batch share. Equal only to itself, so that whoever draws it
    can keep the picture.
    """

    marks: tuple[Mark, ...]


_NOTHING = Shared(())


@dataclass(frozen=True, slots=True)
class Layout:
    """A label in dots, as it is read. ``warnings`` say what was cut, has no place on this label
    or could not be printed as written. ``turned``: it is drawn a quarter round. ``marks`` begin
    with those that are ``shared``.
    """

    width: int
    height: int
    dpi: int
    marks: tuple[Mark, ...]
    warnings: tuple[str, ...]
    turned: bool = False
    shared: Shared = field(default=_NOTHING, compare=False, repr=False)


def lay_out(
    template: Template, dpi: int, label: Label, words: Words = ENGLISH, fonts: Fonts = ()
) -> Layout:
    """Lay ``label`` out on ``template`` for a printer of ``dpi`` dots per inch (203 to 1200), in
    the languages of ``words``, with ``fonts`` for signs that the label font lacks.

    A font that cannot be used is left out with a warning: a label without it is better than
    none. Raises ``Mistake``: a code that does not check, right-to-left letters, a resolution at
    which a symbol or its quiet zone does not fit, a label that the template does not offer.
    """
    alike = replace(label, code=_ANY_CODE, number=1, count=1, reprint=0, journal_head="")
    # Outside what is kept: a font file may come and go.
    fit, faults = usable(fonts)
    batch = _batch(template, dpi, alike, words, fit)
    warnings: list[str] = []
    own = content.own(label, words)
    marks = [
        mark
        for place in batch.places
        for mark in _own_marks(batch, place, label.code, own, warnings)
    ]
    _check_quiet(batch, marks)
    return Layout(
        batch.width,
        batch.height,
        dpi,
        batch.shared.marks + tuple(marks),
        faults + batch.warnings + tuple(warnings),
        template.turned,
        batch.shared,
    )


# Stands for every code while the rest of a label is laid out.
_ANY_CODE = "A" * (codes.LENGTH - 1)
_ANY_CODE += codes.check_character(_ANY_CODE)


@dataclass(frozen=True, slots=True, eq=False)
class _Batch:
    """What the labels of a batch have in common, and the fields in which they differ."""

    width: int
    height: int
    dpi: int
    shared: Shared
    warnings: tuple[str, ...]
    places: tuple[Field, ...]
    parts: dict[str, Part]
    fonts: Fonts


@lru_cache(maxsize=64)
def _batch(template: Template, dpi: int, label: Label, words: Words, fonts: Fonts) -> _Batch:
    """Everything but what ``OWN`` names; kept, as the labels of a batch come one after another."""
    if not LEAST_DPI <= dpi <= MOST_DPI:
        raise Mistake(
            "bad-dpi", f"{dpi} dpi: labels are made for {LEAST_DPI} to {MOST_DPI} dots per inch."
        )
    shown = face(label)
    _check_offered(template, shown, label)
    warnings: list[str] = []
    parts = {
        key: _printable(part, fonts, warnings) for key, part in content.say(label, words).items()
    }
    warnings += _left_out(template, shown, label, parts)
    template = grown(template, shown, parts, dpi, fonts)
    marks: list[Mark] = []
    places: list[Field] = []
    for place in template.on(shown):
        if place.kind in ("bars", "qr") or any(key in place.show for key in content.OWN):
            places.append(place)
        elif place.kind in ("text", "box"):
            said = tuple(parts[key] for key in place.show if key in parts)
            if said:
                marks += _boxed(place, said, dpi, fonts, warnings)
        elif place.kind == "cells":
            captions = [
                _printable(Part(place.show[0], caption), fonts, warnings)
                for caption in content.writing(label, words)
            ]
            marks += _cells(place, captions, dpi, fonts, warnings)
        else:
            marks.append(LineMark(place.name, to_dots(place.box, dpi)))
    size = dots(template.width, dpi), dots(template.height, dpi)
    shared = Shared(tuple(marks))
    return _Batch(*size, dpi, shared, tuple(warnings), tuple(places), parts, fonts)


def _own_marks(
    batch: _Batch, place: Field, code: str, own: dict[str, Part], warnings: list[str]
) -> list[Mark]:
    if place.kind in ("bars", "qr"):
        return [_symbol(place, code, batch.dpi)]
    parts = (own.get(key) or batch.parts.get(key) for key in place.show)
    full, said = content.with_head(tuple(part for part in parts if part is not None))
    if full and (
        lines := _spare(place, full, to_dots(place.box, batch.dpi), batch.dpi, batch.fonts)
    ):
        return list(lines)
    return _boxed(place, said, batch.dpi, batch.fonts, warnings) if said else []


def _check_offered(template: Template, shown: Face, label: Label) -> None:
    if template.offers(shown):
        return
    raise Mistake(
        "not-offered",
        f"The label template {template.name!r} has no room for what a {label.purpose} label "
        "has to say; no label was made.",
        f"Use the template {dict(template.refuses)[shown]!r}.",
    )


def _left_out(
    template: Template, shown: Face, label: Label, parts: dict[str, Part]
) -> Iterator[str]:
    """What the cook has to know of safety that this label has no place for."""
    if shown in BARE:
        return
    on_it = {key for field in template.on(shown) for key in field.show}
    for key in TOLD:
        text = LISTED.join(label.allergens) if key == "allergens" else ""
        if key not in on_it and key in parts and (text or key != "allergens"):
            yield left_out_warning(key, text or parts[key].text)
    if (label.pack_rule or label.pack_wording) and shown != "pack":
        yield wording_left_out_warning()


def _printable(part: Part, fonts: Fonts, warnings: list[str]) -> Part:
    text, missing = lettering.printable(part.text, fonts)
    if missing:
        warnings.append(sign_warning(part.key, " ".join(missing)))
    if text == part.text:
        return part
    pieces = tuple(lettering.printable(piece, fonts)[0] for piece in part.pieces)
    shorter = tuple(lettering.printable(wording, fonts)[0] for wording in part.shorter)
    return replace(part, text=text, pieces=pieces, shorter=shorter)


@lru_cache(maxsize=2048)
def _text(
    field: Field, parts: tuple[Part, ...], box: Dots, dpi: int, fonts: Fonts
) -> tuple[tuple[TextMark, ...], tuple[str, ...]]:
    """The lines of one text field and its warnings; kept, as most of a batch's labels agree."""
    fitted = fit(parts, room(field, box, dpi, fonts))
    if fitted.lost and (not fitted.lines or any(key in NEVER_CUT for key, _ in fitted.lost)):
        raise Mistake(
            "no-room",
            f"Field {field.name!r} of the template is too small for "
            + " and ".join(repr(loose(part.text)) for part in parts)
            + f" at {dpi} dpi; no label was made.",
            "Use a larger template, or make the field larger.",
        )
    leads = {part.key: part.lead for part in parts}
    lines = _lines(field, fitted, box, fonts)
    # Without the caption: the warning begins with the name of the part.
    return lines, tuple(
        cut_warning(key, rest.removeprefix(leads[key]))
        for key, rest in (*fitted.lost, *fitted.unsaid)
    )


@lru_cache(maxsize=256)
def _spare(
    field: Field, parts: tuple[Part, ...], box: Dots, dpi: int, fonts: Fonts
) -> tuple[TextMark, ...]:
    """The lines of a text field if all of it fits; else none."""
    fitted = fit_whole(parts, room(field, box, dpi, fonts)) if field.kind == "text" else None
    return _lines(field, fitted, box, fonts) if fitted is not None else ()


def _lines(field: Field, fitted: Fitted, box: Dots, fonts: Fonts) -> tuple[TextMark, ...]:
    marks = []
    down = (box.height - fitted.height) // 2 if field.valign == "middle" else 0
    for line in fitted.lines:
        spare = box.width - line.width
        shift = {"left": 0, "center": spare // 2, "right": spare}[field.align]
        x, y = box.x + shift - line.left, box.y + down + line.baseline
        left, top, right, bottom = lettering.ink(line.text, line.px, line.bold, fonts)
        ink = Dots(x + left, y + top, right - left, bottom - top)
        marks.append(
            TextMark(field.name, line.text, line.bold, line.px, fitted.cap, x, y, ink, fonts)
        )
    return tuple(marks)


def _boxed(
    field: Field, parts: tuple[Part, ...], dpi: int, fonts: Fonts, warnings: list[str]
) -> list[Mark]:
    """A text, with a frame around it where its field is a box."""
    box = to_dots(field.box, dpi)
    marks: list[Mark] = []
    if field.kind == "box":
        marks += _frame(field.name, box, dpi)
        box = _inside(box, dpi)
    lines, cut = _text(field, parts, box, dpi, fonts)
    warnings += cut
    return [*marks, *lines]


def _cells(
    field: Field, captions: list[Part], dpi: int, fonts: Fonts, warnings: list[str]
) -> list[Mark]:
    """Boxes side by side, each with its caption at the top and room for a pen below."""
    whole = to_dots(field.box, dpi)
    marks: list[Mark] = []
    edges = [whole.x + whole.width * i // len(captions) for i in range(len(captions) + 1)]
    for i, caption in enumerate(captions):
        x = edges[i] - (_stroke(dpi) if i else 0)  # neighbours share one stroke
        cell = Dots(x, whole.y, edges[i + 1] - x, whole.height)
        marks += _frame(field.name, cell, dpi)
        lines, cut = _text(field, (caption,), _inside(cell, dpi), dpi, fonts)
        marks += lines
        warnings += cut
    return marks


def _stroke(dpi: int) -> int:
    return max(1, dots(0.25, dpi))


def _frame(name: str, box: Dots, dpi: int) -> tuple[LineMark, ...]:
    stroke = _stroke(dpi)
    sides = (
        Dots(box.x, box.y, box.width, stroke),
        Dots(box.x, box.bottom - stroke, box.width, stroke),
        Dots(box.x, box.y, stroke, box.height),
        Dots(box.right - stroke, box.y, stroke, box.height),
    )
    return tuple(LineMark(name, side) for side in sides)


def _inside(box: Dots, dpi: int) -> Dots:
    inset = dots(INSET_MM, dpi)
    return Dots(box.x + inset, box.y + inset, box.width - 2 * inset, box.height - 2 * inset)


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


def _check_quiet(batch: _Batch, own: list[Mark]) -> None:
    """No ink in the white around a symbol, none of it off the label."""
    for mark in own:
        if isinstance(mark, BarsMark | QrMark):
            _check_white(batch, mark.field, mark.quiet)
            for other in own:
                if other is not mark and mark.quiet.touches(other.ink):
                    raise _ink_in_white(other.field, mark.field, batch.dpi)


@lru_cache(maxsize=256)
def _check_white(batch: _Batch, name: str, quiet: Dots) -> None:
    """The same against what all labels of a batch share."""
    if not quiet.inside(Dots(0, 0, batch.width, batch.height)):
        raise Mistake(
            "no-room",
            f"Field {name!r}: the white around the symbol leaves the label at {batch.dpi} dpi.",
        )
    for other in batch.shared.marks:
        if quiet.touches(other.ink):
            raise _ink_in_white(other.field, name, batch.dpi)


def _ink_in_white(ink: str, symbol_name: str, dpi: int) -> Mistake:
    return Mistake(
        "no-room", f"Field {ink!r} stands in the white around {symbol_name!r} at {dpi} dpi."
    )
