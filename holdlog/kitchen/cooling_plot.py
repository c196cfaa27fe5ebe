"""A cooling as a plot: its readings, the limits with their deadlines, the pace, the forecast."""

from collections.abc import Callable
from datetime import datetime

from holdlog.core.moments import Instant, local_date, show_dated, show_dated_day, to_local
from holdlog.core.temperature import Scale
from holdlog.kitchen.coolings import Logged
from holdlog.kitchen.kitchen import Kitchen
from holdlog.reports.plots import Band, Curve, LimitLine, Plot
from holdlog.rules.cooling import CoolingVerdict
from holdlog.rules.degrees import degrees_on
from holdlog.rules.forecast import Forecast
from holdlog.rules.kinds import CoolingRule
from holdlog.rules.pace import curve


def cooling_plot(kitchen: Kitchen, each: Logged) -> Plot:
    """The plot of one cooling, in the scale it was last read on."""

    def wall(at: Instant) -> datetime:
        return to_local(at, kitchen.where).replace(tzinfo=None)

    record, scale = each.record, scale_of(kitchen, each)
    read = [(r.at, r.temperature) for r in record.readings if r.temperature is not None]
    running = each.stands == "running"
    coming = each.ahead.forecast if each.ahead is not None else None
    pace = _pace(each, scale)
    return Plot(
        title=f"{each.item}, {each.batch}, cooling of {_day(kitchen, each)}",
        scale=scale,
        readings=Curve(
            tuple(wall(at) for at, _ in read),
            tuple(degrees_on(scale, reading) for _, reading in read),
        ),
        limits=_limits(each, record.rule, scale, wall),
        pace=Curve(tuple(wall(at) for at, _ in pace), tuple(value for _, value in pace))
        if pace
        else None,
        band=_band(coming, record.verdict, scale, wall) if coming is not None else None,
        now=wall(each.at) if running else None,
        foot=_foot(kitchen, each),
    )


def scale_of(kitchen: Kitchen, each: Logged) -> Scale:
    """The scale that it was last read on; else the kitchen's own."""
    read = [r.temperature for r in each.record.readings if r.temperature is not None]
    return read[-1].scale if read else kitchen.scale


def _day(kitchen: Kitchen, each: Logged) -> str:
    first = each.record.readings[0].at if each.record.readings else each.at
    return show_dated_day(local_date(first, kitchen.where))


def _pace(each: Logged, scale: Scale) -> list[tuple[Instant, float]]:
    record = each.record
    if record.rule is None or record.verdict is None:
        return []
    return curve(record.readings, record.moves, record.rule, record.verdict, scale)


def _band(
    coming: Forecast,
    verdict: CoolingVerdict | None,
    scale: Scale,
    wall: Callable[[Instant], datetime],
) -> Band | None:
    """The forecast, as far as the last deadline: what would come after it does not matter."""
    end = verdict.deadline_whole if verdict is not None else None
    if coming.early is None or end is None or coming.early > end:
        return None
    late = wall(min(coming.late, end)) if coming.late is not None else None
    return Band(degrees_on(scale, coming.limit), wall(coming.early), late)


def _limits(
    each: Logged, rule: CoolingRule | None, scale: Scale, wall: Callable[[Instant], datetime]
) -> tuple[LimitLine, ...]:
    """The limits on the scale that is read; one that is not printed on it is not drawn."""
    if rule is None:
        return ()
    lines = []
    hot = rule.hot.figure(scale) if rule.hot is not None else None
    if hot is not None:
        lines.append(LimitLine(float(hot), "start"))
    for ground in each.record.grounds:
        figure = ground.limit.figure(scale)
        if figure is not None:
            by = wall(ground.deadline) if ground.deadline is not None else None
            lines.append(LimitLine(float(figure), ground.name, by))
    return tuple(lines)


def _foot(kitchen: Kitchen, each: Logged) -> str:
    """The verdict, its section and the rules it stands on: what makes the picture a record."""
    record, scale = each.record, scale_of(kitchen, each)
    stages = [
        f"{ground.name} limit ({ground.limit.show(scale)}) {ground.stage.upper()}"
        for ground in record.grounds
    ]
    verdict = ", ".join(stages) or "these rules set no clock for it"
    lines = [f"{kitchen.name}, as of {show_dated(each.at, kitchen.where)}: {verdict}."]
    if record.rule is not None:
        lines.append(f"By {record.rule.source.cite}, {each.books}.")
    hot = [reading.at for reading in record.readings if reading.temperature is None]
    lines += [f"Off the heat, hot, {show_dated(at, kitchen.where)}." for at in hot]
    idle = sum(reading.late for reading in record.readings)
    if idle:
        lines.append(f"{idle} of its readings prove nothing: a probe found off, or written later.")
    last = "The verdict rests on the readings alone. Your health authority has the last word."
    return "\n".join(filter(None, [lines[0], " ".join(lines[1:]), last]))
