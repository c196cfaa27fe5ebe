"""Faults override dates: temperatures, ingredients, reheating, what cannot be.

Each fault is a verdict with its source. The worst one decides; the rest stay in the basis.
"""

from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from holdlog.core.events import Excursion, Recalled, Reheated
from holdlog.core.moments import (
    Instant,
    later,
    local_date,
    show_dated,
    show_length,
    show_moment,
)
from holdlog.rules.course import Beyond, Walk
from holdlog.rules.history import Event, History
from holdlog.rules.kinds import (
    FreezeRule,
    OutageRule,
    ReheatRule,
    Source,
    TcsRule,
)
from holdlog.rules.measures import reaches_target
from holdlog.rules.packs import not_allowed
from holdlog.rules.stack import Stack

Verdict = Literal["discard", "refuse", "hold", "reheat", "last-day", "serve"]
WORST_FIRST: tuple[Verdict, ...] = ("discard", "refuse", "hold", "reheat", "last-day", "serve")


@dataclass(frozen=True, slots=True)
class Fault:
    """Why the food may not be served, whatever its date.

    ``changes_at``: when that may change. ``since``: the earliest moment from which the fault may
    have lain on the food (None: only from now on), so that it travels to what was made of it.
    ``passing``: food on its way to being cold, which ends by itself; of equal verdicts, any other
    is the one to name.
    """

    verdict: Verdict
    source: Source
    changes_at: Instant | None = None
    since: Instant | None = None
    passing: bool = False


def worse(one: Verdict, other: Verdict) -> Verdict:
    """The worse of two verdicts."""
    return min(one, other, key=WORST_FIRST.index)


def marks(walk: Walk, stack: Stack) -> list[Fault]:
    """Food without a day one is unmarked; a sequence that cannot be is refused."""
    faults = []
    if walk.begins is None and not walk.ended:
        rules = stack.of_kind(FreezeRule)
        cite, seen = (
            (rules[0].source.cite, rules[0].source.seen) if rules else ("holdlog", "inference")
        )
        says = "Nothing says when it was made, opened or received: unmarked food is discarded."
        faults.append(Fault("discard", Source("unmarked", cite, says, seen)))
    if walk.impossible:
        says = f"This cannot be: {walk.impossible}."
        faults.append(Fault("refuse", Source("sequence", "holdlog", says, "inference")))
    return faults


def temperatures(
    walk: Walk, stack: Stack, at: Instant, where: ZoneInfo, *, tcs: bool = True
) -> list[Fault]:
    """A reading beyond its limit holds the food from the last good reading on; where the rules
    name hours for an outage, cold food is discarded once they have passed. What befell its unit
    holds only food that is, or may be, TCS.
    """
    faults = []
    for beyond in walk.beyond:
        since = (
            f"since the last good reading, {show_moment(beyond.last_good, where, beyond.at)}"
            if beyond.last_good is not None
            else "since when is not known"
        )
        limit = beyond.rule.limit
        if not limit.speaks(beyond.reading):
            since = "the limit is printed on that scale only: read it on a probe that shows it"
        says = (
            f"{beyond.reading} on {show_dated(beyond.at, where)}, limit "
            f"{limit.show(beyond.reading.scale)}: out of temperature {since}. "
            "The person in charge decides."
        )
        source = beyond.rule.source
        began = beyond.last_good if beyond.last_good is not None else Instant(0)
        over, outage = _too_long(beyond, walk, stack)
        if outage is not None and over is not None and at > over:
            faults.append(Fault("discard", outage, since=began))
            continue
        held = Source(source.rule, source.cite, says, source.seen)
        faults.append(Fault("hold", held, over, began))
    return faults + (_excursions(walk, stack, where) if tcs else [])


def _too_long(beyond: Beyond, walk: Walk, stack: Stack) -> tuple[Instant | None, Source | None]:
    """When a cold reading beyond its limit turns into a discard, by which rule; None: never.

    A good reading in time leaves it on hold, for the person in charge to settle.
    """
    if beyond.rule.place != "cold":
        return None, None
    began = beyond.last_good if beyond.last_good is not None else beyond.at
    for rule in sorted(stack.of_kind(OutageRule), key=lambda each: each.hours):
        if rule.limit.reached_from_above(beyond.reading):
            continue
        over = later(began, hours=rule.hours)
        if not any(beyond.at < good <= over for good in walk.good_readings):
            return over, rule.source
    return None, None


def _excursions(walk: Walk, stack: Stack, where: ZoneInfo) -> list[Fault]:
    """An excursion of its unit holds the food; once the hours that the rules name for an outage
    are known to have passed, it is discarded. The times add up since the food went in: going cold
    again gives none back, and to settle one keeps the food but not its hours. Unknown time proves
    neither, and stays on hold.
    """
    spent: dict[str, int] = {}
    faults = []
    for event in walk.excursions:
        over = None
        for rule in stack.of_kind(OutageRule):
            if _warmer(event, rule):
                # The seconds beyond the unit's own limit are counted, which may be a lower one.
                spent[rule.source.rule] = spent.get(rule.source.rule, 0) + _seconds(event)
                if spent[rule.source.rule] > rule.hours * 3600:
                    over = rule.source
        if event.settled:
            continue
        if over is not None:
            faults.append(Fault("discard", over, since=_began(event)))
            continue
        says = f"{_told(event, where)}. The person in charge decides."
        held = Source("excursion", "holdlog", says, "inference")
        faults.append(Fault("hold", held, since=_began(event)))
    return faults


