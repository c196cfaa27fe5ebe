"""A plot in characters, for the terminal: readings, limits and pace on a small grid."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from holdlog.reports.plots import Plot

READING, PACE, LIMIT, NOW = "o", ".", "-", "|"
WIDE, TALL = 60, 14


def sketched(plot: Plot, wide: int = WIDE, tall: int = TALL) -> list[str]:
    """``plot`` as lines of text, ``tall`` rows of ``wide`` columns beside their degrees.

    Empty where there is nothing to show.
    """
    times = [*plot.readings.times, *(limit.by for limit in plot.limits if limit.by)]
    times += [plot.now] if plot.now is not None else []
    degrees = [*plot.readings.degrees, *(limit.degrees for limit in plot.limits)]
    if not plot.readings.times:
        return []
    start, end = min(times), max(*times, min(times) + timedelta(minutes=30))
    low, high = min(degrees), max(*degrees, min(degrees) + 1)
    grid = [[" "] * wide for _ in range(tall)]

    def column(at: datetime) -> int:
        return round((at - start) / (end - start) * (wide - 1))

    def row(value: float) -> int:
        return round((high - value) / (high - low) * (tall - 1))

    for limit in plot.limits:
        grid[row(limit.degrees)] = [LIMIT] * wide
    if plot.now is not None:
        for line in grid:
            line[column(plot.now)] = NOW
    if plot.pace is not None:
        _dots(grid, plot.pace.times, plot.pace.degrees, PACE, (start, end, low, high))
    _dots(grid, plot.readings.times, plot.readings.degrees, READING, (start, end, low, high))
    for limit in plot.limits:
        if limit.by is not None:
            grid[row(limit.degrees)][column(limit.by)] = "V"
    names = {row(limit.degrees): f"{limit.degrees:g} °{plot.scale}" for limit in plot.limits}
    names.setdefault(0, f"{high:g} °{plot.scale}")
    names.setdefault(tall - 1, f"{low:g} °{plot.scale}")
    shown = [f"{names.get(n, ''):>9} {''.join(line)}".rstrip() for n, line in enumerate(grid)]
    form = "%H:%M" if end - start < timedelta(hours=20) else "%a %H:%M"
    foot = f"{start:{form}}".ljust(wide - len(f"{end:{form}}")) + f"{end:{form}}"
    key = f"{READING} reading   {LIMIT} limit   V by then"
    key += f"   {PACE} pace to keep" if plot.pace is not None else ""
    key += f"   {NOW} now" if plot.now is not None else ""
    return [*shown, " " * 10 + foot, " " * 10 + key]


def _dots(
    grid: list[list[str]],
    times: Sequence[datetime],
    degrees: Sequence[float],
    sign: str,
    bounds: tuple[datetime, datetime, float, float],
) -> None:
    start, end, low, high = bounds
    wide, tall = len(grid[0]), len(grid)
    for at, value in zip(times, degrees, strict=True):
        x = round((at - start) / (end - start) * (wide - 1))
        y = round((high - value) / (high - low) * (tall - 1))
        if 0 <= x < wide and 0 <= y < tall:
            grid[y][x] = sign
