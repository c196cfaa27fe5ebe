"""Showing results: words for people, JSON for programs."""

import json
import sys
from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from holdlog.core.moments import Instant
    from holdlog.journal.on_hand import ContainerRow
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.label import Printed
    from holdlog.reports.tables import Table

WORDS = {
    "discard": "DISCARD", "refuse": "REFUSED", "hold": "HOLD", "reheat": "REHEAT",
    "last-day": "LAST DAY", "serve": "serve",
}  # fmt: skip


def emit(data: Any) -> None:
    """Print ``data`` as JSON."""
    typer.echo(json.dumps(data, ensure_ascii=False, indent=1, default=_plain))


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return str(value)
    if hasattr(value, "isoformat"):
        return value.isoformat()
    return str(value)


def say(parts: "Sequence[Table | str]") -> None:
    """Print tables and lines: ruled in a terminal, plain where piped."""
    from holdlog.reports.tables import plain, pretty

    if sys.stdout.isatty():
        pretty(parts)
        return
    for part in parts:
        typer.echo(part if isinstance(part, str) else plain(part))


def in_words(caution: str) -> str:
    """A caution for people: without the word that programs look for."""
    word, colon, rest = caution.partition(": ")
    plain_word = colon and " " not in word and "-" in word
    return rest[:1].upper() + rest[1:] if plain_word else caution


def note(text: str) -> None:
    """Say something beside the result, on standard error."""
    typer.echo(f"holdlog: {text}", err=True)


def moment(at: "Instant | None", shop: "Kitchen") -> str | None:
    """An instant for programs."""
    from holdlog.core.moments import iso

    return iso(at, shop.where) if at is not None else None


def limit(row: "ContainerRow", shop: "Kitchen") -> str:
    """A container's date for people."""
    from datetime import date

    from holdlog.core.moments import end_of_day, show_day, show_moment

    if row.state == "frozen":
        left = row.days_left
        return "frozen" if left is None else f"frozen, {left} day{'' if left == 1 else 's'} left"
    if row.use_by is None or row.last_day is None:
        return "no limit known" if row.tcs != "not-tcs" else "no limit"
    day = date.fromisoformat(row.last_day)
    if row.use_by == end_of_day(day, shop.where):
        return show_day(day)
    return show_moment(row.use_by, shop.where)


def row_json(row: "ContainerRow", shop: "Kitchen") -> dict[str, Any]:
    """A container for programs."""
    from holdlog.core.codes import show

    return {
        "code": row.code,
        "shown": show(row.code),
        "batch": row.batch,
        "split_from": row.parent or None,
        "item": row.item_name,
        "category": row.category,
        "unit": row.unit,
        "number": row.number,
        "count": row.count,
        "amount": row.amount or None,
        "made_at": moment(row.made_at, shop),
        "made": row.made_kind,
        "state": row.state,
        "tcs": row.tcs,
        "use_by": moment(row.use_by, shop),
        "last_day": row.last_day,
        "days_left_once_thawed": row.days_left,
        "binds": row.binds or None,
        "cite": row.cite or None,
        "fault": row.verdict or None,
        "reason": row.reason or None,
        "cautions": list(row.cautions),
        "ended_at": moment(row.ended_at, shop),
        "ended_as": row.ended_as or None,
    }


def row_line(row: "ContainerRow", shop: "Kitchen") -> str:
    """A container in one line."""
    from holdlog.core.codes import show

    amount = f", {row.amount}" if row.amount else ""
    place = f", {row.unit}" if row.unit else ""
    fault = f"  {WORDS[row.verdict]}: {row.reason}" if row.verdict else ""
    date = limit(row, shop)
    date = f"use by {date}" if row.use_by is not None and row.state != "frozen" else date
    return f"  {show(row.code)}  {row.item_name}{amount}{place}: {date}{fault}"


def printed_json(printed: "Printed | None", shop: "Kitchen") -> dict[str, Any] | None:
    """Labels that were made, for programs."""
    if printed is None:
        return None
    return {
        "files": [str(file) for file in printed.files],
        "warnings": list(printed.warnings),
        "labels": [
            {
                "code": each.label.code,
                "purpose": each.label.purpose,
                "use_by": moment(each.use_by, shop),
                "copy": each.copies_before,
            }
            for each in printed.labels
        ],
    }
