"""How one logger's file is written: its delimiter, its first row, its headings, its times.

Nothing is guessed that would change a reading or its time: where a file can be read in two
ways, it is refused with the option that decides.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest

from holdlog.core.temperature import Scale
from holdlog.core.visible import quoted
from holdlog.kitchen.logger_columns import (
    WARM,
    ZONE,
    Told,
    column_of,
    listed,
    named,
    scale_of,
    zone_of,
)
from holdlog.kitchen.logger_text import bad, cells, line_shown
from holdlog.kitchen.logger_times import (
    CLOCK_TEXT,
    DAY_TEXT,
    EPOCH_TEXT,
    MOMENT_TEXT,
    YEAR_FIRST,
)
from holdlog.kitchen.logger_values import VALUE

_DELIMITERS = "\t;,|"
# The lines that tell how a file is written.
_LOOKED_AT = 400
_FIRST_FEW = 3
_MOST_COLUMNS = 200

_UNIT_LINE = re.compile(
    r"\W*(?:(?:[°º]|deg\.?)? ?[CF]|units?|% ?rh|[ymdhst:/. -]{5,})?\W*", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a file is written. Columns count from 0; ``start`` is the index of the first row.

    ``clock`` is None where one cell holds day and clock, or seconds since 1970 (``epoch``).
    ``fixed``: how far (ms) the heading says the times are ahead of UTC. ``named``: cells name
    their scale. ``plain_days``: dates are written so that day and month cannot be mistaken.
    ``heading`` is empty if the file has none; ``repeated`` its line as it stands.
    """

    delimiter: str
    width: int
    start: int
    day: int
    clock: int | None
    epoch: bool
    value: int
    scale: Scale
    named: bool
    plain_days: bool
    fixed: int | None
    heading: tuple[str, ...]
    repeated: str


@dataclass(frozen=True, slots=True)
class _Shape:
    """What the cells of a row look like: how many, and where the times are."""

    delimiter: str
    width: int
    moments: tuple[int, ...]
    pair: tuple[int, int] | None
    epochs: tuple[int, ...]


def dialect(lines: Sequence[str], told: Told) -> Dialect:
    """How ``lines`` are written. Raises ``BadFile("bad-logger-file")``, naming the lines."""
    looked_at = lines[:_LOOKED_AT]
    shape = _commonest(looked_at)
    rows = [
        (number, split)
        for number, line in enumerate(looked_at)
        if (split := cells(line, shape.delimiter)) is not None and _fits(split, shape)
    ]
    start = rows[0][0]
    heading, repeated = _heading(looked_at, start, shape)
    some = [split for _, split in rows]
    day, clock, epoch = _when(shape, heading, told, start + 1)
    times = {*shape.moments, *(shape.pair or ()), *((day,) if epoch else ())}
    value = column_of(some, heading, times, told, start + 1)
    scale, named = scale_of(looked_at[:start], heading, some, value, told, start + 1)
    return Dialect(
        delimiter=shape.delimiter,
        width=max(shape.width, len(heading)),
        start=start,
        day=day,
        clock=clock,
        epoch=epoch,
        value=value,
        scale=scale,
        named=named,
        plain_days=epoch or all(YEAR_FIRST.match(row[day].strip()) for row in some),
        fixed=zone_of(heading, day, clock, told),
        heading=heading,
        repeated=repeated,
    )


def is_blank(line: str) -> bool:
    """Whether a line holds nothing but blanks and delimiters."""
    return not line.strip(' \t;,|"')


def _shape(split: list[str], delimiter: str) -> _Shape | None:
    texts = _trimmed(split)
    if len(texts) > _MOST_COLUMNS:
        return None
    moments = tuple(n for n, text in enumerate(texts) if MOMENT_TEXT.fullmatch(text))
    days = [n for n, text in enumerate(texts) if DAY_TEXT.fullmatch(text)]
    clocks = [n for n, text in enumerate(texts) if CLOCK_TEXT.fullmatch(text)]
    epochs = tuple(n for n, text in enumerate(texts) if EPOCH_TEXT.fullmatch(text))
    pair = None if moments else _pair(days, clocks)
    times = {*moments, *(pair or ()), *(() if moments or pair else epochs)}
    others = [text for n, text in enumerate(texts) if n not in times]
    if not times or not any(VALUE.fullmatch(text) for text in others):
        return None
    return _Shape(delimiter, len(texts), moments, pair, () if moments or pair else epochs)


