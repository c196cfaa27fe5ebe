"""Faults of the surroundings, as a cook meets them: one clear line, nothing half-written.

What holdlog says to each, and what to do, is in docs/faults.md. The journal's own faults are kept
in tests/journal/test_bad_disks.py, the lock and the terminal in test_surroundings.py.
"""

import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests import disks
from tests.cli.conftest import Stock
from tests.cli.running import HOLDLOG, ROOT, Done, Till
from tests.system import need

# Every command that writes a file, with FILE for it; and the ending that it asks for.
OUTPUTS = {
    "export": ("export --to FILE --replace", "jsonl"),
    "register": ("register discards --csv FILE --replace", "csv"),
    "audit": ("audit --csv FILE", "csv"),
    "inspector-file": ("inspector-file --pdf FILE", "pdf"),
    "round sheet": ("round sheet --to FILE", "pdf"),
    "unit plot": ("unit plot walk-in --to FILE", "png"),
    "cool": ("cool COOLING --plot FILE", "svg"),
    "ahead": ("ahead --ics FILE", "ics"),
    "sheet ruler": ("sheet ruler letter --to FILE", "pdf"),
    "template show": ("template show two-by-two --to FILE", "png"),
    "template new": ("template new FILE --size 50x30", "toml"),
    "rulebook house": ("rulebook house FILE", "toml"),
    "make-less": ('make-less --item "chicken stock" --plot FILE', "svg"),
}


def typed(stock: Stock, command: str, file: str) -> list[str]:
    words = {"FILE": file, "COOLING": stock.cooling, '"chicken': "chicken stock"}
    return [words.get(word, word) for word in command.split() if word != 'stock"']


@pytest.fixture
def read(stock: Stock) -> Stock:
    """The stocked kitchen with something to draw: a reading, and a batch that ended."""
    stock.till.ok("unit", "read", "walk-in", "38F")
    for code in stock.stock:
        stock.till.ok("discard", code, "-r", "over-made")
    return stock


def test_an_output_in_a_folder_that_is_not_there_is_one_line(read: Stock) -> None:
    till = read.till
    there = sorted(path.name for path in till.folder.iterdir())
    for command, ending in OUTPUTS.values():
        done = till.run(*typed(read, command, f"none/out.{ending}"))
        assert done.code in (1, 2), (command, done)
        line = done.one_line()
        assert f"none/out.{ending}" in line
        assert "folder" in line
    assert sorted(path.name for path in till.folder.iterdir()) == there


def test_no_output_is_written_over_the_journal(read: Stock) -> None:
    """Also where its name would pass for the file that is asked for."""
    till = read.till
    for command, ending in OUTPUTS.values():
        place = till.folder / f"journal.{ending}"
        if not place.exists():
            till.journal.replace(place)
        before = place.read_bytes()
        done = till.run("--db", str(place), *typed(read, command, place.name))
        assert done.code == 2, (command, done)
        assert done.one_line()
        assert place.read_bytes() == before
        place.replace(till.journal)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    with disks.small(tmp_path / "disk") as folder:
        yield folder


def test_on_a_full_disk_each_job_is_refused_whole_and_goes_on_once_there_is_room(
    read: Stock, small_disk: Path
) -> None:
    """The journal, the labels and every file are on a disk that is full."""
    here = read.till
    till = Till(small_disk)
    till.journal.write_bytes(here.journal.read_bytes())
    kept = till.entries()
    disks.fill(small_disk)
    line = till.run("prep", "chicken stock", "2l", "-c", "40", "--tape").fault()
    assert "disk" in line
    assert "Nothing was" in line
    for name in ("export", "register", "audit", "inspector-file", "cool"):
        command, ending = OUTPUTS[name]
        done = here.run(*typed(read, command, str(small_disk / f"out.{ending}")))
        assert done.code == 1, (command, done)
        assert "the disk is full" in done.one_line()
    done = here.run("label", read.cooling, "--to", str(small_disk))
    assert done.code == 1
    assert "could not be written" in done.err
    assert "Write on tape meanwhile" in done.out
    left = {path.name for path in small_disk.rglob("*") if path.is_file()}
    assert left == {"ballast", "filler", "kitchen.db"}
    assert till.entries() == kept
    (small_disk / "filler").unlink()
    till.ok("prep", "chicken stock", "2l", "-c", "40", "--tape")
    assert "All is well." in till.ok("doctor")


# ---- what is read ----------------------------------------------------------------------------

INPUTS = (
    "round --codes FILE -u walk-in",
    "round sheet --enter FILE --yes",
    "unit import walk-in FILE",
    "import items FILE --yes",
    "import inventory FILE --yes",
    "template check FILE",
    "template show FILE",
    "label COOLING --template FILE",
    "label COOLING --sheet FILE",
    "rulebook check FILE",
    "adopt -R FILE",
    "label-words --font FILE",
    "verify FILE",
    "whatif FILE",
)


