"""The kinds of rule: a closed set, one dataclass each.

Each kind is understood by one function in this room.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from holdlog.core.events import Food
from holdlog.core.temperature import Limit

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
    """So many days from day one. Empty ``categories`` and ``items``: for all food it fits.

    ``starts``: "prepared", "opened", or (for named food) "any".
    """

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
    not_for_susceptible: tuple[str, ...] = ()
    not_for_susceptible_cite: str = ""


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
