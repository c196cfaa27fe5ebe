"""Where things stand: nothing overlaps or leaves its field, the use-by is the largest, and text
that does not fit is cut where everybody can see it.
"""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.errors import Mistake
from holdlog.labels import lettering, template
from holdlog.labels.faces import BARE, face
from holdlog.labels.fields import Template
from holdlog.labels.geometry import Dots, to_dots
from holdlog.labels.label import Label
from holdlog.labels.layout import Layout, LineMark, TextMark, lay_out
from holdlog.labels.raster import draw
from holdlog.labels.words import speak
from tests.labels.samples import (
    LONG_NAME,
    NINE,
    RESOLUTIONS,
    a_label,
    black_dots,
    crowded,
    every_face,
)

ALL = every_face() | crowded()
MM_PER_INCH = 25.4


def texts(layout: Layout, field: str) -> list[TextMark]:
    return [m for m in layout.marks if isinstance(m, TextMark) and m.field.startswith(field)]


def said(layout: Layout, field: str) -> str:
    return " ".join(mark.text for mark in texts(layout, field)).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("label", ALL.values(), ids=ALL)
def test_no_ink_touches_other_ink_or_leaves_its_field(
    two_by_two: Template, label: Label, dpi: int
) -> None:
    layout = lay_out(two_by_two, dpi, label)
    boxes = {field.name: to_dots(field.box, dpi) for field in two_by_two.fields}
    for i, mark in enumerate(layout.marks):
        assert mark.ink.inside(boxes[mark.field]), mark
        for other in layout.marks[:i]:
            frame = mark.field == other.field and isinstance(mark, LineMark)
            assert frame or not mark.ink.touches(other.ink), (mark, other)


@pytest.mark.parametrize("label", ALL.values(), ids=ALL)
def test_ink_is_drawn_where_the_layout_says_and_nowhere_else(
    two_by_two: Template, label: Label
) -> None:
    layout = lay_out(two_by_two, 203, label)
    image = draw(layout)
    assert image.size == (layout.width, layout.height) == (406, 406)  # 2 in x 203
    boxes = [(m.ink.x, m.ink.y, m.ink.right, m.ink.bottom) for m in layout.marks]
    for box in boxes:
        drawn = list(black_dots(image, box))
        # All four sides are reached: the box is the ink's, neither larger nor clipped.
        assert min(x for x, _ in drawn) == box[0]
        assert min(y for _, y in drawn) == box[1]
        assert max(x for x, _ in drawn) == box[2] - 1
        assert max(y for _, y in drawn) == box[3] - 1
    for box in boxes:
        image.paste(1, box)
    assert list(black_dots(image, (0, 0, *image.size))) == []


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("label", every_face().values(), ids=every_face())
def test_an_ordinary_label_needs_no_warning(two_by_two: Template, label: Label, dpi: int) -> None:
    assert lay_out(two_by_two, dpi, label).warnings == ()


@pytest.mark.parametrize("text", ["jalapeño", "ÅÇ Ñ ğ", "fjord", "SUN 7 JUN", "Q", "…"])
@pytest.mark.parametrize("px", [16, 33, 70])
def test_kept_words_lose_no_dot_at_their_edges(text: str, px: int) -> None:
    from PIL import Image, ImageDraw, ImageFont

    path = Path(lettering.__file__).parent / "fonts" / "DejaVuSansCondensed-Bold.ttf"
    font = ImageFont.truetype(path, px, layout_engine=ImageFont.Layout.BASIC)
    wide = Image.new("1", (1200, 300))
    draw_on = ImageDraw.Draw(wide)
    draw_on.fontmode = "1"
    draw_on.text((100, 150), text, fill=1, font=font, anchor="ls")
    kept = lettering.mask(text, px, True)
    assert kept.tobytes() == wide.crop(wide.getbbox()).tobytes()


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("label", ALL.values(), ids=ALL)
def test_the_use_by_or_the_state_is_the_largest_thing(
    two_by_two: Template, label: Label, dpi: int
) -> None:
    layout = lay_out(two_by_two, dpi, label)
    largest = [m for m in layout.marks if isinstance(m, TextMark) and m.field[:5] in _HEADS]
    others = [m for m in layout.marks if isinstance(m, TextMark) and m not in largest]
    assert min(m.cap for m in largest) > max(m.cap for m in others)


