"""A person reads a unit: recorded, and beyond the limit everything in it goes on hold at once."""

from dataclasses import dataclass

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.core.temperature import Temperature
from holdlog.journal import on_hand
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.evidence import paper
from holdlog.kitchen.excursions import kept, written
from holdlog.kitchen.kitchen import Kitchen, Unit, Writing
from holdlog.kitchen.probes import known as known_probe
from holdlog.kitchen.records import LiveRecords, Reader
from holdlog.kitchen.units import (
    UnitLimit,
    UnitReading,
    by_hand,
    last_good,
    limit_of,
    limits_by_category,
)
from holdlog.kitchen.unknown_time import by_reading, plainer


@dataclass(frozen=True, slots=True)
class UnitWasRead:
    """A unit's reading and what it did.

    ``good``: within the limit; None: the unit has none, or nothing is judged. ``since``: the last
    good reading before one that is beyond. ``rows`` are the containers that it put on hold or to
    discard, or whose excursion it made plainer; ``left`` those that had stood there since then
    and are there no more. ``still``: what an excursion of this unit has on hold.
    """

    unit: Unit
    reading: UnitReading
    limit: UnitLimit | None
    good: bool | None
    since: UnitReading | None
    rows: tuple[ContainerRow, ...]
    left: tuple[ContainerRow, ...]
    still: tuple[ContainerRow, ...]


def read_unit(
    kitchen: Kitchen,
    by: str,
    unit: Unit,
    at: Instant,
    temperature: Temperature,
    probe: str = "",
    evidence: str = "",
) -> UnitWasRead:
    """Record what ``unit`` read at ``at``. ``evidence`` names the paper that a reading of an
    earlier day rests on; without it such a reading proves nothing good.

    Raises ``Mistake("other-scale")`` where the limit is printed on the other scale only.
    """
    with kitchen.writing(by) as write:
        stack = write.kitchen.stack(write.conn)
        limit = limit_of(stack, unit, kitchen.where)
        if limit is not None and not limit.speaks(temperature.scale):
            raise Mistake(
                "other-scale",
                f"The limit of the {unit.name} is {limit.show(temperature.scale)}, and nothing is "
                "converted.",
                "Read it on a probe that shows that scale.",
            )
        probe = known_probe(write.kitchen, write.conn, probe)
        (entry,) = write.append((ev.UnitRead(temperature, probe), at, unit.name))
        if said := paper(evidence):
            confirmed = ev.Confirmed(entry.number, said)
            write.append((confirmed, write.recorded_at, unit.name))
        reader = Reader(LiveRecords(write.conn, kitchen.site), kitchen.where)
        reading = next(each for each in by_hand(reader, unit.name) if each.entry == entry.number)
        if limit is None:
            return UnitWasRead(unit, reading, None, None, None, (), (), ())
        limits = limits_by_category(stack, unit, kitchen.where)
        if limit.within(temperature):
            rows = _made_plainer(write, reader, unit, limits, reading)
            still = _still_held(write, unit)
            return UnitWasRead(unit, reading, limit, True, None, rows, (), still)  # noqa: FBT003
        since = last_good(write.conn, kitchen.site, reader, unit.name, limit, at)
        rows, left = _hold(write, reader, unit, limits, reading, since)
        still = _still_held(write, unit)
        return UnitWasRead(unit, reading, limit, False, since, rows, left, still)  # noqa: FBT003


def _made_plainer(
    write: Writing,
    reader: Reader,
    unit: Unit,
    limits: dict[str, UnitLimit],
    reading: UnitReading,
) -> tuple[ContainerRow, ...]:
    """A good reading of the past shortens what is unknown, if it proves anything."""
    if not reading.proves:
        return ()
    span = reading.at, reading.at
    anew = plainer(write, reader, unit, limits, span, entirely=False)
    written(write, anew, f"worked out anew from entry {reading.entry}, read by hand")
    codes = {code for code, _, _ in anew.excursions}
    rows = write.settle(*sorted(codes)) if codes else []
    return tuple(row for row in rows if row.code in codes)


def _hold(
    write: Writing,
    reader: Reader,
    unit: Unit,
    limits: dict[str, UnitLimit],
    reading: UnitReading,
    since: UnitReading | None,
) -> tuple[tuple[ContainerRow, ...], tuple[ContainerRow, ...]]:
    found = by_reading(
        write, reader, unit, limits, reading, since.at if since is not None else None
    )
    drafts = [(draft[1], draft[0], there.row.code) for there, draft in found if draft is not None]
    write.append(*drafts)
    wanted = {there.row.code for there, _ in found}
    rows = {
        row.code: row for row in write.settle(*sorted({code for _, _, code in drafts}))
    } if drafts else {}  # fmt: skip
    there = {each.row.code: rows.get(each.row.code, each.row) for each, _ in found}
    here = [row for code, row in there.items() if code in wanted and _is_here(row, unit)]
    left = [row for row in there.values() if not _is_here(row, unit)]
    return tuple(here), tuple(left)


def _is_here(row: ContainerRow, unit: Unit) -> bool:
    return row.ended_at is None and row.unit == unit.name


def _still_held(write: Writing, unit: Unit) -> tuple[ContainerRow, ...]:
    return tuple(held_by(write.kitchen, write.conn, unit))


def held_by(kitchen: Kitchen, conn: Connection, unit: Unit) -> list[ContainerRow]:
    """The live containers against which an excursion of ``unit`` stands that nobody settled."""
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    return [
        row
        for row in on_hand.live(conn, kitchen.site)
        if row.verdict and any(
            not each.standing.settled
            for code in (row.code, *([row.parent] if row.parent else ()))
            for each in kept(reader, code, unit.name)
        )
    ]  # fmt: skip
