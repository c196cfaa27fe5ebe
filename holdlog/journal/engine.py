"""Opens the database and begins its transactions. The only module that loads the SQLite driver.

One library owns the file: two SQLite libraries in one process, or a plain ``open()`` of the
file beside SQLite's own, drop each other's locks (SQLite, "How To Corrupt An SQLite Database
File", section 2.2), and acknowledged entries are lost.

The driver's faults become the program's own here and nowhere else.
"""

import importlib.util
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

from sqlalchemy import Connection, Engine, create_engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import QueuePool

from holdlog.core.errors import Mistake
from holdlog.journal.faults import explain

__all__ = ["Connection", "Database", "journal_for", "open_database", "sqlite_version"]

Begin = Literal["DEFERRED", "IMMEDIATE"]


def sqlite_version() -> tuple[int, int, int]:
    """The version of the SQLite library that this Python is linked with."""
    return sqlite3.sqlite_version_info


def journal_for(version: tuple[int, int, int]) -> tuple[str, str]:
    """The journal mode and ``synchronous`` setting that are safe with SQLite ``version``.

    SQLite 3.7.0 to 3.51.2 can, very rarely, lose committed pages in WAL mode when two
    connections meet a checkpoint (the "WAL-reset" fault: sqlite.org/wal.html; fixed in 3.51.3,
    3.50.7 and 3.44.6). There the rollback journal is used, with the folder synced as well.
    Either pair keeps every acknowledged commit through a power cut, if the disk honours a sync.
    """
    fixed = (
        version >= (3, 51, 3) or (3, 50, 7) <= version < (3, 51) or (3, 44, 6) <= version < (3, 45)
    )
    return ("WAL", "FULL") if fixed else ("DELETE", "EXTRA")


