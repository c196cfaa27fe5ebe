"""Food packed with the oxygen reduced: which rule a pack falls under, and how long it is kept.

Without a HACCP plan only the short hold is open to a kitchen; where the rules have none, the pack
is not allowed at all.
"""

from decimal import Decimal

from holdlog.core.moments import Instant, later
from holdlog.rules.counting import DayCount, Spell
from holdlog.rules.course import Pack, Walk
from holdlog.rules.history import History
from holdlog.rules.rulebook import ReducedOxygenRule, Source
from holdlog.rules.stack import Stack

_CHEESE = ("hard-cheese", "semi-soft-cheese")
_IN_THE_BAG = ("cook-chill", "sous-vide")


def pack_rules(history: History, stack: Stack) -> list[ReducedOxygenRule]:
    """The rules this food may be packed under, the longest hold first in line.

    Where one under a HACCP plan fits, that one (or those) is meant; else the short hold.
    """
    fits = [rule for rule in stack.of_kind(ReducedOxygenRule) if _fits(history, rule)]
    planned = [rule for rule in fits if rule.option != "short"]
    return planned or fits


def _fits(history: History, rule: ReducedOxygenRule) -> bool:
    food = history.food
    if rule.needs_haccp and not food.haccp_plan:
        return False
    match rule.option:
        case "short":
            return True
        case "cook-chill":
            return food.reduced_oxygen in _IN_THE_BAG
        case "cheese":
            return food.exempt_as in _CHEESE and food.commercial and not food.made_on_site
        case _:
            dry = _at_most(food.aw, rule.aw_at_most)
            sour = _at_most(food.ph, rule.ph_at_most)
            return dry or sour or food.category in rule.categories


def _at_most(value: Decimal | None, limit: Decimal | None) -> bool:
    return value is not None and limit is not None and value <= limit


def pack_bounds(
    history: History, walk: Walk, stack: Stack
) -> list[tuple[Source, DayCount | None, Instant | None]]:
    """The limits of its packs: days that pause in the freezer, or hours that do not.

    Hours are for the pack: one opened in time is done with. Days are for the food, and run on.
    """
    bounds: list[tuple[Source, DayCount | None, Instant | None]] = []
    for rule in pack_rules(history, stack):
        for pack in walk.packs:
            if rule.days is not None:
                count = DayCount(rule.days, pack.at, tuple(walk.spells), to_end_of_day=True)
                bounds.append((rule.source, count, None))
            elif rule.hours is not None:
                last = later(pack.at, hours=rule.hours)
                if pack.opened is None or pack.opened > last:
                    bounds.append((rule.source, None, last))
    return bounds


def unpacked_spells(history: History, walk: Walk, stack: Stack) -> tuple[Spell, ...]:
    """The spells that the days of date marking leave out: frozen, and packed under a HACCP plan
    (such food is not date marked while it is in the pack; its pack has its own days).
    """
    planned = [rule for rule in pack_rules(history, stack) if rule.option != "short"]
    if not planned or not walk.packs:
        return tuple(walk.spells)
    return _joined([*walk.spells, *(_closed(pack) for pack in walk.packs)])


def _closed(pack: Pack) -> Spell:
    return Spell(pack.at, pack.opened)


def _joined(spells: list[Spell]) -> tuple[Spell, ...]:
    """Spells in order, with those that overlap joined into one."""
    merged: list[Spell] = []
    for spell in sorted(spells, key=lambda each: each.since):
        last = merged[-1] if merged else None
        if last is not None and (last.until is None or spell.since <= last.until):
            ends = (
                None if last.until is None or spell.until is None else max(last.until, spell.until)
            )
            merged[-1] = Spell(last.since, ends)
        else:
            merged.append(spell)
    return tuple(merged)


def not_allowed(history: History, walk: Walk, stack: Stack) -> tuple[str, Source] | None:
    """Why this food may not be packed so at all, and by which rule; None: it may."""
    rules = stack.of_kind(ReducedOxygenRule)
    for rule in rules:
        if walk.packed_unfrozen and history.food.category in rule.frozen_only:
            says = "Fish is packed with the oxygen reduced only frozen: before, during and after."
            return says, Source(rule.source.rule, rule.frozen_cite, says, rule.source.seen)
    if walk.packs and rules and not pack_rules(history, stack):
        says = "These rules allow this pack only under a HACCP plan, and for named food."
        first = rules[0].source
        return says, Source(first.rule, first.cite, says, first.seen)
    return None
