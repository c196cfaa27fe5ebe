"""What the loggers of the units measured: thousands of readings, kept as they came.

A reading is evidence: it is added and never changed. One unit has one reading an instant; a
second logger in the same room is a unit of its own. Values are whole hundredths of a degree on
the logger's own scale, instants UTC milliseconds. Only judgements about readings are entries of
the journal; each reading carries the number of the entry that tells of its import.
"""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from sqlalchemy import Connection, Select, and_, bindparam, func, select

from holdlog.core.moments import Instant
from holdlog.core.temperature import Scale
from holdlog.journal.rows import Row, streamed, tuples
from holdlog.journal.tables import reading as table

# Rows of one call of the driver: a few megabytes, whatever the size of the file.
_CHUNK = 20_000
_EVER = Instant(0), Instant(2**53)
_COLUMNS = "reading (site, unit, at, hundredths, scale, entry)"
_INSERT = f"INSERT INTO {_COLUMNS} VALUES (?, ?, ?, ?, ?, ?)"  # noqa: S608  (our own names)
_COPY = f"COPY {_COLUMNS} FROM STDIN"


class Reading(NamedTuple):
    """``hundredths`` of a degree on ``scale`` at an instant. ``entry``: of which import."""

    at: Instant
    hundredths: int
    scale: Scale
    entry: int


@dataclass(frozen=True, slots=True)
class Put:
    """What became of the samples of one import; the three counts add up to the samples.

    ``already`` were there with the same value. ``conflicting`` met another value (or the other
    scale) at the same instant, and the older one stays; ``first_conflict`` is the earliest.
    """

    added: int
    already: int
    conflicting: int
    first_conflict: Instant | None = None


class Span(NamedTuple):
    """Readings without a gap, from ``start`` to ``end``, both measured."""

    start: Instant
    end: Instant


_c = table.c
_OF_UNIT = and_(_c.site == bindparam("site"), _c.unit == bindparam("unit"))
_ALL = select(_c.at, _c.hundredths, _c.scale, _c.entry).where(_OF_UNIT)
_FROM_TO = and_(_c.at >= bindparam("start"), _c.at < bindparam("end"))
_BETWEEN = _ALL.where(_FROM_TO).order_by(_c.at)
_COUNT = select(func.count()).where(_OF_UNIT)
_OF_IMPORT = _BETWEEN.where(_c.entry == bindparam("entry"))


def put(
    conn: Connection,
    site: str,
    unit: str,
    import_id: int,
    scale: Scale,
    samples: Sequence[tuple[int, int]],
) -> Put:
    """Keep ``samples`` (instant, hundredths), in increasing order of instants, each one once.

    The same samples again add nothing. ``import_id`` is the number of the import's entry, which
    must be there when the transaction ends. Call it inside ``Database.appending()``; on
    PostgreSQL after the entry was appended, which locks the site. An instant that occurs twice
    among the samples is refused by the database, and nothing is kept.
    """
    added = already = 0
    conflicts: list[int] = []
    for start in range(0, len(samples), _CHUNK):
        some = samples[start : start + _CHUNK]
        kept = _kept(conn, site, unit, some)
        fresh = [(site, unit, at, value, scale, import_id) for at, value in some if at not in kept]
        if fresh:
            _add(conn, fresh)
        added += len(fresh)
        if kept:
            met = [(at, kept[at] == (value, scale)) for at, value in some if at in kept]
            already += sum(same for _, same in met)
            conflicts += [at for at, same in met if not same]
    first = Instant(min(conflicts)) if conflicts else None
    return Put(added, already, len(conflicts), first)


def between(
    conn: Connection, site: str, unit: str, start: Instant, end: Instant
) -> Iterator[Reading]:
    """The readings from ``start`` to just before ``end``, in order, a few at a time.

    Use them up inside the transaction.
    """
    rows = streamed(conn, _BETWEEN, site=site, unit=unit, start=start, end=end)
    return map(Reading._make, rows)


def last(
    conn: Connection, site: str, unit: str, *, before: Instant | None = None
) -> Reading | None:
    """The latest reading (before an instant), whatever it shows, or None."""
    return _latest(conn, _ALL, site, unit, before)


def last_good(
    conn: Connection,
    site: str,
    unit: str,
    scale: Scale,
    *,
    at_most: int | None = None,
    at_least: int | None = None,
    before: Instant | None = None,
) -> Reading | None:
    """The latest reading within a limit in hundredths on ``scale``; the limit itself is within.

    A reading on the other scale is not compared: it is passed over, as if it were not good.
    """
    query = _ALL.where(_c.scale == scale)
    if at_most is not None:
        query = query.where(_c.hundredths <= at_most)
    if at_least is not None:
        query = query.where(_c.hundredths >= at_least)
    return _latest(conn, query, site, unit, before)


