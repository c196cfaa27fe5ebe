"""Makers' lots: one lot, however it was typed.

A recall names a lot once, and the cooks who typed it may have left out a dash or a space. People
can be hurt by a lot that is not found, so letters and digits alone decide.
"""

import re
import unicodedata

_WORD = re.compile(r"^\s*lot(?![a-z])(\W*n[or](?![a-z]))?", re.IGNORECASE)


def lot_key(lot: str) -> str:
    """What two ways of writing one lot have in common: ``"Lot l-442 b"`` gives ``"L442B"``.

    Empty only for a lot that is empty.
    """
    plain = unicodedata.normalize("NFKC", lot)
    bare = "".join(each for each in _WORD.sub("", plain).upper() if each.isalnum())
    return bare or plain.strip().upper()


def lot_subject(lot: str) -> str:
    """The subject of the entries about a maker's lot."""
    return f"lot {lot_key(lot)}"
