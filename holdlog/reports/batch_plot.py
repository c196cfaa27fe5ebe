"""The batches of an item as a plot: how much was made of each, used and binned, by its day.

Black on white and told apart by fill and mark: it is printed and pinned up.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Literal

from holdlog.reports.plot_fonts import footed, lettered, titled

Kind = Literal["png", "svg", "pdf"]
_MOST_DAYS = 15  # so many days can be named under the bars, none in another


@dataclass(frozen=True, slots=True)
class Bar:
    """One batch: used, binned because it was too much, and lost otherwise, in one measure."""

    day: date
    used: float
    too_much: float
    lost: float


@dataclass(frozen=True, slots=True)
class BatchPlot:
    """``size`` is the recommended batch, between ``low`` and ``high`` (None: not known)."""

    title: str
    measure: str
    bars: tuple[Bar, ...]
    size: float | None = None
    low: float | None = None
    high: float | None = None
    foot: str = ""


def drawn(plot: BatchPlot, kind: Kind, fonts: Sequence[Path] = ()) -> bytes:
    """``plot`` as a picture, 8 by 4.5 inches, with ``fonts`` for signs that its own font lacks.
    The same data give the same bytes.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415

    with lettered(fonts):
        figure = Figure(figsize=(8, 4.5), dpi=150, layout="constrained")
        axes = figure.subplots()
        places = range(len(plot.bars))
        below = [0.0] * len(plot.bars)
        for name, heights, fill, hatch in (
            ("used", [each.used for each in plot.bars], "0.35", ""),
            ("too much: binned", [each.too_much for each in plot.bars], "white", "////"),
            ("lost otherwise", [each.lost for each in plot.bars], "white", "...."),
        ):
            if any(heights):
                axes.bar(
                    places, heights, bottom=below, width=0.8, label=name, facecolor=fill,
                    edgecolor="black", linewidth=0.6, hatch=hatch,
                )  # fmt: skip
            below = [low + high for low, high in zip(below, heights, strict=True)]
        if plot.size is not None:
            axes.axhline(
                plot.size, color="black", linewidth=2, dashes=(6, 3),
                label=f"make {round(plot.size, 3):g} {plot.measure}",
            )  # fmt: skip
            top = plot.high if plot.high is not None else max(*below, plot.size) * 1.08
            span = "95 % interval of that" + (", open above" if plot.high is None else "")
            bottom = plot.low if plot.low is not None else 0
            axes.axhspan(bottom, top, color="0.92", zorder=0, label=span)
        axes.set_ylabel(plot.measure)
        axes.set_ylim(0, max([*below, plot.size or 0, plot.high or 0, 1e-9]) * 1.25)
        axes.set_xlim(-0.7, len(plot.bars) - 0.3)
        named = _named(plot.bars)
        axes.set_xticks(named, [_day(plot.bars[n].day) for n in named], fontsize=8)
        axes.set_xlabel("day it was made", fontsize=9)
        titled(axes, plot.title)
        axes.grid(visible=True, axis="y", color="0.85", linewidth=0.6)
        axes.set_axisbelow(True)
        axes.legend(loc="upper center", ncols=4, fontsize=8, frameon=True, framealpha=1)
        footed(figure, plot.foot)
        out = BytesIO()
        date_key = {"png": None, "svg": "Date", "pdf": "CreationDate"}[kind]
        figure.savefig(out, format=kind, metadata={date_key: None} if date_key else None)
    return out.getvalue()


def _day(day: date) -> str:
    return f"{day.day} {day:%b}"


def _named(bars: Sequence[Bar]) -> list[int]:
    """Which bars have their day under them: as many as can be read."""
    every = -(-len(bars) // _MOST_DAYS)
    return list(range(0, len(bars), max(every, 1)))
