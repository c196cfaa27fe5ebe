"""What changes for me? The same food, in the situations of every day, under two stacks.

The food is made up and nothing is recorded: each answer is what the rules themselves find.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.moments import (
    Instant,
    end_of_day,
    from_local,
    later,
    local_date,
    show_day,
    to_local,
)
from holdlog.core.temperature import Limit
from holdlog.kitchen.figures import at_least, at_most, figures
from holdlog.kitchen.shelf import find_category, stack_of
from holdlog.rules.cooling import CoolingVerdict
from holdlog.rules.history import Event, History
from holdlog.rules.holding import Holding, holding
from holdlog.rules.kinds import (
    CoolingRule,
    HoldingLimitRule,
    ReheatRule,
    Rule,
    Source,
)
from holdlog.rules.measures import measures
from holdlog.rules.stack import Stack

# A Monday morning. No clock changes in this zone, so that nothing but the rules decides.
WHERE = ZoneInfo("Etc/UTC")
MONDAY = from_local(datetime(2026, 6, 1, 10), WHERE)  # noqa: DTZ001  (local, as handed over)
DAY = timedelta(days=1)
SILENT = "the rules say nothing"


@dataclass(frozen=True, slots=True)
class Answer:
    """What one stack says in one situation: in words, and the rule it rests on (None: none)."""

    says: str
    source: Source | None


@dataclass(frozen=True, slots=True)
class Situation:
    """One situation and what each of the two stacks says."""

    name: str
    first: Answer
    second: Answer

    @property
    def differs(self) -> bool:
        """Whether the outcome is another; the same outcome by another section is no change."""
        return self.first.says != self.second.says


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two stacks by the titles of their books, the category, and every situation."""

    category: str
    first: Stack
    second: Stack
    situations: tuple[Situation, ...]


def compare(first: Sequence[str], second: Sequence[str], category: str) -> Comparison:
    """Lay two stacks (ids or paths, the adopted book first) side by side for one category.

    Raises ``Mistake`` and ``BadFile`` for a stack or category that cannot be.
    """
    find_category(category)
    stacks = stack_of(first), stack_of(second)
    answers = [answers_of(stack, category) for stack in stacks]
    return Comparison(
        category,
        *stacks,
        tuple(
            Situation(name, answers[0].get(name, _NOTHING), answers[1].get(name, _NOTHING))
            for name in dict.fromkeys((*answers[0], *answers[1]))
        ),
    )


def answers_of(stack: Stack, category: str) -> dict[str, Answer]:
    """What ``stack`` says of food of ``category``, by situation."""
    return {
        **{name: _dated(stack, *case) for name, case in _cases(category).items()},
        **_cooling(stack, category),
        **_limits(stack, category),
    }


_NOTHING = Answer(SILENT, None)
_Case = tuple[ev.Food, tuple[tuple[timedelta, ev.Fact], ...]]


def _cases(category: str) -> dict[str, _Case]:
    """The made-up food of each situation, and what happens to it from Monday 10:00 on."""
    made = ev.Food(item=category, category=category, made_on_site=True)
    bought = replace(made, made_on_site=False, commercial=True)
    now, hour = timedelta(0), timedelta(hours=1)
    thursday = local_date(MONDAY, WHERE) + 3 * DAY
    prepared = (now, ev.Prepared())
    return {
        "made on Monday": (made, (prepared,)),
        "bought, opened on Monday": (bought, ((now, ev.Opened()),)),
        "as above, maker's safety date Thursday": (
            bought,
            ((now, ev.Opened(maker_use_by=thursday)),),
        ),
        "as above, maker's quality date Thursday": (
            bought,
            ((now, ev.Opened(maker_use_by=thursday, maker_date_for="quality")),),
        ),
        "made on Monday, frozen Wednesday, thawed the next Wednesday": (
            made,
            (prepared, (2 * DAY, ev.Frozen()), (9 * DAY, ev.Thawed("refrigerator"))),
        ),
        "out of the cold at 10:00, 2 hour plan": (made, (prepared, (hour, ev.Out("2h")))),
        "out of the cold at 10:00, 4 hour plan": (made, (prepared, (hour, ev.Out("4h")))),
        "out of the cold at 10:00, 6 hour plan": (made, (prepared, (hour, ev.Out("6h")))),
        "vacuum packed, no HACCP plan": (made, (prepared, (hour, ev.Packed("vacuum")))),
        "vacuum packed under a HACCP plan": (
            replace(made, haccp_plan=True),
            (prepared, (hour, ev.Packed("vacuum"))),
        ),
        "cooked in the bag under a HACCP plan": (
            replace(made, haccp_plan=True, reduced_oxygen="cook-chill"),
            (prepared, (hour, ev.Packed("cook-chill"))),
        ),
    }


