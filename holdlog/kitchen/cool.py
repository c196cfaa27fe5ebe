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
    """A container's batch after a reading: its rows, and where the container stands."""

    batch: str
    rows: tuple[ContainerRow, ...]
    holding: Holding


def log_cooling(
    kitchen: Kitchen,
    by: str,
    typed: str,
    at: Instant,
    temperature: Temperature | None,
    evidence: str = "",
) -> Cooled:
    """Log a cooling reading of the batch that a container belongs to.

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
        fact: ev.Fact = ev.OffHeat() if temperature is None else ev.Cooling(temperature)
        (entry,) = write.append((fact, at, row.batch))
        if evidence.strip():
            confirmed = ev.Confirmed(entry.number, evidence.strip())
            write.append((confirmed, write.recorded_at, row.batch))
        rows = tuple(each for each in write.settle(row.batch) if each.batch == row.batch)
        _, found = write.look(row.code, write.recorded_at)
        return Cooled(row.batch, rows, found)


def deadlines(kitchen: Kitchen, found: Holding) -> list[str]:
    """The cooling deadlines in words, for the cook: ``by Mon 1 June 16:00``."""
    if found.cooling is None:
        return []
    moments = (found.cooling.deadline_first, found.cooling.deadline_whole)
    return [f"by {show_moment(at, kitchen.where)}" for at in moments if at is not None]