class Database:
    """One journal database, opened lazily: nothing is touched before the first transaction."""

    def __init__(self, engine: Engine, name: str, path: Path | None, wait_ms: int) -> None:
        self.engine = engine
        self.name = name
        self.path = path
        self._wait = wait_ms / 1000
        # SQLite's own waiting is not fair among threads; a queue in front of it is.
        self._turn = threading.Lock()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that only reads: one consistent picture, never refused by a writer."""
        with self._explained(), self.engine.connect() as conn:
            conn.begin()
            self._begin(conn, "DEFERRED")
            yield conn

    @contextmanager
    def appending(self) -> Iterator[Connection]:
        """A transaction that writes: committed at the end of the block, or nothing of it is.

        Raises ``Fault("locked")`` if another program keeps the database for longer than the
        waiting time.
        """
        if not self._turn.acquire(timeout=self._wait):
            raise explain(sqlite3.OperationalError("database is locked"), self.name, self.path)
        try:
            with self._explained(), self.engine.connect() as conn:
                if self.path is not None:
                    _want_mode(conn)
                with conn.begin():
                    self._begin(conn, "IMMEDIATE")
                    yield conn
        finally:
            self._turn.release()

    @contextmanager
    def driver(self) -> Iterator[Any]:
        """The bare SQLite connection, outside a transaction: for copying the whole file."""
        with self._explained(), self.engine.connect() as conn:
            yield conn.connection.driver_connection

    def close(self) -> None:
        """Close every connection. The database can be used again afterwards."""
        self.engine.dispose()

    def _begin(self, conn: Connection, how: Begin) -> None:
        # The driver's own BEGIN comes late and DEFERRED, and a writer that began by reading
        # can then be refused at once, however long it would have waited.
        if self.path is not None:
            conn.exec_driver_sql(f"BEGIN {how}")

    @contextmanager
    def _explained(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            raise explain(error.orig, self.name, self.path) from error
        except sqlite3.Error as error:
            raise explain(error, self.name, self.path) from error


def open_database(where: str | Path, *, must_exist: bool = False, wait_ms: int = 5000) -> Database:
    """The database at ``where``: a path (SQLite), ``sqlite:///path`` or ``postgresql://…``.

    ``wait_ms`` is how long to wait for another program that is writing. With ``must_exist`` a
    missing file raises ``Mistake("no-journal")``; without, the first transaction makes it.
    Raises ``Mistake("bad-database-url")`` for another scheme, ``Mistake("no-driver")`` if
    PostgreSQL's driver is not installed.
    """
    text = str(where)
    scheme, mark, rest = text.partition("://")
    if not mark:
        return _open_sqlite(Path(where), must_exist=must_exist, wait_ms=wait_ms)
    if scheme == "sqlite" and len(rest) > 1 and rest.startswith("/"):
        return _open_sqlite(Path(rest[1:]), must_exist=must_exist, wait_ms=wait_ms)
    if scheme in ("postgresql", "postgresql+psycopg"):
        return _open_postgresql(rest, wait_ms)
    raise Mistake(
        "bad-database-url",
        f"{_without_password(text)!r} is not a database that holdlog can use.",
        "Give the path of a file, or postgresql://user@host/name.",
    )


def _open_sqlite(path: Path, *, must_exist: bool, wait_ms: int) -> Database:
    path = path.absolute()
    if must_exist and not path.exists():
        raise Mistake(
            "no-journal", f"There is no journal at {path}.", "To begin one, run: holdlog setup"
        )
    # With mode=rw SQLite makes no empty file if ours vanishes in between.
    uri = f"{path.as_uri()}?mode={'rw' if must_exist else 'rwc'}"
    synchronous = journal_for(sqlite_version())[1]

    def connect() -> sqlite3.Connection:
        conn = sqlite3.connect(
            uri,
            uri=True,
            timeout=wait_ms / 1000,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            conn.execute("PRAGMA foreign_keys = ON")
            # Without it INSERT OR REPLACE deletes rows and no trigger hears of it.
            conn.execute("PRAGMA recursive_triggers = ON")
            conn.execute(f"PRAGMA synchronous = {synchronous}")
        except sqlite3.Error:
            conn.close()
            raise
        return conn

    # A connection is an open file, no more: nobody waits for one, a page served to many neither.
    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool, max_overflow=-1)
    return Database(engine, str(path), path, wait_ms)


def _want_mode(conn: Connection) -> None:
    """Put the file into the journal mode we want, once a connection, before a write.

    A journal that is only read keeps the mode it has. If another program is in the way the mode
    stays as it is, which ``doctor`` shows: entries can be written in either.
    """
    if "holdlog_mode" in conn.info:
        return
    driver: Any = conn.connection.driver_connection
    wanted = journal_for(sqlite_version())[0].lower()
    (mode,) = driver.execute("PRAGMA journal_mode").fetchone()
    if mode != wanted:
        try:
            (mode,) = driver.execute(f"PRAGMA journal_mode = {wanted}").fetchone()
        except sqlite3.OperationalError:
            return
    conn.info["holdlog_mode"] = mode


def _open_postgresql(rest: str, wait_ms: int) -> Database:
    url = f"postgresql+psycopg://{rest}"
    # Asked first: SQLAlchemy would answer with an import error of a module nobody has heard of.
    if importlib.util.find_spec("psycopg") is None:
        raise Mistake(
            "no-driver",
            "A PostgreSQL database needs the driver psycopg, which is not installed.",
            'Run: pip install "psycopg[binary]"',
        )
    # A forgotten lock elsewhere must not make a cook wait for ever.
    options = {"options": f"-c lock_timeout={wait_ms}"}
    try:
        engine = create_engine(url, connect_args=options)
    except ValueError as error:
        raise Mistake(
            "bad-database-url",
            f"{_without_password(url)!r} cannot be read.",
            "Write postgresql://user@host/name.",
        ) from error
    return Database(engine, engine.url.render_as_string(hide_password=True), None, wait_ms)


def _without_password(url: str) -> str:
    scheme, mark, rest = url.partition("://")
    return f"{scheme}{mark}…@{rest.rpartition('@')[2]}" if "@" in rest else url
