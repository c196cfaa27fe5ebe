"""The kitchen's thermometers: which there are, when each was checked, and what a bad one shakes.

A reading is used as it was read; the offset that a check found is shown beside it and never
worked into it. A thermometer within what FDA Food Code 4-203.11 allows is good; the readings of
one that failed in ice prove nothing, from its last good check on.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeAlias

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant, local_date
from holdlog.core.temperature import Temperature
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.doubts import ALWAYS, PROBE, called, doubtful, probe_subject
from holdlog.kitchen.excursions import written
from holdlog.kitchen.kitchen import Kitchen, Writing, touched
from holdlog.kitchen.project import held
from holdlog.kitchen.records import LiveRecords, Origin, Reader
from holdlog.kitchen.standing import standing
from holdlog.kitchen.unknown_time import shaken_readings
from holdlog.rules import probe as rules
from holdlog.rules.holding import Holding

SCALES: tuple[ev.ProbeScale, ...] = ("F", "C", "FC")
LONGEST = 30
EATEN: tuple[ev.EndedAs, ...] = ("used", "sold", "staff meal", "donated")
_OF_FOOD = (
    ev.Received, ev.Cooling, ev.Chilled, ev.Reading, ev.Reheated, ev.HotHeld, ev.Out,
)  # fmt: skip
_READ_ON = tuple(ev.KIND_OF[fact] for fact in (*_OF_FOOD, ev.UnitRead))
Spans: TypeAlias = list[tuple[Instant, Instant]]


@dataclass(frozen=True, slots=True)
class Seen:
    """One check of a thermometer, as it was written. ``counts``: it was not entered on a later
    day, or was confirmed since; a good one that does not count ends no doubt.
    """

    number: int
    at: Instant
    by: str
    method: ev.CheckMethod
    reads: Temperature
    expected: Temperature
    passed: bool
    counts: bool

    @property
    def offset(self) -> Decimal:
        """How much it showed too much (negative: too little), in degrees of ``reads``."""
        return self.reads.degrees - self.expected.degrees


@dataclass(frozen=True, slots=True)
class Probe:
    """A thermometer: what it shows, its last check in ice and of any kind, and its doubt.

    ``doubted_since`` is its last good check, when ``in_doubt``; None there: it never had one.
    """

    name: str
    scale: ev.ProbeScale
    ice: Seen | None
    last: Seen | None
    in_doubt: bool
    doubted_since: Instant | None


@dataclass(frozen=True, slots=True)
class Changed:
    """A container whose verdict or date a check has changed; of one that is gone, as it was when
    it ended.
    """

    row: ContainerRow
    was: Holding
    now: Holding


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found, and what it changed.

    ``again``: the containers on hand that were last read on a thermometer now in doubt, to be
    read again on a good one; ``units`` likewise. ``waits``: a good check written down on a later
    day, which ends no doubt until the person in charge confirms it. ``ended``: it ended a doubt.
    """

    probe: Probe
    number: int
    found: rules.Check
    changed: tuple[Changed, ...]
    gone: tuple[Changed, ...]
    again: tuple[ContainerRow, ...]
    units: tuple[str, ...]
    waits: bool
    ended: bool


@dataclass(frozen=True, slots=True)
class InDoubt:
    """A thermometer in doubt, and the containers on hand that were last read on it."""

    probe: Probe
    containers: tuple[ContainerRow, ...]


# ---- which there are -------------------------------------------------------------------------


def probes(kitchen: Kitchen, conn: Connection) -> list[Probe]:
    """The kitchen's thermometers, in the order in which they were first added."""
    scales: dict[str, ev.ProbeScale] = {}
    for entry in journal_entries.of_kinds(conn, kitchen.site, [ev.KIND_OF[ev.ProbeAdded]]):
        fact = fact_of(entry)
        if isinstance(fact, ev.ProbeAdded):
            scales[entry.subject.removeprefix(PROBE)] = fact.scale
    return [_probe(kitchen, conn, name, scale) for name, scale in scales.items()]


def _probe(kitchen: Kitchen, conn: Connection, name: str, scale: ev.ProbeScale) -> Probe:
    entries = _about(kitchen, conn, name)
    checks = [
        Seen(
            each.entry.number, each.entry.at, each.entry.by, each.fact.method,
            each.fact.temperature, each.fact.expected, each.fact.passed,
            counts=not each.fact.passed or not each.event.late(kitchen.where),
        )
        for each in sorted(standing(entries, kitchen.where), key=lambda each: each.order)
        if isinstance(each.fact, ev.ProbeChecked)
    ]  # fmt: skip
    ice = [check for check in checks if check.method == "ice"]
    spans = _spans(kitchen, entries)
    in_doubt = bool(spans) and spans[-1][1] == ALWAYS
    since = spans[-1][0] if in_doubt and spans[-1][0] >= 0 else None
    return Probe(name, scale, _last(ice), _last(checks), in_doubt, since)


