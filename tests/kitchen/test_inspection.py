"""The inspector's file of a month at Tern & Tide, read back by two PDF readers of others."""

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from io import BytesIO

import pypdfium2  # type: ignore[import-untyped]
import pytest
from pypdf import PdfReader

from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.costs import read_cost
from holdlog.core.errors import Mistake
from holdlog.kitchen import discard, handle, setup
from holdlog.kitchen import round as round_job
from holdlog.kitchen.audit import audit
from holdlog.kitchen.inspection import Inspection, inspection
from holdlog.kitchen.inspection_words import file_of
from holdlog.kitchen.items import add_item, find_item, items
from holdlog.labels.typefaces import label_font
from holdlog.reports.inspector_file import InspectorFile, Section, inspector_file
from holdlog.reports.page_text import Typeface
from holdlog.reports.paper import Made
from tests.kitchen import cold
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.month import ODD, a_month
from tests.kitchen.shop import Shop, at, day, temp

FACE = Typeface(label_font(bold=False), label_font(bold=True))
JUNE = day("06-01"), day("06-30")


def bare(text: str) -> str:
    return re.sub(r"\s+", "", text)


def by_pypdf(pdf: bytes) -> list[str]:
    return [bare(page.extract_text()) for page in PdfReader(BytesIO(pdf)).pages]


