"""Makers' lots: one lot, however it was typed.

A recall names a lot once, and the cooks who typed it may have left out a dash or a space. People
can be hurt by a lot that is not found, so letters and digits alone decide.
"""

import re
import unicodedata
from string import ascii_uppercase, digits

from holdlog.core.errors import Mistake
from holdlog.core.visible import quoted

# Characters. Ours: six times what the standard for them allows a lot (GS1 General Specifications,
# 3.4.1, AI (10): at most 20), for makers who keep to none. What is longer is a scan gone wrong or
# several lots in one, and no recall of one of them would find it.
MOST_LOT = 120
_WORD = re.compile(r"^\s*lot(?![a-z])(\W*n[or](?![a-z]))?", re.IGNORECASE)


def lot_key(lot: str) -> str:
    """What two ways of writing one lot have in common: ``"Lot l-442 b"`` gives ``"L442B"``.

    Empty only for a lot that is empty.
    """
    plain = unicodedata.normalize("NFKC", lot)
    bare = "".join(each for each in _WORD.sub("", plain).upper() if each.isalnum())
    return bare or plain.strip().upper()


def check_lot(lot: str) -> None:
    """Refuse a lot that is longer than any: where one is said, never of what is on record.

    Raises ``Mistake("long-lot")``.
    """
    # A single character may stand for many (NFKC); it is the key that every look-up goes by.
    long = max(len(lot), len(lot_key(lot)))
    if long > MOST_LOT:
        raise Mistake(
            "long-lot",
            f"Lot {quoted(lot.strip())} has {long:,} characters, more than {MOST_LOT}.",
            "Write what stands on the package as its lot, and one lot only.",
        )


def lot_subject(lot: str) -> str:
    """The subject of the entries about a maker's lot."""
    return f"lot {lot_key(lot)}"


# What is read for one another on a crate or in a bad hand. Common practice, no source.
_READ_AS = {
    "O": "0",
    "Q": "0",
    "D": "0",
    "I": "1",
    "L": "1",
    "Z": "2",
    "S": "5",
    "G": "6",
    "B": "8",
}
_READ_AS |= {"0": "O", "1": "I", "2": "Z", "5": "S", "6": "G", "8": "B"}
# What stands before a lot on a crate, and is typed with it. Common practice, no source.
_BEFORE = ("BATCH", "BATCHNO", "LOTE", "CHARGE", "NO", "NR")
_SIGNS = digits + ascii_uppercase
_LEAST = 3  # signs that a part of a lot has to have, to be taken for the lot


def lots_alike(key: str) -> set[str]:
    """The keys that may well be the same lot, written in another way: letters before or behind it
    left out or put there, only its beginning, or a sign read for another.

    Lots that follow one another (``"442"`` and ``"443"``) are no such.
    """
    whole, key = key, key[:MOST_LOT]
    core = key.strip(ascii_uppercase)
    found = {whole[:size] for size in range(_LEAST, min(len(whole), MOST_LOT + 1))}
    found |= {part for part in (core, key.lstrip(ascii_uppercase), key.rstrip(ascii_uppercase))
              if len(part) >= _LEAST}  # fmt: skip
    for part in (key, core):
        if len(part) >= _LEAST:
            found |= {letter + part for letter in ascii_uppercase}
            found |= {part + letter for letter in ascii_uppercase}
            found |= {word + part for word in _BEFORE}
    for place, sign in enumerate(key):
        if (other := _READ_AS.get(sign)) is not None:
            found.add(key[:place] + other + key[place + 1 :])
            found.add(key.replace(sign, other))
    return found - {whole, ""}


def lots_near(key: str) -> set[str]:
    """Those and the keys one keystroke away: a sign wrong, missing or too many, or two neighbours
    swapped.
    """
    found = lots_alike(key)
    whole, key = key, key[:MOST_LOT]
    for place in range(len(key) + 1):
        before, after = key[:place], key[place:]
        found.add(before + after[1:])
        found.add(before + after[1:2] + after[:1] + after[2:])
        found |= {before + sign + after for sign in _SIGNS}
        found |= {before + sign + after[1:] for sign in _SIGNS}
    return found - {whole, ""}
