"""Whether the tables of a SQLite file are still defined as the migrations define them.

SQLite keeps each definition as text and reads it anew at every start (sqlite.org/schematab.html).
No check of the file's structure looks at it: one flipped letter turns a column of texts into one
of numbers, or a limit into another one, and nothing else shows that.
"""

from functools import cache

from holdlog.journal import migrate
from holdlog.journal.engine import Connection, in_memory

Shape = dict[str, tuple[str, str, str]]
_ASK = "SELECT name, type, tbl_name, sql FROM sqlite_master WHERE type <> 'trigger'"


def misshapen(conn: Connection) -> list[str]:
    """The tables and indexes that are missing or are not defined as they were made, in order.

    Tables of somebody else in the same file are none of them. On PostgreSQL nothing is asked.
    """
    if conn.dialect.name != "sqlite":
        return []
    found = _shape(conn)
    return sorted(name for name, wanted in _made().items() if found.get(name) != wanted)


def _shape(conn: Connection) -> Shape:
    # Blanks and the quotes of names mean nothing: another release of a library may set others.
    return {
        name: (kind, table, "".join((sql or "").replace('"', "").split()))
        for name, kind, table, sql in conn.exec_driver_sql(_ASK)
    }


@cache
def _made() -> Shape:
    engine = in_memory()
    with engine.begin() as conn:
        migrate.make_tables(conn)
        found = _shape(conn)
    engine.dispose()
    return found
