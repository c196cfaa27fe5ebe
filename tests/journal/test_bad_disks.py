"""Full disks, read-only folders, damaged and missing files: one clear line, nothing half-done."""

import os
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from holdlog.core.chain import first_fault
from holdlog.core.errors import Fault, Mistake
from holdlog.core.events import Moved
from holdlog.journal import migrate
from holdlog.journal.checks import check
from holdlog.journal.engine import Database, journal_for, open_database, sqlite_version
from tests.journal.made import SITE, all_of, draft, elsewhere, write

needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="limits and users are POSIX")

FILLS = """
import json, os, resource, sys
from holdlog.core.chain import first_fault
from holdlog.core.errors import Fault
from holdlog.core.events import Moved
from holdlog.journal.engine import open_database
from tests.journal.made import all_of, draft, write

db = open_database(sys.argv[1], wait_ms=50)
write(db)
hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
resource.setrlimit(resource.RLIMIT_FSIZE, (os.path.getsize(sys.argv[1]) + 16384, hard))
kept, line, code = 1, None, None
try:
    for _ in range(1000):
        write(db, [draft(Moved("x" * 900))])
        kept += 1
except Fault as fault:
    line, code = fault.line(), fault.code
full = len(all_of(db))
resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
write(db)
print(json.dumps([kept, full, len(all_of(db)), first_fault(all_of(db)), code, line]))
"""


@needs_posix
def test_a_disk_that_takes_no_more_loses_nothing_that_was_acknowledged(path: Path) -> None:
    """A limit on the size of files, which the system reports as a write that failed."""
    kept, full, after, fault, code, line = elsewhere(FILLS, path)
    assert code in ("disk-full", "disk-fault")
    assert str(path) in line
    assert 1 < kept < 1000
    assert (full, after, fault) == (kept, kept + 1, None)


def test_a_full_database_says_so_and_goes_on_once_there_is_room(db: Database) -> None:
    """SQLite's own page limit gives the very result code of a full disk (SQLITE_FULL)."""
    write(db)
    long = draft(Moved("x" * 50_000))
    with db.driver() as raw:
        (pages,) = raw.execute("PRAGMA page_count").fetchone()
        raw.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(Fault) as caught:
        write(db, [long])
    assert caught.value.code == "disk-full"
    assert len(all_of(db)) == 1
    with db.driver() as raw:
        raw.execute("PRAGMA max_page_count = 1000000")
    write(db, [long])
    assert first_fault(all_of(db)) is None


# Root may write anywhere, so the permissions are tried as somebody else.
AS_NOBODY = """
import json, os, sys
from holdlog.core.errors import HoldlogError
from holdlog.journal import migrate
from holdlog.journal.checks import check
from holdlog.journal.engine import open_database
from tests.journal.made import SITE, all_of, write

if os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
try:
    db = open_database(sys.argv[1], must_exist=True, wait_ms=50)
    read = [migrate.state(db), len(all_of(db)), all(one.ok for one in check(db, SITE))]
except HoldlogError as error:
    read = [error.code, error.line()]
try:
    write(db)
    wrote = None
except HoldlogError as error:
    wrote = [error.code, error.line()]
print(json.dumps([read, wrote]))
"""


@pytest.fixture
def open_folder(made_once: Path) -> Iterator[Path]:
    """A folder that other users can reach (pytest's own is closed to them)."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        (folder / "journal.db").write_bytes(made_once.read_bytes())
        db = open_database(folder / "journal.db")
        write(db)
        db.close()
        yield folder
        folder.chmod(0o755)


@needs_posix
@pytest.mark.parametrize(("folder_mode", "file_mode"), [(0o555, 0o444), (0o555, 0o666)])
def test_in_a_read_only_folder_a_write_is_refused_clearly(
    open_folder: Path, folder_mode: int, file_mode: int
) -> None:
    path = open_folder / "journal.db"
    path.chmod(file_mode)
    open_folder.chmod(folder_mode)
    read, wrote = elsewhere(AS_NOBODY, path)
    if journal_for(sqlite_version())[0] == "WAL":
        # SQLite needs a file beside the journal even to read, and says so; it does not guess.
        assert read[0] == "read-only"
    else:
        assert read == ["current", 1, True]
    assert wrote[0] == "read-only"
    assert str(path) in wrote[1]


@needs_posix
def test_a_file_of_somebody_else_cannot_be_opened(open_folder: Path) -> None:
    path = open_folder / "journal.db"
    path.chmod(0o600)
    if os.geteuid() != 0:
        path.chmod(0)
    read, _ = elsewhere(AS_NOBODY, path)
    assert read[0] == "cannot-open"
    assert str(path) in read[1]


def test_a_missing_journal_names_the_command_and_makes_no_file(tmp_path: Path) -> None:
    with pytest.raises(Mistake, match="no journal") as caught:
        open_database(tmp_path / "none.db", must_exist=True)
    assert caught.value.code == "no-journal"
    assert "holdlog setup" in caught.value.hint
    assert list(tmp_path.iterdir()) == []


def test_a_journal_that_vanishes_is_not_replaced_by_an_empty_one(path: Path) -> None:
    db = open_database(path, must_exist=True)
    path.unlink()
    with pytest.raises(Fault) as caught:
        all_of(db)
    assert caught.value.code == "cannot-open"
    assert not path.exists()


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    db = open_database(tmp_path / "usb stick" / "journal.db")
    with pytest.raises(Fault) as caught:
        migrate.create(db)
    assert caught.value.code == "no-folder"
    assert str(tmp_path / "usb stick") in caught.value.sentence


def test_a_folder_in_place_of_the_file_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(Fault) as caught:
        all_of(open_database(tmp_path, must_exist=True))
    assert caught.value.code == "cannot-open"


def test_a_file_that_is_no_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    text = "Saturday: 40 covers, two of them late.\n" * 100
    path.write_text(text)
    db = open_database(path, must_exist=True)
    for attempt in (lambda: write(db), lambda: migrate.state(db), lambda: migrate.create(db)):
        with pytest.raises(Fault) as caught:
            attempt()
        assert caught.value.code == "damaged"
    db.close()
    assert path.read_text() == text


def test_a_database_of_another_program_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("CREATE TABLE recipe (name TEXT)")
    before = path.read_bytes()
    db = open_database(path)
    with pytest.raises(Fault) as caught:
        migrate.create(db)
    assert caught.value.code == "not-a-journal"
    db.close()
    assert path.read_bytes() == before


def test_a_torn_file_is_found_and_never_read_as_a_whole_one(db: Database, path: Path) -> None:
    write(db, [draft(Moved("x" * 500)) for _ in range(200)])
    db.close()
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.seek(size // 2)
        file.write(b"\xff" * (size - size // 2))
    again = open_database(path, must_exist=True)
    found = {finding.name: finding for finding in check(again, SITE)}
    assert not found["database"].ok
    assert not found["chain"].ok
    with pytest.raises(Fault) as caught:
        all_of(again)
    assert caught.value.code == "damaged"
    again.close()
