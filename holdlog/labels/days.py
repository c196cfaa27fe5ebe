"""The names of weekdays and months, by language, short and in capitals.

English has its own table, so that an English label loads nothing for it; the tests hold it
against the Unicode CLDR, which is where the other languages come from.
"""

from dataclasses import dataclass
from functools import lru_cache


@dataclass(frozen=True, slots=True)
class DayNames:
    """Weekdays from Monday, months from January; the large forms stand alone on a label."""

    weekdays: tuple[str, ...]
    weekdays_large: tuple[str, ...]
    months: tuple[str, ...]
    months_large: tuple[str, ...]


_ENGLISH = DayNames(
    weekdays=("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
    weekdays_large=("MON", "TUE", "WED", "THU", "FRI", "SAT", "SUN"),
    months=("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
    months_large=(
        "JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC",
    ),
)  # fmt: skip


@lru_cache
def day_names(language: str) -> DayNames:
    """The abbreviated names of the CLDR for ``language``: ``en``, ``es`` or ``fr``.

    The large forms of Spanish and French come from ``str.upper``. That is right for these two:
    neither has a letter whose capital depends on the language (as i has in Turkish) or is
    written with more letters (as ß in German), and both keep their accents on capitals, as
    ``str.upper`` does. Ask that question anew before adding a language. The dots of French
    abbreviations go in the large forms: they would cost the room of a letter each.
    """
    if language == "en":
        return _ENGLISH
    from babel import Locale  # noqa: PLC0415

    locale = Locale(language)
    by_weekday = locale.days["format"]["abbreviated"]
    by_month = locale.months["format"]["abbreviated"]
    weekdays = tuple(by_weekday[number] for number in range(7))
    months = tuple(by_month[number] for number in range(1, 13))
    return DayNames(
        weekdays=weekdays,
        weekdays_large=tuple(_large(name) for name in weekdays),
        months=months,
        months_large=tuple(_large(name) for name in months),
    )


def _large(name: str) -> str:
    return name.removesuffix(".").upper()
