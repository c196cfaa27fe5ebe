"""What an inspector asks of a period: was it cooled, were the units cold, what was held, and why.

Everything is bounded by the period: nothing here grows with the years before it.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from holdlog.core import events as ev
from holdlog.core.moments import DAY, Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand, readings
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.coolings import Logged, logged
from holdlog.kitchen.kitchen import Kitchen, Unit
from holdlog.kitchen.records import LiveRecords, Reader
from holdlog.kitchen.standing import Standing, standing
from holdlog.kitchen.telling import tell
from holdlog.kitchen.units import SCALES, UnitLimit, limit_of
from holdlog.rules.episodes import Course, course
from holdlog.rules.history import Event
from holdlog.rules.holding import Holding, holding
from holdlog.rules.stack import Stack

CoolingStands = Literal["missed", "unproven", "running", "no-clock", "met", "not-logged"]
# The worst that is said of one container of a batch is said of the batch.
WORST: tuple[CoolingStands, ...] = (
    "missed", "unproven", "running", "no-clock", "met", "not-logged",
)  # fmt: skip
_CORRECTING = ("voided", "confirmed", "settled")
_COOLING = ("off-heat", "cooling-in", "cooling", "chilled")
_HOLDING = ("excursion", "reading", "hot-held", "received", "out", "reheated")
_LONGEST = 7 * DAY  # no cooling is logged so long after the food was made


@dataclass(frozen=True, slots=True)
class BatchCooling:
    """One batch that had to be cooled, and where its cooling stands.

    ``logged`` is the container that stands worst; None where nothing was logged.
    """

    batch: str
    item: str
    at: Instant
    by: str
    stands: CoolingStands
    logged: Logged | None


@dataclass(frozen=True, slots=True)
class UnitPast:
    """A unit over the period: readings by hand (how many ``beyond`` the limit; ``unjudged`` are
    on a scale the rule does not print), the logger's courses, and excursions of containers.
    """

    unit: Unit
    limit: UnitLimit | None
    by_hand: tuple[Standing, ...]
    beyond: tuple[Standing, ...]
    unjudged: int
    courses: tuple[Course, ...]
    struck: int


@dataclass(frozen=True, slots=True)
class Hold:
    """Food put on hold (or out of use) in the period, and what became of it.

    ``outcome``: "kept" (``why`` and on what evidence), "on hold", "to discard", "lifted" (what
    held it holds no more), or how it ended.
    """

    row: ContainerRow
    at: Instant
    by: str
    because: str
    verdict: str
    outcome: str
    why: str
    settled_by: str
    ended_at: Instant | None


@dataclass(frozen=True, slots=True)
class MovedDate:
    """A container whose date other rules moved, on the day they were adopted.

    ``left_was`` and ``left_now``: days once thawed, of frozen food.
    """

    row: ContainerRow
    adopted: int
    at: Instant
    was: Instant | None
    now: Instant | None
    left_was: int | None
    left_now: int | None
    verdict_was: str
    verdict_now: str


def found_in(
    kitchen: Kitchen, conn: Connection, kinds: Iterable[str], since: Instant, until: Instant
) -> list[Standing]:
    """The facts of ``kinds`` that happened in the period and count, by when they happened."""
    site = kitchen.site
    found = journal_entries.of_kinds(conn, site, kinds, since=since, until=until)
    # What corrects an entry is written after it happened.
    found += journal_entries.of_kinds(conn, site, _CORRECTING, since=since)
    counting = standing(sorted(found, key=lambda each: each.number), kitchen.where)
    return sorted(counting, key=lambda each: each.order)


# ---- cooling ---------------------------------------------------------------------------------


def coolings_made(
    kitchen: Kitchen,
    conn: Connection,
    since: Instant,
    until: Instant,
    item: str = "",
    by: str = "",
    unit: str = "",
) -> list[BatchCooling]:
    """Every batch made in the period that had to be cooled, or was logged to be. ``unit``: only
    what was made into that one, or stands (or stood last) in it.
    """
    at, stack = kitchen.moment(conn), kitchen.stack(conn)
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    logged_by = Instant(until + _LONGEST)
    about = journal_entries.of_kinds(conn, kitchen.site, _COOLING, since=since, until=logged_by)
    told = {each.subject for each in about}
    batch_of = _batches_of(kitchen, conn, told)
    makings: dict[str, Standing] = {}
    for each in found_in(kitchen, conn, ["prepared"], since, until):
        makings[each.entry.subject] = each
    result = []
    for batch, making in makings.items():
        fact = making.fact
        if not isinstance(fact, ev.Prepared) or fact.food is None:
            continue
        if item.lower() not in fact.food.item.lower() or by.upper() not in ("", making.entry.by):
            continue
        if unit not in ("", fact.unit) and not any(
            row.unit == unit for row in on_hand.of_batch(conn, kitchen.site, batch)
        ):
            continue
        worst: Logged | None = None
        if batch in told or batch in batch_of:
            rows = on_hand.of_batch(conn, kitchen.site, batch)
            all_logged = (logged(kitchen, conn, reader, row, at) for row in rows)
            there = [each for each in all_logged if each is not None]
            worst = min(there, key=lambda each: WORST.index(each.stands), default=None)
        stands: CoolingStands = worst.stands if worst is not None else "not-logged"
        if worst is None and not _has_to_cool(fact.food, stack):
            continue  # made cold: nothing to log
        result.append(
            BatchCooling(
                batch, fact.food.item, making.entry.at, making.entry.by, stands, worst
            )
        )  # fmt: skip
    return result


def _batches_of(kitchen: Kitchen, conn: Connection, subjects: Iterable[str]) -> set[str]:
    rows = (on_hand.find(conn, kitchen.site, subject) for subject in subjects)
    return {row.batch for row in rows if row is not None}


def _has_to_cool(food: ev.Food, stack: Stack) -> bool:
    """Whether it was hot when it was made, as far as its kind of food says."""
    category = stack.category(food.category)
    heated = food.heat_treated if food.heat_treated is not None else category.heat_treated
    return heated or food.ambient_ingredients


def count_coolings(found: Iterable[BatchCooling]) -> dict[str, int]:
    """How many batches stand how, each word named."""
    counts = Counter(each.stands for each in found)
    return {word: counts[word] for word in WORST}


# ---- units -----------------------------------------------------------------------------------


def unit_pasts(
    kitchen: Kitchen, conn: Connection, since: Instant, until: Instant, unit: str = ""
) -> list[UnitPast]:
    """The units over the period, in the order of the walk, by the rules in force now."""
    stack, site = kitchen.stack(conn), kitchen.site
    by_unit: dict[str, list[Standing]] = defaultdict(list)
    for each in found_in(kitchen, conn, ["unit-read"], since, until):
        by_unit[each.entry.subject].append(each)
    struck = Counter(
        each.fact.unit
        for each in found_in(kitchen, conn, ["excursion"], since, until)
        if isinstance(each.fact, ev.Excursion)
    )
    found = []
    for place in kitchen.units.values():
        if unit not in ("", place.name):
            continue
        limit = limit_of(stack, place, kitchen.where)
        hand = by_unit[place.name]
        beyond, unjudged = _judged(limit, hand)
        courses = []
        for scale in SCALES if limit is not None else ():
            if limit is None or not limit.speaks(scale):
                continue
            samples = readings.samples(conn, site, place.name, scale, since, Instant(until - 1))
            if samples:
                figure = limit.hundredths(scale)
                courses.append(course(samples, figure, side=limit.side, scale=scale))
        found.append(
            UnitPast(
                place, limit, tuple(hand), tuple(beyond), unjudged, tuple(courses),
                struck[place.name],
            )
        )  # fmt: skip
    return found


def _judged(limit: UnitLimit | None, hand: Sequence[Standing]) -> tuple[list[Standing], int]:
    """The readings beyond the limit, and how many nothing can be said of."""
    beyond, unjudged = [], 0
    for each in hand:
        if not isinstance(each.fact, ev.UnitRead):
            continue
        if limit is None or not limit.speaks(each.fact.temperature.scale):
            unjudged += 1
        elif not limit.within(each.fact.temperature):
            beyond.append(each)
    return beyond, unjudged


# ---- holds -----------------------------------------------------------------------------------


def holds(
    kitchen: Kitchen, conn: Connection, since: Instant, until: Instant, item: str = "", by: str = ""
) -> list[Hold]:
    """What a reading, an excursion, a reheating or time out of control in the period put on hold
    or out of use, and what became of it by now: a recall stands among the remarks.

    Each is judged by the rules in force when it was written.
    """
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    settlers = {
        fact.entry: entry.by
        for entry in journal_entries.of_kinds(conn, kitchen.site, ["settled"], since=since)
        if isinstance(fact := fact_of(entry), ev.Settled)
    }
    found = []
    for each in found_in(kitchen, conn, _HOLDING, since, until):
        if by.upper() not in ("", each.entry.by) or not _may_hold(each.fact):
            continue
        settler = settlers.get(each.entry.number, "")
        for row in _concerned(kitchen, conn, each.entry.subject):
            if item.lower() in row.item_name.lower():
                held = _held(kitchen, conn, reader, row, each, settler)
                found += [held] if held is not None else []
    return found


def _may_hold(fact: ev.Fact) -> bool:
    """Most deliveries were not read: they hold nothing."""
    return not isinstance(fact, ev.Received) or fact.temperature is not None


def _concerned(kitchen: Kitchen, conn: Connection, subject: str) -> list[ContainerRow]:
    """The container that an entry is about, or those that its batch was filled into."""
    row = on_hand.find(conn, kitchen.site, subject)
    if row is not None:
        return [row]
    return [each for each in on_hand.of_batch(conn, kitchen.site, subject) if not each.parent]


def _without(event: Event, at: Instant, fact: ev.Fact) -> tuple[Event, ...]:
    """``event`` as if ``fact`` had not been said: of a delivery, as if nobody had read it."""
    if (event.at, event.fact) != (at, fact):
        return (event,)
    if isinstance(fact, ev.Received):
        return (replace(event, fact=replace(fact, temperature=None)),)
    return ()


def _held(
    kitchen: Kitchen, conn: Connection, reader: Reader, row: ContainerRow, each: Standing, by: str
) -> Hold | None:
    at, fact = each.entry.at, each.fact
    history = reader.container(row.code).history.until(at)
    # As it looked then: what was settled since had not been.
    plain = tuple(replace(one, settled="", evidence="") for one in history.events)
    stack = kitchen.stack_at(conn, each.entry.number)
    then = holding(replace(history, events=plain), stack, at, kitchen.where)
    if then.fault not in ("hold", "discard", "refuse"):
        return None  # it stayed in use; that its date had passed is no hold
    others = tuple(rest for one in plain for rest in _without(one, at, fact))
    without = holding(replace(history, events=others), stack, at, kitchen.where)
    if (without.fault, without.reason) == (then.fault, then.reason):
        return None  # it was held already, and not by this
    because = tell(fact)
    past = row.use_by is not None and kitchen.moment(conn) > row.use_by
    if each.settled:
        outcome, why = "kept", each.settled
    elif row.ended_at is not None:
        outcome, why = row.ended_as, ""
    elif row.verdict in ("discard", "refuse") or past:
        outcome, why = "to discard", ""  # held or not: past its date it goes
    elif row.verdict:
        outcome, why = "on hold", ""
    else:
        outcome, why = "lifted", "what held it holds no more"
    return Hold(
        row, at, each.entry.by, because, then.fault, outcome, why, by, row.ended_at
    )  # fmt: skip


# ---- dates that other rules moved ------------------------------------------------------------


def moved_dates(
    kitchen: Kitchen, conn: Connection, since: Instant, until: Instant
) -> list[MovedDate]:
    """The containers whose date or verdict an adoption of the period moved, as they were then.

    A later date is shown as the rules gave it; it held once the container was labelled again.
    """
    site = kitchen.site
    reader = Reader(LiveRecords(conn, site), kitchen.where)
    found = []
    adopted = [
        (entry, fact)
        for entry in journal_entries.of_kinds(conn, site, ["stack"], until=until)
        if isinstance(fact := fact_of(entry), ev.StackAdopted)
    ]
    for (_, old), (entry, new) in pairwise(adopted):
        if entry.at < since:
            continue
        before, after = kitchen.stack_of(conn, old), kitchen.stack_of(conn, new)
        for row in on_hand.existing(conn, site, entry.at, entry.at):
            history = reader.container(row.code).history.until(entry.at)
            was, now = (
                holding(history, stack, entry.at, kitchen.where) for stack in (before, after)
            )
            if _said(was) != _said(now):
                found.append(
                    MovedDate(
                        row, entry.number, entry.at, was.use_by, now.use_by,
                        was.days_left_once_thawed, now.days_left_once_thawed, was.verdict,
                        now.verdict,
                    )
                )  # fmt: skip
    return found


def _said(found: Holding) -> tuple[object, ...]:
    return found.use_by, found.fault, found.days_left_once_thawed
