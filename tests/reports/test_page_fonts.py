# ruff: noqa: RUF001  # full-width punctuation is what is tested here
"""Names in signs that the shipped font lacks: set on paper in the kitchen's own fonts.

Read back by two PDF readers of somebody else's, and looked at as pictures.
"""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from io import BytesIO
from itertools import pairwise
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pytest
from fontTools.fontBuilder import FontBuilder  # type: ignore[import-untyped]
from fontTools.pens.t2CharStringPen import T2CharStringPen  # type: ignore[import-untyped]
from fontTools.pens.ttGlyphPen import TTGlyphPen  # type: ignore[import-untyped]
from fontTools.ttLib import TTCollection, TTFont  # type: ignore[import-untyped]
from PIL import Image
from pypdf import PdfReader
from reportlab.lib.textsplit import ALL_CANNOT_END, ALL_CANNOT_START

from holdlog.core.errors import Mistake
from holdlog.reports.batch_plot import Bar, BatchPlot
from holdlog.reports.batch_plot import drawn as batch_drawn
from holdlog.reports.inspector_file import InspectorFile, Section, inspector_file
from holdlog.reports.line_ends import pieces
from holdlog.reports.page_text import Pen
from holdlog.reports.paper import Made
from holdlog.reports.plots import Curve, Kind, LimitLine, Plot, drawn
from holdlog.reports.round_sheet import RoundSheet, SheetRow, SheetUnit, round_sheet
from tests.reports.test_round_sheet import FACE, also, pages

KOMBU, DASHI = "昆布", "出汁"
SENTENCE = "昆布だしと椎茸の煮物、「自家製」豆腐（絹ごし）。"
LONG = (SENTENCE * 9)[:200]
STARTS = datetime(2026, 6, 1, 14)


def built(path: Path, signs: str, *, cff: bool = False, may_embed: int = 0) -> Path:
    """A font in which each of ``signs`` is a solid square of 800 in 1000 units, on the baseline,
    100 units from the left. All of them say the same name of themselves.
    """

    def square(pen: object) -> object:
        pen.moveTo((100, 0))  # type: ignore[attr-defined]
        for corner in ((100, 800), (900, 800), (900, 0)):
            pen.lineTo(corner)  # type: ignore[attr-defined]
        pen.closePath()  # type: ignore[attr-defined]
        return pen.getCharString() if cff else pen.glyph()  # type: ignore[attr-defined]

    font = FontBuilder(1000, isTTF=not cff)
    names = {sign: f"u{ord(sign):X}" for sign in dict.fromkeys(signs)}
    order = [".notdef", *names.values()]
    font.setupGlyphOrder(order)
    font.setupCharacterMap({ord(sign): name for sign, name in names.items()})
    if cff:
        drawing = {name: square(T2CharStringPen(1000, None)) for name in order}
        font.setupCFF("Squares", {}, drawing, {})
    else:
        font.setupGlyf({name: square(TTGlyphPen(None)) for name in order})
    font.setupHorizontalMetrics(dict.fromkeys(order, (1000, 100)))
    font.setupHorizontalHeader(ascent=880, descent=-120)
    font.setupNameTable({"familyName": "Squares", "styleName": "Regular", "psName": "Squares"})
    font.setupOS2(fsType=may_embed)
    font.setupPost()
    font.save(path)
    return path


def sheet(item: str, *fonts: Path, paper: str = "letter") -> Made:
    row = SheetRow(1, "H7K39QX2", item, "2 l", "Sun 7 June", "serve")
    unit = SheetUnit("walk-in", "41 °F or below", (row,))
    data = RoundSheet(
        "Tern & Tide", "Wed 3 June", "1-AB12", "ab" * 32, "FDA Food Code 2022", (unit,)
    )
    return round_sheet(data, paper, replace(FACE, others=fonts))


def read_twice(pdf: bytes) -> list[str]:
    return ["".join(pages(pdf)), "".join(also(pdf))]


# ---- what is set in which font ---------------------------------------------------------------


