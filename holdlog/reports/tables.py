"""Tables for people: ruled and bold in a terminal, plain aligned text where it is piped.

A table says everything in words and position; nothing is told by colour alone.
"""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

WIDEST = 44


@dataclass(frozen=True, slots=True)
class Table:
    """A title, column heads and rows of texts, all the same length."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def plain(table: Table, indent: str = "  ") -> str:
    """The table as aligned text; the last column is as wide as it likes."""
    lines = [table.heads, *table.rows] if any(table.heads) else list(table.rows)
    widths = [
        min(WIDEST, max((width(row[column]) for row in lines), default=0))
        for column in range(len(table.heads))
    ]
    shown = [table.title] if table.title else []
    for row in lines:
        cells = [_pad(cell, wide) for cell, wide in zip(row[:-1], widths, strict=False)]
        shown.append((indent + "  ".join([*cells, row[-1]])).rstrip())
    return "\n".join(shown)


def width(text: str) -> int:
    """Columns that ``text`` takes in a terminal: wide characters take two, marks none."""
    return sum(
        0 if unicodedata.combining(ch) else 2 if unicodedata.east_asian_width(ch) in "WF" else 1
        for ch in text
    )


def _pad(text: str, wide: int) -> str:
    if width(text) > wide:
        while width(text) > wide - 1:
            text = text[:-1]
        text += "…"
    return text + " " * (wide - width(text))


def pretty(tables: Sequence[Table | str]) -> None:
    """Print tables and lines of text to a terminal with rich."""
    from rich import box
    from rich.console import Console
    from rich.table import Table as Ruled
    from rich.text import Text

    console = Console(highlight=False)
    for each in tables:
        if isinstance(each, str):
            console.print(Text(each))
            continue
        ruled = Ruled(
            title=each.title or None,
            title_justify="left",
            title_style="bold",
            box=box.SIMPLE,
            show_header=any(each.heads),
            pad_edge=False,
        )
        for number, head in enumerate(each.heads):
            ruled.add_column(Text(head), style="bold" if number == 0 else None, overflow="fold")
        for row in each.rows:
            ruled.add_row(*(Text(cell) for cell in row))
        console.print(ruled)
