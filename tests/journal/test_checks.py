"""What the doctor asks, and that it answers even where a check cannot be made."""

from pathlib import Path

from holdlog.journal import migrate
from holdlog.journal.checks import check
from holdlog.journal.engine import Database, open_database
from tests.journal.made import SITE, batch_row, container_row, write

_REPLICA = "SET session_replication_role = {}"
NAMES = ["migrations", "database", "triggers", "chain", "journal-mode"]


def test_a_healthy_journal_passes_and_shows_its_head(db: Database) -> None:
    last = write(db)[-1]
    found = check(db, SITE)
    assert [finding.name for finding in found] == NAMES
    assert all(finding.ok for finding in found)
    assert last.hash[:8] in found[3].says


def test_a_journal_that_is_not_there_gives_findings_and_no_file(tmp_path: Path) -> None:
    db = open_database(tmp_path / "usb stick" / "none.db")
    found = check(db, SITE)
    assert [finding.name for finding in found] == NAMES
    assert not any(finding.ok for finding in found)
    assert list(tmp_path.iterdir()) == []


def test_tables_of_another_holdlog_are_found(db: Database) -> None:
    with db.appending() as conn:
        conn.exec_driver_sql("UPDATE alembic_version SET version_num = '0000'")
    assert migrate.state(db) == "older"
    older = check(db, SITE)[0]
    assert not older.ok
    assert "holdlog db upgrade" in older.says
    with db.appending() as conn:
        conn.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    assert not check(db, SITE)[0].ok


def test_a_row_that_refers_to_nothing_is_found(db: Database) -> None:
    from holdlog.journal import on_hand

    write(db)
    with db.appending() as conn:
        on_hand.put(conn, SITE, batches=[batch_row()], containers=[container_row()])
    # As somebody does it who knows how to get round them.
    off = {"sqlite": "PRAGMA foreign_keys = OFF", "postgresql": _REPLICA.format("replica")}
    on = {"sqlite": "PRAGMA foreign_keys = ON", "postgresql": _REPLICA.format("origin")}
    with db.engine.connect() as conn:
        conn.exec_driver_sql(off[conn.dialect.name])
        conn.exec_driver_sql("DELETE FROM batch")
        conn.exec_driver_sql(on[conn.dialect.name])
    found = {finding.name: finding for finding in check(db, SITE)}
    assert not found["database"].ok
    assert "container" in found["database"].says
