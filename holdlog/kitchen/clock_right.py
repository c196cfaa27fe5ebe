"""The clock as a person checks it: what it says, and that the person in charge found it right."""

from dataclasses import dataclass
from datetime import date

from holdlog.core import events as ev
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import DAY, Instant, local_date, show_dated, show_full_day
from holdlog.journal import entries as journal_entries
from holdlog.kitchen import clocks
from holdlog.kitchen.kitchen import KITCHEN, Kitchen


@dataclass(frozen=True, slots=True)
class Checked:
    """The clock beside the last entry, which is number ``entry``. ``doubt``: why nothing is dated
    by it. ``remark``: what is said of it though it dates food (empty: nothing). ``recorded``: the
    entry that says that it was found right, None: none was needed.
    """

    now: Instant
    last: Instant
    entry: int
    doubt: Fault | None
    remark: str = ""
    recorded: int | None = None


def look(kitchen: Kitchen) -> Checked:
    """What the clock says, and what the journal does."""
    with kitchen.db.reading() as conn:
        number, _, last = journal_entries.head(conn, kitchen.site)
        found = clocks.Apart(kitchen.clock(), last)
        doubt = clocks.fault(conn, kitchen.site, kitchen.where, found)
        remark = "" if doubt is not None else clocks.remark(found, kitchen.where)
        return Checked(found.now, last, number, doubt, remark)


def found_right(kitchen: Kitchen, by: str, today: date | None = None) -> Checked:
    """The person in charge says that the clock is right, although nobody wrote for long: writing
    goes on. Where nothing is doubted, nothing is written. ``today``: the day it is, as they know
    it from elsewhere.

    Raises ``Mistake("clock-wrong")`` where the clock says another day, ``Fault("clock-back")``:
    what was written by a clock that was ahead does not become right by a word.
    """
    with kitchen.writing(by, ev.ClockFoundRight) as write:
        number, _, last = journal_entries.head(write.conn, kitchen.site)
        now = write.recorded_at
        if today is not None and today != local_date(now, kitchen.where):
            raise Mistake(
                "clock-wrong",
                f"You say {show_full_day(today)}, the clock says {show_dated(now, kitchen.where)}.",
                "Nothing was recorded. Set the clock right.",
            )
        if write.doubt is None:
            return Checked(now, last, number, None)
        fact = ev.ClockFoundRight((now - last) // DAY)
        (entry,) = write.append((fact, now, KITCHEN))
        return Checked(now, last, number, None, recorded=entry.number)
