"""Where a container stands: history and stack in, verdict and date with their basis out.

The earliest limit binds; faults override dates; the worst verdict wins. Losing findings stay
in the basis, so that "why this date?" always has an answer. When in doubt: hold or discard.
"""

from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from holdlog.core.events import Conventions
from holdlog.core.moments import Instant, iso, local_date, show_dated_day
from holdlog.rules import hazard
from holdlog.rules.cooling import CoolingVerdict
from holdlog.rules.counting import used
from holdlog.rules.faults import WORST_FIRST, Verdict
from holdlog.rules.folding import Folded, Key, badness, fold, weigh
from holdlog.rules.hazard import Tcs
from holdlog.rules.history import History, trusted
from holdlog.rules.kinds import (
    CoolingRule,
    FreezeRule,
    GuidanceRule,
    ReducedOxygenRule,
    ReheatRule,
    Rule,
    Source,
    TcsRule,
)
from holdlog.rules.limits import Bound
from holdlog.rules.outlook import Outlook, asks
from holdlog.rules.outlook import as_json as outlook_as_json
from holdlog.rules.quality import best_by
from holdlog.rules.stack import Stack
from holdlog.rules.time_control import measured_by


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
    ``reason`` says in one sentence why the verdict is not "serve"; ``ahead`` is what is ahead of
    food that cools; ``cools``: that it is still cooling is all that keeps it from being served.
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
    ahead: Outlook | None = None
    cools: bool = False

    @property
    def binding(self) -> Finding | None:
        """The finding that fixes the date, if there is one."""
        return next((finding for finding in self.basis if finding.binds), None)


def holding(
    history: History,
    stack: Stack,
    at: Instant,
    where: ZoneInfo,
    done: dict[Key, Folded] | None = None,
) -> Holding:
    """Fold ``history`` under ``stack`` as of ``at``; calendar days are those of ``where``.

    Events after ``at`` are ignored. The same history, in whatever order it was written, gives
    the same holding. ``done`` keeps what was folded of shared ingredients, for the next history
    of the same stack, moment and zone.

    What a thermometer that was found off has shown proves nothing, but it may have been right:
    such food is judged with those readings and without, and the worse counts.
    """
    found = _holding(history, stack, at, where, done)
    as_read = trusted(history)
    # Not with ``done``: it tells histories apart by identity, and this one is soon gone.
    return found if as_read is None else _worse(found, _holding(as_read, stack, at, where, None))


def _worse(one: Holding, other: Holding) -> Holding:
    """The worse verdict of two, with the earlier date and the cautions of both."""
    held, beside = sorted((one, other), key=lambda each: WORST_FIRST.index(each.verdict))
    reviews = [each.review_at for each in (one, other) if each.review_at is not None]
    held = replace(
        held,
        review_at=min(reviews, default=None),
        cautions=tuple(dict.fromkeys((*one.cautions, *other.cautions))),
    )
    if not _ends_sooner(beside, held):
        return held
    also = (replace(each, binds=False) for each in held.basis)
    return replace(
        held,
        use_by=beside.use_by,
        last_day=beside.last_day,
        day=beside.day,
        of=beside.of,
        days_left_once_thawed=beside.days_left_once_thawed,
        basis=tuple(dict.fromkeys((*beside.basis, *also))),
    )


def _ends_sooner(one: Holding, other: Holding) -> bool:
    """Whether ``one`` has the earlier date, or the fewer days left in the freezer."""
    for mine, yours in (
        (one.use_by, other.use_by),
        (one.days_left_once_thawed, other.days_left_once_thawed),
    ):
        if mine is not None and (yours is None or mine < yours):
            return True
    return False


def _holding(
    history: History,
    stack: Stack,
    at: Instant,
    where: ZoneInfo,
    done: dict[Key, Folded] | None,
) -> Holding:
    folded = fold(history, stack, at, where, done)
    weighed = weigh(folded, stack, where)
    frozen = folded.walk.frozen
    use_by, binding = weighed.use_by, weighed.binding
    count = _counting(folded.bounds, binding, stack, at, where, frozen=frozen)
    best = best_by(history.food, folded.walk, stack, use_by, where)
    shown = count[0] if frozen and count else (binding[0] if binding else None)
    return Holding(
        verdict=weighed.verdict,
        state=_state(folded, stack),
        tcs=folded.tcs.tcs,
        use_by=use_by,
        last_day=local_date(use_by, where) if use_by is not None else None,
        day=count[1] if count and not frozen else None,
        of=count[0].count.days if count and count[0].count else None,
        days_left_once_thawed=weighed.left,
        best_by=best,
        cooling=folded.cooling,
        basis=_basis(folded, shown, stack, where),
        cautions=tuple(dict.fromkeys(_cautions(folded, stack, best, at, where))),
        conventions=stack.conventions,
        reason=weighed.reason,
        fault=weighed.fault.verdict if weighed.fault else None,
        review_at=_review_at(folded, weighed.dated, stack, at, frozen=frozen),
        ahead=folded.ahead,
        cools=weighed.fault is not None and weighed.fault.passing,
    )