def test_what_cannot_be_read_is_one_line_and_writes_nothing(stock: Stock) -> None:
    """A file that is not there, a folder, and octets that are no text."""
    till = stock.till
    (till.folder / "folder.toml").mkdir()
    (till.folder / "noise.toml").write_bytes(bytes(range(128, 256)) * 20)
    before = till.journal.read_bytes()
    for number, command in enumerate(INPUTS):
        for file in ("none.toml", ("folder.toml", "noise.toml")[number % 2]):
            done = till.run(*typed(stock, command, file))
            # What is no export is not whole, which verify says with 1 and on its own output.
            told = done.out if command.startswith("verify") and done.code == 1 else done.err
            assert done.code in (1, 2), (command, file, done)
            assert len(told.splitlines()) == 1, (command, file, done)
            assert "Traceback" not in told
            assert "[Errno" not in told
            assert "codec" not in told
            assert "fault of the program" not in told
    assert till.journal.read_bytes() == before


def test_a_template_that_vanishes_leaves_the_food_waiting_for_its_label(till: Till) -> None:
    till.ok("template", "new", "ours.toml", "--size", "50x30")
    till.ok("printer", "add", "pass", "./labels-out", "--template", "./ours.toml")
    (till.folder / "ours.toml").unlink()
    done = till.run("prep", "chicken stock", "2l", "--printer", "pass")
    assert done.code == 1
    assert "There is no label template" in done.one_line()
    assert "Write on tape meanwhile" in done.out
    assert "waiting for a label" in till.ok("label")


# ---- a program that is ended, or loses its journal -------------------------------------------


def waits_for_its_label(till: Till, running: "subprocess.Popen[str]", before: int) -> None:
    """Until the batch is recorded and its label is being made."""
    for _ in range(200):
        if till.entries() > before:
            break
        time.sleep(0.05)
    assert running.poll() is None


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_ended_between_the_entry_and_the_label_the_next_command_offers_it(
    till: Till, number: signal.Signals
) -> None:
    """The printer takes the call and says nothing; meanwhile the program is ended."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        address = f"127.0.0.1:{server.getsockname()[1]}"
        till.ok("printer", "add", "pass", address, "--as", "zpl")
        before = till.entries()
        running = subprocess.Popen(
            [*HOLDLOG, "prep", "chicken stock", "2l", "--printer", "pass"],
            env=till.env(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, encoding="utf-8",
        )  # fmt: skip
        waits_for_its_label(till, running, before)
        running.send_signal(number)
        out, err = running.communicate(timeout=20)
    if number == signal.SIGKILL:
        assert running.returncode == -number
    else:
        assert running.returncode == 1
        assert "Stopped before the label was made" in Done(1, out, err).one_line()
        assert "USE BY" not in out
    (waiting,) = till.data("label")
    assert waiting["item"] == "chicken stock"
    assert waiting["amount"] == "2 l"
    assert "1 container" in till.ok("due")
    till.ok("label", waiting["code"], "--tape")
    assert till.data("label") == []
    assert "All is well." in till.ok("doctor")


def test_a_round_whose_journal_is_replaced_stops_and_writes_into_neither(stock: Stock) -> None:
    till = stock.till
    other = till.folder / "other.db"
    other.write_bytes(till.journal.read_bytes())
    before = other.read_bytes()
    first, second = stock.stock
    walking = subprocess.Popen(
        [*HOLDLOG, "round", "-u", "walk-in"],
        env=till.env(), stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        encoding="utf-8",
    )  # fmt: skip
    assert walking.stdin is not None
    assert walking.stdout is not None
    walking.stdin.write(f"38F\n{first}\n")
    walking.stdin.flush()
    while "chicken stock" not in walking.stdout.readline():
        pass
    other.replace(till.journal)
    out, err = walking.communicate(f"{second}\n", timeout=20)
    assert "stays open" in out
    line = Done(walking.returncode, out, err).one_line()
    assert f"NOT RECORDED: {second}" in line
    assert str(till.journal) in line
    assert till.journal.read_bytes() == before


def test_a_journal_that_was_deleted_is_not_begun_anew(stock: Stock) -> None:
    stock.till.journal.unlink()
    for arguments in (["due"], ["prep", "chicken stock", "2l"], ["doctor"]):
        assert "There is no journal" in stock.till.run(*arguments).refusal()
    assert not stock.till.journal.exists()


# ---- the three streams -----------------------------------------------------------------------

CLOSED = """
import os, sys
for number in map(int, sys.argv[1].split(",")):
    os.close(number)
