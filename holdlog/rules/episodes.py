"""When a unit was, or may have been, beyond its limit: spans that put food on hold.

An episode is an event (see ``excursion``), or a gap in the readings with an end beyond the limit;
with less than ``PAUSE`` between them several are one, so that a unit that hums around its limit
is one story and not hundreds. The times within are counted all the same. A gap with two good
ends is unknown time that is shown and holds nothing, unless it is longer than the hours after
which the rules discard: nobody knows that it was not.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median_low

from holdlog.core.moments import HOUR, Instant
from holdlog.core.temperature import Scale
from holdlog.rules.excursion import Sample, Side, TimeBeyond, time_beyond, usual_gap

PAUSE = 6 * HOUR
CLOSE = {"F": 100, "C": 56}  # so near its limit a unit is to be turned down


@dataclass(frozen=True, slots=True)
class Episode:
    """From when to when (UTC ms) the unit was beyond its limit, or may have been."""

    begins: Instant
    ends: Instant


@dataclass(frozen=True, slots=True)
class Course:
    """Samples of a unit under one limit (hundredths of ``scale``): totals, gaps and episodes.

    ``gap`` is how long (ms) without a sample is a gap; ``gaps`` are all of them.
    """

    samples: Sequence[Sample]
    limit: int
    side: Side
    scale: Scale
    gap: int
    total: TimeBeyond
    gaps: tuple[Episode, ...]
    episodes: tuple[Episode, ...]

    @property
    def usual(self) -> int | None:
        """The reading in the middle, in hundredths; None without any."""
        return median_low(value for _, value in self.samples) if self.samples else None

    @property
    def too_close(self) -> bool:
        """Whether it usually stands within a degree Fahrenheit of its limit, or beyond it: noise
        alone carries it over.
        """
        if self.usual is None:
            return False
        inward = self.limit - self.usual if self.side == "above" else self.usual - self.limit
        return inward < CLOSE[self.scale]

    def beyond(self, value: int) -> bool:
        """Whether a reading in hundredths is beyond the limit."""
        return value > self.limit if self.side == "above" else value < self.limit

    def shows(self, at: Instant) -> bool:
        """Whether the readings around ``at`` are beyond the limit, and within an episode."""
        after = bisect_left(self.samples, at, key=_at)
        near = [
            (moment, value)
            for moment, value in self.samples[max(after - 1, 0) : after + 1]
            if abs(moment - at) <= self.gap
        ]
        return any(self.beyond(value) for _, value in near) and any(
            each.begins <= near[-1][0] and each.ends >= near[0][0] for each in self.episodes
        )

    def within(self, since: Instant, until: Instant) -> TimeBeyond:
        """The same, of food that stood there from ``since`` to ``until``."""
        first = max(bisect_right(self.samples, since, key=_at) - 1, 0)
        last = bisect_left(self.samples, until, key=_at) + 1
        return time_beyond(
            self.samples[first:last], self.limit, side=self.side, scale=self.scale,
            since=since, until=until, gap=self.gap,
        )  # fmt: skip


def course(
    samples: Sequence[Sample],
    limit: int,
    *,
    side: Side,
    scale: Scale,
    longest_gap: int | None = None,
) -> Course:
    """What ``samples`` (in order of time) say under ``limit``, both in hundredths of ``scale``.

    ``longest_gap``: a gap with two good ends that is longer (ms) is an episode, too.
    """
    gap = usual_gap(samples)
    total = time_beyond(samples, limit, side=side, scale=scale, gap=gap)
    gaps: list[Episode] = []
    found = [Episode(each.begins, each.ends) for each in total.events]
    for (at, value), (then, after) in pairwise(samples):
        if then - at <= gap:
            continue
        gaps.append(Episode(Instant(at), Instant(then)))
        beyond = max(value, after) > limit if side == "above" else min(value, after) < limit
        if beyond or (longest_gap is not None and then - at > longest_gap):
            found.append(gaps[-1])
    return Course(samples, limit, side, scale, gap, total, tuple(gaps), tuple(_joined(found)))


def known_time(
    readings: Sequence[tuple[Instant, bool]], since: Instant, until: Instant, gap: int
) -> tuple[int, int]:
    """Of the time from ``since`` to ``until`` (ms): how much was beyond the limit, how much is
    unknown. The rest was within.

    ``readings``, in order of time, say whether each was beyond. Between two of them no further
    apart than ``gap`` it was beyond if either was; nothing is reckoned in between.
    """
    beyond, unknown, reached = 0, 0, since
    before: tuple[Instant, bool] | None = None
    for at, over in readings:
        stop = min(at, until)
        length = max(0, stop - reached)
        if before is None or at - before[0] > gap:
            unknown += length
        elif over or before[1]:
            beyond += length
        reached = max(reached, stop)
        before = at, over
    return beyond, unknown + max(0, until - reached)


def _joined(found: list[Episode]) -> list[Episode]:
    joined: list[Episode] = []
    for each in sorted(found, key=lambda one: (one.begins, one.ends)):
        if joined and each.begins <= joined[-1].ends + PAUSE:
            joined[-1] = Episode(joined[-1].begins, max(joined[-1].ends, each.ends))
        else:
            joined.append(each)
    return joined


def _at(sample: Sample) -> Instant:
    return Instant(sample[0])
