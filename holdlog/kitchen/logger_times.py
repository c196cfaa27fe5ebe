"""The times in a logger's file: days and clocks as instants.

A date written in figures alone is read only if the whole file, or the person, says which figure
is the day. Local times go through the zone: an hour that never was has no instant, an hour that
occurs twice has two, and the order of the rows decides between them (logger_order).
"""

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from holdlog.core.moments import DAY, HOUR, MINUTE, SECOND, Instant, instant, to_local
from holdlog.kitchen.logger_text import bad

_DAY = (
    r"(?:\d{4}([-/.])\d{1,2}\1\d{1,2}"
    r"|\d{1,2}([-/.])\d{1,2}\2(?:\d{4}|\d{2})"
    r"|\d{1,2}[- ][A-Za-z]{3,9}\.?[- ,]{1,2}(?:\d{4}|\d{2})"
    r"|[A-Za-z]{3,9}\.? \d{1,2},? \d{4})"
)
_CLOCK = (
    r"\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d{1,6})?)?(?: ?[AaPp]\.?[Mm]\.?)?"
    r"(?: ?(?:Z|UTC|GMT|[+-]\d{2}(?::?\d{2})?))?"
)
DAY_TEXT = re.compile(_DAY, re.ASCII)
CLOCK_TEXT = re.compile(_CLOCK, re.ASCII)
MOMENT_TEXT = re.compile(f"{_DAY}(?: {{1,2}}|T|, ){_CLOCK}", re.ASCII)
EPOCH_TEXT = re.compile(r"\d{10}(?:\.\d{1,6})?|\d{13}", re.ASCII)

YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{2})", re.ASCII)
_NAMED_DAY_FIRST = re.compile(r"(\d{1,2})[- ]([A-Za-z]{3,9})\.?[- ,]{1,2}(\d{4}|\d{2})", re.ASCII)
_NAMED_MONTH_FIRST = re.compile(r"([A-Za-z]{3,9})\.? (\d{1,2}),? (\d{4})", re.ASCII)
_CLOCK_PARTS = re.compile(
    r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,6}))?)?(?: ?([AaPp])\.?[Mm]\.?)?"
    r"(?: ?(Z|UTC|GMT|[+-]\d{2}(?::?\d{2})?))?",
    re.ASCII,
)
_MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_EPOCH_DAY = date(1970, 1, 1).toordinal()
_FIRST_YEAR, _LAST_YEAR = 2000, 2099
_EPOCHS = tuple(instant(datetime(year, 1, 1, tzinfo=UTC)) for year in (_FIRST_YEAR, _LAST_YEAR + 1))
_HOURS_A_DAY, _HALF_DAY = 24, 12
_TWO_DIGITS = 2
_CENTURY = 2000
# How many different clock texts are kept: every second of a day.
_KEPT = 100_000
_ASK = "Say which: --day-first or --month-first."


def day_first(days: Mapping[str, tuple[int, int]], told: bool | None) -> bool | None:
    """Whether the day stands before the month in dates such as 03/04/2026; None: no such dates.

    ``days`` are the different texts of dates, each with the line of its first row and the number
    of its rows. A single row proves nothing: it may be the damaged one. Raises ``BadFile`` if
    most rows are written so and the file does not tell, or tells otherwise than it was ``told``.
    """
    figures = {text: m for text in days if (m := _YEAR_LAST.fullmatch(text.strip()))}
    if told is None:
        if 2 * sum(days[text][1] for text in figures) < sum(count for _, count in days.values()):
            # The file is written otherwise; these few rows are refused one by one.
            return None
        figures = _four_figure_years(days, figures)
    proofs: dict[bool, list[str]] = {True: [], False: []}
    for text, match in figures.items():
        first = _calendar(match[4], match[3], match[1])
        second = _calendar(match[4], match[1], match[3])
        if (first is None) != (second is None):
            proofs[first is not None].append(text)
    counts = {order: sum(days[text][1] for text in texts) for order, texts in proofs.items()}
    if told is not None:
        if counts[not told] > counts[told]:
            text = proofs[not told][0]
            words = "first" if told else "second"
            raise bad(
                f"line {days[text][0]}: in {text.strip()!r} the day is not the {words} figure"
            )
        return told
    if not figures:
        return None
    if counts[True] and counts[False]:
        texts = [proofs[order][0] for order in (True, False)]
        lines = " and ".join(f"line {days[t][0]}: {t.strip()!r}" for t in texts)
        raise bad(f"day and month change places: {lines}", hint=_ASK)
    if max(counts.values()) < _TWO_DIGITS:
        text, (line, _) = min(((t, days[t]) for t in figures), key=lambda pair: pair[1][0])
        raise bad(f"line {line}: {text.strip()!r} may be two different days", hint=_ASK)
    return counts[True] > 0