def _last(checks: Sequence[Seen]) -> Seen | None:
    return checks[-1] if checks else None


def _about(kitchen: Kitchen, conn: Connection, name: str) -> list[Entry]:
    return journal_entries.of_subjects(conn, kitchen.site, [probe_subject(name)])


def _spans(kitchen: Kitchen, entries: Sequence[Entry]) -> Spans:
    events = (each.event for each in standing(entries, kitchen.where))
    return doubtful(events, kitchen.where)


def find(kitchen: Kitchen, conn: Connection, name: str) -> Probe:
    """The thermometer called ``name`` (case does not matter). Raises ``Mistake("no-probe")``."""
    there = probes(kitchen, conn)
    wanted = name.strip().casefold()
    for each in there:
        if each.name.casefold() == wanted:
            return each
    names = ", ".join(each.name for each in there)
    raise Mistake(
        "no-probe",
        f"There is no probe {name.strip()!r}.",
        (f"Known: {names}. " if names else "")
        + "Add it, with what it shows: holdlog probe add NAME --scale F",
    )


def known(kitchen: Kitchen, conn: Connection, name: str) -> str:
    """The name of the thermometer called ``name``, as it was added; empty stays empty.

    Raises ``Mistake("no-probe")`` for one that was never added.
    """
    return find(kitchen, conn, name).name if name.strip() else ""


def add(kitchen: Kitchen, by: str, name: str, scale: ev.ProbeScale) -> Probe:
    """Add a thermometer, or say anew what one shows (its checks stay as they were judged).

    Raises ``Mistake``: ``bad-probe`` for no name, ``probe-exists`` where that is known.
    """
    called = " ".join(name.split())
    if not called or len(called) > LONGEST or not called.isprintable():
        raise Mistake(
            "bad-probe",
            f"{name!r} is no name for a probe.",
            f"Call it by its colour or number, in {LONGEST} characters: red.",
        )
    with kitchen.writing(by) as write:
        there = {each.name.casefold(): each for each in probes(kitchen, write.conn)}
        same = there.get(called.casefold())
        if same is not None and same.scale == scale:
            raise Mistake(
                "probe-exists",
                f"There is a probe {same.name!r} already.",
                "Give each a name of its own: their readings are told apart by it.",
            )
        called = same.name if same is not None else called
        write.append((ev.ProbeAdded(scale), write.recorded_at, probe_subject(called)))
        return find(kitchen, write.conn, called)


# ---- checking one ----------------------------------------------------------------------------


def check(
    kitchen: Kitchen,
    by: str,
    name: str,
    at: Instant,
    reading: Temperature,
    pascals: float | None = None,
) -> Checked:
    """Check a thermometer: in a slush of ice and water, or (``pascals`` given, the air pressure
    of the place) in plain boiling water, which is advice and decides nothing.

    A check in ice that failed throws doubt on what was read since the last good one: every
    container whose history rests on that is judged anew, at once.
    """
    with kitchen.writing(by) as write:
        conn, now = write.conn, write.recorded_at
        probe = find(kitchen, conn, name)
        found = (
            rules.ice_check(reading, probe.scale)
            if pascals is None
            else rules.boiling_check(reading, probe.scale, pascals)
        )
        expected = Temperature(found.expected, found.scale)
        fact = ev.ProbeChecked(
            "ice" if pascals is None else "boiling", reading, expected, found.within
        )
        (entry,) = write.append((fact, at, probe_subject(probe.name)))
        subjects = shaken(write, probe_subject(probe.name), entry.number)
        rows = write.settle(*subjects) if subjects else []
        changed = _changed(write, rows, entry.number)
        after = find(kitchen, conn, probe.name)
        late = local_date(now, kitchen.where) > local_date(at, kitchen.where)
        return Checked(
            probe=after,
            number=entry.number,
            found=found,
            changed=tuple(each for each in changed if each.row.ended_at is None),
            gone=tuple(each for each in changed if each.row.ended_at is not None),
            again=tuple(last_read_on(kitchen, conn, after)),
            units=tuple(_units(kitchen, conn, after)),
            waits=late and found.within and found.decides,
            ended=probe.in_doubt and not after.in_doubt,
        )


def shaken(write: Writing, subject: str, number: int) -> list[str]:
    """The batches and containers with readings whose doubt has changed by what was written about
    the thermometer ``subject`` from entry ``number`` on: what has to be judged anew. Empty where
    ``subject`` is no thermometer.
    """
    if not subject.startswith(PROBE):
        return []
    name, kitchen = subject.removeprefix(PROBE), write.kitchen
    entries = _about(kitchen, write.conn, name)
    before = _spans(kitchen, [entry for entry in entries if entry.number < number])
    after = _spans(kitchen, entries)
    if before == after:
        return []
    first = min(since for since, _ in set(before) ^ set(after))
    found = _read_on(kitchen, write.conn, name, first)
    subjects = [
        entry.subject
        for entry, fact in found
        if not isinstance(fact, ev.UnitRead)
        and _within(before, entry.at) != _within(after, entry.at)
    ]
    for unit in dict.fromkeys(entry.subject for entry, fact in found
                              if isinstance(fact, ev.UnitRead)):  # fmt: skip
        subjects += _anew(write, unit, first, subject, number)
    return list(dict.fromkeys(subjects))


