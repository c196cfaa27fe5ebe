"""A file of rows that somebody filled in: its cells by head, each with the row it stands in.

Commas, semicolons or tabs; UTF-8 with or without a mark; heads in any order. Nothing is guessed:
what cannot be read is a fault that names row and column, as a spreadsheet counts rows.
"""

import codecs
import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

from holdlog.core.csv_text import restored
from holdlog.core.errors import BadFile, HoldlogError, Mistake
from holdlog.core.visible import quoted, visible

MAX_BYTES = 5_000_000
MAX_ROWS = 20_000
MAX_CELL = 1_000
MAX_COLUMNS = 100
MAX_LINE = 120_000
_SEP = re.compile(r"\"?sep=([,;\t])\"?", re.IGNORECASE)
_SAVE = 'Save it as CSV, UTF-8: among the kinds of file that one is called "CSV UTF-8".'
# A spreadsheet makes TRUE of what it takes for that.
_YES_OR_NO = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
_OTHER_KINDS = {
    b"PK\x03\x04": "a spreadsheet or an archive",
    b"\xd0\xcf\x11\xe0": "a spreadsheet",
    b"%PDF": "a PDF",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong in one cell, or in one row (``column`` empty), and perhaps what would be
    right. Many rows may have the same ``hint``.
    """

    row: int
    column: str
    says: str
    hint: str = ""

    @property
    def where(self) -> str:
        """The cell, as a person looks it up."""
        return f"row {self.row}, {self.column}" if self.column else f"row {self.row}"

    def __str__(self) -> str:
        return " ".join(filter(None, (f"{self.where}: {self.says}", self.hint)))


@dataclass(slots=True)
class RowIn:
    """One row: its number in the file (the heads are row 1), its cells by head, its faults."""

    number: int
    cells: Mapping[str, str]
    faults: list[Fault] = field(default_factory=list)

    def text(self, column: str) -> str:
        """What stands in a cell; empty where the file has no such column."""
        return self.cells.get(column, "")

    def wrong(self, column: str, says: str, hint: str = "") -> None:
        """Note a fault."""
        self.faults.append(Fault(self.number, column, says, hint))

    def mistaken(self, column: str, mistake: HoldlogError) -> None:
        """Note what a cell was refused for."""
        self.wrong(column, mistake.sentence, mistake.hint)

    def yes_or_no(self, column: str) -> bool | None:
        """What a cell answers; None where it is empty, and with a fault noted for another word."""
        text = self.text(column)
        said = _YES_OR_NO.get(text.lower())
        if text and said is None:
            self.wrong(column, f"{text!r}: write yes or no, or leave it empty")
        return said


class WrongCell(Mistake):
    """A mistake that was found while a row was recorded, and lies in one of its cells."""

    def __init__(self, column: str, mistake: Mistake, hint: str = "") -> None:
        super().__init__(mistake.code, mistake.sentence, hint or mistake.hint)
        self.column = column


def read_rows(data: bytes, known: Sequence[str], needed: Sequence[str]) -> list[RowIn]:
    """The rows of a file; blank ones are left out. Heads are told apart without their case.

    Raises ``BadFile("bad-file")`` for what is no such file at all: other bytes, heads that are
    not ``known``, stand twice or are ``needed`` and missing, quotation marks that do not match.
    """
    text, delimiter = _parted(_decoded(data))
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > MAX_LINE:
            raise _bad(f"line {number} has {len(line):,} characters, more than {MAX_LINE:,}")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        table = list(islice(reader, MAX_ROWS + 2))
    except csv.Error as error:
        raise _bad(f"the quotation marks do not match ({error})") from error
    if not table:
        raise _bad("the file is empty")
    if len(table) > MAX_ROWS + 1:
        raise _bad(f"the file has more than {MAX_ROWS:,} rows", "Give it in parts.")
    heads = _heads(table[0], known, needed)
    rows = []
    for number, cells in enumerate(table[1:], 2):
        trimmed = [restored(cell.strip()) for cell in cells]
        if not any(trimmed):
            continue
        row = RowIn(number, dict(zip(heads, trimmed, strict=False)))
        if any(trimmed[len(heads) :]):
            row.wrong("", f"it has {len(cells)} cells and there are {len(heads)} heads")
        _check(row)
        rows.append(row)
    if not rows:
        raise _bad("the file has heads and no row")
    return rows


def _decoded(data: bytes) -> str:
    if len(data) > MAX_BYTES:
        raise _bad(
            f"the file has {len(data):,} bytes, more than {MAX_BYTES:,}", "Give it in parts."
        )
    for start, what in _OTHER_KINDS.items():
        if data.startswith(start):
            raise _bad(f"this is {what}, not text", _SAVE)
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or b"\0" in data:
        raise _bad("this is not UTF-8", _SAVE)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _bad(f"row {line} is not UTF-8", _SAVE) from error


def _parted(text: str) -> tuple[str, str]:
    """The rows alone, and what stands between their cells."""
    first, _, rest = text.partition("\n")
    # Some spreadsheets are told so, in a line that they do not count.
    said = _SEP.fullmatch(first.strip())
    if said is not None:
        return rest, said[1]
    return text, max(",;\t", key=lambda mark: (first.count(mark), mark == ","))


def _heads(cells: Sequence[str], known: Sequence[str], needed: Sequence[str]) -> list[str]:
    heads = [" ".join(cell.lower().replace("_", " ").split()) for cell in cells]
    while heads and not heads[-1]:
        heads.pop()
    if len(heads) > MAX_COLUMNS:
        raise _bad(f"row 1 has {len(heads):,} columns, more than {MAX_COLUMNS}")
    if not any(head in known for head in heads):
        fault = "row 1 names no column: above all rows stand the names of the columns"
        raise BadFile("bad-file", (fault,), f"Columns: {', '.join(known)}.")
    faults = [f"row 1: nothing is known of the column {quoted(head)}" for head in heads
              if head not in known]  # fmt: skip
    faults += [f"row 1: the column {quoted(head)} stands twice" for head in dict.fromkeys(heads)
               if heads.count(head) > 1]  # fmt: skip
    faults += [f"row 1: the column {head!r} is missing" for head in needed if head not in heads]
    if faults:
        raise BadFile("bad-file", tuple(faults), f"Columns: {', '.join(known)}.")
    return heads


def _check(row: RowIn) -> None:
    for column, text in row.cells.items():
        if len(text) > MAX_CELL:
            row.wrong(column, f"{len(text):,} characters are too many")
        elif visible(text) != text or "\t" in text:
            row.wrong(column, "it holds a character that cannot be kept")


def _bad(fault: str, hint: str = "") -> BadFile:
    return BadFile("bad-file", (fault,), hint or "Begin with: --example")