_HEADS = ("headl", "state")


@given(st.dates(date(2026, 6, 1), date(2032, 12, 31)))
def test_no_date_is_too_wide_to_stay_the_largest(two_by_two: Template, use_by: date) -> None:
    layout = lay_out(two_by_two, 203, a_label(item="stock", use_by=use_by))
    assert texts(layout, "headline")[0].cap > texts(layout, "item")[0].cap
    assert layout.warnings == ()


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("label", ALL.values(), ids=ALL)
def test_no_text_is_smaller_than_the_floor(two_by_two: Template, label: Label, dpi: int) -> None:
    # 1.5 mm capitals: our floor, measured by reading printed lines back with OCR. Half a dot of
    # rounding is allowed, and the height is that of a drawn H, not a number the layout claims.
    for mark in lay_out(two_by_two, dpi, label).marks:
        if isinstance(mark, TextMark):
            height = lettering.mask("H", mark.px, mark.bold).height
            assert height + 0.5 >= 1.5 * dpi / MM_PER_INCH


@pytest.mark.parametrize("dpi", RESOLUTIONS)
def test_a_name_of_eighty_characters_is_whole(two_by_two: Template, dpi: int) -> None:
    for label in crowded().values():
        layout = lay_out(two_by_two, dpi, label)
        assert said(layout, "item") == LONG_NAME
        assert not any(warning.startswith("item") for warning in layout.warnings)


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("label", crowded().values(), ids=crowded())
def test_all_nine_allergens_and_the_cautions_stand_on_every_face(
    two_by_two: Template, label: Label, dpi: int
) -> None:
    if face(label) in BARE:
        return  # a tag for the bin, and a twin whose lid has the list
    text = said(lay_out(two_by_two, dpi, label), "details")
    for allergen in (*NINE, "contains raw egg", "no temperature logged"):
        assert allergen in text


# The fourteen of Regulation (EU) No 1169/2011, Annex II, in short words.
FOURTEEN = (
    "cereals containing gluten", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk",
    "nuts", "celery", "mustard", "sesame", "sulphur dioxide", "lupin", "molluscs",
)  # fmt: skip


@pytest.mark.parametrize("dpi", RESOLUTIONS)
def test_all_fourteen_allergens_stand_on_every_face(two_by_two: Template, dpi: int) -> None:
    for label in every_face().values():
        if face(label) in BARE:
            continue
        layout = lay_out(two_by_two, dpi, replace(label, allergens=FOURTEEN))
        text = said(layout, "details")
        # Packs have to bear their wording first; what is cut there is counted and told.
        cut = [warning for warning in layout.warnings if warning.startswith("allergens")]
        assert all(allergen in text for allergen in FOURTEEN) or (cut and " more" in text)
        assert not cut or face(label) == "pack"


def test_allergens_that_do_not_fit_are_counted_on_the_label_and_named_in_a_warning(
    two_by_two: Template,
) -> None:
    many = tuple(f"allergen number {i}" for i in range(1, 31))
    layout = lay_out(two_by_two, 203, a_label(allergens=many))
    text = said(layout, "details")
    shown = [name for name in many if f"{name}," in text or f"{name} …" in text]
    assert 8 <= len(shown) < 30
    assert f"… +{30 - len(shown)} more" in text
    (warning,) = (w for w in layout.warnings if w.startswith("allergens"))
    for name in many[len(shown) :]:
        assert name in warning


