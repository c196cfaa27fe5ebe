"""Printing: that labels scan, and that the record never claims more than came out."""

import io
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from holdlog.core import events as ev
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import end_of_day
from holdlog.journal.codec import fact_of
from holdlog.kitchen import correct, handle, label_files, setup
from holdlog.kitchen.audit import audit
from holdlog.kitchen.due import due, waiting
from holdlog.kitchen.label import Ready, moved, ready
from holdlog.kitchen.printers import Device, set_words
from holdlog.kitchen.printing import (
    Pages,
    Printed,
    Wanted,
    print_labels,
    print_sheet,
    send_labels,
    write_by_hand,
)
from holdlog.kitchen.seen import seen
from holdlog.kitchen.tape import tape
from holdlog.kitchen.why import why
from holdlog.labels import printer, template
from holdlog.labels.output import png_bytes
from holdlog.labels.printer import Outcome, Printer
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import CONVENTIONS, WHERE, Shop, at, day, temp

HOUSE = """
id = "tern-and-tide"
title = "Tern & Tide, house rules"
role = "house"

[rule.short]
kind = "date-mark"
starts = "prepared"
days = 3
cite = "house"
says = "We keep it 3 days."
seen = "text"
"""


def of(shop: Shop, code: str) -> Ready:
    with shop.db.reading() as conn:
        return ready(shop.kitchen, conn, code)


def scanned(file: Path) -> set[str]:
    with Image.open(io.BytesIO(file.read_bytes())) as image:
        return {found.text for found in zxingcpp.read_barcodes(image.convert("L"))}


@pytest.mark.parametrize("dpi", [203, 300])
def test_every_label_of_a_print_scans_as_its_own_container(
    shop: Shop, tmp_path: Path, dpi: int
) -> None:
    rows = shop.prep("béchamel", 3, amount="3 l").rows
    printed = print_labels(
        shop.kitchen, "mk", [row.code for row in rows], tmp_path, Wanted(dpi=dpi)
    )
    pngs = [file for file in printed.files if file.suffix == ".png"]
    assert [file.suffix for file in printed.files] == [".png", ".png", ".png", ".pdf"]
    assert [scanned(file) for file in pngs] == [{row.code} for row in rows]
    assert [shop.row(row.code).printed_use_by for row in rows] == [
        end_of_day(day("06-07"), WHERE)
    ] * 3


def test_a_folder_that_cannot_be_written_leaves_the_batch_and_no_label(
    shop: Shop, tmp_path: Path
) -> None:
    code = shop.tub()
    blocked = tmp_path / "labels"
    blocked.write_text("a file where the folder should be", encoding="utf-8")
    with pytest.raises(Fault) as told:
        print_labels(shop.kitchen, "mk", [code], blocked)
    assert told.value.code == "no-label"
    assert f"{code[:4]}-{code[4:]}" in told.value.hint
    assert shop.row(code).printed_use_by is None
    assert not shop.facts("labelled")


def test_a_disk_that_fills_up_leaves_no_label_behind(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nor half of one, at any moment: what bears a label's name can be scanned or printed."""
    codes = [row.code for row in shop.prep(count=2).rows]
    whole: list[str] = []

    def full(_: int) -> None:
        found = list((tmp_path / "labels").rglob("[!.]*.*"))
        whole[:] = [code for file in found for code in scanned(file)]
        assert len(whole) == len(found)
        if len(found) == len(codes):
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Fault, match="the disk is full"):
        print_labels(shop.kitchen, "mk", codes, tmp_path / "labels")
    assert sorted(whole) == sorted(codes)
    assert not [path for path in (tmp_path / "labels").rglob("*") if path.is_file()]
    assert not shop.facts("labelled")


