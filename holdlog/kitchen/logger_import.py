"""A logger's file for a unit: its readings are kept, and what they did to the food is worked out.

The same file again changes nothing. Where new readings come beside older ones, what was found
around them is worked out anew, so that two halves of a file say what the whole would.
"""

import hashlib
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import HOUR, Instant, show_dated
from holdlog.core.temperature import Scale
from holdlog.journal import entries as journal_entries
from holdlog.journal import readings
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen import clocks
from holdlog.kitchen.excursions import Anew, by_file, by_logger, written
from holdlog.kitchen.kitchen import Kitchen, Unit, Writing
from holdlog.kitchen.logger_file import LoggerFile, Tell, Told, read_logger
from holdlog.kitchen.records import LiveRecords, Reader
from holdlog.kitchen.units import UnitLimit, limit_of, limits_by_category
from holdlog.kitchen.unknown_time import plainer
from holdlog.rules.episodes import PAUSE, Course, course
from holdlog.rules.kinds import OutageRule
from holdlog.rules.stack import Stack

Span = tuple[Instant, Instant]
_EVER = Instant(2**53)


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of a file: what it says, what was kept of it, and what that did to the food.

    ``course`` are its readings under the unit's limit (None: it has none). ``rows`` are the
    containers whose excursions were written or worked out anew; ``entry`` is None where nothing
    was new.
    """

    unit: Unit
    name: str
    found: LoggerFile
    put: readings.Put
    entry: int | None
    limit: UnitLimit | None
    course: Course | None
    rows: tuple[ContainerRow, ...]
    excursions: int
    replaced: int
    dry_run: bool


class _Undone(Exception):
    """Ends a trial: its transaction leaves nothing behind."""


def import_readings(
    kitchen: Kitchen,
    by: str,
    unit: Unit,
    name: str,
    data: bytes,
    told: Told,
    *,
    tell: Tell | None = None,
    dry_run: bool = False,
) -> Imported:
    """Keep the readings of the file ``data``, called ``name``, and hold what they are too warm
    for. ``dry_run``: only say what would come of it.

    Raises ``BadFile`` for a file that cannot be read with certainty; ``Mistake("in-the-future")``
    and ``Mistake("other-scale")``.
    """
    found = read_logger(data, kitchen.where, told=told, tell=tell)
    done: Imported | None = None
    with suppress(_Undone), kitchen.writing(by) as write:
        done = keep_file(
            write, unit, name, hashlib.sha256(data).hexdigest(), found, dry_run=dry_run
        )
        if dry_run:
            raise _Undone
    if done is None:  # the block above was left before anything was found
        raise _Undone
    return done


def keep_file(
    write: Writing, unit: Unit, name: str, digest: str, found: LoggerFile, *, dry_run: bool
) -> Imported:
    """Keep what a file says, within a transaction, and judge it. ``digest``: of the file."""
    kitchen, conn, site = write.kitchen, write.conn, write.kitchen.site
    stack = kitchen.stack(conn)
    limit = limit_of(stack, unit, kitchen.where)
    _refuse(kitchen, found, limit, write.recorded_at, unit)
    number = journal_entries.next_number(conn, site, write.recorded_at)
    put = readings.put(conn, site, unit.name, number, found.scale, found.samples)
    first, last = Instant(found.samples[0][0]), Instant(found.samples[-1][0])
    fact = ev.ReadingsImported(
        file=name, digest=digest, scale=found.scale, first=first, last=last, added=put.added,
        already=put.already, conflicting=put.conflicting, refused=len(found.refused),
        repeated=found.duplicates,
        kept=readings.digest(conn, site, unit.name, number, start=first, end=last),
    )  # fmt: skip
    entry: int | None = None
    if put.added or put.conflicting:
        (made,) = write.append((fact, write.recorded_at, unit.name))
        entry = made.number
    shown, rows, excursions, replaced = None, [], 0, 0
    if limit is not None:
        source = entry if entry is not None else _entry_of(conn, site, unit.name, first)
        shown, anew = judged(write, stack, unit, found.scale, (first, last), source)
        if put.conflicting:
            shown, more = _at_odds(write, stack, unit, found, source, anew)
            anew = Anew(anew.excursions + more.excursions, anew.replaced + more.replaced)
        why = f"worked out anew from entry {source}, the logger's file {name}"
        written(write, anew, why)
        codes = [code for code, _, _ in anew.excursions] + [each.code for each in anew.replaced]
        touched = set(codes)
        rows = [row for row in write.settle(*sorted(touched)) if row.code in touched]
        excursions, replaced = len(anew.excursions), len(anew.replaced)
    return Imported(
        unit, name, found, put, entry, limit, shown, tuple(rows), excursions, replaced, dry_run
    )


def _refuse(
    kitchen: Kitchen, found: LoggerFile, limit: UnitLimit | None, now: Instant, unit: Unit
) -> None:
    last = Instant(found.samples[-1][0])
    if last > now + clocks.SLACK:
        raise Mistake(
            "in-the-future",
            f"The last reading is of {show_dated(last, kitchen.where)}: still to come.",
            "Set the logger's clock; or its times are in another zone (--utc), or day and month "
            "changed places (--day-first, --month-first).",
        )
    if limit is not None and not limit.speaks(found.scale):
        other = "C" if found.scale == "F" else "F"
        raise Mistake(
            "other-scale",
            f"The limit of the {unit.name} is printed in °{other} only, and the file is in "
            f"°{found.scale}.",
            f"Set the logger to °{other}: nothing is converted.",
        )


def _entry_of(conn: Connection, site: str, unit: str, at: Instant) -> int:
    row = next(readings.between(conn, site, unit, at, Instant(at + 1)), None)
    return row.entry if row is not None else 0


# ---- what the readings say -------------------------------------------------------------------


def judged(
    write: Writing, stack: Stack, unit: Unit, scale: Scale, new: Span, source: int
) -> tuple[Course, Anew]:
    """The readings of ``new`` under the unit's limit, and what they did to the containers."""
    conn, site = write.conn, write.kitchen.site
    limits = {
        name: limit
        for name, limit in limits_by_category(stack, unit, write.kitchen.where).items()
        if limit.speaks(scale)
    }
    reader = Reader(LiveRecords(conn, site), write.kitchen.where)
    changed, courses = around(conn, site, stack, unit.name, limits, scale, new)
    near = {name: _touching(each, changed) for name, each in courses.items()}
    span = _reached(near, changed)
    logger = by_logger(write, reader, unit, near, limits, span, source)

    def shows(category: str, at: Instant) -> bool:
        """Whether the logger itself was beyond the limit when a person read it."""
        name = category if category in limits else ""
        _, then = around(conn, site, stack, unit.name, {"": limits[name]}, scale, (at, at))
        return then[""].shows(at)

    seen = cache(shows)
    hand = plainer(write, reader, unit, limits, new, entirely=True, shows=seen)
    both = Anew(logger.excursions + hand.excursions, logger.replaced + hand.replaced)
    general = courses[""]
    within = [each for each in general.samples if new[0] <= each[0] <= new[1]]
    shown = course(within, general.limit, side=general.side, scale=scale)
    return shown, both


