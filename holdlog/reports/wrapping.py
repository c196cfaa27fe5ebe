"""Text laid into a width, counted in the columns of a terminal."""

import unicodedata

# Fullwidth and wide characters (Unicode Standard Annex 11) take two columns.
_TWO = "WF"
# Between columns, and before what goes on from the line above.
GAP = "  "


def width(text: str) -> int:
    """Columns that ``text`` takes in a terminal: wide characters take two, marks none."""
    if text.isascii():
        return len(text)
    return sum(_columns(character) for character in text)


def _columns(character: str) -> int:
    if unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in _TWO else 1


def wrap(text: str, wide: int, *, first: str = "", rest: str = "", cut: bool = False) -> list[str]:
    """``text`` in lines of at most ``wide`` columns, broken between words.

    ``first`` stands before the first line and ``rest`` before the others, and both count. A
    word that is too long stays whole (it may be a path to copy), unless ``cut``.
    """
    lines: list[str] = []
    line, start = first, first
    room = max(1, wide - max(width(first), width(rest)))
    # A figure stays with its degrees.
    for word in (each.replace("\0", " ") for each in text.replace(" °", "\0°").split()):
        gap = "" if line == start else " "
        if gap and width(line) + 1 + width(word) > wide:
            lines.append(line)
            line, gap, start = rest, "", rest
        for piece in _pieces(word, room) if cut else [word]:
            if not gap and line != start:
                lines.append(line)
                line, start = rest, rest
            line += gap + piece
            gap = ""
    return [*lines, line.rstrip()]


def prose(text: str, wide: int) -> list[str]:
    """A line of text wrapped to ``wide``; what it was indented by, the rest is indented by."""
    bare = text.lstrip(" ")
    if width(text) <= wide:
        return [text]
    lead = text[: len(text) - len(bare)]
    return wrap(bare, wide, first=lead, rest=lead + (GAP if lead else ""))


def _pieces(word: str, wide: int) -> list[str]:
    pieces = [""]
    for character in word:
        if pieces[-1] and width(pieces[-1]) + _columns(character) > wide:
            pieces.append("")
        pieces[-1] += character
    return pieces


def pad(text: str, wide: int) -> str:
    """``text`` with spaces after it, to ``wide`` columns."""
    return text + " " * (wide - width(text))
