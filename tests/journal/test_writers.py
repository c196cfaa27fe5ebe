"""Several writers at once, and one that will not let go."""

import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest

from holdlog.core.chain import first_fault
from holdlog.core.errors import Fault
from holdlog.journal.engine import Database, journal_for, open_database, sqlite_version
from holdlog.journal.entries import append
from tests.journal.made import NOW, ROOT, SITE, all_of, draft, write

APPENDS = """
import sys
from holdlog.journal.engine import open_database
from tests.journal.made import all_of, draft, write

db = open_database(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
written = 0
# Both go on until each has met the other, or this would show nothing.
while written < 100 or {entry.by for entry in all_of(db)} == {sys.argv[2]}:
    write(db, [draft(by=sys.argv[2])])
    written += 1
db.close()
print(written)
"""


def start(script: str, *args: object) -> "subprocess.Popen[str]":
    process = subprocess.Popen(
        [sys.executable, "-c", script, *map(str, args)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    return process


def test_two_processes_write_one_whole_chain(where: str) -> None:
    db = open_database(where)
    writers = [start(APPENDS, where, name) for name in ("MK", "JO")]
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write("go\n")
        writer.stdin.flush()
    acknowledged = [int(writer.communicate(timeout=120)[0]) for writer in writers]
    assert [writer.returncode for writer in writers] == [0, 0]
    entries = all_of(db)
    assert first_fault(entries) is None
    by = [entry.by for entry in entries]
    assert [by.count("MK"), by.count("JO")] == acknowledged
    assert min(acknowledged) >= 100
    db.close()


def test_threads_of_one_process_wait_for_each_other(where: str) -> None:
    db = open_database(where)
    threads = [threading.Thread(target=lambda: [write(db) for _ in range(15)]) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(all_of(db)) == 60
    assert first_fault(all_of(db)) is None
    db.close()


HOLDS = """
import sqlite3, sys
conn = sqlite3.connect(sys.argv[1], isolation_level=None)
conn.execute(sys.argv[2])
conn.execute("SELECT count(*) FROM entry").fetchall()
print("ready", flush=True)
sys.stdin.readline()
conn.execute("ROLLBACK")
"""


@pytest.mark.parametrize("begin", ["BEGIN IMMEDIATE", "BEGIN EXCLUSIVE"])
def test_a_writer_that_will_not_let_go_gives_a_clear_line(path: Path, begin: str) -> None:
    db = open_database(path, wait_ms=50)
    write(db)
    holder = start(HOLDS, path, begin)
    with pytest.raises(Fault) as caught:
        write(db)
    holder.communicate("done\n", timeout=30)
    assert caught.value.code == "locked"
    assert str(path) in caught.value.line()
    assert "SQL" not in caught.value.line()
    assert len(write(db)) == 1
    assert first_fault(all_of(db)) is None
    db.close()


def test_a_writer_at_work_does_not_keep_readers_out(path: Path, db: Database) -> None:
    write(db)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert len(all_of(db)) == 1


def test_a_reader_and_a_writer_at_once_never_show_half_a_picture(path: Path) -> None:
    """In WAL mode the reader keeps its picture while others write; with a rollback journal it is
    the COMMIT that meets the reader, when all is written, and nothing of it stays.
    """
    db = open_database(path, wait_ms=50)
    write(db)
    with closing(sqlite3.connect(path, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        before = reader.execute("SELECT count(*) FROM entry").fetchone()
        if journal_for(sqlite_version())[0] == "WAL":
            write(db)
        else:
            with pytest.raises(Fault) as caught:
                write(db)
            assert caught.value.code == "locked"
        assert reader.execute("SELECT count(*) FROM entry").fetchone() == before
        reader.execute("ROLLBACK")
    kept = [entry.number for entry in all_of(db)]
    assert kept in ([1], [1, 2])
    assert [entry.number for entry in write(db)] == [kept[-1] + 1]
    db.close()


def test_a_write_inside_a_write_is_refused_rather_than_waiting_for_itself(db: Database) -> None:
    def nested() -> None:
        with db.appending() as conn:
            append(conn, SITE, [draft()], recorded_at=NOW)
            write(db)

    with pytest.raises(Fault) as caught:
        nested()
    assert caught.value.code == "locked"
    assert all_of(db) == []


ACKNOWLEDGES = """
import sys
from holdlog.journal.engine import open_database
from tests.journal.made import write

db = open_database(sys.argv[1])
print("ready", flush=True)
while True:
    print(write(db)[-1].number, flush=True)
"""


@pytest.mark.parametrize("acknowledged", [1, 2, 5, 13, 34])
def test_a_killed_program_loses_nothing_it_has_acknowledged(where: str, acknowledged: int) -> None:
    """Killed at whatever it is doing; what counts is the ledger kept outside of it."""
    db = open_database(where)
    process = start(ACKNOWLEDGES, where)
    assert process.stdout is not None
    ledger = [int(process.stdout.readline()) for _ in range(acknowledged)]
    process.kill()
    ledger += [int(line) for line in process.communicate(timeout=30)[0].split()]
    entries = all_of(db)
    assert ledger == list(range(1, len(ledger) + 1))
    assert len(ledger) <= len(entries) <= len(ledger) + 1
    assert first_fault(entries) is None
    assert write(db)[-1].number == len(entries) + 1
    db.close()
