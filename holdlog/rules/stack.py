"""The stack: adopted rulebook, amendments, house rules, in that order.

An amendment replaces named rules of the adopted book and may loosen, since it is law. House
rules are added, so that they can only tighten; one that is looser than the law is refused.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar, cast

from holdlog.core.errors import BadFile, Mistake
from holdlog.core.events import Conventions
from holdlog.rules.category import UNKNOWN, Category
from holdlog.rules.kinds import (
    CoolingRule,
    DateMarkRule,
    HoldingLimitRule,
    MakerDateRule,
    ReheatRule,
    Rule,
    TcsRule,
    TimeControlRule,
)
from holdlog.rules.rulebook import Rulebook

R = TypeVar("R", bound=Rule)


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """The rules a kitchen stands on. ``house`` are its own, on top of ``rules``.

    A stack is compared by identity: one is built at a time and asked very often.
    """

    books: tuple[Rulebook, ...]
    rules: Mapping[str, Rule]
    house: tuple[Rule, ...]
    conventions: Conventions
    categories: Mapping[str, Category]
    cautions: tuple[str, ...]
    _kinds: dict[type[Rule], list[Rule]] = field(default_factory=dict, repr=False)

    @property
    def adopted(self) -> Rulebook:
        """The book the kitchen adopted."""
        return self.books[0]

    def of_kind(self, kind: type[R]) -> list[R]:
        """The rules of one kind, the law's first, then the house's."""
        if kind not in self._kinds:
            everything = (*self.rules.values(), *self.house)
            self._kinds[kind] = [rule for rule in everything if isinstance(rule, kind)]
        return cast("list[R]", self._kinds[kind])

    def category(self, name: str) -> Category:
        """The facts of a category; what is unknown is taken for the worst."""
        return self.categories.get(name, UNKNOWN)


def build(
    books: Sequence[Rulebook],
    categories: Mapping[str, Category],
    conventions: Conventions | None = None,
) -> Stack:
    """Stack ``books``. ``conventions`` are what the authority has settled (None: the book's).

    Raises ``Mistake("bad-stack")`` for an amendment alone, two that replace one rule, or a
    second adopted book, and ``BadFile("loose-house-rule")`` for a house rule looser than the law.
    """
    adopted, amendments, house = _by_role(books)
    rules = dict(adopted.rules)
    cautions: list[str] = []
    replaced: dict[str, str] = {}
    settled, settled_by = adopted.conventions, ""
    for book in amendments:
        cautions += _standing(adopted, book)
        for rule_id, rule in book.rules.items():
            if rule_id in replaced:
                raise Mistake(
                    "bad-stack",
                    f"{replaced[rule_id]} and {book.id} both replace the rule {rule_id!r}.",
                    "Adopt only one of them.",
                )
            if rule_id in adopted.rules and type(rule) is not type(adopted.rules[rule_id]):
                raise Mistake(
                    "bad-stack",
                    f"{book.id}: [rule.{rule_id}] is of another kind than the rule it replaces.",
                    "Give it a name of its own.",
                )
            replaced[rule_id] = book.id
            rules[rule_id] = rule
        if book.conventions_source is not None:
            if settled_by:
                raise Mistake(
                    "bad-stack",
                    f"{settled_by} and {book.id} both settle the conventions.",
                    "Adopt only one of them.",
                )
            settled, settled_by = book.conventions, book.id
    _refuse_two_of_one(rules)
    cautions += _lacking(rules)
    for book in house:
        _refuse_looser(book, rules, categories)
    return Stack(
        books=(adopted, *amendments, *house),
        # In a fixed order: the order in which a file is written decides nothing, not even which
        # of two equal limits is named.
        rules=dict(sorted(rules.items())),
        house=tuple(rule for book in house for rule in book.rules.values()),
        conventions=conventions or settled,
        categories=categories,
        cautions=tuple(cautions),
    )


def _by_role(books: Sequence[Rulebook]) -> tuple[Rulebook, list[Rulebook], list[Rulebook]]:
    by_role: dict[str, list[Rulebook]] = {"adopted": [], "amendment": [], "house": []}
    for book in books:
        by_role[book.role].append(book)
    if len(by_role["adopted"]) != 1:
        found = ", ".join(book.id for book in by_role["adopted"]) or "none"
        raise Mistake(
            "bad-stack",
            f"A kitchen adopts exactly one rulebook; found {found}.",
            "Name one rulebook first, then its amendments, then house rules.",
        )
    return by_role["adopted"][0], by_role["amendment"], by_role["house"]


def _standing(adopted: Rulebook, amendment: Rulebook) -> list[str]:
    """A caution where an amendment was written for another edition of the adopted book."""
    if adopted.id in amendment.amends:
        return []
    of_a_kin = amendment.id.startswith("us-") and adopted.id.startswith("us-food-code-")
    if not of_a_kin:
        raise Mistake(
            "bad-stack",
            f"{amendment.id} amends {', '.join(amendment.amends)}, not {adopted.id}.",
            "Adopt the rulebook it was written for.",
        )
    written_for = ", ".join(amendment.amends)
    caution = (
        f"{amendment.title} was written for {written_for}, and stands here on {adopted.id}: ask "
        "the local authority which edition is in force."
    )
    return [caution]


def _only_one(rule: Rule) -> tuple[str, ...]:
    """What only one rule of the law may speak of; empty where several may, the earliest binding."""
    match rule:
        case TcsRule() | MakerDateRule() | ReheatRule():
            return (type(rule).__name__,)
        case CoolingRule():
            return ("cooling", rule.when)
        case TimeControlRule():
            return ("time control", rule.plan)
        case _:
            return ()


def _refuse_two_of_one(rules: Mapping[str, Rule]) -> None:
    """An amendment that adds a second rule of such a kind would be passed over in silence."""
    known: dict[tuple[str, ...], str] = {}
    for rule_id, rule in rules.items():
        subject = _only_one(rule)
        if subject and subject in known:
            raise Mistake(
                "bad-stack",
                f"[rule.{known[subject]}] and [rule.{rule_id}] speak of the same thing.",
                "An amendment bears the name of the rule that it replaces.",
            )
        known[subject] = rule_id


_EXPECTED: Mapping[str, type[Rule]] = {
    "which food needs time and temperature control": TcsRule,
    "days": DateMarkRule,
    "cooling": CoolingRule,
    "holding temperatures": HoldingLimitRule,
}


def _lacking(rules: Mapping[str, Rule]) -> list[str]:
    """What the law here says nothing of; it is never borrowed from another authority."""
    missing = [
        subject
        for subject, kind in _EXPECTED.items()
        if not any(isinstance(rule, kind) for rule in rules.values())
    ]
    places = {rule.place for rule in rules.values() if isinstance(rule, HoldingLimitRule)}
    if places:
        missing += [f"{place} holding" for place in ("cold", "hot") if place not in places]
    return [
        f"The adopted rules say nothing of {subject}: nothing is judged by them; ask the authority."
        for subject in missing
    ]


def _refuse_looser(
    book: Rulebook, rules: Mapping[str, Rule], categories: Mapping[str, Category]
) -> None:
    faults = []
    for rule_id, rule in book.rules.items():
        looser_than = [
            law.source.cite
            for law in rules.values()
            if _same_subject(law, rule) and _looser(rule, law, categories)
        ]
        if looser_than:
            faults.append(f"{book.id}: [rule.{rule_id}] is looser than {', '.join(looser_than)}")
        if any(_no_scale_in_common(law, rule) for law in rules.values()):
            faults.append(
                f"{book.id}: [rule.{rule_id}] is on another scale than the law: no one probe could "
                "show that both are kept"
            )
        if rule_id in rules:
            faults.append(f"{book.id}: [rule.{rule_id}] bears the name of a rule of the law")
    if faults:
        raise BadFile("loose-house-rule", tuple(faults), "A house rule may only tighten.")


def _no_scale_in_common(law: Rule, house: Rule) -> bool:
    if not isinstance(law, HoldingLimitRule) or not isinstance(house, HoldingLimitRule):
        return False
    pairs = ((house.limit.f, law.limit.f), (house.limit.c, law.limit.c))
    return law.place == house.place and not any(
        own is not None and lawful is not None for own, lawful in pairs
    )


def _same_subject(law: Rule, house: Rule) -> bool:
    if isinstance(law, DateMarkRule) and isinstance(house, DateMarkRule):
        # A law for named food only says nothing of other food.
        everybody = not law.categories and not law.items
        return everybody and house.starts in (law.starts, "any")
    if isinstance(law, HoldingLimitRule) and isinstance(house, HoldingLimitRule):
        return law.place == house.place and not law.categories
    return False


def _looser(house: Rule, law: Rule, categories: Mapping[str, Category]) -> bool:
    if isinstance(house, DateMarkRule) and isinstance(law, DateMarkRule):
        raw_only = bool(house.categories) and not any(
            categories.get(name, UNKNOWN).ready_to_eat for name in house.categories
        )
        # The law's days are for ready-to-eat food; for raw food it names none to be looser than.
        return house.days > law.days and not raw_only
    if isinstance(house, HoldingLimitRule) and isinstance(law, HoldingLimitRule):
        pairs = ((house.limit.f, law.limit.f), (house.limit.c, law.limit.c))
        known = [(own, lawful) for own, lawful in pairs if own is not None and lawful is not None]
        if house.place == "hot":
            return any(own < lawful for own, lawful in known)
        return any(own > lawful for own, lawful in known)
    return False
