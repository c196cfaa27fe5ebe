"""The colder route of cook-chill bags: 34 °F soon after 41 °F, and then for weeks.

Only readings open it, and only readings keep it open: from the last one that shows the food so
cold, with none missing for more than a day, it has the days of the warmer route.
"""

from holdlog.core.moments import DAY, HOUR, Instant
from holdlog.core.temperature import Limit, Temperature
from holdlog.rules.course import Pack, Walk
from holdlog.rules.kinds import HoldingLimitRule, ReducedOxygenRule
from holdlog.rules.stack import Stack

# The rule asks for a look twice daily. Without a reading for longer than a day nothing is known.
_LONGEST_GAP = DAY


def last_shown_colder(
    walk: Walk, pack: Pack, rule: ReducedOxygenRule, stack: Stack
) -> Instant | None:
    """The last reading of the unbroken run that shows the bag at the colder limit; None where the
    route was never opened.
    """
    cold = next(
        (
            each.limit
            for each in stack.of_kind(HoldingLimitRule)
            if each.place == "cold" and not each.categories
        ),
        None,
    )
    if rule.colder is None or rule.within_hours is None or cold is None:
        return None
    readings = _readings(walk, pack)
    begun = next((at for at, read in readings if rule.colder.reached_from_above(read)), None)
    if begun is None or begun - _reached(readings, cold, pack) > rule.within_hours * HOUR:
        return None
    last = begun
    for at, read in readings:
        if at < begun:
            continue
        if at - last > _LONGEST_GAP or not rule.colder.reached_from_above(read):
            break
        last = at
    return last


def _readings(walk: Walk, pack: Pack) -> list[tuple[Instant, Temperature]]:
    cooling = [
        (reading.at, reading.temperature)
        for cycle in walk.cycles
        for reading in cycle.readings
        if reading.temperature is not None and not reading.late
    ]
    both = {*cooling, *walk.held_readings}
    ends = pack.opened
    return sorted(
        ((at, read) for at, read in both if at >= pack.at and (ends is None or at <= ends)),
        key=lambda pair: (pair[0], str(pair[1])),
    )


def _reached(readings: list[tuple[Instant, Temperature]], cold: Limit, pack: Pack) -> Instant:
    """The earliest moment at which the bag can have reached the cold limit: just after the last
    reading above it, before the first at it.
    """
    earliest = pack.at
    for at, read in readings:
        if cold.reached_from_above(read):
            break
        earliest = at
    return earliest
