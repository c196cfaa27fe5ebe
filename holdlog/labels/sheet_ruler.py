"""A page to print first: two rulers that must come out true, and where the labels will be.

Printers and viewers like to "fit" a page, which shrinks every label and moves it off its place.
"""

from io import BytesIO

from holdlog.core.errors import Mistake
from holdlog.labels import sheet_ink
from holdlog.labels.geometry import Box
from holdlog.labels.sheet_stock import PAPERS, Sheet

LENGTH_MM = 100
SAYS = (
    "Print this page at 100 %, not fitted to the page.",
    "Measure both rulers: each must be 100 mm long.",
)
_ON_SHEET = "The outlines must lie on the edges of the labels."

_STROKE = 0.15  # mm
_TICKS = {10: 6.0, 5: 4.5, 1: 3.0}  # mm; each tick has the length of the largest step it stands on


def ruler_pdf(paper: str, sheet: Sheet | None = None) -> bytes:
    """One page of ``paper`` (``letter`` or ``a4``) with a 100 mm ruler across and one down.

    With ``sheet``, the outlines of its places as well. The page's own words are in English.
    Raises ``Mistake("unknown-paper")``, also where the sheet is not of that paper.
    """
    if paper not in PAPERS or (sheet and sheet.paper != paper):
        known = sheet.paper if sheet else " or ".join(PAPERS)
        raise Mistake("unknown-paper", f"Paper {paper!r} will not do here: expected {known}.")
    out = BytesIO()
    page = sheet_ink.document(out, PAPERS[paper], "Ruler")
    canvas = page.canvas
    canvas.setLineWidth(sheet_ink.points(_STROKE))
    if sheet:
        for number in range(1, sheet.places + 1):
            page.box(sheet.place(number))
    left, top = (page.width - LENGTH_MM) / 2, (page.height - LENGTH_MM) / 2
    # On white, so that no outline behind the rulers can be taken for a part of them.
    canvas.setFillGray(1)
    page.box(Box(left - 18, top - 18, LENGTH_MM + 36, LENGTH_MM + 36), stroke=0, fill=1)
    canvas.setFillGray(0)
    _rulers(page, left, top)
    canvas.setFont(sheet_ink.font(bold=True).fontName, sheet_ink.points(3.2))
    for line, text in enumerate((*SAYS, _ON_SHEET) if sheet else SAYS):
        page.text(left + 8, top + 14 + 7 * line, text)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _rulers(page: sheet_ink.Page, left: float, top: float) -> None:
    """Two rulers with one corner, true from the middle of the first tick to that of the last."""
    page.line(left, top, left + LENGTH_MM, top)
    page.line(left, top, left, top + LENGTH_MM)
    page.canvas.setFont(sheet_ink.font(bold=False).fontName, sheet_ink.points(3))
    for mm in range(LENGTH_MM + 1):
        long = next(length for step, length in _TICKS.items() if mm % step == 0)
        page.line(left + mm, top, left + mm, top - long)
        page.line(left, top + mm, left - long, top + mm)
        if mm % 10 == 0:
            page.text(left + mm, top - 7.5, str(mm) if mm < LENGTH_MM else f"{mm} mm", "center")
            page.text(left - 7.5, top + mm + 1, str(mm), "right")
