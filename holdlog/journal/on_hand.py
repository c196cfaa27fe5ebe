"""What is in the kitchen now: a picture of the journal, written with it in one transaction.

The kitchen folds the history under its rules and hands over the rows; they are kept as they
come. The tables may be emptied and filled again from the journal at will.
"""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import date
from functools import cache, lru_cache
from itertools import starmap
from typing import Any

from sqlalchemy import Connection, Executable, Select, Table, bindparam, func, select

from holdlog.core.errors import Fault
from holdlog.core.moments import Instant
from holdlog.journal import tables
from holdlog.journal.rows import Prepared, insert_over, maker, tuples


@dataclass(frozen=True, slots=True)
class BatchRow:
    """One making, delivery or opening. ``kind`` is prepared, received or opened; ``lot_key`` is
    what all ways of writing its ``lot`` have in common.
    """

    batch: str
    number: int
    item: str
    item_name: str
    category: str
    day_one: Instant
    kind: str
    lot: str = ""
    lot_key: str = ""


@dataclass(frozen=True, slots=True)
class ContainerRow:
    """One labelled container and how it stood when it was last judged (``judged_at``).

    ``use_by`` is the last instant, ``last_day`` its local date (ISO). ``verdict`` is empty when
    only the dates decide, else discard, refuse, hold or reheat. ``review_at`` is the next
    instant at which the verdict may change other than by ``use_by``. ``number`` of ``count``
    counts the containers of the batch; ``parent`` is the code it was split from, or empty.
    """

    code: str
    batch: str
    parent: str
    item: str
    item_name: str
    category: str
    unit: str
    number: int
    count: int
    amount: str
    made_at: Instant
    made_kind: str
    state: str
    tcs: str
    use_by: Instant | None
    last_day: str | None
    of: int | None
    days_left: int | None
    verdict: str
    reason: str
    review_at: Instant | None
    printed_use_by: Instant | None
    binds: str
    cite: str
    says: str
    cautions: tuple[str, ...]
    judged_at: Instant
    ended_at: Instant | None
    ended_as: str


@dataclass(frozen=True, slots=True)
class LinkRow:
    """Container ``code`` went ``into`` a batch or another container."""

    code: str
    into: str


_BATCH = [field.name for field in fields(BatchRow)]
_CONTAINER = [field.name for field in fields(ContainerRow)]
_LINK = [field.name for field in fields(LinkRow)]
_CAUTIONS = _CONTAINER.index("cautions")
_LAST_DAY = _CONTAINER.index("last_day")
_made = maker(ContainerRow)
_NAMES = {"batch": _BATCH, "container": _CONTAINER, "link": _LINK}
_CAUTIONS_TEXT = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


def _all(table: Table, names: Sequence[str]) -> Select[Any]:
    return select(*(table.c[name] for name in names)).where(table.c.site == bindparam("site"))


_batch, _container, _link = tables.batch.c, tables.container.c, tables.link.c
BATCHES = _all(tables.batch, _BATCH)
CONTAINERS = _all(tables.container, _CONTAINER)
_LINKS = _all(tables.link, _LINK)
_BY_NUMBER = (_container.number, _container.code)
# IS NULL stands in the text: with a bound value the partial index would not be used.
_LIVE = Prepared(
    CONTAINERS.where(_container.ended_at.is_(None)).order_by(
        _container.use_by.nulls_first(), _container.code
    )
)
_LIVE_CODES = Prepared(
    select(_container.code)
    .where(_container.site == bindparam("site"), _container.ended_at.is_(None))
    .order_by(_container.code)
)
_FIND = Prepared(CONTAINERS.where(_container.code == bindparam("code")))
_OF_BATCH = Prepared(CONTAINERS.where(_container.batch == bindparam("batch")).order_by(*_BY_NUMBER))
_CHILDREN = Prepared(CONTAINERS.where(_container.parent == bindparam("code")).order_by(*_BY_NUMBER))
_ONE_BATCH = Prepared(BATCHES.where(_batch.batch == bindparam("id")))
_FROM = Prepared(_LINKS.where(_link.code == bindparam("code")).order_by(_link.into))
_OF_LOT = BATCHES.where(_batch.lot_key == bindparam("key"))
_LAST_NUMBER = Prepared(select(func.max(_batch.number)).where(_batch.site == bindparam("site")))
_TAKEN = Prepared(
    select(_container.code).where(
        _container.site == bindparam("site"), _container.code == bindparam("code")
    )
)


def put(
    conn: Connection,
    site: str,
    *,
    batches: Iterable[BatchRow] = (),
    containers: Iterable[ContainerRow] = (),
    links: Iterable[LinkRow] = (),
) -> None:
    """Keep these rows; one with the same key takes the place of the older one.

    The batch of a container must be here or among ``batches``.
    """
    _put(conn, tables.batch, site, batches)
    _put(conn, tables.container, site, containers)
    _put(conn, tables.link, site, links)


def live(conn: Connection, site: str) -> list[ContainerRow]:
    """Every container that has not ended: those without a use-by first, then the earliest."""
    return container_rows(tuples(conn, _LIVE, site=site))


def live_codes(conn: Connection, site: str) -> list[str]:
    """The codes of the containers that have not ended, in order."""
    return [code for (code,) in tuples(conn, _LIVE_CODES, site=site)]