def _pair(days: list[int], clocks: list[int]) -> tuple[int, int] | None:
    """The columns of day and clock. Of several clocks the one after the day: not one that ran."""
    if len(days) != 1 or not clocks:
        return None
    if days[0] + 1 in clocks:
        return days[0], days[0] + 1
    return (days[0], clocks[0]) if len(clocks) == 1 else None


def _trimmed(split: Sequence[str]) -> list[str]:
    """The cells without blanks around them and without empty ones at the end."""
    texts = [text.strip() for text in split]
    while texts and not texts[-1]:
        texts.pop()
    return texts


def _commonest(lines: Sequence[str]) -> _Shape:
    shapes: Counter[_Shape] = Counter()
    for line in lines:
        for delimiter in _DELIMITERS:
            split = cells(line, delimiter) if delimiter in line else None
            shape = _shape(split, delimiter) if split else None
            if shape:
                shapes[shape] += 1
    if shapes:
        return shapes.most_common(1)[0][0]
    few = [(n, line) for n, line in enumerate(lines, 1) if not is_blank(line)][:_FIRST_FEW]
    raise bad(
        "no line is a reading: a date, a time and a temperature, with commas, semicolons or tabs"
        " between them",
        *(f"line {number}: {line_shown(line)!r}" for number, line in few),
        hint="Save the readings as CSV, with the date of each.",
    )


def _fits(split: list[str], shape: _Shape) -> bool:
    """Whether a line is a row: its times are where they belong, whatever the other cells say."""
    texts = _trimmed(split)
    if len(texts) > shape.width:
        return False
    patterns = [(n, MOMENT_TEXT) for n in shape.moments]
    patterns += [(n, EPOCH_TEXT) for n in shape.epochs]
    if shape.pair:
        patterns += list(zip(shape.pair, (DAY_TEXT, CLOCK_TEXT), strict=True))
    return all(n < len(texts) and pattern.fullmatch(texts[n]) for n, pattern in patterns)


def _heading(lines: Sequence[str], start: int, shape: _Shape) -> tuple[tuple[str, ...], str]:
    """The names of the columns, and their line as it stands; empty if there are none.

    It is the last line before the rows that has as many cells as they; a line of units below
    it belongs to it.
    """
    found: list[list[str]] = []
    repeated = ""
    for line in reversed([line for line in lines[:start] if not is_blank(line)]):
        split = _trimmed(cells(line, shape.delimiter) or [])
        if len(split) < shape.width or any(map(MOMENT_TEXT.fullmatch, split)):
            _no_decimal_commas(split, shape, start)
            break
        # A heading may begin with the sign of a comment.
        found.insert(0, [split[0].lstrip("#").strip() or split[0], *split[1:]])
        repeated = line
        if not all(map(_UNIT_LINE.fullmatch, split)):
            break
    names = zip_longest(*found, fillvalue="")
    return tuple(" ".join(filter(None, texts)) for texts in names), repeated


def _no_decimal_commas(split: Sequence[str], shape: _Shape, start: int) -> None:
    """Refuse rows that have a cell more than their heading: ``3,5`` between commas is two."""
    if shape.delimiter == "," and len(split) > 1 and any(map(WARM.search, split)):
        raise bad(
            f"line {start + 1}: the row has more cells than the heading",
            hint="If commas are decimal signs, save it with semicolons between the cells.",
        )


def _when(
    shape: _Shape, heading: Sequence[str], told: Told, line: int
) -> tuple[int, int | None, bool]:
    if not shape.moments and shape.pair:
        return shape.pair[0], shape.pair[1], False
    epoch = not shape.moments
    several = shape.epochs if epoch else shape.moments
    if told.time_column is not None:
        chosen = named(told.time_column, heading, shape.width, line)
        if chosen not in several:
            raise bad(f"line {line}: the column {quoted(told.time_column)} holds no times")
        return chosen, None, epoch
    universal = [n for n in several if n < len(heading) and ZONE.search(heading[n])]
    if len(several) == 1 or len(universal) == 1:
        return (universal or several)[0], None, epoch
    raise bad(
        f"line {line}: there are several times in a row, in the columns {listed(several, heading)}",
        hint="Say which counts: --time-column.",
    )
