"""Readings by the thousand: kept once, never changed, asked for in order."""

import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.bundled import folder
from holdlog.core.errors import Fault
from holdlog.core.moments import Instant
from holdlog.core.temperature import Scale
from holdlog.journal import migrate, readings
from holdlog.journal.checks import check
from holdlog.journal.engine import Database, open_database
from holdlog.journal.entries import append
from holdlog.journal.readings import Put, Reading, Span
from tests.journal.made import NOW, SITE, all_of, draft, write

UNIT = "walk-in"
MINUTE = 60_000
HOUR_OF_IT = [(n * MINUTE, 380 + n) for n in range(60)]
EVER = (Instant(-(2**60)), Instant(2**60))


@pytest.fixture
def kept(db: Database) -> Database:
    """A journal with two entries, for two imports."""
    write(db)
    write(db)
    return db


def put(
    db: Database,
    samples: list[tuple[int, int]],
    *,
    entry: int = 1,
    scale: Scale = "C",
    unit: str = UNIT,
) -> Put:
    with db.appending() as conn:
        return readings.put(conn, SITE, unit, entry, scale, samples)


def rows(db: Database, unit: str = UNIT) -> list[Reading]:
    with db.reading() as conn:
        return list(readings.between(conn, SITE, unit, *EVER))


def test_what_is_put_comes_back_in_order_and_by_time(kept: Database) -> None:
    assert put(kept, HOUR_OF_IT) == Put(60, 0, 0)
    assert rows(kept) == [Reading(Instant(at), value, "C", 1) for at, value in HOUR_OF_IT]
    with kept.reading() as conn:
        some = readings.between(conn, SITE, UNIT, Instant(5 * MINUTE), Instant(8 * MINUTE))
        assert [row.hundredths for row in some] == [385, 386, 387]
        assert readings.count(conn, SITE, UNIT) == 60
        assert readings.count(conn, SITE, "freezer") == 0
        assert readings.count(conn, "boat-shed", UNIT) == 0
        assert readings.units(conn, SITE) == [UNIT]


def test_the_same_file_again_adds_nothing(kept: Database) -> None:
    put(kept, HOUR_OF_IT)
    before = rows(kept)
    assert put(kept, HOUR_OF_IT, entry=2) == Put(0, 60, 0)
    assert put(kept, [*HOUR_OF_IT[30:], (60 * MINUTE, 390)], entry=2) == Put(1, 30, 0)
    assert rows(kept) == [*before, Reading(Instant(60 * MINUTE), 390, "C", 2)]


def test_another_value_for_the_same_moment_does_not_take_the_place_of_the_first(
    kept: Database,
) -> None:
    put(kept, HOUR_OF_IT)
    before = rows(kept)
    changed = [(at, value - 100 if at >= 50 * MINUTE else value) for at, value in HOUR_OF_IT]
    assert put(kept, changed, entry=2) == Put(0, 50, 10, Instant(50 * MINUTE))
    # 3.80 °C is not 3.80 °F.
    assert put(kept, HOUR_OF_IT, entry=2, scale="F") == Put(0, 0, 60, Instant(0))
    assert rows(kept) == before


def test_units_and_sites_do_not_meet(kept: Database) -> None:
    put(kept, HOUR_OF_IT)
    assert put(kept, [(at, 0) for at, _ in HOUR_OF_IT], unit="freezer") == Put(60, 0, 0)
    write(kept, site="boat-shed")
    with kept.appending() as conn:
        other = readings.put(conn, "boat-shed", UNIT, 1, "F", [(0, 4100)])
        assert other == Put(1, 0, 0)
        assert readings.units(conn, SITE) == ["freezer", UNIT]
        assert readings.units(conn, "boat-shed") == [UNIT]
        assert readings.units(conn, "nowhere") == []
    assert len(rows(kept)) == 60


def test_the_entry_may_be_written_after_the_readings_but_must_be_there_in_the_end(
    db: Database,
) -> None:
    with pytest.raises(Fault) as caught:
        put(db, HOUR_OF_IT)
    assert caught.value.code == "refused"
    assert rows(db) == []
    write(db)
    with pytest.raises(Fault):
        put(db, HOUR_OF_IT, entry=2)
    assert rows(db) == []


def test_an_instant_twice_in_one_import_is_refused_and_nothing_is_kept(kept: Database) -> None:
    with pytest.raises(Fault) as caught:
        put(kept, [(0, 380), (MINUTE, 381), (MINUTE, 382)])
    # The guard's words, or the name of the key.
    assert re.search("a reading is kept once|pk_reading", caught.value.line())
    assert rows(kept) == []


def test_more_than_one_batch_of_rows_counts_as_one(kept: Database) -> None:
    many = [(n * MINUTE, n % 700) for n in range(45_000)]
    put(kept, many[::2])
    changed = [(at, value + (at == 44_998 * MINUTE)) for at, value in many]
    assert put(kept, changed, entry=2) == Put(22_500, 22_499, 1, Instant(44_998 * MINUTE))
    assert [row[:2] for row in rows(kept)] == many


