"""What the cooling verdicts mean for the food: hold, reheat once, or discard."""

from collections.abc import Sequence
from decimal import Decimal

from holdlog.core.moments import HOUR, MINUTE, Instant
from holdlog.core.temperature import Limit
from holdlog.rules.cooling import (
    FOUND_IN_TIME,
    CoolingReading,
    CoolingVerdict,
    first_reached,
    judge,
)
from holdlog.rules.course import Cycle, Walk
from holdlog.rules.faults import Fault, Verdict
from holdlog.rules.history import History
from holdlog.rules.kinds import CoolingRule, HoldingLimitRule, ReheatRule, Source
from holdlog.rules.outlook import Outlook, look_ahead
from holdlog.rules.stack import Stack

_UNPROVEN = (
    "The readings do not prove that it cooled in time. Enter the missing reading and name its "
    "paper or logger, or discard."
)
# Held hot, out under time control or gone, it does not cool.
_COOLS = ("made", "cooling", "chilled", "frozen")
_REHEATED_EARLY = (
    "It was reheated before its cooling had finished, and no reheat was due: the person in charge "
    "decides."
)


def cooling(
    history: History, walk: Walk, stack: Stack, at: Instant, cold: HoldingLimitRule | None
) -> tuple[CoolingVerdict | None, Outlook | None, list[Fault]]:
    """The verdict on the last cooling that was logged, what is ahead of it, and the faults of all.

    ``cold`` is the limit of cold food here: without a rule of cooling, food is held till it is
    known to be that cold.
    """
    rules = _rules(history, walk, stack)
    if not rules:
        return None, None, _without_a_rule(walk, cold)
    if _no_clock(history, walk, rules[0]):
        return None, None, _still_warm(walk, rules[0])
    shown: CoolingVerdict | None = None
    ahead: Outlook | None = None
    faults: list[Fault] = []
    for number, rule in enumerate(rules):
        verdict, cycle, found = _under(walk, rule, at, _reheat_time(stack))
        faults += found
        if number == 0 and verdict is not None:
            shown = verdict
            if walk.state in _COOLS and not walk.ended:
                ahead = look_ahead(cycle, rule, verdict, at)
    return shown, ahead, faults


def on_record(
    history: History, walk: Walk, stack: Stack, at: Instant
) -> tuple[CoolingRule, CoolingVerdict, Cycle] | None:
    """The last cooling, its verdict and the rule it was judged by; None without a clock."""
    rules = _rules(history, walk, stack)
    if not rules or _no_clock(history, walk, rules[0]):
        return None
    verdict, cycle, _ = _under(walk, rules[0], at, _reheat_time(stack))
    return (rules[0], verdict, cycle) if verdict is not None else None


def _without_a_rule(walk: Walk, cold: HoldingLimitRule | None) -> list[Fault]:
    """These rules name no time for cooling; food that is on its way is held all the same."""
    readings = walk.cycles[-1].readings
    on_its_way = walk.state in ("cooling", "made") or walk.unlogged == "prepared"
    if not walk.cycles[-1].logged or not on_its_way:
        return []
    if cold is not None and _shown_cold(readings, cold.limit):
        return []
    says = "Still cooling, and these rules name no time for it: do not serve until it is cold."
    cite, seen = (cold.source.cite, cold.source.seen) if cold else ("holdlog", "inference")
    return [Fault("hold", Source("cooling", cite, says, seen), passing=True)]


def _shown_cold(readings: Sequence[CoolingReading], limit: Limit) -> bool:
    """Whether the last reading shows it cold. One written down late may only say it was not."""
    for reading in reversed(readings):
        is_cold = reading.temperature is not None and limit.reached_from_above(reading.temperature)
        if not (is_cold and reading.late):
            return is_cold
    return False


def _no_clock(history: History, walk: Walk, rule: CoolingRule) -> bool:
    """Whether the layer is thin enough, in cold enough a place, for the route without a clock.
    Unknown depth is deep, and what nobody measured is not cold.
    """
    food = history.food
    if food.depth_in is not None and food.depth_cm is not None:
        return False  # two depths: one of them is wrong
    thin_in = _at_most(food.depth_in, rule.no_clock_depth_in)
    if not thin_in and not _at_most(food.depth_cm, rule.no_clock_depth_cm):
        return False
    return all(_in_the_cold(cycle, rule) for cycle in walk.cycles if cycle.logged)


def _in_the_cold(cycle: Cycle, rule: CoolingRule) -> bool:
    """Whether everywhere it was put until a reading showed it cold was measured, and cold."""
    cold_at = first_reached(cycle.readings, rule.cold)
    # Of two entries of one moment the later written tells more: put there, and how warm it is.
    places = {
        move.at: move.surroundings for move in cycle.moves if cold_at is None or move.at < cold_at
    }
    named = [*places.values(), *cycle.surroundings]
    return bool(places) and all(
        place is not None and rule.cold.reached_from_above(place) for place in named
    )


def _at_most(depth: Decimal | None, limit: Decimal | None) -> bool:
    return depth is not None and limit is not None and depth <= limit