def _dated(stack: Stack, food: ev.Food, happens: tuple[tuple[timedelta, ev.Fact], ...]) -> Answer:
    # Time control begins at the hour the situation names; the food was made the hour before.
    begins = MONDAY
    if any(isinstance(fact, ev.Out | ev.Packed) for _, fact in happens):
        begins = later(MONDAY, hours=-1)
    events = tuple(_event(begins, after, fact) for after, fact in happens)
    found = holding(History("made up", food, events), stack, events[-1].at, WHERE)
    return _answer(found)


def _event(begins: Instant, after: timedelta, fact: ev.Fact) -> Event:
    at = later(begins, hours=after / timedelta(hours=1))
    return Event(at=at, fact=fact, recorded_at=at)


def _answer(found: Holding) -> Answer:
    """Date first; where the food may not be kept so at all, that and why."""
    if found.fault is not None:
        words = {"refuse": "not allowed", "discard": "discard", "hold": "hold"}
        fault = next((each.source for each in found.basis if each.limit is None), None)
        if fault is not None and fault.cite == "holdlog":
            fault = None  # no authority's section: these rules know no such thing
        return Answer(f"{words.get(found.fault, found.fault)}: {found.reason}", fault)
    binding = found.binding
    if found.use_by is None or binding is None:
        if found.tcs == "not-tcs":
            return Answer("no limit: it needs no temperature control", found.basis[-1].source)
        return Answer("no limit known: the person in charge decides", None)
    count = f" ({found.of} day{'' if found.of == 1 else 's'})" if found.of else ""
    past = ", past by then" if found.verdict == "discard" else ""
    return Answer(f"until {_moment(found.use_by)}{count}{past}", binding.source)


def _moment(at: Instant) -> str:
    wall = to_local(at, WHERE)
    whole_day = at == end_of_day(wall.date(), WHERE)
    return show_day(wall.date()) + ("" if whole_day else f" {wall:%H:%M}")


def _cooling(stack: Stack, category: str) -> dict[str, Answer]:
    """The deadlines of food off the heat at 10:00, and of food mixed at room temperature."""
    food = ev.Food(item=category, category=category, made_on_site=True)
    mixed = replace(food, ambient_ingredients=True)
    cases: tuple[tuple[str, str, ev.Food, ev.Fact], ...] = (
        ("off the heat at 10:00, cooled", "cooked", food, ev.OffHeat()),
        ("made at room temperature at 10:00, cooled", "ambient", mixed, ev.CoolingIn()),
    )
    answers = {}
    for name, when, made, fact in cases:
        rules = [rule for rule in stack.of_kind(CoolingRule) if rule.when == when]
        events = (Event(MONDAY, ev.Prepared(), MONDAY), Event(MONDAY, fact, MONDAY))
        at = later(MONDAY, minutes=1)
        cooling = holding(History("made up", made, events), stack, at, WHERE).cooling
        answers[name] = (
            Answer(", ".join(_deadlines(rules[0], cooling)), rules[0].source) if rules else _NOTHING
        )
    return answers


def _deadlines(rule: CoolingRule, cooling: CoolingVerdict | None) -> list[str]:
    """Its limits with their clock times. A stage that is counted from when the one before was
    reached has none yet: then the rule's own words.
    """
    said = dict(figures(rule))
    first = cooling.deadline_first if cooling is not None else None
    whole = cooling.deadline_whole if cooling is not None else None
    told = []
    if rule.middle is not None:
        told.append(_by(rule.middle, first) if first is not None else said["first"])
    if rule.second_minutes is not None:
        told.append(f"then {said['then']}")
    elif whole is not None:
        told.append(_by(rule.cold, whole))
    else:
        told += [said[key] for key in ("whole", "cooled") if key in said]
    depth = "no clock where no deeper than"
    return [*told, *(f"{key} {text}" for key, text in said.items() if key == depth)]


def _by(limit: Limit, deadline: Instant) -> str:
    return f"{at_most(limit)} by {to_local(deadline, WHERE):%H:%M}"


def _limits(stack: Stack, category: str) -> dict[str, Answer]:
    """The temperatures it is held at and reheated to."""
    limits = measures(stack, category, WHERE)
    reheat: Rule | None = next(iter(stack.of_kind(ReheatRule)), None)
    return {
        "held cold": _tightest(limits.holding, "cold"),
        "held hot": _tightest(limits.holding, "hot"),
        "held frozen": _tightest(limits.holding, "frozen"),
        "reheated": _NOTHING if reheat is None else Answer(
            "; ".join(f"{name} {text}" for name, text in figures(reheat)), reheat.source
        ),
    }  # fmt: skip


def _tightest(rules: Sequence[HoldingLimitRule], place: str) -> Answer:
    """The limits of a place; food is judged by each of them, so each is said."""
    here = [rule for rule in rules if rule.place == place]
    if not here:
        return _NOTHING
    side = at_least if place == "hot" else at_most
    return Answer(" and ".join(dict.fromkeys(side(rule.limit) for rule in here)), here[-1].source)
