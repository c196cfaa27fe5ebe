"""Which column of a logger's file is the temperature, on which scale, and the zone of its times.

Headings decide, then what the cells hold. Where that leaves two columns or no scale, the file is
refused with the option that decides: a reading on the wrong scale is worse than none.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from holdlog.core.temperature import Scale
from holdlog.core.visible import quoted
from holdlog.kitchen.logger_text import bad, line_shown
from holdlog.kitchen.logger_times import offset_of
from holdlog.kitchen.logger_values import VALUE, Sign, no_data

_NOT_THIS = re.compile(
    r"humid|\brh\b|%|dew|batter|\bbatt?\b|volt|\(v\)|press|pascal|hpa|alarm|limit|threshold"
    r"|set ?-?point|\bmin|\bmax|\bavg|average|mean|mkt|lux|co2|signal|rssi|offset"
    r"|calibrat|high|low\b",
    re.IGNORECASE,
)
_INDEX = re.compile(
    r"\s*(#|no\.?|nr\.?|n°|nº|index|idx|id|row|record|sample|seq\w*|count|line|serial.*)\s*",
    re.IGNORECASE,
)
WARM = re.compile(
    r"temp|[°º]|celsius|fahrenheit|probe|sensor|channel|\bch\.? ?\d|\bt ?\d|ambient|\bair\b"
    r"|external|internal|[(\[] *[CF] *[)\]]",
    re.IGNORECASE,
)
_SCALE = re.compile(
    r"(?:[°º]|\bdeg(?:rees)?\.?)[ _]?([CF])\b|[(\[{] *([CF]) *[)\]}]|\b(C)elsius\b|\b(F)ahrenheit\b"
    r"|temp(?:erature|\.)?[ _,:/-]*([CF])\b",
    re.IGNORECASE,
)
_SAYS_UNIT = re.compile(r"\bunits?\b|\bscale\b|einheit|unidad|unité|unità", re.IGNORECASE)
ZONE = re.compile(r"\b(?:UTC|GMT)(?: ?([+-]\d{1,2}(?::?\d{2})?))?", re.IGNORECASE | re.ASCII)
# So many of the cells must be figures, in a column whose heading does not say temperature.
_NEARLY_ALL = 0.8


@dataclass(frozen=True, slots=True)
class Told:
    """What the person says of a file; None: the file must say it itself.

    ``day_first``: 03/04 is the third of April. ``column`` is the heading of the temperature, or
    its number counted from 1, ``time_column`` likewise. ``utc``: times without a zone are UTC.
    ``one_scale``: a jump that looks like a change from °F to °C did happen.
    """

    scale: Scale | None = None
    day_first: bool | None = None
    column: str | None = None
    time_column: str | None = None
    utc: bool = False
    decimal: Sign | None = None
    one_scale: bool = False


def column_of(
    rows: Sequence[list[str]], heading: Sequence[str], times: set[int], told: Told, line: int
) -> int:
    """The column of the temperature."""
    width = max(len(heading), *map(len, rows))
    if told.column is not None:
        chosen = named(told.column, heading, width, line)
        if chosen in times:
            raise bad(f"line {line}: the column {quoted(told.column)} holds the times")
        return chosen
    names = [*heading, *[""] * (width - len(heading))]
    able = [
        n
        for n in range(width)
        if n not in times
        and not _NOT_THIS.search(names[n])
        and not _INDEX.fullmatch(names[n])
        and _holds_values([row[n] if n < len(row) else "" for row in rows], names[n])
    ]
    warm = [n for n in able if WARM.search(names[n])]
    found = warm or able
    if len(found) == 1:
        return found[0]
    if not found:
        raise bad(
            f"line {line}: no column is a temperature",
            hint="Say which is: --column and its heading or number.",
        )
    raise bad(
        f"line {line}: there are several temperatures in a row, in the columns"
        f" {listed(found, heading)}",
        hint="Say which is the unit's: --column and its heading or number.",
    )


def _holds_values(texts: Sequence[str], name: str) -> bool:
    values = [text.strip() for text in texts if not no_data(text)]
    if not values:
        return bool(name)
    figures = sum(map(bool, map(VALUE.fullmatch, values)))
    if not figures or (not WARM.search(name) and figures < _NEARLY_ALL * len(values)):
        return False
    if name or not all(value.isdecimal() for value in values):
        return True
    # A column without a name that counts 1, 2, 3 numbers the rows.
    numbers = [int(value) for value in values]
    counts = list(range(numbers[0], numbers[0] + len(numbers)))
    return not (numbers[0] in (0, 1) and numbers == counts)


def named(told: str, heading: Sequence[str], width: int, line: int) -> int:
    """The column with this heading (or a heading that alone contains it), or this number."""
    wanted = told.strip().casefold()
    names = [name.casefold() for name in heading]
    for same in (
        [n for n, name in enumerate(names) if name == wanted],
        [n for n, name in enumerate(names) if wanted and wanted in name],
    ):
        if len(same) == 1:
            return same[0]
    if wanted.isdecimal() and len(wanted) <= len(str(width)) and 1 <= int(wanted) <= width:
        return int(wanted) - 1
    known = listed(range(width), heading)
    raise bad(f"line {line}: there is no one column {quoted(told)}; there are {known}")


def listed(columns: Sequence[int], heading: Sequence[str]) -> str:
    """Columns by number and heading, for a sentence."""
    names = (line_shown(heading[n]) if n < len(heading) else "" for n in columns)
    pairs = zip(columns, names, strict=True)
    return ", ".join(f"{n + 1} {name!r}" if name else f"{n + 1}" for n, name in pairs)


def _scales(text: str) -> set[Scale]:
    letters = {next(filter(None, match.groups())).upper() for match in _SCALE.finditer(text)}
    found: set[Scale] = set()
    if "F" in letters:
        found.add("F")
    if "C" in letters:
        found.add("C")
    return found


def scale_of(
    preamble: Sequence[str],
    heading: Sequence[str],
    rows: Sequence[list[str]],
    value: int,
    told: Told,
    line: int,
) -> tuple[Scale, bool]:
    """The scale, and whether the cells themselves name it.

    The heading of the column says it, else its cells, else one line of the preamble that speaks
    of units and is not contradicted by another.
    """
    in_heading = _scales(heading[value]) if value < len(heading) else set()
    matches = (VALUE.fullmatch(row[value].strip()) for row in rows if value < len(row))
    letters = [(match["scale"] or "").upper() for match in matches if match]
    named_ones = list(filter(None, letters))
    in_cells: set[Scale] = set()
    # One cell with a letter among many without is no rule, but an oddity of that row.
    if named_ones and 2 * len(named_ones) >= len(letters):
        in_cells = {"F" if named_ones[0] == "F" else "C"}
    around: set[Scale] = set()
    for text in preamble:
        if _SAYS_UNIT.search(text) and not _NOT_THIS.search(text):
            around |= _scales(text)
    said = in_heading or in_cells or around
    if told.scale is not None and in_cells and not in_heading:
        # Each cell says its own: those on the other scale are refused one by one.
        return told.scale, True
    if in_heading and in_cells and in_heading != in_cells:
        raise bad(f"line {line}: the heading says °{min(in_heading)}, the cell °{min(in_cells)}")
    if told.scale is not None:
        if said and said != {told.scale} and len(said) == 1:
            raise bad(f"line {line}: the file says °{min(said)}, not °{told.scale}")
        return told.scale, bool(in_cells)
    if len(said) != 1:
        raise bad(
            f"line {line}: the file does not say whether its readings are °F or °C",
            hint="Say which: --scale F or --scale C.",
        )
    return min(said), bool(in_cells)


def zone_of(heading: Sequence[str], day: int, clock: int | None, told: Told) -> int | None:
    """How far (ms) the times are ahead of UTC, if a heading or the person says it, else None."""
    columns = [day] if clock is None else [clock, day]
    for column in columns:
        match = ZONE.search(heading[column]) if column < len(heading) else None
        if match:
            sign, figures = (match[1] or "+0")[0], (match[1] or "+0")[1:]
            hours = figures.replace(":", "")
            hours = hours.zfill(2) if len(hours) <= 2 else hours.zfill(4)  # noqa: PLR2004
            fixed = offset_of(sign + hours)
            if fixed is None:
                raise bad(f"the heading {line_shown(heading[column])!r} names no zone there is")
            return fixed
    return 0 if told.utc else None