def find(conn: Connection, site: str, code: str) -> ContainerRow | None:
    """The container with this code, ended or not, or None."""
    rows = container_rows(tuples(conn, _FIND, site=site, code=code))
    return rows[0] if rows else None


def existing(conn: Connection, site: str, start: Instant, end: Instant) -> list[ContainerRow]:
    """The containers that existed at some time from ``start`` to ``end``, ended since or not."""
    query = CONTAINERS.where(_container.made_at <= bindparam("end"))
    # Two questions: the ends are looked up by their index, and what has none by its own.
    ended = query.where(_container.ended_at >= bindparam("start"))
    values = {"site": site, "start": start, "end": end}
    found = container_rows(tuples(conn, ended, **values))
    found += container_rows(
        tuples(conn, query.where(_container.ended_at.is_(None)), site=site, end=end)
    )
    return sorted(found, key=lambda row: row.code)


def of_batch(conn: Connection, site: str, batch: str) -> list[ContainerRow]:
    """The containers of a batch, ended or not, by number."""
    return container_rows(tuples(conn, _OF_BATCH, site=site, batch=batch))


def children(conn: Connection, site: str, code: str) -> list[ContainerRow]:
    """The containers split off from this one, ended or not, by number."""
    return container_rows(tuples(conn, _CHILDREN, site=site, code=code))


def batch(conn: Connection, site: str, id: str) -> BatchRow | None:  # noqa: A002
    """The batch with this id, or None."""
    rows = tuples(conn, _ONE_BATCH, site=site, id=id)
    return BatchRow(*rows[0]) if rows else None


def batches_of_lot(conn: Connection, site: str, key: str) -> list[BatchRow]:
    """The batches of a maker's lot, by number. ``key``: see ``holdlog.core.lots``."""
    found = starmap(BatchRow, tuples(conn, _OF_LOT, site=site, key=key)) if key else ()
    # Put in order here: asked to do it, SQLite walks all batches by number.
    return sorted(found, key=lambda row: row.number)


def links_from(conn: Connection, site: str, code: str) -> list[LinkRow]:
    """What this container went into."""
    return list(starmap(LinkRow, tuples(conn, _FROM, site=site, code=code)))


def next_batch_number(conn: Connection, site: str) -> int:
    """One more than the highest batch number. Ask inside the transaction that uses it."""
    ((last,),) = tuples(conn, _LAST_NUMBER, site=site)
    return (last or 0) + 1


def code_taken(conn: Connection, site: str, code: str) -> bool:
    """Whether any container of ``site``, ended or not, has this code."""
    return bool(tuples(conn, _TAKEN, site=site, code=code))


def everything(
    conn: Connection, site: str
) -> tuple[list[BatchRow], list[ContainerRow], list[LinkRow]]:
    """All rows of ``site``, each kind by its key: to compare with a replay of the journal."""
    return (
        list(starmap(BatchRow, tuples(conn, BATCHES.order_by(_batch.batch), site=site))),
        container_rows(tuples(conn, CONTAINERS.order_by(_container.code), site=site)),
        list(starmap(LinkRow, tuples(conn, _LINKS.order_by(_link.code, _link.into), site=site))),
    )


def replace_all(
    conn: Connection,
    site: str,
    batches: Iterable[BatchRow],
    containers: Iterable[ContainerRow],
    links: Iterable[LinkRow],
) -> None:
    """Throw away every row of ``site`` and keep these."""
    for table in (tables.link, tables.container, tables.batch):
        conn.execute(table.delete().where(table.c.site == site))
    put(conn, site, batches=batches, containers=containers, links=links)


def _put(conn: Connection, table: Table, site: str, rows: Iterable[Any]) -> None:
    names = _NAMES[table.name]
    values = [{"site": site, **{name: getattr(row, name) for name in names}} for row in rows]
    if table is tables.container:
        for value in values:
            value["cautions"] = _CAUTIONS_TEXT(value["cautions"])
    if values:
        conn.execute(_upsert(conn.dialect.name, table), values)


@cache
def _upsert(dialect: str, table: Table) -> Executable:
    keys = [column.name for column in table.primary_key]
    insert = insert_over(dialect, table)
    others = {name: insert.excluded[name] for name in _NAMES[table.name] if name not in keys}
    if not others:
        return insert.on_conflict_do_nothing(index_elements=keys)
    return insert.on_conflict_do_update(index_elements=keys, set_=others)


def container_rows(rows: Iterable[Iterable[Any]]) -> list[ContainerRow]:
    """Containers from the cells that ``CONTAINERS`` asks for."""
    found = []
    for row in rows:
        cells = list(row)
        cells[_CAUTIONS] = _cautions(cells[_CAUTIONS])
        if cells[_LAST_DAY] is not None:
            _check_day(cells[_LAST_DAY])
        found.append(_made(*cells))
    return found


@lru_cache(maxsize=512)
def _cautions(text: str) -> tuple[str, ...]:
    # Most containers share their few cautions, so each text is read once.
    try:
        return tuple(json.loads(text))
    except (TypeError, ValueError) as error:
        raise _damaged() from error


@lru_cache(maxsize=512)
def _check_day(text: str) -> None:
    try:
        date.fromisoformat(text)
    except (TypeError, ValueError) as error:
        raise _damaged() from error


def _damaged() -> Fault:
    return Fault(
        "on-hand-damaged",
        "What is on hand cannot be read: it was changed by something else than holdlog.",
        "Mend it with: holdlog doctor --rebuild",
    )
