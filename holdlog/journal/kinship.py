"""What came of what, by the handful: rows, links and entries of many names in few questions.

A trace follows a lot through hundreds of containers. Asked one at a time they would cost more
than they are worth, so everything here takes a whole generation at once; what it costs depends
on how many names are asked for, never on how long the journal is.
"""

from collections.abc import Iterable
from itertools import starmap
from typing import Any

from sqlalchemy import BindParameter, Connection, Select, bindparam, select

from holdlog.core.chain import Entry
from holdlog.journal import on_hand, tables
from holdlog.journal.entries import COLUMNS
from holdlog.journal.on_hand import BatchRow, ContainerRow, LinkRow
from holdlog.journal.rows import Row, chunks, tuples

_container, _link, _entry = tables.container.c, tables.link.c, tables.entry.c
_NAMES: BindParameter[Any] = bindparam("names", expanding=True)
_SITE: BindParameter[Any] = bindparam("site")
_BIRTH = select(_container.code, _container.batch, _container.parent).where(
    _container.site == _SITE
)
_LINKED = select(_link.code, _link.into).where(_link.site == _SITE)
# Said this way, the kind is no business of an index: by it SQLite, which has no statistics here,
# would walk through all entries of a kind. The names are few: they are to be looked up.
_KIND = _entry.kind.concat("")
_ABOUT = select(*(_entry[name] for name in COLUMNS)).where(
    _entry.site == _SITE,
    _entry.subject.in_(_NAMES),
    _KIND.in_(bindparam("kinds", expanding=True)),
)
# Made once: to build a query costs about as much as to ask it.
_BIRTHS = _BIRTH.where(_container.code.in_(_NAMES))
_SPLIT_FROM = _BIRTH.where(_container.parent.in_(_NAMES))
_FILLED = _BIRTH.where(_container.batch.in_(_NAMES))
_OUT_OF = _LINKED.where(_link.code.in_(_NAMES))
_INTO = _LINKED.where(_link.into.in_(_NAMES))
_CONTAINERS = on_hand.CONTAINERS.where(_container.code.in_(_NAMES))
_BATCHES = on_hand.BATCHES.where(tables.batch.c.batch.in_(_NAMES))

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
    conn: Connection, query: Select[Any], site: str, names: Iterable[str], **values: object
) -> list[Row]:
    rows: list[Row] = []
    for some in chunks(dict.fromkeys(names)):
        rows.extend(tuples(conn, query, site=site, names=some, **values))
    return rows
