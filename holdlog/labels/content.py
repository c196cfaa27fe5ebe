"""What each place of a template holds for one label: text only, no sizes and no dots."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, get_args

from holdlog.core import codes
from holdlog.core.errors import Mistake
from holdlog.labels import words
from holdlog.labels.label import Label

Face = Literal["dated", "timed", "unknown", "cooling", "frozen", "stop"]
"""How a label presents itself, which decides the fields that appear on it."""

FACES: tuple[Face, ...] = get_args(Face)

# How far ahead a year is no longer obvious to somebody at the shelf. Our choice, no source.
FAR_DAYS = 180


@dataclass(frozen=True, slots=True)
class Part:
    """One piece of text.

    Of a list, ``pieces`` are its items and ``lead`` the word before them, so that it can be cut
    between items and say how many are missing. ``shorter`` are wordings to try before any cut.
    """

    key: str
    text: str
    pieces: tuple[str, ...] = ()
    lead: str = ""
    shorter: tuple[str, ...] = ()


PARTS = (
    "item", "kicker", "year", "headline", "beside", "then", "made", "place", "allergens",
    "cautions", "code", "count", "small-print",
)  # fmt: skip
CELLS = ("writing",)


def face(label: Label) -> Face:
    """Which face the label shows. Nothing left to use beats everything else."""
    if label.days_left is not None and label.days_left <= 0:
        return "stop"
    if label.purpose == "cooling":
        return "cooling"
    if label.purpose == "frozen":
        return "frozen"
    if label.use_by is None:
        return "dated" if _best_by(label) else "unknown"
    return "timed" if words.last_day_or_moment(label.use_by)[1] else "dated"


def say(label: Label) -> dict[str, Part]:
    """Every part of the label that has something to say, by the name templates use for it.

    Raises ``Mistake("bad-code")`` for a code that does not check: it could never be scanned.
    """
    if not codes.is_code(label.code):
        raise Mistake("bad-code", f"{label.code!r} is not a container code; no label was made.")
    texts = {
        "item": label.item,
        "made": _made(label),
        "place": words.BETWEEN.join(
            words.tight(text) for text in (label.amount, label.unit, label.keep_at) if text
        ),
        "code": codes.show(label.code),
        "count": _count(label),
        **_headline(label),
    }
    parts = {key: Part(key, text) for key, text in texts.items() if text}
    if label.stands_on:
        first, *shorter = words.small_print(label.stands_on)
        parts["small-print"] = Part("small-print", first, shorter=tuple(shorter))
    listed = label.allergens or (words.NONE_LISTED,)
    parts["allergens"] = _list("allergens", listed, f"{words.ALLERGENS} ")
    if label.cautions:
        parts["cautions"] = _list("cautions", label.cautions)
    return parts


def writing(label: Label) -> tuple[str, ...]:
    """The captions of the boxes left open for the pen."""
    if face(label) == "frozen":
        return (words.THAWED_ON, words.THEN_USE_BY)
    if not label.cooling_limits:
        return (words.FIRST_READING, words.SECOND_READING)
    by = label.cooling_deadlines
    return tuple(
        words.reach(limit, by[i] if i < len(by) else "")
        for i, limit in enumerate(label.cooling_limits)
    )


def _headline(label: Label) -> dict[str, str]:
    """The parts around the largest thing on the label, by face."""
    shown = face(label)
    if shown == "stop":
        state = words.FROZEN + words.BETWEEN if label.purpose == "frozen" else ""
        return {"headline": words.DO_NOT_USE, "kicker": state + words.NO_DAYS_LEFT}
    if shown == "frozen":
        left = words.days_left(label.days_left, label.limit_needed)
        return {"headline": words.FROZEN, "beside": left}
    if shown == "cooling":
        then = _then(label)
        return {"headline": words.COOLING, "beside": words.DO_NOT_SERVE, "then": then}
    return _no_use_by(label) if label.use_by is None else _use_by(label, label.use_by)


def _no_use_by(label: Label) -> dict[str, str]:
    if label.limit_needed:
        return {"headline": words.NO_LIMIT, "kicker": words.ASK}
    best = _best_by(label)
    if best is None:
        return {"headline": words.NO_DATE_NEEDED, "kicker": words.NOT_TCS}
    return _day(label, best, words.NOT_TCS_BEST_BY)


def _best_by(label: Label) -> date | None:
    """The quality date, where it is the only one: never in the place of a safety limit."""
    return label.best_by if label.use_by is None and not label.limit_needed else None


def _then(label: Label) -> str:
    if label.use_by is None:
        return words.then_no_limit(label.limit_needed)
    on, hour = words.last_day_or_moment(label.use_by)
    return words.then_use_by(f"{words.day_large(on)} {hour}".rstrip())


def _use_by(label: Label, use_by: date | datetime) -> dict[str, str]:
    on, hour = words.last_day_or_moment(use_by)
    if hour:
        return {"headline": f"{words.use_by_hour(hour)} {words.day_large(on)}"}
    kicker = {
        "thawed": words.THAWED_USE_BY,
        "opened": words.OPENED_USE_BY,
        "received": words.RECEIVED_USE_BY,
    }.get(label.purpose, words.USE_BY)
    return _day(label, on, kicker)


def _day(label: Label, on: date, kicker: str) -> dict[str, str]:
    far = (on - label.started.date()).days > FAR_DAYS
    year = {} if far else {"year": str(on.year)}
    return {"headline": words.day_large(on, year=far), "kicker": kicker, **year}


def _made(label: Label) -> str:
    # The year stands here wherever the use-by does not carry it.
    with_year = not label.frozen_on and face(label) in ("unknown", "timed", "stop", "frozen")
    days = []
    if label.thawed_on:
        days.append(words.thawed(label.thawed_on))
    if label.frozen_on:
        days.append(words.frozen(label.frozen_on, first=not days))
    made = words.MADE_AFTER if days else words.MADE
    verb = {"opened": words.OPENED, "received": words.RECEIVED}.get(label.purpose, made)
    days.append(words.tight(f"{verb} {words.moment(label.started, with_year)}"))
    if label.by:
        days.append(words.tight(label.by))
    return words.BETWEEN.join(days)


def _count(label: Label) -> str:
    count = words.number_of(label.number, label.count)
    return f"{words.copy(label.reprint)}{words.BETWEEN}{count}" if label.reprint else count


def _list(key: str, pieces: tuple[str, ...], lead: str = "") -> Part:
    return Part(key, lead + words.LISTED.join(pieces), pieces, lead)
