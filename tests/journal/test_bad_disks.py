"""Full disks, read-only folders, damaged and missing files: one clear line, nothing half-done."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from holdlog.core.chain import Entry, first_fault
from holdlog.core.errors import Fault, Mistake
from holdlog.core.events import Moved
from holdlog.journal import engine, migrate, on_hand, readings
from holdlog.journal.checks import check
from holdlog.journal.engine import Database, journal_for, open_database, sqlite_version
from holdlog.journal.entries import head
from tests import disks
from tests.journal.made import (
    ROOT,
    SITE,
    all_of,
    batch_row,
    container_row,
    draft,
    elsewhere,
    write,
)

needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="limits and users are POSIX")

FILLS = """
import json, os, resource, sys
from holdlog.core.chain import Entry, first_fault
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


def test_a_full_database_says_so_and_goes_on_once_there_is_room(filed: Database) -> None:
    """SQLite's own page limit gives the very result code of a full disk (SQLITE_FULL)."""
    write(filed)
    long = draft(Moved("x" * 50_000))
    with filed.driver() as raw:
        (pages,) = raw.execute("PRAGMA page_count").fetchone()
        raw.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(Fault) as caught:
        write(filed, [long])
    assert caught.value.code == "disk-full"
    assert len(all_of(filed)) == 1
    with filed.driver() as raw:
        raw.execute("PRAGMA max_page_count = 1000000")
    write(filed, [long])
    assert first_fault(all_of(filed)) is None


# Root may write anywhere, so the permissions are tried as somebody else.
AS_NOBODY = """
import json, os, sys
from holdlog.core.errors import HoldlogError
from holdlog.journal import migrate, shape
from holdlog.journal.checks import check
from holdlog.journal.engine import open_database
from tests.journal.made import SITE, all_of, write

shape._made()  # loads what that account may not be allowed to read
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


# ---- damage of a page ------------------------------------------------------------------------


def page_of(path: Path, name: str) -> tuple[int, int]:
    """Where the first page of a table or an index begins in the file, and how long it is."""
    with closing(sqlite3.connect(path)) as conn:
        (size,) = conn.execute("PRAGMA page_size").fetchone()
        (root,) = conn.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = ?", (name,)
        ).fetchone()
    return (root - 1) * size, size


@pytest.mark.parametrize(
    ("name", "checks"),
    [
        ("entry", {"database", "chain"}),
        ("ix_entry_subject", {"database"}),
        ("container", {"database"}),
        ("ix_container_live", {"database"}),
        ("reading", {"database"}),
    ],
)
def test_a_damaged_page_is_found_by_the_doctor(
    db: Database, path: Path, name: str, checks: set[str]
) -> None:
    """Where a job meets the page it stops (``damaged``); the doctor meets them all."""
    write(db, [draft(Moved("x" * 300)) for _ in range(100)])
    with db.appending(SITE) as conn:
        on_hand.put(conn, SITE, batches=[batch_row()], containers=[container_row()], links=[])
    db.close()
    start, size = page_of(path, name)
    with path.open("r+b") as file:
        file.seek(start)
        file.write(b"\xff" * size)
    with pytest.raises(Fault) as caught:
        everything_of(db)
    assert caught.value.code == "damaged"
    assert "latest good copy" in caught.value.hint
    assert {finding.name for finding in check(db, SITE) if not finding.ok} >= checks


def everything_of(db: Database) -> None:
    """A read of each table, and a write."""
    with db.reading() as conn:
        on_hand.everything(conn, SITE)
        on_hand.live(conn, SITE)
        readings.count(conn, SITE, "walk-in")
    all_of(db)
    write(db)


def test_a_spoilt_head_of_the_file_is_no_journal_and_is_left_alone(
    db: Database, path: Path
) -> None:
    write(db)
    db.close()
    with path.open("r+b") as file:
        file.write(b"\0" * 100)
    before = path.read_bytes()
    for attempt in (lambda: all_of(db), lambda: write(db), lambda: migrate.create(db)):
        with pytest.raises(Fault) as caught:
            attempt()
        assert caught.value.code == "damaged"
    db.close()
    assert path.read_bytes() == before


# ---- what SQLite keeps beside the file -------------------------------------------------------

DIES = """
import os, signal, sys
from holdlog.core.events import Moved
from holdlog.journal.engine import open_database
from holdlog.journal.entries import append
from tests.journal.made import NOW, SITE, draft

with open_database(sys.argv[1]).appending() as conn:
    conn.exec_driver_sql("PRAGMA cache_size = 5")  # so that pages reach the file before the end
    append(conn, SITE, [draft(Moved("x" * 900)) for _ in range(400)], recorded_at=NOW)
    os.kill(os.getpid(), signal.SIGKILL)
