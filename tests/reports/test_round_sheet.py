"""The round on paper, read back by two PDF readers of somebody else's."""

import re
from dataclasses import replace
from importlib import resources
from io import BytesIO

import pypdfium2  # type: ignore[import-untyped]
import pytest
from pypdf import PdfReader

from holdlog.core.errors import Mistake
from holdlog.reports.page_text import Typeface
from holdlog.reports.paper import PAPERS, Made
from holdlog.reports.round_sheet import (
    TICKS,
    RoundSheet,
    SheetRow,
    SheetUnit,
    round_sheet,
)

FONTS = resources.files("holdlog.labels.fonts")
FACE = Typeface(
    FONTS.joinpath("DejaVuSansCondensed.ttf").read_bytes(),
    FONTS.joinpath("DejaVuSansCondensed-Bold.ttf").read_bytes(),
)
HEAD = "ab12" * 16
ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"


def code(number: int) -> str:
    """Some eight signs, other ones for each number."""
    return "".join(ALPHABET[(number * 7 + place * (number + 3)) % 30] for place in range(5)) + (
        f"{number:03}".translate(str.maketrans("01", "XZ"))
    )


def row(number: int, **more: str) -> SheetRow:
    plain = SheetRow(number, code(number), f"stock no {number}", "2 l", "Sun 7 June", "serve")
    return replace(plain, **more)  # type: ignore[arg-type]


def sheet(*units: SheetUnit, **more: str) -> RoundSheet:
    plain = RoundSheet(
        "Tern & Tide", "Wed 3 June 06:10", "123-AB12", HEAD, "FDA Food Code 2022", units
    )
    return replace(plain, **more)  # type: ignore[arg-type]


def made(*units: SheetUnit, paper: str = "letter", **more: str) -> Made:
    return round_sheet(sheet(*units, **more), paper, FACE)


def pages(pdf: bytes) -> list[str]:
    """The text of each page, as pypdf finds it, without the spaces between the signs."""
    return [re.sub(r"\s+", "", page.extract_text()) for page in PdfReader(BytesIO(pdf)).pages]


def also(pdf: bytes) -> list[str]:
    """The same by PDFium."""
    document = pypdfium2.PdfDocument(pdf)
    texts = [re.sub(r"\s+", "", page.get_textpage().get_text_range()) for page in document]
    document.close()
    return texts


