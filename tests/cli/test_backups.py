"""Backups at the command line: made, listed, gone back to; and the move to another database."""

import os
import shutil
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests import disks
from tests.cli.conftest import Stock
from tests.cli.running import Till
from tests.cli.test_terminal import bare
from tests.journal.made import elsewhere

if TYPE_CHECKING:
    from tests.postgres import Server

ROOM = 100_000


def made(till: Till, *more: str) -> Path:
    return Path(till.data("backup", *more)["file"])


def hidden(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir() if path.name.startswith(".")]


def test_a_backup_is_made_listed_and_checked(till: Till) -> None:
    count = till.entries()
    found = till.data("backup")
    assert set(found) == {
        "file", "at", "entries", "head", "bytes", "recorded", "removed", "not_removed",
    }  # fmt: skip
    assert (found["entries"], found["recorded"], found["removed"]) == (count, True, [])
    assert Path(found["file"]).parent == till.folder / "backups"
    assert Path(found["file"]).stat().st_size == found["bytes"]
    (line,) = till.data("backup", "list", "--check")
    assert line == {
        "file": found["file"], "made": line["made"], "entries": count, "head": found["head"],
        "bytes": found["bytes"], "whole": True, "fault": None,
    }  # fmt: skip
    assert line["made"][:10] == found["at"][:10]
    told = till.ok("backup", "list")
    assert found["head"][:8] in told
    # It is on the disk of the journal itself, which it would go down with.
    assert "the disk of the journal" in till.ok("backup")
    doctor = {each["check"]: each for each in till.data("doctor")}
    assert doctor["backup"]["ok"] is True


def test_without_a_backup_the_doctor_warns_and_does_not_fail(till: Till) -> None:
    told = till.ok("doctor")
    assert "LOOK" in told
    assert "holdlog backup" in told
    assert "All is well." in told
    assert "no backup in" in till.ok("backup", "list")
    assert not (till.folder / "backups").exists()


def test_the_doctor_breaks_no_path_and_what_a_killed_program_left_is_to_be_looked_at(
    till: Till, tmp_path: Path
) -> None:
    folder = tmp_path / ("the-memory-stick-of-the-office-" * 3)
    folder.mkdir()
    file = made(till, "--to", str(folder))
    part = till.folder / ".june.csv.71-0a1b2c3d.part"
    part.write_text("cut short")
    os.utime(part, (0, 0))
    shown = bare(till.at_a_terminal("doctor", columns=80).out)
    for lines in (shown.splitlines(), till.ok("doctor", COLUMNS="80").splitlines()):
        assert [each.strip() for each in lines if str(folder) in each] == [str(file)]
        assert all(len(each) <= 80 for each in lines if str(tmp_path) not in each)
        (look,) = [each for each in lines if "LOOK" in each]
        assert "working-files" in look
        assert "All is well." in lines[-1]
    for each in till.data("doctor"):
        assert each["ok"]
        assert each["check"] != "working-files" or part.name in each["says"]


def test_a_backup_that_rotted_is_told_and_the_journal_may_be_gone(till: Till) -> None:
    file = made(till)
    with closing(sqlite3.connect(file)) as conn:
        conn.execute("DELETE FROM link")
        conn.execute("UPDATE container SET item_name = 'water'")
        conn.commit()
    assert till.run("backup", "list").code == 0
    done = till.run("backup", "list", "--check")
    assert done.code == 1
    assert "NOT WHOLE" in done.out
    till.journal.unlink()
    lost = till.run("backup", "list", "--json")
    assert [each["file"] for each in lost.json()] == [str(file)]
    assert "no journal" in lost.one_line()


def test_what_was_backed_up_is_worked_on_elsewhere(stock: Stock, tmp_path: Path) -> None:
    """The drill of the manual: another machine, another folder, and the day goes on."""
    file = made(stock.till)
    (tmp_path / "spare").mkdir()
    spare = Till(tmp_path / "spare")
    assert "nothing is lost" in spare.ok("restore", str(file), "--dry-run")
    assert not spare.journal.exists()
    found = spare.data("restore", str(file))
    assert set(found) == {
        "file", "kitchen", "entries", "head", "last_written", "journal", "present", "loses",
        "sites", "lost_recalls", "restored", "kept_aside",
    }  # fmt: skip
    assert (found["restored"], found["present"], found["kept_aside"]) == (True, "missing", None)
    there, here = spare.data("due"), stock.till.data("due")
    assert [each["code"] for each in there["hold"]] == [each["code"] for each in here["hold"]]
    assert there["on_hand"] == here["on_hand"] == 6
    spare.ok("prep", "chicken stock", "1l", "--tape")
    assert "All is well" in spare.ok("doctor")
    assert not hidden(spare.folder)


def test_a_restore_says_what_would_be_lost_and_keeps_it_aside(stock: Stock) -> None:
    till = stock.till
    file = made(till)
    backed_up = till.entries() - 1
    till.ok("discard", stock.stock[0], "-r", "off")
    till.ok("recall", stock.ham, "--why", "a glass broke")
    before = till.entries()
    dry = till.run("restore", str(file), "--dry-run", "--json").json()
    (site,) = dry["sites"]
    assert (dry["loses"], dry["restored"], site["lost"]) == (True, False, 3)
    assert (site["same_up_to"], site["lost_first"]) == (backed_up, backed_up + 1)
    line = till.run("restore", str(file)).refusal()
    assert "3 entries" in line
    (lost,) = dry["lost_recalls"]
    assert lost["what"] in line
    assert "--lose-newer" in line
    assert till.entries() == before
    told = till.ok("restore", str(file), "--lose-newer")
    aside = till.folder / "kitchen.before-restore-1.db"
    assert aside.name in " ".join(told.split())
    assert f"RECALL AGAIN: {lost['what']}, a glass broke" in " ".join(told.split())
    assert till.entries() == backed_up + 1  # which tells of it
    assert "All is well" in till.ok("doctor")
    assert till.data("--db", str(aside), "why", stock.stock[0])["ended_as"] == "discarded"


