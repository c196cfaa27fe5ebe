"""Which limits apply: every rule that matches adds its own, and the earliest will bind."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from holdlog.core.moments import Instant, end_of_day, later, local_date
from holdlog.rules import hazard
from holdlog.rules.counting import DayCount, joined_spells, last_instant
from holdlog.rules.hazard import Tcs
from holdlog.rules.history import Event, History
from holdlog.rules.rulebook import (
    DateMarkRule, InheritRule, MakerDateRule, ReducedOxygenRule, Source, ThawRule, TimeControlRule,
)  # fmt: skip
from holdlog.rules.stack import Stack
from holdlog.rules.walk import Walk


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit on food: a count of days, or a fixed last instant that freezing does not move.

    ``inherits`` says whether a dish made from the food takes the limit over.
    """

    source: Source
    count: DayCount | None = None
    instant: Instant | None = None
    inherits: bool = True

    def last(self, stack: Stack, where: ZoneInfo) -> Instant | None:
        """The last instant it allows; None while the count stands still in the freezer."""
        if self.instant is not None:
            return self.instant
        if self.count is None or self.count.frozen:
            return None
        return last_instant(self.count, stack.conventions, where)


def own_bounds(
    history: History, walk: Walk, stack: Stack, tcs: Tcs, where: ZoneInfo
) -> tuple[list[Bound], list[str]]:
    """The limits that rules set on the food itself, and what to say beside them."""
    bounds, cautions = _day_marks(history, walk, stack, tcs)
    bounds += _guidance(history, walk, stack, tcs)
    bounds += _house_days(history, walk)
    maker, said = _maker_date(walk, stack, where)
    bounds += maker
    bounds += _hours(history, walk, stack)
    if walk.printed is not None:
        bounds.append(
            Bound(
                Source("printed-label", "holdlog; 3-602.12(B)", "The date printed on its label; it "
                       "is never moved later without a new label.", "inference"),
                instant=walk.printed,
                inherits=False,
            )
        )  # fmt: skip
    return bounds, cautions + said


def _eaten_as_it_is(history: History, stack: Stack) -> bool:
    return hazard.ready_to_eat(history.food, stack.category(history.food.category))


def _day_marks(
    history: History, walk: Walk, stack: Stack, tcs: Tcs
) -> tuple[list[Bound], list[str]]:
    food, begins = history.food, walk.begins
    bounds: list[Bound] = []
    cautions: list[str] = []
    if begins is None or not hazard.applies(tcs):
        return bounds, cautions
    for rule in stack.of_kind(DateMarkRule):
        named = bool(rule.categories or rule.items)
        if not rule.names(food) or not (named or _eaten_as_it_is(history, stack)):
            continue
        if not named and rule.starts != walk.day_one_kind:
            continue
        if food.exempt_as and food.exempt_as in rule.exempt:
            if food.commercial and not food.made_on_site:
                cautions.append(
                    f"No day count: {food.exempt_as} from an inspected plant is exempt "
                    f"({rule.exempt_cite})."
                )
                continue
            cautions.append(
                f"The exemption for {food.exempt_as} is for food made in an inspected plant "
                f"({rule.exempt_cite}): it is ignored here."
            )
        count = DayCount(rule.days, begins, tuple(walk.spells))
        bounds.append(Bound(rule.source, count=count, inherits=_eaten_as_it_is(history, stack)))
    if food.exempt_as and food.made_on_site is not False and walk.day_one_kind == "prepared":
        cautions.append(f"The exemption for {food.exempt_as} is ignored: this was made on site.")
    return bounds, cautions


def _guidance(history: History, walk: Walk, stack: Stack, tcs: Tcs) -> list[Bound]:
    category = stack.category(history.food.category)
    if walk.day_one is None or not hazard.applies(tcs):
        return []
    return [
        Bound(each.source, count=DayCount(each.days, walk.day_one, tuple(walk.spells)))
        for each in category.guidance
        if each.purpose == "safety" and each.days is not None
    ]


def _house_days(history: History, walk: Walk) -> list[Bound]:
    days = history.food.house_days
    if days is None or walk.begins is None:
        return []
    source = Source(
        "house-item", "house rule", f"This kitchen keeps this item {days} days.", "text"
    )
    return [Bound(source, count=DayCount(days, walk.begins, tuple(walk.spells)))]


def _maker_date(walk: Walk, stack: Stack, where: ZoneInfo) -> tuple[list[Bound], list[str]]:
    if walk.maker_date is None or walk.begins is None:
        return [], []
    rules = stack.of_kind(MakerDateRule)
    if not rules:
        return [], ["The adopted rulebook says nothing of makers' dates: ask the authority."]
    rule, meant_for = rules[-1], walk.maker_date_for
    fixed = Bound(rule.source, instant=end_of_day(walk.maker_date, where))
    if meant_for in rule.binds_for:
        return [fixed], []
    if meant_for == "use-or-freeze-by":
        first = local_date(walk.begins, where)
        days = (walk.maker_date - first).days + 1
        if days < 1:
            return [fixed], []
        count = DayCount(days, walk.begins, tuple(walk.spells))
        return [Bound(rule.source, count=count)], []
    return [], []


def _hours(history: History, walk: Walk, stack: Stack) -> list[Bound]:
    """Limits in hours: time control, thawing for use at once, a reduced-oxygen pack."""
    bounds = []
    if walk.out is not None:
        plan = getattr(walk.out.fact, "plan", "4h")
        for rule in stack.of_kind(TimeControlRule):
            if rule.plan == plan:
                last = later(hours_from(history, walk.out, walk, rule), hours=rule.hours)
                bounds.append(Bound(rule.source, instant=last))
    if walk.at_once is not None:
        for thaw in stack.of_kind(ThawRule):
            last = later(walk.at_once, hours=thaw.hours)
            bounds.append(Bound(thaw.source, instant=last))
    if walk.packed is not None:
        for pack in stack.of_kind(ReducedOxygenRule):
            last = later(walk.packed, hours=pack.hours)
            if walk.unpacked is None or walk.unpacked > last:
                bounds.append(Bound(pack.source, instant=last))
    return bounds


def hours_from(history: History, out: Event, walk: Walk, rule: TimeControlRule) -> Instant:
    """When the hours of time control begin: when it left control, or (for produce made TCS by
    cutting and packs made TCS by opening, started warmer than cold) when it was cut or opened."""
    reading = getattr(out.fact, "temperature", None)
    by_cutting = history.food.category in rule.ambient_categories
    warm = reading is not None and not rule.cold_start.reached_from_above(reading)
    return walk.begins if by_cutting and warm and walk.begins is not None else out.at


def inherited(
    bounds: list[Bound], ingredient: str, walk: Walk, joined_at: Instant, stack: Stack
) -> list[Bound]:
    """The limits an ingredient hands to a dish: it counts on with the dish's own freezing."""
    rules = stack.of_kind(InheritRule)
    handed = []
    for bound in bounds:
        if not bound.inherits:
            continue
        source = Source(
            "combined",
            rules[0].source.cite if rules else bound.source.cite,
            f"From {ingredient}: {bound.source.says}",
            _weaker(rules[0].source.seen if rules else "inference", bound.source.seen),
        )
        count = bound.count
        if count is not None:
            spells = joined_spells(count.spells, walk.spells, joined_at)
            count = DayCount(count.days, count.day_one, spells)
        handed.append(Bound(source, count=count, instant=bound.instant))
    return handed


def _weaker(one: str, other: str) -> str:
    order = ("text", "secondary", "inference", "memory")
    return max(one, other, key=order.index)
