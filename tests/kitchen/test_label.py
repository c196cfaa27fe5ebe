"""What a label says in each state of its container, printed or on tape."""

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from holdlog.core import events as ev
from holdlog.journal.engine import open_database
from holdlog.kitchen import handle
from holdlog.kitchen.kitchen import open_kitchen
from holdlog.kitchen.label import Ready, ready
from holdlog.kitchen.pack import pack
from holdlog.kitchen.printing import (
    write_by_hand,
)
from holdlog.kitchen.setup import set_up
from holdlog.kitchen.tape import tape
from holdlog.labels.label import Keep, PackRule
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import PLAN, Hand, Shop, day, temp


def of(shop: Shop, code: str) -> Ready:
    with shop.db.reading() as conn:
        return ready(shop.kitchen, conn, code)


# ---- what it says ----------------------------------------------------------------------------


def test_a_label_of_each_state(shop: Shop) -> None:
    code = shop.tub(off_heat_at=shop.hand.now, amount="2 l")
    cooling = of(shop, code).label
    assert cooling.purpose == "cooling"
    assert cooling.cooling_limits == ("70 °F", "41 °F")
    assert cooling.cooling_deadlines == ("08:00", "12:00")
    for when, reading in (("07:30", "69 F"), ("11:00", "40 F")):
        shop.it_is(f"06-01 {when}")
        log_cooling(shop.kitchen, "mk", code, shop.hand.now, temp(reading))
    cooled = of(shop, code).label
    assert (cooled.purpose, cooled.use_by, cooled.keep_at) == (
        "prepared", day("06-07"), Keep("41 °F", "below"),
    )  # fmt: skip
    shop.it_is("06-02 09:00")
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    frozen = of(shop, code).label
    assert (frozen.purpose, frozen.use_by, frozen.days_left, frozen.frozen_on) == (
        "frozen", None, 5, day("06-02"),
    )  # fmt: skip
    assert frozen.keep_at == Keep("", "frozen")
    shop.it_is("06-20 09:00")
    handle.thaw(shop.kitchen, "mk", code, shop.hand.now, "refrigerator", shop.unit("reach-in"))
    thawed = of(shop, code).label
    assert (thawed.purpose, thawed.use_by, thawed.thawed_on, thawed.unit) == (
        "thawed", day("06-24"), day("06-20"), "reach-in",
    )  # fmt: skip
    assert thawed.started == datetime(2026, 6, 1, 6, 0)
    handle.take_out(shop.kitchen, "mk", code, shop.hand.now, ev.Out("4h", temp("40 F")))
    out = of(shop, code).label
    assert (out.purpose, out.use_by) == ("time-control", datetime(2026, 6, 20, 13, 0))
    assert (out.unit, out.keep_at) == ("pass shelf", "")


def test_food_that_is_out_is_not_labelled_as_of_its_cold_unit(tmp_path: Path) -> None:
    """A kitchen without a unit at room temperature: it stays on the walk-in's list, and its label
    names no place to put it back to.
    """
    db, hand = open_database(tmp_path / "no-room.db"), Hand()
    set_up(db, hand.clock, "JR", replace(PLAN, units=(("walk-in", "walk-in"),)))
    shop = Shop(db, tmp_path / "no-room.db", hand, open_kitchen(db, hand.clock, hand.draw))
    code = shop.tub()
    assert of(shop, code).label.unit == "walk-in"
    handle.take_out(shop.kitchen, "mk", code, hand.now, ev.Out("4h", temp("40 F")))
    assert (of(shop, code).label.unit, of(shop, code).label.keep_at) == ("", "")
    db.close()


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


# ---- purposes --------------------------------------------------------------------------------


def test_a_pack_under_a_plan_bears_the_wording_of_its_rule(shop: Shop) -> None:
    """Food Code 2022, 3-502.12(B)(3): keep at 41 °F or below; discard within 30 days of its
    packaging if not served.
    """
    code = shop.tub("beef portion, raw", kind="received")
    pack(shop.kitchen, "mk", code, shop.hand.now, "vacuum", haccp_plan=True)
    label = of(shop, code).label
    assert (label.purpose, label.packed) == ("reduced-oxygen", datetime(2026, 6, 1, 6, 0))
    assert label.pack_rule == PackRule("41 °F", 30)
    on_tape = tape(shop.kitchen, of(shop, code))
    assert "KEEP AT 41 °F OR BELOW" in on_tape
    assert "DISCARD UNLESS SERVED WITHIN 30 DAYS OF PACKING" in on_tape
    short = shop.tub()
    pack(shop.kitchen, "mk", short, shop.hand.now, "vacuum", haccp_plan=False)
    said = of(shop, short).label
    assert (said.purpose, said.pack_rule) == ("reduced-oxygen", None)
    assert said.use_by == datetime(2026, 6, 3, 6, 0)  # 48 hours, 3-502.12(F)
    assert "packed Mon 1 June 06:00" in tape(shop.kitchen, of(shop, short))
    shop.it_is("06-02 09:00")
    handle.open_container(shop.kitchen, "mk", short, shop.hand.now)
    assert of(shop, short).label.purpose == "opened"
