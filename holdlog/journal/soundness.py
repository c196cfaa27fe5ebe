"""Asks the database whether it is whole, and whether the triggers are those we made.

A random flipped bit of a SQLite file is found by these checks in one of eight cases (ours: 191 of
1,500 in a journal of sixty jobs, 216 KiB). The rest lies in text, which only the chain protects, in
what is on hand, which a replay protects, or in unused space; so none of the three replaces the
others.
"""

from sqlalchemy import Connection, bindparam, exists, literal, select, text

from holdlog.journal.rows import tuples
from holdlog.journal.tables import GUARDED, SERVER_TRIGGERS, TRIGGERS, metadata


def unsound(conn: Connection) -> str | None:
    """What is wrong with the database, or None.

    PostgreSQL is asked whether an index was left half-made and whether every row refers to one
    that is there; its pages it checks itself, as they are read, where it was made with checksums.
    """
    if conn.dialect.name != "sqlite":
        return _unsound_on_a_server(conn)
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
        return _weakened_on_a_server(conn)
    rows = text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name IN :names")
    found: dict[str, str] = dict(
        tuples(conn, rows.bindparams(bindparam("names", expanding=True)), names=GUARDED)
    )
    others = set(found) - set(TRIGGERS)
    return sorted({name for name, sql in TRIGGERS.items() if found.get(name) != sql} | others)


def _unsound_on_a_server(conn: Connection) -> str | None:
    broken = conn.execute(_BROKEN_INDEXES).scalars().first()
    if broken is not None:
        return f"the index {broken} is not whole"
    for table in metadata.sorted_tables:
        for key in table.foreign_key_constraints:
            pairs = [(element.parent, element.column) for element in key.elements]
            there = exists().where(*(ours == theirs for ours, theirs in pairs))
            query = select(literal(1)).select_from(table).where(~there.correlate(table)).limit(1)
            if conn.execute(query).first() is not None:
                return f"a row of {table.name} refers to a missing row of {key.referred_table.name}"
    return None


def _weakened_on_a_server(conn: Connection) -> list[str]:
    """Also what SQLite has not: a trigger that is switched off, a rule that rewrites a statement,
    row security that hides entries from some.
    """
    found = {name: tuple(rest) for name, *rest in conn.execute(_SERVER_TRIGGERS, _NAMED)}
    wrong = {name for name, guard in SERVER_TRIGGERS.items() if found.get(name) != (*guard, True)}
    return sorted(
        {*wrong, *(set(found) - set(SERVER_TRIGGERS)), *conn.execute(_OTHERS, _NAMED).scalars()}
    )


_NAMED = {"names": list(GUARDED)}
_BROKEN_INDEXES = text(
    "SELECT indexrelid::regclass::text FROM pg_index JOIN pg_class ON pg_class.oid = indrelid"
    " WHERE pg_table_is_visible(indrelid) AND relkind = 'r' AND NOT (indisvalid AND indisready)"
)
# Put into texts of our own, and into no others.
_OURS = "SELECT oid FROM pg_class WHERE relname = ANY(:names) AND pg_table_is_visible(oid)"
_SERVER_TRIGGERS = text(
    "SELECT tgname, relname, tgtype, proname, btrim(prosrc), tgenabled IN ('O', 'A')"  # noqa: S608
    " AND tgqual IS NULL AND tgattr = ''::int2vector"
    " FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid"
    f" JOIN pg_proc ON pg_proc.oid = tgfoid WHERE NOT tgisinternal AND tgrelid IN ({_OURS})"
)
_OTHERS = text(
    f"SELECT 'rule ' || rulename FROM pg_rewrite WHERE ev_class IN ({_OURS})"  # noqa: S608
    " UNION SELECT 'row security of ' || relname FROM pg_class"
    f" WHERE relrowsecurity AND oid IN ({_OURS})"
    " UNION SELECT 'constraint ' || tgconstraint || ' of ' || relname FROM pg_trigger"
    " JOIN pg_class ON pg_class.oid = tgrelid"
    f" WHERE tgisinternal AND tgenabled = 'D' AND tgrelid IN ({_OURS})"
)
