"""Food packed with the oxygen reduced: which rule a pack falls under, and how long it is kept.

Without a HACCP plan only the short hold is open to a kitchen; where the rules have none, the pack
is not allowed at all.
"""

from decimal import Decimal
from zoneinfo import ZoneInfo

from holdlog.core.moments import Instant, end_of_day, later
from holdlog.rules.colder import last_shown_colder
from holdlog.rules.counting import DayCount, Spell
from holdlog.rules.course import Pack, Walk
from holdlog.rules.history import History
from holdlog.rules.kinds import CoolingRule, ReducedOxygenRule, Source
from holdlog.rules.stack import Stack

_CHEESE = ("hard-cheese", "semi-soft-cheese")
_IN_THE_BAG = ("cook-chill", "sous-vide")
# Here the maker's date ends the days if it is sooner, whatever the maker set it for.
_OR_THE_MAKERS_DATE = ("two-barrier", "cheese")


def pack_rules(history: History, walk: Walk, pack: Pack, stack: Stack) -> list[ReducedOxygenRule]:
    """The rules this pack may stand under.

    Where one under a HACCP plan fits, that one (or those) is meant; else the short hold.
    """
    rules = stack.of_kind(ReducedOxygenRule)
    fits = [rule for rule in rules if _fits(history, walk, pack, rule, stack)]
    planned = [rule for rule in fits if rule.option != "short"]
    if any(rule.option == "colder" for rule in planned):
        planned = [rule for rule in planned if rule.option != "cook-chill"]
    return planned or fits


def _fits(history: History, walk: Walk, pack: Pack, rule: ReducedOxygenRule, stack: Stack) -> bool:
    food = history.food
    if rule.needs_haccp and not food.haccp_plan:
        return False
    match rule.option:
        case "short":
            return True
        case "cook-chill" | "colder":
            # Sealed before it is cooked or while it is hot: what has gone cold is too late.
            ways = [how for how in (pack.how, food.reduced_oxygen) if how is not None]
            in_the_bag = bool(ways) and all(how in _IN_THE_BAG for how in ways)
            sealed_hot = not pack.gone_cold and _sealed_hot(walk, pack, stack)
            colder = rule.option != "colder" or (
                last_shown_colder(walk, pack, rule, stack) is not None
            )
            return in_the_bag and sealed_hot and colder
        case "cheese":
            return food.exempt_as in _CHEESE and food.commercial and not food.made_on_site
        case _:
            return _second_barrier(history, walk, rule, stack)


def _sealed_hot(walk: Walk, pack: Pack, stack: Stack) -> bool:
    """Sealed before it was cooked, or known to be hot at the sealing or after it. What nobody
    measured was not hot.
    """
    if walk.prepared is not None and pack.at <= walk.prepared:
        return True
    limits = [rule.hot for rule in stack.of_kind(CoolingRule) if rule.hot is not None]
    return any(
        reading.at >= pack.at and not reading.late and any(reading.hot(limit) for limit in limits)
        for cycle in walk.cycles
        for reading in cycle.readings
    )


def _second_barrier(history: History, walk: Walk, rule: ReducedOxygenRule, stack: Stack) -> bool:
    food = history.food
    # Raw food holds Clostridium back by what else lives on it, and cooking kills that.
    if food.category in rule.categories and not walk.heated and not food.heat_treated:
        return True
    on_site = food.made_on_site if food.made_on_site is not None else not food.commercial
    if stack.category(food.category).modified and on_site and not food.variance:
        return False  # soured or cured here without a variance: its figures do not count
    dry = _at_most(food.aw, rule.aw_at_most)
    return dry or _at_most(food.ph, rule.ph_at_most)


def _at_most(value: Decimal | None, limit: Decimal | None) -> bool:
    return value is not None and limit is not None and value <= limit


def pack_bounds(
    history: History, walk: Walk, stack: Stack, where: ZoneInfo
) -> list[tuple[Source, DayCount | None, Instant | None]]:
    """The limits of its packs: days that pause in the freezer, or hours that do not.

    The short hold is for the pack: one opened in time is done with. What is kept under a plan is
    to be used by then, opened or not.
    """
    bounds: list[tuple[Source, DayCount | None, Instant | None]] = []
    spells = tuple(walk.spells)
    for pack in walk.packs:
        for rule in pack_rules(history, walk, pack, stack):
            if rule.days is not None:
                count = DayCount(rule.days, pack.at, spells, to_end_of_day=True)
                bounds.append((rule.source, count, None))
                if rule.then_days is not None:
                    last = last_shown_colder(walk, pack, rule, stack) or pack.at
                    then = DayCount(rule.then_days, last, spells, to_end_of_day=True)
                    bounds.append((rule.source, then, None))
            elif rule.hours is not None:
                last = later(pack.at, hours=rule.hours)
                done_with = rule.option == "short" and pack.opened is not None
                if not done_with or (pack.opened or last) > last:
                    bounds.append((rule.source, None, last))
            if rule.option in _OR_THE_MAKERS_DATE:
                bounds += [
                    (rule.source, None, end_of_day(day, where))
                    for day, meant_for in walk.maker_dates
                    if meant_for != "use-or-freeze-by"  # that one pauses in the freezer
                ]
    return bounds


def unpacked_spells(history: History, walk: Walk, stack: Stack) -> tuple[Spell, ...]:
    """The spells that the days of date marking leave out: frozen, and packed under a HACCP plan
    (such food is not date marked while it is in the pack; its pack has its own days).

    A pack that is not allowed stops no count.
    """
    if not walk.packs or not_allowed(history, walk, stack) is not None:
        return tuple(walk.spells)
    planned = [
        Spell(pack.at, pack.opened, packed=True)
        for pack in walk.packs
        if any(rule.option != "short" for rule in pack_rules(history, walk, pack, stack))
    ]
    return _joined([*walk.spells, *planned])


def _joined(spells: list[Spell]) -> tuple[Spell, ...]:
    """Spells in order, with those that overlap joined into one."""
    merged: list[Spell] = []
    for spell in sorted(spells, key=lambda each: each.since):
        last = merged[-1] if merged else None
        if last is not None and (last.until is None or spell.since <= last.until):
            ends = (
                None if last.until is None or spell.until is None else max(last.until, spell.until)
            )
            merged[-1] = Spell(last.since, ends, last.packed or spell.packed)
        else:
            merged.append(spell)
    return tuple(merged)


def not_allowed(history: History, walk: Walk, stack: Stack) -> tuple[str, Source] | None:
    """Why this food may not be packed so at all, and by which rule; None: it may."""
    rules = stack.of_kind(ReducedOxygenRule)
    for rule in rules:
        if walk.packed_unfrozen and history.food.category in rule.frozen_only:
            says = "Fish is packed with the oxygen reduced only frozen: before, during and after."
            seen = rule.frozen_seen or rule.source.seen
            return says, Source(rule.source.rule, rule.frozen_cite, says, seen)
    if rules and not all(pack_rules(history, walk, pack, stack) for pack in walk.packs):
        says = "These rules allow this pack only under a HACCP plan, and for named food."
        first = rules[0].source
        return says, Source(first.rule, first.cite, says, first.seen)
    return None
