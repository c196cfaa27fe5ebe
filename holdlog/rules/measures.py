"""Which limits a reading is judged by, and whether it keeps them."""

from decimal import Decimal
from functools import lru_cache
from zoneinfo import ZoneInfo

from holdlog.core.events import Reheated
from holdlog.core.moments import HOUR
from holdlog.core.temperature import Limit, Temperature
from holdlog.rules.course import Beyond, Measures, Walk
from holdlog.rules.history import Event
from holdlog.rules.kinds import (
    CoolingRule,
    FreezeRule,
    HoldingLimitRule,
    ReheatRule,
    Source,
    TimeControlRule,
)
from holdlog.rules.stack import Stack

# A reading warmer than ice means that the food is not frozen, whatever unit it stands in.
FROZEN_FOOD = HoldingLimitRule(
    Source("frozen-holding", "3-501.11", "Frozen food is kept frozen.", "inference"),
    "safety",
    "frozen",
    Limit(Decimal(32), Decimal(0)),
)


@lru_cache(maxsize=256)
def measures(stack: Stack, category: str, where: ZoneInfo) -> Measures:
    """The limits of ``stack`` for food of ``category``: the house's own come last and can only
    tighten.
    """
    own = {id(rule) for rule in stack.house}
    known = stack.of_kind(HoldingLimitRule)
    law = [rule for rule in known if id(rule) not in own]
    house = [rule for rule in known if id(rule) in own]
    limits = {
        place: [*_of_law(law, place, category), *_of_house(house, place, category)]
        for place in ("cold", "hot", "frozen")
    }
    return Measures(
        cold=limits["cold"][-1] if limits["cold"] else None,
        hot=limits["hot"][-1] if limits["hot"] else None,
        holding=tuple(rule for rules in limits.values() for rule in rules),
        reheat=next(iter(stack.of_kind(ReheatRule)), None),
        at_once=tuple(method for rule in stack.of_kind(FreezeRule) for method in rule.at_once),
        coolings=tuple(stack.of_kind(CoolingRule)),
        returns={
            rule.plan: rule.returns_within_hours * HOUR
            for rule in stack.of_kind(TimeControlRule)
            if rule.returns_within_hours is not None
        },
        where=where,
    )


def _of_law(limits: list[HoldingLimitRule], place: str, category: str) -> list[HoldingLimitRule]:
    """The limits of a place for food of ``category``: one made for it replaces the general."""
    here = [rule for rule in limits if rule.place == place]
    named = [rule for rule in here if category in rule.categories]
    return named or [rule for rule in here if not rule.categories]


def _of_house(limits: list[HoldingLimitRule], place: str, category: str) -> list[HoldingLimitRule]:
    """The house's own, for all food or for this kind: beside the law's, never in their place."""
    return [
        rule
        for rule in limits
        if rule.place == place and (not rule.categories or category in rule.categories)
    ]


DOUBTED = (
    "A reading rests on a thermometer that was found off: it proves nothing. Read it again on a "
    "good one."
)


def judge_held(
    so_far: Walk, event: Event, reading: Temperature | None, limits: Measures, place: str
) -> bool:
    """Note whether ``reading`` is within every limit of its place; one beyond it is kept."""
    rules = [rule for rule in limits.holding if rule.place == place]
    if reading is None or not rules:
        return False
    for rule in rules:
        within = (
            rule.limit.reached_from_below(reading)
            if place == "hot"
            else rule.limit.reached_from_above(reading)
        )
        if not within and event.settled:
            so_far.cautions.append(
                f"{reading} was beyond its limit; the person in charge keeps it: {event.settled}."
            )
            return False
        if not within:
            so_far.beyond.append(Beyond(rule, reading, event.at, so_far.last_good))
            return False
    if event.doubted:
        so_far.cautions.append(DOUBTED)
    if not event.late(limits.where):
        so_far.last_good = event.at
        so_far.good_readings.append(event.at)
    return True


def reaches_target(fact: Reheated, rule: ReheatRule) -> bool:
    """Whether a reheat is known to have reached the target; what was not said is not held
    against the time it took or was held.
    """
    return (
        fact.temperature is not None
        and rule.target.reached_from_below(fact.temperature)
        and not _less(fact.held_seconds, rule.seconds)
        and not _less(rule.within_minutes, fact.took_minutes)
    )


def _less(one: int | None, other: int | None) -> bool:
    return one is not None and other is not None and one < other
