"""Labels: what they say in each state, that they scan, and that the record never claims more."""

import io
from datetime import date, datetime
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from holdlog.core import events as ev
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import end_of_day
from holdlog.journal.codec import fact_of
from holdlog.kitchen import cool, handle, label, setup
from holdlog.kitchen.label import Ready, moved, print_labels, ready, tape, write_by_hand
from holdlog.labels.output import png_bytes
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


@pytest.mark.parametrize("dpi", label.RESOLUTIONS)
def test_every_label_of_a_print_scans_as_its_own_container(
    shop: Shop, tmp_path: Path, dpi: int
) -> None:
    rows = shop.prep("béchamel", 3, amount="3 l").rows
    printed = print_labels(shop.kitchen, "mk", [row.code for row in rows], tmp_path, dpi=dpi)
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
    codes = [row.code for row in shop.prep(count=2).rows]

    def full(*_: object) -> bytes:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(label, "pdf_bytes", full)
    with pytest.raises(Fault, match="No space left"):
        print_labels(shop.kitchen, "mk", codes, tmp_path)
    assert not [path for path in tmp_path.rglob("*") if path.is_file() and path.suffix != ".db"]
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

    monkeypatch.setattr(label, "png_bytes", slow)
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


# ---- what it says ----------------------------------------------------------------------------


def test_a_label_of_each_state(shop: Shop) -> None:
    code = shop.tub(off_heat_at=shop.hand.now, amount="2 l")
    cooling = of(shop, code).label
    assert cooling.purpose == "cooling"
    assert cooling.cooling_limits == ("70 °F", "41 °F")
    assert cooling.cooling_deadlines == ("by 08:00", "by 12:00")
    for when, reading in (("07:30", "69 F"), ("11:00", "40 F")):
        shop.it_is(f"06-01 {when}")
        cool.log_cooling(shop.kitchen, "mk", code, shop.hand.now, temp(reading))
    cooled = of(shop, code).label
    assert (cooled.purpose, cooled.use_by, cooled.keep_at) == (
        "prepared", day("06-07"), "41 °F or below",
    )  # fmt: skip
    shop.it_is("06-02 09:00")
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    frozen = of(shop, code).label
    assert (frozen.purpose, frozen.use_by, frozen.days_left, frozen.frozen_on) == (
        "frozen", None, 5, day("06-02"),
    )  # fmt: skip
    assert frozen.keep_at == "keep frozen"
    shop.it_is("06-20 09:00")
    handle.thaw(shop.kitchen, "mk", code, shop.hand.now, "refrigerator", shop.unit("reach-in"))
    thawed = of(shop, code).label
    assert (thawed.purpose, thawed.use_by, thawed.thawed_on, thawed.unit) == (
        "thawed", day("06-24"), day("06-20"), "reach-in",
    )  # fmt: skip
    assert thawed.started == datetime(2026, 6, 1, 6, 0)
    handle.take_out(shop.kitchen, "mk", code, shop.hand.now, ev.Out("4h", temp("40 F")))
    assert of(shop, code).label.use_by == datetime(2026, 6, 20, 13, 0)


def test_a_received_and_an_opened_label(shop: Shop) -> None:
    code = shop.tub("chicken, poached", kind="received", maker_use_by=day("06-20"), lot="L1")
    received = of(shop, code).label
    assert (received.purpose, received.use_by) == ("received", day("06-20"))
    shop.it_is("06-03 09:00")
    handle.open_container(shop.kitchen, "an", code, shop.hand.now)
    opened = of(shop, code).label
    assert (opened.purpose, opened.use_by, opened.started.date()) == (
        "opened", day("06-09"), date(2026, 6, 3),
    )  # fmt: skip


def test_tape_says_all_that_a_label_would(shop: Shop) -> None:
    code = shop.tub("béchamel", allergens=("milk", "wheat"))
    lines = tape(shop.kitchen, of(shop, code))
    assert lines == [
        "BÉCHAMEL", "made Mon 1 June 06:00  MK", "USE BY SUN 7 JUNE",
        "CONTAINS milk, wheat", f"{code[:4]}-{code[4:]}  1 of 1",
    ]  # fmt: skip
    shop.it_is("06-06 09:00")
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    assert "FROZEN, 1 day left once thawed" in tape(shop.kitchen, of(shop, code))
    raw = shop.tub("halibut portion, raw", kind="received")
    assert any("NO LIMIT KNOWN" in line for line in tape(shop.kitchen, of(shop, raw)))
    warm = shop.tub(off_heat_at=shop.hand.now)
    said = tape(shop.kitchen, of(shop, warm))
    assert said[1:4] == [
        "COOLING - DO NOT SERVE", "70 °F at ____ by 11:00", "41 °F at ____ by 15:00",
    ]  # fmt: skip
    assert "then USE BY FRI 12 JUNE" in said
    handle.reading(shop.kitchen, "mk", raw, shop.hand.now, temp("60 F"))
    assert any("DO NOT SERVE" in line for line in tape(shop.kitchen, of(shop, raw)))


def test_a_date_on_tape_is_recorded_and_binds_like_a_printed_one(shop: Shop) -> None:
    code = shop.tub("béchamel")
    (by_hand,) = write_by_hand(shop.kitchen, "mk", [code])
    row = shop.row(code)
    assert row.printed_use_by == by_hand.use_by == row.use_by
    story = [entry for entry in shop.entries() if entry.kind == "labelled"]
    assert '"template":"tape"' in story[-1].body.replace(" ", "")


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