def first_good(
    conn: Connection,
    site: str,
    unit: str,
    scale: Scale,
    *,
    since: Instant,
    at_most: int | None = None,
    at_least: int | None = None,
) -> Reading | None:
    """The earliest reading at or after ``since`` within a limit in hundredths on ``scale``."""
    query = _ALL.where(_c.scale == scale, _c.at >= bindparam("since"))
    if at_most is not None:
        query = query.where(_c.hundredths <= at_most)
    if at_least is not None:
        query = query.where(_c.hundredths >= at_least)
    rows = tuples(conn, query.order_by(_c.at).limit(1), site=site, unit=unit, since=since)
    return Reading._make(rows[0]) if rows else None


def samples(
    conn: Connection, site: str, unit: str, scale: Scale, start: Instant, end: Instant
) -> list[tuple[int, int]]:
    """Instants and hundredths of the readings on ``scale``, from ``start`` to ``end``, both
    included, in order. A year of minutes is half a million of them.
    """
    query = (
        select(_c.at, _c.hundredths)
        .where(_OF_UNIT, _c.scale == scale, _c.at >= bindparam("start"), _c.at <= bindparam("end"))
        .order_by(_c.at)
    )
    rows = tuples(conn, query, site=site, unit=unit, start=start, end=end)
    return [(at, value) for at, value in rows]


def count(conn: Connection, site: str, unit: str) -> int:
    """How many readings of this unit are kept."""
    ((found,),) = tuples(conn, _COUNT, site=site, unit=unit)
    return int(found)


def units(conn: Connection, site: str) -> list[str]:
    """The units that have readings, in order."""
    # One step of the index a unit: DISTINCT would read every row.
    found: list[str] = []
    query = select(func.min(_c.unit)).where(
        _c.site == bindparam("site"), _c.unit > bindparam("after")
    )
    after = ""
    while True:
        ((unit,),) = tuples(conn, query, site=site, after=after)
        if unit is None:
            return found
        found.append(unit)
        after = unit


def spans(
    conn: Connection, site: str, unit: str, start: Instant, end: Instant, *, gap: int
) -> list[Span]:
    """The stretches with data from ``start`` to just before ``end``, in order.

    Two neighbours more than ``gap`` milliseconds apart belong to two of them; what happened
    in between nobody measured.
    """
    before = func.lag(_c.at).over(order_by=_c.at).label("before")
    pairs = select(_c.at.label("at"), before).where(_OF_UNIT, _FROM_TO).subquery()
    breaks = select(pairs.c.at, pairs.c.before).where(
        (pairs.c.before.is_(None)) | (pairs.c.at - pairs.c.before > bindparam("gap"))
    )
    within = {"site": site, "unit": unit, "start": start, "end": end}
    found = tuples(conn, breaks.order_by(pairs.c.at), gap=gap, **within)
    if not found:
        return []
    ((final,),) = tuples(conn, select(func.max(_c.at)).where(_OF_UNIT, _FROM_TO), **within)
    ends = [row[1] for row in found[1:]] + [final]
    return [Span(row[0], stop) for row, stop in zip(found, ends, strict=True)]


def digest(
    conn: Connection,
    site: str,
    unit: str,
    import_id: int,
    *,
    start: Instant = _EVER[0],
    end: Instant = _EVER[1],
) -> str:
    """SHA-256 over the readings of one import as they are kept now, to lay beside its entry.

    ``start`` and ``end`` (included) may say where to look, which is quicker.

    The chain does not reach into this table; with this figure in the entry, an edit shows.
    """
    total = hashlib.sha256(f"{site}\0{unit}\0{import_id}\n".encode())
    rows = streamed(
        conn, _OF_IMPORT, site=site, unit=unit, entry=import_id, start=start, end=end + 1
    )
    for at, hundredths, scale, _ in rows:
        total.update(b"%d %d %s\n" % (at, hundredths, scale.encode()))
    return total.hexdigest()


def _add(conn: Connection, rows: list[Row]) -> None:
    if conn.dialect.name == "sqlite":
        conn.exec_driver_sql(_INSERT, rows)
        return
    # In the same transaction, and several times as fast as any INSERT (PostgreSQL manual,
    # "Populating a Database").
    driver: Any = conn.connection.driver_connection
    with driver.cursor() as cursor, cursor.copy(_COPY) as copy:
        for row in rows:
            copy.write_row(row)


def _kept(
    conn: Connection, site: str, unit: str, some: Sequence[tuple[int, int]]
) -> dict[int, tuple[int, str]]:
    instants = [at for at, _ in some]
    rows = streamed(
        conn, _BETWEEN, site=site, unit=unit, start=min(instants), end=max(instants) + 1
    )
    return {at: (hundredths, scale) for at, hundredths, scale, _ in rows}


def _latest(
    conn: Connection, query: Select[Row], site: str, unit: str, before: Instant | None
) -> Reading | None:
    values: dict[str, object] = {"site": site, "unit": unit}
    if before is not None:
        query = query.where(_c.at < bindparam("before"))
        values["before"] = before
    rows = tuples(conn, query.order_by(_c.at.desc()).limit(1), **values)
    return Reading._make(rows[0]) if rows else None
