"""Where a line may end inside a word: Chinese and Japanese are written without blanks.

A line may end between an ideograph (or kana) and a letter, a figure or another ideograph, and
between punctuation and an ideograph; but not before what closes, goes on or lengthens, nor after
what opens. That is Unicode Standard Annex 14 (LB9, LB13, LB14, LB19, LB21 to LB23a, LB31) for
these signs, told by their general categories. Where a category is coarser than the classes of
the annex, a line ends in fewer places than it may. Hangul is left alone: Korean is written with
blanks.
"""

import unicodedata
from functools import lru_cache
from itertools import pairwise

_LETTERS = ("Lu", "Ll", "Lo", "Nd", "Nl")
# What a line may not end with: what opens (OP), quotation marks (QU), signs of money (PR), a
# hyphen that holds (GL), percent (PO, which keeps to a bracket).
_OPENS = frozenset(("Ps", "Pi", "Pf", "Sc"))
_NOR_AFTER = frozenset(
    "\"'\\¡¿\N{FULLWIDTH QUOTATION MARK}\N{FULLWIDTH APOSTROPHE}\N{FULLWIDTH PERCENT SIGN}"
    "\N{SMALL PERCENT SIGN}\N{NON-BREAKING HYPHEN}"
)


def pieces(word: str) -> list[str]:
    """``word`` in the pieces between which a line may end; of other scripts, in one."""
    if word.isascii():
        return [word]
    found = [word[:1]]
    for before, sign in pairwise(word):
        if _may_end(before, sign):
            found.append(sign)
        else:
            found[-1] += sign
    return found


@lru_cache(maxsize=16384)
def _may_end(before: str, after: str) -> bool:
    kind = unicodedata.category(before)
    if kind in _OPENS or before in _NOR_AFTER:
        return False
    if _ideograph(after):
        return kind[0] in "LNPM"
    found = unicodedata.category(after)
    if found == "Ps":
        return _wide(before) and kind[0] in "LNP" and not _alone(before)
    return _ideograph(before) and found in _LETTERS and not _alone(after)


def _ideograph(sign: str) -> bool:
    """Whether it is written without blanks: a letter or figure of an East Asian width (UAX 11)."""
    return _wide(sign) and unicodedata.category(sign) in _LETTERS and not _alone(sign)


def _wide(sign: str) -> bool:
    return unicodedata.east_asian_width(sign) in "WFH"


def _alone(sign: str) -> bool:
    """Hangul, and what may not begin a line: small kana (class CJ read strictly, as NS)."""
    name = unicodedata.name(sign, "")
    return "HANGUL" in name or "LETTER SMALL" in name or name == "MASU MARK"
