"""Where a container stands: history and stack in, verdict and date with their basis out.

The earliest limit binds; faults override dates; the worst verdict wins. Losing findings stay
in the basis, so that "why this date?" always has an answer. When in doubt: hold or discard.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from holdlog.core.events import Conventions
from holdlog.core.moments import Instant, iso, local_date, show_day
from holdlog.rules import faults as rule_faults
from holdlog.rules import hazard
from holdlog.rules.cooling import CoolingVerdict
from holdlog.rules.counting import used
from holdlog.rules.faults import Fault, Verdict, worse
from holdlog.rules.hazard import Tcs, TcsFinding
from holdlog.rules.history import History
from holdlog.rules.limits import Bound, inherited, own_bounds
from holdlog.rules.quality import best_by
from holdlog.rules.rulebook import Source, TcsRule
from holdlog.rules.stack import Stack
from holdlog.rules.walk import Walk, measures, walk


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule that had something to say: its source, the limit it sets, whether it binds."""

    source: Source
    limit: Instant | None
    binds: bool


@dataclass(frozen=True, slots=True)
class Holding:
    """Where a container stands at one moment. See the scenario contract in the manual.

    ``use_by`` is the last instant it may be served; ``day`` of ``of`` is the binding day count;
    ``review_at`` is the next instant at which the verdict can change other than by ``use_by``;
    ``reason`` says in one sentence why the verdict is not "serve".
    """

    verdict: Verdict
    state: str
    tcs: Tcs
    use_by: Instant | None
    last_day: date | None
    day: int | None
    of: int | None
    days_left_once_thawed: int | None
    best_by: date | None
    cooling: CoolingVerdict | None
    basis: tuple[Finding, ...]
    cautions: tuple[str, ...]
    conventions: Conventions
    reason: str
    fault: Verdict | None
    review_at: Instant | None

    @property
    def binding(self) -> Finding | None:
        """The finding that fixes the date, if there is one."""
        return next((finding for finding in self.basis if finding.binds), None)


@dataclass(frozen=True, slots=True)
class _Folded:
    walk: Walk
    tcs: TcsFinding
    bounds: list[Bound]
    faults: list[Fault]
    cautions: list[str]
    cooling: CoolingVerdict | None


def holding(history: History, stack: Stack, at: Instant, where: ZoneInfo) -> Holding:
    """Fold ``history`` under ``stack`` as of ``at``; calendar days are those of ``where``.

    Events after ``at`` are ignored. The same history, in whatever order it was written, gives
    the same holding.
    """
    return _judged(history, _fold(history.until(at), stack, at, where), stack, at, where)


def _fold(history: History, stack: Stack, at: Instant, where: ZoneInfo) -> _Folded:
    category = stack.category(history.food.category)
    so_far = walk(history, measures(stack, history, where))
    tcs_rules = stack.of_kind(TcsRule)
    tcs = hazard.decide(
        history.food, category, tcs_rules[0] if tcs_rules else None, opened=so_far.opened is not None
    )
    bounds, cautions = own_bounds(history, so_far, stack, tcs.tcs, where)
    cooling, faults = rule_faults.cooling(history, so_far, stack, at)
    faults += rule_faults.marks(so_far, stack)
    faults += rule_faults.temperatures(so_far, where)
    faults += rule_faults.time_control(history, so_far, stack)
    faults += rule_faults.packing(history, so_far, stack)
    cautions = [*tcs.cautions, *so_far.cautions, *cautions, *rule_faults.reheating(so_far, stack)]
    for part in history.joined:
        part_bounds, part_faults = _ingredient(part.history, so_far, stack, part.at, where)
        bounds += part_bounds
        faults += part_faults
    return _Folded(so_far, tcs, bounds, faults, cautions, cooling)


