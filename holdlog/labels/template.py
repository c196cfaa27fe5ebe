"""A label template: a TOML file that says, in millimetres, where each thing stands.

Loading checks everything that can be known before there is a label: a template that loads
never lets text run into a barcode or a code fall off the paper.
"""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, get_args

from holdlog.core.codes import LENGTH
from holdlog.core.errors import BadFile
from holdlog.labels import symbols
from holdlog.labels.content import CELLS, FACES, PARTS, Face
from holdlog.labels.geometry import (
    Box,
    Dots,
    Symbol,
    dots,
    place_bars,
    place_square,
    to_dots,
)

Kind = Literal["text", "cells", "bars", "qr", "line"]
Align = Literal["left", "right", "center"]
Valign = Literal["top", "middle"]

FLOOR_MM = 1.5
"""The least cap height anything is printed in. Measured: ordinary text is read back almost
whole from 1.5 mm capitals at 203 dpi, below that it gets worse."""

MOST_MM = 1000

CHECKED_DPI = (203, 300)
"""The resolutions of label printers that every template has to fit."""


@dataclass(frozen=True, slots=True)
class Field:
    """One place on the label. ``box`` in mm; ``largest`` and ``least`` are cap heights in mm.

    ``on`` names the faces that have the field; ``show`` the parts set in it, top to bottom;
    ``bold`` those in bold; ``keep`` those cut last.
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


@dataclass(frozen=True, slots=True)
class Template:
    """A label of ``width`` x ``height`` mm and the fields on it."""

    name: str
    title: str
    width: float
    height: float
    fields: tuple[Field, ...]

    def on(self, face: Face) -> tuple[Field, ...]:
        """The fields of one face, in the order of the file."""
        return tuple(field for field in self.fields if face in field.on)


_TOP = {"title": str, "width": float, "height": float, "field": dict}
_PLACE = {"kind": str, "x": float, "y": float, "width": float, "height": float, "on": list}
_TEXT = {
    "show": list, "largest": float, "least": float, "lines": int, "align": str, "valign": str,
    "bold": list, "keep": list,
}  # fmt: skip
_KEYS: dict[str, dict[str, type]] = {
    "text": _PLACE | _TEXT,
    "cells": _PLACE | _TEXT,
    "bars": _PLACE,
    "qr": _PLACE,
    "line": _PLACE,
}
_OPTIONAL = ("on", "least", "lines", "align", "valign", "bold", "keep")
_NAMES = {
    str: "text",
    float: "millimetres",
    int: "a whole number",
    list: "a list of words",
    dict: "tables",
}


def load(path: Path) -> Template:
    """Read and check the template in ``path``.

    Raises ``BadFile("bad-template")`` with every fault found, each with file, table and key.
    """
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadFile("bad-template", (f"{path}: cannot be read: {error}",)) from error
    faults = _key_faults(data, _TOP)
    fields = []
    tables = data.get("field", {})
    for name, table in tables.items() if isinstance(tables, dict) else ():
        found = _field(name, table, faults)
        if found:
            fields.append(found)
    if not faults:
        template = Template(
            path.stem, data["title"], float(data["width"]), float(data["height"]), tuple(fields)
        )
        faults += _check_places(template)
    if faults:
        raise BadFile(
            "bad-template",
            tuple(f"{path}: {fault}" for fault in faults),
            "Mend the file; the template that comes with the program shows every key.",
        )
    return template


def symbol(field: Field, dpi: int, bar_modules: int | None = None) -> Symbol | None:
    """Where the symbol of a ``bars`` or ``qr`` field stands at ``dpi``; ``None``: no room."""
    box = to_dots(field.box, dpi)
    if field.kind == "qr":
        return place_square(box, symbols.QR_SIDE, symbols.QR_QUIET)
    return place_bars(box, bar_modules or symbols.bars_width(LENGTH), symbols.BARS_QUIET)


def _field(name: str, table: Any, faults: list[str]) -> Field | None:
    where = f"[field.{name}]"
    found = [f"{where} {fault}" for fault in _field_faults(table)]
    faults += found
    if found:
        return None
    return Field(
        name=name,
        kind=table["kind"],
        box=Box(*(float(table[key]) for key in ("x", "y", "width", "height"))),
        on=tuple(table.get("on", FACES)),
        show=tuple(table.get("show", ())),
        largest=float(table.get("largest", FLOOR_MM)),
        least=float(table.get("least", FLOOR_MM)),
        lines=table.get("lines", 99),
        align=table.get("align", "left"),
        valign=table.get("valign", "top"),
        bold=tuple(table.get("bold", ())),
        keep=tuple(table.get("keep", ())),
    )


def _field_faults(table: Any) -> list[str]:
    kind = table.get("kind") if isinstance(table, dict) else None
    if not isinstance(kind, str) or kind not in _KEYS:
        return [f"kind: expected one of {', '.join(_KEYS)}, got {kind!r}"]
    faults = _key_faults(table, _KEYS[kind])
    if faults:
        return faults
    known = CELLS if kind == "cells" else PARTS
    for key, allowed in (("on", FACES), ("show", known), ("bold", known), ("keep", known)):
        faults += [
            f"{key}: unknown word {word!r}, expected {', '.join(allowed)}"
            for word in table.get(key, ())
            if word not in allowed
        ]
    for key, choice, usual in (("align", Align, "left"), ("valign", Valign, "top")):
        if table.get(key, usual) not in get_args(choice):
            faults.append(f"{key}: expected {' or '.join(get_args(choice))}")
    least = table.get("least", FLOOR_MM)
    if least < FLOOR_MM:
        faults.append(f"least: {least} mm is below the floor of {FLOOR_MM} mm")
    if table.get("largest", least) < least:
        faults.append(f"largest: {table['largest']} mm is less than least, {least} mm")
    if table.get("lines", 1) < 1:
        faults.append(f"lines: expected 1 or more, got {table['lines']}")
    if table.get("show") == []:
        faults.append("show: expected at least one word")
    return faults


def _key_faults(table: dict[str, Any], known: dict[str, type]) -> list[str]:
    """Unknown and missing keys, and values of the wrong type."""
    faults = [
        f"{key}: unknown key, expected {', '.join(known)}" for key in table if key not in known
    ]
    for key, kind in known.items():
        if key in table:
            faults += _value_faults(key, kind, table[key])
        elif key not in _OPTIONAL:
            faults.append(f"{key}: missing")
    return faults


def _value_faults(key: str, kind: type, value: Any) -> list[str]:
    wrong = f"{key}: expected {_NAMES[kind]}, got {value!r}"
    if isinstance(value, bool):
        return [wrong]
    if kind is float:
        # Zero is a place but no size; the comparisons also turn away nan and infinity.
        least = 0 if key in ("x", "y") else 0.01
        right = isinstance(value, int | float) and least <= value < MOST_MM
    elif kind is list:
        right = isinstance(value, list) and all(isinstance(word, str) for word in value)
    else:
        right = isinstance(value, kind)
    return [] if right else [wrong]


def _check_places(template: Template) -> list[str]:
    """Faults that need the whole label: off the paper, overlaps, quiet zones, boxes too small."""
    faults = [_small(field) for field in template.fields if _small(field)]
    for face in FACES:
        shown = {key for field in template.on(face) for key in field.show}
        faults += [
            f"[field] on: no field shows {key!r} on the face {face!r}"
            for key in ("item", "headline", "allergens", "code")
            if key not in shown
        ]
        if not any(field.kind in ("bars", "qr") for field in template.on(face)):
            faults.append(f"[field] on: neither bars nor qr on the face {face!r}")
    for dpi in CHECKED_DPI:
        paper = Dots(0, 0, dots(template.width, dpi), dots(template.height, dpi))
        boxes = {field.name: to_dots(field.box, dpi) for field in template.fields}
        for i, field in enumerate(template.fields):
            if not boxes[field.name].inside(paper):
                faults.append(f"[field.{field.name}] x, y: the field leaves the label")
            faults += [
                f"[field.{field.name}] x, y: overlaps [field.{other.name}]"
                for other in template.fields[:i]
                if set(other.on) & set(field.on) and boxes[field.name].touches(boxes[other.name])
            ]
            if field.kind in ("bars", "qr"):
                faults += _check_symbol(field, template, dpi, boxes, paper)
    return list(dict.fromkeys(faults))  # the same fault at both resolutions is one fault


def _small(field: Field) -> str:
    """Whether a text box is too low for one line of each part that must be kept."""
    if field.kind not in ("text", "cells"):
        return ""
    need = field.least * (1.5 + 1.6 * (len(field.keep or ("",)) - 1))
    if field.box.height < need:
        return (
            f"[field.{field.name}] height: {field.box.height} mm holds no line of "
            f"{field.least} mm capitals with their accents and tails, {need:.1f} mm is needed"
        )
    return ""


def _check_symbol(
    field: Field, template: Template, dpi: int, boxes: dict[str, Dots], paper: Dots
) -> list[str]:
    where = f"[field.{field.name}] width, height"
    placed = symbol(field, dpi)
    if placed is None:
        return [f"{where}: a container code does not fit at 2 dots a module and {dpi} dpi"]
    faults = []
    if not placed.quiet.inside(paper):
        faults.append(f"{where}: the white that the symbol needs around it leaves the label")
    faults += [
        f"{where}: [field.{other.name}] stands in the white around the symbol"
        for other in template.fields
        if other is not field
        and set(other.on) & set(field.on)
        and placed.quiet.touches(boxes[other.name])
    ]
    return faults
