"""The cooling log of a batch, as far as the day needs it: readings in, verdict out."""

from dataclasses import dataclass

from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant, show_moment
from holdlog.core.temperature import Temperature
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.kitchen import Kitchen
from holdlog.rules.holding import Holding


@dataclass(frozen=True, slots=True)
class Cooled:
    """What a reading was logged for, after it: the rows, and where the container stands.

    That is the whole batch, or the one container (``alone``) that was hot by itself since.
    """

    batch: str
    rows: tuple[ContainerRow, ...]
    holding: Holding
    alone: bool = False


def log_cooling(
    kitchen: Kitchen,
    by: str,
    typed: str,
    at: Instant,
    temperature: Temperature | None,
    evidence: str = "",
) -> Cooled:
    """Log a cooling reading of the batch that a container belongs to. A container that was
    reheated or held hot by itself cools by itself: its siblings stayed cold.

    ``temperature`` None: it came off the heat then, hot. ``evidence`` names the paper or logger
    that an entry of a later day rests on; without it such an entry proves nothing.
    """
    with kitchen.writing(by) as write:
        row = write.find(typed)
        if row.state == "frozen":
            raise Mistake(
                "is-frozen",
                f"{row.item_name}, {show(row.code)}, is frozen.",
                "Freezing neither finishes nor cures a cooling.",
            )
        container, _ = write.look(row.code, at)
        alone = any(
            isinstance(event.fact, ev.Reheated | ev.HotHeld) and event.at <= at
            for event in container.history.events
        )
        subject = row.code if alone else row.batch
        fact: ev.Fact = ev.OffHeat() if temperature is None else ev.Cooling(temperature)
        (entry,) = write.append((fact, at, subject))
        if evidence.strip():
            confirmed = ev.Confirmed(entry.number, evidence.strip())
            write.append((confirmed, write.recorded_at, subject))
        rows = tuple(each for each in write.settle(subject) if each.batch == row.batch)
        _, found = write.look(row.code, write.recorded_at)
        return Cooled(row.batch, rows, found, alone)


def deadlines(kitchen: Kitchen, found: Holding) -> list[str]:
    """The cooling deadlines in words, for the cook: ``by Mon 1 June 16:00``."""
    if found.cooling is None:
        return []
    moments = (found.cooling.deadline_first, found.cooling.deadline_whole)
    return [f"by {show_moment(at, kitchen.where)}" for at in moments if at is not None]
