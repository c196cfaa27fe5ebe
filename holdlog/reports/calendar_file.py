"""A calendar file (RFC 5545) of days and hours: read into a calendar again, it updates them.

An event keeps its identity from one file to the next as long as its ``id`` does; ``sequence``
says which of two is the newer.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from holdlog.core.visible import one_line, visible

PRODUCT = "-//holdlog//looking ahead//EN"


@dataclass(frozen=True, slots=True)
class CalendarEvent:
    """Something on a day, or ending at ``until`` (aware, with the zone's IANA name) on it.

    ``cancelled``: it was told once and is no more; a calendar strikes it out or takes it away.
    """

    id: str
    day: date
    summary: str
    description: str
    until: datetime | None = None
    cancelled: bool = False


def calendar(
    name: str, events: Iterable[CalendarEvent], *, made_at: datetime, sequence: int
) -> bytes:
    """The file. ``made_at`` is aware, in UTC; ``sequence`` grows from one file to the next.

    Equal arguments give equal bytes.
    """
    from icalendar import Calendar, Event  # noqa: PLC0415

    known = list(events)
    file = Calendar()
    file.add("prodid", PRODUCT)
    file.add("version", "2.0")
    file.add("method", "PUBLISH")
    file.add("x-wr-calname", one_line(name))
    for each in known:
        event = Event()
        event.add("uid", each.id)
        event.add("dtstamp", made_at)
        event.add("sequence", sequence)
        event.add("summary", one_line(each.summary))
        event.add("description", visible(each.description, lines=True))
        if each.cancelled:
            event.add("status", "CANCELLED")
        if each.until is None:
            event.add("dtstart", each.day)
            event.add("dtend", each.day + timedelta(days=1))  # the end is the day after
        else:
            event.add("dtstart", each.until)  # without an end: it takes no time
        # Nobody is busy because a tub has its last day.
        event.add("transp", "TRANSPARENT")
        file.add_component(event)
    if any(each.until is not None for each in known):
        # The rules of the zone for the years in hand, not for a century.
        first, last = min(each.day for each in known), max(each.day for each in known)
        file.add_missing_timezones(date(first.year - 1, 1, 1), date(last.year + 2, 1, 1))
    return bytes(file.to_ical())


def gone_since(
    before: bytes, events: Iterable[CalendarEvent], days: Sequence[date]
) -> list[CalendarEvent]:
    """What a file that was made ``before`` told of ``days`` and is not among ``events`` any more,
    cancelled (RFC 5545, 3.8.1.11). A file that is not one of ours told nothing.
    """
    known = {each.id for each in events}
    try:
        return [each for each in _told_in(before, days) if each.id not in known]
    except (ValueError, KeyError, IndexError, TypeError, AttributeError, RecursionError):
        return []  # whatever it is, holdlog has not written it


def _told_in(before: bytes, days: Sequence[date]) -> list[CalendarEvent]:
    from icalendar import Calendar  # noqa: PLC0415

    file = Calendar.from_ical(before)
    if str(file.get("prodid", "")) != PRODUCT:
        return []
    found = []
    for event in file.walk("VEVENT"):
        start = event.decoded("dtstart")
        day = start.date() if isinstance(start, datetime) else start
        uid = str(event["uid"])
        if day not in days:
            continue
        until = start if isinstance(start, datetime) else None
        summary = str(event["summary"])
        text = "Nothing of it is left to do."
        found.append(CalendarEvent(uid, day, summary, text, until, cancelled=True))
    return found
