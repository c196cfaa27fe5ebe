"""How rulebooks, comparisons and checks are shown: words for people, data for programs."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from holdlog.cli.show import count_of
from holdlog.reports.tables import Table

if TYPE_CHECKING:
    from holdlog.kitchen.rulebooks import Checked, Shown, ShownRule
    from holdlog.kitchen.situations import Answer, Comparison, Situation
    from holdlog.rules.rulebook import Rulebook
    from holdlog.rules.stack import Stack

LAST_WORD = "holdlog is no authority: your local health authority has the last word."
SEEN = (
    "Seen: in the authority's own text, as another source reports it (secondary), from memory "
    "only, or by our reading of the text (inference)."
)
ROLES = {"adopted": "to adopt", "amendment": "an amendment", "house": "house rules"}


# ---- the list --------------------------------------------------------------------------------


def list_parts(books: "Sequence[Rulebook]") -> list[Table | str]:
    """The rulebooks for people, by what they are for."""
    from holdlog.kitchen.rulebooks import marks

    heads = ("id", "title, edition", "rules", "seen")
    parts: list[Table | str] = []
    for role, title in (
        ("adopted", "To adopt: one of these"), ("amendment", "Amendments: on top of the book"),
    ):  # fmt: skip
        rows = tuple(
            (book.id, _about(book), str(len(book.rules)),
             ", ".join(f"{count} {mark}" for mark, count in marks(book).items() if count))
            for book in books
            if book.role == role
        )  # fmt: skip
        parts += [Table(title, heads, rows), ""]
    return [
        *parts,
        SEEN,
        "One in full: holdlog rulebook show us-food-code-2022",
        LAST_WORD,
    ]


def _about(book: "Rulebook") -> str:
    edition = f"\n{book.edition}" if book.edition and book.edition not in book.title else ""
    amends = f"\non {', '.join(book.amends)}" if book.amends else ""
    return f"{book.title}{edition}{amends}"


def book_json(book: "Rulebook") -> dict[str, Any]:
    """A rulebook's particulars for programs."""
    from holdlog.kitchen.rulebooks import marks

    return {
        "id": book.id,
        "title": book.title,
        "issuer": book.issuer,
        "edition": book.edition,
        "role": book.role,
        "amends": list(book.amends),
        "rules": len(book.rules),
        "marks": marks(book),
    }


# ---- one book --------------------------------------------------------------------------------


def shown_parts(found: "Shown") -> list[Table | str]:
    """One rulebook for people: by kind of rule, and at the end what it says nothing of."""
    book = found.book
    parts: list[Table | str] = [
        f"{book.title} ({book.id}), {ROLES[book.role]}",
        ", ".join(filter(None, (book.issuer, book.edition))),
    ]
    if book.amends:
        parts.append(f"Written for: {', '.join(book.amends)}")
    if book.conventions_source is not None:
        parts += ["", "Counting", *_source_lines(book.conventions_source)]
        counted = book.conventions
        ends = "at midnight" if counted.day_end == "calendar" else "after exactly 24 hours"
        parts.append(
            f"  day of freezing {counted.freeze_day}, day of thawing {counted.thaw_day}, a day "
            f"ends {ends}".replace("-", " ")
        )
    for kind, rules in found.rules:
        parts += ["", kind.name]
        for rule in rules:
            parts += _rule_parts(rule)
    if not found.rules:
        parts += ["", "It holds no rules."]
    parts += ["", *_silent(found)]
    return [*parts, *filter(None, (book.defer,)), LAST_WORD]


def _source_lines(source: Any) -> list[str]:
    return [f"  {source.cite}{_mark(source.seen)}", f"  {source.says}"]


def _mark(seen: str) -> str:
    return "" if seen == "text" else f" [{seen}]"


def _rule_parts(rule: "ShownRule") -> list[Table | str]:
    parts: list[Table | str] = [f"  {rule.cite}{_mark(rule.seen)}  [rule.{rule.id}]"]
    parts.append(f"    {rule.says}")
    parts += [f"    {name}: {text}" for name, text in rule.figures]
    parts += [Table(f"    {grid.title}", grid.heads, grid.rows) for grid in rule.grids]
    return parts


def _silent(found: "Shown") -> list[str]:
    """What the book has no rule for, said plainly: nothing is ever borrowed for it. It says so of
    the book and not of the law, of which a book may hold less than there is.
    """
    if not found.silent or found.book.role == "house":
        return []
    names = "; ".join(f"{kind.name} ({kind.id})" for kind in found.silent)
    if found.book.role == "amendment":
        return [f"It changes nothing of: {names}. There the book it amends stands."]
    plainly = "There nothing is judged by it, and nothing is borrowed from another authority."
    return [f"This book has no rule for: {names}. {plainly} The law itself may have one: ask."]


