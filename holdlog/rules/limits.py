"""Which limits apply: every rule that matches adds its own, and the earliest will bind."""

from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from holdlog.core.events import Out
from holdlog.core.moments import SECOND, Instant, end_of_day, later, local_date
from holdlog.rules import hazard
from holdlog.rules.counting import DayCount, joined_spells, last_instant, used
from holdlog.rules.course import Walk
from holdlog.rules.hazard import Tcs
from holdlog.rules.history import History
from holdlog.rules.kinds import (
    DateMarkRule,
    FreezeRule,
    InheritRule,
    MakerDateRule,
    ReheatRule,
    Source,
    TimeControlRule,
)
from holdlog.rules.packs import pack_bounds, unpacked_spells
from holdlog.rules.stack import Stack
from holdlog.rules.time_control import hours_from


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit on food: a count of days, or a fixed last instant that freezing does not move.

    ``inherits`` says whether a dish made from the food takes the limit over; ``handed``, that
    this food took it over from an ingredient.
    """

    source: Source
    count: DayCount | None = None
    instant: Instant | None = None
    inherits: bool = True
    handed: bool = False

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
    bounds, cautions = _day_marks(history, walk, stack, tcs, where)
    bounds += _guidance(history, walk, stack, tcs)
    bounds += _house_days(history, walk)
    maker, said = _maker_date(walk, stack, where)
    bounds += maker
    hours, said_of_hours = _hours(history, walk, stack, where)
    bounds += hours
    said += said_of_hours
    if not _eaten_as_it_is(history, walk, stack):
        bounds = [replace(bound, inherits=False) for bound in bounds]
    return bounds, cautions + said


def printed_bound(walk: Walk) -> list[Bound]:
    """The date on its label: a stack that would allow more does not move it by itself."""
    if walk.printed is None:
        return []
    says = "The date printed on its label; it is never moved later without a new label."
    source = Source("printed-label", "3-602.12(B)", says, "inference")
    return [Bound(source, instant=walk.printed, inherits=False)]


def _eaten_as_it_is(history: History, walk: Walk, stack: Stack) -> bool:
    """Ready to eat: said so, of such a kind, or hot in this kitchen (TCS food that was cooked and
    cooled is ready to eat by definition, whatever kind it was before).
    """
    said = history.food.ready_to_eat
    if said is not None:
        return said
    return walk.heated or hazard.ready_to_eat(history.food, stack.category(history.food.category))


def _day_marks(
    history: History, walk: Walk, stack: Stack, tcs: Tcs, where: ZoneInfo
) -> tuple[list[Bound], list[str]]:
    food, begins = history.food, walk.begins
    bounds: list[Bound] = []
    cautions: list[str] = []
    if begins is None or not hazard.applies(tcs):
        return bounds, cautions
    for rule in stack.of_kind(DateMarkRule):
        named = bool(rule.categories or rule.items)
        if not rule.names(food) or not (named or _eaten_as_it_is(history, walk, stack)):
            continue
        # Food may be opened and later made into something under one name: each rule counts from
        # its own day one, and the earlier limit will bind.
        starts = walk.prepared if rule.starts == "prepared" else walk.opened_fresh
        if named or rule.starts == "any":
            starts = begins
        if starts is None:
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
        count = DayCount(rule.days, starts, tuple(walk.spells))
        # A pack stops the days of food that still had some; it brings nothing back.
        if not any(
            used(count, pack.at, stack.conventions, where) > rule.days for pack in walk.packs
        ):
            count = replace(count, spells=unpacked_spells(history, walk, stack))
        bounds.append(Bound(rule.source, count=count))
    if food.exempt_as and food.made_on_site is not False and walk.prepared is not None:
        cautions.append(f"The exemption for {food.exempt_as} is ignored: this was made on site.")
    return bounds, cautions


def _guidance(history: History, walk: Walk, stack: Stack, tcs: Tcs) -> list[Bound]:
    category = stack.category(history.food.category)
    if walk.day_one is None or not hazard.applies(tcs):
        return []
    # A ruling on the authority's own days does not turn other people's days into hours.
    spells = tuple(walk.spells)
    return [
        Bound(each.source, count=DayCount(each.days, walk.day_one, spells, to_end_of_day=True))
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
    """The maker's dates: every one that was read counts, so that the earliest will bind."""
    if not walk.maker_dates or walk.begins is None:
        return [], []
    rules = stack.of_kind(MakerDateRule)
    if not rules:
        return [], ["The adopted rulebook says nothing of makers' dates: ask the authority."]
    rule = rules[-1]
    # It came in before it was opened, and may have been frozen in between.
    here_since = min(at for at in (walk.begins, walk.received) if at is not None)
    bounds = []
    for day, meant_for in dict.fromkeys(walk.maker_dates):
        days = (day - local_date(here_since, where)).days + 1
        if meant_for in rule.binds_for or (meant_for == "use-or-freeze-by" and days < 1):
            bounds.append(Bound(rule.source, instant=end_of_day(day, where)))
        elif meant_for == "use-or-freeze-by":
            count = DayCount(days, here_since, tuple(walk.spells), to_end_of_day=True)
            bounds.append(Bound(rule.source, count=count))
    return bounds, []


