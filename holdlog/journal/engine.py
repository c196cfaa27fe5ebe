"""Opens the database and begins its transactions. The only module that loads a driver.

One library owns the file: two SQLite libraries in one process, or a plain ``open()`` of the
file beside SQLite's own, drop each other's locks (SQLite, "How To Corrupt An SQLite Database
File", section 2.2), and acknowledged entries are lost.

The driver's faults become the program's own here and nowhere else.
"""

import importlib.util
import logging
import os
import re
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, RootTransaction, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlalchemy.pool import QueuePool

from holdlog.core.errors import Fault, Mistake
from holdlog.journal import faults, sqlstates, turns

__all__ = ["Connection", "Database", "journal_for", "open_database", "sqlite_version"]

# How a transaction begins, by database: the drivers' own BEGIN comes late and is of no kind that
# we can say. IMMEDIATE: a writer that began by reading can be refused at once, however long it
# would have waited. REPEATABLE READ: one picture for all statements of a reader. READ COMMITTED
# for a writer, whatever the server's default is: see ``turns``.
_READ = {
    "sqlite": "BEGIN DEFERRED",
    "postgresql": "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY",
}
_WRITE = {"sqlite": "BEGIN IMMEDIATE", "postgresql": "BEGIN ISOLATION LEVEL READ COMMITTED"}
# What becomes of a connection that is lost is told in one line of our own. Both report it as well,
# and without a handler Python prints that on standard error.
for _reports in ("psycopg", "sqlalchemy"):
    logging.getLogger(_reports).addHandler(logging.NullHandler())
# How often a turn is waited for that was lost to a collision with somebody else's lock.
_TRIES = 3


# SQLite makes room for the file that a write-ahead log shares among processes by one byte every
# so many (unixShmMap in its os_unix.c).
SHARED_STEP = 4096


def sqlite_version() -> tuple[int, int, int]:
    """The version of the SQLite library that this Python is linked with."""
    return sqlite3.sqlite_version_info


def journal_for(version: tuple[int, int, int], block: int = SHARED_STEP) -> tuple[str, str]:
    """The journal mode and ``synchronous`` setting that are safe with SQLite ``version``.

    SQLite 3.7.0 to 3.51.2 can, very rarely, lose committed pages in WAL mode when two
    connections meet a checkpoint (the "WAL-reset" fault: sqlite.org/wal.html; fixed in 3.51.3,
    3.50.7 and 3.44.6). There the rollback journal is used, with the folder synced as well.
    ``block`` is the size in bytes of a block of the disk. Where it is smaller than that step, a
    process dies of SIGBUS when a full disk has room for a part of the shared file (mmap(2)).
    Either pair keeps every acknowledged commit through a power cut, if the disk honours a sync.
    EXTRA is the same as FULL with a write-ahead log (sqlite.org/pragma.html); it is asked for
    there too, for a file that another program keeps from being put into that mode.
    """
    fixed = (
        version >= (3, 51, 3) or (3, 50, 7) <= version < (3, 51) or (3, 44, 6) <= version < (3, 45)
    )
    return ("WAL" if fixed and block >= SHARED_STEP else "DELETE"), "EXTRA"


def block_size(path: Path) -> int:
    """The size of a block of the disk that holds ``path``; what is usual, where nobody says."""
    if not hasattr(os, "statvfs"):
        return SHARED_STEP
    try:
        found = os.statvfs(path.parent)
    except OSError:
        return SHARED_STEP
    return found.f_frsize or found.f_bsize


