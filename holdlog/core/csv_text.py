"""Comma-separated values for spreadsheets (RFC 4180), and text that must not become a formula.

A spreadsheet takes a cell that begins with one of a few characters for a formula, and runs it:
OWASP, "CSV Injection". Such a cell of text gets an apostrophe in front. So does one that begins
with apostrophes and then one of these, so that taking one away always gives the text back.
Numbers are numbers and stay so.

Where semicolons stand between the cells of a country's files, its spreadsheets take ours apart at
those: so what follows a semicolon, a tab or the end of a line within a cell counts as a beginning.
"""

import csv
import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import TypeAlias

Cell: TypeAlias = "str | int | Decimal | bool | None"

# Without this mark spreadsheets take UTF-8 for an old single-byte code: ° and é come out wrong.
MARK = "\ufeff"
_STARTS = "=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20"
_BEGINNING = r"(?:\A|(?<=[;\t\r\n]))"
_RISKY = re.compile(f"{_BEGINNING}(?='*[{_STARTS}])")
_MADE_SAFE = re.compile(f"{_BEGINNING}'(?='*[{_STARTS}])")


def neutral(text: str) -> str:
    """``text`` as a spreadsheet shows it and does not run it."""
    return _RISKY.sub("'", text)


def restored(text: str) -> str:
    """The text that ``neutral`` was given."""
    return _MADE_SAFE.sub("", text)


def lines(heads: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Iterator[str]:
    """A file's text, line by line, each with its CRLF; the first begins with the mark."""
    out = _Line()
    writer = csv.writer(out, dialect="excel", strict=True)
    writer.writerow([_shown(head) for head in heads])
    yield MARK + out.text
    for row in rows:
        writer.writerow([_shown(cell) for cell in row])
        yield out.text


def _shown(cell: Cell) -> str:
    if isinstance(cell, str):
        return neutral(cell)
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return f"{cell:f}" if isinstance(cell, Decimal) else str(cell)


class _Line:
    """What the writer of the standard library writes to: it keeps the last line."""

    text = ""

    def write(self, text: str) -> None:
        """Take in a line."""
        self.text = text