def test_a_name_is_set_in_the_first_font_that_has_each_sign(tmp_path: Path) -> None:
    """The two files say the same name of themselves, as two cuts of one typeface do."""
    one, two = built(tmp_path / "1.ttf", KOMBU), built(tmp_path / "2.ttf", KOMBU + DASHI)
    name = f"{KOMBU} crème {DASHI} q\N{COMBINING TILDE} jalapeño"
    found = sheet(name, one, two)
    assert found.warnings == ()
    for text in read_twice(found.pdf):
        assert re.sub(r"\s", "", name) in text
    # Each file is in the PDF once, as a part of it, and holds no letter that nobody asked it for.
    parts = fonts_in(found.pdf)
    own = [names for base, names in parts.items() if "DejaVu" not in base]
    assert sorted(own) == [2 + 1, 2 + 1]  # two signs, and what stands for a missing one
    assert found.pdf == sheet(name, one, two).pdf


def test_a_sign_beyond_the_first_65536_can_be_searched_for(tmp_path: Path) -> None:
    name = "𠮷野家風𩸽"
    made = sheet(name, built(tmp_path / "font.ttf", name))
    assert all(name in text for text in read_twice(made.pdf))


def fonts_in(pdf: bytes) -> dict[str, int]:
    """How many glyphs each embedded font has, as fontTools reads them."""
    found = {}
    for page in PdfReader(BytesIO(pdf)).pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            descriptor = font.get_object()["/FontDescriptor"]
            data = descriptor["/FontFile2"].get_object().get_data()
            found[font["/BaseFont"]] = TTFont(BytesIO(data))["maxp"].numGlyphs
    return found


def test_the_squares_stand_on_paper_where_their_font_puts_them(tmp_path: Path) -> None:
    """Seen in the picture: one em apart, as wide as the font says, and of one weight in bold."""
    made = sheet(KOMBU * 3, built(tmp_path / "squares.ttf", KOMBU))
    em, side = 3.7, 0.8 * 3.7
    document = pypdfium2.PdfDocument(made.pdf)
    picture = document[0].render(scale=8).to_pil().convert("L")
    document.close()
    mm = picture.width / 215.9
    most: list[float] = []
    for y in range(picture.height):
        row = picture.crop((0, y, picture.width, y + 1)).tobytes()
        starts = [
            run.start() / mm
            for run in re.finditer(b"[\\x00-\\x7f]+", row)
            if abs((run.end() - run.start()) / mm - side) < 0.15
        ]
        most = max(most, starts, key=len)
    assert len(most) == 6
    for start, after in pairwise(most):
        assert after - start == pytest.approx(em, abs=0.1)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_200_ideographs_are_set_whole_and_no_line_begins_with_what_closes(
    tmp_path: Path, paper: str
) -> None:
    font = built(tmp_path / "squares.ttf", LONG)
    made = sheet(LONG, font, paper=paper)
    assert made.warnings == ()
    for text in read_twice(made.pdf):
        assert LONG in text
    section = Section("Discards", (LONG,), ("a", "b"), (10, 20), ((LONG, LONG),))
    file = InspectorFile("T", "K", "P", (), (section,), "F")
    for text in read_twice(inspector_file(file, paper, replace(FACE, others=(font,))).pdf):
        assert text.count(LONG) == 3
    pen = Pen(replace(FACE, others=(font,)), 210, 297)
    for room in range(16, 120):
        lines = pen.lines(LONG, 3.7, room)
        assert "".join(lines) == LONG
        assert max(pen.wide(line, 3.7) for line in lines) <= room
        assert [line for line in lines if line[0] in "、。」）" or line[-1] in "「（"] == []
        # No line is left half empty: what is moved down is a sign with its punctuation.
        assert min(pen.wide(line, 3.7) for line in lines[:-1]) > room - 4 * 3.7


def test_latin_words_stay_whole_between_ideographs(tmp_path: Path) -> None:
    font = built(tmp_path / "squares.ttf", KOMBU)
    pen = Pen(replace(FACE, others=(font,)), 210, 297)
    for room in range(36, 70):
        lines = pen.lines(f"{KOMBU}crème brûlée{KOMBU}{KOMBU} Gewürztraminer", 3.7, room)
        found = "|".join(lines)
        assert all(word in found for word in ("crème", "brûlée", "Gewürztraminer"))