def shown_json(found: "Shown") -> dict[str, Any]:
    """One rulebook for programs."""
    book = found.book
    source = book.conventions_source
    conventions = None
    if source is not None:
        conventions = {
            "freeze_day": book.conventions.freeze_day,
            "thaw_day": book.conventions.thaw_day,
            "day_end": book.conventions.day_end,
            "cite": source.cite,
            "says": source.says,
            "seen": source.seen,
        }
    return {
        **book_json(book),
        "defer": book.defer or None,
        "conventions": conventions,
        "rules": [
            {
                "rule": rule.id,
                "kind": kind.id,
                "cite": rule.cite,
                "says": rule.says,
                "seen": rule.seen,
                "figures": rule.raw,
            }
            for kind, rules in found.rules
            for rule in rules
        ],
        "silent": [kind.id for kind in found.silent],
    }


# ---- two stacks ------------------------------------------------------------------------------


def comparison_parts(found: "Comparison") -> list[Table | str]:
    """Two stacks for people: what differs with its sections, then what stays."""
    parts: list[Table | str] = [
        f"What changes for {found.category}",
        f"  A  {_titles(found.first)}",
        f"  B  {_titles(found.second)}",
        "",
    ]
    differs = [each for each in found.situations if each.differs]
    same = [each for each in found.situations if not each.differs]
    if differs:
        rows = tuple((each.name, _told(each.first), _told(each.second)) for each in differs)
        parts.append(Table("", ("differs", "A", "B"), rows))
    else:
        parts.append("Nothing differs in the situations looked at.")
    if same:
        alike = tuple((each.name, each.first.says) for each in same)
        parts += ["", Table("", ("the same", "A and B"), alike)]
    parts.append("")
    for letter, stack in (("A", found.first), ("B", found.second)):
        parts += [f"Caution for {letter}: {caution}" for caution in stack.cautions]
    parts.append("Monday is 1 June 2026, 10:00 at a place where no clock changes.")
    return [*parts, LAST_WORD]


def _titles(stack: "Stack") -> str:
    return " + ".join(f"{book.title} ({book.id})" for book in stack.books)


def _told(answer: "Answer") -> str:
    if answer.source is None:
        return answer.says
    return f"{answer.says}\n{answer.source.cite}{_mark(answer.source.seen)}"


def comparison_json(found: "Comparison") -> dict[str, Any]:
    """Two stacks for programs."""
    return {
        "category": found.category,
        "first": _stack_json(found.first),
        "second": _stack_json(found.second),
        "situations": [_situation_json(each) for each in found.situations],
    }


def _stack_json(stack: "Stack") -> dict[str, Any]:
    return {"rulebooks": [book.id for book in stack.books], "cautions": list(stack.cautions)}


def _situation_json(each: "Situation") -> dict[str, Any]:
    return {
        "situation": each.name,
        "differs": each.differs,
        "first": _answer_json(each.first),
        "second": _answer_json(each.second),
    }


def _answer_json(answer: "Answer") -> dict[str, Any]:
    source = answer.source
    return {
        "says": answer.says,
        "rule": source.rule if source else None,
        "cite": source.cite if source else None,
        "seen": source.seen if source else None,
    }


# ---- checks ----------------------------------------------------------------------------------


def checked_parts(found: "Sequence[Checked]", on: Sequence[str]) -> list[Table | str]:
    """What was checked, for people; the faults themselves go to standard error."""
    parts: list[Table | str] = []
    for each in found:
        if each.faults:
            parts.append(f"{each.file}: {count_of(len(each.faults), 'fault')}")
        elif each.book is not None:
            rules = count_of(len(each.book.rules), "rule")
            parts.append(f"{each.file}: {each.book.title}, {ROLES[each.book.role]}, {rules}. "
                         f"No fault found{_also(each.book, on)}")  # fmt: skip
    return parts


def _also(book: "Rulebook", on: Sequence[str]) -> str:
    if on:
        only = ", and it only tightens them" if book.role == "house" else ""
        return f"; it stands on {', '.join(on)}{only}."
    if book.role == "house":
        return ". That it only tightens the law: say --on with the stack it is for."
    return "."


def checked_json(found: "Sequence[Checked]", on: Sequence[str]) -> dict[str, Any]:
    """What was checked, for programs."""
    return {
        "on": list(on),
        "files": [
            {
                "file": each.file,
                "id": each.book.id if each.book else None,
                "role": each.book.role if each.book else None,
                "rules": len(each.book.rules) if each.book else None,
                "faults": list(each.faults),
            }
            for each in found
        ],
    }
