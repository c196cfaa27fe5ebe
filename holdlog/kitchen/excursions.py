"""What an excursion of a unit did to the containers that stood there.

Each container that was there gets an entry of its own: how long it is known to have stood beyond
the limit, how long nothing is known of, the worst reading. ``Excursion.source`` is the reading or
the import it was worked out from. What later readings make plainer is worked out anew: the old
entry is voided, and the new one names what it rests on.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TypeAlias

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.moments import DAY, Instant, local_date
from holdlog.core.temperature import Scale
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.kitchen import Unit, Writing
from holdlog.kitchen.records import Container, Reader
from holdlog.kitchen.standing import Standing
from holdlog.kitchen.units import UnitLimit, UnitReading, by_hand, degrees
from holdlog.kitchen.whereabouts import Stay, stayed, stays
from holdlog.rules.episodes import Course, Episode
from holdlog.rules.excursion import TimeBeyond

_ASKED_AT_ONCE = 4 * DAY


@dataclass(frozen=True, slots=True)
class Stood:
    """A container that stood in a unit within a span, and the parts of its stay that fall there.

    A stay is cut where something was taken out of the container: what was taken out carries the
    history up to then.
    """

    row: ContainerRow
    container: Container
    parts: tuple[Stay, ...]


@dataclass(frozen=True, slots=True)
class Kept:
    """An excursion as it stands in the journal."""

    code: str
    standing: Standing
    fact: ev.Excursion

    @property
    def began(self) -> Instant:
        """When it may have begun."""
        return Instant(self.fact.began if self.fact.began is not None else self.standing.entry.at)

    @property
    def at(self) -> Instant:
        """When it ended."""
        return self.standing.entry.at


# The container, when it ended, and what it was.
Drafted: TypeAlias = tuple[str, Instant, ev.Excursion]


@dataclass(frozen=True, slots=True)
class Anew:
    """What is to be written: new excursions, and older ones that they take the place of."""

    excursions: tuple[Drafted, ...] = ()
    replaced: tuple[Kept, ...] = ()


def stood(
    conn: Connection, site: str, reader: Reader, unit: str, start: Instant, end: Instant
) -> list[Stood]:
    """The containers that stood in ``unit`` at some time from ``start`` to ``end``."""
    found = []
    for row in on_hand.existing(conn, site, start, end):
        container = reader.container(row.code)
        parts = stayed(stays(reader, container), unit, start, end)
        if parts:
            cuts = [each.entry.at for each in container.own if isinstance(each.fact, ev.Split)]
            found.append(Stood(row, container, tuple(_cut(parts, sorted(cuts)))))
    return found


def _cut(parts: Iterable[Stay], cuts: Sequence[Instant]) -> list[Stay]:
    pieces = []
    for part in parts:
        since = part.since
        for at in cuts:
            if since < at and (part.until is None or at < part.until):
                pieces.append(Stay(part.unit, since, at))
                since = at
        pieces.append(Stay(part.unit, since, part.until))
    return pieces


def kept(reader: Reader, code: str, unit: str) -> list[Kept]:
    """The excursions of ``unit`` that stand against a container, in order of time."""
    found = [
        Kept(code, each, each.fact)
        for each in reader.standing(code)
        if isinstance(each.fact, ev.Excursion) and each.fact.unit == unit
        and each.disputed_at is None
    ]  # fmt: skip
    return sorted(found, key=lambda each: each.standing.order)


def of_unit(
    conn: Connection, site: str, reader: Reader, unit: str, start: Instant, end: Instant | None
) -> list[Kept]:
    """The excursions of ``unit`` that ended from ``start`` to ``end`` (included; None: no end)."""
    until = Instant(end + 1) if end is not None else None
    entries = journal_entries.of_kinds(conn, site, ["excursion"], since=start, until=until)
    wanted = {
        entry.number: entry.subject
        for entry in entries
        if isinstance(fact := fact_of(entry), ev.Excursion) and fact.unit == unit
    }
    return [
        each
        for code in dict.fromkeys(wanted.values())
        for each in kept(reader, code, unit)
        if each.standing.entry.number in wanted
    ]


def by_logger(
    write: Writing,
    reader: Reader,
    unit: Unit,
    courses: dict[str, Course],
    limits: dict[str, UnitLimit],
    span: tuple[Instant, Instant],
    source: int,
) -> Anew:
    """What the episodes within ``span`` did to the containers. ``courses`` holds the readings
    under the limit of each category ("" for the rest), and no other episodes than these.

    Excursions that an earlier import had found in ``span`` and that are no longer so are replaced:
    those of the same scale, for what was measured on the other one these readings do not show.
    Not those of a file that was at odds with what was there: its readings are not kept, and
    nothing that is kept can take its warmth back.
    """
    conn, site = write.conn, write.kitchen.site
    wanted: dict[tuple[object, ...], tuple[str, Instant, ev.Excursion]] = {}
    hand = by_hand(reader, unit.name)
    for category, shown in courses.items():
        # What stood there all along was exposed to the same: it is counted once.
        exposed = cache(shown.within)
        for some in _near_each_other(shown.episodes):
            there = stood(conn, site, reader, unit.name, some[0].begins, some[-1].ends)
            for each in there:
                own = each.row.category if each.row.category in courses else ""
                for part in _shared(each.parts, some) if own == category else ():
                    found = _measured(part, exposed, shown, limits[category], hand, source)
                    if found is not None:
                        end = Instant(min(found[0], write.recorded_at))
                        draft = each.row.code, end, found[1]
                        wanted[_same(*draft)] = draft
    before = {
        _same(each.code, each.at, each.fact): each
        for each in of_unit(conn, site, reader, unit.name, Instant(span[0] + 1), None)
        if each.began < span[1]
    }
    scales = {shown.scale for shown in courses.values()}
    return Anew(
        tuple(draft for key, draft in wanted.items() if key not in before),
        tuple(
            each
            for key, each in before.items()
            if key not in wanted and _from_kept(conn, site, each.fact, scales)
        ),
    )


def by_file(
    write: Writing,
    reader: Reader,
    unit: Unit,
    courses: dict[str, Course],
    limits: dict[str, UnitLimit],
    source: int,
    anew: Anew,
) -> Anew:
    """What a file that is at odds with what is there says by itself, beside what is to be written
    ``anew``: nothing is replaced by it, and nothing that it shows beyond the limit is lost.
    """
    ends = [each for shown in courses.values() for each in shown.episodes]
    if not ends:
        return Anew()
    span = min(each.begins for each in ends), max(each.ends for each in ends)
    found = by_logger(write, reader, unit, courses, limits, span, source)
    there = of_unit(write.conn, write.kitchen.site, reader, unit.name, span[0], None)
    known = [(each.code, each.at, each.fact) for each in there] + list(anew.excursions)
    gone = {(each.code, each.at, each.fact) for each in anew.replaced}
    known = [each for each in known if each not in gone]
    return Anew(
        tuple(draft for draft in found.excursions if not any(_as_bad(draft, it) for it in known))
    )


def _as_bad(draft: Drafted, known: Drafted) -> bool:
    """Whether what is ``known`` of the container tells of as long a time around the same hours:
    counted twice it would be twice as long.
    """
    (code, at, fact), (other, then, it) = draft, known
    begun, before = fact.began or at, it.began or then
    return (
        code == other
        and begun <= then
        and before <= at
        and it.seconds >= fact.seconds
        and it.unknown_seconds >= fact.unknown_seconds
    )


def _near_each_other(episodes: Sequence[Episode]) -> list[list[Episode]]:
    """Episodes of a few days together: the containers of so long are asked for at once."""
    groups: list[list[Episode]] = []
    for each in episodes:
        if groups and each.ends - groups[-1][0].begins < _ASKED_AT_ONCE:
            groups[-1].append(each)
        else:
            groups.append([each])
    return groups


def _shared(parts: Iterable[Stay], episodes: Sequence[Episode]) -> list[Stay]:
    """The parts of stays that fall into episodes."""
    return [
        Stay(part.unit, max(part.since, each.begins), min(part.until or each.ends, each.ends))
        for part in parts
        for each in episodes
        if part.since < each.ends and (part.until is None or part.until > each.begins)
    ]


def _measured(
    part: Stay,
    exposed: Callable[[Instant, Instant], TimeBeyond],
    shown: Course,
    limit: UnitLimit,
    hand: Sequence[UnitReading],
    source: int,
) -> tuple[Instant, ev.Excursion] | None:
    """What one part of a stay was exposed to. The worst is that of logger and person."""
    since, until = part.since, part.until
    if until is None or until <= since:
        return None
    found = exposed(since, until)
    if not found.total and not found.unknown:
        return None
    seen = [degrees(found.worst, shown.scale)] if found.worst is not None else []
    seen += [
        each.temperature
        for each in hand
        if since <= each.at <= until and each.temperature.scale == shown.scale
    ]
    worst = min if shown.side == "below" else max
    fact = ev.Excursion(
        limit=limit.temperature(shown.scale),
        seconds=-(-found.total // 1000),
        unknown_seconds=-(-found.unknown // 1000),
        peak=worst(seen, key=lambda each: each.degrees, default=None),
        unit=part.unit,
        began=since,
        source=source,
    )
    return until, fact


def _same(code: str, at: Instant, fact: ev.Excursion) -> tuple[object, ...]:
    """What makes two excursions one, whatever they were worked out from."""
    return code, at, replace(fact, source=None)


def _from_kept(conn: Connection, site: str, fact: ev.Excursion, scales: set[Scale]) -> bool:
    """Whether it was worked out from kept readings of a logger, on one of these scales."""
    source = journal_entries.numbered(conn, site, fact.source or 0)
    what = fact_of(source) if source is not None else None
    return (
        isinstance(what, ev.ReadingsImported)
        and not what.conflicting
        and fact.limit is not None
        and fact.limit.scale in scales
    )


# ---- writing ---------------------------------------------------------------------------------


def written(write: Writing, anew: Anew, why: str) -> list[Entry]:
    """Write what was worked out; the entries of the new excursions. Call ``settle`` after it.

    On a later day the void of an older one is confirmed at once: ``why`` names what it rests on.
    """
    made = write.append(*((fact, at, code) for code, at, fact in anew.excursions))
    voids = write.append(
        *((ev.Voided(each.standing.entry.number, why), write.recorded_at, each.code)
          for each in anew.replaced)
    )  # fmt: skip
    where = write.kitchen.where
    today = local_date(write.recorded_at, where)
    write.append(
        *(
            (ev.Confirmed(void.number, why), write.recorded_at, void.subject)
            for void, each in zip(voids, anew.replaced, strict=True)
            if local_date(each.standing.entry.recorded_at, where) < today
        )
    )
    return made