def by_pdfium(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    texts = [bare(page.get_textpage().get_text_range()) for page in document]
    document.close()
    return texts


def made_of(shop: Shop, first: date, last: date, paper: str = "letter") -> tuple[Inspection, Made]:
    found = inspection(shop.kitchen, first, last)
    return found, inspector_file(file_of(shop.kitchen, found), paper, FACE)


@pytest.fixture
def month(shop: Shop) -> tuple[Shop, dict[str, str]]:
    return shop, a_month(shop)


def test_all_that_the_audit_knows_stands_in_the_file(month: tuple[Shop, dict[str, str]]) -> None:
    shop, found = month
    seen, made = made_of(shop, *JUNE)
    for pages in (by_pypdf(made.pdf), by_pdfium(made.pdf)):
        assert len(pages) == made.pages
        whole = "".join(pages)
        for number, text in enumerate(pages, 1):
            assert f"page{number}of{made.pages}" in text
            assert seen.audit.head in text
        for each in (*seen.audit.discards, *seen.audit.voided):
            assert show(each.code) in whole
        for binding in seen.binding:
            assert bare(binding.rule.source.cite) in pages[0]
            assert bare(binding.rule.source.says) in whole
        assert "MinnesotaFoodCode" in pages[0]
        assert "Keeptheco" in pages[0]  # the retention rule of cook-chill records
        assert "thedayoffreezingdoesnotcount" in pages[0]
        assert "A.Name,county,3May2026" in pages[0]
        assert "localhealthauthorityhasthelastword" in pages[0]
        assert "VOID,notcounted:=thewrongtub" in whole
        assert "kept:40minat44F,foodread40F(JR)" in whole
        assert "outofpaper" in whole
        assert "OUTOFTOLERANCE" in whole
        assert "copy1" in whole
        assert "43°F(MK)" in whole
        assert "MISSED" in whole
        assert show(found["moved"]) in whole.split("9Datesmovedbychangedrules")[-1]


def test_it_counts_what_happened(month: tuple[Shop, dict[str, str]]) -> None:
    """Against what the month was made of, and not against the program's own counts."""
    shop, found = month
    seen = audit(shop.kitchen, *JUNE)
    stands = {each.item: each.stands for each in seen.coolings}
    assert stands["fish stock"] == "met"
    assert stands["chicken stock"] == "missed"
    assert stands["white bean, cooked"] == "not-logged"
    assert {each.code for each in seen.discards} == {
        found["missed"], found["unlogged"], found["binned"], found["odd"]
    }  # fmt: skip
    assert [each.code for each in seen.voided] == [found["voided"]]
    outcomes = {each.row.code: each.outcome for each in seen.holds}
    assert outcomes[found["kept"]] == "kept"
    assert outcomes[found["binned"]] == "discarded"
    kept = next(each for each in seen.holds if each.outcome == "kept")
    assert (kept.why, kept.settled_by) == ("40 min at 44 F, food read 40 F", "JR")
    units = {each.unit.name: each for each in seen.units}
    assert len(units["reach-in"].by_hand) == 2
    assert [each.entry.at for each in units["reach-in"].beyond] == [at("06-11 09:00")]
    (logger,) = units["walk-in"].courses
    assert logger.total.worst == 4450
    assert [each.passed for each in seen.probes] == [False, True]
    (moved,) = seen.moved
    assert moved.row.code == found["moved"]
    assert moved.left_was is not None
    assert moved.left_now == moved.left_was + 1  # the day of freezing counts no more
    assert [each.looser for each in seen.rules] == [(), ("the day of freezing does not count",)]
    assert Counter(each.what for each in seen.remarks) == {
        "rules": 2, "voided": 1, "settled": 1, "late entry": 1, "reprint": 1, "print failed": 1
    }  # fmt: skip


def test_one_unit_item_or_cook_is_asked_for_alone(month: tuple[Shop, dict[str, str]]) -> None:
    shop, found = month
    reach_in = audit(shop.kitchen, *JUNE, unit="reach-in")
    assert {each.code for each in reach_in.discards} == {found["odd"]}
    assert [each.unit.name for each in reach_in.units] == ["reach-in"]
    here = {each.batch for each in audit(shop.kitchen, *JUNE, unit="walk-in").coolings}
    every = {each.batch for each in audit(shop.kitchen, *JUNE).coolings}
    assert here < every  # what was made into the walk-in, or stood there last
    assert here | {each.batch for each in reach_in.coolings} == every
    of_food = [each.subject for each in reach_in.remarks if each.what != "rules"]
    assert {shop.row(code).unit for code in of_food} <= {"reach-in"}
    with pytest.raises(Mistake, match="Nothing here is called 'hummos'") as caught:
        audit(shop.kitchen, *JUNE, item="hummos")
    assert caught.value.hint == "Near it: hummus."
    with pytest.raises(Mistake, match="Nobody signed as XX in these days") as caught:
        audit(shop.kitchen, *JUNE, cook="xx")
    assert "MK" in caught.value.hint
    stock = audit(shop.kitchen, *JUNE, item="stock")
    assert {each.item for each in stock.coolings} == {
        "fish stock", "chicken stock", "vegetable stock"
    }  # fmt: skip
    assert {each.code for each in audit(shop.kitchen, *JUNE, cook=" ab ").discards} == {
        found["missed"]
    }


def test_asked_for_one_item_no_other_items_corrections_are_told(
    month: tuple[Shop, dict[str, str]],
) -> None:
    shop, found = month
    said = {
        item: Counter(each.what for each in audit(shop.kitchen, *JUNE, item=item).remarks)
        for item in ("béchamel", "hummus", "vegetable stock")
    }
    assert said == {
        "béchamel": {"rules": 2},  # what is about no food is about all of it
        "hummus": {"rules": 2, "voided": 1},
        "vegetable stock": {"rules": 2, "settled": 1, "reprint": 1, "print failed": 1},
    }
    assert audit(shop.kitchen, *JUNE, unit="reach-in").moved == ()
    (moved,) = audit(shop.kitchen, *JUNE, unit="chest freezer").moved
    assert moved.row.code == found["moved"]


def test_rules_are_in_force_when_the_period_begins_only_if_they_were_adopted_before(
    month: tuple[Shop, dict[str, str]],
) -> None:
    shop, _ = month
    began, none = "Inforcewhentheperiodbegan", "Noruleshadbeenadoptedbytheend"
    for first, last, says in (
        ("05-01", "06-30", (False, False)), ("06-01", "06-30", (False, False)),
        ("06-02", "06-30", (True, False)), ("03-01", "03-31", (False, True)),
    ):  # fmt: skip
        _, made = made_of(shop, day(first), day(last))
        pages = by_pypdf(made.pdf)
        assert (began in pages[1], none in pages[1]) == says
        # The cover tells of one moment: the rules now, and how they count now.
        assert "Therulesinforcenow" in pages[0]
        assert "MinnesotaFoodCode" in pages[0]
        assert "thedayoffreezingdoesnotcount" in pages[0]
        assert "A.Name,county,3May2026" in pages[0]
    shop.it_is("06-16 09:00")
    moved = [audit(shop.kitchen, day(each), day("06-16")).moved for each in ("06-15", "06-16")]
    assert [len(each) for each in moved] == [1, 0]  # by the adoption of 15 June


def test_held_food_that_is_past_its_date_is_to_be_discarded(shop: Shop) -> None:
    shop.it_is("06-09 18:00")
    code = shop.tub("béchamel", amount="1 l")
    shop.it_is("06-10 09:00")
    cold.read(shop, "52F")
    for wall, outcome in (
        ("06-10 09:05", "on hold"), ("06-15 23:59", "on hold"), ("06-16 00:01", "to discard")
    ):  # fmt: skip
        shop.it_is(wall)
        (held,) = audit(shop.kitchen, *JUNE).holds
        assert (held.row.code, held.outcome) == (code, outcome)


def test_a_cost_of_which_a_part_is_unknown_says_so(shop: Shop) -> None:
    with shop.db.reading() as conn:
        known = find_item(items(shop.kitchen, conn), "hummus").fact
    add_item(shop.kitchen, "jr", replace(known, cost=read_cost("8 EUR/kg")))
    for item in ("hummus", "béchamel"):
        code = shop.tub(item, amount="1 kg")
        discard.discard(shop.kitchen, "mk", code, shop.hand.now, "dropped")
    _, made = made_of(shop, *JUNE)
    pages = by_pypdf(made.pdf)
    assert "2discards,8.00EUR,1ofunknowncost;" in pages[0]
    assert any("2discards:2kg;cost8.00EUR,1ofunknowncost." in text for text in pages)
    assert any("ofknownamounts:100.0%." in text for text in pages)


def test_the_file_does_not_say_more_of_the_chain_than_it_proves(shop: Shop) -> None:
    """Whoever can write to the file can hash all of it anew: only a head kept elsewhere tells."""
    _, made = made_of(shop, *JUNE)
    assert "writeitanewwithnewhashes:onlyaheadkeptfrombeforeshowsthat" in by_pypdf(made.pdf)[0]


def test_what_a_round_on_paper_found_is_late_when_it_is_typed_in_later(shop: Shop) -> None:
    shop.it_is("06-03 09:00")
    walk = round_job.begin(shop.kitchen, "mk", [shop.kitchen.unit("walk-in")])
    for when in (at("06-02 22:00"), shop.hand.now):
        round_job.found(shop.kitchen, "mk", walk, shop.kitchen.unit("walk-in"), "rice", at=when)
    assert [each.late for each in audit(shop.kitchen, *JUNE).discards] == [True, False]


def test_an_adoption_is_under_the_rules_that_it_adopts(month: tuple[Shop, dict[str, str]]) -> None:
    shop, _ = month
    setup.adopt(shop.kitchen, "jr", ("us-food-code-2022",), None, "")
    adopted = [each.number for each in shop.facts("stack")]
    with shop.db.reading() as conn:
        kitchen = shop.kitchen.current(conn)

        def books(number: int) -> tuple[str, ...]:
            return tuple(each.id for each in kitchen.stack_at(conn, number).books)

        one, two = ("us-food-code-2022",), ("us-food-code-2022", "us-mn")
        assert [books(each) for each in adopted] == [one, two, one]
        assert [books(each - 1) for each in adopted[1:]] == [one, two]


def test_a_late_entry_stands_in_the_period_it_tells_of_and_in_that_it_was_written_in(
    shop: Shop,
) -> None:
    shop.it_is("06-30 12:00")
    code = shop.tub("hummus", amount="1 kg")
    shop.it_is("07-02 09:00")
    discard.discard(shop.kitchen, "mk", code, at("06-30 22:00"), "dropped")
    shop.it_is("07-10 09:00")
    for first, last, there in (
        ("06-01", "06-30", 1), ("07-02", "07-02", 1), ("07-01", "07-01", 0), ("07-03", "07-09", 0)
    ):  # fmt: skip
        found = audit(shop.kitchen, day(first), day(last))
        assert [each.what for each in found.remarks if each.subject == code] == (
            ["late entry"] * there
        )
    assert len(audit(shop.kitchen, *JUNE).discards) == 1
    assert audit(shop.kitchen, day("07-02"), day("07-02")).discards == ()


def test_equal_data_give_equal_bytes_and_the_fonts_are_in_it(
    month: tuple[Shop, dict[str, str]],
) -> None:
    shop, _ = month
    _, one = made_of(shop, *JUNE)
    _, two = made_of(shop, *JUNE)
    assert one.pdf == two.pdf
    for page in PdfReader(BytesIO(one.pdf)).pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            descriptor = font.get_object()["/FontDescriptor"]
            assert "/FontFile2" in descriptor.get_object()


def test_the_bookmarks_lead_to_the_sections(month: tuple[Shop, dict[str, str]]) -> None:
    shop, _ = month
    _, made = made_of(shop, *JUNE)
    reader = PdfReader(BytesIO(made.pdf))
    pages = by_pypdf(made.pdf)
    outline = [each for each in reader.outline if not isinstance(each, list)]
    assert outline[0].title == "Cover"
    assert len(outline) == 10
    for each in outline[1:]:
        place = reader.get_destination_page_number(each)
        assert place is not None
        assert bare(str(each.title)) in pages[place]
        assert f"{bare(str(each.title))}{place + 1}" in pages[0]  # the contents


def test_a_sign_that_the_font_lacks_is_shown_as_missing(
    month: tuple[Shop, dict[str, str]],
) -> None:
    shop, _ = month
    _, made = made_of(shop, *JUNE)
    assert len(ODD) > 160
    assert any("燻" in each for each in made.warnings)
    whole = "".join(by_pypdf(made.pdf))
    assert bare("crème brûlée à l'érable ??") in whole


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_blank_period_says_so_in_every_section(shop: Shop, paper: str) -> None:
    found, made = made_of(shop, day("03-01"), day("03-31"), paper)
    assert found.audit.discards == ()
    pages = by_pypdf(made.pdf)
    assert sum(text.count("Nothinginthisperiod.") for text in pages) == 7
    # What is short stands together: a cover, the rules in force, and all that did not happen.
    assert len(pages) == 4
    size = PdfReader(BytesIO(made.pdf)).pages[0].mediabox
    assert round(float(size.width)) == {"letter": 612, "a4": 595}[paper]


def test_a_period_the_wrong_way_round_and_odd_paper_are_refused(shop: Shop) -> None:
    with pytest.raises(Mistake, match="lies before"):
        inspection(shop.kitchen, day("06-01"), day("05-31"))
    with pytest.raises(Mistake, match="2026-06-02 is still to come"):
        inspection(shop.kitchen, day("06-02"), day("06-01"))
    found = inspection(shop.kitchen, *JUNE)
    with pytest.raises(Mistake, match="legal"):
        inspector_file(file_of(shop.kitchen, found), "legal", FACE)


def test_thousands_of_rows_all_stand_on_their_pages_in_order() -> None:
    rows = tuple((f"row{n}end", "x" * (n % 200), "words " * (n % 40)) for n in range(3000))
    section = Section("Long", ("",), ("a", "b", "c"), (10, 20, 20), rows)
    file = InspectorFile("T", "K" * 300, "P", (), (section,), "F")
    heard: list[tuple[int, int]] = []
    made = inspector_file(file, "a4", FACE, lambda done, of: heard.append((done, of)))
    assert heard == [(n, made.pages) for n in range(1, made.pages + 1)]
    pages = by_pdfium(made.pdf)
    whole = "".join(pages)
    places = [whole.index(f"row{n}end") for n in range(3000)]
    assert places == sorted(places)
    # The heads of the columns stand on each page of the table; no page runs over its foot.
    document = pypdfium2.PdfDocument(made.pdf)
    for number, page in enumerate(document):
        if number:
            text = page.get_textpage()
            low = min(text.get_charbox(n)[1] for n in range(text.count_chars()))
            assert low > 0
    document.close()


def test_a_row_longer_than_a_page_goes_on_overleaf_and_loses_nothing() -> None:
    """A unit that is read too warm every hour of a week, each reading a line of one cell."""
    cell = "\n".join(f"reading{n}end" for n in range(168))
    section = Section("Units", (), ("a", "b"), (10, 20), (("walk-in", cell), ("last", "x")))
    made = inspector_file(InspectorFile("T", "K", "P", (), (section,), "F"), "letter", FACE)
    document = pypdfium2.PdfDocument(made.pdf)
    seen = []
    for page in document:
        text = page.get_textpage()
        low = page.get_height() - 262.4 * 72 / 25.4  # the foot begins 17 mm above the edge
        seen += re.findall(r"reading\d+end", text.get_text_bounded(bottom=low))
    document.close()
    assert seen == [f"reading{n}end" for n in range(168)]


def test_a_missed_cooling_has_its_plot(shop: Shop, another: Callable[[], Shop]) -> None:
    code = shop.tub("fish stock", off_heat_at=shop.hand.now)
    _, plain = made_of(another(), *JUNE)
    shop.it_is("06-01 07:00")
    log_cooling(shop.kitchen, "mk", code, shop.hand.now, temp("130F"))
    shop.it_is("06-01 12:00")
    log_cooling(shop.kitchen, "mk", code, shop.hand.now, temp("90F"))
    found, made = made_of(shop, *JUNE)
    assert [each.stands for each in found.plotted] == ["missed"]
    assert pictures(made.pdf) == pictures(plain.pdf) + 1


def pictures(pdf: bytes) -> int:
    return sum(len(page.images) for page in PdfReader(BytesIO(pdf)).pages)


def test_all_that_puts_food_out_of_use_is_among_the_holds(shop: Shop) -> None:
    """Not readings in the unit alone: what came in too warm, left the cold too warm, or was
    heated for too long.
    """
    warm = shop.prep("halibut portion, raw", 2, kind="received", temperature=temp("52F"))
    cold = shop.tub("halibut portion, raw", kind="received", temperature=temp("38F"))
    out, heated, fine = (row.code for row in shop.prep("chicken stock", 3).rows)
    now = shop.hand.now
    handle.take_out(shop.kitchen, "mk", out, now, ev.Out("4h", temp("60F")))
    slow = ev.Reheated(temp("165F"), took_minutes=300)
    handle.reheat(shop.kitchen, "mk", heated, now, slow)
    handle.reheat(shop.kitchen, "mk", fine, now, ev.Reheated(temp("165F")))
    found = audit(shop.kitchen, date(2026, 6, 1), date(2026, 6, 1))
    held = {each.row.code: (each.because, each.outcome) for each in found.holds}
    assert held == {
        **{row.code: ("received unopened, at 52 °F", "on hold") for row in warm.rows},
        out: ("out of temperature control (4h), at 60 °F", "on hold"),
        heated: ("reheated to 165 °F, in 300 min", "on hold"),
    }
    assert cold not in held
