"""Rulebooks: one authority's rules as data, every figure with its citation.

The kinds of rule are a closed set, one dataclass each; each is understood by one function in
this room. Loading checks the whole file and reports every fault with file, table and key.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any


from holdlog.core.events import Conventions, Food
from holdlog.core.temperature import Limit
from holdlog.core.toml_table import Table, parse

SEEN = ("text", "secondary", "memory", "inference")
PURPOSES = ("safety", "quality")
ROLES = ("adopted", "amendment", "house")
EXEMPTIONS = (
    "deli-salad", "hard-cheese", "semi-soft-cheese", "cultured-dairy", "preserved-fish",
    "dry-fermented-sausage", "salt-cured-meat", "shellstock",
)  # fmt: skip
MAKER_DATES = ("safety", "quality", "use-or-freeze-by")
THAW_METHODS = ("refrigerator", "running-water", "microwave", "cooking")
COUNTING = ("counts", "does-not-count")
DAY_ENDS = ("calendar", "exact-hours")


@dataclass(frozen=True, slots=True)
class Source:
    """Where a rule comes from: its id, the section, what it says in our words, how it was seen."""

    rule: str
    cite: str
    says: str
    seen: str


@dataclass(frozen=True, slots=True)
class Rule:
    """What every rule has. ``purpose`` is "safety" (binds) or "quality" (best-by only)."""

    source: Source
    purpose: str


@dataclass(frozen=True, slots=True)
class AcidityTable:
    """A table of pH (columns) by water activity (rows), as published.

    Each band is (comparison, figure) with comparison "<" or "<="; past the last band lies one
    more column or row.
    """

    ph: tuple[tuple[str, Decimal], ...]
    aw: tuple[tuple[str, Decimal], ...]
    cells: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class TcsRule(Rule):
    """Which food needs time and temperature control for safety."""

    table_a: AcidityTable
    table_b: AcidityTable
    listed: Mapping[str, tuple[str, ...]]
    excluded: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DateMarkRule(Rule):
    """So many days from day one. Empty ``categories`` and ``items``: for all food it fits."""

    starts: str
    days: int
    exempt: tuple[str, ...] = ()
    exempt_cite: str = ""
    categories: tuple[str, ...] = ()
    items: tuple[str, ...] = ()

    def names(self, food: Food) -> bool:
        """Whether the rule is for this food by category and item."""
        if not self.categories and not self.items:
            return True
        return food.category in self.categories or food.item in self.items


@dataclass(frozen=True, slots=True)
class MakerDateRule(Rule):
    """A maker's date binds when it was set for one of ``binds_for``."""

    binds_for: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class InheritRule(Rule):
    """A dish keeps the date of its earliest ingredient."""


@dataclass(frozen=True, slots=True)
class FreezeRule(Rule):
    """Time frozen is not counted; food without day one is discarded."""


@dataclass(frozen=True, slots=True)
class ThawRule(Rule):
    """Ways of thawing after which the food is for use within ``hours``."""

    at_once: tuple[str, ...]
    hours: int


@dataclass(frozen=True, slots=True)
class CoolingRule(Rule):
    """Cooling in two stages (``hot``, ``middle``), or one (both None). Minutes from the start."""

    when: str
    hot: Limit | None
    middle: Limit | None
    cold: Limit
    first_minutes: int | None
    whole_minutes: int
    reheat_once: bool
    reheat_cite: str


@dataclass(frozen=True, slots=True)
class HoldingLimitRule(Rule):
    """The limit of a cold or a hot unit. ``place`` is "cold" or "hot"."""

    place: str
    limit: Limit


@dataclass(frozen=True, slots=True)
class TimeControlRule(Rule):
    """Time as a public health control: so many hours from leaving temperature control.

    Food of ``ambient_categories`` may start at ``ambient_start``; its hours count from when it
    was made (became TCS). Above ``ceiling`` the food is discarded at once.
    """

    plan: str
    hours: int
    cold_start: Limit
    hot_start: Limit | None
    ceiling: Limit | None
    ambient_start: Limit | None = None
    ambient_categories: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReheatRule(Rule):
    """Reheating: the target, how long it is held, and within how many minutes it is reached."""

    target: Limit
    seconds: int
    within_minutes: int