MISTAKES: dict[str, tuple[list[str], str]] = {
    "backup to nowhere": (["backup", "--to", "/no/such/stick"], "no folder"),
    "backup by nobody": (["backup", "--by", " "], "--by"),
    "keeping of nothing": (["backup", "--keep", "0,0,0"], "at least one day"),
    "list of nowhere": (["backup", "list", "--to", "/no/such/stick"], "no folder"),
    "restore of nothing": (["restore", "none.db"], "no file none.db"),
    "restore by nobody": (["restore", "kitchen.db", "--by", " "], "--by"),
    "restore of a folder": (["restore", "."], "no plain file"),
    "restore of itself": (["restore", "kitchen.db"], "the journal itself"),
    "move onto itself": (["db", "move", "kitchen.db"], "already"),
    "move to who knows": (["db", "move", "mysql://x/y"], "not a database"),
}


@pytest.mark.parametrize("what", MISTAKES)
def test_what_cannot_be_is_refused_in_a_line(till: Till, what: str) -> None:
    arguments, says = MISTAKES[what]
    before = till.journal.read_bytes()
    assert says in till.run(*arguments).refusal()
    assert till.journal.read_bytes() == before
    assert not hidden(till.folder)


def test_a_full_disk_gets_no_backup_and_loses_none(till: Till, tmp_path: Path) -> None:
    with disks.small(tmp_path / "stick") as stick:
        older = made(till, "--to", str(stick))
        disks.fill(stick)
        count = till.entries()
        line = till.run("backup", "--to", str(stick)).fault()
        assert "full" in line
        assert str(stick) in line
        assert till.entries() == count
        assert list(stick.glob("*.db")) == [older]
        assert not hidden(stick)
        (stick / "ballast").unlink()
        (stick / "filler").unlink()
        made(till, "--to", str(stick))
        # No room for what was there, nor for what is to come: the journal stays as it was.
        (stick / "kitchen.db").write_bytes(till.journal.read_bytes())
        there = Till(stick)
        there.ok("prep", "chicken stock", "1l", "--tape")
        disks.fill(stick)
        content = there.journal.read_bytes()
        assert "full" in there.run("restore", str(older), "--lose-newer").fault()
        assert there.journal.read_bytes() == content
        assert "full" in till.run("db", "move", str(stick / "moved.db")).fault()
        assert not hidden(stick)
        assert not (stick / "moved.db").exists()


AS_NOBODY = """
import json, os, sys
from holdlog.cli.door import run
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO

os.environ.update(HOLDLOG_DB=sys.argv[1], HOLDLOG_BY="MK")
with redirect_stdout(StringIO()):
    run(["backup"])  # loads all that nobody may not be able to read
if os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
said = StringIO()
with redirect_stderr(said), redirect_stdout(StringIO()):
    code = run(["backup", "--to", sys.argv[2]])
print(json.dumps([code, said.getvalue()]))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="users are POSIX")
def test_a_folder_that_takes_nothing_is_told(till: Till) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        place.chmod(0o777)
        shutil.copy(till.journal, place / "kitchen.db")
        (place / "kitchen.db").chmod(0o666)
        (place / "stick").mkdir(mode=0o555)
        code, line = elsewhere(AS_NOBODY, place / "kitchen.db", place / "stick")
        assert code == 1
        assert len(line.splitlines()) == 1
        assert "--to" in line
        assert list((place / "stick").iterdir()) == []


@pytest.mark.postgres
def test_a_kitchen_moves_to_a_server(stock: Stock, postgres: "Server") -> None:
    till, url = stock.till, postgres.fresh()
    content = till.journal.read_bytes()
    found: dict[str, Any] = till.data("db", "move", url)
    assert found["sites"][0]["entries"] == till.entries()
    assert till.journal.read_bytes() == content
    there = ("--db", url)
    assert till.data(*there, "due")["on_hand"] == 6
    assert "already" in till.run("db", "move", url).refusal()
    # Where a server keeps no folder beside the journal, it has to be said.
    assert "--to" in till.run(*there, "backup").refusal()
    (till.folder / "stick").mkdir()
    stick = str(till.folder / "stick")
    file = till.data(*there, "backup", "--to", stick)["file"]
    assert till.data(*there, "backup", "list", "--to", stick, "--check")[0]["whole"] is True
    till.ok(*there, "discard", stock.stock[0], "-r", "off")
    assert "--lose-newer" in till.run(*there, "restore", file).refusal()
    kept = till.data(*there, "restore", file, "--lose-newer", "--to", stick)["kept_aside"]
    assert Path(kept).parent == Path(stick)
    assert till.data(*there, "on-hand") == till.data("on-hand")
    back = till.folder / "back.db"
    till.ok(*there, "db", "move", str(back))
    assert "All is well" in till.ok("--db", str(back), "doctor")
    postgres.drop(url)
