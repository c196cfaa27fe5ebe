"""Showing results: words for people, JSON for programs."""

import sys
from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from holdlog.core.events import Recalled
    from holdlog.core.moments import Instant
    from holdlog.journal.on_hand import ContainerRow
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.printing import Printed
    from holdlog.reports.tables import Table

WORDS = {
    "discard": "DISCARD", "refuse": "REFUSED", "hold": "HOLD", "reheat": "REHEAT",
    "last-day": "LAST DAY", "serve": "serve",
}  # fmt: skip

# What is to be said of the clock once, beside the first result that is shown.
_of_the_clock: list[str] = []


def beside(remark: str) -> None:
    """Have ``remark`` said with the result (empty: nothing). A job that is refused says why
    itself, and shows none.
    """
    _of_the_clock[:] = filter(None, [remark])


def tell_beside() -> str:
    """Say on standard error what is to be said beside the result, unless it was."""
    remark = _of_the_clock.pop() if _of_the_clock else ""
    if remark:
        note(remark)
    return remark


def emit(data: Any) -> None:
    """Print ``data`` as JSON. What a terminal would obey is written as JSON's own escapes.

    A remark about the clock is in it as ``clock``, if it is an object.
    """
    import json

    from holdlog.core.visible import escaped

    remark = tell_beside()
    if remark and isinstance(data, dict):
        data = {**data, "clock": remark}
    print(escaped(json.dumps(data, ensure_ascii=False, indent=1, default=_plain)))


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return str(value)
    if hasattr(value, "isoformat"):
        return value.isoformat()
    return str(value)


def say(parts: "Sequence[Table | str]") -> None:
    """Print tables and lines: ruled in a terminal, plain where piped. Names come from anywhere:
    nothing in them reaches a terminal that it would obey.
    """
    from holdlog.core.visible import visible
    from holdlog.reports.tables import made_visible, plain, pretty
    from holdlog.reports.wrapping import prose

    tell_beside()
    parts = [
        visible(each, lines=True) if isinstance(each, str) else made_visible(each) for each in parts
    ]
    if sys.stdout.isatty():
        pretty(parts)
        return
    wide = columns()
    for part in parts:
        lines = prose(part, wide) if isinstance(part, str) else [plain(part, wide)]
        for line in lines:
            print(line)


def columns() -> int:
    """How wide to write: what COLUMNS says, else the terminal, else 80."""
    from shutil import get_terminal_size

    return max(20, get_terminal_size((80, 24)).columns)


def count_of(number: int, word: str) -> str:
    """``1 day``, ``2 days``."""
    return f"{number} {word}{'' if number == 1 else 's'}"


def stopped(text: str) -> str:
    """``text`` with a full stop, unless it ends a sentence already."""
    return text if text.endswith((".", "?", "!")) else f"{text}."


def in_words(caution: str) -> str:
    """A caution for people: without the word that programs look for."""
    word, colon, rest = caution.partition(": ")
    plain_word = colon and " " not in word and "-" in word
    return rest[:1].upper() + rest[1:] if plain_word else caution


def note(text: str) -> None:
    """Say something beside the result, on standard error."""
    from holdlog.core.visible import visible

    print(f"holdlog: {visible(text)}", file=sys.stderr)


def moment(at: "Instant | None", shop: "Kitchen") -> str | None:
    """An instant for programs."""
    from holdlog.core.moments import iso

    return iso(at, shop.where) if at is not None else None


def limit(row: "ContainerRow", shop: "Kitchen") -> str:
    """A container's date for people."""
    if row.state == "frozen":
        left = row.days_left
        return "frozen" if left is None else f"frozen, {count_of(left, 'day')} left"
    if row.use_by is None or row.last_day is None:
        return "no limit known" if row.tcs != "not-tcs" else "no date needed"
    return moment_told(row.use_by, shop)


def moment_told(at: "Instant", shop: "Kitchen") -> str:
    """A limit for people: the end of a day is that day, anything else has its hour; the year is
    told where it is not this one.
    """
    from holdlog.core.moments import end_of_day, local_date, show_day, show_moment

    day, now = local_date(at, shop.where), shop.now()
    if at == end_of_day(day, shop.where):
        return show_day(day, local_date(now, shop.where))
    return show_moment(at, shop.where, now)


def at_told(at: "Instant", shop: "Kitchen") -> str:
    """When something happened, for people; the year is told where it is not this one."""
    from holdlog.core.moments import show_moment

    return show_moment(at, shop.where, shop.now())


def looks_recalled(each: "Recalled", lot: str) -> str:
    """That ``lot``, which came in all the same, looks like a recalled one."""
    return f"LOOK AT THE LOT: {each.what} is recalled ({each.why}), and {lot} looks like it."


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


def date_told(row: "ContainerRow", shop: "Kitchen") -> str:
    """A container's date in words, after its fault if it has one."""
    date = limit(row, shop)
    if row.state == "frozen" and row.days_left is not None:
        date += " once thawed"
    elif row.use_by is not None:
        date = f"use by {date}"
    if row.verdict not in ("discard", "refuse") and _is_past(row, shop):
        # A row keeps the faults; what only its date decides is read off the clock.
        why = "No days are left" if row.state == "frozen" else "Past its limit"
        return f"{WORDS['discard']}, {date}. {why}."
    if not row.verdict:
        return date
    return f"{WORDS[row.verdict]}, {date}. {row.reason}"


def _is_past(row: "ContainerRow", shop: "Kitchen") -> bool:
    if row.ended_at is not None:
        return False
    if row.state == "frozen":
        return row.days_left is not None and row.days_left < 1
    return row.use_by is not None and shop.now() > row.use_by


def row_line(row: "ContainerRow", shop: "Kitchen") -> str:
    """A container in one line."""
    from holdlog.core.codes import show

    facts = ", ".join(filter(None, (row.item_name, row.amount, row.unit)))
    return f"  {show(row.code)}  {facts}: {date_told(row, shop)}"


def rows_told(rows: "Sequence[ContainerRow]", shop: "Kitchen") -> list[str]:
    """Containers in a few lines: those that are alike share the line with their date."""
    from holdlog.core.codes import show

    alike: dict[tuple[str, ...], list[str]] = {}
    for row in rows:
        key = (row.item_name, row.amount, row.unit, date_told(row, shop))
        alike.setdefault(key, []).append(show(row.code))
    lines = []
    for (item, amount, unit, date), codes in alike.items():
        each = f"{amount} each" if amount and len(codes) > 1 else amount
        facts = ", ".join(filter(None, (item, each, unit)))
        if len(codes) == 1:
            lines.append(f"  {codes[0]}  {facts}: {date}")
        else:
            lines += [f"  {'  '.join(codes)}", f"    {facts}: {date}"]
    return lines


def printed_json(printed: "Printed | None", shop: "Kitchen") -> dict[str, Any] | None:
    """Labels that were made, for programs."""
    if printed is None:
        return None
    return {
        "files": [str(file) for file in printed.files],
        "printer": printed.printer or None,
        "state": printed.state,
        "reason": printed.reason or None,
        "warnings": list(printed.warnings),
        "labels": [
            {
                "code": each.label.code,
                "purpose": each.label.purpose,
                "use_by": moment(each.said_use_by, shop),
                "copy": each.copies_before,
            }
            for each in printed.labels
        ],
    }
