"""What happened in a unit over a period: its readings under its limit, and what stood there."""

from dataclasses import dataclass

from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.journal import on_hand, readings
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.excursions import Kept, of_unit
from holdlog.kitchen.kitchen import Kitchen, Unit
from holdlog.kitchen.records import LiveRecords, Reader
from holdlog.kitchen.unit_read import held_by
from holdlog.kitchen.units import (
    SCALES,
    UnitLimit,
    UnitNow,
    UnitReading,
    by_hand,
    limit_of,
    logged,
    now_of,
)
from holdlog.rules.episodes import Course, course


@dataclass(frozen=True, slots=True)
class Struck:
    """A container that stood there beyond the limit: how long, and what was decided of it.

    ``decision`` is "on hold", "to discard", "kept" (with ``why``), or how it ended.
    """

    row: ContainerRow
    seconds: int
    unknown_seconds: int
    excursions: tuple[Kept, ...]
    decision: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class UnitStory:
    """A unit from ``since`` to ``until``: the logger's readings (a course for each scale there
    is), those read by hand, and the containers that were struck.
    """

    unit: Unit
    limit: UnitLimit | None
    since: Instant
    until: Instant
    courses: tuple[Course, ...]
    hand: tuple[UnitReading, ...]
    struck: tuple[Struck, ...]


def story(kitchen: Kitchen, unit: Unit, since: Instant, until: Instant) -> UnitStory:
    """What happened in ``unit``. Raises ``Mistake("bad-period")``."""
    if until < since:
        raise Mistake("bad-period", "It ends before it begins.", "Give --from, then --to.")
    with kitchen.db.reading() as conn:
        return told(kitchen, conn, unit, since, until)


def told(
    kitchen: Kitchen, conn: Connection, unit: Unit, since: Instant, until: Instant
) -> UnitStory:
    """The same within a transaction."""
    limit = limit_of(kitchen.current(conn).stack(conn), unit, kitchen.where)
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    hand = tuple(each for each in by_hand(reader, unit.name) if since <= each.at <= until)
    courses = _courses(kitchen, conn, unit, limit, since, until)
    struck = _struck(kitchen, conn, reader, unit, since, until)
    return UnitStory(unit, limit, since, until, courses, hand, struck)


def _courses(
    kitchen: Kitchen,
    conn: Connection,
    unit: Unit,
    limit: UnitLimit | None,
    since: Instant,
    until: Instant,
) -> tuple[Course, ...]:
    found = []
    for scale in SCALES:
        if limit is None or not limit.speaks(scale):
            continue
        samples = readings.samples(conn, kitchen.site, unit.name, scale, since, until)
        if samples:
            figure = limit.hundredths(scale)
            found.append(course(samples, figure, side=limit.side, scale=scale))
    return tuple(found)


def _struck(
    kitchen: Kitchen,
    conn: Connection,
    reader: Reader,
    unit: Unit,
    since: Instant,
    until: Instant,
) -> tuple[Struck, ...]:
    by_code: dict[str, list[Kept]] = {}
    for each in of_unit(conn, kitchen.site, reader, unit.name, since, None):
        if each.began <= until:
            by_code.setdefault(each.code, []).append(each)
    found = []
    for code, kept in by_code.items():
        row = on_hand.find(conn, kitchen.site, code)
        if row is None:
            continue
        decision, why = _decision(row, kept)
        found.append(
            Struck(
                row, sum(each.fact.seconds for each in kept),
                sum(each.fact.unknown_seconds for each in kept), tuple(kept), decision, why,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda each: (each.row.item_name, each.row.code)))


def _decision(row: ContainerRow, kept: list[Kept]) -> tuple[str, str]:
    settled = [each.standing.settled for each in kept]
    if row.ended_at is not None:
        return row.ended_as, "; ".join(filter(None, settled))
    if all(settled):
        return "kept", "; ".join(dict.fromkeys(settled))
    if row.verdict:
        return {"discard": "to discard", "refuse": "to discard"}.get(row.verdict, "on hold"), ""
    return "not held", "it is not TCS"


@dataclass(frozen=True, slots=True)
class UnitShown:
    """A unit as it is now: limit, newest reading, the readings of the last day, what is in it."""

    now: UnitNow
    at: Instant
    readings: tuple[UnitReading, ...]
    inside: tuple[ContainerRow, ...]
    held: tuple[ContainerRow, ...]


def unit_now(kitchen: Kitchen, unit: Unit, length: int) -> UnitShown:
    """``unit`` now, with the readings of the last ``length`` milliseconds."""
    with kitchen.db.reading() as conn:
        at = kitchen.moment(conn)
        since = Instant(at - length)
        reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
        hand = [each for each in by_hand(reader, unit.name) if since <= each.at <= at]
        found = sorted(
            [*logged(conn, kitchen.site, unit.name, since, at), *hand], key=lambda each: each.at
        )
        inside = [row for row in on_hand.live(conn, kitchen.site) if row.unit == unit.name]
        return UnitShown(
            now_of(kitchen, conn, unit, at), at, tuple(found), tuple(inside),
            tuple(held_by(kitchen, conn, unit)),
        )  # fmt: skip
