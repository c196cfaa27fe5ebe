"""Moves a whole journal, row by row, into tables of another database: SQLite or PostgreSQL.

Every row of every table goes over as it is, the entries in their order, so that the chains stay
what they are. All of it happens inside one transaction of the target, which the caller commits:
what fails leaves nothing behind. What arrived is read back and compared before anybody is told.
"""

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import Any

from sqlalchemy import Select, Table, func, select

from holdlog.core.errors import Fault
from holdlog.journal import migrate
from holdlog.journal.engine import Connection
from holdlog.journal.rows import Row, streamed
from holdlog.journal.tables import (
    GUARDED,
    TRIGGERS,
    batch,
    book,
    container,
    entry,
    link,
    reading,
    site,
)

# What is being done, how many rows are done, and of how many.
Tell = Callable[[str, int, int], None]
# Each after those that it refers to.
TABLES: tuple[Table, ...] = (site, book, entry, reading, batch, container, link)
_CHUNK = 1_000
_WIDTH = 2**128


@dataclass(slots=True)
class _Tally:
    """Rows counted, and their hashes summed: the same for the same rows in any order, since two
    databases do not hand them out in the same one.
    """

    rows: int = 0
    sum: int = 0

    def add(self, row: Row) -> None:
        digest = hashlib.blake2b(repr(tuple(row)).encode(), digest_size=16).digest()
        self.rows += 1
        self.sum = (self.sum + int.from_bytes(digest)) % _WIDTH


def quiet(what: str, done: int, of: int) -> None:
    """Tell nobody how far it is."""


def fill(source: Connection, target: Connection, tell: Tell = quiet) -> None:
    """Make the tables in the empty database of ``target`` and bring every row of ``source``.

    Raises ``Fault("arrived-different")`` if what is there then is not what was sent.
    """
    migrate.make_tables(target)
    pour(source, target, tell)


def pour(source: Connection, target: Connection, tell: Tell = quiet) -> None:
    """Bring every row of ``source`` into the empty tables of ``target``. See ``fill``."""
    of = sum(_count(source, table) for table in TABLES)
    done = 0
    sent: dict[str, _Tally] = {}
    for table in TABLES:
        tally = sent[table.name] = _Tally()
        counted = 1
        for rows in _chunks(source, table, tally):
            _add(target, table, rows)
            if tally.rows >= counted and target.dialect.name != "sqlite":
                # The trigger that keeps entries in order makes its plan while the table is empty,
                # when reading all of it is cheapest, and would keep to that for a million rows.
                target.exec_driver_sql(f"ANALYZE {table.name}")
                counted = 10 * tally.rows
            done += len(rows)
            tell("copied", done, of)
    _compare(sent, target, of, tell)


@contextmanager
def emptied(conn: Connection) -> Iterator[None]:
    """Take every row out of the tables, entries too; the guards are off until the block ends.

    Only for a journal that another one takes the place of, inside its transaction, and after
    ``keep_others_out``. What is brought within the block has to be proven after it.
    """
    if conn.dialect.name == "sqlite":
        found = conn.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        for name in found.scalars().all():
            conn.exec_driver_sql(f"DROP TRIGGER {conn.dialect.identifier_preparer.quote(name)}")
        _delete_all(conn)
        yield
        for trigger in TRIGGERS.values():
            conn.exec_driver_sql(trigger)
        return
    for name in GUARDED:
        conn.exec_driver_sql(f"ALTER TABLE {name} DISABLE TRIGGER USER")
    # Not TRUNCATE: to somebody who began to read before it, the kitchen would be empty (PostgreSQL
    # manual, TRUNCATE: it "is not MVCC-safe"). The deleted rows are still looked at by whoever
    # asks for the highest number, as the guard would for every entry: so it stays off.
    _delete_all(conn)
    yield
    # What the deferred keys still have to look at stands in the way of a change of the table.
    conn.exec_driver_sql("SET CONSTRAINTS ALL IMMEDIATE")
    conn.exec_driver_sql("SET CONSTRAINTS ALL DEFERRED")
    for name in GUARDED:
        conn.exec_driver_sql(f"ALTER TABLE {name} ENABLE TRIGGER USER")


def _delete_all(conn: Connection) -> None:
    for table in reversed(TABLES):
        conn.execute(table.delete())


def keep_others_out(conn: Connection) -> None:
    """Let nobody read or write the tables until this transaction ends.

    On SQLite nobody else writes already: it began IMMEDIATE.
    """
    if conn.dialect.name != "sqlite":
        names = ", ".join(table.name for table in TABLES)
        conn.exec_driver_sql(f"LOCK TABLE {names} IN ACCESS EXCLUSIVE MODE")


def _compare(sent: dict[str, _Tally], target: Connection, of: int, tell: Tell) -> None:
    done = 0
    for table in TABLES:
        arrived = _Tally()
        for rows in _chunks(target, table, arrived):
            done += len(rows)
            tell("read back", done, of)
        if arrived != sent[table.name]:
            raise Fault(
                "arrived-different",
                f"Of the table {table.name} {sent[table.name].rows} rows were sent, and what "
                f"arrived ({arrived.rows}) is not the same.",
                "Nothing was kept of it; the journal is as it was.",
            )


def _count(conn: Connection, table: Table) -> int:
    return int(conn.execute(select(func.count()).select_from(table)).scalar_one())


def _chunks(conn: Connection, table: Table, tally: _Tally) -> Iterator[list[Row]]:
    query: Select[Row] = select(table)
    if table is entry:
        query = query.order_by(entry.c.site, entry.c.number)
    rows = streamed(conn, query)
    while some := [tuple(row) for row in islice(rows, _CHUNK)]:
        for row in some:
            tally.add(row)
        yield some


def _add(conn: Connection, table: Table, rows: list[Row]) -> None:
    quote = conn.dialect.identifier_preparer.quote
    columns = f"{table.name} ({', '.join(quote(column.name) for column in table.columns)})"
    if conn.dialect.name == "sqlite":
        marks = ", ".join("?" for _ in table.columns)
        conn.exec_driver_sql(f"INSERT INTO {columns} VALUES ({marks})", rows)  # noqa: S608
        return
    # In the same transaction, with every trigger, and several times as fast as any INSERT
    # (PostgreSQL manual, "Populating a Database").
    driver: Any = conn.connection.driver_connection
    with driver.cursor() as cursor, cursor.copy(f"COPY {columns} FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)
