"""Every fact the journal can hold, in one file that an inspector could read.

Each class is one kind of fact; ``KINDS`` gives its name in the journal. The moment it happened
and who wrote it stand in the entry around it. Facts are never changed; a wrong one is voided
by a later ``Voided``.

The subject of an entry is a batch ("B17"), a container code, a unit, an item or "kitchen".
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from holdlog.core.amounts import Amount
from holdlog.core.temperature import Scale, Temperature

MakerDateFor = Literal["safety", "quality", "use-or-freeze-by"]
ThawMethod = Literal["refrigerator", "running-water", "microwave", "cooking"]
Packing = Literal["vacuum", "cook-chill", "sous-vide", "map"]
UnitSort = Literal["walk-in", "reach-in", "freezer", "hot box", "room"]
EndedAs = Literal["used", "sold", "staff meal", "donated", "made into", "poured together", "split"]
DayCounting = Literal["counts", "does-not-count"]
DayEnd = Literal["calendar", "exact-hours"]


@dataclass(frozen=True, slots=True)
class Food:
    """What is known of the food of one batch. None: not said, the category's facts decide."""

    item: str
    category: str
    ph: Decimal | None = None
    aw: Decimal | None = None
    heat_treated: bool | None = None
    packaged: bool | None = None
    ready_to_eat: bool | None = None
    ambient_ingredients: bool = False
    made_on_site: bool | None = None
    commercial: bool = False
    variance: bool = False
    haccp_plan: bool = False
    susceptible_population: bool = False
    depth_in: Decimal | None = None
    depth_cm: Decimal | None = None
    reduced_oxygen: Packing | None = None
    exempt_as: str | None = None
    allergens: tuple[str, ...] = ()
    house_days: int | None = None


@dataclass(frozen=True, slots=True)
class Book:
    """A rulebook by the SHA-256 of its exact bytes. ``role``: adopted, amendment, house, items."""

    id: str
    role: str
    digest: str


@dataclass(frozen=True, slots=True)
class Conventions:
    """How partial days and the end of a day are counted (the defaults are the strict ones)."""

    freeze_day: DayCounting = "counts"
    thaw_day: DayCounting = "counts"
    day_end: DayEnd = "calendar"


# ---- the kitchen -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class KitchenSetUp:
    """The kitchen: its name, its time zone, the scale its people read, the days it is closed.

    ``susceptible``: it serves highly susceptible people (a hospital, a nursery, a care home).
    """

    name: str
    zone: str
    scale: Scale
    closed: tuple[str, ...] = ()
    susceptible: bool = False


@dataclass(frozen=True, slots=True)
class StackAdopted:
    """The rules the kitchen stands on from now, and who settled conventions that are looser.

    ``conventions`` None: those that the books themselves settle.
    """

    books: tuple[Book, ...]
    conventions: Conventions | None = None
    ruling: str = ""


@dataclass(frozen=True, slots=True)
class UnitAdded:
    """A place with a temperature. ``order`` is its place in the walk."""

    sort: UnitSort
    order: int


@dataclass(frozen=True, slots=True)
class ItemAdded:
    """Something the kitchen makes or opens again and again."""

    name: str
    category: str
    allergens: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    thaw_days: int | None = None
    house_days: int | None = None
    ready_to_eat: bool | None = None
    source: str = ""


# ---- a batch: day one and its cooling --------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Prepared:
    """Cooking or mixing finished: day one. ``made_from`` are codes of containers used in it."""

    food: Food | None = None
    containers: tuple[str, ...] = ()
    unit: str = ""
    amount: Amount | None = None
    made_from: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Received:
    """A maker's goods came in, unopened."""

    temperature: Temperature | None = None
    maker_use_by: date | None = None
    maker_date_for: MakerDateFor = "safety"
    lot: str = ""
    food: Food | None = None
    containers: tuple[str, ...] = ()
    unit: str = ""
    amount: Amount | None = None


@dataclass(frozen=True, slots=True)
class Opened:
    """A maker's container was opened (its day one), or a reduced-oxygen pack was."""

    maker_use_by: date | None = None
    maker_date_for: MakerDateFor = "safety"
    lot: str = ""
    food: Food | None = None
    containers: tuple[str, ...] = ()
    unit: str = ""
    amount: Amount | None = None


@dataclass(frozen=True, slots=True)
class OffHeat:
    """The food was at or above the hot limit at that moment."""


