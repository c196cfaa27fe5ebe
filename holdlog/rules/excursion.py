"""How long a unit was beyond a limit, from the samples of its logger.

Between two samples the temperature is taken to run straight. What was not measured is unknown
time, never good time: it is counted apart, and beside the total stands the most that it can have
been. Nothing is smoothed, reordered or left out; a run that is noise is in the totals and only
not called an event.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Literal

from holdlog.core.errors import Mistake
from holdlog.core.moments import MINUTE, Instant
from holdlog.core.temperature import Scale

Side = Literal["above", "below"]
# Instants in milliseconds, values in hundredths of a degree of the scale that was read.
Sample = tuple[int, int]

SHORTEST_GAP = 30 * MINUTE
SPACINGS = 3  # so many usual spacings without a sample are a gap
EVENT = 10 * MINUTE
CLOSES = {"F": 50, "C": 28}  # half a degree Fahrenheit back within the limit ends an event


@dataclass(frozen=True, slots=True)
class Spell:
    """One event: from when to when it was beyond the limit, and the worst sample in it."""

    begins: Instant
    ends: Instant
    worst: int


@dataclass(frozen=True, slots=True)
class TimeBeyond:
    """What the samples say. Times in milliseconds, rounded up; degrees in hundredths.

    ``total`` and ``longest`` are known time beyond the limit, in ``runs``; ``unknown`` was not
    measured. ``at_most`` adds the unknown time that may have been beyond: that with either end
    beyond, or all of it where the unit was off. ``degree_minutes`` are degrees beyond times
    minutes. ``worst`` is None without samples. ``events`` are what a person calls one.
    """

    total: int
    longest: int
    runs: int
    worst: int | None
    degree_minutes: float
    unknown: int
    at_most: int
    longest_at_most: int
    events: tuple[Spell, ...]


def time_beyond(
    samples: Iterable[Sample],
    limit: int,
    *,
    side: Side = "above",
    scale: Scale = "F",
    since: Instant | None = None,
    until: Instant | None = None,
    off: bool = False,
    gap: int | None = None,
) -> TimeBeyond:
    """The time that ``samples`` were strictly above (or below) ``limit``.

    Samples come in order of time; ``limit`` and values in hundredths of a degree of ``scale``, as
    read. ``since``: when the food went in; ``until``: up to when it is asked for (absent: the
    first and last sample). ``off``: the unit is known to have been off, so all unknown time may
    be beyond. ``gap``: how long (ms) without a sample is one, where the samples are only some of
    all. Raises ``Mistake("samples-out-of-order")`` and ``Mistake("bad-span")``.
    """
    if side == "below":  # the same, seen in a mirror
        mirrored = ((at, -value) for at, value in samples)
        known, usual = _clipped(mirrored, since, until)
        found = _Count(-limit, CLOSES[scale], gap or usual, off=off).over(known, since, until)
        return _mirrored(found)
    known, usual = _clipped(samples, since, until)
    return _Count(limit, CLOSES[scale], gap or usual, off=off).over(known, since, until)


def usual_gap(samples: Iterable[Sample]) -> int:
    """How long (ms) without a sample is a gap, among ``samples`` in order of time."""
    spacings = [later[0] - earlier[0] for earlier, later in pairwise(samples)]
    return max(round(SPACINGS * median(spacings)) if spacings else 0, SHORTEST_GAP)


def _mirrored(found: TimeBeyond) -> TimeBeyond:
    return TimeBeyond(
        found.total,
        found.longest,
        found.runs,
        -found.worst if found.worst is not None else None,
        found.degree_minutes,
        found.unknown,
        found.at_most,
        found.longest_at_most,
        tuple(Spell(each.begins, each.ends, -each.worst) for each in found.events),
    )


def _clipped(
    samples: Iterable[Sample], since: Instant | None, until: Instant | None
) -> tuple[list[Sample], int]:
    """The samples from the last at or before ``since`` to the first at or after ``until``, and
    how long without a sample is a gap. The usual spacing is that of all of them.
    """
    known = list(samples)
    spacings = [later[0] - earlier[0] for earlier, later in pairwise(known)]
    if since is not None and until is not None and until < since:
        raise Mistake(
            "bad-span", "It ends before it begins.", "Ask for a span of time that runs on."
        )
    if spacings and min(spacings) < 0:
        number = next(place for place, spacing in enumerate(spacings, 2) if spacing < 0)
        raise Mistake(
            "samples-out-of-order",
            f"Sample {number} is earlier than the one before it.",
            "Set the logger's clock, and hand in the readings as it wrote them.",
        )
    usual = median(spacings) if spacings else 0
    gap = max(round(SPACINGS * usual), SHORTEST_GAP)
    if since is not None and known and known[0][0] < since:
        first = max(number for number, (at, _) in enumerate(known) if at <= since)
        known = known[first:]
    if until is not None and known and known[-1][0] > until:
        last = min(number for number, (at, _) in enumerate(known) if at >= until)
        known = known[: last + 1]
    return known, gap


class _Count:
    """Counts along the samples: what is above the limit, what is unknown, what is an event."""

    def __init__(self, limit: int, closes: int, gap: int, *, off: bool) -> None:
        self.limit, self.closes, self.gap, self.off = limit, limit - closes, gap, off
        self.total = self.unknown = self.perhaps = self.runs = 0
        self.longest = self.longest_perhaps = 0
        self.area = 0.0  # hundredths of a degree times milliseconds
        self.worst: int | None = None
        self.run = self.run_perhaps = 0  # of the run that is on
        self.open: list[int] | None = None  # event: begins, last above, worst, samples above
        self.events: list[Spell] = []

    def over(
        self, samples: list[Sample], since: Instant | None, until: Instant | None
    ) -> TimeBeyond:
        """Count ``samples``, and what lies before the first and after the last of them."""
        if samples:
            self._edges_in(samples, since, until)
        elif since is not None and until is not None:
            self._unknown(until - since, may_be_beyond=self.off)
        self._end_run()
        self._end_perhaps()
        return TimeBeyond(
            self.total,
            self.longest,
            self.runs,
            self.worst,
            self.area / 100 / MINUTE,
            self.unknown,
            self.total + self.perhaps,
            self.longest_perhaps,
            tuple(self.events),
        )

    def _edges_in(
        self, samples: list[Sample], since: Instant | None, until: Instant | None
    ) -> None:
        first_at, first = samples[0]
        last_at, last = samples[-1]
        begins = first_at if since is None else max(since, first_at)
        ends = last_at if until is None else min(until, last_at)
        if since is not None and first_at > since:
            length = (first_at if until is None else min(first_at, until)) - since
            self._without_sample(length, first_at - since, first)
        if begins <= ends:
            self._see(samples, begins, ends)
        if until is not None and until > last_at:
            self._without_sample(until - max(last_at, begins), until - last_at, last)

    def _without_sample(self, length: int, spacing: int, value: int) -> None:
        """Before the first sample or after the last, ``spacing`` away from it. Short, it is no
        gap, but no sample bounds it either: only the most that it can have been grows.
        """
        beyond = value > self.limit
        if spacing > self.gap:
            self._unknown(length, may_be_beyond=beyond or self.off)
        elif beyond:
            self.perhaps += length
            self.run_perhaps += length

    def _unknown(self, length: int, *, may_be_beyond: bool) -> None:
        self._end_run()
        self.unknown += length
        if may_be_beyond:
            self.perhaps += length
            self.run_perhaps += length
        else:
            self._end_perhaps()

    def _see(self, samples: list[Sample], begins: int, ends: int) -> None:
        limit, gap = self.limit, self.gap
        before_at, before = samples[0]
        if begins <= before_at <= ends:
            self._sampled(before)
            self._note(before_at, before_at, before)
        for at, value in samples[1:]:
            if at - before_at > gap:
                self._end_event()
                length = min(at, ends) - max(before_at, begins)
                self._unknown(length, may_be_beyond=before > limit or value > limit or self.off)
                if at <= ends:
                    self._sampled(value)
                    self._note(at, at, value)
            elif before > limit or value > limit or self.open is not None:
                self._pair(before_at, before, at, value, begins, ends)
            elif self.worst is None or value > self.worst:
                self._sampled(value)
            before_at, before = at, value
        self._end_event()

    def _pair(self, at: int, value: int, then: int, later: int, begins: int, ends: int) -> None:
        """Two samples without a gap, at least one of them above, or an event still open."""
        if at < begins or then > ends:
            at, value, then, later = _cut(at, value, then, later, begins, ends)
        limit, length = self.limit, then - at
        if self.worst is None or later > self.worst:
            self._sampled(later)
        if value <= limit:
            self._end_run()
            self._end_perhaps()
        if value > limit and later > limit:
            beyond = length
            self.area += length * (value + later - 2 * limit) / 2
        elif value > limit or later > limit:
            high, low = max(value, later), min(value, later)
            beyond = -(-length * (high - limit) // (high - low))
            self.area += beyond * (high - limit) / 2
        else:
            beyond = 0
        if beyond and not self.run:
            self.runs += 1
        self.total += beyond
        self.run += beyond
        self.run_perhaps += beyond
        if later <= limit:
            self._end_run()
            self._end_perhaps()
        self._note(then if value > limit else then - beyond, then, later, at, value)

    def _sampled(self, value: int) -> None:
        if self.worst is None or value > self.worst:
            self.worst = value

    def _end_run(self) -> None:
        self.longest, self.run = max(self.longest, self.run), 0

    def _end_perhaps(self) -> None:
        self.longest_perhaps = max(self.longest_perhaps, self.run_perhaps)
        self.run_perhaps = 0

    # ---- events ------------------------------------------------------------------------------

    def _note(
        self, began: int, at: int, value: int, before_at: int | None = None, before: int = 0
    ) -> None:
        """Follow the event that is on. ``began``: when it went above, if it was not before."""
        if self.open is None:
            if value > self.limit:
                self.open = [began, at, value, 1]
            return
        begins, _, worst, above = self.open
        if value > self.limit:
            self.open = [begins, at, max(worst, value), above + 1]
            return
        crossed = at
        if before_at is not None and before > self.limit:
            crossed = at - (at - before_at) * (self.limit - value) // (before - value)
            self.open[1] = crossed
        if value <= self.closes or not self._counts():
            self._end_event()

    def _counts(self) -> bool:
        """Whether it is an event: two samples above in a row, or ten minutes."""
        return self.open is not None and (self.open[3] > 1 or self.open[1] - self.open[0] >= EVENT)

    def _end_event(self) -> None:
        if self.open is not None and self._counts():
            begins, ends, worst, _ = self.open
            self.events.append(Spell(Instant(begins), Instant(ends), worst))
        self.open = None


def _cut(
    at: int, value: int, then: int, later: int, begins: int, ends: int
) -> tuple[int, int, int, int]:
    """The part of a pair between ``begins`` and ``ends``; values rounded to the worse side."""

    def along(moment: int) -> int:
        return value - (value - later) * (moment - at) // (then - at)

    first = (begins, along(begins)) if at < begins else (at, value)
    last = (ends, along(ends)) if then > ends else (then, later)
    return *first, *last
