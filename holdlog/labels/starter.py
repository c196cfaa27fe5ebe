"""The text of a new template for stock of any size: a sound start, to be moved about by hand.

Rows are stacked from the top (name, kicker, headline, details) and from the bottom right (the
QR, and left of it the bars and the code). Every number is our choice by eye, within the floors.
"""

from holdlog.core.errors import Mistake
from holdlog.labels.faces import BARE, FACES
from holdlog.labels.geometry import MM_PER_INCH
from holdlog.labels.sketch import Place, Sketch

LEAST_MM = 25.0
MOST_WIDE_MM, MOST_HIGH_MM = 210.0, 300.0

BARS_MM = 25.4  # from this height on there is room for bars
ROOMY_MM = 40.0  # and from this for small print, for the pen, and for the wording of packs
_BARS = {2: (31.3, 2.6), 3: (46.3, 3.8)}  # dots a module at 203 dpi: width, white at each side
_WIDE_MM = 75.0  # from this width on, bars of three dots a module
_QR_SIDE, _QR_QUIET = 21, 4
_LINE, _TWO_LINES = 2.3, 4.4  # of the least letters, accents and tails included
_GAP = 0.3
_TAIL = 0.4  # what letters of the least size may have below their line
_EDGE = 1.0  # what a printer may lose at the edge: common practice, no source
_TWO_HIGH = 4.9  # two such lines
_KICKER = 2.4  # one line of capitals with an accent above and a tail below
_STATE_LEAST = 3.85  # two of the least lines beside a state
_LEAST_CODE_MM = 12.0
_HEAD_MM, _WHOLE_HEAD_MM = 10.5, 24.5  # the journal's head in two lines, and in one with its word
_HEAD_MOST, _DETAILS_LEAST = 22.0, 6.0  # of labels too narrow for bars

_FOUR_LINES = 8.5  # four such lines
_TWIN_DETAILS = 6.3  # and three
_THEN = 2.8  # the date that a cooling label has for later: the only one on it, so not small

_DAY = ("dated", "timed", "stop", "unknown", "discard", "twin")
_STATES = ("cooling", "frozen", "hot", "hold")
_KEPT = ("allergens", "cautions")


def starter(width: float, height: float) -> str:
    """A template of ``width`` x ``height`` mm (25 to 210 by 25 to 300) as the text of its file.

    Raises ``Mistake("bad-size")`` for any other size.
    """
    if not (LEAST_MM <= width <= MOST_WIDE_MM and LEAST_MM <= height <= MOST_HIGH_MM):
        raise Mistake(
            "bad-size",
            f"A label of {width:g} x {height:g} mm: templates are made from "
            f"{LEAST_MM:g} x {LEAST_MM:g} to {MOST_WIDE_MM:g} x {MOST_HIGH_MM:g} mm.",
        )
    sketch = Sketch(width, height, min(1.6, max(_EDGE, 0.03 * min(width, height))))
    if _symbols(sketch):
        _large(sketch)
        if height < ROOMY_MM:
            sketch.leaves_out = ("place", "small-print", "writing")
        if "journal-head" not in sketch.shown:
            sketch.leaves_out += ("journal-head",)
    else:
        _small(sketch)
        left_out = ("year", "small-print", "writing", "beside", "journal-head")
        told = () if "allergens" in sketch.shown else ("allergens", "cautions", "place")
        sketch.leaves_out = (*told, "made", *left_out)
    if "wording" not in sketch.shown:
        sketch.refuses = (("pack", "two-by-two"),)
    return sketch.toml()


def _qr(dots: int) -> tuple[float, float]:
    """Side and white in mm of a version 1 symbol of ``dots`` printer dots a module at 203 dpi."""
    dot = MM_PER_INCH / 203
    return _QR_SIDE * dots * dot + 0.05, _QR_QUIET * dots * dot + 0.05


