"""Best-by: when food is past its best. Quality only, and never later than the safety limit."""

from datetime import date
from zoneinfo import ZoneInfo

from holdlog.core.events import Food
from holdlog.core.moments import Instant, local_date
from holdlog.rules.counting import DayCount, last_instant
from holdlog.rules.course import Walk
from holdlog.rules.stack import Stack


def best_by(
    food: Food, walk: Walk, stack: Stack, use_by: Instant | None, where: ZoneInfo
) -> date | None:
    """The last day it is at its best, by the shortest published guidance; None: none known.

    While it is frozen, freezer guidance counts from the day it was frozen.
    """
    guidance = [
        each for each in stack.category(food.category).guidance if each.purpose == "quality"
    ]
    days: list[date] = []
    if walk.frozen:
        if walk.spells:
            since = local_date(walk.spells[-1].since, where)
            months = [each.freezer_months for each in guidance if each.freezer_months]
            days = [_months_on(since, each) for each in months]
        return min(days, default=None)
    days += [day for day, meant_for in walk.maker_dates if meant_for == "quality"]
    if walk.day_one is not None:
        for each in guidance:
            if each.days is not None:
                count = DayCount(each.days, walk.day_one, tuple(walk.spells))
                days.append(local_date(last_instant(count, stack.conventions, where), where))
    if days and use_by is not None:
        days.append(local_date(use_by, where))
    return min(days, default=None)


def _months_on(day: date, months: int) -> date:
    """The same day ``months`` later, or the last day of that month if it is shorter."""
    year, month = divmod(day.month - 1 + months, 12)
    for last in range(day.day, 27, -1):
        try:
            return date(day.year + year, month + 1, last)
        except ValueError:
            continue
    return date(day.year + year, month + 1, day.day)
