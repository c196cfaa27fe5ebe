"""Reading TOML that people write: every fault is reported, with file, table and key.

A ``Table`` hands out values by key and type, collects what is wrong instead of stopping at the
first fault, and at the end names the keys nobody asked for (a mistyped key must never be
silently ignored: it may be the one that tightens a limit).
"""

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from holdlog.core.errors import BadFile, HoldlogError
from holdlog.core.temperature import Limit, Temperature, read_temperature
from holdlog.core.visible import visible

_MISSING = object()
MAX_BYTES = 1_000_000
_SHOWN = 60
_MOST_FAULTS = 100
_HUGE, _MOST_DIGITS = 10**20, 30
# The standard library's reader takes time and memory that grow with the square of a key's parts:
# one of 50,000 takes a quarter of a minute. Ours have four at the most. (No part is looked at
# twice here: each begins where no other is going on, and gives nothing back.)
DEEPEST = 32
_PART = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+"""
_DEEP_KEY = re.compile(rf"(?<![A-Za-z0-9_-])(?:{_PART}\.[ \t]*+){{{DEEPEST}}}")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
# Days outside these are slips of the pen, and so far out that calendars cannot count on.
_FIRST_YEAR, _LAST_YEAR = 1970, 2199


def shown(value: object) -> str:
    """A value as an error names it: short, on one line, whatever it is."""
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, int) and not -_HUGE < value < _HUGE:
        return "a huge number"
    text = repr(value[: _SHOWN + 1]) if isinstance(value, str) else str(value)
    return text if len(text) <= _SHOWN else text[:_SHOWN] + "…"


def named(key: str) -> str:
    """A key as an error names it: in quotation marks where it is no bare one."""
    return key if _BARE_KEY.fullmatch(key) else repr(key[:_SHOWN])


def parse(text: str, file: str) -> "Table":
    """The document ``text`` as a table. Raises ``BadFile`` when it is not TOML."""
    if len(text) > MAX_BYTES:
        says = f"{len(text):,} characters are more than the {MAX_BYTES:,} that are read"
        raise BadFile("bad-file", (f"{file}: {says}",), "Is it the right file?")
    try:
        return Table(loads(text, Decimal), file, "", [])
    except ValueError as error:
        raise BadFile("bad-file", (f"{file}: not valid TOML: {error}",)) from error


def loads(text: str, parse_float: Callable[[str], Any] = float) -> dict[str, Any]:
    """What ``text`` holds. Raises ``ValueError`` with what is wrong, in a few words."""
    if (deep := _DEEP_KEY.search(text)) is not None:
        line = text.count("\n", 0, deep.start()) + 1
        raise ValueError(f"a key of more than {DEEPEST} parts (at line {line})")
    try:
        return tomllib.loads(text, parse_float=parse_float)
    except tomllib.TOMLDecodeError:
        raise
    except RecursionError as error:
        raise ValueError("values are nested too deep") from error
    except (InvalidOperation, ValueError) as error:
        # Python reads no whole number of more than 4,300 digits, and no day that is none.
        raise ValueError("a number or a date that cannot be") from error


class Table:
    """One table of a document. ``faults`` is shared by all tables of the document."""

    def __init__(self, data: Mapping[str, Any], file: str, path: str, faults: list[str]) -> None:
        self._data = data
        self._file = file
        self._path = path
        self._asked: set[str] = set()
        self.faults = faults
        for key in data:
            if not key.isprintable() and visible(key) != key:
                self.fault(key, "a key holds a character that nobody sees")

    def fault(self, key: str, expected: str) -> None:
        """Note that ``key`` is wrong, and what was expected."""
        where = f"[{self._path}] " if self._path else ""
        self.faults.append(f"{self._file}: {where}{named(key)}: {expected}")

    def _take(self, key: str, kind: type | tuple[type, ...], expected: str, default: Any) -> Any:
        self._asked.add(key)
        value = self._data.get(key, _MISSING)
        if value is _MISSING:
            if default is _MISSING:
                self.fault(key, f"missing; expected {expected}")
                return None
            return default
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            self.fault(key, f"expected {expected}, found {shown(value)}")
            return None if default is _MISSING else default
        return value

    def has(self, key: str) -> bool:
        """Whether the key is there."""
        return key in self._data

    def text(self, key: str, default: Any = _MISSING) -> str:
        """A text that is not empty, on one line whatever lines it is written in."""
        value = self._take(key, str, "a text", default)
        if isinstance(value, str) and default is _MISSING and not value.strip():
            self.fault(key, "is empty")
        return self._seen(key, value) if value is not None else ""

    def _seen(self, key: str, text: str) -> str:
        text = text if text.isprintable() else " ".join(text.split())
        if visible(text) != text:
            self.fault(key, f"holds a character that nobody sees: {shown(text)}")
            return visible(text)
        return text

    def choice(self, key: str, choices: Sequence[str], default: Any = _MISSING) -> Any:
        """One of ``choices``."""
        value = self._take(key, str, "one of " + ", ".join(choices), default)
        if value is not None and value != default and value not in choices:
            self.fault(key, f"expected one of {', '.join(choices)}, found {shown(value)}")
        return value

    def flag(self, key: str, default: Any = _MISSING) -> Any:
        """True or false."""
        return self._take(key, bool, "true or false", default)

    def whole(self, key: str, default: Any = _MISSING, low: int = 0, high: int = 100_000) -> Any:
        """A whole number from ``low`` to ``high``."""
        value = self._take(key, int, "a whole number", default)
        if isinstance(value, int) and value is not default and not low <= value <= high:
            self.fault(key, f"expected {low} to {high}, found {shown(value)}")
            return None if default is _MISSING else default
        return value

    def number(self, key: str, default: Any = _MISSING, low: str = "0", high: str = "1000") -> Any:
        """A decimal number from ``low`` to ``high``, exact."""
        value = self._take(key, (int, Decimal), "a number", default)
        if value is None or value is default:
            return value
        # A NaN compares with nothing, and a huge whole number is slow to convert: look first.
        if isinstance(value, int):
            plain = abs(value) < _HUGE
        else:
            plain = value.is_finite() and len(value.as_tuple().digits) <= _MOST_DIGITS
        if not plain or not Decimal(low) <= value <= Decimal(high):
            self.fault(key, f"expected {low} to {high}, found {shown(value)}")
            return None
        return Decimal(value)

    def day(self, key: str, default: Any = _MISSING) -> Any:
        """A calendar day."""
        value = self._take(key, date, "a date such as 2026-06-07", default)
        if isinstance(value, datetime):
            self.fault(key, "expected a date without a time")
            return None
        return self._within_reach(key, value)

    def wall_time(self, key: str, default: Any = _MISSING) -> Any:
        """A local date and time, or one with an offset."""
        value = self._take(key, datetime, "a date and time such as 2026-06-01T15:00:00", default)
        return self._within_reach(key, value)

    def _within_reach(self, key: str, value: Any) -> Any:
        if isinstance(value, date) and not _FIRST_YEAR <= value.year <= _LAST_YEAR:
            self.fault(key, f"expected a year from {_FIRST_YEAR} to {_LAST_YEAR}, found {value}")
            return None
        return value

    def temperature(self, key: str, default: Any = _MISSING) -> Temperature | None:
        """A reading such as ``"68 F"``."""
        value = self._take(key, str, 'a temperature such as "68 F"', default)
        if value is None:
            return None
        try:
            return read_temperature(value)
        except HoldlogError as error:
            self.fault(key, error.line())
            return None

    def limit(self, key: str, *, exclusive: bool = False) -> Limit:
        """A limit as published: ``{ f = 41, c = 5 }``, or one of the two where the authority
        prints only that.
        """
        self._asked.add(key)
        table = self.table(key)
        f = table.number("f", None, low="-100", high="600")
        c = table.number("c", None, low="-80", high="320")
        table.finish()
        if f is None and c is None:
            self.fault(key, "expected a figure in °F, in °C or both: { f = 41, c = 5 }")
        return Limit(f, c, exclusive)

    def texts(self, key: str, default: tuple[str, ...] = ()) -> tuple[str, ...]:
        """A list of texts."""
        value = self._take(key, list, "a list of texts", list(default))
        if not all(isinstance(each, str) for each in value):
            self.fault(key, "expected a list of texts")
            return default
        return tuple(self._seen(key, each) for each in value)

    def rows(self, key: str) -> list[list[str]]:
        """A list of lists of texts (a published table)."""
        value = self._take(key, list, "a list of lists of texts", _MISSING)
        if value is None or not all(isinstance(row, list) for row in value):
            self.fault(key, "expected a list of lists of texts")
            return []
        return value  # type: ignore[no-any-return]

    def table(self, key: str) -> "Table":
        """The table under ``key`` (empty when absent or not a table)."""
        self._asked.add(key)
        value = self._data.get(key, {})
        path = f"{self._path}.{named(key)}" if self._path else named(key)
        if not isinstance(value, Mapping):
            self.fault(key, "expected a table")
            value = {}
        return Table(value, self._file, path, self.faults)

    def tables(self, key: str) -> list["Table"]:
        """The tables of an array ``[[key]]``, numbered from 1 in messages."""
        self._asked.add(key)
        value = self._data.get(key, [])
        path = f"{self._path}.{named(key)}" if self._path else named(key)
        if not isinstance(value, list) or not all(isinstance(each, Mapping) for each in value):
            self.fault(key, f"expected tables, written [[{path}]]")
            return []
        return [
            Table(each, self._file, f"{path} #{n}", self.faults) for n, each in enumerate(value, 1)
        ]

    def keys(self) -> tuple[str, ...]:
        """The keys of this table as written."""
        return tuple(self._data)

    def raw(self, key: str) -> Any:
        """The value under ``key`` as TOML gives it."""
        self._asked.add(key)
        return self._data.get(key)

    def finish(self) -> None:
        """Name the keys nobody asked for."""
        for key in self._data:
            if key not in self._asked:
                known = ", ".join(sorted(self._asked))
                self.fault(key, f"unknown key (known here: {known})")

    def refuse_faults(self, code: str) -> None:
        """Raise ``BadFile(code)`` with every fault noted so far, if there is any."""
        if self.faults:
            faults = tuple(dict.fromkeys(self.faults))
            rest = len(faults) - _MOST_FAULTS
            more = (f"{self._file}: and {rest:,} faults more",) if rest > 0 else ()
            raise BadFile(code, (*faults[:_MOST_FAULTS], *more))
