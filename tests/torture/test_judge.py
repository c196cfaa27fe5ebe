"""The judge of the torture suite sees a lost entry, a torn row and a fork."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from holdlog.core.chain import Entry
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import open_database
from holdlog.journal.tables import TRIGGERS
from holdlog.kitchen.kitchen import SITE
from tests.torture import ledger
from tests.torture.judge import Judgement, judge
from tests.torture.ledger import Acknowledged, Pen
from tests.torture.station import template


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("torture") / "journal.db"
    template(path)
    return path


@pytest.fixture
def path(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(made, tmp_path / "journal.db"))


def kept(path: Path) -> list[Acknowledged]:
    db = open_database(path, must_exist=True)
    with db.reading() as conn:
        entries: list[Entry] = list(journal_entries.stream(conn, SITE))
    db.close()
    return [Acknowledged(entry.number, entry.hash) for entry in entries]


def kinds(found: Judgement) -> set[str]:
    return {kind for kind, _ in found.wrong}


def by_hand(path: Path, *statements: str) -> None:
    """As somebody with a database program would, with the guards put back afterwards."""
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        guards = [name for name in TRIGGERS if name.startswith("entry_")]
        for name in guards:
            raw.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            raw.execute(statement)
        for name in guards:
            raw.execute(TRIGGERS[name])


def test_a_journal_that_nothing_happened_to_is_well(path: Path) -> None:
    acknowledged = kept(path)
    found = judge(path, acknowledged[:-3])
    assert found.wrong == ()
    assert (found.entries, found.unacknowledged) == (len(acknowledged), 3)
    # The entry that the judge wrote is there, and nobody was told of it.
    assert judge(path, acknowledged).unacknowledged == 1


def test_an_acknowledged_entry_that_is_not_there_is_lost(path: Path) -> None:
    acknowledged = kept(path)
    last = acknowledged[-1].number
    found = judge(path, [*acknowledged, Acknowledged(last + 1, "0" * 64)])
    assert found.wrong == (("lost", f"1 of {last + 1}, the first is {last + 1}"),)


def test_an_entry_that_another_took_the_place_of_is_lost(path: Path) -> None:
    acknowledged = kept(path)
    acknowledged[-1] = Acknowledged(acknowledged[-1].number, "0" * 64)
    assert kinds(judge(path, acknowledged)) == {"lost"}


def test_an_entry_that_was_said_not_to_be_written_may_not_be_there(path: Path) -> None:
    acknowledged = kept(path)
    never = Acknowledged(acknowledged[-1].number, "0" * 64)
    assert judge(path, acknowledged[:-1], denied=[never]).wrong == ()
    assert kinds(judge(path, acknowledged[:-1], denied=acknowledged[-1:])) == {"denied"}


def test_a_cut_tail_is_lost_although_the_chain_is_whole(path: Path) -> None:
    """Of entries that no row on hand rests on, so that only the ledger can tell."""
    first = judge(path, kept(path))
    acknowledged = kept(path)
    assert len(acknowledged) == first.entries + 1
    by_hand(path, f"DELETE FROM entry WHERE number > {first.entries}")
    assert kinds(judge(path, acknowledged)) == {"lost"}


TORN = {
    "a row without its entry": "INSERT INTO link (site, code, 'into') VALUES ('main', 'H7', 'B1')",
    "an entry without its row": "DELETE FROM container WHERE rowid = (SELECT max(rowid) FROM"
    " container)",
    "a row of before its last entry": "UPDATE container SET ended_at = NULL, ended_as = ''",
    "readings without their import": "INSERT INTO reading VALUES ('main', 'walk-in', 5, 1, 'F', 2)",
}


@pytest.mark.parametrize("what", sorted(TORN))
def test_half_a_job_is_torn(path: Path, what: str) -> None:
    by_hand(path, TORN[what])
    assert kinds(judge(path, kept(path))) == {"torn"}


def test_two_entries_after_one_are_a_fork(path: Path) -> None:
    acknowledged = kept(path)
    last = acknowledged[-1].number
    by_hand(
        path,
        f"UPDATE entry SET previous = (SELECT previous FROM entry WHERE number = {last - 1})"
        f" WHERE number = {last}",
    )
    found = judge(path, acknowledged)
    assert {"chain", "lost"} <= kinds(found)


def test_a_gap_is_a_fault_of_the_chain(path: Path) -> None:
    last = kept(path)[-1].number
    by_hand(path, f"UPDATE entry SET number = {last + 1} WHERE number = {last}")
    assert "chain" in kinds(judge(path, []))


def test_guards_that_were_taken_off_are_found(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.execute("DROP TRIGGER entry_no_delete")
    assert kinds(judge(path, kept(path))) == {"guards"}


def test_a_torn_file_is_said_in_one_line_and_no_crash(path: Path) -> None:
    acknowledged = kept(path)
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.seek(size // 4)
        file.write(b"\xff" * (size // 2))
    found = judge(path, acknowledged)
    assert found.wrong
    assert "crash" not in kinds(found)


def test_what_a_killed_station_did_not_finish_saying_was_not_said(tmp_path: Path) -> None:
    path = tmp_path / "mk.ledger"
    pen = Pen(path)
    pen.line("ready")
    pen.line("writing")
    pen.acknowledge([Acknowledged(1, "a" * 64)])
    pen.line("job", 0.25)
    pen.line("writing")
    with path.open("a") as file:
        file.write("kept 2 bbbb")
    told = ledger.read(path)
    assert told.acknowledged == [Acknowledged(1, "a" * 64)]
    assert (told.jobs, told.longest, told.inside, told.done) == (1, 0.25, True, False)
    assert ledger.last_word(path) == "writing"