def _ingredient(
    history: History, dish: Walk, stack: Stack, joined_at: Instant, where: ZoneInfo
) -> tuple[list[Bound], list[Fault]]:
    """What an ingredient hands on: its ready-to-eat limits, and the verdict it had when used."""
    before = history.until(joined_at)
    folded = _fold(before, stack, joined_at, where)
    then = _judged(before, folded, stack, joined_at, where)
    category = stack.category(history.food.category)
    bounds = folded.bounds if hazard.ready_to_eat(history.food, category) else []
    handed = inherited(bounds, history.name, dish, joined_at, stack)
    if then.verdict in ("last-day", "serve"):
        return handed, []
    says = f"Made with {history.name}, which was not fit then: {then.reason}"
    return handed, [Fault(then.verdict, Source("ingredient", "holdlog; 3-101.11", says, "inference"))]


def _judged(
    history: History, folded: _Folded, stack: Stack, at: Instant, where: ZoneInfo
) -> Holding:
    limits = [(bound, bound.last(stack, where)) for bound in folded.bounds]
    dated = [(bound, last) for bound, last in limits if last is not None]
    frozen = folded.walk.frozen
    # With equal limits the first wins: the food's own rules stand before those it inherits.
    binding = min(dated, key=lambda pair: pair[1], default=None)
    use_by = binding[1] if binding is not None and not frozen else None
    left = _days_left(folded.bounds, stack, at, where) if frozen else None
    fault = min(folded.faults, key=_badness, default=None)
    by_date, reason = _by_date(use_by, left, at, where)
    verdict: Verdict = worse(fault.verdict, by_date) if fault else by_date
    if fault is not None and verdict == fault.verdict:
        reason = fault.source.says
    count = _counting(folded.bounds, binding, stack, at, where, frozen=frozen)
    best = best_by(history.food, folded.walk, stack, use_by, where)
    shown = count[0] if frozen and count else (binding[0] if binding else None)
    return Holding(
        verdict=verdict,
        state=folded.walk.state,
        tcs=folded.tcs.tcs,
        use_by=use_by,
        last_day=local_date(use_by, where) if use_by is not None else None,
        day=count[1] if count and not frozen else None,
        of=count[0].count.days if count and count[0].count else None,
        days_left_once_thawed=left,
        best_by=best,
        cooling=folded.cooling,
        basis=_basis(folded, limits, shown, stack),
        cautions=tuple(dict.fromkeys(_cautions(history, folded, stack, best, at, where))),
        conventions=stack.conventions,
        reason=reason,
        fault=fault.verdict if fault else None,
        review_at=_review_at(folded, dated, at, frozen=frozen),
    )


def _badness(fault: Fault) -> int:
    return rule_faults.WORST_FIRST.index(fault.verdict)


def _by_date(
    use_by: Instant | None, left: int | None, at: Instant, where: ZoneInfo
) -> tuple[Verdict, str]:
    if left is not None:
        return ("serve", "") if left >= 1 else ("discard", "No days are left once it is thawed.")
    if use_by is None:
        return "serve", ""
    last = local_date(use_by, where)
    if at > use_by:
        return "discard", f"Past its limit: {show_day(last)}."
    if last == local_date(at, where):
        return "last-day", "Its last day is today."
    return "serve", ""


def _days_left(bounds: list[Bound], stack: Stack, at: Instant, where: ZoneInfo) -> int | None:
    """Days it may still be kept if it were thawed now, that day included; None: no limit."""
    left = []
    for bound in bounds:
        if bound.count is not None:
            left.append(bound.count.days - used(bound.count, at, stack.conventions, where))
        elif bound.instant is not None:
            days = (local_date(bound.instant, where) - local_date(at, where)).days + 1
            left.append(days if at <= bound.instant else 0)
    return max(0, min(left)) if left else None


def _counting(
    bounds: list[Bound],
    binding: tuple[Bound, Instant] | None,
    stack: Stack,
    at: Instant,
    where: ZoneInfo,
    *,
    frozen: bool,
) -> tuple[Bound, int] | None:
    """The day count that binds and the day it has reached; while frozen, the one with the
    fewest days left."""
    counted = [
        (bound, used(bound.count, at, stack.conventions, where))
        for bound in bounds
        if bound.count is not None
    ]
    if frozen:
        return min(counted, key=lambda pair: _spare(*pair), default=None)
    return next((pair for pair in counted if binding is not None and pair[0] is binding[0]), None)


