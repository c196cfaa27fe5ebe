"""Asks SQLite whether the file is whole, and whether the triggers are those we made.

A random flipped bit is found by these checks in about a quarter of all cases (the rest lies in
text, which only the chain protects, in what is on hand, which a replay protects, or in unused
space), so none of the three replaces the others.
"""

from sqlalchemy import Connection, bindparam, text

from holdlog.journal.rows import tuples
from holdlog.journal.tables import GUARDED, TRIGGERS


def unsound(conn: Connection) -> str | None:
    """What is wrong with the database file, or None. On PostgreSQL nothing is asked."""
    if conn.dialect.name != "sqlite":
        return None
    first = conn.exec_driver_sql("PRAGMA integrity_check(1)").scalar()
    if first != "ok":
        return str(first)
    dangling = conn.exec_driver_sql("PRAGMA foreign_key_check").first()
    if dangling is not None:
        return f"a row of {dangling[0]} refers to a missing row of {dangling[2]}"
    return None


def weakened(conn: Connection) -> list[str]:
    """The names of the triggers that are missing or were changed, in order.

    Their text is compared too: a trigger that was made anew with a condition that never holds
    is there, and guards nothing.
    """
    if conn.dialect.name != "sqlite":
        names = text("SELECT tgname FROM pg_trigger WHERE tgenabled <> 'D' AND NOT tgisinternal")
        return sorted(_POSTGRESQL - set(conn.execute(names).scalars()))
    rows = text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name IN :names")
    found: dict[str, str] = dict(
        tuples(conn, rows.bindparams(bindparam("names", expanding=True)), names=GUARDED)
    )
    others = set(found) - set(TRIGGERS)
    return sorted({name for name, sql in TRIGGERS.items() if found.get(name) != sql} | others)


_POSTGRESQL = {
    "entry_no_change",
    "entry_no_truncate",
    "entry_in_order",
    "reading_no_change",
    "reading_no_truncate",
}
