"""Registers: every one is a table whose rows are what the journal says, formula-proof as CSV."""

import csv
import io
from decimal import Decimal

import pytest

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.csv_text import lines
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.kitchen import correct, discard, handle, printing, probes
from holdlog.kitchen.items import add_item
from holdlog.kitchen.recall import recall
from holdlog.kitchen.registers import Asked, find, registers, span
from tests.kitchen.shop import Shop, at, day, temp

FORMULA = '=HYPERLINK("http://example.com","free soup")'


def table(shop: Shop, name: str, first: str = "", last: str = "") -> list[dict[str, object]]:
    since, until = span(shop.kitchen, day(first) if first else None, day(last) if last else None)
    register = find(name)
    with shop.db.reading() as conn:
        asked = Asked(shop.kitchen, conn, shop.hand.now, since, until)
        return [dict(zip(register.keys, row, strict=True)) for row in register.rows(asked)]


@pytest.mark.parametrize("name", list(registers()))
def test_every_register_has_as_many_cells_as_heads_and_plain_ones(busy: Shop, name: str) -> None:
    rows = table(busy, name)
    assert rows, name
    for row in rows:
        assert all(isinstance(cell, str | int | Decimal | None) for cell in row.values()), row
    register = find(name)
    assert len(set(register.keys)) == len(register.heads)
    text = "".join(lines(register.heads, [tuple(row.values()) for row in rows]))  # type: ignore[arg-type]
    read = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True))
    assert len(read) == len(rows) + 1
    assert not any(cell.startswith("=") for row in read for cell in row)


@pytest.fixture
def busy(shop: Shop) -> Shop:
    """A day on which everything happens that any register tells of."""
    kitchen = shop.kitchen
    add_item(kitchen, "jr", ev.ItemAdded(FORMULA, "stock"))
    probes.add(kitchen, "jr", "red", "F")
    probes.check(kitchen, "jr", "red", shop.hand.now, temp("32 F"))
    warm = shop.prep(
        "fish stock", 1, amount="2 l", off_heat_at=at("06-01 05:50"), warm=temp("150 F")
    )
    tubs = [shop.tub("chicken stock", amount="2 l", kind="opened", lot="L442") for _ in "abcd"]
    printing.write_by_hand(kitchen, "mk", tubs[:2])
    shop.it_is("06-01 09:00")
    handle.reading(kitchen, "mk", tubs[0], shop.hand.now, temp("39 F"), "red")
    handle.end(kitchen, "mk", tubs[1], shop.hand.now, "sold", read_amount("500 ml"), part=True)
    discard.discard(kitchen, "mk", tubs[2], shop.hand.now, "other", note=FORMULA)
    shop.it_is("06-02 09:00")
    handle.freeze(kitchen, "mk", tubs[3], at("06-01 12:00"), None)
    recall(kitchen, "jr", "", "L442", FORMULA)
    assert warm.rows
    return shop


def test_the_discards_are_those_of_the_period_by_when_they_happened(busy: Shop) -> None:
    (row,) = table(busy, "discards", "06-01", "06-01")
    assert (row["reason"], row["note"], row["amount"], row["measure"]) == (
        "other", FORMULA, Decimal(2), "l"
    )  # fmt: skip
    assert row["at"] == "2026-06-01T09:00:00-04:00"
    assert table(busy, "discards", "06-02") == []


def test_a_voided_discard_stays_and_says_why(busy: Shop) -> None:
    (entry,) = busy.facts("discarded")
    correct.void(busy.kitchen, "mk", entry.number, "wrong tub")
    (row,) = table(busy, "discards")
    assert row["voided"] == "wrong tub"


def test_a_late_entry_and_a_void_stand_among_the_corrections(busy: Shop) -> None:
    (entry,) = busy.facts("frozen")
    correct.void(busy.kitchen, "mk", entry.number, "it was another")
    told = [(row["what"], row["of_entry"], row["voided"]) for row in table(busy, "corrections")]
    assert ("late", None, "it was another") in told
    assert ("voided", entry.number, "") in told


def test_a_reading_keeps_its_own_scale_and_its_probe(busy: Shop) -> None:
    (row,) = [row for row in table(busy, "readings") if row["what"] == "reading"]
    assert (row["temperature"], row["scale"], row["probe"]) == (Decimal(39), "F", "red")


def test_the_readings_of_loggers_stand_between_those_of_people(busy: Shop) -> None:
    from holdlog.journal import readings
    from holdlog.journal.entries import Draft, append

    with busy.db.appending() as conn:
        now = busy.hand.now
        samples = [(Instant(at("06-01 08:00")), 3850), (Instant(at("06-01 10:00")), 3900)]
        fact = ev.ReadingsImported("walk-in.csv", "0" * 64, "F", added=2)
        (entry,) = append(
            conn, busy.kitchen.site, [Draft(fact, now, "walk-in", "MK")], recorded_at=now
        )
        readings.put(conn, busy.kitchen.site, "walk-in", entry.number, "F", samples)
    rows = table(busy, "readings")
    assert [row["at"] for row in rows] == sorted(str(row["at"]) for row in rows)
    assert [row["temperature"] for row in rows if row["what"] == "logger"] == [
        Decimal("38.50"), Decimal("39.00"),
    ]  # fmt: skip


def test_a_recall_stands_among_the_holds(busy: Shop) -> None:
    (row,) = table(busy, "holds")
    assert (row["what"], row["subject"], row["why"]) == ("recalled", "lot L442", FORMULA)


def test_an_unknown_register_and_a_period_upside_down_are_refused(shop: Shop) -> None:
    with pytest.raises(Mistake, match="no register"):
        find("cellar")
    assert find("disc").name == "discards"
    with pytest.raises(Mistake, match="before"):
        span(shop.kitchen, day("06-02"), day("06-01"))


def test_an_entry_whose_voiding_waits_counts_and_is_not_called_void(busy: Shop) -> None:
    (taken,) = busy.facts("recalled")
    busy.it_is("06-03 09:00")
    # As journals have it from before a recall was lifted on a paper alone.
    with busy.kitchen.writing("mk") as write:
        void = ev.Voided(taken.number, "withdrawn"), write.recorded_at, taken.subject
        (waits,) = write.append(void)
        write.settle(taken.subject)

    def said() -> object:
        (row,) = [each for each in table(busy, "holds") if each["what"] == "recalled"]
        return row["voided"]

    assert said() == ""
    correct.confirm(busy.kitchen, "jr", waits.number, "maker's letter")
    assert said() == "withdrawn"
