"""A PDF file on letter or A4: begun with its typeface, ended with what it could not set."""

from dataclasses import dataclass
from io import BytesIO

from holdlog.core.errors import Mistake
from holdlog.reports.page_fonts import DAMAGE, damaged
from holdlog.reports.page_text import POINT, Pen, Typeface

_MOST_SIGNS = 20  # that are named where they could not be set
# Width and height in mm. Letter is 8.5 by 11 inches; A4: ISO 216.
PAPERS = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}


@dataclass(frozen=True, slots=True)
class Made:
    """The file, its pages, and what could not be set as it was written."""

    pdf: bytes
    pages: int
    warnings: tuple[str, ...]


def begun(paper: str, typeface: Typeface, title: str) -> tuple[Pen, BytesIO]:
    """A pen on the first page of ``paper``, and where the file will be.

    Equal pages give equal files. Raises ``Mistake("unknown-paper")``.
    """
    if paper not in PAPERS:
        raise Mistake("unknown-paper", f"Paper {paper!r}?", f"Say {' or '.join(PAPERS)}.")
    from reportlab.pdfgen.canvas import Canvas  # noqa: PLC0415

    out = BytesIO()
    wide, high = PAPERS[paper]
    pen = Pen(typeface, wide, high)
    pen.canvas = Canvas(
        out, pagesize=(wide * POINT, high * POINT), pageCompression=1, invariant=1,
        initialFontName=pen.font(bold=False).fontName,  # type: ignore[arg-type]  # wrong stubs
    )  # fmt: skip
    for say in (pen.canvas.setTitle, pen.canvas.setSubject):
        say(title)
    pen.canvas.setAuthor("holdlog")
    pen.canvas.setCreator("holdlog")
    return pen, out


def ended(pen: Pen, out: BytesIO, pages: int) -> Made:
    """The file, once its ``pages`` are drawn. Raises ``Mistake("bad-font")`` for a damaged font
    of the kitchen's.
    """
    from reportlab.pdfbase.pdfdoc import PDFError  # noqa: PLC0415

    try:
        pen.canvas.save()
    except (PDFError, *DAMAGE) as error:
        if not pen.typeface.others:
            raise
        raise damaged(pen.typeface.others, error) from error
    return Made(out.getvalue(), pages, (_lacking(pen),) if pen.missing else ())


def _lacking(pen: Pen) -> str:
    """The signs that could not be set, and which of the kitchen's fonts were of no use."""
    signs = " ".join([*pen.missing][:_MOST_SIGNS])
    if len(pen.missing) > _MOST_SIGNS:
        signs += f" and {len(pen.missing) - _MOST_SIGNS} more"
    whose = "No font has a" if pen.own.fit else "The font has no"
    return " ".join([f"{whose} sign for {signs}; shown as ?.", *pen.own.faults])