@dataclass(frozen=True, slots=True)
class ReducedOxygenRule(Rule):
    """Hours from packing within which a reduced-oxygen pack is opened.

    Food of ``frozen_only`` categories is packed so only while it is and stays frozen.
    """

    hours: int
    frozen_only: tuple[str, ...] = ()
    frozen_cite: str = ""


@dataclass(frozen=True, slots=True)
class Rulebook:
    """One file of rules."""

    id: str
    title: str
    issuer: str
    edition: str
    role: str
    defer: str
    amends: tuple[str, ...]
    conventions: Conventions
    conventions_source: Source | None
    rules: Mapping[str, Rule]


def load(text: str, file: str) -> Rulebook:
    """Read and check a rulebook. Raises ``BadFile("bad-rulebook")`` naming every fault."""
    top = parse(text, file)
    role = top.choice("role", ROLES)
    house = role == "house"
    conventions, conventions_source = _conventions(top)
    rules = _rules(top.table("rule"), house=house)
    book = Rulebook(
        id=top.text("id"),
        title=top.text("title"),
        issuer=top.text("issuer", "this kitchen" if house else None),
        edition=top.text("edition", "" if house else None),
        role=role or "",
        defer=top.text("defer", ""),
        amends=top.texts("amends"),
        conventions=conventions,
        conventions_source=conventions_source,
        rules=rules,
    )
    if role == "amendment" and not book.amends:
        top.fault("amends", "missing; expected a list of rulebook ids")
    if house and conventions_source is not None:
        top.fault("conventions", "a house file holds rules only; the authority settles these")
    top.finish()
    top.refuse_faults("bad-rulebook")
    return book


def _conventions(top: Table) -> tuple[Conventions, Source | None]:
    if not top.has("conventions"):
        return Conventions(), None
    table = top.table("conventions")
    conventions = read_conventions(table)
    source = _source("conventions", table)
    table.finish()
    return conventions, source


def read_conventions(table: Table) -> Conventions:
    """The conventions written in ``table``; what is absent is the strict default."""
    return Conventions(
        freeze_day=table.choice("freeze_day", COUNTING, "counts"),
        thaw_day=table.choice("thaw_day", COUNTING, "counts"),
        day_end=table.choice("day_end", DAY_ENDS, "calendar"),
    )


def _source(rule: str, table: Table) -> Source:
    return Source(
        rule, table.text("cite"), table.text("says"), table.choice("seen", SEEN) or "memory"
    )


def _rules(tables: Table, *, house: bool) -> Mapping[str, Rule]:
    rules: dict[str, Rule] = {}
    allowed = tuple(HOUSE_KINDS if house else KINDS)
    for rule_id in tables.keys():  # noqa: SIM118  (a Table is not a mapping)
        table = tables.table(rule_id)
        kind = table.choice("kind", allowed)
        if kind not in allowed:
            continue
        base: dict[str, Any] = {
            "source": _source(rule_id, table),
            "purpose": table.choice("purpose", PURPOSES, "safety"),
        }
        rules[rule_id] = KINDS[kind](table, base)
        table.finish()
    return rules


def _tcs(table: Table, base: dict[str, Any]) -> Rule:
    listed = table.table("listed")
    words = {name: listed.texts(name) for name in listed.keys()}  # noqa: SIM118
    return TcsRule(
        **base,
        table_a=_acidity(table.table("table_a")),
        table_b=_acidity(table.table("table_b")),
        listed=words,
        excluded=table.texts("excluded"),
    )


def _acidity(table: Table) -> AcidityTable:
    ph = tuple(_band(table, "ph", text) for text in table.texts("ph"))
    aw = tuple(_band(table, "aw", text) for text in table.texts("aw"))
    cells = tuple(tuple(str(cell) for cell in row) for row in table.rows("cells"))
    if len(cells) != len(aw) + 1 or any(len(row) != len(ph) + 1 for row in cells):
        table.fault("cells", f"expected {len(aw) + 1} rows of {len(ph) + 1} cells")
    if any(cell not in ("non-TCS", "PA") for row in cells for cell in row):
        table.fault("cells", 'every cell is "non-TCS" or "PA"')
    table.finish()
    return AcidityTable(ph, aw, cells)


