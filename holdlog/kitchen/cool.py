"""The cooling log of a batch: readings, moves and the moment off the heat, each written down."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.core.temperature import Temperature
from holdlog.journal import on_hand
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.caught_up import caught_up
from holdlog.kitchen.evidence import paper
from holdlog.kitchen.kitchen import Kitchen, Unit, Writing
from holdlog.kitchen.probes import known
from holdlog.kitchen.records import Container
from holdlog.rules.holding import Holding


@dataclass(frozen=True, slots=True)
class Cooled:
    """What a reading was logged for, after it: the rows, and where the container stands.

    That is the whole batch, or the one container (``alone``) that was hot by itself since.
    ``entries`` are the numbers of what was written, in the order of the facts.
    """

    batch: str
    rows: tuple[ContainerRow, ...]
    holding: Holding
    alone: bool = False
    entries: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PutIn:
    """What it cools in from now on, in words; the unit, if it is one; how warm it is there.

    ``read_at``: when the unit was read, where that is how its ``surroundings`` are known.
    """

    method: str
    unit: Unit | None = None
    surroundings: Temperature | None = None
    read_at: Instant | None = None


def log(
    kitchen: Kitchen,
    by: str,
    typed: str,
    at: Instant,
    facts: Sequence[tuple[ev.Fact, Instant]],
    evidence: str = "",
    put_in: PutIn | None = None,
) -> Cooled:
    """Log ``facts`` of one cooling at once, and what it was ``put_in`` at ``at``. It is that of the
    batch; a container that was reheated or held hot by itself cools by itself, as its siblings
    stayed cold. ``evidence`` names the paper or logger that an entry of a later day rests
    on; without it such an entry proves nothing.

    Put into a cold unit, its containers stand in that unit from then on. Raises ``Mistake``
    where it is frozen, or the probe is not known; ``Mistake("not-cold")`` for a hot box.
    """
    if put_in is not None and put_in.unit is not None and put_in.unit.sort == "hot box":
        raise Mistake(
            "not-cold",
            f"Nothing cools in the {put_in.unit.name}.",
            "Heated again, it is: holdlog reheat CODE -t READING --into UNIT",
        )
    with kitchen.writing(by) as write:
        row = write.find(typed)
        if row.state == "frozen":
            raise Mistake(
                "is-frozen",
                f"{row.item_name}, {show(row.code)}, is frozen.",
                "Freezing neither finishes nor cures a cooling.",
            )
        alone = cools_alone(write.look(row.code, at)[0], at)
        subject = row.code if alone else row.batch
        drafts = [(_on_probe(write, fact), then, subject) for fact, then in facts]
        if put_in is not None:
            drafts.append((ev.CoolingIn(put_in.surroundings, put_in.method), at, subject))
        entries = write.append(*drafts)
        if said := paper(evidence):
            write.append(
                *((ev.Confirmed(each.number, said), write.recorded_at, subject) for each in entries)
            )
        moved = _moves(write, row, put_in, at, alone=alone)
        folded = {each.code: each for each in write.settle(subject, *moved)}
        # Said later, it has stood there through what its unit was read at in between.
        folded |= caught_up(write, moved, at)
        rows = tuple(each for each in folded.values() if each.batch == row.batch)
        _, found = write.look(row.code, write.recorded_at)
        numbers = tuple(entry.number for entry in entries)
        return Cooled(row.batch, rows, found, alone, numbers)


def cools_alone(container: Container, at: Instant) -> bool:
    """Whether it was reheated or held hot by itself: its siblings stayed cold then."""
    return any(
        isinstance(event.fact, ev.Reheated | ev.HotHeld) and event.at <= at
        for event in container.history.events
    )


def _on_probe(write: Writing, fact: ev.Fact) -> ev.Fact:
    if not isinstance(fact, ev.Cooling):
        return fact
    return replace(fact, probe=known(write.kitchen, write.conn, fact.probe))


def _moves(
    write: Writing, row: ContainerRow, put_in: PutIn | None, at: Instant, *, alone: bool
) -> list[str]:
    """Move what cools into its cold unit; the codes of what stood elsewhere."""
    unit = put_in.unit if put_in is not None else None
    if unit is None or not unit.cold:
        return []
    rows = [row] if alone else on_hand.of_batch(write.conn, write.kitchen.site, row.batch)
    moving = [
        each.code
        for each in rows
        if each.ended_at is None
        and each.unit != unit.name
        and each.state in ("made", "cooling", "chilled")
        and (alone or not cools_alone(write.look(each.code, at)[0], at))
    ]
    write.append(*((ev.Moved(unit.name), at, code) for code in moving))
    return moving