def _state(folded: Folded, stack: Stack) -> str:
    """The state in the words of the scenario contract: what has cooled, as its rule wants it, and
    is as cold as that still at its last reading is chilled, wherever it was read.
    """
    state, cooling = folded.walk.shown_state, folded.cooling
    if state != "cooling" or cooling is None or cooling.whole != "met":
        return state
    rules = {rule.source.rule for rule in stack.of_kind(CoolingRule)}
    wrong = any(fault.source.rule in rules for fault in folded.faults)
    return state if wrong or cooling.first not in (None, "met") else "chilled"


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
    fewest days left.
    """
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
    folded: Folded, shown: Bound | None, stack: Stack, where: ZoneInfo
) -> tuple[Finding, ...]:
    found = [
        Finding(bound.source, bound.last(stack, where), bound is shown) for bound in folded.bounds
    ]
    found.sort(key=lambda finding: (not finding.binds, finding.limit is None, finding.limit or 0))
    tcs_rules = stack.of_kind(TcsRule)
    decision = hazard.source(tcs_rules[0] if tcs_rules else None, folded.tcs)
    others = [fault.source for fault in sorted(folded.faults, key=badness)]
    return (*found, *(Finding(source, None, binds=False) for source in (*others, decision)))


def _cautions(
    folded: Folded, stack: Stack, best: date | None, at: Instant, where: ZoneInfo
) -> list[str]:
    said = [*stack.cautions, *folded.cautions]
    if folded.walk.unlogged:
        said.append(
            f"no-temperature-logged: it counts as chilled under control from when it was "
            f"{folded.walk.unlogged}; no temperature was logged."
        )
    if not folded.bounds and hazard.applies(folded.tcs.tcs) and not folded.walk.ended:
        said.append("no-limit-known: no rule here sets a limit; the person in charge decides.")
    said += _silent(folded, stack)
    if folded.tcs.tcs == "assess":
        said.append("assess: treated as TCS until a product assessment says otherwise.")
    if best is not None and local_date(at, where) > best:
        said.append(f"past-best: it was at its best until {show_dated_day(best)}.")
    if folded.walk.out is not None:
        said.append("time-control: chilling, freezing or heating it now changes nothing.")
    sources = [bound.source for bound in folded.bounds]
    sources += [fault.source for fault in folded.faults]
    said.extend(
        f"from-memory: {source.cite} was not seen in its text; check it with the local authority."
        for source in sources
        if source.seen == "memory"
    )
    said += [
        rule.source.says
        for rule in stack.of_kind(GuidanceRule)
        if rule.shown == "always" or (rule.shown == "packed" and folded.walk.packs)
        if not rule.categories or folded.history.food.category in rule.categories
    ]
    category = stack.category(folded.history.food.category)
    said += [caution.says for caution in category.cautions]
    said.append(f"{stack.adopted.title}: the local health authority has the last word.")
    return said


def _silent(folded: Folded, stack: Stack) -> list[str]:
    """What befell this food that the adopted rules have no rule for at all."""
    walk = folded.walk
    befell: list[tuple[bool, type[Rule], str]] = [
        (bool(walk.packs), ReducedOxygenRule, "of packing with the oxygen reduced"),
        (bool(walk.reheated), ReheatRule, "of reheating"),
        (walk.was_frozen, FreezeRule, "of time frozen, so its days run on in the freezer"),
    ]
    return [
        f"not-judged: the adopted rules say nothing {subject}; ask the authority."
        for happened, kind, subject in befell
        if happened and not stack.of_kind(kind)
    ]


def _review_at(
    folded: Folded, dated: list[tuple[Bound, Instant]], stack: Stack, at: Instant, *, frozen: bool
) -> Instant | None:
    moments = [fault.changes_at for fault in folded.faults if fault.changes_at is not None]
    moments += measured_by(folded.walk, stack)
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
            **outlook_as_json(found.ahead, where),
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
        "cautions": [*asks(found.ahead), *found.cautions],
        "conventions": {
            "freeze_day": found.conventions.freeze_day,
            "thaw_day": found.conventions.thaw_day,
            "day_end": found.conventions.day_end,
        },
    }