def test_what_happens_while_a_label_is_made_makes_it_worthless(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = shop.tub()

    def slow(image: Image.Image, dpi: int) -> bytes:
        fact = ev.Out("4h", temp("40 F"))
        if shop.row(code).state != "out":
            handle.take_out(shop.kitchen, "an", code, shop.hand.now, fact)
        return png_bytes(image, dpi)

    monkeypatch.setattr(label_files, "png_bytes", slow)
    with pytest.raises(Fault) as told:
        print_labels(shop.kitchen, "mk", [code], tmp_path / "labels")
    assert told.value.code == "changed"
    assert not shop.facts("labelled")
    assert not list((tmp_path / "labels").rglob("*.png"))


def test_a_reprint_is_recorded_with_its_number_and_its_own_file(shop: Shop, tmp_path: Path) -> None:
    code = shop.tub()
    files = [print_labels(shop.kitchen, "mk", [code], tmp_path).files[0] for _ in range(3)]
    facts = [fact_of(entry) for entry in shop.facts("labelled")]
    assert [fact.copy for fact in facts if isinstance(fact, ev.Labelled)] == [0, 1, 2]
    assert len(set(files)) == 3
    assert all(file.exists() for file in files)


def test_food_to_be_discarded_gets_no_label(shop: Shop, tmp_path: Path) -> None:
    shop.it_is("06-20 09:00")
    code = shop.tub(made="06-01 09:00")
    with pytest.raises(Mistake, match="gets no label"):
        print_labels(shop.kitchen, "mk", [code], tmp_path)
    assert any(line.startswith("DO NOT SERVE") for line in tape(shop.kitchen, of(shop, code)))


# ---- the printed date ------------------------------------------------------------------------


def _house_rule(shop: Shop, tmp_path: Path, *, strict: bool) -> None:
    house = tmp_path / "house.toml"
    house.write_text(HOUSE, encoding="utf-8")
    books = ["us-food-code-2022", *([str(house)] if strict else [])]
    setup.adopt(shop.reopen(), "jr", books, CONVENTIONS, "")
    shop.reopen()


def test_a_stricter_rule_binds_at_once_a_looser_one_after_a_new_label(
    shop: Shop, tmp_path: Path
) -> None:
    code, bare = (row.code for row in shop.prep(count=2).rows)
    print_labels(shop.kitchen, "mk", [code], tmp_path)
    _house_rule(shop, tmp_path, strict=True)
    assert (shop.row(code).last_day, shop.row(bare).last_day) == ("2026-06-03", "2026-06-03")
    printed = print_labels(shop.kitchen, "mk", [code], tmp_path)
    assert "Take the old label off" in moved(shop.kitchen, printed.labels[0])
    _house_rule(shop, tmp_path, strict=False)
    assert shop.row(code).last_day == "2026-06-03"
    assert shop.row(code).binds == "printed-label"
    # A part taken out of it is bound by the label it came from, too.
    shop.it_is("06-01 07:00")
    part = handle.split(shop.kitchen, "mk", code, shop.hand.now, 1, keep=True).made[0].code
    assert shop.row(part).last_day == "2026-06-03"
    again = print_labels(shop.kitchen, "mk", [code, part], tmp_path)
    assert all(moved(shop.kitchen, each) for each in again.labels)
    assert (shop.row(code).last_day, shop.row(part).last_day) == ("2026-06-07", "2026-06-07")
    dates = [fact_of(entry) for entry in shop.facts("labelled") if entry.subject == code]
    assert [fact.use_by for fact in dates if isinstance(fact, ev.Labelled)] == [
        end_of_day(day(each), WHERE) for each in ("06-07", "06-03", "06-07")
    ]
    assert shop.everything() == shop.replayed()


def test_thawing_moves_the_date_without_a_word_of_the_label(shop: Shop, tmp_path: Path) -> None:
    code = shop.tub()
    print_labels(shop.kitchen, "mk", [code], tmp_path)
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    print_labels(shop.kitchen, "mk", [code], tmp_path)
    shop.it_is("06-20 09:00")
    handle.thaw(shop.kitchen, "mk", code, at("06-20 09:00"), "refrigerator", None)
    assert shop.row(code).last_day == "2026-06-25"


# ---- a printer -------------------------------------------------------------------------------


@dataclass(slots=True)
class Machine:
    """A printer that answers as it is told, and keeps what it was sent."""

    outcome: Outcome = Outcome("completed")  # noqa: RUF009  (it is frozen)
    meanwhile: Callable[[], object] = lambda: None
    jobs: list[tuple[str, int, tuple[float, float]]] = field(default_factory=list)

    def send(
        self,
        printer: Printer,
        images: Sequence[Image.Image],
        size_mm: tuple[float, float],
        title: str,
        **_: object,
    ) -> Outcome:
        self.jobs.append((printer.name, len(images), size_mm))
        assert title.startswith("Tern & Tide")
        self.meanwhile()
        return self.outcome


PLAIN = Wanted()
PASS = Device("pass", "socket", "192.0.2.17:9100", "zpl", "two-by-two", 203)


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch) -> Machine:
    made = Machine()
    monkeypatch.setattr(printer, "send", made.send)
    return made


