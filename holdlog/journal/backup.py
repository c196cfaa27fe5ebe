"""Copies the whole journal while it is in use, and believes no copy that it has not read.

The copy of a file goes through SQLite's online backup (sqlite.org/backup.html): copying it with
other tools may miss what is still in its journal, and opening it beside SQLite in one process
drops SQLite's locks. A journal on PostgreSQL is copied row by row into a file of the same kind.
"""

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from holdlog.core.errors import Fault
from holdlog.journal.engine import Connection, Database, open_database
from holdlog.journal.flaws import Heads, Proof, flaw, heads
from holdlog.journal.new_file import new_file
from holdlog.journal.soundness import unsound
from holdlog.journal.transfer import Tell, fill, quiet

# SQLITE_BUSY and SQLITE_LOCKED (sqlite.org/rescode.html), tried again every quarter of a second
# (Connection.backup of Python's sqlite3, ``sleep``). Ours: five seconds in all, as long as a write
# waits for another program.
_LOCKED = (5, 6)
_TRIES = 20


def copy_open(db: Database, to: Path, *, chains: bool = True) -> Path:
    """Copy the journal of ``db`` to the new file ``to``, and give its absolute path. Others may go
    on writing meanwhile.

    Raises ``Mistake("file-exists")``, and ``Fault("copy-bad")`` if the copy does not read back
    whole; then no file is left at ``to``.

    Without ``chains`` the entries are not read, for a file whose tables are not those of this
    program, or that is kept because something is wrong with it.
    """
    return copy_named(db, lambda _: to, chains=chains)


def copy_named(
    db: Database,
    named: Callable[[Connection], Path],
    *,
    chains: bool = True,
    proof: Proof | None = None,
    tell: Tell = quiet,
) -> Path:
    """The same, to the path that ``named`` gives for the moment of the copy. ``proof`` is what
    has to hold of the copy besides; ``tell`` hears how many rows are copied, where that takes
    long.
    """
    with ExitStack() as naming:
        # Copy and heads are of one moment. Nothing slow is done here: a file in rollback mode
        # lets nobody write while it is read.
        with db.reading() as conn:
            to = named(conn).absolute()
            part = naming.enter_context(new_file(to))
            ends = heads(conn) if chains else None
            if db.path is not None:
                _pages(conn, part)
            else:
                _rows(conn, part, tell)
        _read_back(part, ends, proof)
    return to


def copy_locked(db: Database, conn: Connection, to: Path) -> Path:
    """Copy the journal from within the transaction of ``conn`` that keeps other writers out and
    has written nothing yet. It is kept as it is, whatever may be wrong with its entries.
    """
    if db.path is not None:
        # By a connection of its own: SQLite copies from none that is about to write.
        return copy_open(db, to, chains=False)
    # Every other connection would wait for this one.
    to = to.absolute()
    with new_file(to) as part:
        _rows(conn, part, quiet)
        _read_back(part, None, None)
    return to


def _pages(conn: Connection, part: Path) -> None:
    # Waits for the end of another program's commit; the copy itself would wait for ever.
    conn.exec_driver_sql("SELECT count(*) FROM sqlite_master").scalar()
    target = open_database(part)
    try:
        with target.driver() as theirs:
            # Into the memory of the machine first, so that the lock on the source is short; the
            # disk gets all of it before the copy gets its name.
            theirs.execute("PRAGMA synchronous = OFF")
            ours: Any = conn.connection.driver_connection
            ours.backup(theirs, progress=_patience(part))
            _portable(theirs)
    finally:
        target.close()


def _patience(part: Path) -> Callable[[int, int, int], None]:
    """Ends a copy that finds the database locked again and again; by itself it never would. It is
    called after each try, so that a signal is heeded, too.
    """
    tries = 0

    def after(result: int, _remaining: int, _pages: int) -> None:
        nonlocal tries
        tries += result in _LOCKED
        if tries > _TRIES:
            raise Fault(
                "locked",
                f"The journal is in use by another program; {part} was not made.",
                "Nothing is lost; try again in a moment.",
            )

    return after


def _rows(conn: Connection, part: Path, tell: Tell) -> None:
    target = open_database(part)
    try:
        with target.appending() as filled:
            fill(conn, filled, tell)
        with target.driver() as theirs:
            _portable(theirs)
    finally:
        target.close()


def _portable(driver: Any) -> None:
    # In WAL mode a copy could not be read from a medium that is write-protected.
    driver.execute("PRAGMA journal_mode = DELETE")


def _read_back(part: Path, ends: Heads | None, proof: Proof | None) -> None:
    # Opened anew: what is read is what was written, not what is left in memory.
    target = open_database(part, must_exist=True)
    try:
        with target.reading() as conn:
            fault = unsound(conn) if ends is None else flaw(conn, ends)
            fault = fault or (proof(target, conn) if proof is not None else None)
    finally:
        target.close()
    if fault:
        raise Fault(
            "copy-bad",
            f"The copy {part} does not read back whole ({fault}), so it was thrown away.",
            "Run: holdlog doctor",
        )
