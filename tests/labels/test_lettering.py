"""Signs that the label font lacks: set in a font of the kitchen's, else a mark and a warning."""

import unicodedata
from importlib import resources
from pathlib import Path

import pytest
from fontTools.fontBuilder import FontBuilder  # type: ignore[import-untyped]
from fontTools.pens.ttGlyphPen import TTGlyphPen  # type: ignore[import-untyped]
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
from PIL import Image

from holdlog.core.errors import Mistake
from holdlog.labels import lettering, press
from holdlog.labels.layout import Layout, TextMark, lay_out
from holdlog.labels.raster import draw
from holdlog.labels.template import Template
from holdlog.labels.typefaces import Fonts, check, runs
from tests.labels.samples import a_label

TOFU = "豆"
RAISED = "腐"
KI = "\u0915\u093f"  # Devanagari: its vowel sign stands before its letter

# A font with real letters which DejaVu Sans Condensed lacks: circled ones, U+24B6 and on.
STIX = Path(str(resources.files("matplotlib"))) / "mpl-data" / "fonts" / "ttf" / "STIXGeneral.ttf"


@pytest.fixture(scope="session")
def bricks(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A font of two signs whose ink is known by construction, in a thousand units to the em.

    ``TOFU`` is a solid square of 800 units on the baseline, 100 units from the left of its 1000;
    ``RAISED`` the same square, 200 units higher.
    """

    def block(x: int, y: int, side: int) -> object:
        pen = TTGlyphPen(None)
        pen.moveTo((x, y))
        for corner in ((x, y + side), (x + side, y + side), (x + side, y)):
            pen.lineTo(corner)
        pen.closePath()
        return pen.glyph()

    font = FontBuilder(1000)
    names = [".notdef", "tofu", "raised"]
    font.setupGlyphOrder(names)
    font.setupCharacterMap({ord(sign): "tofu" for sign in TOFU + KI} | {ord(RAISED): "raised"})
    font.setupGlyf(
        {".notdef": block(0, 0, 300), "tofu": block(100, 0, 800), "raised": block(100, 200, 800)}
    )
    font.setupHorizontalMetrics({".notdef": (400, 0), "tofu": (1000, 100), "raised": (1000, 100)})
    font.setupHorizontalHeader(ascent=1000, descent=-200)
    font.setupNameTable({"familyName": "Bricks", "styleName": "Regular"})
    font.setupOS2()
    font.setupPost()
    path = tmp_path_factory.mktemp("fonts") / "bricks.ttf"
    font.save(path)
    return path


def said(layout: Layout, field: str) -> str:
    """The text of a field, as one line with ordinary spaces."""
    texts = [m.text for m in layout.marks if isinstance(m, TextMark) and m.field == field]
    return " ".join(texts).replace("\N{NO-BREAK SPACE}", " ")


def laid_out(template: Template, name: str, *fonts: Path) -> Layout:
    return lay_out(template, 203, a_label(item=name), fonts=fonts)


# ---- a font that has the sign --------------------------------------------------------------------


def test_a_sign_is_set_in_the_kitchens_font_exactly_where_that_font_puts_it(bricks: Path) -> None:
    for sign, raised in ((TOFU, 0), (RAISED, 10)):
        assert lettering.printable(sign, (bricks,)) == (sign, ())
        # 50 dots to the em: 40 dots square, 5 from the left, standing on the baseline.
        box = (5, -40 - raised, 45, -raised)
        assert lettering.ink(sign, 50, True, (bricks,)) == box
        picture = lettering.mask(sign, 50, True, (bricks,))
        assert picture.size == (40, 40)
        assert picture.tobytes() == b"\xff" * 200


def test_two_fonts_stand_side_by_side_on_one_baseline(bricks: Path) -> None:
    px, fonts = 50, (bricks,)
    text = f"H{TOFU}H"
    ink = lettering.ink(text, px, True, fonts)
    h_left, h_top, h_right, h_bottom = lettering.ink("H", px, True)
    picture = lettering.mask(text, px, True, fonts)
    inked = "".join(
        "#" if any(picture.getpixel((x, y)) for y in range(picture.height)) else " "
        for x in range(picture.width)
    )
    # The bar of an H joins its stems, so each sign is one stretch of inked columns.
    widths = [len(stretch) for stretch in inked.split()]
    assert widths == [h_right - h_left, 40, h_right - h_left]
    assert (ink[1], ink[3]) == (min(h_top, -40), max(h_bottom, 0))
    assert ink[0] == h_left
    assert lettering.width(text, px, True, fonts) >= ink[2]


def test_the_label_font_comes_first_for_what_it_has(bricks: Path) -> None:
    fonts = (STIX, bricks)
    for text in ("jalapeño crème brûlée", "борщ", "φασολάδα", "phở bò", "½ ≤ µ"):
        assert lettering.ink(text, 40, True, fonts) == lettering.ink(text, 40, True)
        plain = lettering.mask(text, 40, True)
        assert lettering.mask(text, 40, True, fonts).tobytes() == plain.tobytes()
        assert lettering.width(text, 40, True, fonts) == lettering.width(text, 40, True)


def test_fonts_are_asked_in_their_order(bricks: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.ttf"
    again.write_bytes(bricks.read_bytes())
    assert runs(f"a{TOFU}{TOFU}Ⓐ", (bricks, again, STIX)) == (
        (None, "a"), (bricks, TOFU * 2), (STIX, "Ⓐ"),
    )  # fmt: skip
    assert runs(TOFU, (again, bricks)) == ((again, TOFU),)


def test_real_letters_of_another_font_are_printed(two_by_two: Template) -> None:
    name = "soup Ⓐ"
    lacking = laid_out(two_by_two, name)
    assert said(lacking, "item") == "soup ?"
    layout = laid_out(two_by_two, name, STIX)
    assert said(layout, "item") == name
    assert layout.warnings == ()
    assert draw(layout).tobytes() != draw(lacking).tobytes()


def test_a_label_with_signs_of_another_font_keeps_to_its_boxes(
    two_by_two: Template, bricks: Path
) -> None:
    name = f"mapo {TOFU}{RAISED} " * 6
    layout = laid_out(two_by_two, name.strip(), bricks)
    assert layout.warnings == ()
    assert said(layout, "item") == name.strip()
    marks = [m for m in layout.marks if isinstance(m, TextMark)]
    for mark in marks:
        others = (o.ink for o in layout.marks if o is not mark)
        assert not any(mark.ink.touches(other) for other in others)
    # Redrawn dot by dot: what the layout says of the ink is where the ink is.
    alone = Image.new("1", (layout.width, layout.height), 1)
    for mark in marks:
        picture = lettering.mask(mark.text, mark.px, mark.bold, mark.fonts)
        assert picture.size == (mark.ink.width, mark.ink.height)
        alone.paste(0, (mark.ink.x, mark.ink.y), picture)
    item = next(mark for mark in marks if mark.field == "item" and TOFU in mark.text)
    box = (item.ink.x, item.ink.y, item.ink.right, item.ink.bottom)
    assert draw(layout).crop(box).tobytes() == alone.crop(box).tobytes()


def test_an_allergen_in_another_script_is_printed_too(two_by_two: Template, bricks: Path) -> None:
    label = a_label(allergens=("milk", TOFU))
    layout = lay_out(two_by_two, 203, label, fonts=(bricks,))
    assert f"milk, {TOFU}" in said(layout, "details")
    assert press.render(two_by_two, 203, label, fonts=(bricks,)).warnings == ()


def test_a_letter_and_its_accent_stay_in_one_font() -> None:
    # U+030A on a letter that has no composed form with it.
    text = unicodedata.normalize("NFC", "x\u030ay")
    assert len(text) == 3
    assert runs(text, (STIX,)) == ((None, text),)


# ---- no font has it ------------------------------------------------------------------------------


@pytest.mark.parametrize("sign", ["🥚", "麻", "ต", "\ue000", "\U0010ffff"])
@pytest.mark.parametrize("with_fonts", [False, True])
def test_a_sign_that_no_font_has_is_a_mark_and_a_warning_never_a_box(
    two_by_two: Template, bricks: Path, sign: str, with_fonts: bool
) -> None:
    fonts = (bricks,) if with_fonts else ()
    layout = laid_out(two_by_two, f"egg {sign} salad", *fonts)
    assert said(layout, "item") == "egg ? salad"
    (warning,) = layout.warnings
    assert warning == f"item: the label font has no sign for {sign}; printed as ?"


def test_letters_that_change_places_are_not_set_one_by_one(bricks: Path) -> None:
    """The basic engine cannot know that they do, and would print another word."""
    assert lettering.printable(f"{KI} {TOFU}", (bricks,)) == (f"?? {TOFU}", tuple(KI))


@pytest.mark.parametrize("name", ["حمص", "חומוס"])
def test_right_to_left_stays_refused_whatever_fonts_there_are(
    two_by_two: Template, bricks: Path, name: str
) -> None:
    with pytest.raises(Mistake, match="run from right to left"):
        laid_out(two_by_two, name, bricks)


# ---- a font that cannot be used ------------------------------------------------------------------


def unusable(folder: Path) -> Fonts:
    text = folder / "notes.ttf"
    text.write_text("not a font")
    empty = folder / "empty.otf"
    empty.write_bytes(b"")
    return (folder / "missing.ttf", text, empty, folder)


def test_a_font_that_cannot_be_used_is_named(tmp_path: Path, bricks: Path) -> None:
    check(())
    check((bricks, STIX))
    for path in unusable(tmp_path):
        with pytest.raises(Mistake) as caught:
            check((bricks, path))
        assert caught.value.code == "bad-font"
        assert str(path) in caught.value.sentence
        assert str(bricks) not in caught.value.sentence
    with pytest.raises(Mistake, match=r"missing\.ttf: there is no such file"):
        check((tmp_path / "missing.ttf",))


def test_a_font_with_a_damaged_letter_is_named(
    two_by_two: Template, tmp_path: Path, bricks: Path
) -> None:
    path = tmp_path / "font.ttf"
    font = TTFont(bricks)
    number = font.getGlyphID(font.getBestCmap()[ord(TOFU)])
    first, end = font["loca"][number], font["loca"][number + 1]
    at = font.reader.tables["glyf"].offset
    data = bytearray(bricks.read_bytes())
    # A letter made of parts (-1 outlines) that are letters which the font does not have.
    data[at + first : at + end] = b"\xff" * (end - first)
    path.write_bytes(bytes(data))
    with pytest.raises(Mistake, match=r"font\.ttf is damaged") as caught:
        laid_out(two_by_two, TOFU, path)
    assert "--no-fonts" in caught.value.hint


def test_a_label_is_printed_without_a_font_that_is_gone_and_says_so(
    two_by_two: Template, tmp_path: Path, bricks: Path
) -> None:
    """A kitchen whose font file went missing still needs its labels."""
    gone = tmp_path / "gone.ttf"
    layout = laid_out(two_by_two, f"mapo {TOFU}", gone, bricks)
    (warning,) = layout.warnings
    assert str(gone) in warning
    assert said(layout, "item") == f"mapo {TOFU}"
    layout = laid_out(two_by_two, f"mapo {TOFU}", gone)
    assert said(layout, "item") == "mapo ?"
    assert len(layout.warnings) == 2


def test_a_font_put_back_serves_again(two_by_two: Template, tmp_path: Path, bricks: Path) -> None:
    path = tmp_path / "later.ttf"
    assert len(laid_out(two_by_two, TOFU, path).warnings) == 2
    path.write_bytes(bricks.read_bytes())
    assert laid_out(two_by_two, TOFU, path).warnings == ()
