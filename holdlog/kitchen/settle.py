"""The person in charge keeps food that a reading or an excursion had put on hold.

It is kept only where the whole time is measured: unknown time is entered first, and names its
paper or logger. What the rules discard is discarded; nobody settles that.
"""

from dataclasses import dataclass, replace

from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant, show_length, show_moment
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.evidence import paper
from holdlog.kitchen.kitchen import Kitchen, Unit, Writing
from holdlog.kitchen.records import Container, LiveRecords, Reader
from holdlog.kitchen.standing import Standing
from holdlog.kitchen.unit_read import held_by
from holdlog.kitchen.units import UnitLimit, UnitReading, by_hand, limit_of, logged, now_of
from holdlog.kitchen.whereabouts import stayed, stays
from holdlog.rules.episodes import known_time
from holdlog.rules.excursion import usual_gap
from holdlog.rules.holding import Holding
from holdlog.rules.measures import measures

_READ = (ev.Reading, ev.Chilled, ev.HotHeld, ev.Received)


@dataclass(frozen=True, slots=True)
class Open:
    """Something that holds a container and that the person in charge may settle.

    ``subject`` is the container whose entry it is: itself, or one it was taken out of.
    ``unknown`` milliseconds of its span are not measured.
    """

    subject: str
    standing: Standing
    unknown: int


@dataclass(frozen=True, slots=True)
class Settlement:
    """What was settled: the containers asked for, others that it released as well, and those
    asked for that are not released, with the reason.
    """

    kept: tuple[ContainerRow, ...]
    others: tuple[ContainerRow, ...]
    refused: tuple[tuple[ContainerRow, str], ...] = ()


def settle(kitchen: Kitchen, by: str, typed: str, why: str, evidence: str) -> Settlement:
    """Keep the container ``typed``: what holds it is settled, with the reason and the paper or
    logger that it rests on.

    Raises ``Mistake`` where nothing is on hold, where the rules discard, where its cooling or a
    part of the time is unproven, and while its unit is still beyond the limit.
    """
    _said(why, evidence)
    with kitchen.writing(by) as write:
        row = write.find(typed)
        opened = _open(write, row)
        return _write(write, [row], opened, why.strip(), evidence.strip())


def settle_unit(kitchen: Kitchen, by: str, unit: Unit, why: str, evidence: str) -> Settlement:
    """The same for everything that an excursion of ``unit`` has on hold. What cannot be kept is
    left on hold and named with its reason; if nothing can be, ``Mistake``.
    """
    _said(why, evidence)
    with kitchen.writing(by) as write:
        rows = held_by(write.kitchen, write.conn, unit)
        if not rows:
            raise Mistake("not-on-hold", f"Nothing is on hold for the {unit.name}.", "")
        kept, refused, opened = [], [], []
        for row in rows:
            try:
                opened += _open(write, row)
                kept.append(row)
            except Mistake as mistake:
                refused.append((row, mistake.line()))
        if not kept:
            raise Mistake("not-to-settle", refused[0][1], "")
        done = _write(write, kept, opened, why.strip(), evidence.strip())
        return replace(done, refused=tuple(refused))


def _said(why: str, evidence: str) -> None:
    if not why.strip():
        raise Mistake("no-reason", "Why is it kept?", 'Say it: --why "…".')
    if not paper(evidence):
        raise Mistake(
            "no-evidence",
            "On what does it rest?",
            'Name the paper or logger: --evidence "logger file walk-in, 38 F until 05:40".',
        )


def _write(
    write: Writing, asked: list[ContainerRow], opened: list[Open], why: str, evidence: str
) -> Settlement:
    drafts = {each.standing.entry.number: each for each in opened}
    write.append(
        *(
            (ev.Settled(number, why, evidence), write.recorded_at, each.subject)
            for number, each in drafts.items()
        )
    )
    before = {each.code for each in asked}
    rows = {row.code: row for row in write.settle(*sorted({each.subject for each in opened}))}
    others = [
        row for code, row in rows.items()
        if code not in before and row.ended_at is None and not row.verdict
    ]  # fmt: skip
    return Settlement(tuple(rows.get(row.code, row) for row in asked), tuple(others))


def _open(write: Writing, row: ContainerRow) -> list[Open]:
    """What holds ``row`` and may be settled; ``Mistake`` where it may not."""
    container, now = write.look(row.code, write.recorded_at)
    called = f"{row.item_name}, {show(row.code)},"
    if now.verdict in ("discard", "refuse"):
        raise Mistake(
            "unfit",
            f"{called} is to be discarded: {now.reason}",
            f"That is not to be settled: holdlog discard {show(row.code)}",
        )
    reader = Reader(LiveRecords(write.conn, write.kitchen.site), write.kitchen.where)
    _refuse_warm_delivery(write, container, row, called)
    found = _found(write, reader, container, row)
    if not found or now.fault is None:
        raise Mistake(
            "not-on-hold",
            f"{called} is not on hold for a reading or its unit"
            + (f": {now.reason}" if now.reason else "."),
            "What was found of an ingredient is settled there; a recall that was withdrawn is "
            f"voided: holdlog why {show(row.code)}"
            if now.fault
            else "",
        )
    _refuse_unproven_cooling(now, row, called)
    for each in found:
        if each.unknown:
            _refuse_unknown(write, each, row, called)
    _refuse_still_beyond(write, row, found)
    return found


