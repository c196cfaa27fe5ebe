"""Every fact the journal can hold, in one file that an inspector could read.

Each class is one kind of fact; ``KINDS`` gives its name in the journal. The moment it happened
and who wrote it stand in the entry around it. Facts are never changed; a wrong one is voided
by a later ``Voided``.

The subject of an entry is a batch ("B17"), a container code, a unit, an item, a printer, a
round ("round R12"), a maker's lot ("lot L442") or "kitchen".
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from holdlog.core.amounts import Amount
from holdlog.core.costs import Cost, Money
from holdlog.core.temperature import Scale, Temperature

MakerDateFor = Literal["safety", "quality", "use-or-freeze-by"]
ThawMethod = Literal["refrigerator", "running-water", "microwave", "cooking"]
Packing = Literal["vacuum", "cook-chill", "sous-vide", "map"]
UnitSort = Literal["walk-in", "reach-in", "freezer", "hot box", "room"]
EndedAs = Literal[
    "used", "sold", "staff meal", "donated", "returned", "made into", "poured together",
    "split",
]  # fmt: skip
DayCounting = Literal["counts", "does-not-count"]
DayEnd = Literal["calendar", "exact-hours"]
# How labels reach a printer, in what language, and how far a label is known to have got.
PrinterRoute = Literal["folder", "ipp", "queue", "socket"]
PrinterEncoding = Literal["png", "pdf", "pwg", "zpl", "escpos"]
ProbeScale = Literal["F", "C", "FC"]
CheckMethod = Literal["ice", "boiling"]
LabelState = Literal["rendered", "sent", "accepted", "completed", "seen"]
# What a scan in a round is answered with.
RoundAnswer = Literal[
    "serve", "today", "frozen", "no-limit", "hold", "bin", "belongs", "again", "ended", "unknown"
]


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
class PrinterAdded:
    """A label printer: how it is reached, what it understands, what is loaded in it.

    ``template`` is a name or the path of a file, ``dpi`` dots per inch. Added again under the
    same name, the newer one counts; of several defaults, the newest.
    """

    route: PrinterRoute
    address: str
    encoding: PrinterEncoding
    template: str
    dpi: int = 203
    default: bool = False


@dataclass(frozen=True, slots=True)
class PrinterRemoved:
    """A label printer is no longer used."""


@dataclass(frozen=True, slots=True)
class LabelWords:
    """The languages of the labels, the first one first (``"en"``), and further fonts (paths)."""

    languages: tuple[str, ...]
    fonts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ItemAdded:
    """Something the kitchen makes or opens again and again. ``cost``: what a unit of it costs."""

    name: str
    category: str
    allergens: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    thaw_days: int | None = None
    house_days: int | None = None
    ready_to_eat: bool | None = None
    source: str = ""
    cost: Cost | None = None


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
    probe: str = ""


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
    """A reading while cooling: judged by the cooling rule only. ``probe``: what it was read on."""

    temperature: Temperature
    probe: str = ""


# ---- a container -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Chilled:
    """It went into a cold unit."""

    temperature: Temperature | None = None
    probe: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """A temperature of the food in the unit where it is held."""

    temperature: Temperature
    probe: str = ""


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
    probe: str = ""


@dataclass(frozen=True, slots=True)
class HotHeld:
    """It is held hot; a reading of the food there."""

    temperature: Temperature | None = None
    probe: str = ""


@dataclass(frozen=True, slots=True)
class Out:
    """It left temperature control under time as a public health control."""

    plan: Literal["2h", "4h", "6h"] = "4h"
    temperature: Temperature | None = None
    probe: str = ""


@dataclass(frozen=True, slots=True)
class Packed:
    """It was packed with the oxygen reduced. ``how`` None: vacuum. ``haccp_plan``: under one."""

    how: Packing | None = None
    haccp_plan: bool = False


@dataclass(frozen=True, slots=True)
class Excursion:
    """The unit was beyond a limit: seconds known, seconds without data, the worst reading.

    ``began``: when it may have begun (UTC ms); ``source``: the entry it was worked out from, a
    reading of the unit or an import of its logger.
    """

    limit: Temperature | None = None
    seconds: int = 0
    unknown_seconds: int = 0
    peak: Temperature | None = None
    unit: str = ""
    began: int | None = None
    source: int | None = None


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
    """It ended well, or ``part`` of it did: then the rest stays on hand."""

    ended_as: EndedAs = "used"
    amount: Amount | None = None
    into: str = ""
    part: bool = False


@dataclass(frozen=True, slots=True)
class Discarded:
    """It was binned, or ``part`` of it was: then the rest stays on hand.

    ``cost`` is what that was worth at the item's cost of the day: a later price changes nothing.
    """

    reason: str = ""
    amount: Amount | None = None
    note: str = ""
    cost: Money | None = None
    part: bool = False


@dataclass(frozen=True, slots=True)
class Labelled:
    """A label was made. ``use_by`` is the last instant on it (UTC ms); ``copy`` 0 is the first.

    ``printer`` is empty for files and for tape. ``state`` is how far it is known to have got;
    "sent" and "accepted" mean that nobody saw it come out; "seen", that a cook has the label in
    hand of which an entry before this one said so. A discard tag repeats the date of the
    label beside it: it frees no date.
    """

    template: str
    purpose: str
    use_by: int | None = None
    days_left: int | None = None
    copy: int = 0
    printer: str = ""
    state: LabelState = "rendered"


@dataclass(frozen=True, slots=True)
class PrintFailed:
    """A label was wanted and none came out, for the printer's own ``reason``. It dates nothing."""

    template: str
    purpose: str
    printer: str = ""
    reason: str = ""