def test_other_lines_give_way_before_allergens_do(two_by_two: Template) -> None:
    layout = lay_out(
        two_by_two,
        203,
        a_label(allergens=FOURTEEN, cautions=("contains raw egg", "vacuum packed, no variance")),
    )
    assert not any(w.startswith(("allergens", "cautions")) for w in layout.warnings)
    cut = [w for w in layout.warnings if w.startswith(("made", "place"))]
    text = said(layout, "details")
    assert cut or ("Made" in text and "walk-in" in text)


def test_a_name_that_cannot_fit_is_cut_visibly_and_said(two_by_two: Template) -> None:
    name = " ".join(f"word{i}" for i in range(60))
    layout = lay_out(two_by_two, 203, a_label(item=name))
    shown = said(layout, "item")
    assert shown.endswith("…")
    assert name.startswith(shown[:-1])
    (warning,) = layout.warnings
    assert warning.startswith("item: cut to fit, not printed: ")
    assert shown[:-1] + warning.removeprefix("item: cut to fit, not printed: ") == name.replace(
        shown[:-1] + " ", shown[:-1], 1
    )


@pytest.mark.parametrize("language", ["en", "es", "fr"])
def test_a_reason_that_is_cut_is_told_without_its_caption(language: str) -> None:
    """The warning names the part itself, once."""
    label = a_label(held="It read 47 °F in the walk-in, and nobody knows since when. " * 4)
    told = [
        warning
        for name in template.names()
        if (form := template.find(name)).offers(face(label))
        for warning in lay_out(form, 203, label, speak((language,))).warnings
        if warning.startswith("reason")
    ]
    assert any("not printed: It read" in warning for warning in told)
    assert [w for w in told if w.count("reason") > 1 or "motivo" in w or "raison" in w] == []


def test_a_word_wider_than_the_label_is_broken_not_lost(two_by_two: Template) -> None:
    word = "Lebensmittelhygienekontrollaufzeichnungssuppe"
    layout = lay_out(two_by_two, 203, a_label(item=word))
    assert said(layout, "item").replace(" ", "") == word
    assert layout.warnings == ()


@pytest.mark.parametrize(
    "name", ["jalapeño crème brûlée", "Škubánky s mákem", "phở bò", "борщ", "φασολάδα", "½ ≤ µ"]
)
def test_accents_and_other_alphabets_are_printed_as_they_are(
    two_by_two: Template, name: str
) -> None:
    layout = lay_out(two_by_two, 203, a_label(item=name))
    assert said(layout, "item") == name
    assert layout.warnings == ()


def test_a_letter_and_its_accent_apart_print_like_the_two_together(two_by_two: Template) -> None:
    import unicodedata

    whole = lay_out(two_by_two, 203, a_label(item="crème brûlée"))
    apart = lay_out(two_by_two, 203, a_label(item=unicodedata.normalize("NFD", "crème brûlée")))
    assert apart == whole


@pytest.mark.parametrize("name", ["麻婆豆腐", "ต้มยำ", "egg 🥚 salad"])
def test_signs_the_font_lacks_become_question_marks_with_a_warning(
    two_by_two: Template, name: str
) -> None:
    layout = lay_out(two_by_two, 203, a_label(item=name))
    assert "?" in said(layout, "item")
    missing = [sign for sign in name if ord(sign) > 0x0E00]
    (warning,) = layout.warnings
    assert warning.startswith("item: the label font has no sign for ")
    assert all(sign in warning for sign in missing)
    assert not any(sign in said(layout, "item") for sign in missing)


def test_a_sign_missing_in_an_allergen_is_told_too(two_by_two: Template) -> None:
    layout = lay_out(two_by_two, 203, a_label(allergens=("milk", "卵")))
    assert "milk, ?" in said(layout, "details")
    assert any(w.startswith("allergens: the label font") for w in layout.warnings)


@pytest.mark.parametrize("name", ["حمص", "חומוס", "hummus حمص"])
def test_right_to_left_letters_are_refused_with_the_reason(two_by_two: Template, name: str) -> None:
    with pytest.raises(Mistake, match="run from right to left"):
        lay_out(two_by_two, 203, a_label(item=name))


