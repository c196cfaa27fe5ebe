"""Heads on paper: how they are read, what they show, and where they stand.

The form is ours. That a kept hash pins all entries before it rests on SHA-256 (FIPS 180-4) and on
the chain, which tests/journal checks.
"""

import re
from dataclasses import replace

import pytest

from holdlog.core.chain import WHOLE, show_head
from holdlog.core.errors import BadFile, Mistake
from holdlog.core.heads import KeptHead, read_head, read_heads
from holdlog.kitchen import printing
from holdlog.kitchen.label import ready
from holdlog.kitchen.proof import compare
from holdlog.labels import template
from holdlog.labels.faces import face
from holdlog.labels.layout import Layout, TextMark, lay_out
from holdlog.labels.words import speak
from tests.kitchen.shop import Shop
from tests.labels.samples import a_label, crowded, every_face

FULL = "9f3a1c22" + "0123456789abcdef" * 3 + "01234567"


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("#1204 9f3a1c22", KeptHead(1204, "9f3a1c22")),
        ("1204 9F3A1C22", KeptHead(1204, "9f3a1c22")),
        (" Journal  #1204 9f3a1c22 ", KeptHead(1204, "9f3a1c22")),
        ("Journal head #1204 " + FULL, KeptHead(1204, FULL)),
        ("#1204 9f3a1c220…", KeptHead(1204, "9f3a1c220")),
        ("1204 9f3a1c22...", KeptHead(1204, "9f3a1c22")),
        (FULL, KeptHead(0, FULL)),
        ("12041204", KeptHead(0, "12041204")),
        ("12 12041204", KeptHead(12, "12041204")),
    ],
)
def test_a_head_is_read_as_it_is_printed(typed: str, kept: KeptHead) -> None:
    assert read_head(typed) == kept
    assert read_head(kept.shown) == kept


@pytest.mark.parametrize(
    "typed",
    ["", "1204", "#1204", "#1204 9f3a1c2", "9f3a1c2", "#1204 9f3a1c2g", "#0 9f3a1c22", FULL + "0",
     "#-1 9f3a1c22", "#1204 9f3a 1c22", "#1204 \uff19f3a1c22", "#" + "9" * 40 + " 9f3a1c22"],
)  # fmt: skip
def test_too_little_of_a_head_or_something_else_is_refused(typed: str) -> None:
    with pytest.raises(Mistake) as told:
        read_head(typed)
    assert told.value.code == "bad-head"
    assert "#1204 9f3a1c22" in told.value.hint


def test_every_wrong_line_of_a_file_of_heads_is_named() -> None:
    assert len(read_heads("heads.txt", ["#1 9f3a1c22", "", f"2 {FULL}"])) == 2
    with pytest.raises(BadFile) as told:
        read_heads("heads.txt", ["#1 9f3a1c22", "lid", "", "#3 9f"])
    assert [fault.split(": ")[1] for fault in told.value.faults] == ["line 2", "line 4"]
    with pytest.raises(Mistake, match="holds no head"):
        read_heads("heads.txt", ["", " "])


def test_a_label_bears_the_head_before_its_own_entry_and_a_reprint_that_of_then(
    shop: Shop,
) -> None:
    code = shop.tub(amount="2 l")
    printed = []
    for _ in range(2):
        last = shop.entries()[-1]
        (each,) = printing.write_by_hand(shop.kitchen, "mk", [code])
        assert each.label.journal_head == show_head(last.number, last.hash)
        assert shop.entries()[-1].number == last.number + 1
        printed.append(read_head(each.label.journal_head))
    assert printed[0] != printed[1]
    assert [each.ok for each in compare(shop.kitchen, printed)] == [True, True]


