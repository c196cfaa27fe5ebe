"""What one label says, as plain data. Whoever fills it in has already decided every date."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

Purpose = Literal["prepared", "opened", "received", "cooling", "frozen", "thawed"]


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
    keep_at: str = ""  # "41 °F or below"
    allergens: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    stands_on: str = ""  # the rulebook, for the small print
    reprint: int = 0  # 0: the original; n: the n-th copy
    cooling_limits: tuple[str, ...] = ()  # "70 °F", "41 °F"
    cooling_deadlines: tuple[str, ...] = ()  # "by 16:00", one for each limit, or none at all
