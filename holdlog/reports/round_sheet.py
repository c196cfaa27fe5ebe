"""The round on paper: every container in the order of the walk, with boxes to tick.

Black on white, in words and positions alone. Equal data give equal bytes.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from holdlog.core.codes import show
from holdlog.reports.page_text import Pen, Typeface
from holdlog.reports.paper import Made, begun, ended

"""Width and height in mm: ANSI/ASME Y14.1 size A (8 1/2 x 11 inch), ISO 216 size A4."""
TICKS = ("seen", "binned", "used", "not there")
BLANKS = 2  # lines a unit for what stands there without a label

_SIDE, _TOP, _FOOT = 11.0, 12.0, 25.0
_NUMBER, _TICK, _CODE, _DATE = 9.0, 13.0, 36.0, 48.0  # widths of columns; the item has the rest
_BOX = 5.5
_LINE, _SMALL, _TEXT, _BOLD = 4.4, 2.8, 3.3, 3.7
_PAD = 1.8
_HEAD, _HEADS = 11.0, 5.0
_NO_LABEL, _BLANK = "no label, binned: what, how much", 8.0
_MOST_LINES = 22  # of one text in a row; 200 ideographs, or some 900 letters
_BESIDE = 4  # lines of a verdict beside the item; a longer reason goes below it
_BELOW = 23  # lines there, some 1,700 characters: a row stays on one page


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One container, in words. ``code`` is without its dash; what is ``urgent`` is set bold."""

    number: int
    code: str
    item: str
    amount: str
    use_by: str
    verdict: str
    urgent: bool = False


@dataclass(frozen=True, slots=True)
class SheetUnit:
    """A unit to walk, what it must keep (empty: nothing), and what stands in it."""

    name: str
    limit: str
    rows: tuple[SheetRow, ...]


@dataclass(frozen=True, slots=True)
class RoundSheet:
    """What the sheet says. ``mark`` names the sheet; ``head`` is the journal's head, whole."""

    kitchen: str
    made: str
    mark: str
    head: str
    books: str
    units: tuple[SheetUnit, ...]


@dataclass(frozen=True, slots=True)
class _Block:
    """Something that stays on one page: how high, how to draw it at a height.

    ``unit``: whose head it needs above it. ``leads``: it stays with what comes after it.
    """

    high: float
    draw: Callable[[float], None]
    unit: SheetUnit | None = None
    leads: bool = False


def round_sheet(sheet: RoundSheet, paper: str, typeface: Typeface) -> Made:
    """The sheet as PDF on ``paper`` (``letter`` or ``a4``). Raises ``Mistake("unknown-paper")``."""
    pen, out = begun(paper, typeface, f"Round sheet {sheet.mark}")
    pages = _pages(pen, sheet)
    for number, blocks in enumerate(pages, 1):
        y = _TOP
        for block in blocks:
            block.draw(y)
            y += block.high
        _foot(pen, sheet, number, len(pages))
        pen.canvas.showPage()
    return ended(pen, out, len(pages))


def _pages(pen: Pen, sheet: RoundSheet) -> list[list[_Block]]:
    """The blocks on as many pages as they need; a unit that goes on has its head again."""
    room = pen.height - _TOP - _FOOT
    pages: list[list[_Block]] = [[]]
    left = room
    blocks = _blocks(pen, sheet)
    for place, block in enumerate(blocks):
        if _need(blocks[place:]) > left and pages[-1]:
            pages.append([])
            left = room
            if block.unit is not None:
                again = _unit_head(pen, block.unit, again=True)
                pages[-1].append(again)
                left -= again.high
        pages[-1].append(block)
        left -= block.high
    return pages


def _need(blocks: Sequence[_Block]) -> float:
    """The room that the first of them takes, with all that has to stay with it."""
    high = 0.0
    for block in blocks:
        high += block.high
        if not block.leads:
            break
    return high


def _blocks(pen: Pen, sheet: RoundSheet) -> list[_Block]:
    blocks = [_title(pen, sheet)]
    for unit in sheet.units:
        blocks.append(_unit_head(pen, unit, again=False))
        rows = [_row(pen, unit, row) for row in unit.rows] or [_nothing(pen, unit)]
        # No head, on the next page, over nothing but the lines for what has no label.
        rows[-1] = replace(rows[-1], leads=True)
        blocks += [*rows, _blanks(pen, unit)]
    return [*blocks, _signature(pen)]


