"""The readings of a unit as a plot, under its limit."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from math import nan

from holdlog.core.moments import Instant, show_dated, to_local
from holdlog.core.temperature import Scale
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.unit_story import UnitStory
from holdlog.kitchen.units import UnitLimit, UnitReading
from holdlog.reports.plots import Curve, LimitLine, Plot, Span
from holdlog.rules.episodes import Course

# A mark at each reading as long as they can be told apart.
MOST_MARKS = 200


def _clock(start: int, shop: Kitchen) -> Callable[[int], datetime]:
    """The clock on the wall as it went at ``start``, on through a night on which it was changed:
    an hour that occurs twice would be drawn over itself, and a long excursion look short.
    """
    first = to_local(Instant(start), shop.where).replace(tzinfo=None)
    return lambda at: first + timedelta(milliseconds=at - start)


def _changed(since: int, until: int, shop: Kitchen) -> bool:
    begun, ended = (to_local(Instant(at), shop.where) for at in (since, until))
    return begun.utcoffset() != ended.utcoffset()


def plot_of(
    name: str,
    limit: UnitLimit | None,
    scale: Scale,
    readings: Sequence[UnitReading],
    shop: Kitchen,
    *,
    now: Instant | None = None,
) -> Plot:
    """Readings of one scale under the unit's limit."""
    wall = _clock(readings[0].at if readings else now or 0, shop)
    return Plot(
        title=name,
        scale=scale,
        readings=Curve(
            tuple(wall(each.at) for each in readings),
            tuple(float(each.temperature.degrees) for each in readings),
        ),
        limits=_lines(limit, scale),
        now=wall(now) if now is not None else None,
        marks=len(readings) <= MOST_MARKS,
    )


def plot_of_course(found: UnitStory, shown: Course, shop: Kitchen, *, broken: bool) -> Plot:
    """A logger's readings with the spans beyond the limit and those without readings.

    ``broken``: no line is drawn across a gap.
    """
    wall = _clock(found.since, shop)
    points = [(at, value / 100) for at, value in shown.samples]
    if broken:
        points += [(each.begins + 1, nan) for each in shown.gaps]
        points.sort(key=lambda point: point[0])
    spans = [Span(wall(each.begins), wall(each.ends), "beyond") for each in shown.total.events]
    spans += [Span(wall(each.begins), wall(each.ends), "unknown")
              for each in shown.gaps]  # fmt: skip
    count = len(found.struck)
    foot = f"{shop.name}."
    if count:
        foot += f" {count} container{'' if count == 1 else 's'} stood there beyond the limit."
    if _changed(found.since, found.until, shop):
        foot += " The clocks were changed: all times are those of before."
    return Plot(
        title=f"{found.unit.name}, {show_dated(found.since, shop.where)} to "
        f"{show_dated(found.until, shop.where)}",
        scale=shown.scale,
        readings=Curve(tuple(wall(at) for at, _ in points), tuple(value for _, value in points)),
        limits=_lines(found.limit, shown.scale),
        spans=tuple(spans),
        foot=foot,
        marks=len(shown.samples) <= MOST_MARKS,
    )


def _lines(limit: UnitLimit | None, scale: Scale) -> tuple[LimitLine, ...]:
    figure = limit.temperature(scale) if limit is not None else None
    return (LimitLine(float(figure.degrees), "limit"),) if figure is not None else ()
