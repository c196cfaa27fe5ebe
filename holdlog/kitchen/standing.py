"""Which entries count: what was voided is left out, what was confirmed or settled says so."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.moments import Instant, local_date
from holdlog.journal.codec import fact_of
from holdlog.rules.history import Event

# Voiding one of these shortens a date, closes a container or puts one back on the list, where
# somebody will look at it; it takes effect at once.
_SAFE_TO_VOID = (ev.Frozen, ev.Used, ev.Discarded, ev.Moved, ev.Split, ev.Settled)


@dataclass(frozen=True, slots=True)
class Standing:
    """An entry that counts: its fact, and the evidence the person in charge named for it.

    ``disputed_at``: when it was voided, if that still waits for the person in charge.
    ``settled``: why the person in charge keeps the food that this had put on hold. ``doubted``:
    the thermometer it was read on turned out to be off.
    """

    entry: Entry
    fact: ev.Fact
    evidence: str = ""
    disputed_at: Instant | None = None
    settled: str = ""
    doubted: bool = False

    @property
    def event(self) -> Event:
        """The fact as the rules see it. A disputed one is worth no more than a late entry: it
        counts where it shortens, and proves nothing.
        """
        if self.disputed_at is not None:
            return Event(self.entry.at, self.fact, self.disputed_at, doubted=self.doubted)
        said = self.evidence, self.settled, self.doubted
        return Event(self.entry.at, self.fact, self.entry.recorded_at, *said)

    @property
    def order(self) -> tuple[Instant, int]:
        """Its place in time; of what carries the same moment, the later written comes later."""
        return self.entry.at, self.entry.number


def standing(
    entries: Sequence[Entry],
    where: ZoneInfo,
    doubted: Callable[[Entry, ev.Fact], bool] = lambda _, __: False,
) -> list[Standing]:
    """The entries that count: what was voided is left out, what was confirmed carries evidence.

    Taking back a fact on a later day may lengthen a date, and then it is itself a late entry: it
    takes effect only once the person in charge has confirmed it, and until then the fact is
    disputed. A label that was made is out in the kitchen: voiding its entry does not lift the
    date on it. ``doubted`` tells whether a reading rests on a thermometer that was off.
    """
    facts = [(entry, fact_of(entry)) for entry in entries]
    evidence = {fact.entry: fact.evidence for _, fact in facts if isinstance(fact, ev.Confirmed)}
    by_number = {entry.number: (entry, fact) for entry, fact in facts}
    gone: set[int] = set()
    disputed: dict[int, Instant] = {}
    for entry, fact in facts:
        if isinstance(fact, ev.Voided) and fact.entry in by_number:
            voided, what = by_number[fact.entry]
            if isinstance(what, ev.Labelled):
                continue
            late = local_date(entry.recorded_at, where) > local_date(voided.recorded_at, where)
            if not late or isinstance(what, _SAFE_TO_VOID) or entry.number in evidence:
                gone.add(fact.entry)
            else:
                disputed[fact.entry] = entry.recorded_at
    # A settlement that was taken back settles nothing; taking it back restores the hold, at once.
    settled = {
        fact.entry: fact.why
        for entry, fact in facts
        if isinstance(fact, ev.Settled) and entry.number not in gone
    }
    return [
        Standing(
            entry,
            fact,
            evidence.get(entry.number, ""),
            disputed.get(entry.number),
            settled.get(entry.number, ""),
            doubted(entry, fact),
        )
        for entry, fact in facts
        if entry.number not in gone and not isinstance(fact, ev.Voided | ev.Confirmed | ev.Settled)
    ]