# ---- recalls and files -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Recalled:
    """Everything that contains the subject (a maker's lot, a batch, a container) is recalled.

    ``what`` is the subject as it was named, ``why`` the reason. It holds for what is recorded
    of the subject later, too; the withdrawal of a recall is its ``Voided``.
    """

    what: str
    why: str


@dataclass(frozen=True, slots=True)
class FileImported:
    """A file was read into the journal, all ``rows`` of it. ``digest``: SHA-256 of its bytes.

    The entries made of it are the ones just before this one.
    """

    what: Literal["items", "inventory"]
    file: str
    digest: str
    rows: int


# ---- units and probes ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class UnitRead:
    """A temperature of a unit's air, read by a person."""

    temperature: Temperature
    probe: str = ""


@dataclass(frozen=True, slots=True)
class ReadingsImported:
    """A logger's file was read for a unit, from ``first`` to ``last`` (UTC ms). ``digest``: SHA-256
    of its bytes, ``kept``: of the readings added, as they are kept. Its rows were ``added``,
    ``already`` there, ``conflicting`` with what was there, ``refused`` or ``repeated``.
    """

    file: str
    digest: str
    scale: Scale
    first: int | None = None
    last: int | None = None
    added: int = 0
    already: int = 0
    conflicting: int = 0
    refused: int = 0
    repeated: int = 0
    kept: str = ""


@dataclass(frozen=True, slots=True)
class ProbeAdded:
    """A thermometer of the kitchen. ``scale``: what it shows; "FC" can show both."""

    scale: ProbeScale


@dataclass(frozen=True, slots=True)
class ProbeChecked:
    """A thermometer was checked in ice or in boiling water, and how far off it was.

    ``passed`` is decided at the ice point alone; boiling water tells, and decides nothing.
    """

    method: CheckMethod
    temperature: Temperature
    expected: Temperature
    passed: bool


# ---- the round --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RoundBegun:
    """A walk through ``units``, container by container, was begun. Its subject: "round R12"."""

    units: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RoundUnit:
    """The round came to ``unit``. ``read``: its temperature is the entry of that number; None:
    nobody read it.
    """

    unit: str
    read: int | None = None


@dataclass(frozen=True, slots=True)
class RoundSeen:
    """A container was scanned (or seen, ``by_eye``) in ``unit``, and what it was answered.

    ``code`` is what was typed where no container is known by it. ``shelf`` 1 is the top one.
    """

    code: str
    unit: str
    answer: RoundAnswer
    shelf: int | None = None
    by_eye: bool = False


@dataclass(frozen=True, slots=True)
class RoundFound:
    """Food without a label was found, and binned: unmarked food is discarded."""

    what: str
    unit: str
    amount: Amount | None = None


@dataclass(frozen=True, slots=True)
class RoundNoted:
    """Something worth a note, of a container (``code``) or of a unit."""

    note: str
    unit: str
    code: str = ""


