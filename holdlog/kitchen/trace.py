"""From a container back to every ingredient and maker's lot, and on to all that was made of it.

Food goes from a container into a batch ("made into"), from a batch into its containers
("filled"), from one container into others ("split") and from one into another ("poured into").
The moment counts: what was taken out of a tub before something was poured in does not hold it.
So each name is reached with a moment, the earliest from which it can hold what is asked after
(going on), or the latest up to which it matters (going back), in the order of these moments.

Only the entries that tell of such steps are read, a generation at a time: the cost grows with
the size of the trace, and not with that of the journal.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from typing import Literal

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.codes import LENGTH, looks_like_a_code, show
from holdlog.core.errors import Fault, Mistake
from holdlog.core.lots import check_lot, lot_key, lot_subject
from holdlog.core.moments import Instant
from holdlog.core.visible import one_line, quoted
from holdlog.journal import kinship, on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import BatchRow, ContainerRow
from holdlog.kitchen.kitchen import Kitchen, find_container
from holdlog.kitchen.lots import lots_like, lots_named, recalls_in_force
from holdlog.kitchen.records import Making
from holdlog.kitchen.standing import Standing, standing

How = Literal["made into", "filled", "split", "poured into"]
_MOST_SHOWN = 60  # signs of a lot in a sentence
ALWAYS, NEVER = Instant(0), Instant(2**62)
_KINDS = (
    "prepared", "received", "opened", "split", "topped-up", "used", "discarded", "voided",
    "confirmed",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Step:
    """Food went from ``source`` into ``into`` (codes or batches) at ``at``, by entry ``number``.

    ``voided``: why the entry was taken back; then it does not count. Only a voided filling or
    split is still followed: what was made of such a tub, or taken out of it, holds what it held.
    ``counts_at`` is ``at``, or later where a making was corrected to later than what followed.
    """

    source: str
    into: str
    how: How
    at: Instant
    number: int
    voided: str = ""
    counts_at: Instant = ALWAYS

    @property
    def followed(self) -> bool:
        """Whether food went that way."""
        return not self.voided or self.how in ("filled", "split")


@dataclass(frozen=True, slots=True)
class Start:
    """What is traced. ``subject`` is what entries about it have as their subject; ``names`` are
    the batches or the container it stands for; ``what`` is how it is called.
    """

    what: str
    subject: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reached:
    """One direction of a trace: every name with its moment, in the order of reaching, and the
    steps between them (voided ones too, by moment).
    """

    names: dict[str, Instant]
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """A trace: back to what it was made of, on to what was made of it, and the rows of all."""

    start: Start
    at: Instant
    back: Reached
    forward: Reached
    containers: dict[str, ContainerRow]
    batches: dict[str, BatchRow]

    @property
    def lots(self) -> dict[str, str]:
        """The makers' lots it was made of: batch and lot."""
        return {
            name: row.lot
            for name, row in self.batches.items()
            if row.lot and (name in self.back.names or name in self.start.names)
        }


def trace(kitchen: Kitchen, typed: str = "", lot: str = "") -> Trace:
    """Trace a container's code, a batch (``"B17"``) or a maker's lot, both ways.

    Raises ``Mistake`` where nothing is known by that name, ``Fault("circle")`` where something
    is said to be made of itself.
    """
    with kitchen.db.reading() as conn:
        at = kitchen.moment(conn)
        start = start_of(kitchen, conn, typed, lot)
        back = going_back(kitchen, conn, start.names)
        forward = going_on(kitchen, conn, start.names)
        names = {*start.names, *back.names, *forward.names}
        names |= {end for one in (back, forward) for step in one.steps
                  for end in (step.source, step.into)}  # fmt: skip
        containers = kinship.containers(conn, kitchen.site, names)
        wanted = {*names, *(row.batch for row in containers.values())}
        return Trace(
            start, at, back, forward, containers, kinship.batches(conn, kitchen.site, wanted)
        )


def start_of(
    kitchen: Kitchen, conn: Connection, typed: str, lot: str, *, absent: bool = False
) -> Start:
    """What is meant: a lot, a batch or a container, gone or not. ``absent``: a lot of which no
    batch is on record stands for none, instead of being a mistake.
    """
    if typed.strip() and lot.strip():
        raise Mistake(
            "one-of-two", f"Of what: {quoted(typed)}, or lot {quoted(lot)}?", "Say one of them."
        )
    if lot.strip():
        return _lot(kitchen, conn, lot.strip(), absent=absent)
    name = typed.strip().upper()
    if not name:
        raise Mistake("one-of-two", "Of what?", "Give a container's code, a batch, or --lot LOT.")
    # A batch is B and a number; a code has eight characters and a check.
    if name[:1] == "B" and name[1:].isdigit() and not looks_like_a_code(name):
        if on_hand.batch(conn, kitchen.site, name) is None:
            raise Mistake(
                "no-batch", f"There is no batch {name}.", "holdlog why CODE names a tub's batch."
            )
        return Start(f"batch {name}", name, (name,))
    try:
        row = find_container(kitchen, conn, typed, ended=True)
    except Mistake as mistake:
        if not kinship.of_lots(conn, kitchen.site, [lot_key(typed)]):
            raise
        hint = f"It is a maker's lot: --lot {_quoted(typed.strip())}"
        raise Mistake(mistake.code, mistake.sentence, hint) from mistake
    return Start(show(row.code), row.code, (row.code,))