def _symbols(sketch: Sketch) -> bool:
    """The QR at the bottom right, bars and code left of it. Whether there was room for bars."""
    wide = sketch.width >= _WIDE_MM
    bars, white = _BARS[3 if wide else 2]
    least_side, least_quiet = _qr(3)
    has_bars = (
        sketch.height >= BARS_MM and sketch.width >= bars + 2 * white + least_side + least_quiet
    )
    least_left = bars + 2 * white - least_quiet if has_bars else _LEAST_CODE_MM + sketch.margin
    room = 0.45 * sketch.height if wide else max(0.29 * sketch.height, 11.05)
    sizes = [_qr(dots) for dots in range(8, 1, -1)]
    side, quiet = next(
        (side, quiet)
        for side, quiet in sizes
        if side + 2 * quiet <= room and sketch.width - side - 2 * quiet - 0.2 >= least_left
    )
    x, y = sketch.width - side - quiet - 0.1, sketch.height - side - quiet - 0.1
    sketch.put("qr", "qr", (x, y, side, side))
    sketch.beside_qr = x - quiet - 0.1 - sketch.margin
    sketch.qr_top = y - quiet
    y = sketch.height - _EDGE + _TAIL  # codes have none
    beside = max(sketch.margin, white) + bars + white + 0.1  # right of the bars
    head = sketch.margin + sketch.beside_qr - beside
    tall = max(3.1, 0.115 * sketch.height)
    has_head = head >= _HEAD_MM and tall >= _TWO_LINES
    if sketch.height >= ROOMY_MM and has_bars:
        y = _small_print(sketch, sketch.height - _EDGE, has_head=has_head)
    row = max(_LINE, min(4.0 if has_bars else 2.8, 0.057 * sketch.height))
    left, x = sketch.beside_qr, sketch.margin
    y -= row
    code = 0.44 * left if has_bars else left
    sketch.text("code", "code", FACES, (x, y, code, row), bold="code")
    if has_bars:
        sketch.text("count", "count", FACES, (x + code, y, left - code, row), align="right")
        y -= tall + _GAP
        sketch.put("bars", "bars", (max(x, white), y, bars, tall))
        if has_head:
            lines = 1 if head >= _WHOLE_HEAD_MM else 2
            high = _LINE if lines == 1 else _TWO_LINES
            place = (beside, y + tall - high, head, high)
            sketch.text("journal-head", "journal-head", FACES, place, lines=lines, largest=1.5,
                        align="right")  # fmt: skip
    sketch.foot = y - _GAP
    return has_bars


def _small_print(sketch: Sketch, y: float, *, has_head: bool) -> float:
    """Two lines of it have room for the journal's head too, where that has no place of its own."""
    lines = 2 if sketch.height >= 45 else 1  # noqa: PLR2004
    high = _TWO_LINES if lines == 2 else _LINE  # noqa: PLR2004
    on = tuple(face for face in FACES if face != "twin")
    place = (sketch.margin, y - high, sketch.beside_qr, high)
    show = "small-print journal-head" if lines == 2 and not has_head else "small-print"  # noqa: PLR2004
    sketch.text("small-print", show, on, place, lines=lines, largest=1.6)
    return y - high


def _large(sketch: Sketch) -> None:
    """Labels with bars: everything is on them but what low ones leave out."""
    high, x, wide = sketch.height, sketch.margin, sketch.inner
    roomy = high >= ROOMY_MM
    kicker = min(5.0, max(_KICKER, 0.065 * high))
    head = min((0.16 if roomy else 0.138) * high, 0.14 * sketch.width + 0.2, 14.0)
    item = min(12.0, max(_TWO_LINES, 0.16 * high))
    short = min(9.0, max(_TWO_LINES, 0.11 * high)) if roomy else item
    top = max(_EDGE, 0.75 * sketch.margin)
    day = _DAY if roomy else _DAY[:-1]  # a low twin has rows of its own
    if not roomy:
        _twin(sketch, top)
    sketch.text("item", "item", day, (x, top, wide, item), bold="item", lines=3,
                largest=min(5.0, item / 2.3), valign="middle")  # fmt: skip
    sketch.text("item-short", "item", ("hour", "pack", *_STATES), (x, top, wide, short),
                bold="item", lines=3, largest=min(4.0, short / 1.7), valign="middle")  # fmt: skip
    y = top + item + (_GAP if roomy else 0.2)
    if roomy:
        sketch.put("line-above", "line", (x, y, wide, 0.4), on=day)
        y += 0.4 + 2 * _GAP
    _kicker_and_day(sketch, "", day, (x, y, wide, kicker + head), kicker)
    y += kicker + head + _GAP
    if roomy:
        sketch.put("line-below", "line", (x, y, wide, 0.4), on=day)
        y += 0.4 + _GAP
    _details(sketch, "", ("dated", "timed", "stop", "unknown"), y)
    below = _below(sketch, y)
    place = " place" if roomy else ""
    sketch.text("details-discard", f"also reason made{place}", ("discard",), below,
                bold="also reason", keep="reason made", lines=8,
                largest=max(1.7, 0.05 * high))  # fmt: skip
    if roomy:
        _twin_details(sketch, y)
    y = top + short + (_GAP if roomy else 0.2)
    _hour(sketch, y, kicker, head)
    _states(sketch, y, head)
    if high >= ROOMY_MM:
        _pack(sketch, y, kicker, 0.7 * head)


