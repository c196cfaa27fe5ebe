"""Counting days: from day one, leaving out what was spent frozen.

Freezing pauses a count and never resets it. Partial days at each end count or not as the
conventions say; a day on which food was both thawed and frozen counts once, whatever they say.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from holdlog.core.events import Conventions
from holdlog.core.moments import DAY, Instant, end_of_day, local_date

ONE = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Spell:
    """A time that a count leaves out, mostly in the freezer. ``until`` None: it still lasts.

    ``packed``: some of it was spent in a pack; then both its end days count, since what an
    authority settles of freezing settles nothing of packing.
    """

    since: Instant
    until: Instant | None
    packed: bool = False


@dataclass(frozen=True, slots=True)
class DayCount:
    """``days`` days from ``day_one``, which is day 1, with the spells frozen since.

    ``to_end_of_day``: it comes from a calendar date, so no convention turns it into hours.
    """

    days: int
    day_one: Instant
    spells: tuple[Spell, ...]
    to_end_of_day: bool = False

    @property
    def frozen(self) -> bool:
        """Whether the count stands still now."""
        return bool(self.spells) and self.spells[-1].until is None


def last_instant(count: DayCount, conventions: Conventions, where: ZoneInfo) -> Instant:
    """The last instant of the last day (of food that is not frozen now)."""
    if conventions.day_end == "exact-hours" and not count.to_end_of_day:
        return _exact_end(count, conventions)
    return end_of_day(_nth_day(count, conventions, where), where)


def used(count: DayCount, at: Instant, conventions: Conventions, where: ZoneInfo) -> int:
    """Days used through ``at``; while frozen, through the day it was frozen.

    Raises nothing; ``at`` before day one gives 0.
    """
    if at < count.day_one:
        return 0
    if conventions.day_end == "exact-hours" and not count.to_end_of_day:
        return -(-_exact_used(count, at, conventions) // DAY) or 1
    first, last = local_date(count.day_one, where), local_date(at, where)
    return (
        (last - first).days
        + 1
        - sum(
            max(0, (min(end, last) - start).days + 1)
            for start, end in _left_out(count, conventions, where, last)
            if start <= last
        )
    )


def _nth_day(count: DayCount, conventions: Conventions, where: ZoneInfo) -> date:
    """The calendar day on which the last day of the count falls."""
    day = local_date(count.day_one, where) + (count.days - 1) * ONE
    for start, end in _left_out(count, conventions, where, None):
        if start > day:
            break
        day += (end - start).days * ONE + ONE
    return day


def _left_out(
    count: DayCount, conventions: Conventions, where: ZoneInfo, last: date | None
) -> Iterator[tuple[date, date]]:
    """The calendar days that do not count, as closed ranges in order.

    A spell still open is left out as far as ``last``.
    """
    first = local_date(count.day_one, where)
    dates = [
        (
            local_date(spell.since, where),
            local_date(spell.until, where) if spell.until else None,
            spell.packed,
        )
        for spell in count.spells
    ]
    thaw_days = {thawed for _, thawed, _ in dates}
    freeze_days = {frozen for frozen, _, _ in dates}
    for frozen, thawed, packed in dates:
        begun = max(frozen, first)  # frozen before day one: the count had not begun
        lone_freeze = begun != first and begun not in thaw_days and not packed
        leave_out_freeze = conventions.freeze_day == "does-not-count" and lone_freeze
        start = begun if leave_out_freeze else begun + ONE
        if thawed is None:
            end = last if last is not None else start - ONE
        elif conventions.thaw_day == "does-not-count" and thawed not in freeze_days and not packed:
            end = thawed
        else:
            end = thawed - ONE
        if start <= end:
            yield start, end


def _exact_used(count: DayCount, at: Instant, conventions: Conventions) -> int:
    """Milliseconds used through ``at``. Where the freeze day counts, it is used up whole."""
    spent, since = 0, count.day_one
    for spell in count.spells:
        if spell.since >= at:
            break
        spent += max(0, spell.since - since)
        if conventions.freeze_day == "counts" or spell.packed:
            spent = -(-spent // DAY) * DAY
        if spell.until is None or spell.until >= at:
            return spent
        since = max(since, spell.until)
    return spent + at - since


def _exact_end(count: DayCount, conventions: Conventions) -> Instant:
    whole, spent, since = count.days * DAY, 0, count.day_one
    for spell in count.spells:
        stretch = max(0, spell.since - since)
        if spent + stretch >= whole or spell.until is None:
            break
        spent += stretch
        if conventions.freeze_day == "counts" or spell.packed:
            spent = -(-spent // DAY) * DAY
        if spent >= whole:
            return spell.since
        since = max(since, spell.until)
    return Instant(since + whole - spent)


def joined_spells(
    before: Sequence[Spell], after: Sequence[Spell], at: Instant
) -> tuple[Spell, ...]:
    """The spells of an ingredient until it was used at ``at``, then those of the dish.

    An ingredient used from frozen left the freezer then.
    """
    until = tuple(
        replace(spell, until=at if spell.until is None or spell.until > at else spell.until)
        for spell in before
        if spell.since < at
    )
    return until + tuple(spell for spell in after if spell.since >= at)
