"""Entries on PostgreSQL: what its triggers refuse, and what shows when they are gone round."""

from collections.abc import Iterator
from contextlib import closing
from typing import Any

import psycopg
import pytest

from holdlog.journal import on_hand
from holdlog.journal.checks import check
from holdlog.journal.engine import Database
from tests.journal.made import SITE, all_of, batch_row, container_row, draft, write
from tests.journal.test_guards import COPY, EDITS

pytestmark = pytest.mark.postgres

Superuser = psycopg.Connection[Any]


@pytest.fixture
def raw(served: Database, url: str) -> Iterator[Superuser]:
    """Somebody at the server's own prompt, who may do anything."""
    write(served, [draft(by=name) for name in ("MK", "JO", "AL", "TS", "RW")])
    with served.appending(SITE) as conn:
        on_hand.put(conn, SITE, batches=[batch_row()], containers=[container_row()])
    with closing(psycopg.connect(url, autocommit=True)) as conn:
        yield conn


def run(raw: Superuser, statements: str) -> None:
    raw.execute(statements.encode())


def findings(db: Database) -> dict[str, bool]:
    return {finding.name: finding.ok for finding in check(db, SITE)}


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE entry SET by = 'XX' WHERE number = 3", "never changed"),
        ("DELETE FROM entry WHERE number = 3", "never changed or deleted"),
        ("TRUNCATE entry CASCADE", "never changed or deleted"),
        (f"INSERT INTO entry {COPY.format(number=3)}", "only follows"),
        (f"INSERT INTO entry {COPY.format(number=7)}", "only follows"),
        (f"INSERT INTO entry {COPY.format(number=3)} ON CONFLICT DO NOTHING", "only follows"),
        ("INSERT INTO reading VALUES ('s', 'u', 1, 2, 'F', 1); DELETE FROM reading", "never"),
        ("TRUNCATE reading", "a reading is never changed or deleted"),
    ],
)
def test_not_even_the_owner_changes_entries_by_accident(
    raw: Superuser, served: Database, statement: str, says: str
) -> None:
    before = all_of(served)
    with pytest.raises(psycopg.errors.RaiseException, match=says):
        run(raw, statement)
    assert all_of(served) == before


def test_a_healthy_journal_passes_every_check(raw: Superuser, served: Database) -> None:
    assert raw.info.server_version >= 110_000
    assert [finding for finding in check(served, SITE) if not finding.ok] == []


# A superuser's ways round a trigger: to drop it, to switch it off, or to be a replica.
ROUND = {
    "dropped": "DROP TRIGGER entry_no_change ON entry; DROP TRIGGER entry_in_order ON entry",
    "switched off": "ALTER TABLE entry DISABLE TRIGGER ALL",
    "replica": "SET session_replication_role = replica",
}


@pytest.mark.parametrize("edit", EDITS)
def test_the_chain_shows_an_edit_of_a_superuser(
    raw: Superuser, served: Database, edit: str
) -> None:
    run(raw, ROUND["replica"])
    run(raw, "ALTER TABLE entry DROP CONSTRAINT ck_entry_not_in_the_future")
    run(raw, EDITS[edit])
    assert not findings(served)["chain"]


@pytest.mark.parametrize("how", ROUND)
def test_a_row_edited_behind_the_guards_is_caught(
    raw: Superuser, served: Database, how: str
) -> None:
    run(raw, f"{ROUND[how]}; {EDITS['by']}")
    found = findings(served)
    assert not found["chain"]
    # Who was a replica has left the guards as they were; the others have not.
    assert found["triggers"] is (how == "replica")


DISARM = {
    "switched off": "ALTER TABLE entry DISABLE TRIGGER entry_no_truncate",
    "all off": "ALTER TABLE reading DISABLE TRIGGER ALL",
    "for a replica": "ALTER TABLE entry ENABLE REPLICA TRIGGER entry_no_change",
    "emptied": (
        "CREATE OR REPLACE FUNCTION entry_refuse() RETURNS trigger LANGUAGE plpgsql AS"
        " 'BEGIN RETURN NEW; END'"
    ),
    "a condition": (
        "DROP TRIGGER entry_no_change ON entry; CREATE TRIGGER entry_no_change BEFORE UPDATE OR"
        " DELETE ON entry FOR EACH ROW WHEN (false) EXECUTE FUNCTION entry_refuse()"
    ),
    "some columns": (
        "DROP TRIGGER entry_no_change ON entry; CREATE TRIGGER entry_no_change BEFORE UPDATE OF"
        " station OR DELETE ON entry FOR EACH ROW EXECUTE FUNCTION entry_refuse()"
    ),
    "afterwards": (
        "DROP TRIGGER entry_no_change ON entry; CREATE TRIGGER entry_no_change AFTER UPDATE OR"
        " DELETE ON entry FOR EACH ROW EXECUTE FUNCTION entry_refuse()"
    ),
    "one more": (
        "CREATE TRIGGER helper BEFORE INSERT ON entry FOR EACH ROW EXECUTE FUNCTION entry_follows()"
    ),
    "a rule": "CREATE RULE nothing AS ON INSERT TO reading DO INSTEAD NOTHING",
    "row security": "ALTER TABLE entry ENABLE ROW LEVEL SECURITY",
}


@pytest.mark.parametrize("how", DISARM)
def test_tampered_guards_are_found(raw: Superuser, served: Database, how: str) -> None:
    run(raw, DISARM[how])
    assert not findings(served)["triggers"]


def test_an_index_that_is_not_whole_is_found(raw: Superuser, served: Database) -> None:
    run(
        raw,
        "UPDATE pg_index SET indisvalid = false WHERE indexrelid = 'ix_entry_subject'::regclass",
    )
    found = {finding.name: finding for finding in check(served, SITE)}
    assert not found["database"].ok
    assert "ix_entry_subject" in found["database"].says