@dataclass(frozen=True, slots=True)
class RoundEnded:
    """The round was ended and ``in_charge`` answers for it (initials; empty: not signed).

    ``seen`` counts containers. ``not_seen`` are on hand by the journal and nobody scanned them,
    ``elsewhere`` were seen in another unit than the journal says, ``ended`` were there although
    the journal has them gone, ``unknown`` is what was scanned and is no container here.
    ``raw_above`` is raw animal food that stood above ready-to-eat food.
    """

    seen: int
    not_seen: tuple[str, ...] = ()
    elsewhere: tuple[str, ...] = ()
    ended: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    raw_above: tuple[str, ...] = ()
    in_charge: str = ""


# ---- keeping the journal ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class BackedUp:
    """The whole journal was copied to ``file`` (its path there and then), and the copy was read
    back whole: ``entries`` entries of this site, the last of them with the hash ``head``.
    """

    file: str
    entries: int
    head: str


@dataclass(frozen=True, slots=True)
class Restored:
    """The journal was taken back to the backup ``file`` (its path there and then), of which the
    last entry of this site was number ``entries``, with the hash ``head``.

    Up to entry ``same`` the journal that was there was the same; after it came ``lost`` entries,
    written from ``lost_from`` to ``lost_to`` (UTC milliseconds), the last of them with the hash
    ``lost_head``. ``unknown``: there was none, or one that could not be read, and nobody can tell
    what was written after the backup. ``aside``: the path where it was kept (empty: there was
    none).
    """

    file: str
    entries: int
    head: str
    same: int = 0
    lost: int = 0
    lost_from: int | None = None
    lost_to: int | None = None
    lost_head: str = ""
    unknown: bool = False
    aside: str = ""


@dataclass(frozen=True, slots=True)
class ClockFoundRight:
    """The person in charge looked at the clock and found it right, ``days`` whole days after the
    entry before this one was written: nobody wrote meanwhile.
    """

    days: int


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


@dataclass(frozen=True, slots=True)
class Settled:
    """The person in charge keeps food that a reading or an excursion had put on hold.

    ``entry`` is that reading or excursion, ``why`` the reason, ``evidence`` the paper or logger.
    """

    entry: int
    why: str
    evidence: str


Fact = (
    KitchenSetUp | StackAdopted | UnitAdded | ItemAdded
    | PrinterAdded | PrinterRemoved | LabelWords
    | Prepared | Received | Opened | OffHeat | CoolingIn | Cooling
    | Chilled | Reading | Frozen | Thawed | Moved | Reheated | HotHeld | Out | Packed | Excursion
    | Split | ToppedUp | Used | Discarded | Labelled | PrintFailed
    | RoundBegun | RoundUnit | RoundSeen | RoundFound | RoundNoted | RoundEnded
    | UnitRead | ReadingsImported | ProbeAdded | ProbeChecked
    | Recalled | FileImported | BackedUp | Restored | ClockFoundRight
    | Voided | Confirmed | Settled
)  # fmt: skip

KINDS: dict[str, type[Fact]] = {
    "kitchen": KitchenSetUp, "stack": StackAdopted, "unit": UnitAdded, "item": ItemAdded,
    "printer": PrinterAdded, "printer-removed": PrinterRemoved, "label-words": LabelWords,
    "prepared": Prepared, "received": Received, "opened": Opened, "off-heat": OffHeat,
    "cooling-in": CoolingIn, "cooling": Cooling, "chilled": Chilled, "reading": Reading,
    "frozen": Frozen, "thawed": Thawed, "moved": Moved, "reheated": Reheated,
    "hot-held": HotHeld, "out": Out, "packed": Packed, "excursion": Excursion, "split": Split,
    "topped-up": ToppedUp, "used": Used, "discarded": Discarded, "labelled": Labelled,
    "print-failed": PrintFailed, "unit-read": UnitRead, "readings": ReadingsImported,
    "probe": ProbeAdded, "probe-checked": ProbeChecked,
    "round": RoundBegun, "round-unit": RoundUnit, "round-seen": RoundSeen,
    "round-found": RoundFound, "round-noted": RoundNoted, "round-ended": RoundEnded,
    "recalled": Recalled, "file-imported": FileImported,
    "backed-up": BackedUp, "restored": Restored, "clock": ClockFoundRight,
    "voided": Voided, "confirmed": Confirmed, "settled": Settled,
}  # fmt: skip

KIND_OF: dict[type[Fact], str] = {fact: kind for kind, fact in KINDS.items()}
