"""Every template that comes with the program, with every label there is: what a reader meets.

``test_every_label.py`` looks at the symbols of the same labels.
"""

from collections.abc import Iterator
from dataclasses import replace

import pytest
from PIL import Image

from holdlog.core.errors import Mistake
from holdlog.labels import lettering, press, template
from holdlog.labels.content import say
from holdlog.labels.faces import face
from holdlog.labels.geometry import to_dots
from holdlog.labels.growth import grown
from holdlog.labels.label import Label
from holdlog.labels.layout import Layout, LineMark, TextMark, lay_out
from holdlog.labels.raster import draw
from holdlog.labels.words import ENGLISH, loose, speak
from tests.labels.samples import (
    LONG_NAME,
    NINE,
    TWO_BARRIERS,
    a_label,
    crowded,
    every_face,
    longest,
    of,
    two_scripts,
)

NAMES = template.names()
UPRIGHT = tuple(name for name in NAMES if not template.find(name).turned)
RESOLUTIONS = (203, 300, 600)


def said(layout: Layout) -> str:
    """All text of a label, with plain spaces."""
    lines = [mark.text for mark in layout.marks if isinstance(mark, TextMark)]
    return " ".join(lines).replace("\N{NO-BREAK SPACE}", " ")


def offered(name: str) -> Iterator[tuple[str, Label]]:
    """Every label that a template offers."""
    found = template.find(name)
    for key, label in {**every_face(), **longest(), **crowded()}.items():
        if found.offers(face(label)):
            yield key, label


def test_all_the_promised_sizes_are_there() -> None:
    stocks = {name: template.find(name).stock for name in NAMES}
    assert stocks == {
        "two-by-two": (50.8, 50.8),
        "two-by-two-turned": (50.8, 50.8),
        "two-by-one": (50.8, 25.4),
        "two-by-one-turned": (25.4, 50.8),
        "one-by-one": (25.4, 25.4),
        "62x40": (62.0, 40.0),
        "62x40-turned": (40.0, 62.0),
        "62-continuous": (62.0, 44.0),
        "50x30": (50.0, 30.0),
        "50x30-turned": (30.0, 50.0),
        "tray": (101.6, 50.8),
    }


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("name", UPRIGHT)
def test_no_ink_touches_other_ink_and_no_text_is_below_the_floor(name: str, dpi: int) -> None:
    for key, label in offered(name):
        marks = lay_out(template.find(name), dpi, label).marks
        for i, mark in enumerate(marks):
            if isinstance(mark, TextMark):
                # 1.5 mm capitals; half a dot of rounding is allowed.
                height = lettering.mask("H", mark.px, mark.bold).height
                assert height + 0.5 >= 1.5 * dpi / 25.4, (key, mark)
            for other in marks[:i]:
                frame = mark.field == other.field and isinstance(other, LineMark)
                assert frame or not mark.ink.touches(other.ink), (key, mark, other)


@pytest.mark.parametrize("name", UPRIGHT)
def test_ink_stays_in_its_field(name: str) -> None:
    found = template.find(name)
    if found.longest is not None:
        return  # its fields move: see the tests of the label that grows
    boxes = {field.name: to_dots(field.box, 203) for field in found.fields}
    for key, label in offered(name):
        for mark in lay_out(found, 203, label).marks:
            assert mark.ink.inside(boxes[mark.field]), (key, mark)


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("name", UPRIGHT)
def test_the_use_by_or_the_state_is_the_largest_thing(name: str, dpi: int) -> None:
    found = template.find(name)
    heads = {field.name for field in found.fields if "headline" in field.show}
    for key, label in offered(name):
        text = [m for m in lay_out(found, dpi, label).marks if isinstance(m, TextMark)]
        largest = [mark for mark in text if mark.field in heads]
        others = [mark for mark in text if mark.field not in heads]
        assert min(m.cap for m in largest) > max(m.cap for m in others), key


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("name", UPRIGHT)
def test_under_time_control_the_hour_is_the_largest_thing_on_the_label(name: str, dpi: int) -> None:
    layout = lay_out(template.find(name), dpi, of("time-control"))
    marks = [mark for mark in layout.marks if isinstance(mark, TextMark)]
    largest = max(marks, key=lambda mark: mark.cap)
    assert largest.text == "19:00"
    assert sum(mark.cap == largest.cap for mark in marks) == 1
    assert "USE OR DISCARD BY" in said(layout)
    assert "MON 1 JUN" in said(layout)


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("name", UPRIGHT)
def test_the_wording_a_pack_must_bear_is_whole_or_the_label_is_refused(name: str, dpi: int) -> None:
    found, label = template.find(name), of("reduced-oxygen")
    if not found.offers("pack"):
        with pytest.raises(Mistake, match="no room for what a reduced-oxygen label") as refused:
            lay_out(found, dpi, label)
        (larger,) = [other for other in NAMES if repr(other) in refused.value.hint]
        assert template.find(larger).offers("pack")
        assert template.find(larger).width * template.find(larger).height > (
            found.width * found.height
        )
        return
    for key, each in offered(name):
        if face(each) == "pack" and each.pack_wording:
            layout = lay_out(found, dpi, each)
            framed = [mark for mark in layout.marks if mark.field == "wording"]
            words = loose(" ".join(mark.text for mark in framed if isinstance(mark, TextMark)))
            for sentence in TWO_BARRIERS:
                assert sentence in words, key
            assert "Packed Mon 1 Jun 2026 15:20" in words
            # FDA Food Code 2022, 3-502.12(B)(3): in bold type on a contrasting background.
            assert all(mark.bold for mark in framed if isinstance(mark, TextMark))
            assert sum(isinstance(mark, LineMark) for mark in framed) == 4


