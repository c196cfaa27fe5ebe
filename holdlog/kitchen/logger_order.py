"""Which instant a row has, from the rows before it.

A logger writes its rows in order, so the order tells the two passes of a repeated hour apart:
the first pass is the earlier instant, and a step of about an hour back begins the second. Every
other step back is a defect (a clock that was set, a file put together wrongly). It is told with
its line and never sorted away.
"""

from bisect import bisect_left
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from holdlog.core.moments import HOUR, MINUTE, Instant, local_date, show_dated, show_dated_day

# After the step back the second pass goes on within this, or within three usual steps.
_NEAR = 30 * MINUTE
# A logger of one reading an hour shows the same time twice without stepping back.
_HOURLY = (55 * MINUTE, 65 * MINUTE)

Sample = tuple[int, int]


class Order:
    """The instants of the rows so far. ``notes`` collects what a person should be told."""

    def __init__(self, where: ZoneInfo) -> None:
        self.where = where
        self.last = Instant(-1)
        self.line = 0
        self.notes: list[str] = []
        self._step = 0
        self._pass = 0  # of a repeated hour: 1, 2, or 0 outside
        self._unclear_until = -1

    def follow(self, line: int, at: Instant) -> Instant:
        """The instant of a row that can have one only, as nearly all have: see ``place``."""
        if at <= self.last or self._pass or not self.line:
            self._left_the_hour(at)
            return self._moved(line, at, 0)
        self._step, self.last, self.line = at - self.last, at, line
        return at

    def place(self, line: int, may_be: tuple[Instant, ...]) -> Instant | str:
        """The instant of this row: after the last one, or not after it if it is out of order.

        A reason (no stop) if it is one of two and the rows do not tell which.
        """
        if len(may_be) == 1:
            return self.follow(line, may_be[0])
        first, second = may_be
        if first <= self._unclear_until:
            return "which pass of the repeated hour this is cannot be told"
        return self._one_of(line, first, second)

    def _one_of(self, line: int, first: Instant, second: Instant) -> Instant | str:
        if first > self.last:
            # A logger that writes more rarely than once an hour may meet the second pass only.
            if self._step > HOUR and second - self.last == self._step:
                return self._moved(line, second, 2)
            return self._moved(line, first, 1)
        if first == self.last:
            hourly = _HOURLY[0] <= self._step <= _HOURLY[1]
            return self._moved(line, second, 2) if hourly else first
        going_on = self._pass == 2 and second - self.last < HOUR  # noqa: PLR2004
        if second >= self.last and (going_on or second - self.last <= self._near()):
            return self._moved(line, second, 2)
        if self._pass == 1 and self.last < second:
            # Neither an hour back nor forward. What follows in this hour cannot be told apart.
            self._unclear_until = first + 2 * HOUR
            return f"a step back in the repeated hour, but not by an hour (line {self.line})"
        return first

    def _moved(self, line: int, at: Instant, which: int) -> Instant:
        if at > self.last:
            self._step = at - self.last if self.line else 0
            self.last, self.line = at, line
            self._pass = which
        return at

    def _near(self) -> int:
        return max(3 * min(self._step, HOUR), _NEAR)

    def _left_the_hour(self, at: Instant) -> None:
        missed = at - self.last - self._step
        if self._pass == 1 and HOUR <= 2 * missed <= 3 * HOUR:
            day = show_dated_day(local_date(at, self.where))
            self.notes.append(
                f"On {day} clocks were put back, but the rows show that hour once: see whether"
                " the logger's clock follows summer time."
            )


def out_of_order(at: Instant, value: int, samples: Sequence[Sample], order: Order) -> str | None:
    """What to say of a row that is not later than one before it; None if it is only repeated."""
    found = bisect_left(samples, (at, -(2**31)))
    if found < len(samples) and samples[found][0] == at:
        return None if samples[found][1] == value else "another reading at the same moment"
    return f"earlier than line {order.line} ({show_dated(order.last, order.where)})"
