"""The pages of the manual about rules, filled from the shelf and the worked examples."""

import tomllib
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from holdlog.bundled import folder
from holdlog.core import events as ev
from holdlog.core.moments import end_of_day, show_dated_day, to_local
from holdlog.core.toml_table import parse
from holdlog.kitchen.figures import KINDS, MARKS
from holdlog.kitchen.rulebooks import ShownRule, in_full, listed, marks
from holdlog.kitchen.shelf import find_book, find_category
from holdlog.reports import rulebook_pages as pages
from holdlog.reports.rulebook_pages import Authority, Entry, Example, Page
from holdlog.rules import scenario
from holdlog.rules.holding import Holding
from holdlog.rules.kinds import (
    CoolingRule,
    FreezeRule,
    GuidanceRule,
    HoldingLimitRule,
    ReheatRule,
    Rule,
    TcsRule,
)
from holdlog.rules.measures import measures
from holdlog.rules.rulebook import Rulebook
from holdlog.rules.scenario import Scenario

# A rule of a book.
Name = tuple[str, str]
MOST_LINES = 2


def rule_pages() -> dict[str, str]:
    """The text of each page, by its file name in ``docs/rules``."""
    books = listed()
    examples = _examples({book.id: book for book in books})
    made = [_page(kind.id, books, examples) for kind in KINDS.values()]
    index = pages.index(made, [(_authority(book), marks(book)) for book in books])
    return {"README.md": index, **{f"{each.kind}.md": pages.page(each) for each in made}}


def _page(kind: str, books: list[Rulebook], examples: Mapping[Name, Example]) -> Page:
    found = next(each for each in KINDS.values() if each.id == kind)
    by_book: list[tuple[Authority, tuple[Entry, ...]]] = []
    silent = []
    for book in books:
        rules = [rule for each, group in in_full(book).rules if each.id == kind for rule in group]
        entries = tuple(_entry(book, rule, examples) for rule in rules)
        if entries:
            by_book.append((_authority(book), entries))
        elif book.role == "adopted":
            silent.append(_authority(book))
    return Page(kind, found.name, found.decides, tuple(by_book), tuple(silent))


def _authority(book: Rulebook) -> Authority:
    what = "a rulebook to adopt" if book.role == "adopted" else (
        f"an amendment to {', '.join(book.amends)}"
    )  # fmt: skip
    return Authority(book.id, book.title, f"{book.issuer}; {book.edition}; {what}.")


def _entry(book: Rulebook, rule: ShownRule, examples: Mapping[Name, Example]) -> Entry:
    tables = tuple((grid.title, grid.heads, grid.rows) for grid in rule.grids)
    example = examples.get((book.id, rule.id))
    told_only = rule.kind.id == "records" or rule.raw.get("shown") == "rulebook"
    return Entry(
        rule.id, rule.cite, rule.says, MARKS[rule.seen], rule.figures, tables, example,
        worked=not told_only,
    )  # fmt: skip


# ---- worked examples -------------------------------------------------------------------------


