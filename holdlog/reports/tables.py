"""Tables for people: ruled and bold in a terminal, plain aligned text where it is piped.

A table says everything in words and position; nothing is told by colour. It always fits the
width it is given: long cells wrap, and where even that is not enough each row becomes a few
short lines under each other.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from holdlog.core.visible import visible
from holdlog.reports.wrapping import GAP, pad, prose, width, wrap

# A column may be squeezed to its longest word, but words longer than this are cut.
LONGEST_WORD = 20


@dataclass(frozen=True, slots=True)
class Table:
    """A title, column heads and rows of texts, all the same length.

    A line break in a text begins a new line of its cell.
    """

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def made_visible(table: Table) -> Table:
    """The same table with nothing in its texts that a terminal obeys."""

    def row(texts: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(visible(text, lines=True) for text in texts)

    return Table(visible(table.title), row(table.heads), tuple(map(row, table.rows)))


def plain(table: Table, wide: int = 80, indent: str = GAP) -> str:
    """The table as aligned text, at most ``wide`` columns (of a terminal) wide."""
    shown = wrap(table.title, wide) if table.title else []
    columns = _fit(table, wide - width(indent))
    if columns is None:
        return "\n".join([*shown, *_stacked(table, wide, indent)])
    lines = [table.heads, *table.rows] if any(table.heads) else list(table.rows)
    for row in lines:
        cells = [_cell(text, columns[n]) for n, text in enumerate(row)]
        for number in range(max(map(len, cells))):
            parts = (
                pad(cell[number] if number < len(cell) else "", columns[n])
                for n, cell in enumerate(cells)
            )
            shown.append((indent + GAP.join(parts)).rstrip())
    return "\n".join(shown)


def _cell(text: str, wide: int) -> list[str]:
    return [line for each in text.split("\n") for line in wrap(each, wide, cut=True)]


def _fit(table: Table, wide: int) -> list[int] | None:
    """The width of each column, or None where the table is too wide however it is squeezed."""
    lines = [table.heads, *table.rows]
    count = len(table.heads)
    widths = [
        max((width(line) for row in lines for line in row[n].split("\n")), default=0)
        for n in range(count)
    ]
    floors = [
        min(
            widths[n],
            max((min(width(word), LONGEST_WORD) for row in lines for word in row[n].split()),
                default=0),
        )
        for n in range(count)
    ]  # fmt: skip
    room = wide - len(GAP) * (count - 1)
    if sum(floors) > room:
        return None
    while sum(widths) > room:
        # The column that is furthest above its floor gives way.
        widest = max(range(count), key=lambda n: (widths[n] > floors[n], widths[n]))
        widths[widest] -= 1
    return widths


def _stacked(table: Table, wide: int, indent: str) -> list[str]:
    """Each row as lines under each other: the first two cells, then the rest with their heads."""
    shown = []
    inner = indent + GAP
    for row in table.rows:
        shown += wrap(" ".join(filter(None, row[:2])), wide, first=indent, rest=inner, cut=True)
        for head, text in zip(table.heads[2:], row[2:], strict=True):
            for line in filter(None, text.split("\n")):
                name = f"{head}: " if head and head not in ("item", "code") else ""
                shown += wrap(name + line, wide, first=inner, rest=inner + GAP, cut=True)
    return shown


def pretty(parts: Sequence[Table | str]) -> None:
    """Print tables and lines of text to a terminal with rich."""
    from rich import box
    from rich.console import Console
    from rich.padding import Padding
    from rich.table import Table as Ruled
    from rich.text import Text

    console = Console(highlight=False, soft_wrap=True)
    for each in parts:
        if isinstance(each, str):
            for line in prose(each, console.width):
                console.print(Text(line))
            continue
        columns = _fit(each, console.width - len(GAP))
        if columns is None:
            console.print(Text(plain(each, console.width)))
            continue
        if each.title:
            console.print(Text(each.title, style="bold"))
        ruled = Ruled(
            box=box.SIMPLE_HEAD if any(each.heads) else None,
            show_header=any(each.heads),
            header_style="",
            show_edge=False,
            pad_edge=False,
            padding=(0, 1, 0, 0),
        )
        for number, (head, wide) in enumerate(zip(each.heads, columns, strict=True)):
            style = "bold" if number == 0 else None
            ruled.add_column(Text(head), style=style, overflow="fold", width=wide)
        for row in each.rows:
            ruled.add_row(*(Text(cell) for cell in row))
        console.print(Padding(ruled, (0, 0, 0, len(GAP))), soft_wrap=False)
