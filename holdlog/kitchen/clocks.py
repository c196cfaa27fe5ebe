"""What the clock says against when the journal was last written, and what may be trusted then.

A clock that is behind makes food younger; one that is far ahead gives it dates that are too late.
By neither is anything dated. One that is ahead by days cannot be told from a kitchen that was
closed: after four days without an entry the day is said, so that somebody compares it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.errors import Fault
from holdlog.core.moments import DAY, MINUTE, Instant, local_date, show_dated, show_full_day
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Connection

# A clock may be set right by a little; more than this is reported before anything is dated.
SLACK = 2 * MINUTE
# Ours, both. A kitchen at work writes every day: what is longer than a long weekend's closing is
# remarked on, and after the longest somebody is asked once whether it was closed.
USUAL_SILENCE = 4 * DAY
LONGEST_SILENCE = 30 * DAY
_END_OF_TIME = 250_000_000_000_000  # the year 9892
BEHIND, FAR_AHEAD = "clock-back", "clock-ahead"
# What is written all the same: behind, what ends food or holds it, as of the last entry; far
# ahead, that somebody looked at the clock. Nothing that gives food a date or a later one.
WRITTEN_DESPITE: Mapping[str, tuple[type[ev.Fact], ...]] = {
    BEHIND: (ev.Used, ev.Discarded, ev.Recalled),
    FAR_AHEAD: (ev.ClockFoundRight,),
}


@dataclass(frozen=True, slots=True)
class Apart:
    """What the clock says, and when the last entry was written."""

    now: Instant
    last: Instant

    @property
    def behind(self) -> bool:
        """Whether the clock says that it is earlier than the last entry."""
        return self.now < self.last - SLACK

    @property
    def far_ahead(self) -> bool:
        """Whether nobody would have written for longer than is believed without being told."""
        return self.now > self.last + LONGEST_SILENCE

    @property
    def silent(self) -> bool:
        """Whether nobody wrote for longer than a kitchen is closed as a rule."""
        return self.now > self.last + USUAL_SILENCE

    @property
    def judged(self) -> Instant:
        """As of when food is judged: it never becomes younger than it was."""
        return Instant(max(self.now, self.last))


def last_written(conn: Connection, site: str) -> Instant:
    """When the last entry was written; 0 where a damaged one bears no moment of a calendar (the
    doctor tells of it).
    """
    at = journal_entries.head(conn, site)[2]
    return at if type(at) is int and 0 <= at < _END_OF_TIME else Instant(0)


def apart(conn: Connection, site: str, now: Instant) -> Apart:
    """The clock, which says ``now``, and the journal of ``site``."""
    return Apart(now, last_written(conn, site))


def fault(conn: Connection, site: str, where: ZoneInfo, found: Apart) -> Fault | None:
    """Why nothing may be dated by this clock; None: it may."""
    if found.far_ahead:
        return Fault(
            FAR_AHEAD,
            f"{_both(found, where)}: nothing is dated by a clock that jumped so far.",
            "Set it right. Is it right, and the kitchen was closed? Then the person in charge says "
            "so, once: holdlog clock --right",
        )
    if not found.behind:
        return None
    # Either the clock is wrong now, or it was ahead when the last entries were written: then
    # labels in the kitchen may bear dates that are too late.
    ahead = journal_entries.first_written(conn, site, Instant(found.now + SLACK + 1))
    return Fault(
        BEHIND,
        f"{_both(found, where)}: nothing is dated by a clock that went backwards.",
        f"Wrong now? Set it right. Wrong then, from entry {ahead} on? Hold what was labelled "
        "since, and go back to a backup from before: holdlog restore (docs/faults.md).",
    )


def refuse(doubt: Fault | None, facts: Sequence[type[ev.Fact]]) -> None:
    """Raise ``doubt``, unless all of ``facts`` are such as are written despite it."""
    if doubt is not None:
        despite = WRITTEN_DESPITE[doubt.code]
        if not facts or any(fact not in despite for fact in facts):
            raise doubt


def remark(found: Apart, where: ZoneInfo) -> str:
    """What to say beside a result: that nothing is dated by this clock, or what day it takes today
    for after nobody wrote for days; empty: nothing.
    """
    if found.behind:
        return f"{_both(found, where)}: everything is judged as of then."
    if found.far_ahead:
        return f"{_both(found, where)}. Is the clock right? See: holdlog clock"
    return _today(found, where) if found.silent else ""


def _today(found: Apart, where: ZoneInfo) -> str:
    return (
        f"By the clock today is {show_full_day(local_date(found.now, where))}; nobody wrote for "
        f"{(found.now - found.last) // DAY} days. If that is not today, set the clock before you "
        "label."
    )


def _both(found: Apart, where: ZoneInfo) -> str:
    now, last = show_dated(found.now, where), show_dated(found.last, where)
    return f"The clock says {now}, but the journal was last written {last}"
