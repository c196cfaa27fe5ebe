"""Plots for the record: a cooling with its limits, a unit with the spans it was too warm.

Black on white and told apart by line and mark, never by colour: these pages are printed and
photocopied. The same data give the same bytes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from itertools import filterfalse
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from holdlog.reports.plot_fonts import footed, lettered, titled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Kind = Literal["png", "svg", "pdf"]


@dataclass(frozen=True, slots=True)
class Curve:
    """Readings in local wall-clock time (without a zone), in degrees of one scale."""

    times: tuple[datetime, ...]
    degrees: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class LimitLine:
    """A limit in degrees, what it is called, and the moment by which it is to be reached."""

    degrees: float
    name: str
    by: datetime | None = None


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time worth marking, and what it is: too warm, or without readings."""

    start: datetime
    end: datetime
    kind: Literal["beyond", "unknown"]


@dataclass(frozen=True, slots=True)
class Band:
    """When a limit is expected to be crossed: between ``early`` and ``late`` (None: never)."""

    degrees: float
    early: datetime
    late: datetime | None


@dataclass(frozen=True, slots=True)
class Plot:
    """One plot. ``pace`` is where the food should be; ``foot`` is small print under it."""

    title: str
    scale: Literal["F", "C"]
    readings: Curve
    limits: tuple[LimitLine, ...]
    spans: tuple[Span, ...] = ()
    pace: Curve | None = None
    band: Band | None = None
    now: datetime | None = None
    foot: str = ""
    marks: bool = True  # a mark at each reading; off where there are thousands


def drawn(plot: Plot, kind: Kind, fonts: Sequence[Path] = ()) -> bytes:
    """``plot`` as a picture, 8 by 4.5 inches, with ``fonts`` for signs that its own font lacks."""
    from matplotlib.figure import Figure  # noqa: PLC0415

    with lettered(fonts):
        figure = Figure(figsize=(8, 4.5), dpi=150, layout="constrained")
        _fill(figure, plot)
        out = BytesIO()
        # No date: equal plots are equal files.
        date_key = {"png": None, "svg": "Date", "pdf": "CreationDate"}[kind]
        figure.savefig(out, format=kind, metadata={date_key: None} if date_key else None)
    return out.getvalue()


def _fill(figure: "Figure", plot: Plot) -> None:
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter  # noqa: PLC0415

    axes = figure.subplots()
    _limits(axes, plot)
    _spans(axes, plot.spans)
    if plot.pace is not None:
        axes.plot(*_xy(plot.pace), ":", color="0.35", linewidth=1.4, label="pace to keep")
    if plot.band is not None:
        _band(axes, plot.band, plot.scale)
    style = "o-" if plot.marks else "-"
    axes.plot(
        *_xy(plot.readings), style, color="black", linewidth=1.4, markersize=5, label="readings"
    )
    if plot.now is not None:
        axes.axvline(_number(plot.now), color="0.5", linewidth=0.8, dashes=(1, 2), label="now")
    locator: Any = AutoDateLocator()  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(
        ConciseDateFormatter(locator, show_offset=True)  # type: ignore[no-untyped-call]
    )
    axes.set_ylabel(f"°{plot.scale}")
    titled(axes, plot.title)
    axes.grid(visible=True, color="0.9", linewidth=0.6)
    axes.margins(x=0.05)
    _around_the_data(axes, plot)
    axes.legend(loc="upper right", fontsize=8, frameon=True, framealpha=1)
    footed(figure, plot.foot)


def _around_the_data(axes: "Axes", plot: Plot) -> None:
    """Room above and below, so that no line lies on the frame."""
    # What is no number breaks the line at a gap.
    shown = [*filterfalse(isnan, plot.readings.degrees), *(limit.degrees for limit in plot.limits)]
    shown += plot.pace.degrees if plot.pace is not None else ()
    if shown:
        room = max(2.0, (max(shown) - min(shown)) * 0.08)
        axes.set_ylim(min(shown) - room, max(shown) + room)


def _limits(axes: "Axes", plot: Plot) -> None:
    for number, limit in enumerate(plot.limits):
        axes.axhline(limit.degrees, color="black", linewidth=0.9, dashes=(6, 3 + 2 * number))
        axes.annotate(
            f"{limit.name} {limit.degrees:g} °{plot.scale}".strip(),
            (0.005, limit.degrees),
            xycoords=("axes fraction", "data"),
            xytext=(0, 2),
            textcoords="offset points",
            fontsize=8,
        )
        if limit.by is not None:
            axes.plot([_number(limit.by)], [limit.degrees], "v", color="black", markersize=8)
            axes.annotate(
                f"by {limit.by:%H:%M}",
                (_number(limit.by), limit.degrees),
                xytext=(0, 8),
                textcoords="offset points",
                ha="center",
                fontsize=8,
            )


def _spans(axes: "Axes", spans: Sequence[Span]) -> None:
    said: set[str] = set()
    for span in spans:
        name = {"beyond": "beyond the limit", "unknown": "no readings"}[span.kind]
        hatch = {"beyond": "///", "unknown": ".."}[span.kind]
        axes.axvspan(
            _number(span.start),
            _number(span.end),
            facecolor="0.93",
            edgecolor="0.45",
            hatch=hatch,
            linewidth=0,
            label=name if name not in said else None,
        )
        said.add(name)


def _band(axes: "Axes", band: Band, scale: str) -> None:
    early = _number(band.early)
    late = _number(band.late) if band.late is not None else None
    end = late if late is not None else max(axes.get_xlim()[1], early)
    axes.plot(
        [early, end],
        [band.degrees, band.degrees],
        color="black",
        linewidth=5,
        solid_capstyle="butt",
        alpha=0.45,
        label=f"{band.degrees:g} °{scale} expected" + ("" if late is not None else ", or never"),
    )


def _xy(curve: Curve) -> tuple[list[float], list[float]]:
    return [_number(at) for at in curve.times], list(curve.degrees)


def _number(at: datetime) -> float:
    from matplotlib.dates import date2num  # noqa: PLC0415

    return float(date2num(at))  # type: ignore[no-untyped-call]
