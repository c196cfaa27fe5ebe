"""Builds that are wrong on purpose: a check that does not find these out is worth nothing."""

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager as Context
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import Any, Literal
from unittest.mock import patch

from sqlalchemy import insert

from holdlog.core.chain import Entry
from holdlog.core.errors import Fault
from holdlog.core.moments import Instant
from holdlog.journal import engine, faults, sqlstates
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Connection, Database
from holdlog.journal.tables import entry as table

# ack-first: acknowledges before it commits. two-transactions: the rows on hand follow in a
# transaction of their own. deferred: a writer begins by reading. unlocked: the head of the chain
# is read before the transaction, and nothing stands in the way of a number that is taken.
# unsynced: a commit on a server does not wait for its disk. denied: of a commit that was cut off it
# says that nothing was written. forgetful: of a later step that fails it says so too, whatever was
# kept before.
Spoilt = Literal[
    "", "ack-first", "two-transactions", "deferred", "unlocked", "unsynced", "denied", "forgetful"
]


def build(spoilt: Spoilt) -> Context[Any]:
    """The program as ``spoilt``, in this process, for as long as it lasts."""
    builds: dict[str, Callable[[], Context[Any]]] = {
        "two-transactions": _two_transactions,
        "deferred": _deferred,
        "unlocked": _unlocked,
        "unsynced": _unsynced,
        "denied": lambda: patch.object(sqlstates, "unknown_outcome", _denied),
        "forgetful": lambda: patch.object(faults, "after_an_entry", lambda fault: fault),
    }
    # ack-first is the station's own doing.
    return builds.get(spoilt, nullcontext)()


def drop_guards(path: Path) -> None:
    """Take the triggers off the entries, for the builds that these would stop."""
    conn = sqlite3.connect(path, isolation_level=None)
    for name in ("entry_no_update", "entry_no_delete", "entry_in_order"):
        conn.execute(f"DROP TRIGGER IF EXISTS {name}")
    conn.close()


@contextmanager
def _two_transactions() -> Iterator[None]:
    plain = journal_entries.append

    def append(conn: Connection, site: str, drafts: Any, **more: Any) -> list[Entry]:
        written = plain(conn, site, drafts, **more)
        conn.exec_driver_sql("COMMIT")
        conn.exec_driver_sql("BEGIN" if conn.dialect.name != "sqlite" else "BEGIN IMMEDIATE")
        return written

    with patch.object(journal_entries, "append", append):
        yield


def _deferred() -> Context[Any]:
    return patch.dict(engine._WRITE, {"sqlite": "BEGIN DEFERRED"})


def _denied(name: str) -> Fault:
    return faults.told(sqlstates._GONE, name, "")


def _unsynced() -> Context[Any]:
    def careless(driver: Any, _: object) -> None:
        driver.execute("SET synchronous_commit = off")

    return patch.object(engine, "_kept_when_told", careless)


@contextmanager
def _unlocked() -> Iterator[None]:
    plain_head, plain_append = journal_entries.head, journal_entries.append
    plain_appending = Database.appending
    stale: list[tuple[int, str, Instant]] = []

    @contextmanager
    def appending(self: Database, site: str = "") -> Iterator[Connection]:
        with self.reading() as conn:
            stale[:] = [plain_head(conn, site)]
        with plain_appending(self, site) as conn:
            yield conn
        stale.clear()

    def head(conn: Connection, site: str) -> tuple[int, str, Instant]:
        return stale[0] if stale else plain_head(conn, site)

    def append(conn: Connection, site: str, drafts: Sequence[Any], **more: Any) -> list[Entry]:
        written = plain_append(conn, site, drafts, **more)
        if written:
            stale[:] = [(written[-1].number, written[-1].hash, written[-1].recorded_at)]
        return written

    with (
        patch.object(Database, "appending", appending),
        patch.object(journal_entries, "head", head),
        patch.object(journal_entries, "append", append),
        patch.object(journal_entries, "_INSERT", insert(table).prefix_with("OR REPLACE")),
    ):
        yield
