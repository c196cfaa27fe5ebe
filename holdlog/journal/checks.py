"""What ``holdlog doctor`` asks the journal. Each check gives a finding and never raises for it.

Whether what is on hand equals a replay of the journal is asked by the kitchen, which knows the
rules; it takes the rows from ``on_hand.everything``.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from holdlog.core.chain import first_fault, show_head
from holdlog.core.errors import HoldlogError
from holdlog.journal import migrate
from holdlog.journal.engine import Connection, Database, block_size, journal_for, sqlite_version
from holdlog.journal.entries import head, stream
from holdlog.journal.shape import misshapen
from holdlog.journal.soundness import unsound, weakened

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at: its name, whether it is as it should be, and a sentence. ``look``: all
    the same somebody has to see to it, though nothing of the journal is wrong.
    """

    name: str
    ok: bool
    says: str
    look: bool = False


def check(db: Database, site: str) -> list[Finding]:
    """Every check, in the order in which a fault would explain the next."""
    return [
        _asked("migrations", lambda: migrations_at_head(db)),
        _asked("database", lambda: _reading(db, database_sound)),
        _asked("triggers", lambda: _reading(db, triggers_present)),
        _asked("chain", lambda: _reading(db, lambda conn: chain_whole(conn, site))),
        _asked("journal-mode", lambda: journal_mode(db)),
    ]


def chain_whole(conn: Connection, site: str) -> Finding:
    """Whether every entry follows the one before and is as it was written.

    A cut-off tail does not show here: heads kept on paper show it (``holdlog.kitchen.proof``).
    """
    fault = first_fault(stream(conn, site))
    if fault:
        return Finding("chain", ok=False, says=f"The chain is broken: {fault}.")
    number, digest, _ = head(conn, site)
    head_now = show_head(number, digest)
    says = f"The chain of {number} entries is whole; its head is {head_now}."
    return Finding("chain", ok=True, says=says)


def database_sound(conn: Connection) -> Finding:
    """Whether the file's inner structure is whole."""
    fault = unsound(conn)
    says = f"The database is damaged: {fault}." if fault else "The database is sound."
    return Finding("database", ok=fault is None, says=says)


def triggers_present(conn: Connection) -> Finding:
    """Whether what keeps entries from being changed is in place, word for word."""
    names = weakened(conn)
    if names:
        says = f"What guards the entries was tampered with: {', '.join(names)}."
    else:
        says = "Entries cannot be changed or deleted by mistake."
    return Finding("triggers", ok=not names, says=says)


def migrations_at_head(db: Database) -> Finding:
    """Whether the tables are those of this program."""
    found = migrate.state(db)
    if found == "current" and (names := _reading(db, misshapen)):
        says = f"The tables are not as holdlog makes them: {', '.join(names)}."
        return Finding("migrations", ok=False, says=f"{says} Go back to a copy that is whole.")
    says = {
        "current": f"The tables are up to date ({migrate.HEAD}).",
        "older": "The tables are of an earlier holdlog; run: holdlog db upgrade",
        "newer": "The tables are of a later holdlog than this one; use that one.",
        "missing": "There are no tables; run: holdlog setup",
    }[found]
    return Finding("migrations", ok=found == "current", says=says)


def journal_mode(db: Database) -> Finding:
    """Whether the file is in the journal mode that this SQLite is safe in, and why that one.

    On PostgreSQL: whether the server keeps through a power cut what it has acknowledged.
    """
    if db.path is None:
        return _reading(db, _server_keeps)
    version = sqlite_version()
    wanted, synchronous = journal_for(version, block_size(db.path))
    with db.reading() as conn:
        mode = str(conn.exec_driver_sql("PRAGMA journal_mode").scalar()).upper()
    shown = ".".join(map(str, version))
    if wanted == "WAL":
        why = f"SQLite {shown} is safe in WAL mode"
    elif journal_for(version)[0] == "WAL":
        why = "the disk has small blocks, on which a program dies in WAL mode when it is full"
    else:
        why = f"SQLite {shown} can lose pages in WAL mode"
    says = f"Journal mode {mode}, synchronous {synchronous}: {why}."
    if mode != wanted:
        says = f"{says} It will be {wanted} at the next entry that nobody else is in the way of."
    # The rollback journal is safe everywhere; only WAL is not.
    return Finding("journal-mode", ok=mode in (wanted, "DELETE"), says=says)


def _server_keeps(conn: Connection) -> Finding:
    # PostgreSQL manual, "Write Ahead Log": without the first two a crash of the machine may ruin
    # the whole database, without the last one it may lose the latest entries.
    names = ("fsync", "full_page_writes", "synchronous_commit")
    found = {name: str(conn.exec_driver_sql(f"SHOW {name}").scalar()) for name in names}
    version = str(conn.exec_driver_sql("SHOW server_version").scalar()).partition(" ")[0]
    off = [name for name, value in found.items() if value == "off"]
    shown = ", ".join(f"{name} {value}" for name, value in found.items())
    says = f"PostgreSQL {version}: {shown}."
    if off:
        says += f" A power cut may ruin the journal: let the server turn on {' and '.join(off)}."
    return Finding("journal-mode", ok=not off, says=says)


def _reading(db: Database, ask: Callable[[Connection], T]) -> T:
    with db.reading() as conn:
        return ask(conn)


def _asked(name: str, ask: Callable[[], Finding]) -> Finding:
    try:
        return ask()
    except HoldlogError as error:
        return Finding(name, ok=False, says=error.line())
