"""What came of what, by the handful: rows, links and entries of many names in few questions.

A trace follows a lot through hundreds of containers. Asked one at a time they would cost more
than they are worth, so everything here takes a whole generation at once; what it costs depends
on how many names are asked for, never on how long the journal is.

SQLite is handed the names as one JSON array (sqlite.org/json1.html, json_each): so a query keeps
its text, while SQLAlchemy writes out a list of values anew each time, which takes longer than
SQLite takes for the answer.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import starmap
from typing import Any

from sqlalchemy import BindParameter, ColumnElement, Connection, Select, bindparam, func, select

from holdlog.core.chain import Entry
from holdlog.journal import on_hand, tables
from holdlog.journal.entries import COLUMNS
from holdlog.journal.on_hand import BatchRow, ContainerRow, LinkRow
from holdlog.journal.rows import Prepared, Row, chunks, tuples

_batch, _container = tables.batch.c, tables.container.c
_link, _entry = tables.link.c, tables.entry.c
_SITE: BindParameter[Any] = bindparam("site")


@dataclass(frozen=True, slots=True)
class _Query:
    """A question about many names, as each database is best asked it."""

    listed: Prepared
    written_out: Select[Any]


def _of(column: ColumnElement[Any], query: Select[Any], **also: ColumnElement[Any]) -> _Query:
    """``query`` where ``column`` is one of the names, and each of ``also`` one of its list."""
    listed = written_out = query
    for name, each in (("names", column), *also.items()):
        values = func.json_each(bindparam(name)).table_valued("value")
        listed = listed.where(each.in_(select(values.c.value)))
        written_out = written_out.where(each.in_(bindparam(name, expanding=True)))
    return _Query(Prepared(listed), written_out)


_BIRTH = select(_container.code, _container.batch, _container.parent).where(
    _container.site == _SITE
)
_LINKED = select(_link.code, _link.into).where(_link.site == _SITE)
_ENTRIES = select(*(_entry[name] for name in COLUMNS)).where(_entry.site == _SITE)
# Made once: to build a query costs about as much as to ask it.
_BIRTHS = _of(_container.code, _BIRTH)
_SPLIT_FROM = _of(_container.parent, _BIRTH)
_FILLED = _of(_container.batch, _BIRTH)
_OUT_OF = _of(_link.code, _LINKED)
_INTO = _of(_link.into, _LINKED)
_CONTAINERS = _of(_container.code, on_hand.CONTAINERS)
_BATCHES = _of(_batch.batch, on_hand.BATCHES)
_OF_LOTS = _of(_batch.lot_key, on_hand.BATCHES)
# Said this way, the kind is no business of an index: by it SQLite, which has no statistics here,
# would walk through all entries of a kind. The names are few: they are to be looked up.
_ABOUT = _of(_entry.subject, _ENTRIES, kinds=_entry.kind.concat(""))
_LOTS_FROM = (
    select(_batch.lot_key)
    .distinct()
    .where(
        _batch.site == _SITE,
        _batch.lot_key > bindparam("key"),
        _batch.lot_key < bindparam("end"),
    )
    .order_by(_batch.lot_key)
)

Birth = tuple[str, str, str]
"""A container's code, its batch, and the container it was split from (or empty)."""


def births(conn: Connection, site: str, codes: Iterable[str]) -> list[Birth]:
    """Where these containers came from. Names that are no container's are left out."""
    return _many(conn, _BIRTHS, site, codes)


def split_from(conn: Connection, site: str, codes: Iterable[str]) -> list[Birth]:
    """The containers that were split off from any of these."""
    return _many(conn, _SPLIT_FROM, site, codes)


def filled(conn: Connection, site: str, batches: Iterable[str]) -> list[Birth]:
    """The containers of these batches, split off or not."""
    return _many(conn, _FILLED, site, batches)


def went_into(conn: Connection, site: str, codes: Iterable[str]) -> list[LinkRow]:
    """What any of these containers went into; voided links are among them."""
    return list(starmap(LinkRow, _many(conn, _OUT_OF, site, codes)))


def came_into(conn: Connection, site: str, names: Iterable[str]) -> list[LinkRow]:
    """What went into any of these batches or containers; voided links are among them."""
    return list(starmap(LinkRow, _many(conn, _INTO, site, names)))


def containers(conn: Connection, site: str, codes: Iterable[str]) -> dict[str, ContainerRow]:
    """The rows of these containers, by code."""
    rows = on_hand.container_rows(_many(conn, _CONTAINERS, site, codes))
    return {row.code: row for row in rows}


def batches(conn: Connection, site: str, names: Iterable[str]) -> dict[str, BatchRow]:
    """The rows of these batches, by id."""
    return {row.batch: row for row in starmap(BatchRow, _many(conn, _BATCHES, site, names))}


def of_lots(conn: Connection, site: str, keys: Iterable[str]) -> list[BatchRow]:
    """The batches of these makers' lots, by number."""
    found = starmap(BatchRow, _many(conn, _OF_LOTS, site, filter(None, keys)))
    return sorted(found, key=lambda row: row.number)


def lots_beginning(conn: Connection, site: str, key: str, most: int) -> list[str]:
    """Up to ``most`` keys of lots that begin with ``key`` and go on, in order."""
    rows = tuples(conn, _LOTS_FROM.limit(most), site=site, key=key, end=key + "\U0010ffff")
    return [found for (found,) in rows]


def about(
    conn: Connection, site: str, subjects: Iterable[str], kinds: Iterable[str]
) -> dict[str, list[Entry]]:
    """The entries of ``kinds`` about each of ``subjects``, in order of number."""
    found: dict[str, list[Entry]] = {}
    for row in _many(conn, _ABOUT, site, subjects, kinds=list(kinds)):
        entry = Entry(*row)
        found.setdefault(entry.subject, []).append(entry)
    for entries in found.values():
        entries.sort(key=lambda entry: entry.number)
    return found


def _many(
    conn: Connection, query: _Query, site: str, names: Iterable[str], **lists: list[str]
) -> list[Row]:
    wanted = list(dict.fromkeys(names))
    if not wanted:
        return []
    if conn.dialect.name == "sqlite":
        given = {"names": wanted, **lists}
        texts = {name: json.dumps(each, ensure_ascii=False) for name, each in given.items()}
        return list(tuples(conn, query.listed, site=site, **texts))
    rows: list[Row] = []
    for some in chunks(wanted):
        rows.extend(tuples(conn, query.written_out, site=site, names=some, **lists))
    return rows