def _at_odds(
    write: Writing, stack: Stack, unit: Unit, found: LoggerFile, source: int, anew: Anew
) -> tuple[Course, Anew]:
    """A file that shows other readings than are kept at the same moments, judged by itself as
    well: which of the two is right nobody knows, so that the warmer counts. ``anew``: what is to
    be written already.
    """
    limits = {
        name: limit
        for name, limit in limits_by_category(stack, unit, write.kitchen.where).items()
        if limit.speaks(found.scale)
    }
    longest = min((rule.hours * HOUR for rule in stack.of_kind(OutageRule)), default=None)
    courses = _courses([(at, value) for at, value in found.samples], limits, found.scale, longest)
    reader = Reader(LiveRecords(write.conn, write.kitchen.site), write.kitchen.where)
    return courses[""], by_file(write, reader, unit, courses, limits, source, anew)


def around(
    conn: Connection,
    site: str,
    stack: Stack,
    unit: str,
    limits: dict[str, UnitLimit],
    scale: Scale,
    new: Span,
) -> tuple[Span, dict[str, Course]]:
    """The readings around ``new``, under the limit of each category: as far as an episode that
    they touch reaches. With them, the stretch in which readings decide that are new.

    It begins and ends with a reading so far within the strictest limit that nothing is open.
    """
    strictest = _strictest(limits, scale)
    changed = _settled(conn, site, unit, strictest, scale, new)
    begins, ends, reach = *changed, 2 * PAUSE
    while True:
        begins, ends = _settled(conn, site, unit, strictest, scale, (
            Instant(begins - reach), Instant(ends + reach)))  # fmt: skip
        samples = readings.samples(conn, site, unit, scale, begins, ends)
        longest = min((rule.hours * HOUR for rule in stack.of_kind(OutageRule)), default=None)
        courses = _courses(samples, limits, scale, longest)
        open_left = begins > 0 and any(
            each.episodes and each.episodes[0].begins < begins + PAUSE
            and _touching(each, changed).episodes[:1] == each.episodes[:1]
            for each in courses.values()
        )  # fmt: skip
        open_right = ends < _EVER and any(
            each.episodes and each.episodes[-1].ends > ends - PAUSE
            and _touching(each, changed).episodes[-1:] == each.episodes[-1:]
            for each in courses.values()
        )  # fmt: skip
        if not open_left and not open_right:
            return changed, courses
        reach *= 4


def _courses(
    samples: list[tuple[int, int]], limits: dict[str, UnitLimit], scale: Scale, longest: int | None
) -> dict[str, Course]:
    """Under each limit once: most categories share one."""
    by_figure: dict[int, Course] = {}
    found: dict[str, Course] = {}
    for name, limit in limits.items():
        figure = limit.hundredths(scale)
        if figure not in by_figure:
            by_figure[figure] = course(
                samples, figure, side=limit.side, scale=scale, longest_gap=longest
            )
        found[name] = by_figure[figure]
    return found


def _strictest(limits: dict[str, UnitLimit], scale: Scale) -> UnitLimit:
    pick = max if limits[""].side == "below" else min
    return pick(limits.values(), key=lambda limit: limit.hundredths(scale))


def _settled(
    conn: Connection, site: str, unit: str, limit: UnitLimit, scale: Scale, span: Span
) -> Span:
    """The last reading before ``span`` and the first from its end on that are well within."""
    start, end = span
    bound = limit.settled(scale)
    sides = {"at_least": bound} if limit.side == "below" else {"at_most": bound}
    before = readings.last_good(conn, site, unit, scale, before=start, **sides)
    after = readings.first_good(conn, site, unit, scale, since=end, **sides)
    return (before.at if before else Instant(0), after.at if after else _EVER)


def _touching(shown: Course, span: Span) -> Course:
    """The same, with only the episodes that a reading within ``span`` may have changed."""
    near = tuple(
        each
        for each in shown.episodes
        if each.ends + PAUSE >= span[0] and each.begins - PAUSE <= span[1]
    )
    return replace(shown, episodes=near)


def _reached(courses: dict[str, Course], span: Span) -> Span:
    ends = [each for shown in courses.values() for each in shown.episodes]
    begins = min([span[0], *(each.begins for each in ends)])
    return begins, max([span[1], *(each.ends for each in ends)])
