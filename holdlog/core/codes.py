"""Container codes: eight characters that survive grease, bad light and a tired hand.

A code is a letter, six more characters and a check character, all from an alphabet without
0, O, 1, I, L and U. The check character is ISO/IEC 7064 hybrid system MOD 31,30: it catches
every single wrong character. It is needed although Code 128 has a checksum of its own,
which lets some damaged labels through.
"""

from collections.abc import Callable, Iterable

from holdlog.core.errors import Mistake
from holdlog.core.visible import quoted

ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
LETTERS = ALPHABET[8:]
LENGTH = 8
_MODULUS = len(ALPHABET)


def check_character(body: str) -> str:
    """The ISO 7064 MOD 31,30 check character of ``body`` (characters of ``ALPHABET``)."""
    product = _MODULUS
    for character in body:
        total = (product + ALPHABET.index(character)) % _MODULUS or _MODULUS
        product = total * 2 % (_MODULUS + 1)
    return ALPHABET[(1 - product) % _MODULUS]


def new_code(draw: Callable[[str], str]) -> str:
    """A fresh code. ``draw`` picks one character of the string it is given at random."""
    body = draw(LETTERS) + "".join(draw(ALPHABET) for _ in range(LENGTH - 2))
    return body + check_character(body)


def show(code: str) -> str:
    """How a code is written for people: ``H7K3-9QX2``."""
    return f"{code[:4]}-{code[4:]}"


def _tidy(typed: str) -> str:
    return "".join(ch for ch in typed.upper() if ch.isalnum())


def is_code(text: str) -> bool:
    """Whether ``text``, already upper case and without dashes, is a code that checks."""
    return (
        len(text) == LENGTH
        and all(ch in ALPHABET for ch in text)
        and text[0] in LETTERS
        and check_character(text[:-1]) == text[-1]
    )


def looks_like_a_code(typed: str) -> bool:
    """Whether what was typed could be meant as a code: it is one, or it has the right length
    and a digit (about one code in seven has none).
    """
    code = _tidy(typed)
    return is_code(code) or (len(code) == LENGTH and any(ch.isdigit() for ch in code))


def read_code(typed: str, live: Iterable[str] = ()) -> str:
    """The code that was typed or scanned: case, dashes and spaces do not matter.

    Raises ``Mistake("bad-code")`` when it does not check; the hint names the live codes that
    are one keystroke away (one character wrong, missing, extra, or two neighbours swapped).
    """
    code = _tidy(typed)
    if is_code(code):
        return code
    close = sorted(known for known in live if _one_keystroke(code, known))
    hint = (
        "Did you mean " + " or ".join(show(known) for known in close) + "?"
        if close
        else "Read it again from the label; codes use neither 0, O, 1, I, L nor U."
    )
    raise Mistake("bad-code", f"{quoted(typed)} is not a container code.", hint)


def near(code: str, live: Iterable[str]) -> list[str]:
    """The live codes that are one keystroke away from ``code``, in order."""
    return sorted(known for known in live if known != code and _one_keystroke(code, known))


def _one_keystroke(typed: str, known: str) -> bool:
    if len(typed) == len(known):
        wrong = [i for i in range(len(known)) if typed[i] != known[i]]
        if len(wrong) <= 1:
            return True
        swapped = len(wrong) == 2 and wrong[1] == wrong[0] + 1  # noqa: PLR2004
        return swapped and typed[wrong[0]] == known[wrong[1]] and typed[wrong[1]] == known[wrong[0]]
    longer, shorter = (typed, known) if len(typed) > len(known) else (known, typed)
    if len(longer) != len(shorter) + 1:
        return False
    return any(longer[:i] + longer[i + 1 :] == shorter for i in range(len(longer)))
