"""What a hostile or a broken file holds, how an error has to look, and how long to search.

``HOLDLOG_FUZZ=long`` searches a hundred times as long, each time elsewhere: for nights.
"""

import os
import re
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from holdlog.core.errors import HoldlogError

Result = TypeVar("Result")

LONG = os.environ.get("HOLDLOG_FUZZ") == "long"

# ECMA-48's controls (C0, DEL, C1), the directional controls of UAX #9 that can change an order
# (embeddings, overrides, isolates), separators of lines, halves of characters.
UNSEEN = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
# A sentence, its hint, and a list of faults: never a file.
LONGEST_LINE = 30_000

# What a terminal obeys, a reader is fooled by, or a program takes for a figure: U+0663 is an
# Arabic-Indic three, U+FF13 a full-width one, U+00B2 a digit that is no decimal.
EVIL = (
    "\x00", "\x07", "\x1b[2J", "\x1b]0;t\x07", "\x9b31m", "\x7f", "\u202eDOC", "\u2066",
    "\u2028", "\u0663", "\uff13", "\u00b2", "\ufeff", "\U0001f468\u200d\U0001f373", "\t", "\r",
    "\n", "'", '"', ";", ",", "=", "+", "-", "@", "%n%s", "../", "\u00a0", "\u0300",
)  # fmt: skip
evil = st.sampled_from(EVIL)
texts = st.lists(st.one_of(st.text(max_size=8), evil), max_size=4).map("".join)


def searched(examples: int) -> Callable[[Any], Any]:
    """How many examples a test tries in CI; a hundred times as many in a long search."""
    return settings(
        max_examples=examples * (100 if LONG else 1),
        derandomize=not LONG,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )


def attempt(job: Callable[[], Result]) -> Result | None:
    """The result of ``job``, or None where it refused with one clear line. Anything else that it
    raises is a fault of the program, and goes on.
    """
    try:
        return job()
    except HoldlogError as error:
        clear(error)
        return None


def clear(error: HoldlogError) -> None:
    """One line of our own, for a person, that a terminal can be given as it is."""
    line = error.line()
    assert line.strip(), error.code
    assert error.code, line
    assert not UNSEEN.search(line), line[:500]
    assert len(line) <= LONGEST_LINE, line[:500]
    assert "Traceback" not in line


@st.composite
def damaged(draw: st.DrawFn, whole: bytes) -> bytes:
    """``whole`` with octets flipped, cut off, doubled, put elsewhere or pushed in."""
    data = bytearray(whole)
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(data)))
        other = draw(st.integers(0, len(data)))
        first, last = min(place, other), max(place, other)
        match draw(st.sampled_from(["flip", "cut", "lose", "again", "push", "evil"])):
            case "flip" if place < len(data):
                data[place] ^= 1 << draw(st.integers(0, 7))
            case "cut":
                del data[place:]
            case "lose":
                del data[first : min(last, first + 40)]
            case "again":
                data[place:place] = data[first : min(last, first + 400)]
            case "push":
                data[place:place] = draw(st.binary(max_size=6))
            case "evil":
                data[place:place] = draw(evil).encode()
            case _:
                pass
    return bytes(data)


@st.composite
def rewritten(draw: st.DrawFn, whole: str, values: Sequence[str], others: Sequence[str]) -> str:
    """The lines of a TOML file with other values, keys and tables, doubled, lost and mixed with
    lines of ``others``.
    """
    lines = whole.split("\n")
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(lines) - 1))
        key, equals, _ = lines[place].partition("=")
        match draw(st.sampled_from(["value", "value", "again", "lose", "swap", "mix", "evil"])):
            case "value" if equals:
                lines[place] = f"{key}= {draw(st.sampled_from(values))}"
            case "again":
                lines.insert(draw(st.integers(0, len(lines))), lines[place])
            case "lose" if len(lines) > 1:
                del lines[place]
            case "swap":
                other = draw(st.integers(0, len(lines) - 1))
                lines[place], lines[other] = lines[other], lines[place]
            case "mix":
                lines.insert(place, draw(st.sampled_from(others)))
            case "evil":
                at = draw(st.integers(0, len(lines[place])))
                lines[place] = lines[place][:at] + draw(evil) + lines[place][at:]
            case _:
                pass
    return "\n".join(lines)


# Values of TOML that are allowed to be written and are none that a kitchen means.
VALUES = (
    "nan", "inf", "-inf", "-0.0", "1e999", "1e-999", "1" * 4301, f"0x{'f' * 5000}", "-1", "0",
    "1", "0.5", "100001", "1_0", "0001-01-01", "9999-12-31", "2199-12-31", "1970-01-01",
    "9999-12-31T23:59:59-23:59", "0001-01-01T00:00:00+23:59", "1970-01-01T00:00:00+23:59",
    "2199-12-31T23:59:59-23:59", "2026-11-01T01:30:00", "2026-03-08T02:30:00",
    "1979-05-27T07:32:00.999999999", "00:00:00", '""', '" "', '"\\u0000"', '"\\u001b[2J"',
    '"\\u202eabc"', '"\\u0663 F"', '"\uff13 C"', '"99999 F"', '"-0 C"', '"68 F"', '"5.0 C"', "[]",
    "[[]]", "[['x']]", "{}", "{ a = {} }", "{ f = 41 }", "{ c = nan }", "{ f = 1e999, c = 5 }",
    "true", "false", '["a", 1]', '["a", "a"]', "[" * 60 + "]" * 60, "[" * 900 + "]" * 900,
    f'"{"a" * 3000}"', '"../../x"', '"x.toml"', f'"{"n" * 300}"', '"counts"', "'''\n'''",
)  # fmt: skip