def _four_figure_years(
    days: Mapping[str, tuple[int, int]], figures: dict[str, re.Match[str]]
) -> dict[str, re.Match[str]]:
    """Without the years of two figures: a row is refused for one, the file if most are so."""
    short = [text for text, match in figures.items() if len(match[4]) == _TWO_DIGITS]
    rows = sum(days[text][1] for text in short)
    if short and rows + rows >= sum(days[text][1] for text in figures):
        raise bad(
            f"line {days[short[0]][0]}: the year of {short[0].strip()!r} has two figures,"
            " so it may be a day",
            hint=_ASK,
        )
    return {text: match for text, match in figures.items() if text not in short}


class Times:
    """Reads days and clocks of one file. ``fixed``: its distance from UTC (ms), or None: local.

    ``days`` and ``clocks`` hold what needs no thought: the sum of the two is the instant.
    """

    def __init__(
        self,
        where: ZoneInfo,
        fixed: int | None,
        *,
        day_first: bool | None,
        two_figures: bool,
    ) -> None:
        self.where = where
        self.fixed = fixed
        self.day_first = day_first
        self.two_figures = two_figures
        self.days: dict[str, int] = {}
        self.clocks: dict[str, int] = {}
        self._dates: dict[str, date | str] = {}
        self._regular_days: dict[date, int | None] = {}
        self._style: tuple[bool, bool] | None = None

    def anew(self) -> "Times":
        """One that has read nothing yet, for a first look."""
        return Times(self.where, self.fixed, day_first=self.day_first, two_figures=self.two_figures)

    def read(self, day: str, clock: str) -> tuple[Instant, ...] | str:
        """The one or two instants at which it is that time, or a reason (no stop)."""
        found = self._dates.get(day) or self._date(day)
        if isinstance(found, str):
            return found
        read = _read_clock(clock.strip())
        if read is None:
            return "not a time of day"
        since_midnight, offset, twelve = read
        style = (offset is not None, twelve)
        if self._style is None:
            self._style = style
        if self._style != style:
            return "its clock is not written as in the rows above (zone, AM or PM)"
        midnight = (found.toordinal() - _EPOCH_DAY) * DAY
        fixed = self.fixed if offset is None else 0
        since_midnight -= offset or 0
        if len(self.clocks) < _KEPT:
            self.clocks[clock] = since_midnight
        if fixed is None:
            if found not in self._regular_days:
                self._regular_days[found] = self._regular(found)
            fixed = self._regular_days[found]
        if fixed is None:
            wall = datetime.combine(found, time(0)) + timedelta(milliseconds=since_midnight)
            return self._local(wall)
        self.days[day] = midnight - fixed
        return (Instant(midnight - fixed + since_midnight),)

    def epoch(self, text: str) -> tuple[Instant, ...] | str:
        """The instant of seconds (10 figures) or milliseconds (13) since 1970."""
        text = text.strip()
        if EPOCH_TEXT.fullmatch(text) is None:
            return "not a time"
        whole, _, part = text.partition(".")
        at = int(whole) if len(whole) > len("1234567890") else int(whole) * SECOND
        at += int(part[:3].ljust(3, "0"))
        if not _EPOCHS[0] <= at < _EPOCHS[1]:
            return "not a time"
        return (Instant(at),)

    def _date(self, text: str) -> date | str:
        found = self._calendar_day(text.strip())
        if len(self._dates) < _KEPT:
            self._dates[text] = found
        return found

    def _calendar_day(self, text: str) -> date | str:
        found: date | None = None
        if match := YEAR_FIRST.fullmatch(text):
            found = _calendar(match[1], match[3], match[4])
        elif match := _YEAR_LAST.fullmatch(text):
            if self.day_first is None or (len(match[4]) == _TWO_DIGITS and not self.two_figures):
                return "its date is not written as in the rows above"
            month, day = (match[3], match[1]) if self.day_first else (match[1], match[3])
            found = _calendar(match[4], month, day)
        elif match := _NAMED_DAY_FIRST.fullmatch(text):
            if len(match[3]) == _TWO_DIGITS and not self.two_figures:
                return "the year has two figures, so it may be the day"
            found = _calendar(match[3], _month(match[2]), match[1])
        elif match := _NAMED_MONTH_FIRST.fullmatch(text):
            found = _calendar(match[3], _month(match[1]), match[2])
        return found or "not a date"

    def _regular(self, day: date) -> int | None:
        """The distance from UTC (ms) if it is the same all day, else None."""
        midnight = datetime.combine(day, time(0))
        walls = [midnight + timedelta(hours=hour) for hour in range(_HOURS_A_DAY + 1)]
        offsets = {
            wall.replace(tzinfo=self.where, fold=fold).utcoffset()
            for wall in walls
            for fold in (0, 1)
        }
        only = offsets.pop()
        if offsets or only is None:
            return None
        return only // timedelta(milliseconds=1)

    def _local(self, wall: datetime) -> tuple[Instant, ...] | str:
        found = sorted({instant(wall.replace(tzinfo=self.where, fold=fold)) for fold in (0, 1)})
        real = tuple(at for at in found if to_local(at, self.where).replace(tzinfo=None) == wall)
        return real or "clocks were put forward over this time, so it never was"