"""
rollback_only = pytest.mark.skipif(
    journal_for(sqlite_version())[0] == "WAL", reason="this SQLite is used in WAL mode"
)


def killed_in_the_middle(db: Database, path: Path) -> Path:
    """What is beside the file after a program was killed while it wrote 400 entries."""
    write(db)
    db.close()
    done = subprocess.run([sys.executable, "-c", DIES, str(path)], cwd=ROOT, check=False)
    assert done.returncode == -signal.SIGKILL
    return path.with_name(path.name + "-journal")


@needs_posix
@rollback_only
def test_what_a_killed_program_had_half_written_is_taken_back(db: Database, path: Path) -> None:
    beside = killed_in_the_middle(db, path)
    assert beside.exists()
    assert path.stat().st_size > 400 * 900
    assert len(all_of(db)) == 1
    assert all(finding.ok for finding in check(db, SITE))
    assert len(write(db)) == 1
    assert not beside.exists()


@needs_posix
@rollback_only
def test_a_rollback_journal_that_was_deleted_is_found_out(db: Database, path: Path) -> None:
    """Deleting it takes away how the file was: https://sqlite.org/howtocorrupt.html, 1.4."""
    killed_in_the_middle(db, path).unlink()
    assert [finding.name for finding in check(db, SITE) if not finding.ok] != []


def test_a_copy_without_its_log_is_whole_but_short_and_only_a_head_tells(
    path: Path, tmp_path: Path
) -> None:
    """In WAL mode the last entries lie in the file beside it: https://sqlite.org/wal.html."""
    db = open_database(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA journal_mode = WAL")
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM entry").fetchone()
        write(db)
        copy = tmp_path / "copy.db"
        copy.write_bytes(path.read_bytes())
        with db.reading() as conn:
            kept = head(conn, SITE)
    db.close()
    short = open_database(copy)
    assert {finding.name for finding in check(short, SITE) if not finding.ok} <= {"journal-mode"}
    with short.reading() as conn:
        assert head(conn, SITE)[:2] != kept[:2]
    short.close()


# ---- the file goes while it is open ----------------------------------------------------------


def test_no_empty_file_takes_the_place_of_a_journal_that_was_deleted(
    made_once: Path, tmp_path: Path
) -> None:
    """A connection that is lost is not made anew behind our back: of a file that would leave an
    empty one, of a server that is down it would hide that an outcome is unknown.
    """
    path = Path(shutil.copy(made_once, tmp_path / "journal.db"))
    db = open_database(path)
    write(db)
    path.unlink()
    with pytest.raises(Fault) as caught:
        write(db)
    assert caught.value.code == "moved"
    assert not path.exists()
    db.close()


@needs_posix
@pytest.mark.parametrize("mode", ["DELETE", "WAL"])
@pytest.mark.parametrize("how", ["deleted", "moved away", "replaced", "with its folder"])
def test_nothing_is_acknowledged_that_went_into_a_file_without_a_name(
    made_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str, mode: str
) -> None:
    """SQLite looks before it writes whether its file still has its name (SQLITE_READONLY_DBMOVED,
    https://sqlite.org/rescode.html), but not with a write-ahead log: there we do.
    """
    monkeypatch.setattr(engine, "journal_for", lambda *_: (mode, "EXTRA"))
    folder = tmp_path / "usb stick"
    folder.mkdir()
    path = Path(shutil.copy(made_once, folder / "journal.db"))
    db = open_database(path, must_exist=True)
    write(db)
    new = Path(shutil.copy(made_once, tmp_path / "new.db"))
    before = new.read_bytes()
    match how:
        case "deleted":
            path.unlink()
        case "moved away":
            path.rename(tmp_path / "elsewhere.db")
        case "replaced":
            new.replace(path)
        case _:
            shutil.rmtree(folder)
    works: tuple[Callable[[], object], ...] = (lambda: all_of(db), lambda: write(db))
    for work in works:
        with pytest.raises(Fault) as caught:
            work()
        assert str(path) in caught.value.line()
        if how == "replaced":
            assert (caught.value.code, path.read_bytes()) == ("moved", before)
            break  # the next one goes to the file that has the name now
        assert not path.exists()
    if how == "replaced" and mode == "DELETE":  # what a log left beside it does, nobody knows
        write(db)
        assert len(all_of(db)) == 1
    db.close()


# ---- a disk that is really full --------------------------------------------------------------


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    with disks.small(tmp_path / "disk") as folder:
        yield folder


@needs_posix
def test_on_a_disk_that_is_full_nothing_acknowledged_is_lost(
    made_once: Path, small_disk: Path
) -> None:
    path = Path(shutil.copy(made_once, small_disk / "journal.db"))
    db = open_database(path, must_exist=True)
    kept: list[Entry] = []

    def write_for_ever() -> None:
        while True:
            kept.extend(write(db, [draft(Moved("x" * 5000))]))

    with pytest.raises(Fault) as caught:
        write_for_ever()
    assert caught.value.code in ("disk-full", "disk-fault")
    assert all_of(db) == kept != []
    assert all(finding.ok for finding in check(db, SITE))
    (small_disk / "ballast").unlink()
    write(db)
    assert first_fault(all_of(db)) is None
    db.close()