# ---- where a line may end --------------------------------------------------------------------


def test_no_line_begins_or_ends_with_what_reportlab_lists_for_japanese() -> None:
    """Its lists of what may not stand first and last in a line (kinsoku), made by others."""
    for sign in ALL_CANNOT_START:
        assert pieces(f"豆{sign}")[0] != "豆"
    for sign in ALL_CANNOT_END:
        # Of these the annex lets a line end after all but what opens and what is money.
        if sign not in "@#§＠〒":
            assert pieces(f"{sign}豆") == [f"{sign}豆"]


@pytest.mark.parametrize(
    ("word", "found"),
    [
        # UAX 14: ID ÷ ID (LB31), × CL and OP × (LB13, LB14), × NS (LB21), × IN (LB22).
        ("昆布、豆腐", "昆 布、 豆 腐"),
        ("「豆」（腐）。", "「豆」 （腐）。"),
        ("スープ々豆…ゃ", "ス ープ々 豆…ゃ".replace("ス ー", "スー ")),
        # ID ÷ AL, NU ÷ ID (LB31); AL × AL, NU × NU, AL × NU (LB28, LB25, LB23).
        ("豆tofu2豆", "豆 tofu2 豆"),
        ("豆500g", "豆 500g"),
        # PR × ID, ID × PO (LB23a); × CM (LB9): an accent stays with its letter.
        ("￥豆％", "￥豆％"),
        ("豆か\u309a豆", "豆 か\u309a 豆"),
        # Scripts with blanks are left to those.
        ("crème-brûlée", "crème-brûlée"),
        ("김치찌개", "김치찌개"),
    ],
)
def test_a_line_ends_where_the_unicode_annex_lets_it(word: str, found: str) -> None:
    assert " ".join(pieces(word)) == found


# ---- fonts that paper cannot use -------------------------------------------------------------


def collection(path: Path, signs: str, *, cff: bool = False) -> Path:
    whole = TTCollection()
    whole.fonts = [TTFont(built(path.with_suffix(f".{n}"), signs, cff=cff)) for n in (1, 2)]
    whole.save(path)
    return path


def test_of_a_collection_the_first_font_is_used(tmp_path: Path) -> None:
    found = sheet(KOMBU, collection(tmp_path / "two.ttc", KOMBU))
    assert found.warnings == ()
    assert all(KOMBU in text for text in read_twice(found.pdf))


@pytest.mark.parametrize(
    ("make", "reason"),
    [
        (lambda path: built(path, KOMBU, cff=True), "PostScript"),
        (lambda path: collection(path, KOMBU, cff=True), "PostScript"),
        (lambda path: built(path, KOMBU, may_embed=0x0002), "embed"),  # OpenType, OS/2: fsType
        (lambda path: built(path, KOMBU, may_embed=0x0100), "embed"),
        (lambda path: cut(built(path, KOMBU)), "cannot be read"),
        (lambda path: path.write_text("no font"), "cannot be read"),
        (lambda path: path.mkdir(), "folder"),
        (lambda _path: None, "no such file"),
    ],
)
def test_a_font_that_paper_cannot_use_is_named_with_the_reason_in_one_line(
    tmp_path: Path, make: Callable[[Path], object], reason: str
) -> None:
    path = tmp_path / "font.ttc"
    make(path)
    found = sheet(f"{KOMBU} stock", path)
    for text in read_twice(found.pdf):
        assert "??stock" in text
    (warning,) = found.warnings
    assert all(part in warning for part in (*KOMBU, str(path), reason))
    assert "\n" not in warning
    assert sheet("crème brûlée", path).warnings == ()  # nothing is lacking, nothing is said
    # Another one that has the signs serves in its place.
    assert sheet(KOMBU, path, built(tmp_path / "good.ttf", KOMBU)).warnings == ()


def cut(path: Path) -> Path:
    path.write_bytes(path.read_bytes()[:400])
    return path


