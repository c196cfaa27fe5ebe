"""Rulebooks are kept by the SHA-256 of their bytes."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from holdlog.core.errors import Fault
from holdlog.core.moments import Instant
from holdlog.journal import books
from holdlog.journal.engine import Database
from tests.journal.made import NOW

# FIPS 180-2, appendix B.1: the SHA-256 of "abc".
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_exact_bytes_come_back_by_their_digest(db: Database) -> None:
    odd = bytes(range(256)) + b"\r\n"
    with db.appending() as conn:
        assert books.keep(conn, "us-food-code-2022", b"abc", NOW) == ABC
        other = books.keep(conn, "house", odd, NOW)
        assert books.keep(conn, "again", b"abc", Instant(NOW + 5)) == ABC
    with db.reading() as conn:
        assert books.load(conn, ABC) == b"abc"
        assert books.load(conn, other) == odd
        first = conn.exec_driver_sql("SELECT id, first_used_at FROM book ORDER BY id").all()
    assert [tuple(row) for row in first] == [("house", NOW), ("us-food-code-2022", NOW)]


def test_an_edited_book_never_passes_for_the_old_one(db: Database, path: Path) -> None:
    with db.appending() as conn:
        books.keep(conn, "us-food-code-2022", b"abc", NOW)
    with closing(sqlite3.connect(path)) as raw, raw:
        raw.execute("UPDATE book SET content = ?", (b"abd",))
    with pytest.raises(Fault) as caught, db.reading() as reading:
        books.load(reading, ABC)
    assert caught.value.code == "book-changed"


def test_a_missing_book_is_named(db: Database) -> None:
    with pytest.raises(Fault, match="ba7816bf8f01") as caught, db.reading() as conn:
        books.load(conn, ABC)
    assert caught.value.code == "book-missing"