def _twin(sketch: Sketch, top: float) -> None:
    """The tub's label on low stock: little to say, so the date takes what is left."""
    x, wide = sketch.margin, sketch.inner
    sketch.text("item-twin", "item", ("twin",), (x, top, wide, _TWO_LINES), bold="item", lines=3,
                largest=2.2, valign="middle")  # fmt: skip
    y = top + _TWO_LINES + 0.2
    details = sketch.foot - _TWIN_DETAILS
    if details - _GAP > sketch.qr_top:
        wide = sketch.beside_qr
    _kicker_and_day(sketch, "-twin", ("twin",), (x, y, wide, details - _GAP - y), _KICKER)
    _twin_details(sketch, details)


def _twin_details(sketch: Sketch, y: float) -> None:
    sketch.text("details-twin", "beside belongs also", ("twin",), _below(sketch, y),
                bold="beside belongs also", keep="beside belongs", lines=8,
                largest=max(1.7, min(3.6, 0.06 * sketch.height)))  # fmt: skip


def _kicker_and_day(
    sketch: Sketch, ending: str, on: tuple[str, ...], zone: Place, kicker: float
) -> None:
    x, y, wide, high = zone
    year, head = 0.2 * wide, high - kicker
    sketch.text(f"kicker{ending}", "kicker", on, (x, y, wide - year, kicker), bold="kicker",
                lines=2, largest=kicker / 1.5)  # fmt: skip
    sketch.text(f"year{ending}", "year", on, (x + wide - year, y, year, kicker), bold="year",
                align="right", largest=kicker / 1.6)  # fmt: skip
    sketch.text(f"headline{ending}", "headline", on, (x, y + kicker, wide, head),
                bold="headline", least=2.0, largest=head / 1.2, valign="middle")  # fmt: skip


def _below(sketch: Sketch, y: float) -> Place:
    """From ``y`` down to the bars, and no wider than the QR allows."""
    wide = sketch.inner if sketch.foot <= sketch.qr_top else sketch.beside_qr
    return (sketch.margin, y, wide, sketch.foot - y)


def _details(sketch: Sketch, ending: str, on: tuple[str, ...], y: float, first: str = "") -> None:
    place = "place " if sketch.height >= ROOMY_MM else ""
    kept = " ".join(_KEPT)
    largest = 0.039 * sketch.height * max(1.0, sketch.width / sketch.height) ** 0.5
    sketch.text(f"details{ending}", f"{first} also made {place}allergens cautions", on,
                _below(sketch, y), bold=f"{first} also {kept}", keep=kept, lines=12,
                largest=max(1.7, min(3.2, largest)))  # fmt: skip


def _hour(sketch: Sketch, y: float, kicker: float, head: float) -> None:
    """Time control: the hour is the largest thing of all, what it is for and its day before it."""
    x, wide, on = sketch.margin, sketch.inner, ("hour",)
    high = kicker + (1.3 * head if sketch.height >= ROOMY_MM else head)
    hour = min(0.6 * wide, 4.2 * high / 1.15)
    sketch.text("kicker-hour", "kicker beside", on, (x, y, wide - hour - 0.5, high),
                bold="kicker beside", keep="kicker beside", lines=4, valign="middle",
                largest=min(4.0, high / 3.2))  # fmt: skip
    sketch.text("headline-hour", "headline", on, (x + wide - hour, y, hour, high), bold="headline",
                align="right", valign="middle", least=2.2, largest=high / 1.15)  # fmt: skip
    _details(sketch, "-hour", on, y + high + _GAP)


def _states(sketch: Sketch, y: float, head: float) -> None:
    """COOLING and its like: the state as the largest thing, with a word beside it."""
    x, wide, roomy = sketch.margin, sketch.inner, sketch.height >= ROOMY_MM
    state, head = 0.54 * wide, max(head, _STATE_LEAST)
    low = () if roomy else ("frozen", "hold")  # these have no row below: theirs is higher
    for ending, on, high in (
        ("-state", tuple(face for face in _STATES if face not in low), head),
        ("-still", low, _TWO_HIGH),
    ):
        if not on:
            continue
        sketch.text(f"headline{ending}", "headline", on, (x, y, state, high), bold="headline",
                    least=2.0, largest=head / 1.15, valign="middle")  # fmt: skip
        sketch.text(f"beside{ending}", "beside", on, (x + state + 1, y, wide - state - 1, high),
                    bold="beside", lines=3, valign="middle",
                    largest=min(3.0, head / 2.6))  # fmt: skip
    then = max(_THEN, 0.075 * sketch.height)
    if not roomy:
        _details(sketch, "-still", low, y + _TWO_HIGH, "reason")
        y += head + _GAP
        sketch.text("then", "then", ("cooling", "hot"), (x, y, wide, then), bold="then")
        _details(sketch, "-then", ("cooling", "hot"), y + then)
        return
    y += head + _GAP
    pen = min(12.0, max(6.4, 0.15 * sketch.height))
    for key, face in (("reason", "hold"), ("then", "hot")):
        sketch.text(f"{key}-{face}", key, (face,), (x, y, wide, pen), bold=key, lines=3,
                    largest=max(1.6, pen / 2.6))  # fmt: skip
    sketch.put("writing", "cells", (x, y, wide, pen), on=("cooling", "frozen"),
               show=("writing",), lines=2,
               largest=round(min(2.4, max(1.5, 0.035 * sketch.height)), 2))  # fmt: skip
    y += pen + _GAP
    sketch.text("then", "then", ("cooling",), (x, y, wide, then), bold="then")
    _details(sketch, "-state", ("frozen", "hot", "hold"), y)
    _details(sketch, "-cooling", ("cooling",), y + then)