SAMPLES = st.dictionaries(st.integers(-5, 30), st.integers(-2000, 15000), max_size=20).map(
    lambda found: sorted(found.items())
)


@given(batches=st.lists(st.tuples(SAMPLES, st.sampled_from(["F", "C"])), max_size=6))
def test_the_first_value_of_each_moment_stays_as_in_a_plain_dictionary(
    made_once: Path, batches: list[tuple[list[tuple[int, int]], Scale]]
) -> None:
    """Against a model: a dictionary that takes a key once."""
    db = open_database(made_once)
    model: dict[int, tuple[int, str]] = {}
    # Undone in the end, so that the next example begins with an empty journal.
    with db.reading() as conn:
        append(conn, SITE, [draft()], recorded_at=NOW)
        for samples, scale in batches:
            offered: dict[int, tuple[int, str]] = {at: (value, scale) for at, value in samples}
            already = {at for at, what in offered.items() if model.get(at) == what}
            other = set(offered) & set(model) - already
            first = Instant(min(other)) if other else None
            expected = Put(len(set(offered) - set(model)), len(already), len(other), first)
            assert readings.put(conn, SITE, UNIT, 1, scale, samples) == expected
            model = {**offered, **model}
        found = readings.between(conn, SITE, UNIT, *EVER)
        assert {row.at: (row.hundredths, row.scale) for row in found} == model
    db.close()


# ---- questions -------------------------------------------------------------------------------


def test_the_latest_reading_and_the_latest_good_one(kept: Database) -> None:
    put(kept, [(0, 3900), (10, 4100), (20, 4101), (30, 4500)], scale="F")
    put(kept, [(40, 300)], scale="C")
    with kept.reading() as conn:
        assert readings.last(conn, SITE, UNIT) == Reading(Instant(40), 300, "C", 1)
        early = readings.last(conn, SITE, UNIT, before=Instant(20))
        assert early == Reading(Instant(10), 4100, "F", 1)
        assert readings.last(conn, SITE, UNIT, before=Instant(0)) is None
        # 41 °F or less, as the limit is printed; 3 °C is not compared with it.
        good = readings.last_good(conn, SITE, UNIT, "F", at_most=4100)
        assert good == Reading(Instant(10), 4100, "F", 1)
        hot = readings.last_good(conn, SITE, UNIT, "F", at_least=4200, before=Instant(40))
        assert hot == Reading(Instant(30), 4500, "F", 1)
        assert readings.last_good(conn, SITE, UNIT, "F", at_most=3000) is None
        assert readings.last_good(conn, SITE, "freezer", "F", at_most=4100) is None


def test_the_first_good_reading_from_a_moment_on(kept: Database) -> None:
    put(kept, [(10, 4100), (20, 4101), (30, 4500), (40, 4050)], scale="F")
    put(kept, [(25, 300)], scale="C")
    with kept.reading() as conn:
        good = readings.first_good(conn, SITE, UNIT, "F", since=Instant(11), at_most=4100)
        assert good == Reading(Instant(40), 4050, "F", 1)
        same = readings.first_good(conn, SITE, UNIT, "F", since=Instant(10), at_most=4100)
        assert same == Reading(Instant(10), 4100, "F", 1)
        hot = readings.first_good(conn, SITE, UNIT, "F", since=Instant(0), at_least=4500)
        assert hot == Reading(Instant(30), 4500, "F", 1)
        assert readings.first_good(conn, SITE, UNIT, "F", since=Instant(41), at_most=4100) is None


def test_samples_are_of_one_scale_with_both_ends(kept: Database) -> None:
    put(kept, [(10, 4100), (20, 4101), (30, 4500)], scale="F")
    put(kept, [(25, 300)], scale="C")
    with kept.reading() as conn:
        some = readings.samples(conn, SITE, UNIT, "F", Instant(10), Instant(20))
        assert some == [(10, 4100), (20, 4101)]
        assert readings.samples(conn, SITE, UNIT, "C", *EVER) == [(25, 300)]
        assert readings.samples(conn, SITE, "freezer", "F", *EVER) == []


def test_a_digest_that_is_told_where_to_look_is_the_same(kept: Database) -> None:
    put(kept, HOUR_OF_IT)
    first, last = Instant(HOUR_OF_IT[0][0]), Instant(HOUR_OF_IT[-1][0])
    with kept.reading() as conn:
        told = readings.digest(conn, SITE, UNIT, 1, start=first, end=last)
        assert told == readings.digest(conn, SITE, UNIT, 1)
        part = readings.digest(conn, SITE, UNIT, 1, start=first, end=Instant(last - 1))
        assert part != told


