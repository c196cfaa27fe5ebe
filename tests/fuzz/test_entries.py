"""A journal that somebody else wrote: an entry that cannot be understood is a Fault, and a file
that cannot be verified is not whole.
"""

import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.chain import FIRST, Entry, link
from holdlog.core.errors import Fault
from holdlog.core.events import KINDS
from holdlog.core.journal_lines import LONGEST_LINE, entry_of, line_of, verify
from holdlog.core.moments import Instant
from holdlog.journal.codec import SHAPES, encode, fact_of
from tests.fuzz.hostile import UNSEEN, attempt, clear, damaged, searched, texts

_KEYS = sorted({key for shape in SHAPES.values() for key in shape})
_WORDS = ("F", "C", "4h", "walk-in", "41 F", "-0 C", "NaN C", "1E+999999 C", "2 l", "1E-99 kg",
          "2026-06-05", "20260605", "9999-12-31", "7", "7.0", "1_0", "\u0663", " 7", "Infinity", "",
          "\ud800", "\x1b[2J")  # fmt: skip
_values = st.recursive(
    st.one_of(
        st.sampled_from(_WORDS), texts, st.booleans(), st.none(), st.integers(), st.floats(),
        st.sampled_from([2**53, 2**63, -(2**63), 10**400, -62135596800001, 253402300800000]),
    ),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from(_KEYS), inner, max_size=4),
    max_leaves=8,
)  # fmt: skip


@st.composite
def bodies(draw: st.DrawFn) -> tuple[str, str]:
    """A kind and a body with mostly its own keys, of which some hold what they may not."""
    kind, version = draw(st.sampled_from(sorted(SHAPES)))
    shape = SHAPES[kind, version]
    keys = draw(st.sets(st.sampled_from([*shape, "x"]), max_size=6))
    return kind, json.dumps({key: draw(_values) for key in sorted(keys)})


def entry(kind: str, body: str, version: int = 1, **more: Any) -> Entry:
    return Entry(more.pop("site", "Tern & Tide"), more.pop("number", 7), kind, version, Instant(0),
                 Instant(0), "MK", "", more.pop("subject", ""), body, FIRST)  # fmt: skip


def understood(kind: str, body: str, version: int = 1) -> None:
    fact = attempt(lambda: fact_of(entry(kind, body, version)))
    if fact is not None:
        assert type(fact) is KINDS[kind]
        assert fact_of(entry(*_again(fact))) == fact


def _again(fact: Any) -> tuple[str, str, int]:
    kind, version, body = encode(fact)
    return kind, body, version


@given(bodies())
@searched(500)
def test_a_body_is_understood_or_a_fault(made: tuple[str, str]) -> None:
    understood(*made)


@given(bodies(), st.data())
@searched(200)
def test_a_spoilt_body_is_understood_or_a_fault(made: tuple[str, str], data: st.DataObject) -> None:
    kind, body = made
    spoilt = data.draw(damaged(body.encode()))
    understood(kind, spoilt.decode("utf-8", "replace"))


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("prepared", "[" * 100_000), ("prepared", '{"food":' * 50_000),
        ("prepared", '{"food":{},"food":{}}'), ("voided", '{"entry":' + "9" * 5000 + "}"),
        ("voided", '{"entry":1e3,"why":"x"}'), ("voided", '{"entry":NaN,"why":"x"}'),
        ("voided", '{"entry":true,"why":"x"}'), ("voided", '{"entry":1,"why":"\\ud800"}'),
        ("cooling", '{"temperature":"1E+999999 C"}'), ("x\x1b[2J" * 999, "{}"), ("", ""),
        ("voided", '{"entry":1,"why":"' + "x" * 300 + '","' + "k" * 100_000 + '":1}'),
        ("recalled", "null"), ("recalled", "7"), ("recalled", '"' + "a" * 100_000 + '"'),
    ],
    ids=lambda text: text[:30].encode("unicode_escape").decode(),
)  # fmt: skip
def test_what_cannot_be_understood_is_a_fault_that_names_the_entry(kind: str, body: str) -> None:
    with pytest.raises(Fault, match=r"^Entry 7 of Tern & Tide: ") as caught:
        fact_of(entry(kind, body))
    clear(caught.value)
    assert len(caught.value.line()) < 1_000


# ---- the file of lines -----------------------------------------------------------------------


def chain(*bodies: str) -> bytes:
    lines, previous = "", FIRST
    for number, body in enumerate(bodies, 1):
        draft = Entry("Tern & Tide", number, "recalled", 1, Instant(number), Instant(number), "MK",
                      "", "", body, previous)  # fmt: skip
        previous = link(draft)
        lines += line_of(Entry(**{**_parts(draft), "hash": previous}))
    return lines.encode()


def _parts(made: Entry) -> dict[str, Any]:
    return {name: getattr(made, name) for name in Entry.__dataclass_fields__}


WHOLE = chain('{"what":"a"}', '{"what":"é\\u001b"}', "{}")


@given(damaged(WHOLE))
@searched(300)
def test_a_spoilt_file_is_never_whole_unless_nothing_of_it_changed(data: bytes) -> None:
    found = verify(data.splitlines(keepends=True))
    assert not UNSEEN.search(found.fault)
    assert len(found.fault) < 500
    # The same data in other words (1.0 is no 1, but a blank between two keys is nothing).
    same = (
        data.count(b"\n") <= found.count
        and [entry_of(line) for line in _kept(data)]
        == [entry_of(line) for line in _kept(WHOLE)][: found.count]
        if not found.fault
        else False
    )
    assert found.fault or same


def _kept(data: bytes) -> list[bytes]:
    return data.split(b"\n")[:-1]


@pytest.mark.parametrize(
    "line",
    [
        b"[" * 100_000 + b"\n", b"{}" + b"\n", b"\xff\n", b"\n", b"x", b"x" * (LONGEST_LINE + 1),
        WHOLE.split(b"\n")[0].replace(b'"number":1', b'"number":' + b"9" * 5000) + b"\n",
        WHOLE.split(b"\n")[0].replace(b'"number":1', b'"number":' + b"9" * 300) + b"\n",
        WHOLE.split(b"\n")[0].replace(b"Tern", b"\\ud800") + b"\n",
        WHOLE.split(b"\n")[0].replace(b'"number":1', b'"number":NaN') + b"\n",
    ],
    ids=lambda line: f"{line[:20]!r} {len(line)}",
)  # fmt: skip
def test_a_line_that_is_no_entry_is_said_to_be_none(line: bytes) -> None:
    found = verify([line])
    assert found.fault.startswith("Line 1 ")
    assert not UNSEEN.search(found.fault)
    assert len(found.fault) < 200


def test_an_exact_number_is_written_as_it_was_typed() -> None:
    """The longest that people type are far within what the journal takes."""
    from holdlog.core.amounts import read_amount
    from holdlog.core.events import Split

    made = Split(("A2345678",), "walk-in", read_amount("9999999.9999 fl oz"))
    assert fact_of(entry(*_again(made))) == made
    assert made.amount is not None
    assert made.amount.number == Decimal("9999999.9999")
