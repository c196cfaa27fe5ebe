"""The readings of a unit as a plot, under its limit."""

from collections.abc import Sequence
from datetime import datetime
from math import nan

from holdlog.core.moments import Instant, show_moment, to_local
from holdlog.core.temperature import Scale
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.unit_story import UnitStory
from holdlog.kitchen.units import UnitLimit, UnitReading
from holdlog.reports.plots import Curve, LimitLine, Plot, Span
from holdlog.rules.episodes import Course

# A mark at each reading as long as they can be told apart.
MOST_MARKS = 200


def wall(at: int, shop: Kitchen) -> datetime:
    """An instant as the clock on the wall shows it."""
    return to_local(Instant(at), shop.where).replace(tzinfo=None)


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
    return Plot(
        title=name,
        scale=scale,
        readings=Curve(
            tuple(wall(each.at, shop) for each in readings),
            tuple(float(each.temperature.degrees) for each in readings),
        ),
        limits=_lines(limit, scale),
        now=wall(now, shop) if now is not None else None,
        marks=len(readings) <= MOST_MARKS,
    )


def plot_of_course(found: UnitStory, shown: Course, shop: Kitchen, *, broken: bool) -> Plot:
    """A logger's readings with the spans beyond the limit and those without readings.

    ``broken``: no line is drawn across a gap.
    """
    points = [(at, value / 100) for at, value in shown.samples]
    if broken:
        points += [(each.begins + 1, nan) for each in shown.gaps]
        points.sort(key=lambda point: point[0])
    spans = [
        Span(wall(each.begins, shop), wall(each.ends, shop), "beyond")
        for each in shown.total.events
    ]
    spans += [Span(wall(each.begins, shop), wall(each.ends, shop), "unknown")
              for each in shown.gaps]  # fmt: skip
    count = len(found.struck)
    foot = f"{shop.name}. {count} container{'' if count == 1 else 's'} stood there beyond the limit"
    return Plot(
        title=f"{found.unit.name}, {show_moment(found.since, shop.where)} to "
        f"{show_moment(found.until, shop.where)}",
        scale=shown.scale,
        readings=Curve(
            tuple(wall(at, shop) for at, _ in points), tuple(value for _, value in points)
        ),
        limits=_lines(found.limit, shown.scale),
        spans=tuple(spans),
        foot=foot + "." if count else shop.name,
        marks=len(shown.samples) <= MOST_MARKS,
    )


def _lines(limit: UnitLimit | None, scale: Scale) -> tuple[LimitLine, ...]:
    figure = limit.temperature(scale) if limit is not None else None
    return (LimitLine(float(figure.degrees), "limit"),) if figure is not None else ()
