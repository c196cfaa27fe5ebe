"""Pages of labels, measured and scanned from the rendered PDF, as a printer would make them."""

from collections.abc import Iterator
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
import pytest
import zxingcpp
from PIL import Image, ImageChops
from pypdf import PdfReader

from holdlog.bundled import folder
from holdlog.core import codes
from holdlog.core.errors import BadFile, Mistake
from holdlog.labels import sheet, symbols
from holdlog.labels.geometry import Box, Dots
from holdlog.labels.layout import BarsMark, Layout, LineMark, Mark, QrMark, TextMark, lay_out
from holdlog.labels.template import Template
from holdlog.labels.template import find as find_template
from holdlog.labels.template import names as template_names
from tests.labels.samples import a_label, every_face

SHEETS = sheet.names()
# ANSI/ASME Y14.1 size A, ISO 216 A4.
PAPERS = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
FINE = 600  # dots per inch pages are measured at: 0.04 mm
NEAR = 0.1  # mm


def some_codes(count: int, seed: int = 1) -> list[str]:
    pick = Random(seed)
    return [codes.new_code(pick.choice) for _ in range(count)]


def a_small_one(code: str, width: int = 590, height: int = 300) -> Layout:
    """A label of 50 x 25.4 mm at 300 dpi, small enough for every sheet; both symbols and a frame
    at its very edge, so that it can be measured.
    """
    modules, rows = symbols.bars(code), symbols.qr(code)
    bars = Dots(30, 20, len(modules) * 3, 120)
    qr = Dots(450, 100, 21 * 5, 21 * 5)
    frame = (
        Dots(0, 0, width, 1), Dots(0, height - 1, width, 1),
        Dots(0, 0, 1, height), Dots(width - 1, 0, 1, height),
    )  # fmt: skip
    marks: tuple[Mark, ...] = (
        BarsMark("bars", bars, bars, 3, modules),
        QrMark("qr", qr, qr, 5, rows),
        *(LineMark("frame", line) for line in frame),
    )
    return Layout(width, height, 300, marks, ())


def pages(pdf: bytes, dpi: int) -> Iterator[Image.Image]:
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        yield page.render(scale=dpi / 72).to_pil().convert("L")
    document.close()


def crop(page: Image.Image, paper: str, box: Any) -> Image.Image:
    """What lies in a box of millimetres."""
    scale = page.width / PAPERS[paper][0]
    edges = (box.x, box.y, box.x + box.width, box.y + box.height)
    left, top, right, bottom = (round(edge * scale) for edge in edges)
    return page.crop((left, top, right, bottom))


def read(image: Image.Image) -> list[tuple[str, str]]:
    formats = (zxingcpp.BarcodeFormat.Code128, zxingcpp.BarcodeFormat.QRCode)
    found = zxingcpp.read_barcodes(image, formats=formats)  # type: ignore[arg-type]
    return sorted(("bars" if "128" in str(code.format) else "qr", code.text) for code in found)


def both(code: str) -> list[tuple[str, str]]:
    return [("bars", code), ("qr", code)]


def ink(image: Image.Image) -> tuple[int, int, int, int]:
    """The edges of what is black, in pixels."""
    box = image.point(lambda level: 255 if level < 128 else 0).getbbox()
    assert box
    return box


def letters(pdf: bytes) -> str:
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


@pytest.fixture(scope="module")
def labels(two_by_two: Template) -> list[Layout]:
    return [
        lay_out(two_by_two, sheet.DPI, a_label(code=code, number=number, count=26))
        for number, code in enumerate(some_codes(26), 1)
    ]


@pytest.mark.parametrize("name", SHEETS)
def test_every_label_of_every_sheet_scans_in_its_place(name: str) -> None:
    stock = sheet.find(name)
    wanted = some_codes(stock.places + 2)
    pdf = sheet.sheet_pdf(stock, [a_small_one(code) for code in wanted])
    first, second = pages(pdf, 300)
    seen = [read(crop(first, stock.paper, stock.place(n))) for n in range(1, stock.places + 1)]
    seen += [read(crop(second, stock.paper, stock.place(n))) for n in (1, 2, 3)]
    assert seen == [*map(both, wanted), []]


