"""Instants and calendar days. The only module that does arithmetic with local time.

An ``Instant`` is a whole number of milliseconds since 1970 in UTC, so adding to it is elapsed
time, always. Local wall-clock time exists only at the edges: Python adds wall-clock hours to
aware datetimes, which is wrong by an hour twice a year.

Two kinds of deadline, two functions: ``later`` (elapsed: "within 2 hours") and ``end_of_day``
(calendar: "through day 7").
"""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import NewType
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from holdlog.core.errors import Mistake
from holdlog.core.visible import quoted

Instant = NewType("Instant", int)
Clock = Callable[[], Instant]

SECOND = 1000
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE
DAY = 24 * HOUR
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LAST_SECOND = time(23, 59, 59)
_FIRST_YEAR, _LAST_YEAR = 1900, 2999


def zone(name: str) -> ZoneInfo:
    """The time zone called ``name`` in the IANA list. Raises ``Mistake("bad-zone")``."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise Mistake(
            "bad-zone",
            f"{quoted(name)} is not a time zone.",
            'Use a name of the IANA list, such as "America/Chicago" or "Europe/Dublin".',
        ) from error


def instant(moment: datetime) -> Instant:
    """The instant of an aware ``moment``, to the millisecond."""
    return Instant((moment - _EPOCH) // timedelta(milliseconds=1))


def from_local(wall: datetime, where: ZoneInfo) -> Instant:
    """The instant at which clocks in ``where`` show the naive ``wall``.

    An hour that occurs twice, or never, gives the earlier of the two readings: the safer one.
    """
    readings = (instant(wall.replace(tzinfo=where, fold=fold)) for fold in (0, 1))
    return min(readings)


def to_local(at: Instant, where: ZoneInfo) -> datetime:
    """Wall-clock time in ``where``, aware."""
    return (_EPOCH + timedelta(milliseconds=at)).astimezone(where)


@lru_cache(maxsize=8192)
def local_date(at: Instant, where: ZoneInfo) -> date:
    """The calendar day in ``where`` on which ``at`` falls."""
    return to_local(at, where).date()


def later(at: Instant, *, hours: float = 0, minutes: float = 0) -> Instant:
    """``at`` plus elapsed time."""
    return Instant(at + round(hours * HOUR) + round(minutes * MINUTE))


@lru_cache(maxsize=4096)
def end_of_day(day: date, where: ZoneInfo) -> Instant:
    """The last instant of a calendar day: 23:59:59 in ``where``."""
    return from_local(datetime.combine(day, _LAST_SECOND), where)


def start_of_day(day: date, where: ZoneInfo) -> Instant:
    """The first instant of a calendar day in ``where``.

    Where clocks skip midnight, that is the moment they skip to.
    """
    midnight = datetime.combine(day, time(0))
    readings = sorted(instant(midnight.replace(tzinfo=where, fold=fold)) for fold in (0, 1))
    return next((at for at in readings if local_date(at, where) == day), readings[0])


def iso(at: Instant, where: ZoneInfo) -> str:
    """``2026-06-07T23:59:59-05:00``: whole seconds, with the offset in force."""
    return to_local(at, where).isoformat(timespec="seconds")


_TIME = re.compile(r"(\d{1,2})[:.h](\d{2})")
_DAYS_BACK = {"today": 0, "yesterday": 1}


def read_moment(text: str, now: Instant, where: ZoneInfo) -> Instant:
    """Read when something happened: ``14:30``, ``yesterday 22:15``, ``2026-06-01 14:30``.

    A bare time is today's. Raises ``Mistake("bad-time")`` for anything else and
    ``Mistake("in-the-future")`` for a moment after ``now``.
    """
    wall = _read_wall(text.strip(), local_date(now, where))
    at = from_local(wall, where)
    if at > now:
        hint = (
            f'If it was last night, write "yesterday {wall:%H:%M}".'
            if at - now < DAY
            else "The log takes what has happened, not what is planned."
        )
        raise Mistake(
            "in-the-future", f"{quoted(text)} is {show_dated(at, where)}: still to come.", hint
        )
    return at


def _read_wall(text: str, today: date) -> datetime:
    words = text.replace("T", " ").split()
    try:
        match words:
            case [clock]:
                return datetime.combine(today, _read_clock(clock))
            case [day, clock] if day.lower() in _DAYS_BACK:
                back = timedelta(days=_DAYS_BACK[day.lower()])
                return datetime.combine(today - back, _read_clock(clock))
            case [day, clock]:
                return datetime.combine(_of_a_journal(day), _read_clock(clock))
    except ValueError:
        pass
    raise Mistake(
        "bad-time",
        f"{quoted(text)} is not a time.",
        'Write "14:30", "yesterday 22:15" or "2026-06-01 14:30".',
    )


def _of_a_journal(text: str) -> date:
    day = date.fromisoformat(text)
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise ValueError(text)
    return day


def _read_clock(text: str) -> time:
    match = _TIME.fullmatch(text)
    if match is None:
        raise ValueError(text)
    return time(int(match[1]), int(match[2]))


def read_day(text: str) -> date:
    """Read a calendar day, ``2026-06-07``, of the years 1900 to 2999: days can be counted from it
    either way. Raises ``Mistake("bad-date")``.
    """
    hint = 'Write year, month, day: "2026-06-07".'
    try:
        day = date.fromisoformat(text.strip())
    except ValueError as error:
        raise Mistake("bad-date", f"{quoted(text)} is not a date.", hint) from error
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise Mistake("bad-date", f"{quoted(text)}: no kitchen keeps a journal of that year.", hint)
    return day


def show_day(day: date, today: date | None = None) -> str:
    """``Sun 7 June``: weekday, day, month name, so that nobody can swap day and month.

    With ``today``, a day of another year is told with it: ``Wed 2 July 2031``.
    """
    year = f" {day.year}" if today is not None and day.year != today.year else ""
    return f"{day:%a} {day.day} {day:%B}{year}"


def show_dated_day(day: date) -> str:
    """``Sun 7 June 2026``: for what is kept, which is read in other years."""
    return f"{show_day(day)} {day.year}"


def show_full_day(day: date) -> str:
    """``Sunday 7 June 2026``: to be held against the calendar on the wall."""
    return f"{day:%A} {day.day} {day:%B} {day.year}"


def show_moment(at: Instant, where: ZoneInfo, now: Instant) -> str:
    """``Sun 7 June 14:30``, read ``now`` or beside that moment; one of another year is told with
    it.
    """
    wall = to_local(at, where)
    return f"{show_day(wall.date(), local_date(now, where))} {wall:%H:%M}"


def show_dated(at: Instant, where: ZoneInfo) -> str:
    """``Sun 7 June 2026 14:30``: for paper and for what is kept, which is read in other years."""
    wall = to_local(at, where)
    return f"{show_dated_day(wall.date())} {wall:%H:%M}"


def show_length(length: int) -> str:
    """A length of time in milliseconds: ``2 h 05 min``, ``40 min``; rounded up to a minute."""
    minutes = -(-length // MINUTE)
    hours, rest = divmod(minutes, HOUR // MINUTE)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02} min" if rest else f"{hours} h"