def split_moment(text: str) -> tuple[str, str]:
    """The day and the clock of one cell; the clock is empty if there is none."""
    colon = text.find(":")
    cut = max(text.rfind(" ", 0, colon), text.rfind("T", 0, colon)) if colon > 0 else -1
    if cut < 0:
        return text, ""
    return text[:cut].rstrip(" ,"), text[cut + 1 :]


def offset_of(text: str) -> int | None:
    """Milliseconds ahead of UTC for ``Z``, ``UTC``, ``GMT``, ``+02``, ``-0500``, ``+05:30``."""
    if text in ("Z", "UTC", "GMT", ""):
        return 0
    figures = text[1:].replace(":", "").ljust(4, "0")
    hours, minutes = int(figures[:2]), int(figures[2:])
    if hours > _HALF_DAY + 2 or minutes >= HOUR // MINUTE:
        return None
    size = hours * HOUR + minutes * MINUTE
    return -size if text[0] == "-" else size


def _calendar(year: str, month: str | int, day: str) -> date | None:
    whole = int(year) + (_CENTURY if len(year) == _TWO_DIGITS else 0)
    if not _FIRST_YEAR <= whole <= _LAST_YEAR:
        return None
    try:
        return date(whole, int(month), int(day))
    except ValueError:
        return None


def _month(name: str) -> int:
    word = name.casefold()
    for number, month in enumerate(_MONTHS, 1):
        if word in (month, month[:3]) or (word == "sept" and month == "september"):
            return number
    return 0


def _read_clock(text: str) -> tuple[int, int | None, bool] | None:
    """Milliseconds since midnight, the distance from UTC if one is written, and AM or PM."""
    match = _CLOCK_PARTS.fullmatch(text)
    if match is None:
        return None
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    if match[5]:
        if not 1 <= hour <= _HALF_DAY:
            return None
        hour = hour % _HALF_DAY + (_HALF_DAY if match[5] in "pP" else 0)
    try:
        time(hour, minute, second)
    except ValueError:
        return None
    offset = None if match[6] is None else offset_of(match[6])
    if match[6] is not None and offset is None:
        return None
    since = (
        hour * HOUR + minute * MINUTE + second * SECOND + int((match[4] or "0").ljust(3, "0")[:3])
    )
    return since, offset, match[5] is not None
