"""Pages of labels as PDF, drawn as shapes and letters and not as pictures of them.

A laser printer has finer dots than a label printer, so a layout's dots are drawn as what they
stand for: bars as rectangles, words as text that can be searched. Every label starts on a whole
dot of its own layout, counted from the top left corner of the page. Lay out at ``DPI``: its dots
are whole dots of every printer of 300, 600 or 1200 dpi, and bars of one width come out equal.
"""

from collections.abc import Callable, Iterator, Sequence
from io import BytesIO

from holdlog.core.errors import Mistake
from holdlog.labels import sheet_ink, template
from holdlog.labels.geometry import MM_PER_INCH, dots
from holdlog.labels.layout import Layout
from holdlog.labels.sheet_ruler import ruler_pdf
from holdlog.labels.sheet_stock import Sheet, find, fits, has_room, names

__all__ = ["DPI", "Sheet", "find", "fits", "names", "ruler_pdf", "sheet_pdf"]

DPI = 300

# Cut marks: how far from the labels they end, how long they are, how thick, in mm.
_CLEAR, _LONG, _THICK = 0.6, 3.0, 0.1


def sheet_pdf(
    sheet: Sheet,
    layouts: Sequence[Layout],
    *,
    start: int = 1,
    cut_marks: bool = False,
    title: str = "Labels",
    tell: Callable[[int, int], None] | None = None,
) -> bytes:
    """``layouts`` in the places of ``sheet``, row by row, on as many pages as they need.

    ``start`` is the first free place of a part-used first page, 1 its top left. A label smaller
    than its place stands in the middle of it. ``tell`` is called after each page with the number
    of pages done and of all pages. Equal arguments give equal bytes.

    Raises ``Mistake``: no label, a place the sheet has not, a label larger than a place.
    """
    if not layouts:
        raise Mistake("no-labels", "There is no label to put on the sheet.")
    if not 1 <= start <= sheet.places:
        raise Mistake(
            "bad-start",
            f"Sheet {sheet.name} has the places 1 to {sheet.places}, counted row by row "
            f"from the top left; it cannot start at {start}.",
        )
    for layout in layouts:
        _refuse_too_large(sheet, layout)
    out = BytesIO()
    page = sheet_ink.document(out, sheet.page, title)
    pages = list(_pages(len(layouts), start, sheet.places))
    for done, numbers in enumerate(pages, 1):
        for index, place in numbers:
            sheet_ink.draw(page, layouts[index], _corner(sheet, place, layouts[index]))
        if cut_marks:
            _mark_cuts(page, sheet)
        page.canvas.showPage()
        if tell:
            tell(done, len(pages))
    page.canvas.save()
    return out.getvalue()


def _pages(count: int, start: int, places: int) -> Iterator[list[tuple[int, int]]]:
    """For each page, which label stands in which place."""
    first = 0
    while first < count:
        here = min(count - first, places - start + 1)
        yield [(first + i, start + i) for i in range(here)]
        first, start = first + here, 1


def _corner(sheet: Sheet, place: int, layout: Layout) -> tuple[int, int]:
    """The top left of a label in the middle of its place, in whole dots from that of the page."""
    box = sheet.place(place)
    width, height = (side * MM_PER_INCH / layout.dpi for side in (layout.width, layout.height))
    return (
        dots(box.x + (box.width - width) / 2, layout.dpi),
        dots(box.y + (box.height - height) / 2, layout.dpi),
    )


def _refuse_too_large(sheet: Sheet, layout: Layout) -> None:
    width, height = (side * MM_PER_INCH / layout.dpi for side in (layout.width, layout.height))
    if has_room(sheet, width, height):
        return
    others = [name for name in names() if has_room(find(name), width, height)]
    smaller = [name for name in template.names() if fits(sheet, template.find(name))]
    raise Mistake(
        "label-too-large",
        f"A label of {width:.1f} x {height:.1f} mm is larger than a place of sheet {sheet.name}, "
        f"{sheet.width:.1f} x {sheet.height:.1f} mm.",
        f"Sheets it fits: {', '.join(others) or 'none'}. "
        f"Templates that fit this sheet: {', '.join(smaller) or 'none'}.",
    )


def _mark_cuts(page: sheet_ink.Page, sheet: Sheet) -> None:
    """Short strokes in the margins of the page, in line with the edges of the places."""
    across = {sheet.place(n).x for n in range(1, sheet.columns + 1)}
    down = {sheet.place(n).y for n in range(1, sheet.places + 1, sheet.columns)}
    last = sheet.place(sheet.places)
    wide, high = sheet.page
    page.canvas.setLineWidth(sheet_ink.points(_THICK))
    strokes = []
    for x in sorted(across | {edge + sheet.width for edge in across}):
        strokes += [
            (x, max(0, sheet.top - _CLEAR - _LONG), x, sheet.top - _CLEAR),
            (x, last.bottom + _CLEAR, x, min(high, last.bottom + _CLEAR + _LONG)),
        ]
    for y in sorted(down | {edge + sheet.height for edge in down}):
        strokes += [
            (max(0, sheet.left - _CLEAR - _LONG), y, sheet.left - _CLEAR, y),
            (last.right + _CLEAR, y, min(wide, last.right + _CLEAR + _LONG), y),
        ]
    for x, y, to_x, to_y in strokes:
        if to_x >= x and to_y >= y:  # a margin may have no room for one
            page.line(x, y, to_x, to_y)
