"""One reading of a cooling, logged as the program logs several at once."""

from holdlog.core import events as ev
from holdlog.core.moments import Instant
from holdlog.core.temperature import Temperature
from holdlog.kitchen.cool import Cooled, log
from holdlog.kitchen.kitchen import Kitchen


def log_cooling(
    kitchen: Kitchen,
    by: str,
    code: str,
    at: Instant,
    temperature: Temperature | None,
    evidence: str = "",
    probe: str = "",
) -> Cooled:
    """``temperature`` None: it came off the heat then, hot."""
    fact: ev.Fact = ev.OffHeat() if temperature is None else ev.Cooling(temperature, probe)
    return log(kitchen, by, code, at, [(fact, at)], evidence)