def test_spans_are_broken_where_nothing_was_measured(kept: Database) -> None:
    put(kept, [(at, 380) for at in (0, 5, 10, 41, 46, 100)])
    with kept.reading() as conn:
        every = readings.spans(conn, SITE, UNIT, *EVER, gap=30)
        assert every == [Span(Instant(0), Instant(10)), Span(Instant(41), Instant(46)),
                         Span(Instant(100), Instant(100))]  # fmt: skip
        assert readings.spans(conn, SITE, UNIT, *EVER, gap=31)[0] == (0, 46)
        part = readings.spans(conn, SITE, UNIT, Instant(5), Instant(46), gap=30)
        assert part == [Span(Instant(5), Instant(10)), Span(Instant(41), Instant(41))]
        assert readings.spans(conn, SITE, UNIT, Instant(11), Instant(41), gap=30) == []
        assert readings.spans(conn, SITE, "freezer", *EVER, gap=30) == []


def test_the_digest_of_an_import_shows_an_edit(kept: Database, path: Path) -> None:
    put(kept, HOUR_OF_IT)
    with kept.reading() as conn:
        before = readings.digest(conn, SITE, UNIT, 1)
    put(kept, [(at + 1, value) for at, value in HOUR_OF_IT], entry=2)
    with kept.reading() as conn:
        assert readings.digest(conn, SITE, UNIT, 1) == before
        assert readings.digest(conn, SITE, UNIT, 2) != before
    kept.close()
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.execute("DROP TRIGGER reading_no_update")
        raw.execute("UPDATE reading SET hundredths = 379 WHERE at = 0")
    with kept.reading() as conn:
        assert readings.digest(conn, SITE, UNIT, 1) != before
    found = {finding.name: finding for finding in check(kept, SITE)}
    assert not found["triggers"].ok
    assert "reading_no_update" in found["triggers"].says


# ---- guards ----------------------------------------------------------------------------------


@pytest.fixture
def raw(kept: Database, path: Path) -> Iterator[sqlite3.Connection]:
    """Somebody else's program: none of our settings, recursive triggers off as by default."""
    put(kept, HOUR_OF_IT)
    kept.close()
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        yield conn


ROW = f"VALUES ('{SITE}', '{UNIT}', {{at}}, 100, 'C', 1)"


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE reading SET hundredths = 1 WHERE at = 0", "never changed"),
        ("UPDATE OR REPLACE reading SET at = 0 WHERE at = 60000", "never changed"),
        ("DELETE FROM reading", "never deleted"),
        (f"INSERT OR REPLACE INTO reading {ROW.format(at=0)}", "kept once"),
        (f"REPLACE INTO reading {ROW.format(at=0)}", "kept once"),
        (f"INSERT INTO reading {ROW.format(at=0)}", "kept once"),
        (f"INSERT INTO reading {ROW.format(at=1)}".replace("'C'", "'K'"), "scale"),
    ],
)
def test_another_program_cannot_change_readings_by_accident(
    raw: sqlite3.Connection, statement: str, says: str
) -> None:
    before = raw.execute("SELECT * FROM reading").fetchall()
    with pytest.raises(sqlite3.IntegrityError, match=says):
        raw.execute(statement)
    assert raw.execute("SELECT * FROM reading").fetchall() == before


def test_readings_lie_in_the_order_of_their_key_without_a_second_copy(
    raw: sqlite3.Connection,
) -> None:
    (sql,) = raw.execute("SELECT sql FROM sqlite_master WHERE name = 'reading'").fetchone()
    assert "WITHOUT ROWID" in sql
    query = "SELECT * FROM reading WHERE site = ? AND unit = ? AND at >= ? AND at < ? ORDER BY at"
    plan = raw.execute(f"EXPLAIN QUERY PLAN {query}", (SITE, UNIT, 0, 1)).fetchall()
    assert [row[-1] for row in plan] == [
        "SEARCH reading USING PRIMARY KEY (site=? AND unit=? AND at>? AND at<?)"
    ]


# ---- a journal from before there were readings -----------------------------------------------


def test_a_journal_of_the_first_release_is_upgraded_after_a_copy(tmp_path: Path) -> None:
    first = tmp_path / "first" / "migrations"
    shutil.copytree(folder("migrations"), first)
    (first / "versions" / "0002_readings.py").unlink()
    db = open_database(tmp_path / "journal.db")
    with db.appending() as conn:
        migrate._run(conn, first)
    assert migrate.state(db) == "older"
    entries = write(db)
    copy = migrate.upgrade(db)
    assert copy == tmp_path / "journal.before-0002-1.db"
    assert migrate.state(db) == "current"
    assert all_of(db) == entries
    assert all(finding.ok for finding in check(db, SITE))
    assert put(db, HOUR_OF_IT) == Put(60, 0, 0)
    assert all(finding.ok for finding in check(db, SITE))
    old = open_database(copy, must_exist=True)
    assert migrate.state(old) == "older"
    assert all_of(old) == entries
    old.close()
    db.close()