def test_line_ends_and_invisible_characters_in_a_name_do_no_harm(two_by_two: Template) -> None:
    layout = lay_out(two_by_two, 203, a_label(item="white\nbean\u200b,\tcooked\x00"))
    assert said(layout, "item") == "white bean, cooked"


@given(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=120),
    st.lists(st.text(max_size=30), max_size=12),
)
def test_whatever_is_typed_the_label_stays_whole_or_is_refused(
    two_by_two: Template, name: str, allergens: list[str]
) -> None:
    label = a_label(item=name, allergens=tuple(allergens))
    try:
        layout = lay_out(two_by_two, 203, label)
    except Mistake as mistake:
        assert mistake.code == "right-to-left"  # noqa: PT017
        return
    paper = Dots(0, 0, layout.width, layout.height)
    assert all(mark.ink.inside(paper) for mark in layout.marks)
    assert texts(layout, "headline")[0].text.endswith("JUN")
    draw(layout)


def test_the_same_label_gives_the_same_layout(two_by_two: Template) -> None:
    assert lay_out(two_by_two, 300, a_label()) == lay_out(two_by_two, 300, a_label())


@pytest.mark.parametrize("dpi", [0, 96, 202, 1201])
def test_a_resolution_no_label_printer_has_is_refused(two_by_two: Template, dpi: int) -> None:
    with pytest.raises(Mistake, match="dots per inch"):
        lay_out(two_by_two, dpi, a_label())


@pytest.mark.parametrize("dpi", [203, 300, 406, 600])
def test_every_usual_resolution_works(two_by_two: Template, dpi: int) -> None:
    layout = lay_out(two_by_two, dpi, a_label())
    assert layout.width == 2 * dpi
    assert layout.warnings == ()


def test_a_week_of_dates_differs_in_the_picture(two_by_two: Template) -> None:
    pictures = {
        draw(
            lay_out(two_by_two, 203, a_label(use_by=date(2026, 6, 1) + timedelta(days=i)))
        ).tobytes()
        for i in range(7)
    }
    assert len(pictures) == 7


@pytest.mark.parametrize("cautions", [("contains raw egg",), ("contains raw egg",) * 6])
def test_a_line_that_gave_way_leaves_its_mark_on_the_label(
    two_by_two: Template, cautions: tuple[str, ...]
) -> None:
    label = a_label(item=LONG_NAME, allergens=FOURTEEN, cautions=cautions)
    layout = lay_out(two_by_two, 203, label)
    text = said(layout, "details")
    assert any(warning.startswith("place: ") for warning in layout.warnings)
    assert "walk-in" not in text
    _, listed = text.split("ALLERGENS")
    assert "…" in text
    assert all(allergen in listed for allergen in FOURTEEN)


def test_half_a_date_is_never_printed(two_by_two: Template) -> None:
    fields = tuple(
        replace(field, box=replace(field.box, width=20)) if field.name == "headline" else field
        for field in two_by_two.fields
    )
    with pytest.raises(Mistake, match="'headline' of the template is too small for 'SUN 7 JUN'"):
        lay_out(replace(two_by_two, fields=fields), 203, a_label())


def test_a_long_deadline_takes_a_second_line_in_its_box(two_by_two: Template) -> None:
    label = a_label(
        "cooling",
        cooling_limits=("135 °F", "70 °F", "41 °F"),
        cooling_deadlines=("23:30 Mon", "01:30 Tue", "05:30 Tue"),
    )
    layout = lay_out(two_by_two, 203, label)
    assert layout.warnings == ()
    assert "70 °F by 01:30 Tue, at:" in said(layout, "writing")


def test_a_name_that_fits_one_line_a_little_smaller_is_not_wrapped(two_by_two: Template) -> None:
    layout = lay_out(two_by_two, 203, a_label(item="jalapeño crème brûlée"))
    assert len(texts(layout, "item")) == 1
