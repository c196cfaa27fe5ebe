"""What goes into the inspector's file: the audit of the period, with the plots beside it."""

from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from holdlog.core.moments import Instant, start_of_day
from holdlog.journal.engine import Connection
from holdlog.kitchen.audit import Audit, audited
from holdlog.kitchen.compliance import BatchCooling
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.printers import spoken
from holdlog.kitchen.unit_story import UnitStory, told
from holdlog.rules.kinds import GuidanceRule, RecordsRule, Rule
from holdlog.rules.rulebook import Rulebook
from holdlog.rules.stack import Stack

# A plot for each cooling that is missed or unproven, and for so many of the others.
OTHER_PLOTS = 6
# An hour before and after, so that a plot shows how it came and how it went.
AROUND = 60 * 60 * 1000


@dataclass(frozen=True, slots=True)
class BindingRule:
    """A rule in force now and the book it stands in."""

    book: Rulebook
    rule: Rule


@dataclass(frozen=True, slots=True)
class Inspection:
    """All that the file says. ``stack`` is in force now, by ``ruling`` where one was needed.
    ``plotted`` are the coolings with a plot, ``excursions`` what
    happened in a unit around each time that its logger shows it beyond its limit. ``records``:
    how long which records are to be kept, where the rules say so. ``fonts`` are the kitchen's own,
    for names in signs that the shipped font lacks.
    """

    audit: Audit
    at: Instant
    stack: Stack
    ruling: str
    binding: tuple[BindingRule, ...]
    records: tuple[BindingRule, ...]
    plotted: tuple[BatchCooling, ...]
    excursions: tuple[UnitStory, ...]
    fonts: tuple[Path, ...] = ()


def inspection(kitchen: Kitchen, first: date, last: date, others: int = OTHER_PLOTS) -> Inspection:
    """Everything for the inspector from ``first`` through ``last``, with up to ``others`` plots
    of coolings that were neither missed nor unproven.

    Raises ``Mistake("bad-period")``.
    """
    with kitchen.db.reading() as conn:
        kitchen = kitchen.current(conn)
        found = audited(kitchen, conn, first, last)
        stack = kitchen.stack(conn)
        rules = [each for each in _rules(stack) if not isinstance(each.rule, GuidanceRule)]
        return Inspection(
            audit=found,
            at=kitchen.moment(conn),
            stack=stack,
            ruling=kitchen.adopted.ruling,
            binding=tuple(each for each in rules if not isinstance(each.rule, RecordsRule)),
            records=tuple(each for each in rules if isinstance(each.rule, RecordsRule)),
            plotted=tuple(_plotted(found, others)),
            excursions=tuple(_excursions(kitchen, conn, found)),
            fonts=spoken(kitchen, conn).fonts,
        )


def _rules(stack: Stack) -> list[BindingRule]:
    """The rules of the stack, each with the book whose text is in force."""
    found = []
    for rule in (*stack.rules.values(), *stack.house):
        book = next(
            book for book in stack.books if any(rule is each for each in book.rules.values())
        )
        found.append(BindingRule(book, rule))
    order = {book.id: place for place, book in enumerate(stack.books)}
    return sorted(found, key=lambda each: (order[each.book.id], each.rule.source.cite))


def _plotted(found: Audit, others: int) -> list[BatchCooling]:
    logged = [each for each in found.coolings if each.logged is not None]
    bad = [each for each in logged if each.stands in ("missed", "unproven")]
    rest = [each for each in logged if each.stands not in ("missed", "unproven")]
    return [*bad, *rest[:others]]


def _excursions(kitchen: Kitchen, conn: Connection, found: Audit) -> list[UnitStory]:
    """What happened around each episode that a logger shows."""
    start = start_of_day(found.first, kitchen.where)
    end = Instant(start_of_day(found.last + timedelta(days=1), kitchen.where) - 1)
    stories = []
    for each in found.units:
        for shown in each.courses:
            for episode in shown.episodes:
                since = Instant(max(start, episode.begins - AROUND))
                until = Instant(min(end, episode.ends + AROUND))
                stories.append(told(kitchen, conn, each.unit, since, until))
    return stories