def _quoted(text: str) -> str:
    return f'"{text}"' if " " in text else text


def _lot(kitchen: Kitchen, conn: Connection, lot: str, *, absent: bool) -> Start:
    batches = kinship.of_lots(conn, kitchen.site, [lot_key(lot)])
    recalled = not batches and any(
        each.entry.subject == lot_subject(lot) for each in recalls_in_force(kitchen, conn)
    )
    if not batches and not recalled:
        check_lot(lot)
    if not batches and not absent:
        close = lots_like(kitchen, conn, lot, mistyped=True)
        hint = f"Near it: {lots_named(close)}." if close else (
            "Lots are kept where they were said: holdlog receive --lot, holdlog open --lot."
        )  # fmt: skip
        said = f"No batch of lot {one_line(lot, _MOST_SHOWN)} is on record"
        if recalled:
            said += "; it is recalled, and will be held when it comes in"
        raise Mistake("no-lot", f"{said}.", hint)
    called = batches[0].lot if batches else lot
    return Start(f"lot {called}", lot_subject(lot), tuple(row.batch for row in batches))


def going_on(kitchen: Kitchen, conn: Connection, names: Sequence[str]) -> Reached:
    """Everything that holds any of ``names``, each with the earliest moment from which it may."""
    site = kitchen.site
    births: dict[str, kinship.Birth] = {}
    seen: dict[str, None] = {}
    waiting = list(names)
    while waiting:
        seen.update(dict.fromkeys(waiting))
        codes = [name for name in waiting if _may_be_a_code(name)]
        born = [
            *kinship.split_from(conn, site, codes),
            *kinship.filled(conn, site, [name for name in waiting if _may_be_a_batch(name)]),
            *kinship.births(conn, site, [code for code in codes if code not in births]),
        ]
        births |= {birth[0]: birth for birth in born}
        nexts = [birth[0] for birth in born]
        nexts += [link.into for link in kinship.went_into(conn, site, codes)]
        waiting = [name for name in dict.fromkeys(nexts) if name not in seen]
    steps = _steps(kitchen, conn, births, seen)
    reached: dict[str, Instant] = {}
    heap: list[tuple[Instant, str]] = [(ALWAYS, name) for name in names]
    out = _by(steps, "source")
    while heap:
        since, name = heappop(heap)
        if name in reached:
            continue
        reached[name] = since
        for step in out[name]:
            if step.followed and (step.how == "filled" or since <= step.counts_at):
                keeps = step.how in ("filled", "split")
                heappush(heap, (since if keeps else step.counts_at, step.into))
    return _checked(reached, [step for step in steps if step.source in reached])


def going_back(kitchen: Kitchen, conn: Connection, names: Sequence[str]) -> Reached:
    """Everything that ``names`` were made of, each with the latest moment that matters."""
    site = kitchen.site
    births: dict[str, kinship.Birth] = {}
    seen: dict[str, None] = {}
    waiting = list(names)
    while waiting:
        seen.update(dict.fromkeys(waiting))
        born = kinship.births(conn, site, filter(_may_be_a_code, waiting))
        births |= {birth[0]: birth for birth in born}
        nexts = [end for birth in born for end in birth[1:] if end]
        nexts += [link.code for link in kinship.came_into(conn, site, waiting)]
        waiting = [name for name in dict.fromkeys(nexts) if name not in seen]
    steps = _steps(kitchen, conn, births, seen)
    reached: dict[str, Instant] = {}
    heap: list[tuple[int, str]] = [(-NEVER, name) for name in names]
    into = _by(steps, "into")
    while heap:
        until, name = heappop(heap)
        if name in reached:
            continue
        reached[name] = Instant(-until)
        for step in into[name]:
            if step.followed and (step.how in ("filled", "split") or step.counts_at <= -until):
                then = -until if step.how == "filled" else min(-until, step.counts_at)
                heappush(heap, (-then, step.source))
    return _checked(reached, [step for step in steps if step.into in reached])


def _may_be_a_code(name: str) -> bool:
    return len(name) == LENGTH


