"""How a round stands, and how it is ended: nothing that was not seen is closed silently."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.core.temperature import Temperature
from holdlog.journal import on_hand
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.due import as_judged, walk_order
from holdlog.kitchen.due import line as judged
from holdlog.kitchen.kitchen import Kitchen, Unit
from holdlog.kitchen.reconcile import Reconciled, Shelved, raw_above, reconcile
from holdlog.kitchen.records import LiveRecords, Reader
from holdlog.kitchen.round import Done, Round, done_in, refuse_ended


@dataclass(frozen=True, slots=True)
class UnitWalked:
    """A unit of the round. ``came``: somebody came to it. ``read``: what it read, if anybody
    looked.
    """

    unit: str
    came: bool
    read: Temperature | None
    seen: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a round stands, or stood when it was ended. Rows are as they are now.

    ``not_seen`` are in the order of the walk; ``elsewhere`` carries the unit in which each was
    seen. ``answers`` counts containers by the last answer they were given, "again" left out.
    """

    round: Round
    at: Instant
    units: tuple[UnitWalked, ...]
    answers: dict[ev.RoundAnswer, int]
    seen: int
    not_seen: tuple[ContainerRow, ...]
    elsewhere: tuple[tuple[ContainerRow, str], ...]
    ended: tuple[ContainerRow, ...]
    unknown: tuple[str, ...]
    raw_above: tuple[ContainerRow, ...]
    done: tuple[Done, ...]

    @property
    def clean(self) -> bool:
        """Whether nothing is left to look for."""
        left = (self.not_seen, self.elsewhere, self.ended, self.unknown, self.raw_above)
        return not any(left)


def outcome(kitchen: Kitchen, walk: Round) -> Outcome:
    """How the round stands now; of one that was ended, how it was ended."""
    with kitchen.db.reading() as conn:
        return _outcome(kitchen.current(conn), conn, walk, kitchen.moment(conn))


def _outcome(kitchen: Kitchen, conn: Connection, walk: Round, at: Instant) -> Outcome:
    walk.catch_up(conn, kitchen.site)
    found = _as_ended(walk) or _reconciled(kitchen, conn, walk)
    rows = partial(_rows, kitchen, conn)
    answers = {
        scan.code: scan.answer for scan in walk.scans if scan.answer not in ("again", "unknown")
    }
    raw = walk.end[1].raw_above if walk.end is not None else raw_over_ready(kitchen, conn, walk)
    return Outcome(
        round=walk,
        at=at,
        units=tuple(_walked(kitchen, conn, walk, unit) for unit in walk.units),
        answers=dict(Counter(answers.values())),
        seen=walk.end[1].seen if walk.end is not None else len(found.seen),
        not_seen=_in_order(kitchen, conn, rows(found.not_seen), at),
        elsewhere=tuple((row, unit) for code, unit in found.elsewhere for row in rows([code])),
        ended=rows(found.ended),
        unknown=found.unknown,
        raw_above=rows(raw),
        done=tuple(done_in(kitchen, conn, walk)),
    )


def _as_ended(walk: Round) -> Reconciled | None:
    """What was written down when the round was ended."""
    if walk.end is None:
        return None
    said = walk.end[1]
    last = {code: walk.latest[code].unit for code in said.elsewhere if code in walk.latest}
    return Reconciled(
        tuple(walk.latest), said.not_seen, tuple(last.items()), said.ended, said.unknown
    )


def _reconciled(kitchen: Kitchen, conn: Connection, walk: Round) -> Reconciled:
    live = {row.code: row.unit for row in on_hand.live(conn, kitchen.site)}
    return reconcile(walk.units, walk.scans, live)


def _rows(kitchen: Kitchen, conn: Connection, codes: Iterable[str]) -> tuple[ContainerRow, ...]:
    found = (on_hand.find(conn, kitchen.site, code) for code in codes)
    return tuple(row for row in found if row is not None)


def _in_order(
    kitchen: Kitchen, conn: Connection, rows: Iterable[ContainerRow], at: Instant
) -> tuple[ContainerRow, ...]:
    """What is on hand in the order of the walk; what is gone by now after it."""
    there = [judged(kitchen, conn, row, at) for row in rows if row.ended_at is None]
    gone = [row for row in rows if row.ended_at is not None]
    return (*(as_judged(each) for each in walk_order(kitchen, there)), *gone)


def _walked(kitchen: Kitchen, conn: Connection, walk: Round, unit: str) -> UnitWalked:
    read = None
    if unit in walk.reads:
        reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
        counts = {each.entry.number: each.fact for each in reader.standing(unit)}
        # One that was taken back leaves what was read before it.
        facts = (counts.get(number) for number in reversed(walk.reads[unit]))
        read = next((fact.temperature for fact in facts if isinstance(fact, ev.UnitRead)), None)
    seen = sum(scan.unit == unit for scan in walk.latest.values())
    return UnitWalked(unit, unit in walk.came_to, read, seen)


def raw_over_ready(kitchen: Kitchen, conn: Connection, walk: Round) -> tuple[str, ...]:
    """The raw animal food that was seen on a shelf above ready-to-eat food of the same unit."""
    stack = kitchen.current(conn).stack(conn)
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    shelved = []
    for scan in walk.latest.values():
        row = on_hand.find(conn, kitchen.site, scan.code)
        if scan.shelf is None or row is None or row.ended_at is not None:
            continue
        kind, food = stack.category(row.category), reader.container(scan.code).history.food
        heated = kind.heat_treated if food.heat_treated is None else food.heat_treated
        ready = kind.ready_to_eat if food.ready_to_eat is None else food.ready_to_eat
        raw = kind.animal and not heated and not ready
        shelved.append(Shelved(scan.code, scan.unit, scan.shelf, raw, ready))
    return raw_above(shelved)


def raw_flagged(kitchen: Kitchen, walk: Round, unit: Unit) -> list[ContainerRow]:
    """The raw animal food above ready-to-eat food in ``unit``, as far as shelves were said."""
    with kitchen.db.reading() as conn:
        walk.catch_up(conn, kitchen.site)
        codes = raw_over_ready(kitchen, conn, walk)
        return [
            row for row in _rows(kitchen, conn, codes) if walk.latest[row.code].unit == unit.name
        ]


def end(kitchen: Kitchen, by: str, walk: Round, in_charge: str) -> Outcome:
    """End the round. What was not seen stays on hand, and on record as not seen.

    ``in_charge`` are the initials of the person in charge; empty where nobody was asked. Raises
    ``Mistake("round-ended")`` where somebody else has ended it.
    """
    signed = in_charge.strip().upper()
    if any(not (ch.isalnum() or ch in ".-") for ch in signed):
        raise Mistake("bad-name", f"{in_charge!r} are no initials.", "Type letters: JR.")
    with kitchen.writing(by) as write:
        refuse_ended(write, walk)
        found = _reconciled(write.kitchen, write.conn, walk)
        fact = ev.RoundEnded(
            seen=len(found.seen),
            not_seen=found.not_seen,
            elsewhere=tuple(code for code, _ in found.elsewhere),
            ended=found.ended,
            unknown=found.unknown,
            raw_above=raw_over_ready(write.kitchen, write.conn, walk),
            in_charge=signed,
        )
        write.append((fact, write.recorded_at, walk.subject))
    return outcome(kitchen, walk)