class Database:
    """One journal database, opened lazily: nothing is touched before the first transaction."""

    def __init__(self, engine: Engine, name: str, path: Path | None, wait_ms: int) -> None:
        self.engine = engine
        self.name = name
        self.path = path
        self._wait = wait_ms / 1000
        # SQLite's own waiting is not fair among threads; a queue in front of it is.
        self._turn = threading.Lock()
        # Whether this job has committed entries already: see ``faults.after_an_entry``. A program
        # that does one job after another sets it back before each.
        self.kept = False

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that only reads: one consistent picture, never refused by a writer."""
        with self._explained(), self.engine.connect() as conn:
            conn.begin()
            conn.exec_driver_sql(_READ[conn.dialect.name])
            self._refuse_moved(conn)
            yield conn

    @contextmanager
    def appending(self, site: str = "") -> Iterator[Connection]:
        """A transaction that writes: committed at the end of the block, or nothing of it is.

        It writes to ``site``, and has that site's turn from the start; without a site, it may
        write anywhere, and nobody else writes meanwhile.

        Raises ``Fault("locked")`` if another program keeps the database (or the site) for longer
        than the waiting time, ``Fault("outcome-unknown")`` if a server went away just as it was
        to commit.
        """
        if not self._turn.acquire(timeout=self._wait):
            raise self._told(faults.locked(self.name))
        try:
            with self._explained(), self.engine.connect() as conn:
                if self.path is not None:
                    _want_mode(conn, self.path)
                done = False
                try:
                    with self._begun(conn, site):
                        self._refuse_moved(conn)
                        yield conn
                        self._refuse_moved(conn)
                        done = True
                except DBAPIError as error:
                    if done and self.path is None and not sqlstates.is_refused(error.orig):
                        raise sqlstates.unknown_outcome(self.name) from error
                    raise
                else:
                    self.kept = self.kept or bool(site)
                finally:
                    turns.let_go(conn)
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

    def _begun(self, conn: Connection, site: str) -> RootTransaction:
        """A transaction that has its turn.

        Waiting for it may end in a collision (a deadlock with a person who locks tables at the
        server's prompt, say). Nothing has been read or written by then, so it is begun again. A
        collision later on is not: the block cannot be run a second time from here, and what it
        asked a cook must not be asked twice. It ends in one clear line with nothing written; by
        the order of ``turns`` it takes a stranger to bring it about.
        """
        for left in reversed(range(_TRIES)):
            transaction = conn.begin()
            try:
                conn.exec_driver_sql(_WRITE[conn.dialect.name])
                if self.path is not None:
                    pass
                elif site:
                    turns.take(conn, site)
                else:
                    turns.take_all(conn)
            except BaseException as error:
                transaction.close()
                code = sqlstates.sqlstate(getattr(error, "orig", None))
                if not left or code not in sqlstates.COLLISIONS:
                    raise
            else:
                return transaction
        raise AssertionError  # the last try returns or raises

    def _refuse_moved(self, conn: Connection) -> None:
        """Raise ``Fault("moved")`` where the open file has lost its name: deleted, replaced by
        another, or gone with its disk. What went into it would be acknowledged and lost.

        SQLite asks this itself, but not with a write-ahead log.
        """
        if self.path is None:
            return
        try:
            found = os.stat(self.path)  # noqa: PTH116  (the quicker one: it is asked often)
            file = found.st_dev, found.st_ino
        except OSError:
            file = None
        if conn.info.setdefault("holdlog_file", file) != file or file is None:
            # The next one opens what has the name by then.
            conn.invalidate()
            raise self._told(faults.told(faults.MOVED, self.name, ""))

    @contextmanager
    def _explained(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            # Of two databases in one job, each tells only of its own faults.
            if isinstance(error.orig, sqlite3.Error) != (self.path is not None):
                raise
            raise self._explain(error.orig) from error
        except sqlite3.Error as error:
            if self.path is None:
                raise
            raise self._explain(error) from error
        except UnicodeDecodeError as error:
            # SQLite quotes damaged text in its messages, and the driver reads those as UTF-8.
            if self.path is not None:
                raise faults.told(faults.DAMAGED, self.name, "") from error
            raise
        except Exception as error:
            # COPY goes past SQLAlchemy, to a driver that is only loaded where it is used.
            driver = self.engine.dialect.loaded_dbapi
            if self.path is None and isinstance(error, driver.Error):
                raise self._explain(error) from error
            raise

    def _explain(self, error: BaseException | None) -> Fault:
        if self.path is None:
            return self._told(sqlstates.explain(error, self.name))
        return self._told(faults.explain(error, self.name, self.path))

    def _told(self, fault: Fault) -> Fault:
        return faults.after_an_entry(fault) if self.kept else fault


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
        if re.match(r"postgres(ql)?(\+psycopg)?(:|//)", text, re.IGNORECASE):
            raise _unreadable()  # not a path: it may hold a password, which a path would show
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


def in_memory() -> Engine:
    """An empty SQLite database that is gone when it is closed: to compare with."""
    return create_engine("sqlite://")


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
        except (sqlite3.Error, UnicodeDecodeError):
            conn.close()
            raise
        return conn

    # A connection is an open file, no more: nobody waits for one, a page served to many neither.
    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool, max_overflow=-1)
    return Database(engine, str(path), path, wait_ms)


def _want_mode(conn: Connection, path: Path) -> None:
    """Put the file into the journal mode we want, once a connection, before a write.

    A journal that is only read keeps the mode it has. If another program is in the way the mode
    stays as it is, which ``doctor`` shows: entries can be written in either.
    """
    if "holdlog_mode" in conn.info:
        return
    driver: Any = conn.connection.driver_connection
    wanted = journal_for(sqlite_version(), block_size(path))[0].lower()
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
    try:
        address = make_url(url)
        engine = create_engine(
            address,
            connect_args=_connect_args(address, wait_ms),
            # We begin ourselves; what SQLAlchemy calls autocommit is a driver that does not.
            isolation_level="AUTOCOMMIT",
            # A connection that a restart of the server has cut is found out and made anew.
            pool_pre_ping=True,
            max_overflow=-1,
        )
    except (ArgumentError, ValueError) as error:
        raise _unreadable() from error
    if "@" in (address.host or ""):
        raise _unreadable()  # the end of a password with an @ in it, taken for the host
    event.listen(engine, "connect", _kept_when_told)
    return Database(engine, _shown(address), None, wait_ms)


def _unreadable() -> Mistake:
    # Not a word of it is shown: what cannot be read may be a password.
    return Mistake(
        "bad-database-url",
        "This address of a PostgreSQL database cannot be read.",
        "Write postgresql://user@host/name (an @ within a password is written %40).",
    )


def _connect_args(address: URL, wait_ms: int) -> dict[str, Any]:
    """What the driver is told where the address does not say it (libpq's parameter keywords)."""
    told = {
        # So that a server that does not answer is told of in seconds, not in minutes; and one
        # that vanishes in the middle (a cable, a sleeping machine) in half a minute.
        "connect_timeout": 10,
        "keepalives_idle": 10,
        "keepalives_interval": 5,
        "keepalives_count": 4,
        "tcp_user_timeout": 30_000,
        "client_encoding": "utf8",
        "application_name": "holdlog",
    }
    arguments: dict[str, Any] = {
        name: value for name, value in told.items() if name not in address.query
    }
    # A forgotten lock elsewhere must not make a cook wait for ever.
    own = address.query.get("options", "")
    arguments["options"] = (
        f"{own if isinstance(own, str) else ' '.join(own)} -c lock_timeout={wait_ms}".strip()
    )
    return arguments


def _kept_when_told(driver: Any, _record: object) -> None:
    """An entry that was acknowledged is on the server's disk, whatever its default is or becomes.
    Where more is asked for (a second server has it too), it is left at that.
    """
    driver.execute(
        "SELECT set_config('synchronous_commit', 'on', false)"
        " WHERE current_setting('synchronous_commit') IN ('on', 'off')"
    )


def _shown(address: URL) -> str:
    """The address for a person: no password, and no parameters, which may hold one."""
    shown = URL.create(
        "postgresql", address.username, None, address.host, address.port, address.database
    )
    return shown.render_as_string()


def _without_password(url: str) -> str:
    scheme, mark, rest = url.partition("://")
    return f"{scheme}{mark}…@{rest.rpartition('@')[2].partition('?')[0]}" if "@" in rest else url
