"""A file of rows that somebody filled in: its cells by head, each with the row it stands in.

Commas, semicolons or tabs; UTF-8 with or without a mark; heads in any order. Nothing is guessed:
what cannot be read is a fault that names row and column, as a spreadsheet counts rows.
"""

import codecs
import csv
import io
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from holdlog.core.csv_text import restored
from holdlog.core.errors import BadFile

MAX_BYTES = 5_000_000
MAX_ROWS = 20_000
MAX_CELL = 1_000
_OTHER_KINDS = {
    b"PK\x03\x04": "a spreadsheet or an archive",
    b"\xd0\xcf\x11\xe0": "a spreadsheet",
    b"%PDF": "a PDF",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong in one cell, or in one row (``column`` empty)."""

    row: int
    column: str
    says: str

    def __str__(self) -> str:
        where = f"row {self.row}, {self.column}" if self.column else f"row {self.row}"
        return f"{where}: {self.says}"


@dataclass(slots=True)
class RowIn:
    """One row: its number in the file (the heads are row 1), its cells by head, its faults."""

    number: int
    cells: Mapping[str, str]
    faults: list[Fault] = field(default_factory=list)

    def text(self, column: str) -> str:
        """What stands in a cell; empty where the file has no such column."""
        return self.cells.get(column, "")

    def wrong(self, column: str, says: str) -> None:
        """Note a fault."""
        self.faults.append(Fault(self.number, column, says))


def read_rows(data: bytes, known: Sequence[str], needed: Sequence[str]) -> list[RowIn]:
    """The rows of a file; blank ones are left out. Heads are told apart without their case.

    Raises ``BadFile("bad-file")`` for what is no such file at all: other bytes, heads that are
    not ``known``, stand twice or are ``needed`` and missing, quotation marks that do not match.
    """
    text = _decoded(data)
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=lambda mark: (first.count(mark), mark == ","))
    try:
        table = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise _bad(f"the quotation marks do not match ({error})") from error
    if not table:
        raise _bad("the file is empty")
    if len(table) > MAX_ROWS + 1:
        raise _bad(f"the file has {len(table):,} rows, more than {MAX_ROWS:,}")
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
        raise _bad(f"the file has {len(data):,} bytes, more than {MAX_BYTES:,}")
    for start, what in _OTHER_KINDS.items():
        if data.startswith(start):
            raise _bad(f"this is {what}, not text", "Save it as CSV, UTF-8.")
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or b"\0" in data:
        raise _bad("this is not UTF-8", "Save it as CSV, UTF-8.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _bad(f"row {line} is not UTF-8", "Save it as CSV, UTF-8.") from error


def _heads(cells: Sequence[str], known: Sequence[str], needed: Sequence[str]) -> list[str]:
    heads = [" ".join(cell.lower().replace("_", " ").split()) for cell in cells]
    while heads and not heads[-1]:
        heads.pop()
    faults = [f"row 1: nothing is known of the column {head!r}" for head in heads
              if head not in known]  # fmt: skip
    faults += [f"row 1: the column {head!r} stands twice" for head in dict.fromkeys(heads)
               if heads.count(head) > 1]  # fmt: skip
    faults += [f"row 1: the column {head!r} is missing" for head in needed if head not in heads]
    if faults:
        raise BadFile("bad-file", tuple(faults), f"Columns: {', '.join(known)}.")
    return heads


def _check(row: RowIn) -> None:
    for column, text in row.cells.items():
        if len(text) > MAX_CELL:
            row.wrong(column, f"{len(text):,} characters are too many")
        elif any(unicodedata.category(each) in ("Cc", "Cs") for each in text):
            row.wrong(column, "it holds a character that cannot be kept")


def _bad(fault: str, hint: str = "") -> BadFile:
    return BadFile("bad-file", (fault,), hint or "Begin with: --example")
