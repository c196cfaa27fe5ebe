"""Rows as bare tuples, and inserts that may meet a row that is already there."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any, TypeAlias, TypeVar, cast

from sqlalchemy import Connection, Executable, Table
from sqlalchemy.dialects.sqlite import Insert as SqliteInsert

# As SQLAlchemy hands them out: they unpack and index like tuples.
Row: TypeAlias = tuple[Any, ...]
T = TypeVar("T")
# Well below the least number of bound values that any SQLite takes (999).
CHUNK = 500


def tuples(conn: Connection, statement: Executable, **values: object) -> Sequence[Row]:
    """All rows of a query."""
    return cast("Sequence[Row]", conn.execute(statement, values).all())


def streamed(conn: Connection, statement: Executable, **values: object) -> Iterator[Row]:
    """The same, some at a time, for queries whose answer need not fit into memory."""
    # The option goes with the statement: given to the connection it would stay there.
    options = {"stream_results": True, "max_row_buffer": CHUNK}
    result = conn.execute(statement, values, execution_options=options)
    return cast("Iterator[Row]", iter(result))


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