def _pack(sketch: Sketch, y: float, kicker: float, head: float) -> None:
    """Packs with reduced oxygen: what their rule wants said, in a frame."""
    x, wide, on = sketch.margin, sketch.inner, ("pack",)
    _kicker_and_day(sketch, "-pack", on, (x, y, wide, kicker + head), kicker)
    y += kicker + head + _GAP
    high = max(0.5 * (sketch.foot - y), 1.6 + 2 * _LINE + _LINE)
    sketch.text("wording", "wording packed", on, (x, y, wide, high), kind="box",
                bold="wording packed", keep="wording packed", lines=8, valign="middle",
                largest=max(1.6, min(4.0, 0.05 * sketch.height)))  # fmt: skip
    _details(sketch, "-pack", on, y + high + _GAP)


def _small(sketch: Sketch) -> None:
    """Labels too narrow for bars: name, headline, code, and a word beside the QR.

    A headline of one line leaves the name more room than a kicker and a headline, or two lines.
    """
    x, wide, top = sketch.margin, sketch.inner, _EDGE
    beside = min(sketch.qr_top, sketch.foot - _FOUR_LINES)
    room = min(beside - _GAP - top, _HEAD_MOST)
    head, kicker = min(0.17 * wide, 0.28 * room), max(_LINE, 0.18 * room)
    item = room - head - kicker - _GAP
    most = max(1.65, head / 2.4)  # the longest date has to stay larger
    day = ("dated", "stop", "discard", "twin", "hour")
    two, one = ("timed", "unknown"), ("cooling", "frozen", "hold", "hot")
    taller = item + 2 * _TWO_LINES / 4
    rows: tuple[tuple[str, str, tuple[str, ...], float], ...] = (
        ("item", "item also", ("dated", "stop", "discard", "hour"), item),
        ("item-twin", "item belongs", ("twin",), item),
        ("item-kicker", "item kicker", two, item + _GAP),
        ("item-state", "item then also", ("cooling", "frozen", "hold"), taller),
        ("item-hot", "item then", ("hot",), taller),
    )
    for name, show, on, high in rows:
        sketch.text(name, show, on, (x, top, wide, high), bold=show, lines=4, keep=show,
                    valign="middle", largest=most)  # fmt: skip
    y = top + item + _GAP
    sketch.text("kicker", "kicker", day, (x, y, wide, kicker), bold="kicker", lines=2,
                largest=min(most, kicker / 1.5))  # fmt: skip
    sketch.text("headline", "headline", day, (x, y + kicker, wide, head), bold="headline",
                valign="middle", largest=head / 1.05)  # fmt: skip
    sketch.text("headline-two", "headline", two, (x, y + _GAP, wide, kicker + head - 2 * _GAP),
                bold="headline", lines=2, valign="middle", largest=head)  # fmt: skip
    y = top + taller + _GAP
    sketch.text("headline-state", "headline", one, (x, y, wide, top + room - y),
                bold="headline", valign="middle", largest=head / 1.1)  # fmt: skip
    rest = beside - _GAP - top - room
    if rest > _DETAILS_LEAST:
        faces = tuple(face for face in FACES if face not in (*BARE, "pack"))
        place = (x, top + room + _GAP, wide, rest - _GAP)
        sketch.text("details", f"made place {' '.join(_KEPT)}", faces, place, lines=12,
                    bold="allergens cautions", keep="allergens cautions", largest=2.2)  # fmt: skip
    place = (x, beside, sketch.beside_qr, sketch.foot - beside)
    said = (
        ("beside", "year beside count", ("dated", "stop", "hour", "twin", "cooling", "frozen")),
        ("beside-also", "also count", ("hot", *two)),
    )
    for name, show, on in said:
        sketch.text(name, show, on, place, bold=show.removesuffix("count"), keep=show, lines=4,
                    largest=most)  # fmt: skip
    sketch.text("beside-reason", "beside reason count", ("hold", "discard"), place, lines=4,
                bold="beside reason", keep="beside count", largest=most)  # fmt: skip
