"""A copy counts only after it has been read."""

import threading
from pathlib import Path

import pytest

from holdlog.core.chain import first_fault
from holdlog.core.errors import Fault, Mistake
from holdlog.journal import backup, migrate
from holdlog.journal.checks import check
from holdlog.journal.engine import Database, open_database
from tests.journal.made import SITE, all_of, files, write
from tests.journal.test_guards import without_triggers


def test_a_copy_is_a_whole_journal(filed: Database, tmp_path: Path) -> None:
    entries = write(filed)
    copy = backup.copy_open(filed, tmp_path / "copy.db")
    write(filed)
    # Readable from a write-protected medium: bytes 18 and 19 say so (sqlite.org/fileformat2.html).
    assert copy.read_bytes()[18:20] == b"\x01\x01"
    other = open_database(copy, must_exist=True)
    assert all_of(other) == entries
    assert all(finding.ok for finding in check(other, SITE))
    assert len(write(other)) == 1
    other.close()
    assert files(tmp_path) == ["copy.db", "journal.db"]


def test_copies_made_while_others_write_miss_nothing_written_before(
    path: Path, tmp_path: Path
) -> None:
    db, reader = open_database(path, wait_ms=60_000), open_database(path)
    stop = threading.Event()

    def keep_writing() -> None:
        # A breath between entries: SQLite's wait for a lock is not fair, and a loop without one
        # can starve the copy for ever, as no kitchen does.
        while not stop.wait(0.005):
            write(db)

    writer = threading.Thread(target=keep_writing)
    writer.start()
    try:
        for number in range(5):
            before = len(all_of(db))
            copy = open_database(backup.copy_open(reader, tmp_path / f"copy{number}.db"))
            entries = all_of(copy)
            copy.close()
            assert len(entries) >= before
            assert first_fault(entries) is None
    finally:
        stop.set()
        writer.join()
        db.close()
        reader.close()


def test_a_journal_that_was_tampered_with_gives_no_copy(filed: Database, tmp_path: Path) -> None:
    write(filed)
    write(filed)
    filed.close()
    with filed.driver() as raw:
        without_triggers(raw)
        raw.execute("UPDATE entry SET by = 'XX' WHERE number = 1")
    with pytest.raises(Fault, match="entry 1 was changed") as caught:
        backup.copy_open(filed, tmp_path / "copy.db")
    assert caught.value.code == "copy-bad"
    assert files(tmp_path) == ["journal.db"]


def test_a_copy_never_takes_the_place_of_a_file(filed: Database, tmp_path: Path) -> None:
    (tmp_path / "copy.db").write_text("last week's")
    with pytest.raises(Mistake) as caught:
        backup.copy_open(filed, tmp_path / "copy.db")
    assert caught.value.code == "file-exists"
    assert (tmp_path / "copy.db").read_text() == "last week's"


@pytest.mark.parametrize("end", ["-journal", "-wal"])
def test_a_copy_is_not_made_where_the_log_of_a_file_that_is_gone_would_get_into_it(
    filed: Database, tmp_path: Path, end: str
) -> None:
    """https://sqlite.org/howtocorrupt.html, "Mispairing database files and hot journals"."""
    write(filed)
    left = tmp_path / f"copy.db{end}"
    left.write_bytes(b"how the other file was")
    with pytest.raises(Mistake, match=left.name) as caught:
        backup.copy_open(filed, tmp_path / "copy.db")
    assert caught.value.code == "log-left"
    begun = open_database(tmp_path / "copy.db")
    with pytest.raises(Mistake, match=left.name):
        migrate.create(begun)
    assert left.read_bytes() == b"how the other file was"
    assert not (tmp_path / "copy.db").exists()


def test_what_is_missing_is_named(filed: Database, path: Path, tmp_path: Path) -> None:
    with pytest.raises(Fault) as no_folder:
        backup.copy_open(filed, tmp_path / "usb stick" / "copy.db")
    assert no_folder.value.code == "no-folder"
    path.unlink()
    with pytest.raises(Mistake) as no_journal:
        backup.copy_open(open_database(path, must_exist=True), tmp_path / "copy.db")
    assert no_journal.value.code == "no-journal"
