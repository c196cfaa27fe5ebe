"""The rules a kitchen stands on: found on the shelf at set-up, kept byte for byte in the journal.

A kitchen decides by the copies it adopted, not by the files of whatever version of the program
is installed: a corrected file takes effect when the kitchen adopts it, and shows in the journal.
"""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache

from holdlog.core.errors import Mistake
from holdlog.core.events import Book, Conventions, StackAdopted
from holdlog.core.moments import Instant
from holdlog.journal import books as kept_books
from holdlog.journal.engine import Connection
from holdlog.kitchen.shelf import book_ids, category_ids, find_book, find_category
from holdlog.rules import category, rulebook
from holdlog.rules.category import Category
from holdlog.rules.rulebook import Rulebook
from holdlog.rules.stack import Stack, build

__all__ = [
    "adopted_stack",
    "book_ids",
    "category_ids",
    "find_book",
    "find_category",
    "keep_shelf",
    "outdated",
    "shelf_stack",
]

CATEGORY_ROLE = "category"


def keep_shelf(conn: Connection, names: tuple[str, ...], at: Instant) -> tuple[Book, ...]:
    """Keep the named rulebooks and all categories in the journal; what was kept, for the entry."""
    kept = []
    for name in names:
        text, file = find_book(name)
        book = rulebook.load(text, file)
        kept.append(Book(book.id, book.role, kept_books.keep(conn, book.id, text.encode(), at)))
    for name in category_ids():
        text, file = find_category(name)
        category.load(text, file)
        kept.append(Book(name, CATEGORY_ROLE, kept_books.keep(conn, name, text.encode(), at)))
    return tuple(kept)


class _KeptCategories(Mapping[str, Category]):
    """Categories read when they are first asked for: a job needs one or two of thirty."""

    def __init__(self, texts: Mapping[str, bytes]) -> None:
        self._texts = texts
        self._read: dict[str, Category] = {}

    def __getitem__(self, name: str) -> Category:
        if name not in self._read:
            self._read[name] = category.load(self._texts[name].decode(), f"{name}.toml")
        return self._read[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._texts)

    def __len__(self) -> int:
        return len(self._texts)


def shelf_stack(names: Sequence[str], conventions: Conventions | None) -> Stack:
    """The stack that the named rulebooks and the categories of the shelf would make: everything
    that can be wrong with it is found before anything is written.
    """
    books = [rulebook.load(*find_book(name)) for name in names]
    categories = {name: category.load(*find_category(name)) for name in category_ids()}
    return build(books, categories, conventions)


@lru_cache(maxsize=8)
def _load(digest: str, text: bytes) -> Rulebook:
    return rulebook.load(text.decode(), digest[:12])


def adopted_stack(conn: Connection, adopted: StackAdopted) -> Stack:
    """The stack of an adoption, from the kept copies."""
    texts = {book: kept_books.load(conn, book.digest) for book in adopted.books}
    books = [_load(book.digest, text) for book, text in texts.items() if book.role != CATEGORY_ROLE]
    categories = {book.id: text for book, text in texts.items() if book.role == CATEGORY_ROLE}
    return build(books, _KeptCategories(categories), adopted.conventions)


def outdated(adopted: StackAdopted) -> list[str]:
    """The ids of adopted books whose file on the shelf has changed since."""
    changed = []
    for book in adopted.books:
        finder = find_category if book.role == CATEGORY_ROLE else find_book
        try:
            text, _ = finder(book.id)
        except Mistake:
            continue  # a house file of the kitchen's own, or one that is shipped no more
        if hashlib.sha256(text.encode()).hexdigest() != book.digest:
            changed.append(book.id)
    return changed
