"""Looking at rulebooks: the list, one in full, faults in a file, a house file to begin with."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from holdlog.core import files, whole_files
from holdlog.core.errors import BadFile, HoldlogError
from holdlog.core.toml_table import MAX_BYTES
from holdlog.kitchen.figures import KINDS, Figures, Grid, Kind, figures, grids, raw
from holdlog.kitchen.shelf import (
    ShelfCategories,
    book_ids,
    category_ids,
    find_book,
    load_book,
)
from holdlog.rules import rulebook
from holdlog.rules.kinds import (
    SEEN,
    DateMarkRule,
    HoldingLimitRule,
    Rule,
)
from holdlog.rules.rulebook import Rulebook
from holdlog.rules.stack import build

# The keys of a rule that name categories of food.
_CATEGORY_KEYS = (
    "categories", "excludes", "ambient_categories", "susceptible_refused", "frozen_only",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ShownRule:
    """A rule ready to be shown: its figures in words, as its authority prints them."""

    id: str
    kind: Kind
    cite: str
    says: str
    seen: str
    figures: Figures
    grids: tuple[Grid, ...]
    raw: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Shown:
    """A rulebook in full: its rules by kind, in the order of ``KINDS``, and the kinds of which
    it says nothing.
    """

    book: Rulebook
    rules: tuple[tuple[Kind, tuple[ShownRule, ...]], ...]
    silent: tuple[Kind, ...]


@dataclass(frozen=True, slots=True)
class Checked:
    """A file that was checked; ``book`` is None where it could not be read as a rulebook."""

    file: str
    book: Rulebook | None
    faults: tuple[str, ...]


def listed() -> list[Rulebook]:
    """The rulebooks of the shelf: those to adopt first, then the amendments."""
    books = [load_book(name) for name in book_ids()]
    return sorted(books, key=lambda book: (book.role != "adopted", book.id))


def marks(book: Rulebook) -> dict[str, int]:
    """How many rules of a book bear each mark, every mark named."""
    counted = Counter(rule.source.seen for rule in book.rules.values())
    return {mark: counted[mark] for mark in SEEN}


def shown(name: str) -> Shown:
    """The rulebook ``name`` (an id, or the path of a file) in full. Raises ``Mistake``,
    ``BadFile``.
    """
    return in_full(load_book(name))


def in_full(book: Rulebook) -> Shown:
    """A rulebook in full."""
    groups: dict[type[Rule], list[ShownRule]] = {kind: [] for kind in KINDS}
    for rule in book.rules.values():
        groups[type(rule)].append(_shown(rule))
    by_kind = ((KINDS[kind], tuple(rules)) for kind, rules in groups.items() if rules)
    silent = tuple(KINDS[kind] for kind, rules in groups.items() if not rules)
    return Shown(book, tuple(by_kind), silent)


def _shown(rule: Rule) -> ShownRule:
    source = rule.source
    return ShownRule(
        source.rule, KINDS[type(rule)], source.cite, source.says, source.seen, figures(rule),
        grids(rule), raw(rule),
    )  # fmt: skip


# ---- checking --------------------------------------------------------------------------------


def checked(files: Sequence[str], on: Sequence[str] = ()) -> list[Checked]:
    """Every fault of every file. ``on`` is the stack each of them is to stand on, adopted book
    first: then a house rule that is looser than the law is a fault too.

    Raises ``Mistake`` and ``BadFile`` for what is wrong with ``on`` itself.
    """
    below = [load_book(name) for name in on]
    if below:
        build(below, ShelfCategories())
    return [_checked(file, below) for file in files]


def _checked(file: str, below: list[Rulebook]) -> Checked:
    try:
        book = rulebook.load(_text(file), file)
    except BadFile as error:
        return Checked(file, None, error.faults)
    faults = _unknown_categories(book, file)
    if below:
        faults += _standing(book, below, file)
    return Checked(file, book, tuple(faults))


def _text(file: str) -> str:
    """The text of a file, or of a rulebook on the shelf. Raises ``BadFile``."""
    if file in book_ids():
        return find_book(file)[0]
    try:
        return files.read_text(Path(file), MAX_BYTES)
    except OSError as error:
        raise BadFile("no-file", (f"{file}: {error.strerror or error}",)) from error
    except ValueError as error:
        raise BadFile("bad-file", (f"{file}: not a text in UTF-8",)) from error


def _unknown_categories(book: Rulebook, file: str) -> list[str]:
    """A rule for a category that is none would never be applied, and nobody would notice."""
    known = category_ids()
    return [
        f"{file}: [rule.{rule_id}] {key}: expected categories, found {name!r} (known: "
        f"{', '.join(known)})"
        for rule_id, rule in book.rules.items()
        for key in _CATEGORY_KEYS
        for name in getattr(rule, key, ())
        if name not in known
    ]


def _standing(book: Rulebook, below: list[Rulebook], file: str) -> list[str]:
    try:
        build([*below, book], ShelfCategories())
    except BadFile as error:
        faults = (fault.removeprefix(f"{book.id}: ") for fault in error.faults)
        return [f"{file}: {_with_key(fault, book)}. {error.hint}" for fault in faults]
    except HoldlogError as error:
        return [f"{file}: {error.line()}"]
    return []


def _with_key(fault: str, book: Rulebook) -> str:
    """A fault of a house rule with the key that is too loose."""
    rule_id = fault.partition("[rule.")[2].partition("]")[0]
    match book.rules.get(rule_id):
        case DateMarkRule():
            key = "days"
        case HoldingLimitRule():
            key = "limit"
        case _:
            return fault
    return fault.replace("] is looser", f"] {key}: is looser", 1)


# ---- a house file to begin with --------------------------------------------------------------

STARTER = """\
# House rules: what this kitchen keeps shorter, colder or hotter than the law.
#
# A house rule is added to the law and can only tighten it: the earliest date binds. Change the
# lines below, then look for faults, see what would change, and adopt it with the whole stack:
#
#   holdlog rulebook check house.toml --on us-food-code-2022
#   holdlog adopt -R us-food-code-2022 -R house.toml --dry-run
#   holdlog adopt -R us-food-code-2022 -R house.toml --by JR
#
# Two kinds of rule are the house's to make: "date-mark" (days) and "holding-limit"
# (temperatures). Each says why (says) and whose decision it was (cite).

id = "house"
title = "House rules"
role = "house"

[rule.house-stock]
kind = "date-mark"
categories = ["stock"]          # or items = ["fish stock"]; the kinds of food: holdlog item list
days = 3                        # the day it is made or opened is day 1
cite = "house rule"             # who decided it, and when
says = "We keep stock three days."
seen = "text"

# Everything that is made here, whatever it is. Without the marks in front it is a rule.
# [rule.house-everything]
# kind = "date-mark"
# starts = "prepared"           # or "opened"
# days = 5
# cite = "house rule"
# says = "We keep nothing longer than five days."
# seen = "text"

# Colder than the law asks. Write each figure your probes show: one is never worked out of the
# other.
# [rule.house-cold]
# kind = "holding-limit"
# place = "cold"                # or "hot"
# limit = { f = 39, c = 4 }
# cite = "house rule"
# says = "Our units are kept at 39 °F (4 °C) or below."
# seen = "text"
"""


def write_house(file: Path) -> None:
    """Write a house file to begin with. Raises ``Mistake("file-exists")``, since nothing is ever
    written over, and ``Fault("no-file")``.
    """
    whole_files.write_new(file, STARTER.replace("house.toml", str(file)).encode())
