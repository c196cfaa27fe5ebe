"""How warm it is where food is put to cool, as far as anybody has measured it lately."""

from holdlog.core.moments import HOUR, Instant
from holdlog.core.temperature import Temperature
from holdlog.journal import readings
from holdlog.journal.engine import Connection
from holdlog.kitchen.kitchen import Kitchen, Unit
from holdlog.kitchen.records import LiveRecords, Reader
from holdlog.kitchen.units import by_hand, degrees

# A reading of this morning says nothing of the afternoon. Common practice, no source.
RECENT = 4 * HOUR


def last_read(
    kitchen: Kitchen, conn: Connection, unit: Unit, at: Instant
) -> tuple[Instant, Temperature] | None:
    """The newest reading of ``unit`` within the four hours before ``at``, by a person or by its
    logger, and when it was taken; None: there is none that proves anything.
    """
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    found = [(each.at, each.temperature) for each in by_hand(reader, unit.name) if each.proves]
    logger = readings.last(conn, kitchen.site, unit.name, before=Instant(at + 1))
    if logger is not None:
        found.append((logger.at, degrees(logger.hundredths, logger.scale)))
    recent = [each for each in found if at - RECENT <= each[0] <= at]
    return max(recent, key=lambda each: each[0], default=None)
