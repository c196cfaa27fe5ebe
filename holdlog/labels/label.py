"""What one label says, as plain data. Whoever fills it in has already decided every date."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

Purpose = Literal[
    "prepared", "opened", "received", "cooling", "frozen", "thawed",
    "time-control", "hot-held", "reduced-oxygen", "discard",
]  # fmt: skip
"""What a label is made for.

``time-control``: out of temperature control, an hour decides. ``hot-held``: in a hot box.
``reduced-oxygen``: a pack sealed here. ``discard``: a tag for food that waits to be thrown out.
"""


@dataclass(frozen=True, slots=True)
class Keep:
    """How to keep the food: at ``limit`` (``"41 °F"``) or below it, or above it, or frozen."""

    limit: str
    side: Literal["below", "above", "frozen"]


@dataclass(frozen=True, slots=True)
class PackRule:
    """What a pack sealed here has to say: kept at ``limit`` (``"41 °F (5 °C)"``) or below, and
    discarded unless served or eaten within ``days`` of packing.
    """

    limit: str
    days: int


@dataclass(frozen=True, slots=True)
class Label:
    """One label of one container.

    ``started`` is local wall-clock time: when the food was made, opened or received.
    ``use_by`` is the last day (a ``date``: until its end), the last moment (a ``datetime``, for
    hour limits) or ``None`` (frozen, or no limit known). ``limit_needed`` is ``False`` of food
    that is not TCS: where it has no use-by, the label says so, and ``best_by`` (quality only) if
    known, in place of a warning. Temperatures and amounts are text, as they are to be read.
    """

    purpose: Purpose
    item: str
    code: str  # eight characters, no dash
    number: int  # container ``number`` of ``count``
    count: int
    started: datetime
    use_by: date | datetime | None
    limit_needed: bool = True
    best_by: date | None = None  # shown only where no limit is needed and none is set
    days_left: int | None = None  # frozen: days left once thawed; 0 prints DO NOT USE
    frozen_on: date | None = None
    thawed_on: date | None = None
    amount: str = ""
    by: str = ""  # initials
    unit: str = ""
    keep_at: Keep | str = ""  # a text is printed as it stands, in no other language
    allergens: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    stands_on: str = ""  # the rulebook, for the small print
    reprint: int = 0  # 0: the original; n: the n-th copy
    cooling_limits: tuple[str, ...] = ()  # "70 °F", "41 °F"
    cooling_deadlines: tuple[str, ...] = ()  # "16:00", one for each limit, or none at all
    packed: datetime | None = None  # reduced-oxygen: when it was sealed
    pack_rule: PackRule | None = None  # said in the languages of the label; never cut
    pack_wording: tuple[str, ...] = ()  # further sentences, printed as they stand; never cut
    held: str = ""  # why it is on hold; not empty prints ON HOLD in place of any date
    reason: str = ""  # discard: why
    discarded: datetime | None = None  # discard: when it was set aside
    journal_head: str = ""  # "#1204 9f3a1c22": that of the journal when the label was made
    twin: bool = False  # the small second label, for the tub whose lid bears the full one