def _hours(
    history: History, walk: Walk, stack: Stack, where: ZoneInfo
) -> tuple[list[Bound], list[str]]:
    """Limits in hours: time control, thawing for use at once, a reduced-oxygen pack; and the
    day of the first reheating where the rules name it.
    """
    bounds = []
    for event in walk.outs:
        for rule in stack.of_kind(TimeControlRule):
            if isinstance(event.fact, Out) and rule.plan == event.fact.plan:
                began = hours_from(history, event.at, event.fact, walk, rule)
                last = later(began, hours=rule.hours) - walk.out_before
                # "Less than" so many hours: the hour itself is too late.
                last -= SECOND if rule.exclusive else 0
                bounds.append(Bound(rule.source, instant=Instant(last)))
    if walk.at_once is not None:
        bounds += [
            Bound(rule.thawing, instant=later(walk.at_once, hours=rule.hours))
            for rule in stack.of_kind(FreezeRule)
            if rule.thawing is not None
        ]
    bounds += [
        Bound(source, count=count, instant=last)
        for source, count, last in pack_bounds(history, walk, stack, where)
    ]
    if walk.reheated:
        day = local_date(walk.reheated[0].at, where)
        bounds += [
            Bound(rule.source, instant=end_of_day(day, where))
            for rule in stack.of_kind(ReheatRule)
            if rule.same_day
        ]
    unmeasured = any(
        isinstance(event.fact, Out) and event.fact.temperature is None for event in walk.outs
    )
    said = ["The temperature at which it left temperature control was not logged."]
    return bounds, said if unmeasured else []


def inherited(
    bounds: list[Bound], ingredient: str, walk: Walk, joined_at: Instant, stack: Stack
) -> list[Bound]:
    """The limits an ingredient hands to a dish: it counts on with the dish's own freezing."""
    rules = stack.of_kind(InheritRule)
    handed = []
    for bound in bounds:
        source = Source(
            "combined",
            rules[0].source.cite if rules else bound.source.cite,
            # Named once, by the food it comes from, however deep that lies.
            bound.source.says if bound.handed else f"From {ingredient}: {bound.source.says}",
            _weaker(rules[0].source.seen if rules else "inference", bound.source.seen),
        )
        count = bound.count
        if count is not None:
            spells = joined_spells(count.spells, walk.spells, joined_at)
            count = replace(count, spells=spells)
        handed.append(Bound(source, count=count, instant=bound.instant, handed=True))
    return handed


def most_pressing(bounds: list[Bound]) -> list[Bound]:
    """``bounds`` without those that were handed on before and can never be the first to end.

    Of two counts of as many days with the same time frozen, the one begun earlier ends earlier
    for ever, and so does the earlier of two instants. Without this, food fed with yesterday's
    food would carry one limit more every day.
    """
    kept: list[Bound] = []
    first: dict[object, Bound] = {}
    for bound in bounds:
        if not bound.handed:
            kept.append(bound)
            continue
        count = bound.count
        kind = (count.days, count.spells, count.to_end_of_day) if count is not None else None
        known = first.get(kind)
        if known is None or _begins(bound) < _begins(known):
            first[kind] = bound
    return [*kept, *first.values()]


def _begins(bound: Bound) -> Instant:
    if bound.count is not None:
        return bound.count.day_one
    return bound.instant if bound.instant is not None else Instant(0)


def _weaker(one: str, other: str) -> str:
    order = ("text", "secondary", "inference", "memory")
    return max(one, other, key=order.index)
