"""How a label presents itself: the faces, and the parts that a template may show on them."""

from datetime import datetime
from typing import Literal, get_args

from holdlog.labels.label import Label

Face = Literal[
    "dated", "timed", "unknown", "cooling", "frozen", "stop",
    "hour", "hot", "pack", "hold", "discard", "twin",
]  # fmt: skip
"""How a label presents itself, which decides the fields that appear on it."""

FACES: tuple[Face, ...] = get_args(Face)

PARTS = (
    "item", "kicker", "year", "headline", "beside", "then", "also", "wording", "packed", "reason",
    "made", "place", "allergens", "cautions", "code", "count", "belongs", "small-print",
    "journal-head",
)  # fmt: skip
CELLS = ("writing",)

ALWAYS = ("item", "headline", "code", "count")
"""Parts that have to be on every face: what it is, how it stands, and which one."""

# What each face has to show beside them: no template may leave these out.
NEEDED: dict[Face, tuple[str, ...]] = {
    "dated": ("kicker",),
    "timed": ("kicker",),
    "unknown": ("kicker",),
    "cooling": ("beside",),
    "frozen": ("beside",),
    "stop": ("kicker",),
    "hour": ("kicker", "beside"),
    "hot": ("then",),
    "pack": ("kicker", "wording", "packed"),
    "hold": ("beside", "reason"),
    "discard": ("kicker", "reason"),
    "twin": ("kicker", "beside", "belongs"),
}

# What a template has to show, or to say in ``leaves_out`` that it does not. Not on the faces
# of the second line: a twin's full label is on the lid, and nobody eats from a discard tag.
DETAILS = ("also", "allergens", "cautions", "made", "place", "small-print", "journal-head")
DETAILS_ON: dict[Face, tuple[str, ...]] = {
    "dated": ("year",),
    "timed": ("year",),
    "cooling": ("then", "writing"),
    "frozen": ("writing",),
    "hot": ("beside",),
    "pack": ("year",),
    "discard": ("made",),
}
BARE: tuple[Face, ...] = ("discard", "twin")

# Safety details: where they are left out, the cook is told what they were.
TOLD = ("also", "allergens", "cautions")

# Half a date or half a code is worse than no label.
NEVER_CUT = (
    "kicker", "year", "headline", "beside", "then", "also", "wording", "packed", "code", "writing",
    "belongs",
)  # fmt: skip


def face(label: Label) -> Face:
    """Which face the label shows.

    Food set aside beats all, then nothing left to use, then a hold: none of these has a date.
    """
    if label.twin:
        return "twin"
    return state(label)


_OF_PURPOSE: dict[str, Face] = {
    "cooling": "cooling", "frozen": "frozen", "hot-held": "hot", "reduced-oxygen": "pack",
}  # fmt: skip


def state(label: Label) -> Face:
    """The face that a label shows, or that its twin speaks of."""
    shown: Face
    if label.purpose == "discard":
        shown = "discard"
    elif label.days_left is not None and label.days_left <= 0:
        shown = "stop"
    elif label.held:
        shown = "hold"
    elif label.purpose in _OF_PURPOSE:
        shown = _OF_PURPOSE[label.purpose]
    elif label.use_by is None:
        shown = "unknown" if label.limit_needed or label.best_by is None else "dated"
    elif label.purpose == "time-control" and isinstance(label.use_by, datetime):
        shown = "hour"
    else:
        shown = "timed" if has_hour(label.use_by) else "dated"
    return shown


def has_hour(use_by: object) -> bool:
    """Whether a use-by is an hour. The first and the last minute of a day stand for its end."""
    if not isinstance(use_by, datetime):
        return False
    return (use_by.hour, use_by.minute) not in ((0, 0), (23, 59))