@dataclass(frozen=True, slots=True)
class CoolingIn:
    """Where it cools from now on, and how."""

    surroundings: Temperature | None = None
    method: str = ""


@dataclass(frozen=True, slots=True)
class Cooling:
    """A reading while cooling: judged by the cooling rule only."""

    temperature: Temperature


# ---- a container -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Chilled:
    """It went into a cold unit."""

    temperature: Temperature | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """A temperature of the food in the unit where it is held."""

    temperature: Temperature


@dataclass(frozen=True, slots=True)
class Frozen:
    """It went into a freezer."""

    unit: str = ""


@dataclass(frozen=True, slots=True)
class Thawed:
    """It left the freezer."""

    method: ThawMethod | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Moved:
    """It went from one unit to another of the same kind of cold."""

    unit: str


@dataclass(frozen=True, slots=True)
class Reheated:
    """It was heated again. ``held_seconds`` at ``temperature``, reached in ``took_minutes``."""

    temperature: Temperature | None = None
    held_seconds: int | None = None
    took_minutes: int | None = None


@dataclass(frozen=True, slots=True)
class HotHeld:
    """It is held hot; a reading of the food there."""

    temperature: Temperature | None = None


@dataclass(frozen=True, slots=True)
class Out:
    """It left temperature control under time as a public health control."""

    plan: Literal["2h", "4h", "6h"] = "4h"
    temperature: Temperature | None = None


@dataclass(frozen=True, slots=True)
class Packed:
    """It was packed with the oxygen reduced. ``how`` None: vacuum. ``haccp_plan``: under one."""

    how: Packing | None = None
    haccp_plan: bool = False


@dataclass(frozen=True, slots=True)
class Excursion:
    """The unit was beyond a limit: seconds known, seconds without data, the worst reading."""

    limit: Temperature | None = None
    seconds: int = 0
    unknown_seconds: int = 0
    peak: Temperature | None = None


@dataclass(frozen=True, slots=True)
class Split:
    """It went into further containers (``amount`` each), which carry its whole history."""

    into: tuple[str, ...] = ()
    unit: str = ""
    amount: Amount | None = None


@dataclass(frozen=True, slots=True)
class ToppedUp:
    """Another container of the same item was poured into it; the older date wins."""

    poured_in: str


@dataclass(frozen=True, slots=True)
class Used:
    """It ended well."""

    ended_as: EndedAs = "used"
    amount: Amount | None = None
    into: str = ""


@dataclass(frozen=True, slots=True)
class Discarded:
    """It was binned."""

    reason: str = ""
    amount: Amount | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Labelled:
    """A label was made. ``use_by`` is the last instant on it (UTC ms); ``copy`` 0 is the first."""

    template: str
    purpose: str
    use_by: int | None = None
    days_left: int | None = None
    copy: int = 0


# ---- corrections -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Voided:
    """An earlier entry is taken back: it was wrong."""

    entry: int
    why: str


@dataclass(frozen=True, slots=True)
class Confirmed:
    """The person in charge confirms a late entry and names the paper or logger it rests on."""

    entry: int
    evidence: str


Fact = (
    KitchenSetUp | StackAdopted | UnitAdded | ItemAdded
    | Prepared | Received | Opened | OffHeat | CoolingIn | Cooling
    | Chilled | Reading | Frozen | Thawed | Moved | Reheated | HotHeld | Out | Packed | Excursion
    | Split | ToppedUp | Used | Discarded | Labelled
    | Voided | Confirmed
)  # fmt: skip

KINDS: dict[str, type[Fact]] = {
    "kitchen": KitchenSetUp,
    "stack": StackAdopted,
    "unit": UnitAdded,
    "item": ItemAdded,
    "prepared": Prepared,
    "received": Received,
    "opened": Opened,
    "off-heat": OffHeat,
    "cooling-in": CoolingIn,
    "cooling": Cooling,
    "chilled": Chilled,
    "reading": Reading,
    "frozen": Frozen,
    "thawed": Thawed,
    "moved": Moved,
    "reheated": Reheated,
    "hot-held": HotHeld,
    "out": Out,
    "packed": Packed,
    "excursion": Excursion,
    "split": Split,
    "topped-up": ToppedUp,
    "used": Used,
    "discarded": Discarded,
    "labelled": Labelled,
    "voided": Voided,
    "confirmed": Confirmed,
}

KIND_OF: dict[type[Fact], str] = {fact: kind for kind, fact in KINDS.items()}