def test_a_whole_page_scans_at_once(labels: list[Layout]) -> None:
    wanted = some_codes(26)
    first, second = pages(sheet.sheet_pdf(sheet.find("letter-4x5"), labels), 600)
    assert set(read(first)) == {pair for code in wanted[:20] for pair in both(code)}
    assert set(read(second)) == {pair for code in wanted[20:] for pair in both(code)}


@pytest.mark.parametrize("name", SHEETS)
def test_labels_stand_in_the_middle_of_their_places(name: str) -> None:
    stock = sheet.find(name)
    pdf = sheet.sheet_pdf(stock, [a_small_one(code) for code in some_codes(stock.places)])
    (page,) = pages(pdf, FINE)
    scale = FINE / 25.4
    assert page.size == pytest.approx([side * scale for side in PAPERS[stock.paper]], abs=1.5)
    for n in {1, stock.columns, stock.places - stock.columns + 1, stock.places}:
        column, row = (n - 1) % stock.columns, (n - 1) // stock.columns
        left, top = stock.left + column * stock.across, stock.top + row * stock.down
        found = ink(crop(page, stock.paper, stock.place(n)))
        edges = [left * scale, top * scale, left * scale, top * scale]
        measured = [(edge + at) / scale for edge, at in zip(edges, found, strict=True)]
        middle = left + stock.width / 2, top + stock.height / 2
        half = 590 / 300 * 25.4 / 2, 300 / 300 * 25.4 / 2
        assert measured == pytest.approx(
            [middle[0] - half[0], middle[1] - half[1], middle[0] + half[0], middle[1] + half[1]],
            abs=NEAR,
        )


def test_every_bar_stands_where_the_layout_says(labels: list[Layout]) -> None:
    stock = sheet.find("letter-4x5")
    (page,) = pages(sheet.sheet_pdf(stock, labels[:20]), FINE)
    for n in (1, 20):
        mark = next(m for m in labels[n - 1].marks if isinstance(m, BarsMark))
        place = stock.place(n)
        y = round((place.y + (mark.ink.y + mark.ink.height / 2) * 25.4 / 300) * FINE / 25.4)
        start = (place.x + mark.ink.x * 25.4 / 300) * FINE / 25.4
        dot = FINE / 300
        width = round(len(mark.modules) * mark.module * dot)
        row = page.crop((round(start), y, round(start) + width, y + 1))
        middles = [(i + 0.5) * mark.module * dot for i in range(len(mark.modules))]
        seen = "".join("1" if row.getpixel((int(x), 0)) == 0 else "0" for x in middles)
        assert seen == mark.modules
        left, _, right, _ = ink(page.crop((round(start) - 30, y, round(start) + width + 30, y + 1)))
        assert (left - 30) / FINE * 25.4 == pytest.approx(0, abs=NEAR)
        assert (right - 30 - width) / FINE * 25.4 == pytest.approx(0, abs=NEAR)


