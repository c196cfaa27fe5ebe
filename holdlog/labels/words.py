"""What a label says, in the languages of a kitchen: words as a value, made by ``speak``.

The phrases are in ``phrases``, their translations in the gettext catalogues under ``locale``.
What the program tells the cook about a label stays English, as all its messages are.
"""

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from importlib import resources
from typing import TYPE_CHECKING, Literal

from holdlog.core.errors import Mistake
from holdlog.labels.days import DayNames, day_names
from holdlog.labels.phrases import ALLERGENS, BRIEF, PLURALS, Counted, Phrase

if TYPE_CHECKING:
    from gettext import NullTranslations

LANGUAGES = {"en": "English", "es": "Spanish", "fr": "French"}
MOST_LANGUAGES = 2

BETWEEN = " · "
LISTED = ", "
SHORT = "short"  # the context under which catalogues keep brief wordings
ALIKE = "/"  # between two names of the same thing
CUT = "…"
UNKNOWN_SIGN = "?"

Side = Literal["below", "above", "frozen"]

# A date, a time and a temperature must not be torn apart at the end of a line.
_TIGHT = "\N{NO-BREAK SPACE}"


def tight(text: str) -> str:
    """``text`` as one piece that no line end may split."""
    return text.replace(" ", _TIGHT)


# A number and its unit. Ours by ear: what cooks write of temperatures, amounts and times.
_MEASURE = re.compile(
    r"(?<=\d) (?=(?:°|%|(?:[FC]|[kmµ]?g|[cdm]?l|L|oz|lbs?|qts?|gal|h|hrs?|min|[cm]?m|in)\b"
    r"|(?:days?|hours?|minutes?)\b))"
)


def measured(text: str) -> str:
    """``text`` with each number kept on the line of its unit: ``57 °F``, ``2 l``, ``30 days``."""
    return _MEASURE.sub(_TIGHT, text)


def loose(text: str) -> str:
    """``text`` with ordinary spaces, as messages show it."""
    return text.replace(_TIGHT, " ")


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


@dataclass(frozen=True, slots=True)
class Words:
    """Everything a label says in ``language``, and in a ``second`` where guests' safety hangs
    on it. Made by ``speak``.
    """

    language: str
    second: "Words | None" = None

    def say(self, phrase: Phrase, **filled: str | int) -> str:
        """``phrase`` in the first language. A filled-in text is kept as it is."""
        text = _translated(self.language, phrase)
        return text.format(**filled) if filled else text

    def count(self, phrase: Counted, count: int) -> str:
        """A phrase that counts ``count`` things, with the right plural."""
        catalogue = _catalogue(self.language)
        if catalogue is None:
            text: str = PLURALS[phrase] if count == 1 else phrase
        else:
            text = catalogue.ngettext(PLURALS[phrase], phrase, count)
        return _marked(text).format(count=count)

    def kicker(self, *phrases: Phrase) -> tuple[str, ...]:
        """``RECEIVED · USE BY`` and what may stand in its place where room is short.

        The fullest wording first: then the last of ``phrases``, what the date is for, in brief;
        then that alone.
        """
        *before, purpose = phrases
        both = [self.say(purpose), self.brief(purpose)]
        lead = "".join(self.say(phrase) + BETWEEN for phrase in before)
        return tuple(dict.fromkeys([lead + text for text in both] + both))

    def brief(self, phrase: Phrase) -> str:
        """``phrase`` in the fewest words there are for it, for where the whole has no room."""
        catalogue = _catalogue(self.language)
        if catalogue is None or phrase not in BRIEF:
            return self.say(phrase)
        return _marked(catalogue.pgettext(SHORT, phrase))

    @property
    def _names(self) -> DayNames:
        return day_names(self.language)

    # ---- days and hours ----------------------------------------------------------------------

    def day(self, on: date, year: bool = False) -> str:
        """``Sun 7 Jun`` or ``Sun 7 Jun 2026``: never numbers alone, so nobody can swap them."""
        text = f"{self._names.weekdays[on.weekday()]} {on.day} {self._names.months[on.month - 1]}"
        return tight(f"{text} {on.year}" if year else text)

    def day_large(self, on: date, year: bool = False) -> str:
        """``SUN 7 JUN`` or ``SUN 7 JUN 2026``."""
        names = self._names
        text = f"{names.weekdays_large[on.weekday()]} {on.day} {names.months_large[on.month - 1]}"
        return tight(f"{text} {on.year}" if year else text)

    def moment(self, at: datetime, year: bool = False) -> str:
        """``Mon 1 Jun 15:00``; exactly midnight prints the day alone: 00:00 is read both ways."""
        if at.hour == 0 and at.minute == 0:
            return self.day(at, year)
        return tight(f"{self.day(at, year)} {clock(at)}")

    # ---- sentences ---------------------------------------------------------------------------

    def days_left(self, days: int | None, needed: bool = True) -> str:
        """``3 days left once thawed``. ``needed``: whether its days have to be counted at all."""
        if days is None:
            return self.say("days left not known: ask" if needed else "not TCS: no days to count")
        return self.count("{count}~days~left once thawed", days)

    def number_of(self, number: int, count: int) -> str:
        """``3 of 4``."""
        return self.say("{number}~of~{count}", number=number, count=count)

    def copy(self, reprint: int) -> str:
        """``COPY 1``: a second label of one container must not pass for a second container."""
        return self.say("COPY~{number}", number=reprint)

    def keep(self, limit: str, side: Side) -> str:
        """``41 °F or below``, ``135 °F or above``, ``keep frozen`` (where ``limit`` is unused)."""
        if side == "frozen":
            return self.say("keep frozen")
        phrase: Phrase = "{limit} or below" if side == "below" else "{limit} or above"
        return self.say(phrase, limit=tight(limit))

    def keep_long(self, limit: str, side: Side) -> str:
        """``keep at 41 °F or below``, as a sentence of its own."""
        if side == "frozen":
            return self.say("keep frozen")
        below = side == "below"
        phrase: Phrase = "keep at {limit} or below" if below else "keep at {limit} or above"
        return self.say(phrase, limit=tight(limit))

    def reach(self, limit: str, when: str) -> str:
        """The caption of a box for the pen: ``70 °F by 17:00, at:`` or ``70 °F at:``."""
        if not when:
            return tight(self.say("{limit} at:", limit=limit))
        return self.say("{limit} by {when}, at:", limit=tight(limit), when=when)

    def frozen(self, on: date, first: bool) -> str:
        """``Frozen Tue 2 Jun 2026``: with its year, since a freezer keeps things long.

        ``first``: at the beginning of a line.
        """
        phrase: Phrase = "Frozen {day}" if first else "frozen {day}"
        return tight(self.say(phrase, day=self.day(on, year=True)))

    def thawed(self, on: date) -> str:
        """``Thawed Tue 2 Jun``."""
        return tight(self.say("Thawed {day}", day=self.day(on)))

    def then_use_by(self, day: str) -> str:
        """``then use by SUN 7 JUN``."""
        return self.say("then use by {day}", day=tight(day))

    def then_discard(self, when: str) -> str:
        """``use or discard by 19:00 MON 1 JUN``: under time control there is no second chance."""
        return self.say("use or discard by {day}", day=when)

    def then_no_limit(self, needed: bool) -> str:
        """What a cooling label says of the time after, where no limit is known, or none needed."""
        return self.say("then: no limit known, ask" if needed else "then: no date needed")

    def pack_rule(self, limit: str, days: int) -> tuple[str, str]:
        """What a pack with the oxygen reduced says: ``keep at 41 °F or below`` and ``discard
        unless served or eaten within 30 days of packing`` (FDA Food Code 3-502.12(B)(3)).
        """
        served = self.count("discard unless served or eaten within {count}~days of packing", days)
        return self.keep_long(limit, "below"), served

    def small_print(self, book: str) -> tuple[str, ...]:
        """The book a date stands on, and who decides: the fullest wording first, the rest for
        books with longer names, since half a name names no book.
        """
        phrases: tuple[Phrase, ...] = (
            "Local health authority has the last word. Rules: {book}.",
            "Rules: {book}. Health authority has the last word.",
            "Rules: {book}. Health authority decides.",
            "{book}. Health authority decides.",
            "{book}. Authority decides.",
        )
        return tuple(self.say(phrase, book=book) for phrase in phrases)

    # ---- lists -------------------------------------------------------------------------------

    def allergen(self, name: str) -> str:
        """An allergen of the nine or the fourteen; any other word stays as it was written."""
        known, english = name.strip().casefold(), self.language == "en"
        return _translated(self.language, known) if known in ALLERGENS and not english else name

    def more(self) -> str:
        """The end of a list that did not fit, ``… +{count} more``, its number still open."""
        return self.say("…~+{count}~more")


