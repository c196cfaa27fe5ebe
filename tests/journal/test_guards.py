"""Entries are never changed: what the triggers refuse, and what the chain shows without them."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from holdlog.core.errors import Fault
from holdlog.journal.checks import check
from holdlog.journal.engine import Database, open_database
from tests.journal.made import SITE, all_of, draft, write


@pytest.fixture
def raw(path: Path) -> Iterator[sqlite3.Connection]:
    """Somebody else's program: none of our settings, recursive triggers off as by default."""
    db = open_database(path)
    write(db, [draft(by=name) for name in ("MK", "JO", "AL", "TS", "RW")])
    db.close()
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        assert conn.execute("PRAGMA recursive_triggers").fetchone() == (0,)
        yield conn


COPY = "SELECT site, {number}, kind, version, at, recorded_at, 'XX', station, subject, body"
COPY += ", previous, hash FROM entry WHERE number = 3"


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE entry SET by = 'XX' WHERE number = 3", "never changed"),
        ("UPDATE OR REPLACE entry SET number = 2 WHERE number = 3", "never changed"),
        ("DELETE FROM entry WHERE number = 3", "never deleted"),
        ("DELETE FROM entry", "never deleted"),
        (f"INSERT OR REPLACE INTO entry {COPY.format(number=3)}", "only follows"),
        (f"REPLACE INTO entry {COPY.format(number=5)}", "only follows"),
        (f"INSERT OR IGNORE INTO entry {COPY.format(number=3)}", "only follows"),
        (f"INSERT INTO entry {COPY.format(number=7)}", "only follows"),
        (f"INSERT INTO entry {COPY.format(number=0)}", "only follows"),
    ],
)
def test_another_program_cannot_change_entries_by_accident(
    raw: sqlite3.Connection, statement: str, says: str
) -> None:
    before = raw.execute("SELECT * FROM entry ORDER BY number").fetchall()
    with pytest.raises(sqlite3.IntegrityError, match=says):
        raw.execute(statement)
    assert raw.execute("SELECT * FROM entry ORDER BY number").fetchall() == before


def test_an_upsert_does_not_reach_an_entry(raw: sqlite3.Connection) -> None:
    statement = f"INSERT INTO entry {COPY.format(number=3)} ON CONFLICT DO UPDATE SET by = 'XX'"
    with pytest.raises(sqlite3.IntegrityError):
        raw.execute(statement.replace("number = 3", "number = 3 AND true"))
    assert raw.execute("SELECT by FROM entry WHERE number = 3").fetchone() == ("AL",)


def test_the_next_entry_is_still_taken_from_another_program(raw: sqlite3.Connection) -> None:
    raw.execute(f"INSERT INTO entry {COPY.format(number=6)}")
    assert raw.execute("SELECT count(*) FROM entry").fetchone() == (6,)


def test_a_refusal_is_told_in_one_line(db: Database) -> None:
    write(db)
    with pytest.raises(Fault) as caught, db.appending() as conn:
        conn.exec_driver_sql("UPDATE entry SET by = 'XX'")
    assert caught.value.code == "refused"
    assert "an entry is never changed" in caught.value.line()


# Somebody with the file and bad intentions first drops the triggers. The same cases as in
# SQLite tamper studies: edit, delete, swap, cut, add.
EDITS = {
    "site": "UPDATE entry SET site = 'boat-shed' WHERE number = 3",
    "kind": "UPDATE entry SET kind = 'chilled' WHERE number = 3",
    "version": "UPDATE entry SET version = 2 WHERE number = 3",
    "at": "UPDATE entry SET at = at - 1 WHERE number = 3",
    "recorded_at": "UPDATE entry SET recorded_at = recorded_at + 1 WHERE number = 3",
    "by": "UPDATE entry SET by = 'XX' WHERE number = 3",
    "station": "UPDATE entry SET station = '' WHERE number = 3",
    "subject": "UPDATE entry SET subject = 'B9' WHERE number = 3",
    "body": "UPDATE entry SET body = replace(body, '3.5', '2.5') WHERE number = 3",
    "body, same fact": "UPDATE entry SET body = replace(body, ':', ': ') WHERE number = 3",
    "between fields": "UPDATE entry SET by = by || 'p', station = 'ass' WHERE number = 3",
    "previous": "UPDATE entry SET previous = hash WHERE number = 3",
    "hash": "UPDATE entry SET hash = previous WHERE number = 3",
    "the last one": "UPDATE entry SET by = 'XX' WHERE number = 5",
    "delete first": "DELETE FROM entry WHERE number = 1",
    "delete one": "DELETE FROM entry WHERE number = 3",
    "delete and close up": (
        "DELETE FROM entry WHERE number = 3; UPDATE entry SET number = 3 WHERE number = 4;"
        "UPDATE entry SET number = 4 WHERE number = 5"
    ),
    "swap": (
        "UPDATE entry SET number = 99 WHERE number = 2; UPDATE entry SET number = 2"
        " WHERE number = 3; UPDATE entry SET number = 3 WHERE number = 99"
    ),
    "put in": f"INSERT INTO entry {COPY.format(number=6)}",
}


def without_triggers(raw: sqlite3.Connection) -> None:
    for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        raw.execute(f"DROP TRIGGER {name}")


def findings(path: Path) -> dict[str, bool]:
    db = open_database(path)
    found = {finding.name: finding.ok for finding in check(db, SITE)}
    db.close()
    return found


@pytest.mark.parametrize("edit", EDITS)
def test_the_chain_shows_an_edit(raw: sqlite3.Connection, path: Path, edit: str) -> None:
    assert findings(path)["chain"]
    without_triggers(raw)
    raw.execute("PRAGMA ignore_check_constraints = ON")
    raw.executescript(EDITS[edit])
    assert not findings(path)["chain"]


def test_the_chain_alone_does_not_show_a_cut_tail(raw: sqlite3.Connection, path: Path) -> None:
    """Why the head goes on paper: said plainly rather than hoped for."""
    db = open_database(path)
    paper = all_of(db)[-1]
    db.close()
    without_triggers(raw)
    raw.execute("DELETE FROM entry WHERE number > 3")
    assert findings(path)["chain"]
    db = open_database(path)
    assert paper.hash not in {entry.hash for entry in all_of(db)}
    db.close()


DISARM: dict[str, Callable[[sqlite3.Connection], object]] = {
    "dropped": lambda raw: raw.execute("DROP TRIGGER entry_no_delete"),
    "emptied": lambda raw: raw.executescript(
        "DROP TRIGGER entry_no_update; CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry"
        " WHEN 0 BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END"
    ),
    "one more": lambda raw: raw.executescript(
        "CREATE TRIGGER entry_helper AFTER INSERT ON entry BEGIN UPDATE batch SET item = 'x'; END"
    ),
}


@pytest.mark.parametrize("how", DISARM)
def test_tampered_triggers_are_found(raw: sqlite3.Connection, path: Path, how: str) -> None:
    assert findings(path)["triggers"]
    DISARM[how](raw)
    assert not findings(path)["triggers"]