def _title(pen: Pen, sheet: RoundSheet) -> _Block:
    count = sum(len(unit.rows) for unit in sheet.units)
    much = "1 container" if count == 1 else f"{count} containers"
    says = (
        "Read each unit's temperature first. Then tick one box in each row. Binned: write the "
        "reason beside it. Food without a label is discarded: write it at the end of its unit. "
        f"Afterwards: holdlog round sheet --enter, and the last four signs of a code. {much}."
    )
    right = pen.width - _SIDE
    name = pen.lines(sheet.kitchen, 4.2, right - _SIDE - 5, bold=True, most=2)
    made = pen.clean(f"Round sheet {sheet.mark}, {sheet.made}")
    told = pen.lines(says, _TEXT, right - _SIDE)

    def draw(y: float) -> None:
        for line in name:
            y += 5.4
            pen.write(_SIDE, y, line, 4.2, bold=True)
        y += 5.0
        pen.write(_SIDE, y, made, _BOLD, bold=True)
        for line in told:
            y += _LINE
            pen.write(_SIDE, y, line, _TEXT)

    return _Block(5.4 * len(name) + 5.0 + _LINE * len(told) + 2, draw, leads=True)


def _unit_head(pen: Pen, unit: SheetUnit, *, again: bool) -> _Block:
    """The unit, what it must keep, and room for what it reads; then the heads of the columns."""
    right = pen.width - _SIDE
    room = 112.0 if again else 62.0
    name = pen.lines(unit.name + (" (continued)" if again else ""), 4.6, room, bold=True, most=3)
    limit = pen.clean(unit.limit)
    high = max(_HEAD, 3.5 + 5.4 * len(name))

    def draw(y: float) -> None:
        pen.rule(_SIDE, y + 2, right, 0.9)
        for number, line in enumerate(name):
            pen.write(_SIDE, y + 7.8 + 5.4 * number, line, 4.6, bold=True)
        if not again:
            x = _SIDE + 64
            for text, space in (("reads", 22), ("at", 18), ("initials", 16)):
                pen.write(x, y + 7.8, text, _TEXT)
                x += pen.wide(text, _TEXT) + 1.5
                pen.rule(x, y + 8.4, x + space)
                x += space + 2.5
            pen.write(right, y + 7.8, limit, _TEXT, bold=True, align="right")
        y += high
        for number, tick in enumerate(TICKS):
            middle = _SIDE + _NUMBER + _TICK * (number + 0.5)
            pen.write(middle, y + 3.2, tick, _SMALL, align="center")
        code, item, date = _columns()
        for x, head in ((code, "code"), (item, "item, amount"), (right - date, "use by")):
            pen.write(x, y + 3.2, head, _SMALL)
        pen.rule(_SIDE, y + _HEADS, right)

    return _Block(high + _HEADS, draw, leads=True)


def _columns() -> tuple[float, float, float]:
    """Where the code and the item begin, and how wide the last column is."""
    code = _SIDE + _NUMBER + _TICK * len(TICKS) + 1
    return code, code + _CODE, _DATE


def _row(pen: Pen, unit: SheetUnit, row: SheetRow) -> _Block:
    code, item, date = _columns()
    right = pen.width - _SIDE
    room = right - date - item - 2
    name = pen.lines(row.item, _BOLD, room, bold=True, most=_MOST_LINES)
    name_lines = [(line, _BOLD, True) for line in name]
    name_lines += [(line, _TEXT, False) for line in pen.lines(row.amount, _TEXT, room, most=2)]
    said = [(line, _BOLD, True) for line in pen.lines(row.use_by, _BOLD, date, bold=True)]
    beside, below = _verdict(pen, row, date, right - code)
    said += [(line, _TEXT, row.urgent) for line in beside]
    first = max(2, len(name_lines), len(said)) * _LINE
    high = first + len(below) * _LINE + _PAD

    def draw(y: float) -> None:
        pen.write(_SIDE + _NUMBER - 2, y + 5.2, str(row.number), _BOLD, align="right")
        _boxes(pen, y)
        _spaced(pen, code, y + 6.4, row.code)
        _stacked(pen, item, y, name_lines)
        _stacked(pen, right - date, y, said)
        _stacked(pen, code, y + first, [(line, _TEXT, row.urgent) for line in below])
        pen.rule(_SIDE, y + high, right, 0.1)

    return _Block(high, draw, unit)


