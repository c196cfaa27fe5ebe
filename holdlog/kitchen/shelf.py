"""The shelf: the rulebooks and categories that came with the program, and files of the kitchen's.

Knows no journal, so that looking a rule up is quick.
"""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from holdlog.bundled import folder
from holdlog.core import files
from holdlog.core.errors import Mistake
from holdlog.core.events import Conventions
from holdlog.core.toml_table import MAX_BYTES
from holdlog.core.visible import quoted
from holdlog.rules import category, rulebook
from holdlog.rules.category import Category
from holdlog.rules.rulebook import Rulebook
from holdlog.rules.stack import Stack, build


def find_book(name: str) -> tuple[str, str]:
    """The text of a rulebook by its id, or by the path of a file, and the file's name.

    Raises ``Mistake("no-rulebook")`` with the ids there are.
    """
    path = folder("shared") / "rulebooks" / f"{name}.toml"
    if "/" in name or name.endswith(".toml") or not files.is_file(path):
        path = Path(name)
    try:
        return files.read_text(path, MAX_BYTES), path.name
    except (OSError, ValueError) as error:
        raise Mistake(
            "no-rulebook",
            f"There is no rulebook {quoted(name)}.",
            f"Known: {', '.join(book_ids())}; or give the path of a file.",
        ) from error


def book_ids() -> list[str]:
    """The ids of the rulebooks on the shelf."""
    return sorted(path.stem for path in (folder("shared") / "rulebooks").glob("*.toml"))


def find_category(name: str) -> tuple[str, str]:
    """The text of a category by its id. Raises ``Mistake("no-category")`` with the known ids."""
    path = folder("shared") / "categories" / f"{name}.toml"
    if not name.replace("-", "").isalnum() or not files.is_file(path):
        raise Mistake(
            "no-category",
            f"There is no category {quoted(name)}.",
            f"Known: {', '.join(category_ids())}.",
        )
    return path.read_text(encoding="utf-8"), path.name


def category_ids() -> list[str]:
    """The ids of the categories on the shelf."""
    return sorted(path.stem for path in (folder("shared") / "categories").glob("*.toml"))


class ShelfCategories(Mapping[str, Category]):
    """The categories of the shelf, each read when it is first asked for."""

    def __init__(self) -> None:
        self._ids = category_ids()
        self._read: dict[str, Category] = {}

    def __getitem__(self, name: str) -> Category:
        if name not in self._ids:
            raise KeyError(name)
        if name not in self._read:
            self._read[name] = category.load(*find_category(name))
        return self._read[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._ids)

    def __len__(self) -> int:
        return len(self._ids)


def load_book(name: str) -> Rulebook:
    """A rulebook by its id or path. Raises ``Mistake``, ``BadFile``."""
    return rulebook.load(*find_book(name))


def stack_of(names: Sequence[str], conventions: Conventions | None = None) -> Stack:
    """The stack that the named rulebooks make, the adopted one first (``conventions`` None: the
    books' own). Raises ``Mistake`` and ``BadFile`` for whatever is wrong with it.
    """
    return build([load_book(name) for name in names], ShelfCategories(), conventions)
