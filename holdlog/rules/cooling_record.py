"""A cooling as it stands on record: its rule, its readings, and what each verdict rests on.

Nothing is judged here a second time: these are the readings that ``cooling`` judged by, for
people who ask why, and for the plot.
"""

from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from holdlog.core.moments import MINUTE, Instant
from holdlog.core.temperature import Limit
from holdlog.rules.cooling import (
    CoolingReading,
    CoolingVerdict,
    Stage,
    first_reached,
    is_reached,
    on_scale,
    starts_between,
)
from holdlog.rules.cooling_faults import on_record
from holdlog.rules.course import Move
from holdlog.rules.history import History
from holdlog.rules.kinds import CoolingRule
from holdlog.rules.measures import measures
from holdlog.rules.stack import Stack
from holdlog.rules.walk import walk


@dataclass(frozen=True, slots=True)
class Ground:
    """What the verdict on one stage rests on. ``allowed`` is in milliseconds.

    Its clock started between ``begun_after`` and ``begun_by``; the limit was crossed after
    ``above``, the last reading warmer than it, and by ``reached``, the first that showed it
    reached for good. None: there is no such reading.
    """

    name: Literal["first", "last"]
    stage: Stage
    limit: Limit
    start: Limit | None
    allowed: int
    deadline: Instant | None
    begun_after: Instant | None
    begun_by: Instant | None
    above: CoolingReading | None
    reached: CoolingReading | None

    @property
    def longest(self) -> int | None:
        """The longest time (ms) that the readings allow it to have taken; None: not known."""
        if self.reached is None or self.begun_after is None:
            return None
        return self.reached.at - self.begun_after

    @property
    def shortest(self) -> int | None:
        """The shortest time (ms) that the readings allow; None: not known."""
        if self.above is None or self.begun_by is None:
            return None
        return self.above.at - self.begun_by


@dataclass(frozen=True, slots=True)
class CoolingRecord:
    """One cooling of one container. ``rule`` and ``verdict`` None: nothing here gives it a clock.

    ``again``: it was heated again before, so that this is not its first cooling; ``reheated``:
    it has been heated again since.
    """

    rule: CoolingRule | None
    verdict: CoolingVerdict | None
    readings: tuple[CoolingReading, ...]
    moves: tuple[Move, ...]
    grounds: tuple[Ground, ...]
    again: bool
    reheated: bool

    @property
    def met(self) -> bool:
        """Whether every limit was reached in time, by the readings."""
        return self.verdict is not None and (
            self.verdict.whole == "met" and self.verdict.first in (None, "met")
        )


def cooling_record(
    history: History, stack: Stack, at: Instant, where: ZoneInfo
) -> CoolingRecord | None:
    """The last cooling of ``history`` as of ``at``; None where none was logged."""
    history = history.until(at)
    so_far = walk(history, measures(stack, history.food.category, where))
    found = on_record(history, so_far, stack, at)
    if found is None:
        last = so_far.cycles[-1]
        if not last.logged:
            return None
        again = len(so_far.cycles) > 1
        return CoolingRecord(
            None, None, (*last.readings,), (*last.moves,), (), again=again, reheated=False
        )
    rule, verdict, cycle = found
    began = so_far.begins if rule.hot is None else None
    return CoolingRecord(
        rule,
        verdict,
        (*cycle.readings,),
        (*cycle.moves,),
        _grounds(cycle.readings, rule, verdict, began),
        again=cycle is not so_far.cycles[0],
        reheated=cycle.reheated_at is not None,
    )


def _grounds(
    readings: list[CoolingReading],
    rule: CoolingRule,
    verdict: CoolingVerdict,
    began: Instant | None,
) -> tuple[Ground, ...]:
    started = starts_between(on_scale(readings, rule.hot), rule, began)
    whole = (rule.whole_minutes or 0) * MINUTE
    if rule.middle is None or verdict.first is None:
        return (_ground("last", verdict, readings, rule.cold, rule.hot, whole, started),)
    allowed = (rule.first_minutes or 0) * MINUTE
    first = _ground("first", verdict, readings, rule.middle, rule.hot, allowed, started)
    if rule.second_minutes is None:
        return first, _ground("last", verdict, readings, rule.cold, rule.hot, whole, started)
    # The clock of the last stage starts where the first one ends.
    allowed = rule.second_minutes * MINUTE
    started = _between(readings, rule.middle, first.reached)
    return first, _ground("last", verdict, readings, rule.cold, rule.middle, allowed, started)


def _between(
    readings: list[CoolingReading], limit: Limit, reached: CoolingReading | None
) -> tuple[Instant | None, Instant | None]:
    """The last reading above ``limit`` before it was ``reached``, and that one."""
    if reached is None:
        return None, None
    above = [
        each.at
        for each in on_scale(readings, limit)
        if not is_reached(each, limit) and not each.late and each.at <= reached.at
    ]
    return max(above, default=None), reached.at


def _ground(
    name: Literal["first", "last"],
    verdict: CoolingVerdict,
    readings: list[CoolingReading],
    limit: Limit,
    start: Limit | None,
    allowed: int,
    started: tuple[Instant | None, Instant | None],
) -> Ground:
    judged = on_scale(readings, limit)
    above = [each for each in judged if not is_reached(each, limit)]
    at = first_reached(readings, limit)
    reached = [each for each in judged if each.at == at and is_reached(each, limit)]
    of_first = name == "first"
    return Ground(
        name=name,
        stage=(verdict.first or verdict.whole) if of_first else verdict.whole,
        limit=limit,
        start=start,
        allowed=allowed,
        deadline=verdict.deadline_first if of_first else verdict.deadline_whole,
        begun_after=started[0],
        begun_by=started[1],
        above=above[-1] if above else None,
        reached=reached[0] if reached else None,
    )
