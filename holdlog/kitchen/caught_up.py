"""Food that is written down after the unit it stood in was read: what it missed is found.

An import or a reading beyond the limit holds what was known to stand there. What is entered
later, as having stood there already, is held for the same hours.
"""

from collections.abc import Iterable

from holdlog.core.moments import Instant
from holdlog.core.temperature import Scale
from holdlog.journal import readings
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.excursions import Anew, Drafted, written
from holdlog.kitchen.kitchen import Unit, Writing
from holdlog.kitchen.records import LiveRecords, Reader
from holdlog.kitchen.units import SCALES, by_hand, last_good, limit_of, limits_by_category
from holdlog.kitchen.unknown_time import by_reading
from holdlog.kitchen.whereabouts import stays


def caught_up(write: Writing, codes: Iterable[str], since: Instant) -> dict[str, ContainerRow]:
    """The rows of those of ``codes`` that stood, from ``since`` on, where a unit was beyond its
    limit, folded again with what that did to them. Call it once their facts are written.
    """
    wanted = set(codes)
    if since >= write.recorded_at:
        return {}
    reader = Reader(LiveRecords(write.conn, write.kitchen.site), write.kitchen.where)
    places = dict.fromkeys(
        stay.unit for code in sorted(wanted) for stay in stays(reader, reader.container(code))
    )
    touched: set[str] = set()
    for name in places:
        unit = write.kitchen.units.get(name)
        for drafts in _missed(write, unit, since) if unit is not None else ():
            fresh = tuple(draft for draft in drafts if draft[0] in wanted)
            written(write, Anew(fresh), "")
            touched |= {code for code, _, _ in fresh}
    rows = write.settle(*sorted(touched)) if touched else []
    return {row.code: row for row in rows if row.code in touched}


def _missed(write: Writing, unit: Unit, since: Instant) -> Iterable[tuple[Drafted, ...]]:
    stack = write.kitchen.stack(write.conn)
    limit = limit_of(stack, unit, write.kitchen.where)
    if limit is None:
        return
    # The reader of loggers' files comes with it, and most commands meet no reading to judge.
    from holdlog.kitchen.logger_import import judged  # noqa: PLC0415

    for scale in SCALES:
        source = _source(write, unit, since, scale) if limit.speaks(scale) else None
        if source is not None:
            span = since, write.recorded_at
            yield judged(write, stack, unit, scale, span, source)[1].excursions
    limits = limits_by_category(stack, unit, write.kitchen.where)
    reader = Reader(LiveRecords(write.conn, write.kitchen.site), write.kitchen.where)
    for reading in by_hand(reader, unit.name):
        if reading.at < since or limit.within(reading.temperature):
            continue
        good = last_good(write.conn, write.kitchen.site, reader, unit.name, limit, reading.at)
        found = by_reading(
            write, reader, unit, limits, reading, good.at if good is not None else None
        )
        yield tuple((there.row.code, *draft) for there, draft in found if draft is not None)
        # What was written just now stands for the next one.
        reader = Reader(LiveRecords(write.conn, write.kitchen.site), write.kitchen.where)


def _source(write: Writing, unit: Unit, since: Instant, scale: Scale) -> int | None:
    """The import of the first reading on ``scale`` since then; None: there is none."""
    found = readings.first_good(write.conn, write.kitchen.site, unit.name, scale, since=since)
    return found.entry if found is not None else None
