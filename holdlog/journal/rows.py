"""Rows as bare tuples, and inserts that may meet a row that is already there."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any, TypeAlias, TypeVar, cast

from sqlalchemy import Connection, Executable, Select, Table
from sqlalchemy.dialects.sqlite import Insert as SqliteInsert

# As SQLAlchemy hands them out: they unpack and index like tuples.
Row: TypeAlias = tuple[Any, ...]
T = TypeVar("T")
# Well below the least number of bound values that any SQLite takes (999).
CHUNK = 500


class Prepared:
    """A query whose text is made once, for those that are asked for every scan and every list.

    SQLAlchemy looks a statement's text up anew each time, which takes longer than SQLite takes
    for a row. Only for queries without lists of values.
    """

    __slots__ = ("_text", "statement")

    def __init__(self, statement: Select[Any]) -> None:
        self.statement = statement
        self._text: tuple[str, list[tuple[str, object]]] | None = None

    def text(self, conn: Connection) -> tuple[str, list[tuple[str, object]]]:
        """The text, with the name of each value in order and what the query itself gives it."""
        if self._text is None:
            compiled: Any = self.statement.compile(dialect=conn.dialect)
            given = compiled.params
            self._text = str(compiled), [(name, given[name]) for name in compiled.positiontup]
        return self._text


def tuples(conn: Connection, statement: Executable | Prepared, **values: object) -> Sequence[Row]:
    """All rows of a query."""
    if not isinstance(statement, Prepared):
        return cast("Sequence[Row]", conn.execute(statement, values).all())
    if conn.dialect.name != "sqlite":
        return cast("Sequence[Row]", conn.execute(statement.statement, values).all())
    # The same connection, and so the same transaction. ``Database`` explains the driver's errors.
    driver: Any = conn.connection.driver_connection
    text, names = statement.text(conn)
    cells = [values.get(name, given) for name, given in names]
    return cast("Sequence[Row]", driver.execute(text, cells).fetchall())


def streamed(conn: Connection, statement: Executable, **values: object) -> Iterator[Row]:
    """The same, some at a time, for queries whose answer need not fit into memory."""
    # The option goes with the statement: given to the connection it would stay there.
    options = {"stream_results": True, "max_row_buffer": CHUNK}
    result = conn.execute(statement, values, execution_options=options)
    try:
        yield from cast("Iterator[Row]", result)
    finally:
        # Also when nobody wants the rest: on PostgreSQL the server keeps a place in it for us.
        result.close()


def chunks(things: Iterable[T]) -> Iterator[list[T]]:
    """``things`` in lists of at most ``CHUNK``."""
    waiting = iter(things)
    while some := list(islice(waiting, CHUNK)):
        yield some


def insert_over(dialect: str, table: Table) -> SqliteInsert:
    """An INSERT that understands ON CONFLICT, in ``dialect``."""
    if dialect == "sqlite":
        return SqliteInsert(table)
    # Loaded only where it is used. The two classes share the methods that we call.
    from sqlalchemy.dialects import postgresql  # noqa: PLC0415

    insert: Any = postgresql.insert(table)
    return insert  # type: ignore[no-any-return]
