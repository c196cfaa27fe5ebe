"""The bytes of a logger's file as lines, and a line as cells.

Loggers and the programs that empty them write UTF-8 with or without a mark, UTF-16 (either
order), or an old single-byte code in which the degree sign is the byte B0. Every line stands for
itself: a quotation mark that is never closed spoils one row, not the rest of the file.
"""

import codecs
import csv
from dataclasses import dataclass

from holdlog.core.errors import BadFile

# Two years of one reading a minute, with room; what is larger is no file of one logger.
MAX_BYTES = 96 * 1024 * 1024
MAX_LINES = 1_200_000
# A row of a logger is shorter than a tenth of this. Longer lines are never split into cells.
MAX_LINE = 2_000
SHOWN = 80

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_OTHER_KINDS = {
    b"PK\x03\x04": "a spreadsheet or an archive",
    b"\xd0\xcf\x11\xe0": "a spreadsheet",
    b"%PDF": "a PDF",
    b"\x1f\x8b": "a compressed file",
}
# How much of the file tells a code without a mark, and the part of it that must be zero.
_LOOKED_AT = 400
_MOSTLY = 0.4


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines of a file, without their ends. ``whole``: the last one had its end."""

    lines: list[str]
    whole: bool
    notes: tuple[str, ...]


def read_lines(data: bytes) -> Lines:
    """Decode ``data`` and cut it at its line ends (CR LF, LF or CR).

    Raises ``BadFile("bad-logger-file")`` for an empty file, one that is no text, or one that is
    far larger than any logger's.
    """
    if len(data) > MAX_BYTES:
        raise bad(
            f"the file has {len(data):,} bytes, more than any logger writes",
            hint="Give it in parts, one year each.",
        )
    for start, what in _OTHER_KINDS.items():
        if data.startswith(start):
            raise bad(f"line 1: this is {what}, not text", hint="Save the readings as CSV.")
    text, notes = _decoded(data)
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("℃", "°C").replace("℉", "°F")
    whole = text.endswith("\n")
    number = text.count("\n") + (not whole)
    if number > MAX_LINES:
        raise bad(
            f"the file has {number:,} lines, more than any logger writes",
            hint="Give it in parts, one year each.",
        )
    lines = text.split("\n")
    if whole:
        lines.pop()
    if not text.strip("\ufeff\0 \t\n"):
        raise bad("line 1: the file is empty", hint="Copy it from the logger again.")
    return Lines(lines, whole, notes)


def cells(line: str, delimiter: str) -> list[str] | None:
    """The cells of one line, or None if its quotation marks do not match or it is far too long."""
    if len(line) > MAX_LINE:
        return None
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter, strict=True, skipinitialspace=True))
    except csv.Error:
        return None


def line_shown(line: str) -> str:
    """The start of a line, for a sentence: short, and without what a terminal would obey."""
    start = line[:SHOWN]
    return start if start.isprintable() else "".join(c if c.isprintable() else "·" for c in start)


def bad(*faults: str, hint: str = "") -> BadFile:
    """The error for a file that cannot be read as a whole."""
    return BadFile("bad-logger-file", faults, hint)


def _decoded(data: bytes) -> tuple[str, tuple[str, ...]]:
    for mark, code in _MARKS:
        if data.startswith(mark):
            return data[len(mark) :].decode(code, "replace"), ()
    start = data[:_LOOKED_AT]
    for first, code in ((1, "utf-16-le"), (0, "utf-16-be")):
        if len(start) > 1 and start[first::2].count(0) > _MOSTLY * len(start) / 2:
            return data.decode(code, "replace"), (f"The file has no mark; it was read as {code}.",)
    try:
        # A letter of which only the first bytes were written is cut off with the row it is in.
        return codecs.getincrementaldecoder("utf-8")().decode(data), ()
    except UnicodeDecodeError:
        return data.decode("latin-1"), ("The file is not UTF-8; it was read as Latin-1.",)
