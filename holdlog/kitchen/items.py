"""Items: what the kitchen makes or opens again and again."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from holdlog.bundled import folder
from holdlog.core import events as ev
from holdlog.core.costs import Cost
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.core.toml_table import parse
from holdlog.journal import entries as journal_entries
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.kitchen.books import find_category
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.project import slug

ALLERGENS = (
    "milk", "egg", "fish", "crustacean shellfish", "tree nuts", "wheat", "peanuts", "soybeans",
    "sesame",
)  # fmt: skip  # the nine major food allergens, Food Code 2022 1-201.10(B); FASTER Act for sesame


@dataclass(frozen=True, slots=True)
class Item:
    """An item as the kitchen keeps it."""

    id: str
    fact: ev.ItemAdded

    @property
    def name(self) -> str:
        """How it is called on labels and lists."""
        return self.fact.name


def items(kitchen: Kitchen, conn: Connection) -> list[Item]:
    """All items, by name; of two facts about one item the later counts."""
    found: dict[str, Item] = {}
    for entry in journal_entries.of_kinds(conn, kitchen.site, ["item"]):
        fact = fact_of(entry)
        if isinstance(fact, ev.ItemAdded):
            found[entry.subject] = Item(entry.subject, fact)
    return sorted(found.values(), key=lambda item: item.name.lower())


def known_item(kitchen: Kitchen, conn: Connection, name: str) -> Item | None:
    """The item of exactly this name, or None."""
    item = slug(name)
    entry = journal_entries.latest(conn, kitchen.site, "item", item)
    fact = fact_of(entry) if entry is not None else None
    return Item(item, fact) if isinstance(fact, ev.ItemAdded) else None


def cost_in_force(kitchen: Kitchen, conn: Connection, item: str, at: Instant) -> Cost | None:
    """What a unit of ``item`` (an id) cost ``at`` that moment, or None where nobody had said."""
    after = Instant(at + 1)
    entry = journal_entries.latest(conn, kitchen.site, "item", item, before=after)
    fact = fact_of(entry) if entry is not None else None
    return fact.cost if isinstance(fact, ev.ItemAdded) else None


def find_item(known: Sequence[Item], typed: str) -> Item:
    """The item meant: by name or id, or by words that fit one item only.

    Raises ``Mistake("no-item")`` with what is close.
    """
    wanted = slug(typed)
    exact = [item for item in known if wanted in (item.id, slug(item.name))]
    fits = exact or [item for item in known if _begins_words(wanted, slug(item.name))]
    if len(fits) == 1 and wanted:
        return fits[0]
    if fits and wanted:
        names = "; ".join(item.name for item in fits[:6])
        raise Mistake("no-item", f"{typed!r} could be: {names}.", "Say which.")
    raise Mistake(
        "no-item",
        f"There is no item {typed!r}.",
        f'See: holdlog item list. Add it with: holdlog item add "{typed}" --category CATEGORY',
    )


def _begins_words(typed: str, name: str) -> bool:
    """Whether every typed word begins a word of the name: "green bl" fits green-bean-blanched."""
    return all(any(word.startswith(each) for word in name.split("-")) for each in typed.split("-"))


def add_item(kitchen: Kitchen, by: str, fact: ev.ItemAdded) -> Item:
    """Add an item, or replace what is known of it. Raises ``Mistake`` for an unknown category."""
    find_category(fact.category)
    check_allergens(fact.allergens)
    if not slug(fact.name):
        raise Mistake("no-item", "An item has a name.", 'Noun first: "white bean, cooked".')
    item = Item(slug(fact.name), fact)
    with kitchen.writing(by) as write:
        write.append((fact, write.recorded_at, item.id))
    return item


def check_allergens(names: Sequence[str]) -> tuple[str, ...]:
    """The allergens meant: of the nine by name or by a beginning that fits one of them.

    Raises ``Mistake("no-allergen")`` naming the nine.
    """
    found = []
    for typed in names:
        wanted = typed.strip().lower()
        fits = [name for name in ALLERGENS if name == wanted] or [
            name for name in ALLERGENS if wanted and name.startswith(wanted)
        ]
        if len(fits) != 1:
            raise Mistake(
                "no-allergen",
                f"{typed!r} is none of the nine major allergens.",
                f"They are: {', '.join(ALLERGENS)}.",
            )
        found.append(fits[0])
    return tuple(dict.fromkeys(found))


def starter(path: Path | None = None) -> list[ev.ItemAdded]:
    """The starter catalogue. Raises ``BadFile`` naming every fault of the file."""
    file = path or folder("shared") / "items" / "starter.toml"
    top = parse(file.read_text(encoding="utf-8"), file.name)
    found = []
    for table in top.tables("item"):
        table.text("id")
        table.choice("seen", ("text", "secondary", "memory", "inference"))
        found.append(
            ev.ItemAdded(
                name=table.text("name"),
                category=table.text("category"),
                allergens=table.texts("allergens"),
                cautions=table.texts("cautions"),
                thaw_days=table.whole("thaw_days", None, low=0, high=10),
                source=table.text("source"),
            )
        )
        table.finish()
    top.finish()
    top.refuse_faults("bad-items")
    return found
