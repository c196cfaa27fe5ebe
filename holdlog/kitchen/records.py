"""From entries to histories: what the journal says of one container, as the rules see it.

The same reading serves the job at hand (entries from the database), the rows on hand and the
replay of the whole journal (entries from memory), so that all three always agree.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Protocol
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.codes import show
from holdlog.core.moments import Instant, local_date
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.rules.history import Event, History, Joined

Making = ev.Prepared | ev.Received | ev.Opened
# Facts that stop a container being on hand.
_ENDS = (ev.Used, ev.Discarded)
# Voiding one of these can only shorten a date or close a container; it takes effect at once.
_SAFE_TO_VOID = (ev.Frozen, ev.Chilled, ev.Used, ev.Discarded, ev.Labelled, ev.Moved, ev.Split)


class Records(Protocol):
    """Where entries and the origin of containers come from."""

    def entries(self, subject: str) -> Sequence[Entry]:
        """All entries about ``subject``, in order of number."""
        ...

    def origin(self, code: str) -> "Origin | None":
        """Where a container came from; None for a code that is not known."""
        ...


@dataclass(frozen=True, slots=True)
class Origin:
    """A container's batch, and the container it was split from (or empty)."""

    batch: str
    parent: str = ""


@dataclass(slots=True)
class LiveRecords:
    """Records read from the database as they are needed, within one transaction."""

    conn: Connection
    site: str
    _origins: dict[str, Origin | None] = field(default_factory=dict)
    _entries: dict[str, list[Entry]] = field(default_factory=dict)

    def entries(self, subject: str) -> Sequence[Entry]:
        """All entries about ``subject``, in order of number."""
        if subject not in self._entries:
            found = journal_entries.of_subjects(self.conn, self.site, [subject])
            self._entries[subject] = found
        return self._entries[subject]

    def origin(self, code: str) -> Origin | None:
        """Where a container came from."""
        if code not in self._origins:
            row = on_hand.find(self.conn, self.site, code)
            self._origins[code] = Origin(row.batch, row.parent) if row else None
        return self._origins[code]

    def born(self, codes: Iterable[str], origin: Origin) -> None:
        """Containers made in this transaction, which are not on hand yet."""
        for code in codes:
            self._origins[code] = origin


@dataclass(slots=True)
class ReplayRecords:
    """Records of the whole journal in memory, for the replay."""

    by_subject: dict[str, list[Entry]] = field(default_factory=lambda: defaultdict(list))
    origins: dict[str, Origin] = field(default_factory=dict)

    def add(self, entry: Entry) -> None:
        """Take in the next entry of the journal."""
        self.by_subject[entry.subject].append(entry)
        match fact_of(entry):
            case (
                ev.Prepared(containers=codes)
                | ev.Received(containers=codes)
                | ev.Opened(containers=codes)
            ):
                self.origins.update((code, Origin(entry.subject)) for code in codes)
            case ev.Split(into=codes):
                batch = self.origins[entry.subject].batch
                self.origins.update((code, Origin(batch, entry.subject)) for code in codes)
            case _:
                pass

    def entries(self, subject: str) -> Sequence[Entry]:
        """All entries about ``subject``, in order of number."""
        return self.by_subject.get(subject, [])

    def origin(self, code: str) -> Origin | None:
        """Where a container came from."""
        return self.origins.get(code)


@dataclass(frozen=True, slots=True)
class Standing:
    """An entry that counts: its fact, and the evidence the person in charge named for it."""

    entry: Entry
    fact: ev.Fact
    evidence: str = ""

    @property
    def event(self) -> Event:
        """The fact as the rules see it."""
        return Event(self.entry.at, self.fact, self.entry.recorded_at, self.evidence)