def _refuse_warm_delivery(
    write: Writing, container: Container, row: ContainerRow, called: str
) -> None:
    """What came in too warm was so before it was here: that time is measured by nobody."""
    fact = container.making.fact if container.making is not None else None
    if not isinstance(fact, ev.Received) or fact.temperature is None:
        return
    limit = _food_limit(write, row.category, fact)
    if limit is not None and not limit.within(fact.temperature):
        raise Mistake(
            "unknown-time",
            f"{called} came in at {fact.temperature}: for how long it had been too warm, nobody "
            "here knows.",
            f"Send it back: holdlog use {show(row.code)} --as returned. Or bin it: holdlog discard "
            f"{show(row.code)} --reason warm",
        )


def _found(write: Writing, reader: Reader, container: Container, row: ContainerRow) -> list[Open]:
    """Its own, and those of what it was taken out of, until then."""
    found: list[Open] = []
    subject, until = container, None
    while True:
        for each in subject.own:
            if each.settled or (until is not None and each.order > until):
                continue
            if isinstance(each.fact, ev.Excursion):
                found.append(Open(subject.code, each, each.fact.unknown_seconds * 1000))
            elif isinstance(each.fact, _READ) and each.fact.temperature is not None:
                limit = _food_limit(write, row.category, each.fact)
                if limit is not None and not limit.within(each.fact.temperature):
                    found.append(_of_reading(write, reader, subject, each, limit))
        if subject.split is None:
            return found
        until = subject.split.order
        subject = reader.container(subject.origin.parent)


def _food_limit(write: Writing, category: str, fact: ev.Fact) -> UnitLimit | None:
    place = "hot" if isinstance(fact, ev.HotHeld) else "cold"
    known = measures(write.kitchen.stack(write.conn), category, write.kitchen.where).holding
    rules = tuple(rule for rule in known if rule.place == place)
    return UnitLimit(place, rules) if rules else None


def _of_reading(
    write: Writing, reader: Reader, container: Container, bad: Standing, limit: UnitLimit
) -> Open:
    """A reading of the food itself: since its last good one, is the time measured, of the food or
    of the unit it stood in?
    """
    kitchen, conn, at = write.kitchen, write.conn, bad.entry.at
    good = [
        each.entry.at
        for each in container.own
        if isinstance(each.fact, _READ)
        and each.fact.temperature is not None
        and each.entry.at < at
        and limit.within(each.fact.temperature)
        and not each.event.late(kitchen.where)
    ]
    begun = container.split if container.split is not None else container.making
    since = max(good, default=begun.entry.at if begun is not None else at)
    moments = [(moment, False) for moment in good] + [(at, True)]
    gap = usual_gap([])
    for stay in stays(reader, container):
        for part in stayed([stay], stay.unit, since, at):
            unit = kitchen.units.get(part.unit)
            keeps = limit_of(kitchen.stack(conn), unit, kitchen.where) if unit else None
            if keeps is None or part.until is None:
                continue
            read = _of_unit(write, reader, part.unit, part.since, part.until)
            gap = max(gap, usual_gap([(each.at, 0) for each in read if each.by_logger]))
            moments += [(each.at, not keeps.within(each.temperature)) for each in read
                        if each.proves or not keeps.within(each.temperature)]  # fmt: skip
    _, unknown = known_time(sorted(moments), Instant(since), at, gap)
    return Open(container.code, bad, unknown)


def _of_unit(
    write: Writing, reader: Reader, unit: str, since: Instant, until: Instant
) -> list[UnitReading]:
    hand = [each for each in by_hand(reader, unit) if since <= each.at <= until]
    return [*logged(write.conn, write.kitchen.site, unit, since, until), *hand]


def _refuse_unproven_cooling(now: Holding, row: ContainerRow, called: str) -> None:
    cooling = now.cooling
    if cooling is None or "unproven" not in (cooling.first, cooling.whole):
        return
    raise Mistake(
        "unproven",
        f"The cooling of {called} is not proven.",
        f"Enter the missing reading: holdlog cool {show(row.code)} READING --at WHEN "
        "--evidence PAPER",
    )


def _refuse_unknown(write: Writing, each: Open, row: ContainerRow, called: str) -> None:
    fact, where, now = each.standing.fact, write.kitchen.where, write.recorded_at
    unknown = show_length(each.unknown)
    until = show_moment(each.standing.entry.at, where, now)
    if isinstance(fact, ev.Excursion):
        began = fact.began if fact.began is not None else each.standing.entry.at
        raise Mistake(
            "unknown-time",
            f"Of the time from {show_moment(Instant(began), where, now)} to {until}, {unknown} of "
            f"the {fact.unit or 'unit'} are unknown: {called} cannot be kept on that.",
            f'Enter the missing readings first: holdlog unit import "{fact.unit}" FILE, or '
            f'holdlog unit read "{fact.unit}" READING --at WHEN --evidence PAPER',
        )
    raise Mistake(
        "unknown-time",
        f"Before the reading of {until}, {unknown} are unknown: {called} cannot be kept on that.",
        f'Enter the missing readings first: holdlog unit import "{row.unit}" FILE, or '
        f"holdlog read {show(row.code)} READING --at WHEN --evidence PAPER",
    )


def _refuse_still_beyond(write: Writing, row: ContainerRow, found: list[Open]) -> None:
    """While its unit is beyond the limit nothing in it is kept."""
    unit = write.kitchen.units.get(row.unit)
    about = {each.standing.fact.unit for each in found
             if isinstance(each.standing.fact, ev.Excursion)}  # fmt: skip
    if unit is None or unit.name not in about:
        return
    now = now_of(write.kitchen, write.conn, unit, write.recorded_at)
    if now.good is False and now.last is not None:
        raise Mistake(
            "still-beyond",
            f"The {unit.name} read {now.last.temperature} last, beyond its limit.",
            "Read it again once it is right, or move the food: holdlog unit read "
            f'"{unit.name}" READING',
        )