def _still_warm(walk: Walk, rule: CoolingRule) -> list[Fault]:
    """Without a clock, food is held until a reading shows it cold."""
    owes_proof = False
    for cycle in walk.cycles:
        # Heated again before it was cold, it still has to be shown cold, logged or not.
        if cycle.logged or (owes_proof and walk.state != "hot-held"):
            owes_proof = not _shown_cold(cycle.readings, rule.cold)
    if not owes_proof:
        return []
    says = (
        "Cooling in a thin layer, which has no clock: do not serve until a reading shows it cold."
    )
    source = Source(rule.source.rule, rule.source.cite, says, rule.source.seen)
    return [Fault("hold", source, passing=True)]


def _rules(history: History, walk: Walk, stack: Stack) -> list[CoolingRule]:
    """The rule for this food. Food marked as made of ingredients at room temperature that was
    hot all the same has to keep both rules.
    """
    rules = stack.of_kind(CoolingRule)
    cooked = [rule for rule in rules if rule.when == "cooked"]
    if not history.food.ambient_ingredients:
        return cooked[:1]
    ambient = [rule for rule in rules if rule.when == "ambient"]
    was_hot = any(
        rule.hot is not None and reading.hot(rule.hot)
        for rule in cooked
        for cycle in walk.cycles
        for reading in cycle.readings
    )
    return [*ambient[:1], *(cooked[:1] if was_hot or not ambient else [])]


def _reheat_time(stack: Stack) -> int:
    """How long reheating may take, in milliseconds: two hours (Food Code 3-403.11(D)), or what
    the stack says if that is less.
    """
    said = [rule.within_minutes for rule in stack.of_kind(ReheatRule)]
    return min([2 * HOUR, *(minutes * MINUTE for minutes in said if minutes is not None)])


def _under(
    walk: Walk, rule: CoolingRule, at: Instant, reheat_time: int
) -> tuple[CoolingVerdict | None, Cycle, list[Fault]]:
    """The verdict on the last cooling under ``rule``, that cooling, and the faults of all."""
    began = walk.begins if rule.hot is None else None
    shown: CoolingVerdict | None = None
    last = walk.cycles[-1]
    faults: list[Fault] = []
    reheats, owes_proof = 0, False
    for cycle in walk.cycles:
        # Food reheated because it had not cooled has to be shown to cool, logged or not; only
        # while it is held hot it is not cooling.
        if not cycle.logged and not (owes_proof and walk.state != "hot-held"):
            continue
        until = min(cycle.reheated_at, at) if cycle.reheated_at is not None else at
        verdict = judge(cycle.readings, rule, until, began)
        shown, last = verdict, cycle
        owes_proof = verdict.whole != "met" or verdict.first not in (None, "met")
        hot_again = cycle.reheated_at
        if (
            hot_again is not None
            and rule.reheat_once
            and not reheats
            and _mended(verdict, hot_again, reheat_time)
        ):
            reheats += 1
            continue
        faults += _faults(verdict, cycle, rule, at, reheats)
    return shown, last, faults


def _mended(verdict: CoolingVerdict, reheated_at: Instant, reheat_time: int) -> bool:
    """Whether a reheat mends this cooling: it came in time, and nothing worse is wrong."""
    in_time = verdict.first == "missed" and verdict.found_in_time
    if in_time and verdict.deadline_first is not None:
        # Found within the hour, it is hot again within the time that reheating may take.
        in_time = reheated_at <= verdict.deadline_first + FOUND_IN_TIME + reheat_time
    behind = verdict.first == "running"
    return (in_time or behind) and verdict.whole in ("running", "met")


def _faults(
    verdict: CoolingVerdict, cycle: Cycle, rule: CoolingRule, at: Instant, reheats: int
) -> list[Fault]:
    word, says, changes_at = _what_now(verdict, cycle, rule, at, reheats)
    if word == "serve":
        return []
    since = cycle.readings[0].at if cycle.readings else None
    source = Source(rule.source.rule, rule.source.cite, says, rule.source.seen)
    passing = word == "hold" and verdict.running and cycle.reheated_at is None
    return [Fault(word, source, changes_at, since, passing)]


def _what_now(  # noqa: PLR0911  (one way out for each thing to do)
    verdict: CoolingVerdict, cycle: Cycle, rule: CoolingRule, at: Instant, reheats: int
) -> tuple[Verdict, str, Instant | None]:
    if verdict.whole == "missed":
        return "discard", "Cooling missed its last limit: discard.", None
    if verdict.first == "missed":
        in_time = verdict.found_in_time and at <= (verdict.deadline_whole or at)
        if rule.reheat_once and not reheats and in_time and cycle.reheated_at is None:
            says = (
                f"Cooling missed its first limit: reheat once to the reheating target and cool "
                f"again, or discard ({rule.reheat_cite})."
            )
            return "reheat", says, verdict.deadline_whole
        return "discard", "Cooling missed its first limit: discard.", None
    if verdict.unproven:
        return "hold", _UNPROVEN, None
    if not verdict.running:
        return "serve", "", None
    if cycle.reheated_at is not None:
        return "hold", _REHEATED_EARLY, None
    deadlines = [
        moment
        for moment in (verdict.deadline_first, verdict.deadline_whole)
        if moment is not None and moment >= at
    ]
    return "hold", "Still cooling: do not serve.", min(deadlines, default=None)
