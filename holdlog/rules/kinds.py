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
PLANS = ("2h", "4h", "6h")
PACK_OPTIONS = ("short", "two-barrier", "cook-chill", "colder", "cheese")
GUIDANCE_SHOWN = ("always", "packed", "rulebook")
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


# Rules are compared by identity and never printed: what a dataclass would make for that is left
# out, since every start of the program would pay for it.
@dataclass(frozen=True, slots=True, eq=False, repr=False)
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


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class TcsRule(Rule):
    """Which food needs time and temperature control for safety.

    Food of ``susceptible_refused`` categories is not offered to highly susceptible people.
    """

    table_a: AcidityTable
    table_b: AcidityTable
    listed: Mapping[str, tuple[str, ...]]
    excluded: tuple[str, ...]
    susceptible_refused: tuple[str, ...] = ()
    susceptible_cite: str = ""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class DateMarkRule(Rule):
    """So many days from day one. Empty ``categories`` and ``items``: for all food it fits, save
    that of ``excludes``.

    ``starts``: "prepared", "opened", or (for named food) "any".
    """

    starts: str
    days: int
    exempt: tuple[str, ...] = ()
    exempt_cite: str = ""
    categories: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()

    def names(self, food: Food) -> bool:
        """Whether the rule is for this food by category and item."""
        if not self.categories and not self.items:
            return food.category not in self.excludes
        return food.category in self.categories or food.item in self.items


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class MakerDateRule(Rule):
    """A maker's date binds when it was set for one of ``binds_for``."""

    binds_for: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class InheritRule(Rule):
    """A dish keeps the date of its earliest ingredient."""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class FreezeRule(Rule):
    """Time frozen is not counted; food without day one is discarded.

    ``at_once`` are the ways of thawing after which food is for use within ``hours``, by
    ``thawing``.
    """

    at_once: tuple[str, ...] = ()
    hours: int = 0
    thawing: Source | None = None


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class CoolingRule(Rule):
    """Cooling in two stages (with ``middle``) or one. Minutes from the start; ``second_minutes``,
    in place of ``whole_minutes``, from reaching ``middle``.

    Food no deeper than ``no_clock_depth_in`` inches (or ``no_clock_depth_cm``) has no clock.
    """

    when: str
    hot: Limit | None
    middle: Limit | None
    cold: Limit
    first_minutes: int | None
    whole_minutes: int | None
    reheat_once: bool
    reheat_cite: str
    second_minutes: int | None = None
    no_clock_depth_in: Decimal | None = None
    no_clock_depth_cm: Decimal | None = None


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class HoldingLimitRule(Rule):
    """The limit of a unit: ``place`` is "cold", "hot" or "frozen".

    For food of its ``categories`` it stands in place of the general limit.
    """

    place: str
    limit: Limit
    categories: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class TimeControlRule(Rule):
    """Time as a public health control: so many hours from leaving temperature control.

    ``exclusive``: less than so many hours. Food of ``ambient_categories`` may start at
    ``ambient_start``; its hours count from when it was made (became TCS). Above ``ceiling`` the
    food is discarded at once; after ``check_at_hours`` it is measured again against
    ``check_limit``. Put back within ``returns_within_hours`` out in all, it may go back.
    Food of ``susceptible_refused`` categories is refused where susceptible people are served.
    """

    plan: str
    hours: int
    cold_start: Limit | None
    hot_start: Limit | None
    ceiling: Limit | None
    ambient_start: Limit | None = None
    ambient_categories: tuple[str, ...] = ()
    susceptible_refused: tuple[str, ...] = ()
    susceptible_cite: str = ""
    exclusive: bool = False
    check_at_hours: int | None = None
    check_limit: Limit | None = None
    returns_within_hours: int | None = None


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class ReheatRule(Rule):
    """Reheating: the target, how long it is held, and within how many minutes it is reached.

    ``same_day``: eaten on the day of the first reheating.
    """

    target: Limit
    seconds: int | None
    within_minutes: int | None
    microwave: Limit | None = None
    same_day: bool = False


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class ReducedOxygenRule(Rule):
    """How long food packed with the oxygen reduced is kept: ``hours`` or ``days`` from packing.

    ``option`` is "short" (any pack), "two-barrier" (by ``aw_at_most``, ``ph_at_most`` or
    ``categories``), "cook-chill" (cook-chill and sous vide bags) or "cheese"; ``needs_haccp``:
    only under a HACCP plan. Food of ``frozen_only`` categories is packed so only while it is and
    stays frozen.

    "colder" is a cook-chill bag shown at ``colder`` within ``within_hours`` of reaching the cold
    limit; once it is no longer shown so cold it has ``then_days`` days, within the ``days`` in all.
    """

    option: str
    hours: int | None
    days: int | None
    needs_haccp: bool
    frozen_only: tuple[str, ...] = ()
    frozen_cite: str = ""
    frozen_seen: str = ""
    aw_at_most: Decimal | None = None
    ph_at_most: Decimal | None = None
    categories: tuple[str, ...] = ()
    colder: Limit | None = None
    within_hours: int | None = None
    then_days: int | None = None


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class OutageRule(Rule):
    """Cold food warmer than ``limit`` for longer than ``hours`` is discarded."""

    limit: Limit
    hours: int


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class GuidanceRule(Rule):
    """What the authority says without a figure that this program could judge.

    Shown to the cook for food of its ``categories`` (empty: all), ``shown`` "always", only for
    food "packed" with the oxygen reduced, or in the "rulebook" alone.
    """

    categories: tuple[str, ...]
    shown: str


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class RecordsRule(Rule):
    """How long a record is kept, in days or months."""

    keep_days: int | None
    keep_months: int | None
