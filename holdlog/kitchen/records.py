"""From entries to histories: what the journal says of one container, as the rules see it.

The same reading serves the job at hand (entries from the database), the rows on hand and the
replay of the whole journal (entries from memory), so that all three always agree.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.amounts import Amount
from holdlog.core.chain import Entry
from holdlog.core.codes import show
from holdlog.core.errors import Fault
from holdlog.core.lots import lot_subject
from holdlog.core.moments import Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.kitchen.contents import contents
from holdlog.kitchen.doubts import doubtful, probe_subject
from holdlog.kitchen.standing import Standing, standing
from holdlog.rules.history import History, Joined

Making = ev.Prepared | ev.Received | ev.Opened
# Facts that stop a container being on hand.
_ENDS = (ev.Used, ev.Discarded)


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
            self._entries[subject] = journal_entries.of_subjects(self.conn, self.site, [subject])
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
class Container:
    """Everything the journal says of one container.

    ``own`` are its own standing facts, ``batch_facts`` those of its batch; ``making`` is the
    fact that made it (None when that was voided); ``split`` is how it was split off, if it was,
    and ``unsplit`` the entry that voided this; ``amount`` is what is in it, as far as is known;
    ``last`` is when the newest of all entries it depends on was written.
    """

    code: str
    origin: Origin
    making: Standing | None
    split: Standing | None
    unsplit: Entry | None
    batch_facts: list[Standing]
    own: list[Standing]
    history: History
    amount: Amount | None
    last: Instant

    @property
    def end(self) -> Standing | None:
        """The fact that ended it, if any."""
        ends = (each for each in self.own if isinstance(each.fact, _ENDS) and not each.fact.part)
        return next(ends, None)

    @property
    def there_since(self) -> Instant:
        """When it was filled or split off; while a correction waits, the earlier."""
        begun = [self.split] if self.split is not None else self.makings
        return min((each.entry.at for each in begun), default=Instant(0))

    @property
    def makings(self) -> list[Standing]:
        """The making that counts; while a correction waits, the old one and the new."""
        return [each for each in self.batch_facts if isinstance(each.fact, Making)]


@dataclass(slots=True)
class Reader:
    """Reads containers out of records, each once."""

    records: Records
    where: ZoneInfo
    _read: dict[str, Container] = field(default_factory=dict)
    _standing: dict[str, list[Standing]] = field(default_factory=dict)
    _doubts: dict[str, list[tuple[Instant, Instant]]] = field(default_factory=dict)

    def standing(self, subject: str) -> list[Standing]:
        """The standing facts about ``subject``."""
        if subject not in self._standing:
            entries = self.records.entries(subject)
            self._standing[subject] = standing(entries, self.where, self.doubted)
        return self._standing[subject]

    def recalls(self, batch: str) -> list[Standing]:
        """The recalls of the maker's lots that a batch is of."""
        return [
            each
            for subject in self.lots(batch)
            for each in self.standing(subject)
            if isinstance(each.fact, ev.Recalled)
        ]

    def lots(self, batch: str) -> list[str]:
        """The maker's lot that a batch is of, as a subject of entries; none or one. While a
        correction waits it is the one written last: a lot is given up on evidence alone.
        """
        making = _making(self.standing(batch))
        lot = getattr(making.fact, "lot", "") if making is not None else ""
        return [lot_subject(lot)] if lot else []

    def doubted(self, entry: Entry, fact: ev.Fact) -> bool:
        """Whether a reading rests on a thermometer that was found off."""
        if not (probe := getattr(fact, "probe", "")):
            return False
        if probe not in self._doubts:
            about = self.standing(probe_subject(probe))
            self._doubts[probe] = doubtful((each.event for each in about), self.where)
        return any(since < entry.at < until for since, until in self._doubts[probe])

    def container(self, code: str) -> Container:
        """Everything the journal says of the container ``code``.

        Raises ``Fault("no-row")`` for one that is not known, ``Fault("circle")`` for food made
        of itself.
        """
        # A starter fed daily is made from yesterday's for years: a list, not recursion.
        path = [code]
        on_path = {code}
        while path:
            code_now = path[-1]
            wanted = (need for need in self._needs(code_now) if need not in self._read)
            need = next(wanted, None)
            if need is None:
                self._read[code_now] = self._container(code_now)
                on_path.discard(path.pop())
            elif need in on_path:
                raise Fault("circle", f"{show(need)} is said to be made of itself.", "")
            else:
                path.append(need)
                on_path.add(need)
        return self._read[code]

    def rests_on(self, code: str) -> set[str]:
        """The containers whose history is part of the history of ``code``, at any depth."""
        found: set[str] = set()
        waiting = [code]
        while waiting:
            needs = [need for need in self._needs(waiting.pop()) if need not in found]
            found.update(needs)
            waiting += needs
        return found

    def _needs(self, code: str) -> list[str]:
        origin = self._origin(code)
        needs = [origin.parent] if origin.parent else []
        making = _making(self.standing(origin.batch))
        if making is not None and isinstance(making.fact, ev.Prepared):
            needs += making.fact.made_from
        needs += [
            each.fact.poured_in
            for each in self.standing(code)
            if isinstance(each.fact, ev.ToppedUp)
        ]
        return needs

    def _origin(self, code: str) -> Origin:
        origin = self.records.origin(code)
        if origin is None:
            raise Fault(
                "no-row",
                f"{show(code)} is in the journal and not on hand.",
                "Run: holdlog doctor --rebuild",
            )
        return origin

    def _container(self, code: str) -> Container:
        origin = self._origin(code)
        batch_facts, own = self.standing(origin.batch), self.standing(code)
        making = _making(batch_facts)
        about = (origin.batch, code, *self.lots(origin.batch))
        entries = [entry for subject in about for entry in self.records.entries(subject)]
        last = max((entry.recorded_at for entry in entries), default=Instant(0))
        food = self._food(making, origin.batch, code)
        events = [each.event for each in (*batch_facts, *self.recalls(origin.batch))]
        joined: list[Joined] = []
        if making is not None and isinstance(making.fact, ev.Prepared):
            for part in making.fact.made_from:
                other = self._read[part]
                joined.append(Joined(other.history, making.entry.at))
                last = max(last, other.last)
        split, unsplit = self._split(code, origin.parent)
        if split is not None:
            parent = self._read[origin.parent]
            before = _before_split(parent.history, split.entry.at)
            events += before.events
            # Where its making was corrected to later than the split, it was split off later, too:
            # what was poured in until then may be in it.
            late = max(split.entry.at, making.entry.at if making is not None else Instant(0))
            joined += [part for part in parent.history.joined if part.at <= late]
            last = max(last, parent.last)
            unsplit = unsplit or parent.unsplit
        for each in own:
            if isinstance(each.fact, ev.ToppedUp):
                other = self._read[each.fact.poured_in]
                joined.append(Joined(other.history, each.entry.at))
                last = max(last, other.last)
        events += [each.event for each in own]
        begun = split if split is not None else making
        name = f"{food.item} ({show(code)})"
        return Container(
            code=code,
            origin=origin,
            making=making,
            split=split,
            unsplit=unsplit,
            batch_facts=batch_facts,
            own=own,
            history=History(name, food, tuple(dict.fromkeys(events)), tuple(dict.fromkeys(joined))),
            amount=contents(
                begun.fact if begun is not None else None,
                [each.fact for each in sorted(own, key=lambda each: each.order)],
                lambda poured: self._read[poured].amount,
            ),
            last=last,
        )

    def _split(self, code: str, parent: str) -> tuple[Standing | None, Entry | None]:
        """How ``code`` was split off, and what voided that. The split still tells where a
        container of a voided split came from.
        """
        if not parent:
            return None, None
        entries = self.records.entries(parent)
        for entry in entries:
            fact = fact_of(entry)
            if isinstance(fact, ev.Split) and code in fact.into:
                if any(each.entry.number == entry.number for each in self.standing(parent)):
                    return Standing(entry, fact), None
                return Standing(entry, fact), next(
                    each
                    for each in entries
                    if isinstance(what := fact_of(each), ev.Voided) and what.entry == entry.number
                )
        return None, None

    def _food(self, making: Standing | None, batch: str, code: str) -> ev.Food:
        """The facts of its food; where the making was voided, what it had said."""
        said = [making.fact] if making is not None else [
            fact_of(entry) for entry in self.records.entries(batch)
        ]  # fmt: skip
        foods = [fact.food for fact in said if isinstance(fact, Making) and fact.food is not None]
        if not foods:
            return ev.Food(item=f"unknown ({show(code)})", category="other")
        packs = [each.fact for each in self.standing(code) if isinstance(each.fact, ev.Packed)]
        if not packs:
            return foods[-1]
        # How it was packed belongs to the container; without a plan once, without a plan.
        return replace(
            foods[-1],
            reduced_oxygen=packs[-1].how or "vacuum",
            haccp_plan=all(pack.haccp_plan for pack in packs),
        )


def _making(batch_facts: Sequence[Standing]) -> Standing | None:
    """Of two makings (a correction not yet confirmed) the later names the food, and the rules
    take the earlier for day one.
    """
    return next((each for each in reversed(batch_facts) if isinstance(each.fact, Making)), None)


def _before_split(parent: History, moment: Instant) -> History:
    """The parent's history up to the split, with its label's date; its end stays its own.

    A recall of the parent came later and holds what had been taken out of it all the same.
    """
    before = parent.until(moment)
    kept = tuple(event for event in before.events if not isinstance(event.fact, _ENDS))
    kept += tuple(
        event
        for event in parent.events
        if event.at > moment and isinstance(event.fact, ev.Recalled)
    )
    return History(before.name, before.food, kept, before.joined)
