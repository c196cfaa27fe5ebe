"""Every word a label prints, in one place.

Large forms are words of their own and not ``.upper()`` of the small ones: languages differ in
what a capital letter is.
"""

from datetime import date, datetime, timedelta

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
WEEKDAYS_LARGE = ("MON", "TUE", "WED", "THU", "FRI", "SAT", "SUN")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MONTHS_LARGE = (
    "JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC",
)  # fmt: skip

USE_BY = "USE BY"
THAWED_USE_BY = "THAWED · USE BY"
OPENED_USE_BY = "OPENED · USE BY"
RECEIVED_USE_BY = "RECEIVED · USE BY"
COOLING = "COOLING"
DO_NOT_SERVE = "do not serve"
FROZEN = "FROZEN"
NO_LIMIT = "NO LIMIT KNOWN"
NO_DATE_NEEDED = "NO DATE NEEDED"
NOT_TCS = "not TCS: no safety limit"
NOT_TCS_BEST_BY = "NOT TCS · BEST BY"
ASK = "ask the person in charge"
DO_NOT_USE = "DO NOT USE"
NO_DAYS_LEFT = "no days left"
ALLERGENS = "ALLERGENS"
NONE_LISTED = "none listed"
THAWED_ON = "thawed on"
THEN_USE_BY = "use by"
FIRST_READING = "1st reading:"
SECOND_READING = "2nd reading:"
MADE = "Made"
MADE_AFTER = "made"  # the same, later in a line
OPENED = "Opened"
RECEIVED = "Received"
BETWEEN = " · "
LISTED = ", "
CUT = "…"
UNKNOWN_SIGN = "?"

# A date, a time and a temperature must not be torn apart at the end of a line.
_TIGHT = "\N{NO-BREAK SPACE}"


def tight(text: str) -> str:
    """``text`` as one piece that no line end may split."""
    return text.replace(" ", _TIGHT)


def loose(text: str) -> str:
    """``text`` with ordinary spaces, as messages show it."""
    return text.replace(_TIGHT, " ")


def day(on: date, year: bool = False) -> str:
    """``Sun 7 Jun`` or ``Sun 7 Jun 2026``: never numbers alone, so nobody can swap them."""
    text = f"{WEEKDAYS[on.weekday()]} {on.day} {MONTHS[on.month - 1]}"
    return tight(f"{text} {on.year}" if year else text)


def day_large(on: date, year: bool = False) -> str:
    """``SUN 7 JUN`` or ``SUN 7 JUN 2026``."""
    text = f"{WEEKDAYS_LARGE[on.weekday()]} {on.day} {MONTHS_LARGE[on.month - 1]}"
    return tight(f"{text} {on.year}" if year else text)


def moment(at: datetime, year: bool = False) -> str:
    """``Mon 1 Jun 15:00``; exactly midnight prints the day alone, since 00:00 is read both ways."""
    if at.hour == 0 and at.minute == 0:
        return day(at, year)
    return tight(f"{day(at, year)} {clock(at)}")


def clock(at: datetime) -> str:
    """Hour and minute of a 24-hour clock; seconds are dropped, which is never later."""
    return f"{at.hour:02d}:{at.minute:02d}"


def last_day_or_moment(use_by: date | datetime) -> tuple[date, str]:
    """The day of a use-by and its hour, ``""`` where the limit is the end of that day.

    A limit in the first minute of a day is the end of the day before it: nobody has to know
    which midnight ``00:00`` means, and the date shown is never the later of the two.
    """
    if not isinstance(use_by, datetime):
        return use_by, ""
    if use_by.hour == 0 and use_by.minute == 0:
        return use_by.date() - timedelta(days=1), ""
    if use_by.hour == 23 and use_by.minute == 59:  # noqa: PLR2004
        return use_by.date(), ""
    return use_by.date(), clock(use_by)


def days_left(days: int | None, needed: bool = True) -> str:
    """``3 days left once thawed``. ``needed``: whether its days have to be counted at all."""
    if days is None:
        return "days left not known: ask" if needed else "not TCS: no days to count"
    return tight(f"{days} day left" if days == 1 else f"{days} days left") + " once thawed"


def number_of(number: int, count: int) -> str:
    """``3 of 4``."""
    return tight(f"{number} of {count}")


def copy(reprint: int) -> str:
    """``COPY 1``: a second label of one container must not pass for a second container."""
    return tight(f"COPY {reprint}")


def reach(limit: str, by: str) -> str:
    """The caption of a box for the pen: ``70 °F by 17:00, at:`` or ``70 °F at:``."""
    return f"{tight(limit)} {by}, at:" if by else tight(f"{limit} at:")


def use_by_hour(hour: str) -> str:
    """``USE BY 19:00``, the first line of an hour limit."""
    return tight(f"{USE_BY} {hour}")


def frozen(on: date, first: bool) -> str:
    """``Frozen Tue 2 Jun 2026``: with its year, since a freezer keeps things long.

    ``first``: at the beginning of a line.
    """
    return tight(f"{'Frozen' if first else 'frozen'} {day(on, year=True)}")


def thawed(on: date) -> str:
    """``Thawed Tue 2 Jun``."""
    return tight(f"Thawed {day(on)}")


def then_use_by(text: str) -> str:
    """``then use by SUN 7 JUN``."""
    return tight(f"then use by {text}")


def then_no_limit(needed: bool) -> str:
    """What a cooling label says of the time after, where no limit is known, or none needed."""
    return "then: no limit known, ask" if needed else "then: no date needed"


def small_print(book: str) -> tuple[str, ...]:
    """The book a date stands on, and who decides: the fullest wording first, the rest for books
    with longer names, since half a name names no book.
    """
    return (
        f"Local health authority has the last word. Rules: {book}.",
        f"Rules: {book}. Health authority has the last word.",
        f"Rules: {book}. Health authority decides.",
        f"{book}. Health authority decides.",
        f"{book}. Authority decides.",
    )


def more(count: int) -> str:
    """The end of a list that did not fit: ``… +3 more``."""
    return tight(f"{CUT} +{count} more")


def cut_warning(field: str, lost: str) -> str:
    """Said to the cook when text did not fit."""
    return f"{field}: cut to fit, not printed: {loose(lost)}"


def sign_warning(field: str, signs: str) -> str:
    """Said to the cook when the font lacks a character."""
    return f"{field}: the label font has no sign for {signs}; printed as {UNKNOWN_SIGN}"
