"""A journal that moves arrives whole or not at all, on either database."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from holdlog.core.errors import Fault, Mistake
from holdlog.core.events import Moved
from holdlog.journal import arrival, books, migrate, on_hand, readings
from holdlog.journal.checks import check
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection, Database, open_database
from holdlog.journal.parting import partings
from holdlog.journal.transfer import TABLES
from tests.journal.made import NOW, SITE, all_of, batch_row, container_row, draft, files, write
from tests.journal.test_guards import without_triggers

if TYPE_CHECKING:
    from tests.postgres import Server

ODD = 'Zoë\'s \\ "crème"\n\t; DROP TABLE entry -- Ω 鍋 %s ? :x'


@pytest.fixture
def full(filed: Database) -> Database:
    """Two sites with every kind of row, and text of every kind."""
    for site in (SITE, "annex"):
        write(filed, [draft(Moved(f"{ODD} {n}")) for n in range(30)], site=site)
        with filed.appending(site) as conn:
            samples = [(NOW - 60_000 * n, 350 + n) for n in range(40, 0, -1)]
            readings.put(conn, site, "walk-in", 3, "F", samples)
            on_hand.put(
                conn,
                site,
                batches=[batch_row(), batch_row(2, lot=ODD)],
                containers=[
                    container_row(cautions=(ODD, "")),
                    container_row("M2RT44KD", use_by=None),
                ],
                links=[on_hand.LinkRow("H7K39QX2", "B2")],
            )
            books.keep(conn, "every byte", bytes(range(256)), NOW)
    return filed


def rows(path: Path) -> dict[str, list[Any]]:
    """Every row of a file, asked of SQLite itself."""
    with closing(sqlite3.connect(path)) as conn:
        return {
            table.name: sorted(conn.execute(f"SELECT * FROM {table.name}"), key=repr)
            for table in TABLES
        }


def nothing_wrong(_: Database, __: Connection) -> str | None:
    return None


def something_wrong(_: Database, __: Connection) -> str | None:
    return "the soup is cold"


@pytest.fixture
def server(postgres: "Server") -> Iterator[Database]:
    url = postgres.fresh()
    database = open_database(url, wait_ms=500)
    yield database
    database.close()
    postgres.drop(url)


@pytest.mark.postgres
def test_every_row_arrives_on_a_server_and_comes_back(
    full: Database, path: Path, server: Database, tmp_path: Path
) -> None:
    with full.reading() as conn:
        arrival.arrive(conn, server, nothing_wrong)
    told = check(server, SITE)
    assert [one.says for one in told if not one.ok and one.name != "journal-mode"] == []
    back = open_database(tmp_path / "back.db")
    with server.reading() as conn:
        arrival.arrive(conn, back, nothing_wrong)
    assert all(one.ok for one in check(back, SITE))
    back.close()
    full.close()
    assert rows(tmp_path / "back.db") == rows(path)
    assert len(rows(path)["reading"]) == 80
    assert files(tmp_path) == ["back.db", "journal.db"]
    # It goes on: the next entry follows the last one, on either.
    assert write(server)[0].number == write(back)[0].number == 31


@pytest.mark.postgres
def test_where_the_proof_fails_nothing_is_left(
    full: Database, server: Database, tmp_path: Path
) -> None:
    new = open_database(tmp_path / "new.db")
    for target in (server, new):
        with full.reading() as conn, pytest.raises(Fault, match="the soup is cold") as caught:
            arrival.arrive(conn, target, something_wrong)
        assert caught.value.code == "not-whole"
        assert migrate.state(target) == "missing"
    assert files(tmp_path) == ["journal.db"]


@pytest.mark.postgres
def test_what_was_tampered_with_does_not_move(full: Database, server: Database) -> None:
    full.close()
    with full.driver() as raw:
        without_triggers(raw)
        raw.execute("UPDATE entry SET by = 'XX' WHERE number = 7 AND site = 'annex'")
    with full.reading() as conn, pytest.raises(Fault, match="annex: entry 7 was changed"):
        arrival.arrive(conn, server, nothing_wrong)
    assert migrate.state(server) == "missing"


def test_a_place_that_is_taken_is_left_alone(full: Database, tmp_path: Path) -> None:
    (tmp_path / "other.db").write_bytes((tmp_path / "journal.db").read_bytes())
    other = open_database(tmp_path / "other.db")
    kept = rows(tmp_path / "other.db")
    with full.reading() as conn, pytest.raises(Mistake) as caught:
        arrival.arrive(conn, other, nothing_wrong)
    assert caught.value.code == "not-empty"
    other.close()
    assert rows(tmp_path / "other.db") == kept


@pytest.mark.postgres
def test_one_journal_takes_the_place_of_another_and_is_guarded_again(
    full: Database, path: Path, served: Database, made_once: Path, tmp_path: Path
) -> None:
    (tmp_path / "other.db").write_bytes(made_once.read_bytes())
    other = open_database(tmp_path / "other.db")
    for target in (other, served):
        write(target, [draft(Moved("elsewhere"))] * 3)
        with target.appending(SITE) as conn:
            readings.put(conn, SITE, "walk-in", 2, "F", [(NOW - 5, 411)])
            books.keep(conn, "theirs", b"theirs", NOW)
        with full.reading() as conn:
            arrival.take_the_place(conn, target, lambda _: None, nothing_wrong)
        assert all_of(target) == all_of(full)
        for change in ("DELETE FROM entry", "UPDATE reading SET hundredths = 0"):
            with pytest.raises(Fault), target.appending() as conn:
                conn.exec_driver_sql(change)
    assert [one.says for one in check(other, SITE) if not one.ok] == []
    other.close()
    full.close()
    assert rows(tmp_path / "other.db") == rows(path)


@pytest.mark.postgres
def test_nobody_loses_their_place_while_they_read(
    full: Database, served: Database, made_once: Path, tmp_path: Path
) -> None:
    """A reader keeps one picture; who would change it under his eyes waits, and is refused."""
    (tmp_path / "other.db").write_bytes(made_once.read_bytes())
    other = open_database(tmp_path / "other.db", wait_ms=200)
    for target in (other, served):
        write(target)
        with target.reading() as reader:
            reader.exec_driver_sql("SELECT count(*) FROM entry").scalar()
            with full.reading() as conn, pytest.raises(Fault) as caught:
                arrival.take_the_place(conn, target, lambda _: None, nothing_wrong)
        assert caught.value.code == "locked"
        assert len(all_of(target)) == 1
    other.close()


def test_two_that_arrive_at_once_do_not_take_each_others_place(
    full: Database, tmp_path: Path
) -> None:
    """The second comes to its end after the first was told that all is there, and took an entry."""
    place = tmp_path / "new.db"

    def meanwhile(_: Database, __: Connection) -> str | None:
        first = open_database(place)
        with full.reading() as conn:
            arrival.arrive(conn, first, nothing_wrong)
        write(first, [draft(Moved("acknowledged"))])
        first.close()
        return None

    second = open_database(place)
    with full.reading() as conn, pytest.raises(Mistake) as caught:
        arrival.arrive(conn, second, meanwhile)
    assert caught.value.code == "file-exists"
    assert fact_of(all_of(second)[-1]) == Moved("acknowledged")
    second.close()
    assert [name for name in files(tmp_path) if name.startswith(".")] == []


def test_what_a_killed_program_left_is_taken_away_when_it_is_a_day_old(
    full: Database, tmp_path: Path
) -> None:
    """A younger one may be what another program is at work on."""
    names = (".new.db.1-0.part", ".new.db.2-0.part", ".new.db.2-0.part-journal", ".old.db.2-0.part")
    for name in names:
        (tmp_path / name).write_text("cut short")
        if name != names[0]:
            os.utime(tmp_path / name, (0, 0))
    target = open_database(tmp_path / "new.db")
    with full.reading() as conn:
        arrival.arrive(conn, target, nothing_wrong)
    target.close()
    assert [each for each in files(tmp_path) if each.startswith(".")] == [names[0], names[3]]


@pytest.mark.postgres
def test_of_two_that_arrive_on_a_server_one_is_told_that_it_was_late(
    full: Database, postgres: "Server", monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both found it empty, before either had its turn."""
    url = postgres.fresh()
    monkeypatch.setattr(migrate, "state", lambda _: "missing")
    early, late = open_database(url), open_database(url)
    with full.reading() as conn:
        arrival.arrive(conn, early, nothing_wrong)
        with pytest.raises(Mistake) as caught:
            arrival.arrive(conn, late, nothing_wrong)
    assert caught.value.code == "not-empty"
    assert all_of(late) == all_of(full)
    early.close()
    late.close()
    postgres.drop(url)


