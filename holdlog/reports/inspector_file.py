"""The inspector's file: a cover, registers by section, plots; every page numbered.

It draws plain data and knows no journal. Black on white, words and lines alone, so that a
photocopy says as much. Equal data give equal bytes.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from io import BytesIO
from typing import TYPE_CHECKING

from holdlog.reports.page_text import POINT, Pen, Typeface
from holdlog.reports.paper import Made, begun, ended
from holdlog.reports.plots import Plot, drawn

if TYPE_CHECKING:
    from PIL.Image import Image

"""Width and height in mm: ANSI/ASME Y14.1 size A (8 1/2 x 11 inch), ISO 216 size A4."""

_SIDE, _TOP, _FOOT = 16.0, 14.0, 17.0
_TITLE, _HEAD, _TEXT, _CELL, _SMALL = 6.0, 4.4, 3.2, 2.75, 2.5
_LINE, _CELL_LINE = 4.5, 3.7
_GAP = 2.0  # between columns
_BETWEEN = 8.0  # between two sections on one page
_MOST_LINES = 60  # of a row that stay together; what is longer goes on below, or overleaf
_SHAPE = 4.5 / 8  # of a plot: its height to its width


@dataclass(frozen=True, slots=True)
class Section:
    """A register: what it is, its columns, its rows, its plots.

    ``shares`` are the widths of the columns, in any unit. ``empty`` is said in place of rows.
    """

    title: str
    says: tuple[str, ...]
    heads: tuple[str, ...] = ()
    shares: tuple[float, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    plots: tuple[Plot, ...] = ()
    empty: str = "Nothing in this period."


@dataclass(frozen=True, slots=True)
class InspectorFile:
    """What the file says. ``cover``: headings, each with its paragraphs. ``foot``: on each page."""

    title: str
    kitchen: str
    period: str
    cover: tuple[tuple[str, tuple[str, ...]], ...]
    sections: tuple[Section, ...]
    foot: str


@dataclass(frozen=True, slots=True)
class _Block:
    """What stays on one page. ``leads``: it is not left alone at the foot of one.

    ``again`` is drawn at the head of the page when the block before it is on another one.
    """

    high: float
    draw: Callable[[float], None]
    leads: bool = False
    again: "_Block | None" = None


@dataclass(slots=True)
class _Page:
    """The blocks of one page."""

    blocks: list[_Block] = field(default_factory=list)

    @property
    def high(self) -> float:
        """How much of the page they take, in mm."""
        return sum(block.high for block in self.blocks)


def inspector_file(
    file: InspectorFile,
    paper: str,
    typeface: Typeface,
    tell: Callable[[int, int], None] = lambda _done, _of: None,
) -> Made:
    """The file as PDF on ``paper`` (``letter`` or ``a4``); ``tell`` hears of each page drawn.

    Raises ``Mistake("unknown-paper")``.
    """
    pen, out = begun(paper, typeface, f"{file.title}, {file.period}")
    pages = _pages(pen, file)
    pen.canvas.showOutline()
    for number, page in enumerate(pages, 1):
        if number == 1:
            _mark(pen, "cover", "Cover", pen.height - _TOP)
        y = _TOP
        for block in page.blocks:
            block.draw(y)
            y += block.high
        _foot(pen, file, number, len(pages))
        pen.canvas.showPage()
        tell(number, len(pages))
    return ended(pen, out, len(pages))


def _pages(pen: Pen, file: InspectorFile) -> list[_Page]:
    """Everything on as many pages as it needs. A section that fits below the one before stands
    there, so that a day is no pile of empty pages; any other begins on a page of its own.
    """
    room = pen.height - _TOP - _FOOT
    pages: list[_Page] = []
    begins = []
    for number, section in enumerate(file.sections):
        body = _laid(pen, _section(pen, number, section))
        if pages and len(body) == 1 and pages[-1].high + _BETWEEN + body[0].high <= room:
            pages[-1].blocks += [_Block(_BETWEEN, lambda _y: None), *body.pop(0).blocks]
            begins.append(len(pages))
        else:
            begins.append(len(pages) + 1)
        pages += body
    # The contents stand on the cover, whose length does not depend on what they say.
    cover = _laid(pen, _cover(pen, file, begins))
    return [*_laid(pen, _cover(pen, file, [len(cover) + each for each in begins])), *pages]


def _laid(pen: Pen, blocks: Sequence[_Block]) -> list[_Page]:
    room = pen.height - _TOP - _FOOT
    pages, left = [_Page()], room
    for place, block in enumerate(blocks):
        need = block.high
        if block.leads and place + 1 < len(blocks):
            need += blocks[place + 1].high
        if need > left and pages[-1].blocks:
            pages.append(_Page())
            left = room
            if block.again is not None:
                pages[-1].blocks.append(block.again)
                left -= block.again.high
        pages[-1].blocks.append(block)
        left -= block.high
    return pages


def _mark(pen: Pen, key: str, title: str, top: float) -> None:
    """A place that the contents and the outline lead to."""
    pen.canvas.bookmarkPage(key, fit="XYZ", left=0, top=top * POINT, zoom=0)
    # The outline holds any sign: it is not set in the font of the page.
    pen.canvas.addOutlineEntry(title, key, 0, closed=False)


# ---- the cover -------------------------------------------------------------------------------


def _cover(pen: Pen, file: InspectorFile, starts: Sequence[int]) -> list[_Block]:
    blocks = [
        _words(pen, file.title, _TITLE, bold=True, after=1.0, most=3),
        _words(pen, file.kitchen, _HEAD + 0.6, bold=True, after=0.6, most=6),
        _words(pen, file.period, _HEAD, after=3.0),
        _line(pen),
    ]
    for heading, paragraphs in file.cover:
        blocks.append(_words(pen, heading, _HEAD - 0.4, bold=True, after=0.6, leads=True))
        blocks += [_words(pen, text, _TEXT, after=1.2) for text in paragraphs]
        blocks.append(_Block(2.0, lambda _y: None))
    blocks.append(_words(pen, "Contents", _HEAD - 0.4, bold=True, after=0.6, leads=True))
    blocks += [
        _content(pen, number, section.title, start)
        for number, (section, start) in enumerate(zip(file.sections, starts, strict=True))
    ]
    return blocks


def _content(pen: Pen, number: int, title: str, page: int) -> _Block:
    right = pen.width - _SIDE

    def draw(y: float) -> None:
        base = y + _LINE - 1.0
        pen.write(_SIDE, base, pen.clean(f"{number + 1}  {title}"), _TEXT)
        pen.write(right, base, str(page), _TEXT, align="right")
        pen.rule(_SIDE, base + 1.1, right, 0.1)
        low, top = (pen.height - y - _LINE) * POINT, (pen.height - y) * POINT
        pen.canvas.linkAbsolute(
            "", f"section-{number}", (_SIDE * POINT, low, right * POINT, top), thickness=0
        )

    return _Block(_LINE + 0.6, draw)


# ---- a section -------------------------------------------------------------------------------


def _section(pen: Pen, number: int, section: Section) -> list[_Block]:
    title = _words(pen, f"{number + 1}  {section.title}", _HEAD, bold=True, after=1.0, leads=True)

    def begin(y: float) -> None:
        _mark(pen, f"section-{number}", f"{number + 1}  {section.title}", pen.height - y)
        title.draw(y)

    blocks = [_Block(title.high, begin, leads=True), _line(pen)]
    blocks += [_words(pen, text, _TEXT, after=1.2) for text in section.says]
    if section.heads and section.rows:
        blocks += _table(pen, section)
    elif section.heads:
        blocks.append(_words(pen, section.empty, _TEXT, bold=True, after=1.2))
    blocks += [_picture(pen, plot) for plot in section.plots]
    return blocks


def _table(pen: Pen, section: Section) -> list[_Block]:
    places = _columns(pen, section)
    (heads,) = _row(pen, places, section.heads, bold=True)
    head = _Block(heads.high, heads.draw, leads=True)
    blocks = [_Block(2.0, lambda _y: None), head]
    for cells in section.rows:
        blocks += [_Block(each.high, each.draw, again=head) for each in _row(pen, places, cells)]
    return [*blocks, _Block(3.0, lambda _y: None)]


def _columns(pen: Pen, section: Section) -> list[tuple[float, float]]:
    """Where each column begins and how wide it is."""
    room = pen.width - 2 * _SIDE - _GAP * (len(section.heads) - 1)
    whole = sum(section.shares)
    found, x = [], _SIDE
    for share in section.shares:
        wide = room * share / whole
        found.append((x, wide))
        x += wide + _GAP
    return found


def _row(
    pen: Pen, places: Sequence[tuple[float, float]], cells: Sequence[str], *, bold: bool = False
) -> list[_Block]:
    """One row, as a block or as more than one where it is long: nothing of it is left away."""
    laid = [
        (x, [line for part in cell.split("\n") for line in pen.lines(part, _CELL, wide, bold=bold)])
        for (x, wide), cell in zip(places, cells, strict=True)
    ]
    most = max(1, *(len(lines) for _, lines in laid))

    def piece(start: int) -> _Block:
        ends = start + _MOST_LINES >= most
        high = min(_MOST_LINES, most - start) * _CELL_LINE + (1.6 if ends else 0)

        def draw(y: float) -> None:
            for x, lines in laid:
                for number, line in enumerate(lines[start : start + _MOST_LINES], 1):
                    pen.write(x, y + _CELL_LINE * number - 0.4, line, _CELL, bold=bold)
            if ends:
                pen.rule(_SIDE, y + high - 0.5, pen.width - _SIDE, 0.35 if bold else 0.1)

        return _Block(high, draw)

    return [piece(start) for start in range(0, most, _MOST_LINES)]


def _words(
    pen: Pen,
    text: str,
    size: float,
    *,
    bold: bool = False,
    after: float = 0.0,
    leads: bool = False,
    most: int = 0,
) -> _Block:
    lines = pen.lines(text, size, pen.width - 2 * _SIDE, bold=bold, most=most)
    step = size * 1.4

    def draw(y: float) -> None:
        for number, line in enumerate(lines, 1):
            pen.write(_SIDE, y + step * number - size * 0.3, line, size, bold=bold)

    return _Block(step * len(lines) + after, draw, leads)


def _line(pen: Pen) -> _Block:
    return _Block(3.0, lambda y: pen.rule(_SIDE, y + 0.6, pen.width - _SIDE, 0.6), leads=True)


def _picture(pen: Pen, plot: Plot) -> _Block:
    """A plot, drawn only when its page is: a year of them does not fit into memory."""
    wide = pen.width - 2 * _SIDE
    high = wide * _SHAPE

    def draw(y: float) -> None:
        from reportlab.lib.utils import ImageReader  # noqa: PLC0415

        picture = ImageReader(_grey(drawn(plot, "png", pen.typeface.others)))
        down = (pen.height - y - high) * POINT
        pen.canvas.drawImage(picture, _SIDE * POINT, down, wide * POINT, high * POINT)

    return _Block(high + 4.0, draw)


def _grey(png: bytes) -> "Image":
    from PIL import Image  # noqa: PLC0415

    return Image.open(BytesIO(png)).convert("L")


def _foot(pen: Pen, file: InspectorFile, number: int, pages: int) -> None:
    right = pen.width - _SIDE
    top = pen.height - _FOOT + 4
    pen.rule(_SIDE, top, right, 0.35)
    page = f"page {number} of {pages}"
    pen.write(right, top + 4, page, _TEXT, bold=True, align="right")
    left = right - _SIDE - pen.wide(page, _TEXT, bold=True) - 4
    name = pen.lines(f"{file.kitchen}, {file.period}", _TEXT, left, most=1)
    pen.write(_SIDE, top + 4, name[0] if name else "", _TEXT)
    said = pen.lines(file.foot, _SMALL, right - _SIDE, most=1)
    pen.write(_SIDE, top + 7.6, said[0] if said else "", _SMALL)
