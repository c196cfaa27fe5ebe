"""Damage that no check of the file's structure sees, and no chain reaches: the doctor says it.

Each case is one that a flipped byte has brought about (``tests/torture/flips.py``).
"""

import sqlite3
from contextlib import closing

import pytest

from holdlog.core.errors import Fault
from holdlog.kitchen import doctor, due
from tests.kitchen.shop import Shop


def _by_hand(shop: Shop, statement: str) -> None:
    shop.db.close()
    with closing(sqlite3.connect(shop.path, isolation_level=None)) as raw:
        raw.execute("PRAGMA writable_schema = ON")
        raw.execute(statement)


def _definition(was: str, becomes: str) -> str:
    return f"UPDATE sqlite_master SET sql = replace(sql, '{was}', '{becomes}')"


SHAPES = {
    "a column of another kind": _definition("subject TEXT", "subject TEXU"),
    "a limit of another figure": _definition("number > 0", "number > 8"),
    "another order of a key": _definition("site, use_by, code", "site, code, use_by"),
}


@pytest.mark.parametrize("what", sorted(SHAPES))
def test_a_table_that_is_defined_otherwise_is_found(shop: Shop, what: str) -> None:
    _by_hand(shop, SHAPES[what])
    assert "migrations" in shop.bad()


@pytest.mark.parametrize("column", ["id = 'another-book'", "first_used_at = first_used_at - 1"])
def test_a_rulebook_that_is_not_as_it_was_adopted_is_found(shop: Shop, column: str) -> None:
    shop.tub()
    _by_hand(shop, f"UPDATE book SET {column}")
    assert shop.bad() == ["books"]


@pytest.mark.parametrize("content", ["x'00'", "''", "5"])
def test_a_rulebook_without_its_content_is_found(shop: Shop, content: str) -> None:
    """With nothing on hand: else its rules are asked for first, and that is refused."""
    _by_hand(shop, f"UPDATE book SET content = {content}")
    assert shop.bad() == ["books"]
    with shop.db.reading() as conn, pytest.raises(Fault) as told:
        shop.reopen().stack(conn)
    assert told.value.code == "book-changed"


@pytest.mark.parametrize("column", ["cautions = '[\"a'", "last_day = '2026-13-01'"])
def test_a_row_that_cannot_be_read_is_one_line_and_is_mended(shop: Shop, column: str) -> None:
    shop.tub()
    before = shop.everything()
    _by_hand(shop, f"UPDATE container SET {column}")
    for ask in (due.due, doctor.examine):
        with pytest.raises(Fault) as told:
            ask(shop.kitchen)
        assert told.value.code == "on-hand-damaged"
    doctor.rebuild(shop.kitchen, "jr")
    assert shop.bad() == []
    assert shop.everything() == before


def test_a_message_of_sqlite_that_is_no_text_is_one_line(shop: Shop) -> None:
    shop.db.close()
    data = shop.path.read_bytes()
    place = data.index(b"CREATE TABLE site")
    shop.path.write_bytes(data[:place] + b"\xd2" + data[place + 1 :])
    with pytest.raises(Fault) as told:
        shop.everything()
    assert told.value.code == "damaged"


@pytest.mark.parametrize(
    "changed",
    ["station = 5", "body = x'7b7d'", "subject = x'ff'", "at = 'noon'", "version = 1.5"],
)
def test_an_entry_with_something_of_another_kind_in_it_is_found(shop: Shop, changed: str) -> None:
    shop.tub()
    shop.db.close()
    with closing(sqlite3.connect(shop.path, isolation_level=None)) as raw:
        raw.execute("DROP TRIGGER entry_no_update")
        raw.execute("PRAGMA ignore_check_constraints = ON")
        # As a flipped byte does it, past the column's own notion of what it holds.
        raw.execute("PRAGMA writable_schema = ON")
        raw.execute("UPDATE sqlite_master SET sql = replace(replace(sql, 'TEXT', 'BLOB'),"
                    " 'BIGINT', 'BLOB') WHERE name = 'entry'")  # fmt: skip
        raw.execute("PRAGMA writable_schema = RESET")
        raw.execute(f"UPDATE entry SET {changed} WHERE number = (SELECT max(number) FROM entry)")
    assert "chain" in shop.bad()
