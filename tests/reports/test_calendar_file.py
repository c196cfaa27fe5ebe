"""The calendar file, read by the icalendar library and by a plain reader of the standard.

RFC 5545: content lines of at most 75 octets (3.1), folded before a space; text escaped (3.3.11);
an all-day event ends on the day after (3.6.1); a TZID has its VTIMEZONE (3.2.19).
"""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import icalendar
import pytest

from holdlog.reports.calendar_file import CalendarEvent, calendar, gone_since

WHERE = ZoneInfo("America/New_York")
MADE = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
DAY = CalendarEvent(
    "2026-06-04-last-day-ab12@holdlog", date(2026, 6, 4), "Last day of 2 containers",
    "H7K3-9QX2 stock, 2 l; walk-in\nM2RT-44KD crème \\ brûlée " + "é" * 80,
)  # fmt: skip
HOUR = CalendarEvent(
    "H7K39QX2-until-ab12@holdlog", date(2026, 11, 1), "serve until", "x",
    datetime(2026, 11, 1, 1, 30, tzinfo=WHERE, fold=1),
)  # fmt: skip


def lines(file: bytes) -> list[str]:
    """Content lines, unfolded (RFC 5545, 3.1)."""
    for line in file.split(b"\r\n"):
        assert len(line) <= 75
    return file.decode("utf-8").replace("\r\n ", "").removesuffix("\r\n").split("\r\n")


def events(file: bytes) -> list[dict[str, str]]:
    """The events, each property by its name and parameters as they are written."""
    found: list[dict[str, str]] = []
    inside = False
    for line in lines(file):
        name, _, value = line.partition(":")
        if line == "BEGIN:VEVENT":
            inside = True
            found.append({})
        elif line == "END:VEVENT":
            inside = False
        elif inside:
            assert name not in found[-1]
            found[-1][name] = value
    return found


def plain(text: str) -> str:
    """TEXT without its escapes (3.3.11)."""
    out, signs = [], iter(text)
    for sign in signs:
        if sign == "\\":
            following = next(signs)
            out.append("\n" if following in "nN" else following)
        else:
            out.append(sign)
    return "".join(out)


def made(*found: CalendarEvent, sequence: int = 7) -> bytes:
    return calendar("Tern & Tide", found, made_at=MADE, sequence=sequence)


def test_an_all_day_event_by_the_letter_of_the_standard() -> None:
    (event,) = events(made(DAY))
    assert event["DTSTART;VALUE=DATE"] == "20260604"
    assert event["DTEND;VALUE=DATE"] == "20260605"
    assert event["UID"] == DAY.id
    assert event["SEQUENCE"] == "7"
    assert event["DTSTAMP"] == "20260601T100000Z"
    assert event["TRANSP"] == "TRANSPARENT"
    assert plain(event["SUMMARY"]) == DAY.summary
    assert plain(event["DESCRIPTION"]) == DAY.description
    heads = lines(made(DAY))
    assert (heads[0], heads[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    assert "VERSION:2.0" in heads
    assert not any(line.startswith("BEGIN:VTIMEZONE") for line in heads)


def test_the_library_reads_the_same() -> None:
    read = icalendar.Calendar.from_ical(made(DAY, HOUR))
    day, hour = read.walk("VEVENT")
    assert day.decoded("dtstart") == date(2026, 6, 4)
    assert str(day["description"]) == DAY.description
    assert str(day["uid"]) == DAY.id
    # Clocks go back that night, and 01:30 occurs twice; a calendar takes the first of the two
    # (RFC 5545, 3.3.5), which is the earlier and so never too late.
    assert hour["dtstart"].to_ical() == b"20261101T013000"
    assert hour.decoded("dtstart").replace(fold=0).astimezone(UTC) <= (HOUR.until or MADE)
    assert len(read.walk("VTIMEZONE")) == 1


@pytest.mark.parametrize("month", [1, 3, 6, 10, 11, 12])
def test_an_hour_stands_in_its_zone_and_the_zone_is_described(month: int) -> None:
    until = datetime(2026, month, 28, 14, 5, tzinfo=WHERE)
    file = made(CalendarEvent("a@holdlog", until.date(), "a", "b", until))
    (event,) = events(file)
    assert event["DTSTART;TZID=America/New_York"] == f"2026{month:02}28T140500"
    assert not any(name.startswith("DTEND") for name in event)
    assert "TZID:America/New_York" in lines(file)
    (zone,) = icalendar.Calendar.from_ical(file).walk("VTIMEZONE")
    assert isinstance(zone, icalendar.Timezone)
    # The description alone, not this machine's zone list, gives the offset.
    wall = until.replace(tzinfo=None)
    assert zone.to_tz(lookup_tzid=False).utcoffset(wall) == until.utcoffset()


def test_nothing_ahead_is_still_a_calendar() -> None:
    assert events(made()) == []
    assert icalendar.Calendar.from_ical(made()).walk("VEVENT") == []


def test_equal_data_give_equal_bytes() -> None:
    assert made(DAY, HOUR) == made(DAY, HOUR)


def test_only_our_own_events_of_the_days_in_hand_are_cancelled() -> None:
    before = calendar("x", [DAY, HOUR], made_at=MADE, sequence=3)
    (gone,) = gone_since(before, [HOUR], [DAY.day])
    assert (gone.id, gone.day, gone.cancelled) == (DAY.id, DAY.day, True)
    (again,) = gone_since(before, [DAY], [HOUR.day])
    assert again.until == HOUR.until
    assert gone_since(before, [], [date(2027, 1, 1)]) == []
    assert gone_since(before.replace(b"//holdlog//", b"//another//"), [], [DAY.day]) == []
    for junk in (b"", b"BEGIN:VCALENDAR", b"\xff\xfe", b"hello"):
        assert gone_since(junk, [DAY], [DAY.day]) == []