def standing(entries: Sequence[Entry], where: ZoneInfo) -> list[Standing]:
    """The entries that count: what was voided is left out, what was confirmed carries evidence.

    Taking back a fact that shortens on a later day is itself a late entry that lengthens: it
    takes effect only once the person in charge has confirmed it.
    """
    facts = [(entry, fact_of(entry)) for entry in entries]
    evidence = {fact.entry: fact.evidence for _, fact in facts if isinstance(fact, ev.Confirmed)}
    by_number = {entry.number: (entry, fact) for entry, fact in facts}
    gone = set()
    for entry, fact in facts:
        if isinstance(fact, ev.Voided) and fact.entry in by_number:
            voided, what = by_number[fact.entry]
            late = local_date(entry.recorded_at, where) > local_date(voided.recorded_at, where)
            if not late or isinstance(what, _SAFE_TO_VOID) or entry.number in evidence:
                gone.add(fact.entry)
    return [
        Standing(entry, fact, evidence.get(entry.number, ""))
        for entry, fact in facts
        if entry.number not in gone and not isinstance(fact, ev.Voided | ev.Confirmed)
    ]


@dataclass(frozen=True, slots=True)
class Container:
    """Everything the journal says of one container.

    ``own`` are its own standing facts, ``batch_facts`` those of its batch; ``making`` is the
    fact that made it (None when that was voided); ``last`` is when the newest of all entries it
    depends on was written.
    """

    code: str
    origin: Origin
    making: Standing | None
    batch_facts: list[Standing]
    own: list[Standing]
    history: History
    last: Instant

    @property
    def end(self) -> Standing | None:
        """The fact that ended it, if any."""
        return next((each for each in self.own if isinstance(each.fact, _ENDS)), None)


@dataclass(slots=True)
class Reader:
    """Reads containers out of records, each once."""

    records: Records
    where: ZoneInfo
    _read: dict[str, Container] = field(default_factory=dict)
    _standing: dict[str, list[Standing]] = field(default_factory=dict)

    def standing(self, subject: str) -> list[Standing]:
        """The standing facts about ``subject``."""
        if subject not in self._standing:
            self._standing[subject] = standing(self.records.entries(subject), self.where)
        return self._standing[subject]

    def container(self, code: str) -> Container:
        """Everything the journal says of the container ``code``, which must be known."""
        if code not in self._read:
            self._read[code] = self._container(code)
        return self._read[code]

    def _container(self, code: str) -> Container:
        origin = self.records.origin(code)
        if origin is None:
            raise KeyError(code)
        batch_facts, own = self.standing(origin.batch), self.standing(code)
        # Of two makings (a correction not yet confirmed) the later names the food, and the rules
        # take the earlier for day one.
        making = next(
            (each for each in reversed(batch_facts) if isinstance(each.fact, Making)), None
        )
        entries = [*self.records.entries(origin.batch), *self.records.entries(code)]
        last = max((entry.recorded_at for entry in entries), default=Instant(0))
        food = _food(making, code)
        events = [each.event for each in batch_facts]
        joined: list[Joined] = []
        if making is not None and isinstance(making.fact, ev.Prepared):
            for part in making.fact.made_from:
                other = self.container(part)
                joined.append(Joined(other.history, making.entry.at))
                last = max(last, other.last)
        if origin.parent:
            before, last_before = self._before_split(code, origin.parent)
            events += before.events
            joined += before.joined
            last = max(last, last_before)
        for each in own:
            if isinstance(each.fact, ev.ToppedUp):
                other = self.container(each.fact.poured_in)
                joined.append(Joined(other.history, each.entry.at))
                last = max(last, other.last)
        events += [each.event for each in own]
        name = f"{food.item} ({show(code)})"
        history = History(name, food, tuple(dict.fromkeys(events)), tuple(dict.fromkeys(joined)))
        return Container(code, origin, making, batch_facts, own, history, last)

    def _before_split(self, code: str, parent_code: str) -> tuple[History, Instant]:
        """The parent's history up to the split; its label and its end stay its own."""
        parent = self.container(parent_code)
        moment = next(
            (
                each.entry.at
                for each in parent.own
                if isinstance(each.fact, ev.Split) and code in each.fact.into
            ),
            parent.last,
        )
        before = parent.history.until(moment)
        kept = tuple(
            event for event in before.events if not isinstance(event.fact, (*_ENDS, ev.Labelled))
        )
        return History(before.name, before.food, kept, before.joined), parent.last


def _food(making: Standing | None, code: str) -> ev.Food:
    food = getattr(making.fact, "food", None) if making is not None else None
    return food if food is not None else ev.Food(item=f"unknown ({show(code)})", category="other")
