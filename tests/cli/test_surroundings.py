"""When the disk, the lock, the terminal or the reader fails: one line, exit 1, nothing torn."""

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.cli.conftest import Stock
from tests.cli.running import HOLDLOG, MODULE, Done, Till


def test_a_journal_locked_by_another_program_is_waited_for_then_named(stock: Stock) -> None:
    till = stock.till
    before = till.entries()
    with closing(sqlite3.connect(till.journal, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        done = till.run("discard", stock.stock[0], "-r", "off", env={"HOLDLOG_WAIT_MS": "50"})
        other.execute("ROLLBACK")
    line = done.fault()
    assert "Another program is writing" in line
    assert str(till.journal) in line
    assert "try again" in line
    assert till.entries() == before
    till.ok("discard", stock.stock[0], "-r", "off")


def test_a_full_disk_loses_nothing_and_half_writes_nothing(stock: Stock) -> None:
    """Stood in for by a limit on the size of files, which a write meets as it meets a full disk."""
    till = stock.till
    before = till.data("audit")
    size = till.journal.stat().st_size

    def no_room() -> None:
        hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))

    done = till.run("prep", "chicken stock", "60l", "-c", "400", "--tape", before=no_room)
    line = done.fault()
    assert str(till.journal) in line
    assert "Nothing was" in line
    assert till.data("audit") == before
    assert "All is well." in till.ok("doctor")


def test_where_labels_cannot_be_written_the_batch_stands_and_tape_is_offered(till: Till) -> None:
    (till.folder / "blocked").write_text("a file where a folder should be")
    done = till.run("prep", "chicken stock", "2l", "--to", str(till.folder / "blocked"))
    line = done.fault()
    assert "blocked" in line
    assert "holdlog label" in line
    assert "Write on tape" in done.out
    assert "USE BY" in done.out


@pytest.fixture
def shared_kitchen(stock: Stock) -> Iterator[Till]:
    """A kitchen in a folder that other users can reach (pytest's own is closed to them)."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copy(stock.till.journal, folder / "kitchen.db")
        folder.chmod(0o755)
        yield Till(folder)
        folder.chmod(0o755)


# Root may write anywhere, so it is tried as somebody else; who may not read this interpreter's
# files, so everything that is needed is loaded by doing the same in another kitchen first.
AS_NOBODY = """
import contextlib, io, os, sys
from holdlog.cli.door import run
practice, real, *arguments = sys.argv[1:]
with contextlib.redirect_stdout(io.StringIO()):
    assert run(["--db", practice, *arguments]) == 0
    assert run(["--db", practice, "why", "H7K3-9QX2"]) == 2
if os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
print("--", file=sys.stderr)
sys.exit(run(["--db", real, *arguments]))
"""


def test_in_a_read_only_folder_a_write_is_refused_in_one_line(
    stock: Stock, shared_kitchen: Till
) -> None:
    shared_kitchen.journal.chmod(0o444)
    shared_kitchen.folder.chmod(0o555)
    before = shared_kitchen.journal.read_bytes()
    done = subprocess.run(
        [sys.executable, "-c", AS_NOBODY, str(stock.till.journal), str(shared_kitchen.journal),
         "discard", stock.stock[0], "-r", "off"],
        env=stock.till.env(),
        capture_output=True,
        encoding="utf-8",
        check=False,
    )  # fmt: skip
    line = Done(done.returncode, done.stdout, done.stderr.partition("--\n")[2]).fault()
    assert "read-only" in line
    assert str(shared_kitchen.journal) in line
    assert shared_kitchen.journal.read_bytes() == before


def test_a_file_that_is_no_journal_is_left_alone(empty: Till) -> None:
    empty.journal.write_text("Saturday: 40 covers.\n" * 50)
    before = empty.journal.read_bytes()
    for arguments in (["due"], ["prep", "x", "1l"]):
        assert str(empty.journal) in empty.run(*arguments).fault()
    assert empty.journal.read_bytes() == before


def test_an_output_that_takes_no_more_is_named(till: Till) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*HOLDLOG, "due"], env=till.env(), stdout=full, stderr=subprocess.PIPE, check=False
        )
    assert done.returncode == 1
    assert b"Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_a_reader_that_has_seen_enough_is_no_fault(till: Till) -> None:
    running = subprocess.Popen(
        [*HOLDLOG, "why", till.data("on-hand")[0]["code"]],
        env=till.env(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert running.stdout is not None
    assert running.stderr is not None
    running.stdout.close()
    said = running.stderr.read()
    running.stderr.close()
    assert (running.wait(), said) == (0, b"")


def test_a_closed_output_is_no_fault(till: Till) -> None:
    done = subprocess.run(
        ["sh", "-c", '"$@" >&-', "sh", *HOLDLOG, "due"],
        env=till.env(),
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_ctrl_c_leaves_no_stack_trace_and_nothing_half_written(stock: Stock) -> None:
    till = stock.till
    before = till.entries()
    with closing(sqlite3.connect(till.journal, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        # It waits for the lock; that is when it is interrupted.
        running = subprocess.Popen(
            [*HOLDLOG, "discard", stock.stock[0], "-r", "off"],
            env={**till.env(), "HOLDLOG_WAIT_MS": "1500"},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
        )
        time.sleep(1)
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=20)
        other.execute("ROLLBACK")
    assert running.returncode in (1, 130)
    assert out == ""
    assert "Traceback" not in err
    assert len(err.strip().splitlines()) == 1
    assert till.entries() == before


@pytest.mark.parametrize("locale", [{"LC_ALL": "C"}, {"PYTHONIOENCODING": "ascii"}])
def test_a_terminal_without_degree_signs_ends_no_job(till: Till, locale: dict[str, str]) -> None:
    said = till.ok("prep", "fish stock", "2l", "--warm", "150F", "--tape", **locale)
    assert "USE BY" in said


def test_the_module_runs_like_the_script(till: Till) -> None:
    done = subprocess.run(
        [*MODULE, "due"], env=till.env(), capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0
    assert done.stdout.partition("\n")[2] == till.ok("due").partition("\n")[2]


def test_a_fault_of_the_program_is_one_line_and_its_trace_can_be_had(till: Till) -> None:
    """A broken installation stands in for a fault that nobody has thought of."""
    broken = till.folder / "broken"
    (broken / "sqlalchemy").mkdir(parents=True)
    (broken / "sqlalchemy" / "__init__.py").write_text("raise RuntimeError('broken wheel')\n")
    path = os.pathsep.join([str(broken), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
    done = till.run("due", env={"PYTHONPATH": path}, cold=True)
    assert done.code == 1
    assert len(done.err.splitlines()) == 1
    assert "broken wheel" in done.err
    assert "HOLDLOG_TRACE" in done.err
    traced = till.run("due", env={"PYTHONPATH": path, "HOLDLOG_TRACE": "1"}, cold=True)
    assert "Traceback" in traced.err