def _band(table: Table, key: str, text: str) -> tuple[str, Decimal]:
    comparison, _, figure = text.partition(" ")
    if comparison not in ("<", "<=") or not figure.replace(".", "", 1).isdigit():
        table.fault(key, f'expected bands such as "<= 4.6", found {text!r}')
        return "<", Decimal(0)
    return comparison, Decimal(figure)


def _date_mark(table: Table, base: dict[str, Any]) -> Rule:
    exempt = table.texts("exempt")
    if any(name not in EXEMPTIONS for name in exempt):
        table.fault("exempt", f"expected some of {', '.join(EXEMPTIONS)}")
    return DateMarkRule(
        **base,
        starts=table.choice("starts", ("prepared", "opened"), "prepared"),
        days=table.whole("days", low=1, high=400) or 1,
        exempt=exempt,
        exempt_cite=table.text("exempt_cite", ""),
        categories=table.texts("categories"),
        items=table.texts("items"),
    )


def _maker_date(table: Table, base: dict[str, Any]) -> Rule:
    return MakerDateRule(**base, binds_for=table.texts("binds_for"))


def _inherit(_: Table, base: dict[str, Any]) -> Rule:
    return InheritRule(**base)


def _freeze(_: Table, base: dict[str, Any]) -> Rule:
    return FreezeRule(**base)


def _thaw(table: Table, base: dict[str, Any]) -> Rule:
    return ThawRule(**base, at_once=table.texts("at_once"), hours=table.whole("hours") or 0)


def _cooling(table: Table, base: dict[str, Any]) -> Rule:
    staged = table.has("middle")
    return CoolingRule(
        **base,
        when=table.choice("when", ("cooked", "ambient")),
        hot=table.limit("hot") if staged else None,
        middle=table.limit("middle") if staged else None,
        cold=table.limit("cold"),
        first_minutes=table.whole("first_minutes", low=1) if staged else None,
        whole_minutes=table.whole("whole_minutes", low=1) or 1,
        reheat_once=table.flag("reheat_once", default=False),
        reheat_cite=table.text("reheat_cite", ""),
    )


def _holding_limit(table: Table, base: dict[str, Any]) -> Rule:
    place = table.choice("place", ("cold", "hot")) or "cold"
    return HoldingLimitRule(**base, place=place, limit=table.limit("limit"))


def _time_control(table: Table, base: dict[str, Any]) -> Rule:
    return TimeControlRule(
        **base,
        plan=table.choice("plan", ("4h", "6h")) or "4h",
        hours=table.whole("hours", low=1, high=24) or 1,
        cold_start=table.limit("cold_start"),
        hot_start=table.limit("hot_start") if table.has("hot_start") else None,
        ceiling=table.limit("ceiling") if table.has("ceiling") else None,
        ambient_start=table.limit("ambient_start") if table.has("ambient_start") else None,
        ambient_categories=table.texts("ambient_categories"),
    )


def _reheat(table: Table, base: dict[str, Any]) -> Rule:
    return ReheatRule(
        **base,
        target=table.limit("target"),
        seconds=table.whole("seconds") or 0,
        within_minutes=table.whole("within_minutes", low=1) or 1,
    )


def _reduced_oxygen(table: Table, base: dict[str, Any]) -> Rule:
    return ReducedOxygenRule(
        **base,
        hours=table.whole("hours", low=1) or 1,
        frozen_only=table.texts("frozen_only"),
        frozen_cite=table.text("frozen_cite", ""),
    )


KINDS: Mapping[str, Callable[[Table, dict[str, Any]], Rule]] = {
    "tcs": _tcs,
    "date-mark": _date_mark,
    "maker-date": _maker_date,
    "inherit": _inherit,
    "freeze": _freeze,
    "thaw": _thaw,
    "cooling": _cooling,
    "holding-limit": _holding_limit,
    "time-control": _time_control,
    "reheat": _reheat,
    "reduced-oxygen": _reduced_oxygen,
}
# A house file may add limits; it may not decide what needs them, nor lift anything.
HOUSE_KINDS = ("date-mark", "holding-limit")