def test_what_others_write_while_a_label_is_made_does_not_spoil_it(shop: Shop) -> None:
    """Its head is older by then, which is no other label: nothing is printed in vain."""
    code = shop.tub(amount="2 l")
    labels = printing.look_at(shop.kitchen, [code])
    shop.tub("garlic oil")
    printing.record(shop.kitchen, "mk", labels, "two-by-two")
    with shop.db.reading() as conn:
        assert ready(shop.kitchen, conn, code).label.journal_head != labels[0].label.journal_head


def test_a_head_shows_what_it_can_of_a_chain_that_breaks_later(shop: Shop) -> None:
    shop.tub()
    number = shop.entries()[-1].number
    early, last = shop.entries()[0], shop.entries()[-1]
    heads = [
        read_head(show_head(each.number, each.hash, signs))
        for each, signs in ((early, 8), (last, WHOLE))
    ]
    heads.append(replace(heads[0], signs=last.hash[:8]))
    heads.append(KeptHead(number + 9, "9f3a1c22"))
    heads.append(KeptHead(0, last.hash))
    assert [each.ok for each in compare(shop.kitchen, heads)] == [True, True, False, False, True]
    found = compare(shop.kitchen, heads)
    assert (found[2].instead, found[3].count) == (early.hash, number)


# --- on labels --------------------------------------------------------------------------------

HEAD = "#1204 9f3a1c22"
CARRY = {"two-by-two", "62x40", "62-continuous", "tray"}
UPRIGHT = [name for name in template.names() if not template.find(name).turned]


def text_of(layout: Layout) -> str:
    lines = [mark.text for mark in layout.marks if isinstance(mark, TextMark)]
    return " ".join(lines).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("name", UPRIGHT)
def test_labels_with_room_for_it_bear_the_head_whole_and_others_say_that_they_do_not(
    name: str,
) -> None:
    found = template.find(name)
    assert ("journal-head" in found.leaves_out) == (name not in CARRY)
    for key, label in {**every_face(), **crowded()}.items():
        if found.offers(face(label)):
            bears = name in CARRY and not (name == "two-by-two" and label.twin)
            assert (HEAD in text_of(lay_out(found, 203, label))) == bears, key


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("name", sorted(CARRY))
def test_the_head_takes_nothing_from_the_rest_of_a_label(name: str, dpi: int) -> None:
    """All else stands where it stands without it, as large; the small print says as much."""
    found = template.find(name)
    for key, label in {**every_face(), **crowded()}.items():
        if not found.offers(face(label)):
            continue
        with_head, without = (
            lay_out(found, dpi, each) for each in (label, replace(label, journal_head=""))
        )
        small = ("small-print", "journal-head")
        rest = [
            [mark for mark in each.marks if mark.field not in small]
            for each in (with_head, without)
        ]
        assert rest[0] == rest[1], key
        assert with_head.warnings == without.warnings, key
        assert ("FDA Food Code 2022" in text_of(with_head)) == (
            "FDA Food Code 2022" in text_of(without)
        ), key
        sizes = {m.cap for m in with_head.marks if isinstance(m, TextMark) and m.field in small}
        others = {m.cap for m in with_head.marks if isinstance(m, TextMark)}
        assert not sizes or min(sizes) >= 1.5 * dpi / 25.4 - 0.5
        assert not sizes or max(sizes) <= min(others) + 1


@pytest.mark.parametrize("languages", [("es",), ("fr",), ("en", "es")])
def test_a_head_without_room_goes_whole_and_the_authority_keeps_the_last_word(
    languages: tuple[str, ...],
) -> None:
    book = "California Retail Food Code as amended 1 January 2026"
    for name in UPRIGHT:
        label = a_label(stands_on=book, journal_head="#12345678 9f3a1c22")
        layout = lay_out(template.find(name), 203, label, speak(languages))
        bare = lay_out(template.find(name), 203, replace(label, journal_head=""), speak(languages))
        text = text_of(layout)
        assert ("9f3a1c22" in text) == bool(re.search(r"#12345678 9f3a1c22", text)), name
        assert (book in text) == (book in text_of(bare)), name
        assert layout.warnings == bare.warnings