def _verdict(pen: Pen, row: SheetRow, room: float, wide: float) -> tuple[list[str], list[str]]:
    """The verdict in lines beside the item; of one too long for that, the word there and the
    reason below, in lines that begin under the code.
    """
    beside = pen.lines(row.verdict, _TEXT, room, bold=row.urgent)
    if len(beside) <= _BESIDE:
        return beside, []
    word, _, reason = row.verdict.partition(": ")
    said = f"{word}: see below" if reason else "see below"
    beside = pen.lines(said, _TEXT, room, bold=row.urgent, most=_BESIDE)
    return beside, pen.lines(reason or word, _TEXT, wide, bold=row.urgent, most=_BELOW)


def _boxes(pen: Pen, y: float) -> None:
    for number in range(len(TICKS)):
        middle = _SIDE + _NUMBER + _TICK * (number + 0.5)
        pen.box(middle - _BOX / 2, y + 2, _BOX, _BOX)


def _spaced(pen: Pen, x: float, y: float, code: str) -> None:
    """A code with every sign in a place of its own width, the last four (to type) the larger."""
    first, last = show(code).split("-")
    for signs, size, step, bold in ((first, 3.6, 3.3, False), (last, 5.0, 4.4, True)):
        for sign in signs:
            pen.write(x + step / 2, y, sign, size, bold=bold, align="center")
            x += step
        x += 1.5


def _stacked(pen: Pen, x: float, y: float, lines: Sequence[tuple[str, float, bool]]) -> None:
    for number, (line, size, bold) in enumerate(lines, 1):
        pen.write(x, y + _LINE * number - 0.2, line, size, bold=bold)


def _nothing(pen: Pen, unit: SheetUnit) -> _Block:
    return _Block(7, lambda y: pen.write(_SIDE, y + 5, "Nothing on record here.", _TEXT), unit)


def _blanks(pen: Pen, unit: SheetUnit) -> _Block:
    """Lines for food that has no label."""
    code, _, _ = _columns()
    start = code + pen.wide(_NO_LABEL, _SMALL) + 2

    def draw(y: float) -> None:
        for _ in range(BLANKS):
            pen.write(code, y + 6.2, _NO_LABEL, _SMALL)
            pen.rule(start, y + 7, pen.width - _SIDE)
            y += _BLANK

    return _Block(_BLANK * BLANKS, draw, unit)


def _signature(pen: Pen) -> _Block:
    def draw(y: float) -> None:
        x = _SIDE
        for text, space in (("Walked by", 30), ("finished at", 24), ("person in charge", 34)):
            pen.write(x, y + 10, text, _TEXT, bold=True)
            x += pen.wide(text, _TEXT, bold=True) + 1.5
            pen.rule(x, y + 10.6, x + space)
            x += space + 4

    return _Block(13, draw)


def _foot(pen: Pen, sheet: RoundSheet, number: int, pages: int) -> None:
    right = pen.width - _SIDE
    top = pen.height - _FOOT + 6
    pen.rule(_SIDE, top, right, 0.4)
    page = f"Sheet {sheet.mark}, page {number} of {pages}"
    pen.write(right, top + 4, page, _TEXT, bold=True, align="right")
    left = right - _SIDE - pen.wide(page, _TEXT, bold=True) - 4
    name = pen.lines(f"{sheet.kitchen}, {sheet.made}", _TEXT, left, most=1)
    pen.write(_SIDE, top + 4, name[0] if name else "", _TEXT)
    last = f"{sheet.books}. The local health authority has the last word. In doubt, bin it."
    for place, line in enumerate(pen.lines(last, _SMALL, right - _SIDE, most=2)):
        pen.write(_SIDE, top + 7.6 + 3.2 * place, line, _SMALL)
    pen.write(_SIDE, top + 14.2, f"Journal head {sheet.head}", _SMALL)