def sent(shop: Shop, codes: list[str], wanted: Wanted = PLAIN) -> Printed:
    return send_labels(shop.kitchen, "mk", codes, PASS, wanted, pause=lambda _: None)


def labelled(shop: Shop) -> list[ev.Labelled]:
    facts = [fact_of(entry) for entry in shop.facts("labelled")]
    return [fact for fact in facts if isinstance(fact, ev.Labelled)]


def why_waits(shop: Shop) -> dict[str, str]:
    return {each.line.row.code: each.why for each in waiting(shop.kitchen)}


def test_a_batch_is_one_job_and_recorded_as_the_printer_said(shop: Shop, machine: Machine) -> None:
    codes = [row.code for row in shop.prep(count=3).rows]
    done = sent(shop, codes)
    assert machine.jobs == [("pass", 3, (50.8, 50.8))]
    assert (done.printer, done.state) == ("pass", "completed")
    assert {(fact.printer, fact.state, fact.copy) for fact in labelled(shop)} == {
        ("pass", "completed", 0)
    }
    assert [entry.subject for entry in shop.facts("labelled")] == codes
    assert why_waits(shop) == {}
    assert shop.everything() == shop.replayed()


def test_continuous_stock_is_as_long_as_its_longest_label(shop: Shop, machine: Machine) -> None:
    plain = shop.tub()
    long = shop.tub(allergens=("milk", "egg", "fish", "tree nuts", "wheat", "peanuts", "sesame"))
    for codes in ([plain], [plain, long]):
        sent(shop, codes, Wanted("62-continuous"))
    (_, _, (across, first)), (_, _, (_, longer)) = machine.jobs
    assert across == 62
    assert longer >= first >= 40


def test_sent_is_not_printed_and_says_so(shop: Shop, machine: Machine) -> None:
    machine.outcome = Outcome("sent", "it does not report back", silent=True)
    code = shop.tub()
    done = sent(shop, [code])
    assert (done.state, done.reason) == ("sent", "it does not report back")
    story = [each.says for each in why(shop.kitchen, code).story]
    assert story[-1] == "label sent to pass, not seen to come out (prepared)"
    assert why_waits(shop) == {}


UNSEEN = [
    Outcome("accepted", "out of labels"),
    Outcome("sent", "it does not answer"),
    Outcome("sent", "it does not report back", silent=True),
]


@pytest.mark.parametrize("outcome", UNSEEN, ids=["accepted", "lost", "silent"])
def test_a_label_that_may_not_have_come_out_moves_no_date_later(
    shop: Shop, tmp_path: Path, machine: Machine, outcome: Outcome
) -> None:
    """Design: the use-by on a printed label is never silently moved later."""
    _house_rule(shop, tmp_path, strict=True)
    code = shop.tub()
    sent(shop, [code])
    _house_rule(shop, tmp_path, strict=False)
    machine.outcome = outcome
    sent(shop, [code])
    assert (shop.row(code).last_day, shop.row(code).binds) == ("2026-06-03", "printed-label")
    assert shop.row(code).printed_use_by == end_of_day(day("06-03"), WHERE)
    assert why_waits(shop) == {code: "nobody has seen its label come out"}
    assert of(shop, code).printed_before == end_of_day(day("06-03"), WHERE)
    seen(shop.kitchen, "mk", [code])
    assert shop.row(code).last_day == "2026-06-07"
    assert why_waits(shop) == {}
    assert of(shop, code).copies_before == 2  # seen is no further copy
    labels = audit(shop.kitchen, day("06-01"), day("06-30")).labels
    assert (labels.made, labels.copies, labels.unseen) == (2, 1, 1)  # nor a further label
    assert shop.everything() == shop.replayed()