def _marked(text: str) -> str:
    return text.replace("~", _TIGHT)


@lru_cache(maxsize=1024)
def _translated(language: str, text: str) -> str:
    catalogue = _catalogue(language)
    return _marked(text if catalogue is None else catalogue.gettext(text))


@lru_cache
def speak(languages: tuple[str, ...] = ("en",)) -> Words:
    """The words of a label in ``languages``: one, or two of which the second is said beside the
    first where guests' safety hangs on it.

    Raises ``Mistake("bad-language")`` for a language there is none of, none at all, more than
    two, or one twice.
    """
    known = ", ".join(f"{code} ({name})" for code, name in LANGUAGES.items())
    for language in languages:
        if language not in LANGUAGES:
            raise Mistake(
                "bad-language", f"No labels in {language!r}.", f"The languages of labels: {known}."
            )
    if not 1 <= len(set(languages)) == len(languages) <= MOST_LANGUAGES:
        raise Mistake(
            "bad-language",
            f"{', '.join(languages) or 'No language'}: a label speaks one or two languages, "
            "not the same twice.",
            f"The languages of labels: {known}.",
        )
    return Words(languages[0], Words(languages[1]) if languages[1:] else None)


@lru_cache
def _catalogue(language: str) -> "NullTranslations | None":
    """The translations of ``language``; ``None`` for English, which the phrases are in."""
    if language == "en":
        return None
    from gettext import GNUTranslations  # noqa: PLC0415

    folder = resources.files("holdlog.labels").joinpath("locale", language, "LC_MESSAGES")
    with folder.joinpath("labels.mo").open("rb") as file:
        return GNUTranslations(file)


ENGLISH = speak()

# ---- said to the cook, not printed ---------------------------------------------------------------


def cut_warning(field: str, lost: str) -> str:
    """Said to the cook when text did not fit."""
    return f"{field}: cut to fit, not printed: {loose(lost)}"


def left_out_warning(field: str, text: str) -> str:
    """Said to the cook when a label has no place for something at all."""
    return f"{field} not on this label: {loose(text)}"


def wording_left_out_warning() -> str:
    """Said to the cook when a label has no place for what its pack has to say."""
    return "the wording this pack must bear is not on this label: leave the pack's own label on it"


def sign_warning(field: str, signs: str) -> str:
    """Said to the cook when no font has a character."""
    return f"{field}: the label font has no sign for {signs}; printed as {UNKNOWN_SIGN}"