def _anew(write: Writing, unit: str, since: Instant, subject: str, number: int) -> list[str]:
    """The containers that stood in ``unit`` and whose time there is counted anew, as the air was
    read on the thermometer ``subject``.
    """
    where = write.kitchen.units.get(unit)
    if where is None:
        return []
    reader = Reader(LiveRecords(write.conn, write.kitchen.site), write.kitchen.where)
    anew = shaken_readings(write, reader, where, since)
    written(write, anew, f"worked out anew from entry {number}, about the {called(subject)}")
    return [code for code, _, _ in anew.excursions] + [each.code for each in anew.replaced]


def _read_on(
    kitchen: Kitchen, conn: Connection, name: str, since: Instant
) -> list[tuple[Entry, ev.Fact]]:
    """What was read on a thermometer since then."""
    entries = journal_entries.of_kinds(conn, kitchen.site, _READ_ON, since=since)
    facts = ((entry, fact_of(entry)) for entry in entries)
    return [(entry, fact) for entry, fact in facts if getattr(fact, "probe", "") == name]


def _within(spans: Iterable[tuple[Instant, Instant]], at: Instant) -> bool:
    return any(since < at < until for since, until in spans)


@dataclass(frozen=True, slots=True)
class _Earlier:
    """Records as they were before entry ``number``."""

    records: LiveRecords
    number: int

    def entries(self, subject: str) -> Sequence[Entry]:
        return [each for each in self.records.entries(subject) if each.number < self.number]

    def origin(self, code: str) -> Origin | None:
        return self.records.origin(code)


def _changed(write: Writing, rows: Sequence[ContainerRow], number: int) -> list[Changed]:
    """The containers whose verdict or date what was written from entry ``number`` on changed."""
    kitchen, conn = write.kitchen, write.conn
    records = LiveRecords(conn, kitchen.site)
    readers = [Reader(each, kitchen.where) for each in (_Earlier(records, number), records)]
    stack = kitchen.stack(conn)
    found = []
    for row in rows:
        if row.ended_at is not None and row.ended_as not in EATEN:
            continue
        at = write.recorded_at if row.ended_at is None else row.ended_at
        was, now = (held(each.container(row.code), stack, at, kitchen.where) for each in readers)
        if (was.verdict, was.use_by) != (now.verdict, now.use_by):
            found.append(Changed(row, was, now))
    return found


# ---- what rests on one -----------------------------------------------------------------------


def last_read_on(kitchen: Kitchen, conn: Connection, probe: Probe) -> list[ContainerRow]:
    """The containers on hand whose newest reading was on ``probe``, if that is in doubt."""
    if not probe.in_doubt:
        return []
    read = _read_on(kitchen, conn, probe.name, _since(probe))
    subjects = {entry.subject for entry, fact in read if not isinstance(fact, ev.UnitRead)}
    codes, _ = touched(conn, kitchen.site, sorted(subjects))
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    rows = (on_hand.find(conn, kitchen.site, code) for code in codes)
    return [
        row
        for row in rows
        if row is not None and row.ended_at is None and _newest(reader, row.code) == probe.name
    ]


def _since(probe: Probe) -> Instant:
    return probe.doubted_since if probe.doubted_since is not None else Instant(0)


def _newest(reader: Reader, code: str) -> str:
    """The thermometer of a container's newest reading, if that is in doubt."""
    events = reader.container(code).history.events
    read = [each for each in events if getattr(each.fact, "temperature", None) is not None]
    last = max(read, key=lambda each: (each.at, not each.doubted), default=None)
    return getattr(last.fact, "probe", "") if last is not None and last.doubted else ""


def _units(kitchen: Kitchen, conn: Connection, probe: Probe) -> list[str]:
    """The units whose air was last read on ``probe``, if that is in doubt."""
    if not probe.in_doubt:
        return []
    last: dict[str, tuple[Instant, str]] = {}
    kind = ev.KIND_OF[ev.UnitRead]
    for entry in journal_entries.of_kinds(conn, kitchen.site, [kind], since=_since(probe)):
        fact = fact_of(entry)
        if isinstance(fact, ev.UnitRead) and entry.at >= last.get(entry.subject, (0, ""))[0]:
            last[entry.subject] = entry.at, fact.probe
    return [unit for unit, (at, name) in last.items() if name == probe.name and at > _since(probe)]


def in_doubt(kitchen: Kitchen, conn: Connection) -> list[InDoubt]:
    """The thermometers in doubt now, each with the containers that were last read on it."""
    return [
        InDoubt(probe, tuple(last_read_on(kitchen, conn, probe)))
        for probe in probes(kitchen, conn)
        if probe.in_doubt
    ]