def test_a_discard_tag_beside_an_unseen_label_frees_no_date(
    shop: Shop, tmp_path: Path, machine: Machine
) -> None:
    _house_rule(shop, tmp_path, strict=True)
    code = shop.tub()
    sent(shop, [code])
    _house_rule(shop, tmp_path, strict=False)
    machine.outcome = Outcome("accepted", "out of labels")
    sent(shop, [code])
    machine.outcome = Outcome("completed")
    shop.it_is("06-04 09:00")  # past the date of the label that was seen
    sent(shop, [code], Wanted(tag=True))
    assert (shop.row(code).last_day, shop.row(code).binds) == ("2026-06-03", "printed-label")


def test_a_first_label_that_nobody_saw_waits_and_dates_as_it_says(
    shop: Shop, machine: Machine
) -> None:
    machine.outcome = Outcome("accepted", "the cover is open")
    code = shop.tub()
    sent(shop, [code])
    assert shop.row(code).printed_use_by == end_of_day(day("06-07"), WHERE)
    assert why_waits(shop) == {code: "nobody has seen its label come out"}
    seen(shop.kitchen, "mk", [code])
    assert why_waits(shop) == {}
    with pytest.raises(Mistake, match="no label that a printer took and nobody saw"):
        seen(shop.kitchen, "mk", [code])
    assert len(labelled(shop)) == 2


def test_a_failed_print_loses_nothing_dates_nothing_and_is_offered_again(
    shop: Shop, machine: Machine
) -> None:
    machine.outcome = Outcome("failed", "out of labels")
    codes = [row.code for row in shop.prep(count=2).rows]
    with pytest.raises(Fault, match="pass did not print: out of labels") as told:
        sent(shop, codes)
    assert told.value.exit_code == 1
    assert labelled(shop) == []
    assert [shop.row(code).printed_use_by for code in codes] == [None, None]
    assert [entry.subject for entry in shop.facts("print-failed")] == codes
    assert why_waits(shop) == dict.fromkeys(codes, "the last print failed: out of labels")
    assert len(due(shop.kitchen).waiting) == 2
    found = audit(shop.kitchen, day("06-01"), day("06-01"))
    assert [each.what for each in found.remarks] == ["rules", "print failed", "print failed"]
    assert "out of labels" in found.remarks[-1].says
    machine.outcome = Outcome("completed")
    sent(shop, codes)
    assert why_waits(shop) == {}
    assert [fact.copy for fact in labelled(shop)] == [0, 0]  # the first that came out
    sent(shop, codes[:1])
    labels = audit(shop.kitchen, day("06-01"), day("06-01")).labels
    assert (labels.made, labels.copies, labels.failed) == (3, 1, 2)
    assert shop.everything() == shop.replayed()


def test_some_came_out_is_told(shop: Shop, machine: Machine) -> None:
    machine.outcome = Outcome("failed", "labels are jammed", printed=1)
    with pytest.raises(Fault, match="by its count 1 of 2 came out"):
        sent(shop, [row.code for row in shop.prep(count=2).rows])
    assert labelled(shop) == []


def test_a_label_again_whose_print_fails_leaves_the_old_date_binding(
    shop: Shop, tmp_path: Path, machine: Machine
) -> None:
    """Design: the use-by on a printed label is never silently moved later."""
    _house_rule(shop, tmp_path, strict=True)
    code = shop.tub()
    sent(shop, [code])
    _house_rule(shop, tmp_path, strict=False)
    assert shop.row(code).last_day == "2026-06-03"
    machine.outcome = Outcome("failed", "out of labels")
    with pytest.raises(Fault):
        sent(shop, [code])
    assert (shop.row(code).last_day, shop.row(code).binds) == ("2026-06-03", "printed-label")
    machine.outcome = Outcome("completed")
    sent(shop, [code])
    assert (shop.row(code).last_day, labelled(shop)[-1].copy) == ("2026-06-07", 1)


def test_what_happens_while_a_printer_prints_makes_its_label_worthless(
    shop: Shop, machine: Machine
) -> None:
    code = shop.tub()
    fact = ev.Out("4h", temp("40 F"))
    machine.meanwhile = lambda: handle.take_out(shop.kitchen, "an", code, shop.hand.now, fact)
    with pytest.raises(Fault, match="Bin what pass printed") as told:
        sent(shop, [code])
    assert told.value.code == "changed"
    assert labelled(shop) == []
    assert "Something happened" in why_waits(shop)[code]


