"""Reads the tables of a template file: which keys there are, and what may stand in them."""

from typing import Any, get_args

from holdlog.core.toml_table import named, shown
from holdlog.labels.faces import CELLS, DETAILS, DETAILS_ON, FACES, PARTS
from holdlog.labels.fields import FLOOR_MM, Align, Field, Template, Valign
from holdlog.labels.geometry import Box

MOST_MM = 1000
MOST_FIELDS = 200
MOST_LINES = 99

# Any container can need one of these at any time: no template may be without them.
_EVERYWHERE = ("dated", "timed", "unknown", "stop", "hold", "discard", "twin")

_TOP = {
    "title": str, "width": float, "height": float, "longest": float, "turned": bool,
    "leaves_out": list, "refuses": dict, "field": dict,
}  # fmt: skip
LIKE = {"title": str, "like": str, "turned": bool}
_PLACE = {"kind": str, "x": float, "y": float, "width": float, "height": float, "on": list}
_TEXT = {
    "show": list, "largest": float, "least": float, "lines": int, "align": str, "valign": str,
    "bold": list, "keep": list, "grows": bool,
}  # fmt: skip
_KEYS: dict[str, dict[str, type]] = {
    "text": _PLACE | _TEXT,
    "box": _PLACE | _TEXT,
    "cells": _PLACE | _TEXT,
    "bars": _PLACE,
    "qr": _PLACE,
    "line": _PLACE,
}
_OPTIONAL = (
    "on", "least", "lines", "align", "valign", "bold", "keep", "grows", "longest", "turned",
    "leaves_out", "refuses",
)  # fmt: skip
_NAMES = {
    str: "text",
    float: "millimetres",
    int: "a whole number",
    bool: "true or false",
    list: "a list of words",
    dict: "a table",
}


def read(name: str, data: dict[str, Any]) -> tuple[Template | None, list[str]]:
    """The template in ``data``, or ``None`` and its faults, each with table and key."""
    faults = key_faults(data, _TOP) + _top_faults(data)
    fields = []
    tables = data.get("field", {})
    if isinstance(tables, dict) and len(tables) > MOST_FIELDS:
        return None, [f"field: {len(tables)} fields, more than {MOST_FIELDS}"]
    for key, table in tables.items() if isinstance(tables, dict) else ():
        found = [f"[field.{named(key)}] {fault}" for fault in _field_faults(table)]
        faults += found
        if not found:
            fields.append(_field(key, table))
    if faults:
        return None, faults
    return Template(
        name=name,
        title=data["title"],
        width=float(data["width"]),
        height=float(data["height"]),
        fields=tuple(fields),
        longest=float(data["longest"]) if "longest" in data else None,
        turned=data.get("turned", False),
        leaves_out=tuple(data.get("leaves_out", ())),
        refuses=tuple(data.get("refuses", {}).items()),
    ), []


def key_faults(table: dict[str, Any], known: dict[str, type]) -> list[str]:
    """Unknown and missing keys, and values of the wrong type."""
    expected = f"unknown key, expected {', '.join(known)}"
    faults = [f"{named(key)}: {expected}" for key in table if key not in known]
    for key, kind in known.items():
        if key in table:
            faults += _value_faults(key, kind, table[key])
        elif key not in _OPTIONAL:
            faults.append(f"{key}: missing")
    return faults


def _top_faults(data: dict[str, Any]) -> list[str]:
    details = (*DETAILS, *(key for keys in DETAILS_ON.values() for key in keys))
    left_out = data.get("leaves_out", ())
    faults = [
        f"leaves_out: unknown word {shown(word)}, expected {', '.join(dict.fromkeys(details))}"
        for word in (left_out if isinstance(left_out, list) else ())
        if word not in details
    ]
    refuses = data.get("refuses", {})
    for face, instead in refuses.items() if isinstance(refuses, dict) else ():
        if face not in FACES:
            faults.append(f"[refuses] {named(face)}: unknown face, expected {', '.join(FACES)}")
        elif face in _EVERYWHERE:
            faults.append(f"[refuses] {face}: every template has to offer this face")
        elif not isinstance(instead, str) or not instead:
            faults.append(f"[refuses] {face}: expected the name of a template that offers it")
    return faults


def _field(name: str, table: dict[str, Any]) -> Field:
    return Field(
        name=name,
        kind=table["kind"],
        box=Box(*(float(table[key]) for key in ("x", "y", "width", "height"))),
        on=tuple(table.get("on", FACES)),
        show=tuple(table.get("show", ())),
        largest=float(table.get("largest", FLOOR_MM)),
        least=float(table.get("least", FLOOR_MM)),
        lines=table.get("lines", MOST_LINES),
        align=table.get("align", "left"),
        valign=table.get("valign", "top"),
        bold=tuple(table.get("bold", ())),
        keep=tuple(table.get("keep", ())),
        grows=table.get("grows", False),
    )


def _field_faults(table: Any) -> list[str]:
    kind = table.get("kind") if isinstance(table, dict) else None
    if not isinstance(kind, str) or kind not in _KEYS:
        return [f"kind: expected one of {', '.join(_KEYS)}, got {shown(kind)}"]
    faults = key_faults(table, _KEYS[kind])
    if faults:
        return faults
    known = CELLS if kind == "cells" else PARTS
    for key, allowed in (("on", FACES), ("show", known), ("bold", known), ("keep", known)):
        faults += [
            f"{key}: unknown word {shown(word)}, expected {', '.join(allowed)}"
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
    if not 1 <= table.get("lines", 1) <= MOST_LINES:
        faults.append(f"lines: expected 1 to {MOST_LINES}, got {shown(table['lines'])}")
    if table.get("show") == []:
        faults.append("show: expected at least one word")
    return faults


def _value_faults(key: str, kind: type, value: Any) -> list[str]:
    wrong = f"{key}: expected {_NAMES[kind]}, got {shown(value)}"
    if isinstance(value, bool):
        return [] if kind is bool else [wrong]
    if kind is float:
        # Zero is a place but no size; the comparisons also turn away nan and infinity.
        least = 0 if key in ("x", "y") else 0.01
        right = isinstance(value, int | float) and least <= value < MOST_MM
    elif kind is list:
        right = isinstance(value, list) and all(isinstance(word, str) for word in value)
    else:
        right = isinstance(value, kind)
    return [] if right else [wrong]
