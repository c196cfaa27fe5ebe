"""The fold: every history that bears on a container, each folded once, deepest first.

A dish asks two things of each ingredient: what it was when it was used (its limits and its
verdict then), and what was found out about it since (a fault that may have lain on it then).
One ingredient may reach a dish by very many paths and at great depth (a starter fed daily), so
the order is worked out with a list, not by recursion, and each answer is kept.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from holdlog.core.moments import Instant, local_date, show_dated_day
from holdlog.rules import cooling_faults, hazard
from holdlog.rules import faults as rule_faults
from holdlog.rules.category import Category
from holdlog.rules.cooling import CoolingVerdict
from holdlog.rules.counting import used
from holdlog.rules.course import Walk
from holdlog.rules.faults import Fault, Verdict, worse
from holdlog.rules.hazard import TcsFinding
from holdlog.rules.history import History, Joined
from holdlog.rules.kinds import FreezeRule, Source, TcsRule
from holdlog.rules.limits import (
    Bound,
    inherited,
    most_pressing,
    own_bounds,
    printed_bound,
)
from holdlog.rules.measures import measures
from holdlog.rules.outlook import Outlook
from holdlog.rules.stack import Stack
from holdlog.rules.time_control import time_control
from holdlog.rules.walk import walk

Key = tuple[int, Instant]


@dataclass(frozen=True, slots=True)
class Folded:
    """What the rules find in one history up to ``at``, before anything is weighed.

    ``holds`` are the kinds of food in it that were not cooked with it, its own among them.
    """

    history: History
    at: Instant
    walk: Walk
    tcs: TcsFinding
    bounds: list[Bound]
    faults: list[Fault]
    cautions: list[str]
    cooling: CoolingVerdict | None
    ahead: Outlook | None
    holds: frozenset[str]


@dataclass(frozen=True, slots=True)
class Weighed:
    """The worst of dates and faults. ``dated`` are the limits that have an instant now."""

    verdict: Verdict
    reason: str
    fault: Fault | None
    use_by: Instant | None
    left: int | None
    binding: tuple[Bound, Instant] | None
    dated: list[tuple[Bound, Instant]]


def fold(
    history: History,
    stack: Stack,
    at: Instant,
    where: ZoneInfo,
    done: dict[Key, Folded] | None = None,
) -> Folded:
    """Fold ``history`` as of ``at``, and everything that went into it.

    ``done`` keeps what was folded, for the next history of the same stack, moment and zone.
    """
    done = {} if done is None else done
    todo = [(history, at)]
    while todo:
        food, until = todo[-1]
        if (id(food), until) in done:
            todo.pop()
            continue
        waits = [need for need in _needs(food, until, at) if (id(need[0]), need[1]) not in done]
        if waits:
            todo += waits
            continue
        done[id(food), until] = _fold_one(food, stack, until, where, _Kept(done, at))
        todo.pop()
    return done[id(history), at]


def _needs(food: History, until: Instant, now: Instant) -> Iterable[tuple[History, Instant]]:
    for part in food.joined:
        if part.at <= until:
            yield part.history, part.at
            if until == now:
                yield part.history, now


@dataclass(frozen=True, slots=True)
class _Kept:
    done: dict[Key, Folded]
    now: Instant

    def then(self, part: Joined) -> Folded:
        """The ingredient as it was when it was used."""
        return self.done[id(part.history), part.at]

    def found_since(self, part: Joined) -> list[Fault]:
        """The faults known of the ingredient by now that may have lain on it then."""
        later = self.done.get((id(part.history), self.now))
        if later is None:
            return []
        return [
            fault for fault in later.faults if fault.since is not None and fault.since <= part.at
        ]


def _fold_one(whole: History, stack: Stack, at: Instant, where: ZoneInfo, kept: _Kept) -> Folded:
    history = whole.until(at)
    category = stack.category(history.food.category)
    parts = [kept.then(part) for part in history.joined]
    # Times out add up, and those of an ingredient stay in what is made of it.
    out_before = max((part.walk.out_before for part in parts), default=0)
    so_far = walk(history, measures(stack, history.food.category, where), out_before)
    if not stack.of_kind(FreezeRule):
        so_far.spells.clear()  # nothing in these rules says that time frozen is left out
    tcs_rules = stack.of_kind(TcsRule)
    tcs = hazard.decide(
        history.food,
        category,
        tcs_rules[0] if tcs_rules else None,
        opened=so_far.opened is not None,
        made_here=so_far.prepared is not None,
    )
    bounds, said = own_bounds(history, so_far, stack, tcs.tcs, where)
    cooling, ahead, faults = cooling_faults.cooling(
        history, so_far, stack, at, measures(stack, history.food.category, where).cold
    )
    faults += rule_faults.marks(so_far, stack)
    faults += rule_faults.temperatures(so_far, stack, at, where, tcs=hazard.applies(tcs.tcs))
    faults += rule_faults.recalled(so_far, where)
    holds = _holds(history, category, so_far, parts)
    faults += rule_faults.susceptible(history, holds, stack)
    faults += time_control(history, so_far, stack, at)
    faults += rule_faults.packing(history, so_far, stack)
    reheating, said_of_heat = rule_faults.reheating(history, so_far, stack)
    faults += reheating
    cautions = [*tcs.cautions, *so_far.cautions, *said, *said_of_heat]
    seen = set(bounds)
    for part in history.joined:
        handed, part_faults = _ingredient(part, history, so_far, stack, where, kept)
        # The same limit of the same food may come by several paths: once is enough.
        bounds += [bound for bound in dict.fromkeys(handed) if bound not in seen]
        seen.update(handed)
        faults += part_faults
    # Last, so that with equal limits the rule behind the printed date is the one named.
    bounds += printed_bound(so_far)
    return Folded(history, at, so_far, tcs, bounds, faults, cautions, cooling, ahead, holds)


def _holds(
    history: History, category: Category, so_far: Walk, parts: list[Folded]
) -> frozenset[str]:
    """The kinds of food in it that are as they were: what was cooked with it is so no longer."""
    own = history.food.heat_treated
    heated = so_far.heated or (category.heat_treated if own is None else own)
    within = [] if heated else [part.holds for part in parts]
    return frozenset((history.food.category,)).union(*within)


def _ingredient(
    part: Joined, dish: History, so_far: Walk, stack: Stack, where: ZoneInfo, kept: _Kept
) -> tuple[list[Bound], list[Fault]]:
    """What an ingredient hands on: its limits, its verdict when used, and what was found since.

    More of the same item poured in hands on every limit; another ingredient those that it had
    as ready-to-eat food, at every depth.
    """
    folded = kept.then(part)
    then = weigh(folded, stack, where)
    name = part.history.name
    same = part.history.food.item == dish.food.item
    bounds = most_pressing([bound for bound in folded.bounds if bound.inherits or same])
    handed = inherited(bounds, name, so_far, part.at, stack)

    def fault(verdict: Verdict, says: str) -> Fault:
        source = Source("ingredient", "holdlog; 3-101.11", says, "inference")
        # A reheat that was due and not done cannot be made up for in the dish.
        return Fault("hold" if verdict == "reheat" else verdict, source, since=part.at)

    gone = folded.walk.discarded
    if gone is not None and gone < part.at:
        return handed, [fault("discard", f"Made with {name}, which had been discarded.")]
    faults = []
    if folded.walk.begins is None and folded.walk.ended:
        # Used up in it, so that it is no unmarked food itself any more.
        says = f"Made with {name}, of which nothing says when it was made, opened or received."
        faults.append(fault("discard", says))
    for found in kept.found_since(part):
        says = f"Made with {name}, of which was found later: {found.source.says}"
        # What is found of the ingredient may still change, and the dish with it.
        faults.append(replace(fault(found.verdict, says), changes_at=found.changes_at))
    if then.verdict not in ("last-day", "serve"):
        # First, so that with equal verdicts it is the one named.
        says = f"Made with {name}, which was not fit then: {then.reason}"
        faults.insert(0, fault(then.verdict, says))
    return handed, faults


def weigh(folded: Folded, stack: Stack, where: ZoneInfo) -> Weighed:
    """The earliest limit binds, and the worst verdict wins."""
    limits = [(bound, bound.last(stack, where)) for bound in folded.bounds]
    dated = [(bound, last) for bound, last in limits if last is not None]
    frozen = folded.walk.frozen
    # With equal limits the first wins: the food's own rules stand before those it inherits.
    binding = min(dated, key=lambda pair: pair[1], default=None)
    use_by = binding[1] if binding is not None and not frozen else None
    left = days_left(folded.bounds, stack, folded.at, where) if frozen else None
    fault = min(folded.faults, key=badness, default=None)
    verdict, reason = _by_date(use_by, left, folded.at, where)
    if fault is not None and worse(fault.verdict, verdict) == fault.verdict:
        verdict, reason = fault.verdict, fault.source.says
    return Weighed(verdict, reason, fault, use_by, left, binding, dated)


def badness(fault: Fault) -> tuple[int, bool]:
    """The place of a fault in the order: worst verdict first, what passes by itself last."""
    return rule_faults.WORST_FIRST.index(fault.verdict), fault.passing


def _by_date(
    use_by: Instant | None, left: int | None, at: Instant, where: ZoneInfo
) -> tuple[Verdict, str]:
    if left is not None:
        return ("serve", "") if left >= 1 else ("discard", "No days are left once it is thawed.")
    if use_by is None:
        return "serve", ""
    last = local_date(use_by, where)
    if at > use_by:
        return "discard", f"Past its limit: {show_dated_day(last)}."
    if last == local_date(at, where):
        return "last-day", "Its last day is today."
    return "serve", ""


def days_left(bounds: list[Bound], stack: Stack, at: Instant, where: ZoneInfo) -> int | None:
    """Days it may still be kept if it were thawed now, that day included; None: no limit."""
    left = []
    for bound in bounds:
        if bound.count is not None:
            left.append(bound.count.days - used(bound.count, at, stack.conventions, where))
        elif bound.instant is not None:
            days = (local_date(bound.instant, where) - local_date(at, where)).days + 1
            left.append(days if at <= bound.instant else 0)
    return max(0, min(left)) if left else None