def test_a_cook_who_stops_the_printer_has_no_label_on_record(shop: Shop, machine: Machine) -> None:
    def stopped() -> None:
        raise KeyboardInterrupt

    machine.meanwhile = stopped
    code = shop.tub()
    with pytest.raises(KeyboardInterrupt):
        sent(shop, [code])
    assert labelled(shop) == []
    assert why_waits(shop) == {code: "the last print failed: it was stopped"}


def test_nothing_is_printed_that_could_not_be_recorded(shop: Shop, machine: Machine) -> None:
    code = shop.tub()
    with pytest.raises(Mistake, match="Who is writing"):
        send_labels(shop.kitchen, " ", [code], PASS, pause=lambda _: None)
    with pytest.raises(Mistake, match="no label template 'napkin'"):
        sent(shop, [code], Wanted("napkin"))
    shop.it_is("06-20 09:00")
    with pytest.raises(Mistake, match="gets no label"):
        sent(shop, [code])
    assert machine.jobs == []
    assert not shop.facts("print-failed")


def test_a_long_job_gives_word(shop: Shop, tmp_path: Path) -> None:
    codes = [row.code for row in shop.prep(count=30).rows]
    said: list[str] = []
    print_labels(shop.kitchen, "mk", codes, tmp_path, tell=said.append)
    assert said == ["25 of 30 labels are drawn"]


# ---- what waits ------------------------------------------------------------------------------


def test_a_container_waits_while_its_label_does_not_say_what_it_is(
    shop: Shop, tmp_path: Path
) -> None:
    bare, warm = shop.tub(), shop.tub(off_heat_at=shop.hand.now)
    assert why_waits(shop) == dict.fromkeys((bare, warm), "it has no label")
    print_labels(shop.kitchen, "mk", [bare, warm], tmp_path)
    assert why_waits(shop) == {}
    for when, reading in (("07:30", "69 F"), ("11:00", "40 F")):
        shop.it_is(f"06-01 {when}")
        log_cooling(shop.kitchen, "mk", warm, shop.hand.now, temp(reading))
    assert why_waits(shop) == {warm: "it has cooled, and its label says COOLING"}
    handle.freeze(shop.kitchen, "mk", bare, shop.hand.now, None)
    assert why_waits(shop)[bare] == "it is frozen, and its label does not say so"
    write_by_hand(shop.kitchen, "mk", [bare, warm])
    assert why_waits(shop) == {}
    _house_rule(shop, tmp_path, strict=True)
    assert why_waits(shop) == {warm: "its label says too late a day"}
    shop.it_is("06-20 09:00")
    assert [each.row.code for each in due(shop.kitchen).go] == [warm]
    assert why_waits(shop) == {}  # what must go gets no label


# ---- holds, tags and twins ------------------------------------------------------------------


def test_food_on_hold_gets_a_label_without_a_date_and_a_dated_one_when_it_is_free(
    shop: Shop, tmp_path: Path
) -> None:
    code = shop.tub()
    number = handle.reading(shop.kitchen, "mk", code, shop.hand.now, temp("60 F"))
    assert number.row.verdict == "hold"
    on_hold = of(shop, code)
    assert on_hold.label.held
    assert on_hold.said_use_by is None
    assert not any("USE BY" in line for line in tape(shop.kitchen, on_hold))
    print_labels(shop.kitchen, "mk", [code], tmp_path)
    wrong = shop.facts("reading")[-1].number
    correct.void(shop.kitchen, "mk", wrong, "probe in the wrong tub")
    assert shop.row(code).verdict == ""
    assert why_waits(shop) == {code: "its label gives no date"}


