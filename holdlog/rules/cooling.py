"""The cooling verdict from discrete readings, by bracketing.

Nothing is interpolated: a chord across two readings can put the start late, which is lenient.
A limit was crossed somewhere between two readings; a stage is met only if even the longest
time those readings allow is within the limit, and missed only if even the shortest is not.
Anything else is unproven, and unproven food is not served.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from holdlog.core.moments import MINUTE, Instant
from holdlog.core.temperature import Limit, Temperature
from holdlog.rules.kinds import CoolingRule

Stage = Literal["met", "missed", "unproven", "running"]
# How long after the first deadline a reading still shows that food was found in time to be
# reheated. Ours: no code names it.
FOUND_IN_TIME = 60 * MINUTE


@dataclass(frozen=True, slots=True)
class CoolingReading:
    """A temperature while cooling. ``temperature`` None: known to be at or above the hot limit.

    A ``late`` one was written down on a later day and rests on no evidence: it may show that the
    food was too warm, never that it was in time.
    """

    at: Instant
    temperature: Temperature | None
    late: bool = False

    def hot(self, limit: Limit) -> bool:
        """Whether it was at or above the hot limit."""
        return self.temperature is None or limit.reached_from_below(self.temperature)


@dataclass(frozen=True, slots=True)
class CoolingVerdict:
    """What the readings prove of each stage, the deadlines, and whether one reheat is offered.

    A rule with one limit reports it in ``whole``. Deadlines are None while no reading (or
    off-heat time) fixes the start.
    """

    first: Stage | None
    whole: Stage
    deadline_first: Instant | None
    deadline_whole: Instant | None
    found_in_time: bool

    @property
    def missed(self) -> bool:
        """Whether any stage is missed."""
        return "missed" in (self.first, self.whole)

    @property
    def unproven(self) -> bool:
        """Whether any stage can no longer be proved by the readings there are."""
        return "unproven" in (self.first, self.whole)

    @property
    def running(self) -> bool:
        """Whether it is still cooling, with nothing missed."""
        return not self.missed and not self.unproven and self.whole == "running"


def judge(
    readings: Sequence[CoolingReading],
    rule: CoolingRule,
    at: Instant,
    began: Instant | None = None,
) -> CoolingVerdict:
    """What ``readings`` (in order of time) prove at ``at`` under ``rule``.

    ``began`` bounds the start of a rule without a hot limit (food made from ingredients at room
    temperature): the clock starts at the earlier of it and the first reading.
    """
    early, late = starts_between(on_scale(readings, rule.hot), rule, began)
    if rule.middle is None or rule.first_minutes is None:
        limit = (rule.whole_minutes or 0) * MINUTE
        whole = _stage(readings, rule.cold, early, late, limit, at)
        deadline = Instant(early + limit) if early is not None else None
        return CoolingVerdict(None, whole, None, deadline, found_in_time=False)
    first_limit = rule.first_minutes * MINUTE
    first = _stage(readings, rule.middle, early, late, first_limit, at)
    deadline_first = Instant(early + first_limit) if early is not None else None
    whole, deadline_whole = _last_stage(readings, rule, early, late, deadline_first, at)
    found = deadline_first is not None and any(
        deadline_first <= reading.at <= deadline_first + FOUND_IN_TIME
        and not reading.late
        and not is_reached(reading, rule.middle)
        for reading in on_scale(readings, rule.middle)
    )
    return CoolingVerdict(first, whole, deadline_first, deadline_whole, found_in_time=found)


def _last_stage(
    readings: Sequence[CoolingReading],
    rule: CoolingRule,
    early: Instant | None,
    late: Instant | None,
    deadline_first: Instant | None,
    at: Instant,
) -> tuple[Stage, Instant | None]:
    """The stage to the cold limit, from the start or from reaching the middle limit.

    Counted from the middle limit, the clock starts somewhere between the last reading above it
    and the first at or below; until it is reached, the latest deadline there can be is shown.
    """
    if rule.second_minutes is None or rule.middle is None:
        limit = (rule.whole_minutes or 0) * MINUTE
        deadline = Instant(early + limit) if early is not None else None
        return _stage(readings, rule.cold, early, late, limit, at), deadline
    limit = rule.second_minutes * MINUTE
    middle = on_scale(readings, rule.middle)
    reached = first_reached(readings, rule.middle)
    if reached is None:
        deadline = Instant(deadline_first + limit) if deadline_first is not None else None
        return ("running" if deadline is not None and at < deadline else "unproven"), deadline
    above = [each.at for each in middle if not is_reached(each, rule.middle) and not each.late]
    begun = max((moment for moment in above if moment <= reached), default=None)
    deadline = Instant(begun + limit) if begun is not None else None
    return _stage(readings, rule.cold, begun, reached, limit, at), deadline


def on_scale(readings: Sequence[CoolingReading], limit: Limit | None) -> Sequence[CoolingReading]:
    """The readings that the limit can judge: nothing is converted to a scale it is not printed
    in. One that it cannot judge proves nothing, but it may contradict what was proved before.
    """
    if limit is None or (limit.f is not None and limit.c is not None):
        return readings
    return [
        reading
        for reading in readings
        if reading.temperature is None or limit.speaks(reading.temperature)
    ]


def starts_between(
    readings: Sequence[CoolingReading], rule: CoolingRule, began: Instant | None
) -> tuple[Instant | None, Instant | None]:
    """The earliest and the latest moment at which the clock can have started.

    The earliest is the last reading at or above the hot limit before the first below it.
    """
    if rule.hot is None:
        first = readings[0].at if readings else None
        starts = [moment for moment in (began, first) if moment is not None]
        return (min(starts), first) if starts else (None, None)
    early = None
    for reading in readings:
        if reading.hot(rule.hot):
            early = early if reading.late else reading.at
        else:
            return early, reading.at
    return early, None


def is_reached(reading: CoolingReading, limit: Limit) -> bool:
    """Whether ``reading`` shows the food at ``limit`` or colder."""
    return reading.temperature is not None and limit.reached_from_above(reading.temperature)


def _stage(
    readings: Sequence[CoolingReading],
    limit: Limit,
    start_early: Instant | None,
    start_late: Instant | None,
    allowed: int,
    at: Instant,
) -> Stage:
    """One stage: the limit was crossed after the last reading above it, and by the first
    reading at or below it that no later reading contradicts.
    """
    above = [reading.at for reading in on_scale(readings, limit) if not is_reached(reading, limit)]
    last_above = above[-1] if above else None
    reached = first_reached(readings, limit)
    if reached is not None and start_early is not None and reached - start_early <= allowed:
        return "met"
    if last_above is not None and start_late is not None and last_above - start_late >= allowed:
        # The reading is above the limit, so the crossing came strictly later than it.
        return "missed"
    if reached is None and start_early is not None and at < start_early + allowed:
        return "running"
    return "unproven"


def first_reached(readings: Sequence[CoolingReading], limit: Limit) -> Instant | None:
    """The first reading at or below ``limit`` that no later reading contradicts."""
    above = [reading.at for reading in readings if not is_reached(reading, limit)]
    return next(
        (
            reading.at
            for reading in readings
            if is_reached(reading, limit)
            and not reading.late
            and (not above or reading.at > above[-1])
        ),
        None,
    )
