"""Pages of the manual about rules: plain data in, Markdown out.

One page a kind of rule: what every authority says, its section, its figures as printed, how it
was seen, and a worked example. Whoever builds them hands in the data; nothing is left out here.
"""

from collections.abc import Sequence
from dataclasses import dataclass

MADE = (
    "<!-- Made from shared/rulebooks and shared/worked_examples by `make docs`: change those. -->"
)
# Of the books, not of the law: a book may hold less than its authority says.
NOT_HELD = "The rulebooks of these authorities hold no rule of this kind"
NOT_BORROWED = (
    "The law itself may have one: ask. Where one of these is adopted nothing is judged by such a "
    "rule, and none is borrowed from another authority."
)
SEEN = (
    "The last columns count how the rules were seen: in the authority's own text, as another "
    "source reports it, from memory only, and by our reading of the text."
)
LAST_WORD = "holdlog is no authority. Your local health authority has the last word."


@dataclass(frozen=True, slots=True)
class Example:
    """A worked example: where it comes from, its file, and what the program finds, a line each."""

    title: str
    source: str
    file: str
    finds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """One rule of one book. ``grids`` are (title, heads, rows); ``mark`` is in words;
    ``worked`` is false where it gives nothing to work out.
    """

    rule: str
    cite: str
    says: str
    mark: str
    figures: tuple[tuple[str, str], ...]
    grids: tuple[tuple[str, tuple[str, ...], tuple[tuple[str, ...], ...]], ...]
    example: Example | None
    worked: bool = True


@dataclass(frozen=True, slots=True)
class Authority:
    """A rulebook as the pages name it; ``note`` says what it is, in a line."""

    book: str
    title: str
    note: str


@dataclass(frozen=True, slots=True)
class Page:
    """A kind of rule: its id, name, what it decides, its rules by book, and the books to adopt
    that say nothing of it.
    """

    kind: str
    name: str
    decides: str
    rules: tuple[tuple[Authority, tuple[Entry, ...]], ...]
    silent: tuple[Authority, ...]


def page(data: Page) -> str:
    """The page of one kind of rule, in Markdown."""
    lines = [MADE, "", f"# {data.name}", "", f"{data.decides} Kind `{data.kind}`.", ""]
    if data.silent:
        names = "; ".join(each.title for each in data.silent)
        lines += [f"{NOT_HELD}: {names}. {NOT_BORROWED}", ""]
    if not data.rules:
        lines += ["No rulebook that comes with the program has such a rule.", ""]
    for authority, entries in data.rules:
        lines += [f"## {authority.title}", "", f"`{authority.book}`: {authority.note}", ""]
        for entry in entries:
            lines += _entry(entry)
    return "\n".join([*lines, LAST_WORD, ""])


def _entry(entry: Entry) -> list[str]:
    lines = [f"### {entry.cite}", "", entry.says, ""]
    lines += [f"* {name}: {text}" for name, text in entry.figures]
    lines += [f"* Rule `{entry.rule}`, {entry.mark}.", ""]
    for title, heads, rows in entry.grids:
        lines += [f"{title}:", "", _row(heads), _row(["---"] * len(heads))]
        lines += [*(_row(row) for row in rows), ""]
    if entry.example is None and not entry.worked:
        return lines
    return [*lines, *_example(entry.example)]


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cell.replace('|', '/') for cell in cells)} |"


def _example(example: Example | None) -> list[str]:
    if example is None:
        return ["No worked example of its own is shipped.", ""]
    link = f"[{example.file}](../../shared/worked_examples/{example.file})"
    return [
        f"Worked example: {example.title}. {link}",
        "",
        *(f"* {line}" for line in example.finds),
        "",
        f"Source: {example.source}.",
        "",
    ]


def index(pages: Sequence[Page], books: Sequence[tuple[Authority, dict[str, int]]]) -> str:
    """The list of the pages and of the books, with how many rules of each were seen how."""
    marks = list(books[0][1]) if books else []
    lines = [MADE, "", "# The rules, kind by kind", ""]
    for each in pages:
        count = sum(len(entries) for _, entries in each.rules)
        lines.append(f"* [{each.name}]({each.kind}.md): {count} rules. {each.decides}")
    lines += ["", "## The rulebooks", ""]
    lines += [_row(["id", "title", *marks]), _row(["---"] * (len(marks) + 2))]
    lines += [
        _row([f"`{authority.book}`", authority.title, *(str(counts[mark]) for mark in marks)])
        for authority, counts in books
    ]
    return "\n".join([
        *lines,
        "",
        SEEN,
        "",
        "To change or add rules: [amendments and house files](../amendments.md).",
        "",
        LAST_WORD,
        "",
    ])  # fmt: skip