def test_wording_too_long_for_its_frame_is_refused_and_never_cut() -> None:
    label = replace(of("reduced-oxygen"), pack_wording=TWO_BARRIERS * 8)
    with pytest.raises(Mistake, match="'wording' of the template is too small"):
        lay_out(template.find("two-by-two"), 203, label)


def test_another_label_on_a_pack_says_that_the_wording_is_not_on_it() -> None:
    label = replace(of("frozen"), pack_wording=TWO_BARRIERS)
    (warning,) = lay_out(template.find("two-by-two"), 203, label).warnings
    assert "leave the pack's own label on it" in warning


@pytest.mark.parametrize("name", UPRIGHT)
def test_an_ordinary_label_loses_nothing_but_what_its_template_leaves_out(name: str) -> None:
    found = template.find(name)
    for key, label in every_face().items():
        if not found.offers(face(label)) or (key, name) == ("hold", "one-by-one"):
            continue
        warnings = lay_out(found, 203, label).warnings
        assert all("not on this label" in warning for warning in warnings), (key, warnings)
        assert not warnings or "allergens" in found.leaves_out


def test_allergens_that_a_template_leaves_out_are_named_to_the_cook() -> None:
    label = a_label(allergens=("milk", "egg"), cautions=("contains raw egg",))
    warnings = lay_out(template.find("one-by-one"), 203, label).warnings
    assert "allergens not on this label: milk, egg" in warnings
    assert "cautions not on this label: contains raw egg" in warnings
    bare = lay_out(template.find("one-by-one"), 203, a_label(allergens=()))
    assert bare.warnings == ()


@pytest.mark.parametrize("name", UPRIGHT)
def test_names_in_two_scripts_are_printed_as_they_are(name: str) -> None:
    layout = lay_out(template.find(name), 203, two_scripts())
    assert two_scripts().item in said(layout)


@pytest.mark.parametrize("name", UPRIGHT)
def test_a_long_name_is_whole_or_cut_where_everybody_sees_it(name: str) -> None:
    for key, label in longest().items():
        if not template.find(name).offers(face(label)):
            continue
        layout = lay_out(template.find(name), 203, label)
        cut = [warning for warning in layout.warnings if warning.startswith("item: ")]
        assert (label.item in said(layout)) != bool(cut), key
        assert not cut or "…" in said(layout)


@pytest.mark.parametrize(
    "languages", [("es",), ("fr",), ("en", "es"), ("en", "fr"), ("es", "fr"), ("fr", "es")]
)
@pytest.mark.parametrize("name", UPRIGHT)
def test_every_label_names_its_item_in_every_language(
    name: str, languages: tuple[str, ...]
) -> None:
    words = speak(languages)
    for key, label in {**every_face(), **longest()}.items():
        if template.find(name).offers(face(label)):
            layout = lay_out(template.find(name), 203, label, words)
            assert label.item.split()[0] in said(layout), key


# --- turned -----------------------------------------------------------------------------------


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("name", [name for name in NAMES if template.find(name).turned])
def test_a_turned_label_is_the_upright_one_a_quarter_round(name: str, dpi: int) -> None:
    turned, upright = template.find(name), template.find(name.removesuffix("-turned"))
    assert turned.stock == upright.stock[::-1]
    for label in (of("prepared"), of("cooling"), of("time-control")):
        image = press.render(turned, dpi, label).image
        plain = press.render(upright, dpi, label).image
        assert image.size == plain.size[::-1]
        back = image.transpose(Image.Transpose.ROTATE_90)
        assert back.tobytes() == plain.tobytes()


# --- as long as it needs ----------------------------------------------------------------------


def test_a_label_on_a_roll_without_gaps_is_as_long_as_its_text_needs() -> None:
    found = template.find("62-continuous")
    plain = lay_out(found, 203, a_label())
    full = lay_out(found, 203, crowded()["crowded prepared"])
    assert plain.height == round(found.height * 203 / 25.4)
    assert plain.height < full.height <= round((found.longest or 0) * 203 / 25.4)
    assert full.warnings == ()
    text = said(full)
    for words in (LONG_NAME, *NINE, "contains raw egg", "no temperature logged"):
        assert words in text
    assert draw(full).height == full.height


def test_it_stops_at_its_longest_and_shows_what_was_cut() -> None:
    found = template.find("62-continuous")
    many = tuple(f"allergen number {i}" for i in range(150))
    layout = lay_out(found, 203, a_label(allergens=many))
    assert layout.height == round((found.longest or 0) * 203 / 25.4)
    assert " more" in said(layout)
    (warning,) = [each for each in layout.warnings if each.startswith("allergens: cut to fit")]
    assert "allergen number 149" in warning


def test_fields_below_the_one_that_grows_move_down_together() -> None:
    found = template.find("62-continuous")
    label = crowded()["crowded prepared"]
    longer = grown(found, "dated", say(label, ENGLISH), 203)
    more = longer.height - found.height
    before = {field.name: field.box for field in found.fields}
    after = {field.name: field.box for field in longer.fields}
    assert more > 0
    for name in ("bars", "qr", "code", "small-print"):
        assert after[name].y == pytest.approx(before[name].y + more)
        assert after[name].height == before[name].height