def _may_be_a_batch(name: str) -> bool:
    # From the two millionth batch on a name may be either: then both are asked for.
    return name[0] == "B" and name[1:].isdigit()


def _by(steps: Iterable[Step], end: Literal["source", "into"]) -> dict[str, list[Step]]:
    found: dict[str, list[Step]] = defaultdict(list)
    for step in steps:
        found[step.source if end == "source" else step.into].append(step)
    return found


def _steps(
    kitchen: Kitchen, conn: Connection, births: dict[str, kinship.Birth], names: Iterable[str]
) -> list[Step]:
    """Every step between ``names``, by moment, voided ones too."""
    seen = set(names)
    subjects = {*seen, *(birth[1] for birth in births.values())}
    subjects |= {birth[2] for birth in births.values() if birth[2]}
    entries = kinship.about(conn, kitchen.site, subjects, _KINDS)
    made: dict[str, Standing | None] = {}
    steps: list[Step] = []
    for subject, about in entries.items():
        counts = standing(about, kitchen.where)
        makings = [each for each in counts if isinstance(each.fact, Making)]
        # Of two makings (a correction not yet confirmed) the later written tells.
        made[subject] = makings[-1] if makings else None
        steps += _taken(subject, about, counts, made[subject])
    for code, batch, parent in births.values():
        making = made.get(batch)
        if not parent:
            steps.append(_fill(code, batch, making, entries.get(batch, [])))
    late = {code: making.entry.at for code, batch, _ in births.values()
            if (making := made.get(batch)) is not None}  # fmt: skip
    found = {
        (step.source, step.into, step.how, step.number): Step(
            step.source, step.into, step.how, step.at, step.number, step.voided,
            max(step.at, late.get(step.into, step.at)) if step.how == "split" else step.at,
        )
        for step in steps
        if step.source in seen and step.into in seen
    }  # fmt: skip
    stands = {(step.source, step.into, step.how) for step in found.values() if not step.voided}
    kept = [
        step for step in found.values()
        if not step.voided or (step.source, step.into, step.how) not in stands
    ]  # fmt: skip
    return sorted(kept, key=lambda step: (step.at, step.number, step.source, step.into))


def _taken(
    subject: str, about: Sequence[Entry], counts: Sequence[Standing], making: Standing | None
) -> list[Step]:
    """What went into ``subject``, or was split off from it, voided or not."""
    facts = {each.entry.number: each.fact for each in counts}
    stand = set(facts)
    # Read once: what counts is known already, the rest is what was voided and what voids.
    facts |= {entry.number: fact_of(entry) for entry in about if entry.number not in facts}
    whys = {fact.entry: fact.why for fact in facts.values() if isinstance(fact, ev.Voided)}
    steps = []
    for entry in about:
        fact, number = facts[entry.number], entry.number
        why = "" if number in stand else whys.get(number) or "voided"
        if isinstance(fact, ev.Prepared) and (why or making is None or making.entry is entry):
            steps += [Step(code, subject, "made into", entry.at, number, why)
                      for code in fact.made_from]  # fmt: skip
        elif isinstance(fact, ev.ToppedUp):
            steps.append(Step(fact.poured_in, subject, "poured into", entry.at, number, why))
        elif isinstance(fact, ev.Split):
            steps += [Step(subject, code, "split", entry.at, number, why) for code in fact.into]
    return steps


def _fill(code: str, batch: str, making: Standing | None, about: Sequence[Entry]) -> Step:
    if making is not None:
        return Step(batch, code, "filled", making.entry.at, making.entry.number)
    last = next(entry for entry in reversed(about) if isinstance(fact_of(entry), Making))
    voids = [fact for entry in about if isinstance(fact := fact_of(entry), ev.Voided)]
    whys = [fact.why for fact in voids if fact.entry == last.number]
    return Step(batch, code, "filled", last.at, last.number, (*whys, "voided")[0])


def _checked(names: dict[str, Instant], steps: list[Step]) -> Reached:
    """What was reached, once it is plain that nothing in it is made of itself."""
    out: dict[str, list[str]] = defaultdict(list)
    missing: dict[str, int] = dict.fromkeys(names, 0)
    for step in steps:
        if step.followed and step.source in names and step.into in names:
            out[step.source].append(step.into)
            missing[step.into] += 1
    ready = [name for name, count in missing.items() if not count]
    done = 0
    while ready:
        done += 1
        for name in out[ready.pop()]:
            missing[name] -= 1
            if not missing[name]:
                ready.append(name)
    if done < len(names):
        circle = min(name for name, count in missing.items() if count)
        raise Fault("circle", f"{circle} is said to be made of itself.", "Run: holdlog doctor")
    return Reached(names, tuple(steps))