def test_every_row_stands_on_it_in_order_with_all_it_says() -> None:
    rows = tuple(row(n, verdict=f"HOLD: reason {n}") for n in range(1, 9))
    found = made(SheetUnit("walk-in", "41 °F or below", rows), SheetUnit("hot box", "", ()))
    assert found.pages == 1
    for (text,) in (pages(found.pdf), also(found.pdf)):
        places = [text.index(f"{each.code[:4]}") for each in rows]
        assert places == sorted(places)
        for each in rows:
            assert each.code in text
            assert each.item.replace(" ", "") in text
            assert f"HOLD:reason{each.number}" in text
        assert text.count("Sun7June") == len(rows)
        for word in ("walk-in", "41°Forbelow", "hotbox", "Nothingonrecordhere", "initials"):
            assert word in text
        for tick in TICKS:
            assert text.count(tick.replace(" ", "")) >= 2
        assert HEAD in text
        assert "Sheet123-AB12,page1of1" in text
        assert "Thelocalhealthauthorityhasthelastword" in text


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_five_hundred_rows_fill_pages_that_are_numbered_and_lose_none(paper: str) -> None:
    rows = [row(n) for n in range(1, 501)]
    units = (
        SheetUnit("walk-in", "41 °F or below", tuple(rows[:300])),
        SheetUnit("reach-in", "41 °F or below", tuple(rows[300:])),
    )
    found = made(*units, paper=paper)
    reader = PdfReader(BytesIO(found.pdf))
    assert len(reader.pages) == found.pages > 20
    wide, high = (side * 72 / 25.4 for side in PAPERS[paper])
    for page in reader.pages:
        assert float(page.mediabox.width) == pytest.approx(wide, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(high, abs=0.1)
    texts = pages(found.pdf)
    for number, text in enumerate(texts, 1):
        assert f"page{number}of{found.pages}" in text
        assert "walk-in" in text or "reach-in" in text
    whole = "".join(texts)
    assert [each.number for each in rows if whole.count(f"stockno{each.number}2l") != 1] == []
    assert any("walk-in(continued)" in text for text in texts)


def test_nothing_is_drawn_outside_the_page_or_over_its_foot() -> None:
    """Seen in the picture: the margins of every page are white, and so is the gap at the foot."""
    rows = tuple(row(n, item="a long name of food " * 8) for n in range(1, 30))
    found = made(SheetUnit("walk-in", "41 °F or below", rows), kitchen="Tern & Tide " * 9)
    document = pypdfium2.PdfDocument(found.pdf)
    for page in document:
        picture = page.render(scale=2).to_pil().convert("L")
        wide, high = picture.size
        mm = wide / 215.9
        edges = [
            (0, 0, round(9 * mm), high), (wide - round(9 * mm), 0, wide, high),
            (0, 0, wide, round(8 * mm)), (0, high - round(3 * mm), wide, high),
            (0, high - round(22.5 * mm), wide, high - round(19.5 * mm)),
        ]  # fmt: skip
        assert [picture.crop(edge).getextrema() for edge in edges] == [(255, 255)] * len(edges)
    document.close()


def test_it_is_black_on_white_alone() -> None:
    found = made(SheetUnit("walk-in", "41 °F or below", (row(1),)))
    document = pypdfium2.PdfDocument(found.pdf)
    picture = document[0].render(scale=1).to_pil().convert("RGB")
    red, green, blue = picture.split()
    assert red.tobytes() == green.tobytes() == blue.tobytes()
    assert red.getextrema() == (0, 255)
    document.close()


def test_a_name_of_200_signs_is_set_whole() -> None:
    name = ("white bean and leek soup with thyme " * 6)[:200]
    text = "".join(pages(made(SheetUnit("walk-in", "", (row(1, item=name),))).pdf))
    assert re.sub(r"\s+", "", name) in text
    unbroken = "x" * 200
    text = "".join(pages(made(SheetUnit("walk-in", "", (row(1, item=unbroken),))).pdf))
    assert unbroken in text


def test_a_long_reason_stands_whole_below_its_row() -> None:
    reason = " ".join(f"Reading {n} of the walk-in was too warm, 47 °F." for n in range(1, 25))
    rows = (row(1, verdict=f"HOLD: {reason}"), row(2))
    found = made(SheetUnit("walk-in", "", rows))
    for (text,) in (pages(found.pdf), also(found.pdf)):
        assert "HOLD:seebelow" in text
        assert re.sub(r"\s+", "", reason) in text
        assert text.index("Reading24") < text.index(rows[1].code)
        assert "…" not in text


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_no_head_goes_on_over_a_page_without_a_row(paper: str) -> None:
    """However many rows there are: the lines for what has no label keep the last row with them."""
    for count in range(14, 26):
        rows = tuple(row(n) for n in range(1, count))
        found = made(SheetUnit("walk-in", "", rows), SheetUnit("hot box", "", ()), paper=paper)
        first, *others = pages(found.pdf)
        assert "walk-in" in first
        for text in others:
            assert ("walk-in(continued)" in text) == ("stockno" in text)
            assert "hotbox(continued)" not in text


def test_what_runs_on_for_ever_is_cut_with_a_mark() -> None:
    for more in ({"item": "bean " * 2000}, {"verdict": "HOLD: " + "bean " * 2000}):
        found = made(SheetUnit("walk-in", "", (row(1, **more), row(2))))
        assert "…" in "".join(pages(found.pdf))
        assert found.pages == 1


def test_accents_are_set_and_what_the_font_lacks_is_marked_and_told() -> None:
    rows = (row(1, item="crème brûlée, jalapeño"), row(2, item="昆布 stock"), row(3, item="מרק"))
    found = made(SheetUnit("walk-in", "", rows))
    text = "".join(pages(found.pdf))
    assert "crèmebrûlée,jalapeño" in text
    assert "??stock" in text
    (warning,) = found.warnings
    assert all(sign in warning for sign in "昆布מרק")
    assert made(SheetUnit("walk-in", "", rows[:1])).warnings == ()


def test_an_empty_kitchen_has_a_sheet_to_read_temperatures_on() -> None:
    found = made(*(SheetUnit(name, "", ()) for name in ("walk-in", "freezer")))
    (text,) = pages(found.pdf)
    assert text.count("Nothingonrecordhere") == 2
    assert "0containers" in text


def test_equal_sheets_give_equal_bytes() -> None:
    unit = SheetUnit("walk-in", "41 °F or below", (row(1), row(2)))
    assert made(unit).pdf == made(unit).pdf


def test_other_paper_is_refused() -> None:
    with pytest.raises(Mistake, match="a5"):
        made(paper="a5")
