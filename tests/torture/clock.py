"""The clock of this machine, as the doors have it."""

import time

from holdlog.core.moments import Instant


def real_clock() -> Instant:
    """Now."""
    return Instant(time.time_ns() // 1_000_000)
