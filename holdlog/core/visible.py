"""Text as a screen may show it: nothing in it that a terminal obeys, or that changes its order.

Names and files come from anywhere. A terminal takes control characters for orders (ECMA-48: ESC
and the C1 controls begin them), and the directional controls of Unicode (UAX #9; "Trojan Source",
CVE-2021-42574) make a reader see other words, or another date, than are there.
"""

import re

# C0 and C1 controls, line and paragraph separators, embeddings, overrides, isolates, and half
# characters. Joiners and plain direction marks stay: names of many languages need them.
_CONTROLS = "\\x00-\\x1f\\x7f-\\x9f\u2028-\u202e\u2066-\u2069\\ud800-\\udfff"
_QUOTED, _END = 60, 40
_UNSEEN = re.compile(f"[{_CONTROLS}]")
_UNSEEN_IN_LINES = re.compile(f"(?!\n)[{_CONTROLS}]")


def visible(text: str, *, lines: bool = False) -> str:
    """``text`` with a dot for each such character, and a blank for a tab; ``lines``: line feeds
    stay.
    """
    if text.isascii() and text.isprintable():
        return text
    pattern = _UNSEEN_IN_LINES if lines else _UNSEEN
    return pattern.sub(lambda found: " " if found[0] == "\t" else "·", text)


def one_line(text: str, most: int = 0) -> str:
    """``text`` on one line, ``visible``, cut with an ellipsis to ``most`` characters (0: all)."""
    line = visible(" ".join(text.split()))
    return line if not most or len(line) <= most else f"{line[: most - 1]}…"


def quoted(text: str) -> str:
    """What was typed, for a sentence: in quotation marks, its controls spelled out, and short.

    Of a path that is too long the middle goes, since it is known by the file at its end.
    """
    if len(text) <= _QUOTED:
        return repr(text)
    end = text[-_END:] if "/" in text or "\\" in text else ""
    return repr(f"{text[: _QUOTED - len(end)]}…{end}")


def only_chooses(sign: str) -> bool:
    """Whether it is a variation selector (Unicode, 23.4), which only chooses how the sign before
    it is drawn.
    """
    return "\ufe00" <= sign <= "\ufe0f" or "\U000e0100" <= sign <= "\U000e01ef"


def escaped(json: str) -> str:
    """JSON with such characters written as JSON escapes (RFC 8259, 7): the same data."""
    if json.isascii():
        return json.replace("\x7f", "\\u007f")
    return _UNSEEN_IN_LINES.sub(lambda found: f"\\u{ord(found[0]):04x}", json)
