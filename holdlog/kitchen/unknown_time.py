"""What a reading by hand does to the containers of a unit, and what later readings make plainer.

A reading beyond the limit holds everything that stood there since the last good one; that time is
unknown until readings in between are entered.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from holdlog.core import events as ev
from holdlog.core.moments import Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.kitchen.excursions import Anew, Kept, Stood, kept, of_unit, stood
from holdlog.kitchen.kitchen import Unit, Writing
from holdlog.kitchen.records import Reader
from holdlog.kitchen.units import (
    UnitLimit,
    UnitReading,
    by_hand,
    last_good,
    limit_of,
    limits_by_category,
    logged,
)
from holdlog.kitchen.whereabouts import Stay, stays
from holdlog.rules.episodes import known_time
from holdlog.rules.excursion import SHORTEST_GAP, usual_gap


def by_reading(
    write: Writing,
    reader: Reader,
    unit: Unit,
    limits: dict[str, UnitLimit],
    reading: UnitReading,
    since: Instant | None,
    *,
    anew: bool = False,
) -> list[tuple[Stood, tuple[Instant, ev.Excursion] | None]]:
    """What a reading beyond the limit does to the containers: of each that was there since the
    last good reading (``since``; None: there is none), the excursion with the moment it ends.
    Nothing for food whose own limit the reading keeps, and where one stands already (``anew``:
    other than of this reading).
    """
    conn, site, at = write.conn, write.kitchen.site, reading.at
    read = sorted(
        [*by_hand(reader, unit.name), *logged(conn, site, unit.name, since or Instant(0), at)]
        if since is not None
        else by_hand(reader, unit.name),
        key=lambda each: each.at,
    )
    found: list[tuple[Stood, tuple[Instant, ev.Excursion] | None]] = []
    for each in stood(conn, site, reader, unit.name, since if since is not None else at, at):
        limit = limits.get(each.row.category, limits[""])
        if limit.within(reading.temperature):
            continue
        if since is None:
            each = replace(each, parts=(_whole_stay(reader, each, at),))  # noqa: PLW2901
        standing = [
            one
            for one in kept(reader, each.row.code, unit.name)
            if not (anew and one.fact.source == reading.entry)
        ]
        drafts = [
            draft
            for part in each.parts
            if (draft := _unproven(part, reading, limit, read, standing, at)) is not None
        ]
        found += [(each, draft) for draft in drafts] or [(each, None)]
    return found


def _whole_stay(reader: Reader, there: Stood, at: Instant) -> Stay:
    """Since when the food has stood there, in what it was taken out of as well."""
    last = there.parts[-1]
    since, container = last.since, there.container
    own = [stay for stay in stays(reader, container) if stay.unit == last.unit]
    since = max((stay.since for stay in own if stay.since <= at), default=since)
    while container.split is not None and since == container.split.entry.at:
        container = reader.container(container.origin.parent)
        before = [
            stay
            for stay in stays(reader, container)
            if stay.unit == last.unit and stay.since <= since
            and (stay.until is None or stay.until >= since)
        ]  # fmt: skip
        if not before:
            break
        since = before[-1].since
    return Stay(last.unit, since, at)


def _unproven(
    part: Stay,
    reading: UnitReading,
    limit: UnitLimit,
    read: Sequence[UnitReading],
    standing: Sequence[Kept],
    at: Instant,
) -> tuple[Instant, ev.Excursion] | None:
    """The excursion of one stay: from its beginning, or what stands already, until ``at``."""
    ends = min(part.until if part.until is not None else at, at)
    if any(each.began <= ends <= each.at for each in standing):
        return None
    begins = max([part.since, *(each.at for each in standing if each.at <= ends)])
    if begins >= ends and ends < at:
        return None
    seconds, unknown = _times(read, limit, begins, ends)
    fact = ev.Excursion(
        limit=limit.temperature(reading.temperature.scale),
        seconds=seconds,
        unknown_seconds=unknown,
        peak=reading.temperature,
        unit=part.unit,
        began=begins,
        source=reading.entry,
    )
    return ends, fact


def _times(
    read: Sequence[UnitReading], limit: UnitLimit, begins: Instant, ends: Instant
) -> tuple[int, int]:
    """Seconds beyond the limit and seconds unknown, both rounded up. A reading that proves
    nothing counts where it is beyond.
    """
    judged = [(each.at, not limit.within(each.temperature)) for each in read
              if each.proves or not limit.within(each.temperature)]  # fmt: skip
    gap = usual_gap([(each.at, 0) for each in read if each.by_logger])
    beyond, unknown = known_time(judged, begins, ends, gap)
    return -(-beyond // 1000), -(-unknown // 1000)


def shaken_readings(write: Writing, reader: Reader, unit: Unit, since: Instant) -> Anew:
    """What readings by hand after ``since`` had begun, worked out anew: others before them were
    read on a thermometer whose doubt has changed, and prove more or less than they did.
    """
    kitchen, conn = write.kitchen, write.conn
    stack = kitchen.stack(conn)
    limit = limit_of(stack, unit, kitchen.where)
    if limit is None:
        return Anew()
    limits = limits_by_category(stack, unit, kitchen.where)
    begun: dict[int, list[Kept]] = {}
    for each in of_unit(conn, kitchen.site, reader, unit.name, since, None):
        begun.setdefault(each.fact.source or 0, []).append(each)
    wanted: list[tuple[str, Instant, ev.Excursion]] = []
    gone: list[Kept] = []
    for reading in by_hand(reader, unit.name):
        if reading.entry not in begun or limit.within(reading.temperature):
            continue
        good = last_good(conn, kitchen.site, reader, unit.name, limit, reading.at)
        found = by_reading(
            write, reader, unit, limits, reading, good.at if good is not None else None, anew=True
        )
        now = {(there.row.code, *draft): there for there, draft in found if draft is not None}
        was = {(each.code, each.at, each.fact): each for each in begun[reading.entry]}
        wanted += [key for key in now if key not in was]
        gone += [each for key, each in was.items() if key not in now]
    return Anew(tuple(wanted), tuple(gone))


def plainer(
    write: Writing,
    reader: Reader,
    unit: Unit,
    limits: dict[str, UnitLimit],
    span: tuple[Instant, Instant],
    *,
    entirely: bool,
    shows: Callable[[str, Instant], bool] | None = None,
) -> Anew:
    """Excursions with unknown time that readings within ``span`` make plainer.

    ``entirely``: only those whose whole time is measured now. Where the logger ``shows`` (for a
    category, at the moment of the reading by hand) that the unit was beyond, what it shows by
    itself takes the place of the excursion that the reading had begun.
    """
    conn, site = write.conn, write.kitchen.site
    excursions: list[tuple[str, Instant, ev.Excursion]] = []
    replaced: list[Kept] = []
    read_of: dict[tuple[Instant, Instant], list[UnitReading]] = {}
    for each in of_unit(conn, site, reader, unit.name, span[0], None):
        if each.began >= span[1] or each.standing.settled or not each.fact.unknown_seconds:
            continue
        source = journal_entries.numbered(conn, site, each.fact.source or 0)
        if source is None or not isinstance(fact_of(source), ev.UnitRead):
            continue
        row = on_hand.find(conn, site, each.code)
        category = row.category if row is not None else ""
        limit = limits.get(category, limits[""])
        key = each.began, each.at
        if key not in read_of:
            read_of[key] = _around(conn, site, reader, unit.name, *key)
        read = read_of[key]
        if entirely and _times(read, limit, each.began, each.at)[1]:
            continue
        if shows is not None and shows(category, source.at):
            replaced.append(each)
            continue
        anew = _from_last_good(each, limit, read)
        if anew != each.fact:
            replaced.append(each)
            excursions.append((each.code, each.at, anew))
    return Anew(tuple(excursions), tuple(replaced))


def _around(
    conn: Connection, site: str, reader: Reader, unit: str, began: Instant, at: Instant
) -> list[UnitReading]:
    """The readings of a span, with those that bound it."""
    margin = 12 * SHORTEST_GAP
    found = logged(conn, site, unit, Instant(began - margin), Instant(at + margin))
    return sorted([*found, *by_hand(reader, unit)], key=lambda each: each.at)


def _from_last_good(each: Kept, limit: UnitLimit, read: Sequence[UnitReading]) -> ev.Excursion:
    good = [
        one.at
        for one in read
        if each.began < one.at < each.at and one.proves and limit.within(one.temperature)
    ]
    begins = max([each.began, *good])
    seconds, unknown = _times(read, limit, begins, each.at)
    return replace(each.fact, began=begins, seconds=seconds, unknown_seconds=unknown)