def _warmer(event: Event, rule: OutageRule) -> bool:
    """Whether the unit was warmer than the limit of ``rule``, or may have been."""
    worst = event.fact.peak if isinstance(event.fact, Excursion) else None
    return worst is None or not rule.limit.reached_from_above(worst)


def _told(event: Event, where: ZoneInfo) -> str:
    """What befell its unit, with the span and what is known of it."""
    fact = event.fact
    if not isinstance(fact, Excursion):
        return f"Its unit was beyond its limit {_span(None, event.at, where)}"
    unit = f"The {fact.unit}" if fact.unit else "Its unit"
    worst = f", as far as {fact.peak}," if fact.peak is not None else ""
    began = Instant(fact.began) if fact.began is not None else None
    span = _span(began, event.at, where)
    parts = [(fact.seconds, "known"), (fact.unknown_seconds, "without readings")]
    times = ", ".join(f"{show_length(part * 1000)} {what}" for part, what in parts if part)
    return f"{unit} was beyond its limit{worst} {span}" + (f" ({times})" if times else "")


def _span(began: Instant | None, at: Instant, where: ZoneInfo) -> str:
    """From when to when, with the year once, or twice where it changed."""
    end = show_dated(at, where)
    if began is None:
        return f"on {end}"
    if local_date(began, where) == local_date(at, where):
        return f"from {show_dated(began, where)} to {end.rsplit(' ', 1)[-1]}"
    return f"from {show_moment(began, where, at)} to {end}"


def _seconds(event: Event) -> int:
    return event.fact.seconds if isinstance(event.fact, Excursion) else 0


def _began(event: Event) -> Instant:
    """When an excursion may have begun: as far back as its seconds, known and unknown, reach."""
    if not isinstance(event.fact, Excursion):
        return event.at
    seconds = event.fact.seconds + event.fact.unknown_seconds
    began = event.fact.began if event.fact.began is not None else event.at
    return Instant(min(began, event.at - seconds * 1000))


def recalled(walk: Walk, where: ZoneInfo) -> list[Fault]:
    """A recall holds the food, and all that was ever made of it, until it is withdrawn."""
    return [
        Fault(
            "hold",
            Source(
                "recall",
                "holdlog",
                f"Recalled on {show_dated(event.at, where)} ({event.fact.what}): "
                f"{event.fact.why.rstrip('.')}. Keep it apart; discard it"
                # Only a maker's goods have somewhere to go back to.
                + (" or send it back." if event.fact.what.startswith("lot ") else "."),
                "inference",
            ),
            # It was in the food from the beginning, whenever the recall came.
            since=Instant(0),
        )
        for event in walk.recalls
        if isinstance(event.fact, Recalled)
    ]


def packing(history: History, walk: Walk, stack: Stack) -> list[Fault]:
    """A reduced-oxygen pack that the rules do not allow for this food."""
    refused = not_allowed(history, walk, stack)
    return [Fault("refuse", refused[1])] if refused is not None else []


def susceptible(history: History, holds: frozenset[str], stack: Stack) -> list[Fault]:
    """Food that is not offered where highly susceptible people are served.

    ``holds`` are the kinds of food in it that were not cooked with it.
    """
    return [
        Fault(
            "refuse",
            Source(
                rule.source.rule,
                rule.susceptible_cite,
                "Not offered where highly susceptible people are served.",
                rule.source.seen,
            ),
        )
        for rule in stack.of_kind(TcsRule)
        if history.food.susceptible_population and not holds.isdisjoint(rule.susceptible_refused)
    ]


def reheating(history: History, walk: Walk, stack: Stack) -> tuple[list[Fault], list[str]]:
    """A reheat that took too long holds the food, and so does hot holding of food that was cold
    without a reheat that reached the rule; one that only fell short is said.
    """
    rules = stack.of_kind(ReheatRule)
    faults: list[Fault] = []
    # A maker's food may be heated to less (3-403.11(C)), which this program does not judge.
    if rules and walk.hot_unheated and not history.food.commercial:
        rule = rules[0]
        says = (
            "It was cold and is held hot, and no reheating is logged that reached "
            f"{rule.target.show('F')}. The person in charge decides."
        )
        source = Source(rule.source.rule, rule.source.cite, says, rule.source.seen)
        faults.append(Fault("hold", source, since=walk.hot_unheated[0]))
    cautions: list[str] = []
    for event in walk.reheated:
        fact = event.fact
        if not rules or not isinstance(fact, Reheated):
            continue
        rule = rules[0]
        allowed = rule.within_minutes
        if fact.took_minutes is not None and allowed is not None and fact.took_minutes > allowed:
            says = (
                f"Reheating took {fact.took_minutes} minutes, the limit is {allowed}. "
                "The person in charge decides."
            )
            source = Source(rule.source.rule, rule.source.cite, says, rule.source.seen)
            faults.append(Fault("hold", source, since=event.at))
        elif not reaches_target(fact, rule):
            held = f" for {fact.held_seconds} s" if fact.held_seconds is not None else ""
            scale = fact.temperature.scale if fact.temperature is not None else "F"
            cautions.append(
                f"Reheated to {fact.temperature or 'an unknown temperature'}{held}: short of the "
                f"rule for reheating, {rule.target.show(scale)} ({rule.source.cite}); not to be "
                "held hot."
            )
    return faults, cautions
