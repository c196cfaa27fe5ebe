"""The words of a round sheet."""

from itertools import count
from typing import TYPE_CHECKING

from holdlog.cli.show import WORDS, limit
from holdlog.core.chain import WHOLE, show_head
from holdlog.core.moments import show_dated

if TYPE_CHECKING:
    from holdlog.kitchen.due import Line
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.round_sheet import SheetData
    from holdlog.reports.round_sheet import RoundSheet

# What the word in front and the date beside it say already.
PLAIN = ("Its last day is today.", "Past its limit.")


def sheet_of(found: "SheetData", shop: "Kitchen") -> "RoundSheet":
    """The sheet as it is drawn; its rows are numbered through all units."""
    from holdlog.reports.round_sheet import RoundSheet, SheetRow, SheetUnit

    number = count(1)
    return RoundSheet(
        kitchen=shop.name,
        made=show_dated(found.at, shop.where),
        mark=found.mark,
        head=show_head(found.number, found.head, WHOLE),
        books=found.books,
        units=tuple(
            SheetUnit(
                each.name or "in no unit",
                each.limit.show(shop.scale) if each.limit is not None else "",
                tuple(
                    SheetRow(
                        next(number), line.row.code, line.row.item_name, line.row.amount,
                        limit(line.row, shop), verdict_told(line),
                        urgent=line.verdict != "serve" or line.no_limit,
                    )
                    for line in each.lines
                ),
            )
            for each in found.units
        ),
    )  # fmt: skip


def verdict_told(line: "Line") -> str:
    """``DISCARD``, ``HOLD: why``, ``serve, day 3 of 7``."""
    if line.no_limit and line.verdict == "serve":
        return "NO LIMIT KNOWN: ask the person in charge"
    word = WORDS[line.verdict]
    if line.verdict == "serve" and line.row.state == "frozen":
        word = "keep frozen"
    if line.reason and line.reason not in PLAIN:
        return f"{word}: {line.reason}"
    if line.day is not None and line.row.of is not None and line.verdict in ("serve", "last-day"):
        return f"{word}, day {line.day} of {line.row.of}"
    return word
