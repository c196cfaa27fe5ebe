"""The chain: whatever is edited, put in, taken out or moved, shows."""

from dataclasses import fields, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.chain import FIRST, Entry, first_fault, link
from holdlog.core.moments import Instant


def chain(length: int = 5) -> list[Entry]:
    entries: list[Entry] = []
    previous = FIRST
    for number in range(1, length + 1):
        entry = Entry(
            site="tern", number=number, kind="used", version=1, at=Instant(number * 1000),
            recorded_at=Instant(number * 1000 + 5), by="MK", station="pass", subject="H7K39QX2",
            body='{"ended_as": "used"}', previous=previous,
        )  # fmt: skip
        entry = replace(entry, hash=link(entry))
        entries.append(entry)
        previous = entry.hash
    return entries


def test_an_untouched_chain_is_sound() -> None:
    assert first_fault(chain()) is None
    assert first_fault([]) is None


@pytest.mark.parametrize("name", [each.name for each in fields(Entry)])
@pytest.mark.parametrize("place", [0, 2, 4])
def test_any_field_of_any_entry_edited_shows(name: str, place: int) -> None:
    entries = chain()
    was: Any = getattr(entries[place], name)
    becomes: Any = was + 1 if isinstance(was, int) else was[:-1] + chr(ord(was[-1]) ^ 1)
    entries[place] = replace(entries[place], **{name: becomes})
    fault = first_fault(entries)
    assert fault is not None
    assert str(place + 1) in fault


@pytest.mark.parametrize("place", [0, 2, 3])
def test_an_entry_taken_out_shows(place: int) -> None:
    entries = chain()
    del entries[place]
    assert first_fault(entries) == (
        f"entry {place + 1} is missing (the next one found is {place + 2})"
    )


def test_an_edit_with_its_own_hash_made_to_fit_shows_in_the_next_entry() -> None:
    entries = chain()
    edited = replace(entries[2], body="{}")
    entries[2] = replace(edited, hash=link(edited))
    assert first_fault(entries) == "entry 4 does not follow the one before it"


def test_two_entries_swapped_show() -> None:
    entries = chain()
    entries[1], entries[2] = entries[2], entries[1]
    assert first_fault(entries) is not None


def test_a_cut_tail_does_not_show_by_itself() -> None:
    # Why the head goes on paper.
    assert first_fault(chain()[:3]) is None


@given(st.text(max_size=9), st.text(max_size=9), st.integers(0, 9))
def test_text_cannot_move_from_one_field_to_the_next(by: str, station: str, cut: int) -> None:
    entry = replace(chain(1)[0], by=by, station=station)
    both = by + station
    moved = replace(entry, by=both[:cut], station=both[cut:])
    assert (link(entry) == link(moved)) is (entry == moved)