os.execv(sys.argv[2], sys.argv[2:])
"""


def closed(till: Till, numbers: str, *arguments: str) -> Done:
    """Run it with some of its streams closed (0 input, 1 output, 2 errors)."""
    done = subprocess.run(
        [sys.executable, "-c", CLOSED, numbers, *HOLDLOG, *arguments],
        env=till.env(), cwd=till.folder, capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip
    return Done(done.returncode, done.stdout, done.stderr)


def test_a_closed_input_is_an_input_that_is_over(till: Till) -> None:
    before = till.entries()
    for arguments in (
        ["receive", "halibut", "2kg", "--by", ""],
        ["round", "sheet", "--enter", "-", "--yes"],
        ["round", "--codes", "-", "-u", "walk-in"],
    ):
        done = closed(till, "0", *arguments)
        assert done.code == 2, done
        assert done.one_line()
    assert till.entries() == before


def test_closed_errors_are_not_told_on_the_output(till: Till) -> None:
    done = closed(till, "2", "why", "H7K3-9QX2", "--json")
    assert done.code == 2
    assert done.json()["error"]["code"] == "bad-code"
    assert closed(till, "0,1,2", "due").code == 0


# ---- the clock and the zone ------------------------------------------------------------------


def test_a_label_is_not_told_of_by_a_clock_that_went_back(stock: Stock) -> None:
    before = stock.till.entries()
    done = by_the_clock(stock, "-3d", "label", stock.stock[0])
    assert done.out == ""
    line = done.fault()
    assert "The clock says" in line
    assert "Set it right" in line
    assert stock.till.entries() == before


def by_the_clock(stock: Stock, offset: str, *arguments: str) -> Done:
    """Run it by a clock that is so far off."""
    done = subprocess.run(
        [need("faketime"), "-f", offset, *HOLDLOG, *arguments],
        env=stock.till.env(), capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip
    return Done(done.returncode, done.stdout, done.stderr)


def test_a_list_by_a_clock_that_went_back_says_as_of_when_it_is(stock: Stock) -> None:
    due = by_the_clock(stock, "-3d", "due", "--json")
    assert due.code == 0
    assert due.one_line().endswith(": everything is judged as of then.")
    assert due.one_line() == f"holdlog: {due.json()['clock']}"
    assert due.json()["at"] == stock.till.data("clock")["last_written"]


def test_a_clock_days_ahead_of_the_last_entry_is_remarked_on_until_somebody_writes(
    stock: Stock,
) -> None:
    """Once a job: with the list, beside the clock, and with the first job that writes."""
    due = by_the_clock(stock, "+6d", "due", "--json")
    line = due.one_line()
    assert due.code == 0
    assert "; nobody wrote for 6 days. If that is not today, set the clock" in line
    assert line == f"holdlog: {due.json()['clock']}"
    assert by_the_clock(stock, "+6d", "due").one_line() == line
    clock = by_the_clock(stock, "+6d", "clock")
    assert (clock.code, clock.err) == (0, "")
    assert line.removeprefix("holdlog: ") in " ".join(clock.out.split())
    assert "the clock is 6 days after the last entry" in clock.out
    made = by_the_clock(stock, "+6d", "prep", "chicken stock", "2l", "--tape", "--json")
    assert (made.code, made.one_line(), made.json()["clock"]) == (0, line, due.json()["clock"])
    assert by_the_clock(stock, "+6d", "due").err == ""


def test_a_clock_of_another_year_is_found_right_once(stock: Stock) -> None:
    found = by_the_clock(stock, "+400d", "clock", "--right", "--json")
    assert (found.code, found.err) == (0, "")
    assert found.json()["recorded"] == stock.till.entries()
    line = stock.till.run("prep", "chicken stock", "2l", "--tape").fault()
    assert f"from entry {stock.till.entries()} on" in line


def test_the_zone_of_the_machine_moves_no_date(stock: Stock) -> None:
    """Days are those of the kitchen's zone, kept in the journal; not those of TZ (POSIX)."""
    till = stock.till
    here = till.data("on-hand")
    for zone in ("Pacific/Kiritimati", "Etc/GMT+12", "Nowhere/Land", ""):
        assert till.run("on-hand", "--json", env={"TZ": zone}).json() == here


# ---- the list in the manual ------------------------------------------------------------------


def test_every_test_that_the_manual_names_is_there() -> None:
    text = (ROOT / "docs" / "faults.md").read_text(encoding="utf-8")
    named = re.findall(r"`(tests/[\w/]+\.py)::(test_\w+)`", text)
    assert len(named) > 20
    for file, name in named:
        assert f"def {name}(" in (ROOT / file).read_text(encoding="utf-8"), (file, name)
