"""Sheets of labels: a TOML file that says, in millimetres, where the places on a page are."""

import os
from dataclasses import dataclass
from pathlib import Path

from holdlog.bundled import folder
from holdlog.core import files, toml_table
from holdlog.core.errors import BadFile, Mistake
from holdlog.core.visible import quoted
from holdlog.core.whole_files import why
from holdlog.labels.geometry import Box
from holdlog.labels.template import Template

PAPERS = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
"""Width and height in mm: ANSI/ASME Y14.1 size A (8 1/2 x 11 inch), ISO 216 size A4."""

_MOST_PLACES = 50  # a side: past that a place holds no label
# Inches written out in millimetres end in a rounding; paper is cut far less exactly than this.
_SLACK = 0.01


@dataclass(frozen=True, slots=True)
class Sheet:
    """A page with ``columns`` x ``rows`` places, each ``width`` x ``height`` mm.

    ``left`` and ``top`` are the margins before the first place, ``across`` and ``down`` the steps
    from one place to the next, all in mm.
    """

    name: str
    title: str
    paper: str
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    across: float
    down: float

    @property
    def places(self) -> int:
        """How many labels a page holds."""
        return self.columns * self.rows

    @property
    def page(self) -> tuple[float, float]:
        """Width and height of the paper in mm."""
        return PAPERS[self.paper]

    def place(self, number: int) -> Box:
        """Place ``number`` of a page: 1 is at the top left, counted row by row."""
        row, column = divmod(number - 1, self.columns)
        x, y = self.left + column * self.across, self.top + row * self.down
        return Box(x, y, self.width, self.height)


def names() -> tuple[str, ...]:
    """The sheets that come with the program."""
    return tuple(sorted(path.stem for path in _home().glob("*.toml")))


def find(wanted: str | Path) -> Sheet:
    """The sheet of that name, or of the file at that path (it ends in ``.toml``).

    Raises ``Mistake("unknown-sheet")`` for a name nobody knows, ``BadFile("bad-sheet")`` for a
    file that cannot be used.
    """
    if str(wanted) in names():
        return load(_home() / f"{wanted}.toml")
    if str(wanted).endswith(".toml") or os.sep in str(wanted):
        return load(Path(wanted))
    raise Mistake(
        "unknown-sheet",
        f"No sheet is called {quoted(str(wanted))}.",
        f"Known: {', '.join(names())}; or give the path of a .toml file.",
    )


def load(path: Path) -> Sheet:
    """Read and check the sheet in ``path``.

    Raises ``BadFile("bad-sheet")`` with every fault found: keys, places that overlap or leave
    the paper.
    """
    try:
        table = toml_table.parse(files.read_text(path, toml_table.MAX_BYTES), str(path))
    except (OSError, UnicodeDecodeError) as error:
        says = why(error, path) if isinstance(error, OSError) else "not a text in UTF-8"
        raise BadFile("bad-sheet", (f"{path}: cannot be read: {says}",)) from error
    except BadFile as error:
        raise BadFile("bad-sheet", error.faults) from error
    title = table.text("title")
    paper = table.choice("paper", tuple(PAPERS))
    counts = [table.whole(key, low=1, high=_MOST_PLACES) for key in ("columns", "rows")]
    sizes = [table.number(key, low="5") for key in ("width", "height")]
    steps = [table.number(key) for key in ("left", "top", "across", "down")]
    table.finish()
    table.refuse_faults("bad-sheet")
    sheet = Sheet(path.stem, title, paper, *counts, *(float(mm) for mm in (*sizes, *steps)))
    _check(sheet, table)
    table.refuse_faults("bad-sheet")
    return sheet


def fits(sheet: Sheet, template: Template) -> bool:
    """Whether a label of ``template`` has room on a place of ``sheet``, upright as it is read.

    Of continuous stock the least length counts; ``sheet_pdf`` refuses a label that grew too long.
    """
    return has_room(sheet, template.width, template.height)


def has_room(sheet: Sheet, width: float, height: float) -> bool:
    """Whether a label of ``width`` x ``height`` mm has room on a place of ``sheet``.

    Half a printer dot does not count, since a label is a whole number of dots.
    """
    half_a_dot = 25.4 / 203 / 2
    return width <= sheet.width + half_a_dot and height <= sheet.height + half_a_dot


def _home() -> Path:
    return folder("label_templates") / "sheets"


def _check(sheet: Sheet, table: toml_table.Table) -> None:
    for key, count, step, size, margin, whole, side in (
        ("across", sheet.columns, sheet.across, sheet.width, sheet.left, sheet.page[0], "columns"),
        ("down", sheet.rows, sheet.down, sheet.height, sheet.top, sheet.page[1], "rows"),
    ):
        if count > 1 and step < size - _SLACK:
            table.fault(key, f"a step of {step:g} mm makes places of {size:g} mm overlap")
        end = margin + (count - 1) * step + size
        if end > whole + _SLACK:
            ends = f"end {round(end, 2):g} mm from the edge"
            table.fault(
                side,
                f"{count} places {ends}; the paper has {whole:g} mm",
            )