def test_a_damaged_letter_is_a_mistake_in_one_line_and_no_file(tmp_path: Path) -> None:
    path = built(tmp_path / "font.ttf", KOMBU)
    font = TTFont(path)
    table = font.reader.tables["glyf"]
    data = bytearray(path.read_bytes())
    # A letter made of parts (-1 outlines) that are letters which the font does not have.
    data[table.offset : table.offset + table.length] = b"\xff" * table.length
    path.write_bytes(bytes(data))
    with pytest.raises(Mistake, match="damaged"):
        sheet(KOMBU, path)
    kinds: tuple[Kind, ...] = ("png", "svg", "pdf")
    for kind in kinds:
        with pytest.raises(Mistake, match="damaged"):
            drawn(plot(KOMBU), kind, (path,))


def test_what_no_font_has_is_still_marked(tmp_path: Path) -> None:
    found = sheet(f"{KOMBU}{DASHI} מרק", built(tmp_path / "font.ttf", KOMBU + "מרק"))
    (warning,) = found.warnings
    assert all(sign in warning for sign in DASHI + "מרק")  # from right to left is not set yet
    assert all(f"{KOMBU}?????" in text for text in read_twice(found.pdf))


def test_of_many_missing_signs_the_first_are_named_and_the_rest_counted() -> None:
    (warning,) = sheet("".join(map(chr, range(0x4E00, 0x4E00 + 50)))).warnings
    assert "\u4e00 \u4e01 " in warning
    assert "and 30 more; shown as ?." in warning


def test_a_selector_of_a_drawing_is_no_sign_of_its_own(tmp_path: Path) -> None:
    """A name may be typed with one after its ideograph (Unicode: VARIATION SELECTOR-17 and on)."""
    found = sheet("昆\U000e0100布\ufe00", built(tmp_path / "font.ttf", KOMBU))
    assert found.warnings == ()
    assert all(KOMBU in text for text in read_twice(found.pdf))


# ---- plots -----------------------------------------------------------------------------------


def plot(title: str) -> Plot:
    return Plot(title, "F", Curve((STARTS,), (150.0,)), (LimitLine(70, "first"),), foot=title)


def dark(png: bytes) -> Image.Image:
    return Image.open(BytesIO(png)).convert("L")


@pytest.mark.parametrize("cff", [False, True])
def test_names_in_a_plot_are_drawn_in_the_kitchens_fonts(tmp_path: Path, cff: bool) -> None:
    """Where the signs are known to be solid squares, black shows; else the box of a missing one.
    A plot takes PostScript outlines too.
    """
    font = built(tmp_path / "squares.otf", KOMBU, cff=cff)
    batches = BatchPlot(KOMBU, "kg", (Bar(STARTS.date(), 2.0, 1.0, 0.0),))
    side = round(0.8 * 11 * 150 / 72)  # of a square: 11 points at 150 dots an inch
    for found, without in (
        (drawn(plot(KOMBU), "png", (font,)), drawn(plot(KOMBU), "png")),
        (
            batch_drawn(batches, "png", (font,)),
            batch_drawn(batches, "png"),
        ),
    ):
        assert longest_run(found) >= side - 1 > longest_run(without)


def longest_run(png: bytes) -> int:
    """The side of the largest solid black square in the title's strip, as level runs show it."""
    image = dark(png)
    strip = image.crop((0, 0, image.width, 40))
    best = 0
    for y in range(strip.height):
        row = strip.crop((0, y, strip.width, y + 1)).tobytes()
        runs = [len(run) for run in re.findall(b"[\\x00-\\x3c]+", row)]
        best = max([best, *(run for run in runs if run < 100)])  # the frame is longer
    return best


def test_a_plot_passes_over_what_is_no_font_and_keeps_its_bytes(tmp_path: Path) -> None:
    bad = tmp_path / "bad.ttf"
    bad.write_text("no font")
    plain = plot("stock")
    assert drawn(plain, "png", (bad, tmp_path / "gone.ttf")) == drawn(plain, "png")
    assert drawn(plain, "png", (built(tmp_path / "s.ttf", KOMBU),)) == drawn(plain, "png")


@pytest.mark.parametrize("title", ["W" * 200, "bean stew $5 or $6 " * 10, LONG])
def test_a_long_title_leaves_room_for_the_plot(title: str) -> None:
    text = drawn(plot(title), "svg").decode()
    assert "bean stew $5" in text or "bean" not in title  # no mathematics
    drawn(plot(title), "png")
