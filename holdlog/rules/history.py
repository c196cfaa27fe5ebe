"""What happened to the food of one container, as the rules see it.

A history holds typed events, and the histories of what went into the food (``joined``). A
container that was split off carries its parent's events up to the split.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from zoneinfo import ZoneInfo

from holdlog.core.events import (
    Chilled,
    Cooling,
    CoolingIn,
    Discarded,
    Fact,
    Food,
    Frozen,
    HotHeld,
    Moved,
    OffHeat,
    Opened,
    Out,
    Packed,
    Prepared,
    Reading,
    Received,
    Reheated,
    Split,
    Thawed,
    Used,
)  # fmt: skip
from holdlog.core.moments import Instant, local_date

# The order of events that carry the same moment. A starting fact comes before what follows
# from it; an end comes last.
_ORDER: tuple[type[Fact], ...] = (
    Received, Opened, Prepared, Thawed, OffHeat, Reheated, HotHeld, CoolingIn, Cooling, Packed,
    Chilled, Reading, Frozen, Moved, Out, Split, Used, Discarded,
)  # fmt: skip
_RANK = {fact: rank for rank, fact in enumerate(_ORDER)}


@dataclass(frozen=True, slots=True)
class Event:
    """A fact, when it happened (``at``) and when it was written down (``recorded_at``).

    ``evidence`` names the paper or logger a late entry rests on, once the person in charge has
    confirmed it. ``settled``: why the person in charge keeps the food that this put on hold.
    ``doubted``: it was read on a thermometer that was found off.
    """

    at: Instant
    fact: Fact
    recorded_at: Instant
    evidence: str = ""
    settled: str = ""
    doubted: bool = False

    def late(self, where: ZoneInfo) -> bool:
        """Written on a later calendar day than it happened and not yet confirmed, or doubted.

        Such a fact counts where it shortens, but it may not lengthen: a memory is no log, and
        what a thermometer that is off shows is none either.
        """
        if self.doubted:
            return True
        if self.evidence or self.recorded_at <= self.at:
            return False
        return local_date(self.recorded_at, where) > local_date(self.at, where)


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """The food's facts, its events, and what went into it.

    One history may go into many others. They are told apart by identity: comparing them would
    walk through everything that went into them, again on every path.
    """

    name: str
    food: Food
    events: tuple[Event, ...] = ()
    joined: tuple["Joined", ...] = ()

    def until(self, at: Instant) -> "History":
        """The history as far as ``at``: what came later happened to other food."""
        return replace(
            self,
            events=tuple(event for event in self.events if event.at <= at),
            joined=tuple(part for part in self.joined if part.at <= at),
        )


@dataclass(frozen=True, slots=True)
class Joined:
    """An ingredient (or a tub poured in) and the moment it became part of the food."""

    history: History
    at: Instant


def trusted(history: History) -> History | None:
    """The history as if every thermometer were right; None where no reading of it, or of what
    went into it, is doubted.
    """
    seen: dict[int, History] = {}
    waiting = [history]
    while waiting:
        each = waiting.pop()
        if id(each) not in seen:
            seen[id(each)] = each
            waiting += [part.history for part in each.joined]
    if not any(event.doubted for each in seen.values() for event in each.events):
        return None
    # Ingredients first, and a list instead of recursion: a starter is made from itself for years.
    good: dict[int, History] = {}
    waiting = [history]
    while waiting:
        each = waiting[-1]
        first = [part.history for part in each.joined if id(part.history) not in good]
        if first:
            waiting += first
            continue
        waiting.pop()
        good[id(each)] = replace(
            each,
            events=tuple(replace(event, doubted=False) for event in each.events),
            joined=tuple(replace(part, history=good[id(part.history)]) for part in each.joined),
        )
    return good[id(history)]


def in_order(history: History) -> list[Event]:
    """The events by when they happened; the order of writing does not matter."""
    events = history.events
    if all(one.at < other.at for one, other in pairwise(events)):
        return list(events)  # as written, which is the usual case
    keyed = sorted(((_place(event), event) for event in events), key=_first)
    if any(one[0] == other[0] for one, other in pairwise(keyed)):
        # Only where nothing else tells two facts apart does their wording decide.
        keyed.sort(key=lambda pair: (pair[0], repr(pair[1].fact)))
    return [event for _, event in keyed]


def _place(event: Event) -> tuple[Instant, int, Instant]:
    return event.at, _RANK.get(type(event.fact), len(_RANK)), event.recorded_at


def _first(pair: tuple[tuple[Instant, int, Instant], Event]) -> tuple[Instant, int, Instant]:
    return pair[0]
