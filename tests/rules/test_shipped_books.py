"""Every book on the shelf: sourced throughout, and no rule in it that nothing can reach."""

import re
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from holdlog.bundled import folder
from holdlog.rules import kinds, rulebook, scenario
from holdlog.rules.kinds import GuidanceRule, RecordsRule
from holdlog.rules.rulebook import Rulebook
from holdlog.rules.scenario import Scenario
from holdlog.rules.stack import Stack

SHELF = folder("shared")
BOOKS = sorted((SHELF / "rulebooks").glob("*.toml"))
EXAMPLES = sorted((SHELF / "worked_examples").glob("*.toml"))
# In the order in which a kitchen would look for its own.
IDS = (
    "us-food-code-2022", "us-food-code-2017", "us-food-code-2013", "us-food-code-2009",
    "us-mn", "us-nc", "us-sd", "us-ny", "us-nyc", "us-wa", "us-tx-brazos", "us-ca", "us-ga",
    "uk-england", "uk-wales", "uk-northern-ireland", "uk-scotland", "ie-cook-chill", "fr-2009",
    "eu-hygiene", "au-3-2-2",
)  # fmt: skip


def find(kind: str, name: str) -> tuple[str, str]:
    path = SHELF / kind / f"{name}.toml"
    return path.read_text(encoding="utf-8"), path.name


@cache
def book(path: Path) -> Rulebook:
    return rulebook.load(path.read_text(encoding="utf-8"), path.name)


@cache
def example(path: Path) -> Scenario:
    return scenario.read(
        path.read_text(encoding="utf-8"),
        path.name,
        lambda name: find("rulebooks", name),
        lambda name: find("categories", name),
    )


@cache
def standing_on() -> Mapping[str, list[Scenario]]:
    """The examples by the books they stand on."""
    by_book: dict[str, list[Scenario]] = defaultdict(list)
    for path in EXAMPLES:
        for name in example(path).rulebooks:
            by_book[name].append(example(path))
    return by_book


def without(stack: Stack, rule_id: str) -> Stack:
    rules = {name: rule for name, rule in stack.rules.items() if name != rule_id}
    return replace(stack, rules=rules, _kinds={})


def test_the_shelf_holds_the_books_it_promises() -> None:
    assert {path.stem for path in BOOKS} == set(IDS)
    assert all(book(path).id == path.stem for path in BOOKS)


@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_every_rule_has_its_source(path: Path) -> None:
    found = book(path)
    assert found.title
    assert found.issuer
    assert found.defer, "every book says who has the last word"
    for rule in found.rules.values():
        assert rule.source.cite.strip()
        assert rule.source.says.strip().endswith((".", ".)"))
        assert rule.source.seen in kinds.SEEN


def shown_to_cooks() -> list[tuple[str, str]]:
    """(book, rule) of every rule that bears on food; retention periods and what is only for the
    reader of the book do not.
    """
    return [
        (path.stem, rule_id)
        for path in BOOKS
        for rule_id, rule in book(path).rules.items()
        if not isinstance(rule, RecordsRule)
        and not (isinstance(rule, GuidanceRule) and rule.shown == "rulebook")
    ]


@pytest.mark.parametrize(("name", "rule_id"), shown_to_cooks())
def test_some_worked_example_would_answer_differently_without_the_rule(
    name: str, rule_id: str
) -> None:
    """A rule that no example reaches might as well say anything."""
    for each in standing_on()[name]:
        if rule_id not in each.stack.rules:
            continue
        lacking = replace(each, stack=without(each.stack, rule_id))
        if scenario.answer(lacking) != scenario.answer(each):
            return
    pytest.fail(f"no worked example reaches [rule.{rule_id}] of {name}")


def test_nothing_converts_a_figure_of_one_scale_into_the_other() -> None:
    """The printed pairs are rounded: 135 °F is 57.2 °C, and the codes print 57."""
    arithmetic = re.compile(r"\b(1\.8|9\s*/\s*5|5\s*/\s*9|273\.15)\b")
    package = Path(rulebook.__file__).parents[1]
    guilty = [
        path.name
        for room in ("core", "rules", "kitchen")
        for path in (package / room).glob("*.py")
        if arithmetic.search(path.read_text(encoding="utf-8"))
    ]
    # Physics converts, in one place, and no module that judges a limit reaches for it.
    # Besides, an import of readings looks whether a logger was switched to the other scale.
    assert set(guilty) <= {"degrees.py", "logger_switch.py"}
    users = [
        path.stem
        for path in package.rglob("*.py")
        if "rules.degrees" in path.read_text(encoding="utf-8")
    ]
    # A plot draws on one scale what was read on two; each verdict beside it is that of the rule.
    assert sorted(users) == ["cooling_plot", "forecast", "pace", "probe"]


def test_there_are_enough_examples_of_enough_authorities() -> None:
    assert len(EXAMPLES) >= 60
    assert all(standing_on()[name] for name in IDS)
