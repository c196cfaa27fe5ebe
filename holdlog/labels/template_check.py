"""What can be known of a template before there is a label, checked when it is loaded.

A template that passes never lets text run into a barcode or a code fall off the paper.
"""

from holdlog.labels.faces import ALWAYS, BARE, DETAILS, DETAILS_ON, FACES, NEEDED, Face
from holdlog.labels.fields import INSET_MM, Field, Template, symbol
from holdlog.labels.geometry import Dots, dots, to_dots

CHECKED_DPI = (203, 300)
"""The resolutions of label printers that every template has to fit."""


def check(template: Template) -> list[str]:
    """Faults that need the whole label: off the paper, overlaps, quiet zones, boxes too small."""
    faults = [_small(field) for field in template.fields if _small(field)]
    faults += _growth_faults(template)
    offered = [face for face in FACES if template.offers(face)]
    for face in offered:
        faults += _face_faults(template, face)
    for key in template.leaves_out:
        if all(key in _shown(template, face) for face in offered if key in _details(face)):
            faults.append(f"leaves_out: {key!r} is shown on every face")
    for dpi in CHECKED_DPI:
        faults += _place_faults(template, dpi)
    return list(dict.fromkeys(faults))  # the same fault at both resolutions is one fault


def _shown(template: Template, face: Face) -> set[str]:
    return {key for field in template.on(face) for key in field.show}


def _details(face: Face) -> tuple[str, ...]:
    return (() if face in BARE else DETAILS) + DETAILS_ON.get(face, ())


def _face_faults(template: Template, face: Face) -> list[str]:
    shown = _shown(template, face)
    faults = [
        f"[field] on: no field shows {key!r} on the face {face!r}"
        for key in (*ALWAYS, *NEEDED[face])
        if key not in shown
    ]
    faults += [
        f"[field] on: no field shows {key!r} on the face {face!r}; "
        f"if there is no room for it, name it in leaves_out"
        for key in _details(face)
        if key not in shown and key not in template.leaves_out
    ]
    if not any(field.kind in ("bars", "qr") for field in template.on(face)):
        faults.append(f"[field] on: neither bars nor qr on the face {face!r}")
    return faults


def _growth_faults(template: Template) -> list[str]:
    growing = [field.name for field in template.fields if field.grows]
    if template.longest is None:
        return [f"[field.{name}] grows: the label has no longest length" for name in growing]
    if template.longest <= template.height:
        return [f"longest: {template.longest} mm is not more than height, {template.height} mm"]
    return [] if growing else ["longest: no field grows"]


def _place_faults(template: Template, dpi: int) -> list[str]:
    faults = []
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
            faults += _symbol_faults(field, template, dpi, boxes, paper)
    return faults


def _small(field: Field) -> str:
    """Whether a text box is too low for one line of each part that must be kept."""
    if field.kind not in ("text", "box", "cells"):
        return ""
    need = field.least * (1.5 + 1.6 * (len(field.keep or ("",)) - 1))
    need += 0 if field.kind == "text" else 2 * INSET_MM
    if field.box.height < need - 0.005:
        return (
            f"[field.{field.name}] height: {field.box.height} mm holds no line of "
            f"{field.least} mm capitals with their accents and tails, {need:.1f} mm is needed"
        )
    return ""


def _symbol_faults(
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
