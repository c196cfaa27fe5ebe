"""A night on which the clocks are changed is as long on the plot as it was."""

import itertools
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from holdlog.core.moments import Instant
from holdlog.core.temperature import read_temperature
from holdlog.kitchen.unit_plot import plot_of
from holdlog.kitchen.units import UnitReading
from tests.kitchen.shop import Shop


def test_the_hour_that_occurs_twice_is_not_drawn_over_itself(shop: Shop) -> None:
    assert shop.kitchen.where == ZoneInfo("America/New_York")
    # 2026-11-01: 02:00 EDT became 01:00 EST, at 06:00 UTC.
    first = datetime(2026, 11, 1, 4, 30, tzinfo=UTC)
    moments = [first + timedelta(minutes=30 * n) for n in range(7)]
    readings = [
        UnitReading(
            Instant(round(at.timestamp() * 1000)), read_temperature("39 F"), 1, by_logger=True
        )
        for at in moments
    ]
    times = plot_of("walk-in", None, "F", readings, shop.kitchen).readings.times
    assert times[0] == datetime(2026, 11, 1, 0, 30)
    assert [later - earlier for earlier, later in itertools.pairwise(times)] == [
        timedelta(minutes=30)
    ] * 6