@pytest.mark.parametrize("dpi", [300, 600, 1200])
def test_bars_of_one_width_come_out_equal_on_printers_of_300_600_and_1200_dpi(
    dpi: int,
) -> None:
    stock = sheet.find("letter-3x10")
    (page,) = pages(sheet.sheet_pdf(stock, [a_small_one(code) for code in some_codes(6)]), dpi)
    for n in range(1, 7):
        place = crop(page, stock.paper, stock.place(n))
        line = place.crop((0, place.height // 5, place.width, place.height // 5 + 1))
        levels = line.tobytes()
        assert set(levels) <= {0, 1, 254, 255}  # no grey: every edge lies between two dots
        changes = [x for x in range(1, len(levels)) if abs(levels[x] - levels[x - 1]) > 127]
        lengths = [b - a for a, b in pairwise(changes)]
        inner = lengths[2:-2]  # without the frame and the white beside it
        assert {length / (3 * dpi / 300) for length in inner} == {1, 2, 3, 4}


def test_the_page_looks_like_the_label_that_a_printer_makes(labels: list[Layout]) -> None:
    from holdlog.labels.raster import draw

    stock = sheet.find("letter-4x5")
    (page,) = pages(sheet.sheet_pdf(stock, labels[:1]), 300)
    meant = draw(labels[0]).convert("L")
    seen = page.crop((75, 150, 75 + meant.width, 150 + meant.height)).resize(meant.size)
    # Letters have soft edges here and hard ones there; words that moved would differ far more.
    small = (meant.width // 6, meant.height // 6)
    soft = [image.resize(small, Image.Resampling.BOX) for image in (meant, seen)]
    differs = ImageChops.difference(*soft).point(lambda level: 255 if level > 110 else 0)
    assert sum(differs.histogram()[255:]) == 0


def test_no_line_of_text_is_wider_than_its_room(two_by_two: Template) -> None:
    stock = sheet.find("letter-4x5")
    layouts = [lay_out(two_by_two, sheet.DPI, label) for label in every_face().values()]
    made = list(pages(sheet.sheet_pdf(stock, layouts), FINE))
    for n, layout in enumerate(layouts):
        page, place = made[n // stock.places], stock.place(n % stock.places + 1)
        for mark in layout.marks:
            if not isinstance(mark, TextMark):
                continue
            right, top, bottom = (
                at * 25.4 / 300 for at in (mark.ink.right, mark.ink.y, mark.ink.bottom)
            )
            # White from 0.2 mm after the line's end as the layout has it.
            after = Box(place.x + right + 0.2, place.y + top, 0.3, bottom - top)
            found = crop(page, "letter", after)
            assert found.getextrema() == (255, 255), mark.text


@pytest.mark.parametrize(("start", "count", "expected"), [(1, 20, 1), (20, 1, 1), (20, 2, 2)])
def test_a_part_used_sheet_starts_at_its_first_free_place(
    labels: list[Layout], start: int, count: int, expected: int
) -> None:
    stock = sheet.find("letter-4x5")
    made = list(pages(sheet.sheet_pdf(stock, labels[:count], start=start), 200))
    assert len(made) == expected
    places = [read(crop(page, "letter", stock.place(n))) for page in made for n in range(1, 21)]
    empty: list[tuple[str, str]] = []
    wanted = [empty] * (start - 1) + [both(code) for code in some_codes(count)]
    assert places == wanted + [empty] * (len(places) - len(wanted))


def test_progress_is_told_page_by_page(labels: list[Layout]) -> None:
    told: list[tuple[int, int]] = []
    sheet.sheet_pdf(sheet.find("letter-4x5"), labels, start=18, tell=lambda *now: told.append(now))
    assert told == [(1, 3), (2, 3), (3, 3)]  # 3 + 20 + 3 labels


@pytest.mark.parametrize("name", SHEETS)
def test_cut_marks_stand_in_line_with_the_edges_and_outside_of_every_place(name: str) -> None:
    stock = sheet.find(name)
    one = [a_small_one(code) for code in some_codes(1)]
    plain, marked = (
        next(pages(sheet.sheet_pdf(stock, one, cut_marks=cuts), 600)) for cuts in (False, True)
    )
    added = ImageChops.difference(plain, marked).point(lambda level: 255 if level > 60 else 0)
    for n in range(1, stock.places + 1):
        assert crop(added, stock.paper, stock.place(n)).getbbox() is None
    scale = 600 / 25.4
    over = added.crop((0, 0, added.width, round((stock.top - 0.3) * scale)))
    beside = added.crop((0, 0, round((stock.left - 0.3) * scale), added.height))
    columns = [stock.left + n * stock.across for n in range(stock.columns)]
    rows = [stock.top + n * stock.down for n in range(stock.rows)]
    for found, starts, size, axis in (
        (over, columns, stock.width, 0), (beside, rows, stock.height, 1),
    ):  # fmt: skip
        edges = sorted({round(at, 3) for start in starts for at in (start, start + size)})
        assert _strokes(found, axis, scale) == pytest.approx(edges, abs=NEAR)


def _strokes(image: Image.Image, axis: int, scale: float) -> list[float]:
    """Where strokes cross, in mm from the edge of the page, each as its middle."""
    flat = image.resize((image.width, 1) if axis == 0 else (1, image.height), Image.Resampling.BOX)
    values = list(flat.tobytes())
    found = [i for i, level in enumerate(values) if level > 3]
    groups: list[list[int]] = []
    for i in found:
        if groups and i == groups[-1][-1] + 1:
            groups[-1].append(i)
        else:
            groups.append([i])
    return [(group[0] + group[-1] + 1) / 2 / scale for group in groups]


def test_text_can_be_searched_with_its_accents(two_by_two: Template) -> None:
    label = a_label(item="jalapeño, crème brûlée, Đậu phụ", allergens=("Sellerie", "Weißwein"))
    pdf = sheet.sheet_pdf(sheet.find("a4-3x5"), [lay_out(two_by_two, sheet.DPI, label)])
    by_pypdf = " ".join(letters(pdf).split())
    by_pdfium = " ".join(pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range().split())
    for text in (by_pypdf, by_pdfium):
        assert "jalapeño, crème brûlée, Đậu phụ" in text
        assert "SUN 7 JUN" in text
        assert "41 °F or below" in text
        assert "Sellerie, Weißwein" in text


def test_a_sign_that_the_label_font_lacks_is_drawn_dot_by_dot() -> None:
    from holdlog.labels import lettering

    # A private use character stands for one of a kitchen's own font: no file could embed it.
    lacking = "\ue0ff miso"
    picture = lettering.mask(lacking, 40, True)
    at = Dots(60, 60, picture.width, picture.height)
    mark = TextMark("item", lacking, True, 40, 29, 60, 100, at)
    label = Layout(600, 600, 300, (mark,), ())
    (page,) = pages(sheet.sheet_pdf(sheet.find("letter-4x5"), [label]), 300)
    corner = (75 + 60, 150 + 60)  # the first place is 1/4 inch from the left, 1/2 from the top
    seen = page.crop((*corner, corner[0] + at.width, corner[1] + at.height))
    differs = ImageChops.difference(seen, ImageChops.invert(picture.convert("L")))
    assert sum(level > 127 for level in differs.tobytes()) == 0


def test_every_font_is_inside_the_file(labels: list[Layout]) -> None:
    stock = sheet.find("letter-4x5")
    for pdf in (sheet.sheet_pdf(stock, labels, cut_marks=True), sheet.ruler_pdf("a4")):
        fonts = _fonts(pdf)
        assert fonts
        for name, descriptor in fonts:
            assert "DejaVuSansCondensed" in name
            assert "/FontFile2" in descriptor


def _fonts(pdf: bytes) -> list[tuple[str, Any]]:
    found = []
    for page in PdfReader(BytesIO(pdf)).pages:
        resources: Any = page["/Resources"]
        for reference in resources["/Font"].values():
            font = reference.get_object()
            found.append((str(font["/BaseFont"]), font["/FontDescriptor"].get_object()))
    return found


def test_equal_labels_make_equal_files(labels: list[Layout]) -> None:
    stock = sheet.find("letter-4x5")
    one, two = (sheet.sheet_pdf(stock, labels, cut_marks=True, start=2) for _ in range(2))
    assert one == two
    assert sheet.ruler_pdf("letter", stock) == sheet.ruler_pdf("letter", stock)


# --- the ruler page ------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", PAPERS)
def test_both_rulers_are_100_mm_long(paper: str) -> None:
    (page,) = pages(sheet.ruler_pdf(paper), FINE)
    scale = FINE / 25.4
    left, top = (side / 2 - 50 for side in PAPERS[paper])
    # Just outside of the corner, where only ticks are: 2 mm above and to the left of the lines.
    over = page.crop((0, round((top - 2) * scale), page.width, round((top - 2) * scale) + 1))
    beside = page.crop((round((left - 2) * scale), 0, round((left - 2) * scale) + 1, page.height))
    for found, axis in ((over, 0), (beside, 1)):
        dark = found.point(lambda level: 255 if level < 128 else 0)
        ticks = _strokes(dark, axis, scale)
        assert len(ticks) == 101
        assert [tick - ticks[0] for tick in ticks] == pytest.approx(list(range(101)), abs=NEAR)


@pytest.mark.parametrize("name", SHEETS)
def test_the_ruler_page_outlines_the_places(name: str) -> None:
    stock = sheet.find(name)
    (page,) = pages(sheet.ruler_pdf(stock.paper, stock), FINE)
    scale = FINE / 25.4
    found = ink(page)
    last = stock.place(stock.places)
    edges = [stock.left, stock.top, last.x + stock.width, last.y + stock.height]
    assert [at / scale for at in found] == pytest.approx(edges, abs=NEAR + 0.075)  # half a stroke


def test_the_ruler_page_says_what_to_do() -> None:
    text = letters(sheet.ruler_pdf("letter"))
    assert "100 %" in text
    assert "100 mm" in text


def test_a_ruler_for_the_wrong_paper_is_refused() -> None:
    with pytest.raises(Mistake, match="expected letter or a4"):
        sheet.ruler_pdf("a5")
    with pytest.raises(Mistake, match="expected letter"):
        sheet.ruler_pdf("a4", sheet.find("letter-4x5"))


# --- what cannot be -----------------------------------------------------------------------------


@pytest.mark.parametrize("start", [0, -1, 21])
def test_a_place_that_is_not_there_is_refused(labels: list[Layout], start: int) -> None:
    with pytest.raises(Mistake, match=rf"1 to 20.*cannot start at {start}"):
        sheet.sheet_pdf(sheet.find("letter-4x5"), labels, start=start)


def test_no_label_is_no_sheet() -> None:
    with pytest.raises(Mistake, match="no label"):
        sheet.sheet_pdf(sheet.find("letter-4x5"), [])


def test_a_label_larger_than_the_place_names_what_fits(labels: list[Layout]) -> None:
    with pytest.raises(Mistake, match=r"50\.8 x 50\.8 mm is larger than a place") as caught:
        sheet.sheet_pdf(sheet.find("a4-3x7"), labels)
    told = caught.value.hint
    assert "a4-3x5, letter-2x5, letter-4x5" in told
    assert "two-by-two" not in told


FITTING = [
    (name, template.name)
    for name in SHEETS
    for template in map(find_template, template_names())
    if template.width <= sheet.find(name).width + 0.05
    and template.height <= sheet.find(name).height + 0.05
]


def test_what_fits_is_told_truly() -> None:
    told = [
        (name, template)
        for name in SHEETS
        for template in template_names()
        if sheet.fits(sheet.find(name), find_template(template))
    ]
    assert told == FITTING
    assert {template for _, template in told} >= {"two-by-two", "50x30", "62x40"}


@pytest.mark.parametrize(("name", "template"), FITTING)
def test_a_label_of_every_template_scans_on_every_sheet_it_fits(name: str, template: str) -> None:
    stock, found = sheet.find(name), find_template(template)
    wanted = some_codes(3, seed=2)
    layouts = [lay_out(found, sheet.DPI, a_label(code=code)) for code in wanted]
    start = stock.places - 2
    (page,) = pages(sheet.sheet_pdf(stock, layouts, start=start, cut_marks=True), 300)
    kinds = {field.kind for field in found.on("dated")} & {"bars", "qr"}
    for n, code in enumerate(wanted, start):
        seen = read(crop(page, stock.paper, stock.place(n)))
        assert seen == [(kind, code) for kind in sorted(kinds)]


# --- sheet files ---------------------------------------------------------------------------------

GOOD = (folder("label_templates") / "sheets" / "letter-3x10.toml").read_text(encoding="utf-8")


def faults(tmp_path: Path, old: str, new: str) -> tuple[str, ...]:
    assert old in GOOD
    path = tmp_path / "mine.toml"
    path.write_text(GOOD.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        sheet.find(path)
    assert caught.value.code == "bad-sheet"
    return tuple(fault.removeprefix(f"{path}: ") for fault in caught.value.faults)


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("rows = 10", "rows = 10\ngap = 2", "gap: unknown key"),
        ("rows = 10", "", "rows: missing"),
        ("rows = 10", "rows = 0", "rows: expected 1 to 50, found 0"),
        ("rows = 10", "rows = 2.5", "rows: expected a whole number, found 2.5"),
        ("rows = 10", "rows = 11", "rows: 11 places end 292.1 mm from the edge; the paper has"),
        ("columns = 3", "columns = 4", "columns: 4 places end 280.99 mm from the edge"),
        ("across = 69.85", "across = 60", "across: a step of 60 mm makes places of 66.675 mm over"),
        ("down = 25.4", "down = 20", "down: a step of 20 mm makes places of 25.4 mm overlap"),
        ("left = 4.7625", "left = -1", "left: expected 0 to 1000, found -1"),
        ("width = 66.675", "width = nan", "width: expected 5 to 1000, found"),
        ('paper = "letter"', 'paper = "a5"', "paper: expected one of letter, a4, found 'a5'"),
        ("title = ", "title = 5 # ", "title: expected a text, found 5"),
        ("rows = 10", "rows = = 10", "not valid TOML"),
    ],
)
def test_a_bad_sheet_names_file_and_key(tmp_path: Path, old: str, new: str, fault: str) -> None:
    assert any(line.startswith(fault) for line in faults(tmp_path, old, new))


def test_a_sheet_of_ones_own_is_found_by_its_path(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(GOOD, encoding="utf-8")
    mine, ours = sheet.find(path), sheet.find("letter-3x10")
    assert (mine.name, mine.places, mine.place(30)) == ("mine", 30, ours.place(30))


def test_places_with_gaps_between_them_are_where_the_file_says(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    text = GOOD.replace("height = 25.4", "height = 22").replace("rows = 10", "rows = 9")
    path.write_text(text.replace("down = 25.4", "down = 27.5"), encoding="utf-8")
    stock = sheet.find(str(path))
    label = a_small_one(some_codes(1)[0], height=240)
    (page,) = pages(sheet.sheet_pdf(stock, [label], start=27), FINE)
    found = [at * 25.4 / FINE for at in ink(page)]
    # The last of 3 x 9: 2 steps across and 8 down, the label of 49.95 x 20.32 mm in its middle.
    left, top = 4.7625 + 2 * 69.85 + (66.675 - 49.95) / 2, 12.7 + 8 * 27.5 + (22 - 20.32) / 2
    assert found == pytest.approx([left, top, left + 49.95, top + 20.32], abs=NEAR)


def test_an_unknown_sheet_names_the_known_ones(tmp_path: Path) -> None:
    with pytest.raises(Mistake, match="No sheet is called 'letter-9x9'") as caught:
        sheet.find("letter-9x9")
    assert all(name in caught.value.hint for name in SHEETS)
    with pytest.raises(BadFile, match=r"none\.toml: cannot be read"):
        sheet.find(tmp_path / "none.toml")


def test_sheet_names_tell_paper_columns_and_rows() -> None:
    for name in SHEETS:
        stock = sheet.find(name)
        assert name == f"{stock.paper}-{stock.columns}x{stock.rows}"