@pytest.mark.postgres
def test_a_fault_of_one_database_is_not_told_of_the_other(served: Database, tmp_path: Path) -> None:
    """A copy to a file, and the server goes away: it is the server that is named."""
    write(served)
    copy = open_database(tmp_path / "copy.db")
    with pytest.raises(Fault) as caught, served.reading() as conn, copy.appending():
        conn.exec_driver_sql("DO $$ BEGIN RAISE 'gone' USING ERRCODE = '57P01'; END $$")
    assert caught.value.code == "no-server"
    assert served.name in caught.value.line()
    with pytest.raises(Fault) as caught, copy.reading() as file, served.appending():
        file.exec_driver_sql("SELECT * FROM nothing")
    assert copy.name in caught.value.line()
    copy.close()


def test_where_two_journals_part(full: Database, tmp_path: Path) -> None:
    twin_path = tmp_path / "twin.db"
    twin_path.write_bytes((tmp_path / "journal.db").read_bytes())
    twin = open_database(twin_path)
    for name in range(5):
        write(full, [draft(Moved(f"ours {name}"))], at=NOW + name)
    with full.reading() as one, twin.reading() as other:
        annex, ahead = partings(one, other)
        assert (annex.alone, annex.forked) == (0, False)
        assert (ahead.common, ahead.alone, ahead.telling, ahead.forked) == (30, 5, 5, False)
        assert (ahead.first_at, ahead.last_at) == (NOW, NOW + 4)
        behind = partings(other, one)[1]
        assert (behind.common, behind.alone, behind.other) == (30, 0, 35)
    write(twin, [draft(Moved("theirs"))])
    with full.reading() as one, twin.reading() as other:
        forked = partings(one, other)[1]
        assert (forked.common, forked.alone, forked.forked) == (30, 5, True)
    twin.close()
