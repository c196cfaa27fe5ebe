"""Rows as bare tuples, and inserts that may meet a row that is already there."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import fields, make_dataclass
from itertools import chain, islice
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
    for a row. A list of values (an expanding parameter) has a text for each length.
    """

    __slots__ = ("_compiled", "_names", "_text", "_texts", "statement")

    def __init__(self, statement: Select[Any]) -> None:
        self.statement = statement
        self._compiled: Any = None
        self._names: list[tuple[str, object]] = []
        self._text = ""
        self._texts: dict[tuple[int, ...], str] = {}

    def text(self, conn: Connection, **values: object) -> tuple[str, list[object]]:
        """The text, and its values in order: of ``values`` or, else, what the query gives."""
        if self._compiled is None:
            compiled: Any = self.statement.compile(dialect=conn.dialect)
            self._names = [(name, compiled.params[name]) for name in compiled.positiontup]
            if not any(each.expanding for each in compiled.binds.values()):
                self._text = str(compiled)
            self._compiled = compiled
        cells = [values.get(name, given) for name, given in self._names]
        return (self._text, cells) if self._text else self._written_out(cells, values)

    def _written_out(
        self, cells: list[object], values: dict[str, object]
    ) -> tuple[str, list[object]]:
        """The same, with each list of values written out."""
        lengths = tuple(len(cell) for cell in cells if isinstance(cell, list))
        if lengths not in self._texts:
            given = {**self._compiled.params, **values}
            self._texts[lengths] = self._compiled.construct_expanded_state(given).statement
        parts = (cell if isinstance(cell, list) else [cell] for cell in cells)
        return self._texts[lengths], list(chain.from_iterable(parts))


def tuples(conn: Connection, statement: Executable | Prepared, **values: object) -> Sequence[Row]:
    """All rows of a query."""
    if not isinstance(statement, Prepared):
        return cast("Sequence[Row]", conn.execute(statement, values).all())
    if conn.dialect.name != "sqlite":
        return cast("Sequence[Row]", conn.execute(statement.statement, values).all())
    # The same connection, and so the same transaction. ``Database`` explains the driver's errors.
    driver: Any = conn.connection.driver_connection
    text, cells = statement.text(conn, **values)
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


def maker(kind: type[T]) -> Callable[..., T]:
    """What makes a ``kind``, a frozen dataclass with slots, of its cells in order.

    A frozen class fills its fields through a slow door, one call each, which takes as long as
    the query. A twin that is not frozen is filled instead and then declared to be the real thing:
    both have the same slots, which is what Python asks of such a change.
    """
    names = [field.name for field in fields(cast("Any", kind))]
    twin: Any = make_dataclass(
        "_Twin", names, slots=True, eq=False, repr=False, match_args=False
    )  # fmt: skip

    def make(*cells: object) -> T:
        made = twin(*cells)
        made.__class__ = kind
        return cast("T", made)

    return make


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