def _examples(books: Mapping[str, Rulebook]) -> dict[Name, Example]:
    """For every rule the worked example that shows it best: one where it binds first, then the
    plainest, then by name.
    """
    best: dict[Name, tuple[tuple[int, bool, int, str], Example]] = {}
    for path in sorted((folder("shared") / "worked_examples").glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        read = scenario.read(text, path.name, find_book, find_category)
        held = scenario.fold(read)
        top = parse(text, path.name)
        written = tomllib.loads(text, parse_float=str)["batch"]
        for book, rule in _rules_of(read, books):
            shows = _shown_by(rule, read, held)
            if not shows:
                continue
            weight = min(shows.values())
            batches = [name for name, each in shows.items() if each == weight][:MOST_LINES]
            order = (weight, *_plainness(read, books[book]), path.name)
            known = best.get((book, rule.source.rule))
            if known is None or order < known[0]:
                finds = tuple(
                    f"{_told(name, written[name])} {_found(read, held[name])}" for name in batches
                )
                example = Example(top.text("title"), top.text("source"), path.name, finds)
                best[book, rule.source.rule] = order, example
    return {name: example for name, (_, example) in best.items()}


def _plainness(read: Scenario, book: Rulebook) -> tuple[bool, int]:
    """The less the better: other books that have their say, and sorts of things that happen."""
    others = book.role == "adopted" and len(read.stack.books) > 1
    facts = {type(event.fact) for each in read.histories.values() for event in each.events}
    return others, len(facts) + len(read.histories)


def _rules_of(read: Scenario, books: Mapping[str, Rulebook]) -> Iterator[tuple[str, Rule]]:
    """The rules of the shelf that stand in the example's stack, each with its book."""
    for book in read.stack.books:
        for rule_id, rule in book.rules.items():
            if book.id in books and read.stack.rules.get(rule_id) is rule:
                yield book.id, rule


def _shown_by(rule: Rule, read: Scenario, held: Mapping[str, Holding]) -> dict[str, int]:
    """The batches of an example that show ``rule``: 0 where it decides, 1 where it is said."""
    shows: dict[str, int] = {}
    for name, found in held.items():
        said = [each for each in found.basis if each.source.rule == rule.source.rule]
        outside = isinstance(rule, TcsRule) and found.tcs != "tcs"
        if any(each.binds for each in said) or outside:
            shows[name] = 0
        elif said or _said_otherwise(rule, read, name, found):
            shows[name] = 1
    return shows


def _said_otherwise(rule: Rule, read: Scenario, name: str, found: Holding) -> bool:
    """Whether a rule was at work that is named in the basis only when something is wrong."""
    history = read.histories[name]
    facts = [event.fact for event in history.events]
    match rule:
        case GuidanceRule():
            return rule.source.says in found.cautions
        case CoolingRule():
            ambient = history.food.ambient_ingredients
            return found.cooling is not None and rule.when == ("ambient" if ambient else "cooked")
        case FreezeRule():
            return any(isinstance(fact, ev.Frozen) for fact in facts)
        case ReheatRule():
            return any(isinstance(fact, ev.Reheated) and fact.temperature for fact in facts)
        case HoldingLimitRule():
            places = {place for fact in facts if (place := _place_read(fact))}
            here = measures(read.stack, history.food.category, read.where).holding
            return rule.place in places and rule in here
        case _:
            return False


def _place_read(fact: ev.Fact) -> str:
    """Where a reading was taken that is judged by a holding limit; empty: it was none."""
    if getattr(fact, "temperature", None) is None:
        return ""
    if isinstance(fact, ev.Chilled | ev.Reading):
        return "cold"
    return "hot" if isinstance(fact, ev.HotHeld) else ""


def _told(name: str, batch: Mapping[str, Any]) -> str:
    """What the example says of one batch: its facts, then what happened, as it is written."""
    facts = [f"{key.replace('_', ' ')} {_plain(value)}" for key, value in batch.items()
             if key not in ("item", "category", "event")]  # fmt: skip
    food = ", ".join([batch.get("item", name), *filter(None, [batch.get("category")]), *facts])
    happened = []
    for event in batch.get("event", ()):
        more = [f"{key} {_plain(value)}" for key, value in event.items()
                if key not in ("event", "at")]  # fmt: skip
        happened.append(", ".join([f"{event['event']} {_wall(event['at'])}", *more]))
    return f"`{name}` ({food}): {'; '.join(happened) or 'nothing of its own'}."


def _plain(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(map(str, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def _found(read: Scenario, found: Holding) -> str:
    """What the program finds for one batch at the moment of the example."""
    parts = [f"On {_wall(to_local(read.at, read.where))}: {found.verdict}"]
    if found.state == "frozen":
        parts.append(f"frozen, {found.days_left_once_thawed} days left once thawed")
    elif found.use_by is not None:
        day = f", day {found.day} of {found.of}" if found.day is not None else ""
        parts.append(f"use by {_limit(found, read.where)}{day}")
    if found.tcs != "tcs":
        parts.append("needs no temperature control" if found.tcs == "not-tcs" else "to be assessed")
    if found.cooling is not None:
        stages = (("first", found.cooling.first), ("whole", found.cooling.whole))
        parts.append("cooling " + ", ".join(f"{word} {got}" for word, got in stages if got))
    binding = found.binding
    if binding is not None:
        parts.append(f"by {binding.source.cite}")
    return "; ".join(parts) + "." + (f" {found.reason}" if found.reason else "")


def _limit(found: Holding, where: ZoneInfo) -> str:
    if found.use_by is None or found.last_day is None:
        return "no date"
    if found.use_by == end_of_day(found.last_day, where):
        return show_dated_day(found.last_day)
    return _wall(to_local(found.use_by, where))


def _wall(wall: datetime) -> str:
    return f"{show_dated_day(wall.date())} {wall:%H:%M}"