def _spare(bound: Bound, days_used: int) -> int:
    return bound.count.days - days_used if bound.count else 0


def _basis(
    folded: _Folded, limits: list[tuple[Bound, Instant | None]], shown: Bound | None, stack: Stack
) -> tuple[Finding, ...]:
    found = [Finding(bound.source, last, bound is shown) for bound, last in limits]
    found.sort(key=lambda finding: (not finding.binds, finding.limit is None, finding.limit or 0))
    tcs_rules = stack.of_kind(TcsRule)
    decision = hazard.source(tcs_rules[0] if tcs_rules else None, folded.tcs)
    others = [fault.source for fault in sorted(folded.faults, key=_badness)]
    return (*found, *(Finding(source, None, binds=False) for source in (*others, decision)))


def _cautions(
    history: History, folded: _Folded, stack: Stack, best: date | None, at: Instant, where: ZoneInfo
) -> list[str]:
    said = [*stack.cautions, *folded.cautions]
    if folded.walk.unlogged:
        said.append(
            f"no-temperature-logged: it counts as chilled under control from when it was "
            f"{folded.walk.unlogged}; no temperature was logged."
        )
    if not folded.bounds and hazard.applies(folded.tcs.tcs) and folded.walk.state != "gone":
        said.append("no-limit-known: no rule here sets a limit; the person in charge decides.")
    if folded.tcs.tcs == "assess":
        said.append("assess: treated as TCS until a product assessment says otherwise.")
    if best is not None and local_date(at, where) > best:
        said.append(f"past-best: past its best since {show_day(best)}.")
    if folded.walk.out is not None:
        said.append("time-control: chilling, freezing or heating it now changes nothing.")
    for bound in folded.bounds:
        if bound.source.seen == "memory":
            said.append(
                f"from-memory: {bound.source.cite} was not seen in its text; check it with the "
                "local authority."
            )
    said += [caution.says for caution in stack.category(history.food.category).cautions]
    said.append(f"{stack.adopted.title}: the local health authority has the last word.")
    return said


def _review_at(
    folded: _Folded, dated: list[tuple[Bound, Instant]], at: Instant, *, frozen: bool
) -> Instant | None:
    moments = [fault.changes_at for fault in folded.faults if fault.changes_at is not None]
    if frozen:
        moments += [last for _, last in dated]
    return min((moment for moment in moments if moment >= at), default=None)


def as_json(found: Holding, where: ZoneInfo) -> dict[str, Any]:
    """The holding as plain data, in the form of the scenario contract."""

    def moment(at: Instant | None) -> str | None:
        return iso(at, where) if at is not None else None

    cooling = found.cooling
    return {
        "verdict": found.verdict,
        "state": found.state,
        "tcs": found.tcs,
        "use_by": moment(found.use_by),
        "last_day": found.last_day.isoformat() if found.last_day else None,
        "day": found.day,
        "of": found.of,
        "days_left_once_thawed": found.days_left_once_thawed,
        "best_by": found.best_by.isoformat() if found.best_by else None,
        "cooling": {
            "first": cooling.first,
            "whole": cooling.whole,
            "deadline_first": moment(cooling.deadline_first),
            "deadline_whole": moment(cooling.deadline_whole),
            "forecast": None,
            "pace": None,
        }
        if cooling
        else None,
        "basis": [
            {
                "rule": finding.source.rule,
                "cite": finding.source.cite,
                "says": finding.source.says,
                "limit": moment(finding.limit),
                "binds": finding.binds,
                "seen": finding.source.seen,
            }
            for finding in found.basis
        ],
        "cautions": list(found.cautions),
        "conventions": {
            "freeze_day": found.conventions.freeze_day,
            "thaw_day": found.conventions.thaw_day,
            "day_end": found.conventions.day_end,
        },
    }
