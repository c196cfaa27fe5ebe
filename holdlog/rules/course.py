"""What the events of a history say of the food: the notes that the walk takes.

Nothing is judged here; the rules read these notes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from zoneinfo import ZoneInfo

from holdlog.core.moments import Instant
from holdlog.core.temperature import Temperature
from holdlog.rules.cooling import CoolingReading
from holdlog.rules.counting import Spell
from holdlog.rules.history import Event
from holdlog.rules.kinds import CoolingRule, HoldingLimitRule, ReheatRule


@dataclass(frozen=True, slots=True)
class Move:
    """Cooling food was put somewhere; how warm it is there (None: nobody said, or too late)."""

    at: Instant
    surroundings: Temperature | None


@dataclass(slots=True)
class Cycle:
    """One cooling, from heat to cold. ``logged``: somebody recorded that it cools.

    ``reheated_at`` ends it: the food was heated again to the reheating target. ``surroundings``
    are the temperatures of what it was put in to cool; ``moves`` say since when it stood where.
    """

    readings: list[CoolingReading] = field(default_factory=list)
    logged: bool = False
    reheated_at: Instant | None = None
    surroundings: list[Temperature] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Beyond:
    """A reading beyond its limit: which rule, what was read, when, and the last good reading."""

    rule: HoldingLimitRule
    reading: Temperature
    at: Instant
    last_good: Instant | None


@dataclass(frozen=True, slots=True)
class Pack:
    """A reduced-oxygen pack: when it was closed, how, and when it was opened.

    ``gone_cold``: it was sealed after the food had been made and had cooled.
    """

    at: Instant
    how: str | None = None
    gone_cold: bool = False
    opened: Instant | None = None


@dataclass(frozen=True, slots=True)
class OutReading:
    """A reading while out under time control; ``late``: written down on a later day."""

    at: Instant
    temperature: Temperature
    late: bool = False


@dataclass(slots=True)
class Walk:
    """What the events say. Moments are None where nothing of the kind happened.

    ``day_one`` is the earlier of ``prepared`` and ``opened``. ``ended``: it was used or binned,
    and nothing happened to it since; ``state`` stays as it was before. ``outs_before`` are the
    times out from which it lawfully went back, ``out_before`` their milliseconds, with those of
    its ingredients. ``out_hot``: it was hot when it left temperature control.
    """

    state: str = "made"
    ended: bool = False
    discarded: Instant | None = None
    prepared: Instant | None = None
    opened_fresh: Instant | None = None
    received: Instant | None = None
    opened: Instant | None = None
    maker_dates: list[tuple[date, str]] = field(default_factory=list)
    spells: list[Spell] = field(default_factory=list)
    cycles: list[Cycle] = field(default_factory=lambda: [Cycle()])
    beyond: list[Beyond] = field(default_factory=list)
    last_good: Instant | None = None
    held_readings: list[tuple[Instant, Temperature]] = field(default_factory=list)
    good_readings: list[Instant] = field(default_factory=list)
    outs: list[Event] = field(default_factory=list)
    outs_before: list[Event] = field(default_factory=list)
    while_out: list[Event] = field(default_factory=list)
    out_before: int = 0
    out_readings: list[OutReading] = field(default_factory=list)
    out_hot: bool = False
    packs: list[Pack] = field(default_factory=list)
    packed_unfrozen: bool = False
    at_once: Instant | None = None
    reheated: list[Event] = field(default_factory=list)
    excursions: list[Event] = field(default_factory=list)
    recalls: list[Event] = field(default_factory=list)
    heated: bool = False
    was_cold: bool = False
    hot_unheated: list[Instant] = field(default_factory=list)
    printed: Instant | None = None
    unlogged: str = ""
    impossible: str = ""
    cautions: list[str] = field(default_factory=list)
    was_frozen: bool = False
    frozen_since: Instant | None = None
    frozen_late: bool = False

    @property
    def frozen(self) -> bool:
        """Whether it is in the freezer now (or was when it ended)."""
        return self.state == "frozen"

    @property
    def shown_state(self) -> str:
        """The state in the words of the scenario contract."""
        return "gone" if self.ended else self.state

    @property
    def day_one(self) -> Instant | None:
        """When it was made or opened, whichever came first."""
        return min(
            (at for at in (self.prepared, self.opened_fresh) if at is not None), default=None
        )

    @property
    def begins(self) -> Instant | None:
        """The first day there is: made, opened, or else received."""
        day_one = self.day_one
        return day_one if day_one is not None else self.received

    @property
    def out(self) -> Event | None:
        """When time control began, if it did."""
        return self.outs[0] if self.outs else None


@dataclass(frozen=True, slots=True)
class Measures:
    """The limits the walk needs to tell a good reading from a bad one.

    ``cold`` and ``hot`` are the ones to show; a reading is judged by every one of ``holding``.
    ``returns`` says, by plan of time control, within how many milliseconds out in all food may go
    back into the cold.
    """

    cold: HoldingLimitRule | None
    hot: HoldingLimitRule | None
    holding: tuple[HoldingLimitRule, ...]
    reheat: ReheatRule | None
    at_once: tuple[str, ...]
    coolings: tuple[CoolingRule, ...]
    returns: Mapping[str, int]
    where: ZoneInfo