def test_a_discard_tag_is_for_what_must_not_be_served_and_frees_no_date(
    shop: Shop, tmp_path: Path, machine: Machine
) -> None:
    code = shop.tub()
    with pytest.raises(Mistake, match="gets no discard tag: it may be served"):
        sent(shop, [code], Wanted(tag=True))
    print_labels(shop.kitchen, "mk", [code], tmp_path)
    handle.reading(shop.kitchen, "mk", code, shop.hand.now, temp("60 F"))
    machine.outcome = Outcome("failed", "out of labels")
    with pytest.raises(Fault):
        sent(shop, [code], Wanted(tag=True))
    machine.outcome = Outcome("completed")
    done = sent(shop, [code], Wanted(tag=True))
    label = done.labels[0].label
    assert (label.purpose, bool(label.reason), label.reprint) == ("discard", True, 0)
    assert shop.row(code).printed_use_by == end_of_day(day("06-07"), WHERE)
    assert why_waits(shop) == {}
    shop.it_is("06-20 09:00")
    assert sent(shop, [code], Wanted(tag=True)).labels[0].label.reprint == 1
    assert tape(shop.kitchen, done.labels[0])[0] == "DISCARD - CHICKEN STOCK"


def test_a_twin_comes_with_the_label_and_is_one_label_on_record(shop: Shop, tmp_path: Path) -> None:
    code = shop.tub()
    files = print_labels(shop.kitchen, "mk", [code], tmp_path, Wanted(twin=True)).files
    assert [file.name for file in files] == [
        f"{code}-prepared.png", f"{code}-prepared-twin.png", f"{code}-prepared.pdf",
    ]  # fmt: skip
    assert files[0].read_bytes() != files[1].read_bytes()
    assert scanned(files[1]) == {code}
    assert len(labelled(shop)) == 1


# ---- sheets ----------------------------------------------------------------------------------


def pages(file: Path) -> list[str]:
    return [page.extract_text() for page in PdfReader(file).pages]


def test_a_sheet_is_begun_where_the_last_one_ended(shop: Shop, tmp_path: Path) -> None:
    codes = [row.code for row in shop.prep(count=3).rows]
    done = print_sheet(shop.kitchen, "mk", codes, tmp_path, Pages("letter-4x5", 19))
    first, second = pages(done.files[0])
    shown = [f"{code[:4]}-{code[4:]}" for code in codes]
    assert [code in first for code in shown] == [True, True, False]
    assert [code in second for code in shown] == [False, False, True]
    assert [fact.template for fact in labelled(shop)] == ["two-by-two"] * 3


def test_a_sheet_with_smaller_places_gets_a_template_that_has_room(
    shop: Shop, tmp_path: Path
) -> None:
    code = shop.tub()
    print_sheet(shop.kitchen, "mk", [code], tmp_path, Pages("a4-4x9"))
    form = template.find(labelled(shop)[-1].template)
    assert (form.width, form.height) <= (50, 30)


@pytest.mark.parametrize(
    ("on", "wanted", "says"),
    [
        (Pages("napkin"), Wanted(), "napkin"),
        (Pages("letter-4x5", 21), Wanted(), "1 to 20"),
        (Pages("a4-4x9"), Wanted("two-by-two"), "larger than a place"),
    ],
    ids=["no such sheet", "no such place", "label too large"],
)
def test_a_sheet_that_cannot_be_is_refused_and_nothing_written(
    shop: Shop, tmp_path: Path, on: Pages, wanted: Wanted, says: str
) -> None:
    code = shop.tub()
    with pytest.raises(Mistake, match=says):
        print_sheet(shop.kitchen, "mk", [code], tmp_path / "labels", on, wanted)
    assert not list(tmp_path.rglob("*.pdf"))
    assert not shop.facts("labelled")
    assert not shop.facts("print-failed")


def test_two_languages_stand_on_the_label(shop: Shop, tmp_path: Path) -> None:
    code = shop.tub("béchamel")
    set_words(shop.kitchen, "jr", ("en", "es"), None)
    done = print_sheet(shop.kitchen, "mk", [code], tmp_path, Pages("letter-4x5"))
    (text,) = pages(done.files[0])
    assert "SUN 7 JUN" in text
    assert "DOM 7 JUN" in text
    assert "ALÉRGENOS" in text
    set_words(shop.kitchen, "jr", ("es",), None)
    done = print_sheet(shop.kitchen, "mk", [code], tmp_path, Pages("letter-4x5"))
    assert "SUN 7 JUN" not in pages(done.files[0])[0]
