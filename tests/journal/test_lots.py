"""Makers' lots: found however they were typed, in old journals too."""

import io
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import create_engine

from holdlog.bundled import folder
from holdlog.core.lots import lot_key, lot_subject
from holdlog.journal import kinship, on_hand
from holdlog.journal.engine import Database
from tests.journal.made import SITE, batch_row, write

WAYS = (
    "L-442 b",
    "l442B",
    "Lot L 442-B",
    "lot. l442b",
    "LOT: L442B",
    "Lot No. L442B",
    "LOT_L442B",
    " l 4 4 2 b ",
    "\uff2c\uff14\uff14\uff12\uff22",
)


def test_the_word_may_touch_a_figure() -> None:
    assert {lot_key(way) for way in ("LOT442", "Lot No. 442", "lot nr 442", "442")} == {"442"}
    assert lot_key("Lotus 7") == "LOTUS7"


@pytest.mark.parametrize("way", WAYS)
def test_one_lot_has_one_key(way: str) -> None:
    assert lot_key(way) == "L442B"
    assert lot_subject(way) == "lot L442B"


@pytest.mark.parametrize(("one", "other"), [("L442", "L443"), ("L442", "L4420"), ("12", "21")])
def test_other_lots_have_other_keys(one: str, other: str) -> None:
    assert lot_key(one) != lot_key(other)


@given(st.text(min_size=1).filter(str.strip))
def test_no_lot_that_says_anything_is_without_a_key(lot: str) -> None:
    assert lot_key(lot)


def test_the_batches_of_a_lot_and_lots_that_begin_alike(db: Database) -> None:
    write(db)
    rows = [batch_row(n, lot=lot, lot_key=lot_key(lot)) for n, lot in enumerate(WAYS[:2], 1)]
    rows += [batch_row(3, lot="L449", lot_key="L449"), batch_row(4)]
    with db.appending() as conn:
        on_hand.put(conn, SITE, batches=rows)
        found = on_hand.batches_of_lot(conn, SITE, "L442B")
        assert [row.batch for row in found] == ["B1", "B2"]
        assert on_hand.batches_of_lot(conn, SITE, "") == []
        found = kinship.of_lots(conn, SITE, ["L449", "L442B", "", "L1"])
        assert [row.batch for row in found] == ["B1", "B2", "B3"]
        assert kinship.lots_beginning(conn, SITE, "L44", 5) == ["L442B", "L449"]
        assert kinship.lots_beginning(conn, SITE, "L449", 5) == []
        assert kinship.lots_beginning(conn, "annex", "L44", 5) == []


def test_the_lots_of_an_older_journal_get_their_keys(tmp_path: Path) -> None:
    """The rule stands in the migration once more, since a migration imports no program."""
    path = tmp_path / "old.db"
    lots = ("", *WAYS, "--", "lot")
    engine = create_engine(f"sqlite:///{path}")
    for revision in ("0001", "head"):
        with engine.begin() as conn:
            config = Config(stdout=io.StringIO())
            config.set_main_option("script_location", str(folder("migrations")))
            config.attributes["connection"] = conn
            command.upgrade(config, revision)
        if revision == "0001":
            with closing(sqlite3.connect(path)) as bare, bare:
                bare.execute("INSERT INTO site VALUES ('main', 0)")
                bare.executemany(
                    "INSERT INTO batch VALUES ('main', ?, ?, 'x', 'x', 'x', 0, 'received', ?)",
                    [(f"B{n}", n, lot) for n, lot in enumerate(lots, 1)],
                )
    engine.dispose()
    with closing(sqlite3.connect(path)) as bare:
        found = bare.execute("SELECT lot, lot_key FROM batch ORDER BY number").fetchall()
    assert found == [(lot, lot_key(lot)) for lot in lots]
