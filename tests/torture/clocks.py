"""The clock is set back and forth while a station works, and the calendar does its worst.

Whatever the clock says: entries keep their order, a clock that went back or jumped by more than
30 days is reported and nothing is dated by it, and no food is ever younger, or kept longer, than
it was a moment ago. While the clock is back, food is binned as of the last entry.
The days are counted here anew, by the FDA Food Code 2022, 3-501.17(A) (7 days, the day of
preparation is day 1) and 3-501.19(B) (4 hours out of temperature control), with the zones of the
IANA list. The machine is never in the zone of the kitchen.
"""

import shutil
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from holdlog.core.moments import Instant
from tests.kitchen.shop import ZONE
from tests.torture.clocked import Answer, Clocked
from tests.torture.judge import judge
from tests.torture.ledger import Acknowledged
from tests.torture.missing import not_here
from tests.torture.outcome import Outcome

WHERE = ZoneInfo(ZONE)
DAYS = timedelta(days=1)
MINUTES = timedelta(minutes=1)
# From best to worst: a verdict never goes back towards the left.
VERDICTS = ("serve", "last-day", "reheat", "hold", "discard", "refuse")
# The clock is set to the second, and answers take a moment; in milliseconds.
SLACK = 5_000


class Watch:
    """One station and its clock, and everything it said, kept out of its reach."""

    def __init__(self, folder: Path, start: datetime, spoilt: str = "") -> None:
        self.station = Clocked(folder, _at(start), spoilt)
        self.now = start
        self.wrong: list[str] = []
        self.steps = 0
        self._kept: list[Answer] = []
        self._seen: Answer = {}
        self._check_clock()

    def it_is(self, moment: datetime) -> None:
        """Set the clock, and look at what is on hand."""
        self.now = moment
        self.station.set(_at(moment))
        self._check_clock()
        self.look()

    def prep(self) -> str:
        """Record a tub; its code."""
        code = self._keep(self.station.do("prep"))
        if code:
            day = self.now.astimezone(WHERE).date() + 6 * DAYS
            last = datetime.combine(day, time(23, 59, 59), WHERE)
            self._expect_limit(code, last)
        return code

    def out(self, code: str) -> None:
        """Take a tub out of temperature control."""
        if self._keep(self.station.do("out", code=code)):
            begun = datetime.fromtimestamp(self.station.now() / 1000, UTC)
            self._expect_limit(code, begun + timedelta(hours=4))

    def bin(self, code: str) -> None:
        """Bin a tub, whatever the clock says."""
        self._keep(self.station.do("bin", code=code))
        if code in self.station.do("list"):
            self._say(f"{code} is on the list after it was binned")

    def right(self) -> None:
        """The person in charge finds the clock right."""
        self._keep(self.station.do("right"))

    def look(self) -> None:
        """What is on hand must be shown, and must not have become younger."""
        self.steps += 1
        seen = self.station.do("list")
        if "error" in seen:
            self._say(f"the list is refused: {seen}")
            return
        for code, (verdict, day, use_by) in seen.items():
            before = self._seen.get(code, (verdict, day, use_by))
            if VERDICTS.index(verdict) < VERDICTS.index(before[0]):
                self._say(f"{code} was {before[0]} and is {verdict}")
            # Out of temperature control it is hours that count, not days.
            if day is not None and before[1] is not None and day < before[1]:
                self._say(f"{code} was in day {before[1]} and is in day {day}")
            if use_by > before[2]:
                self._say(f"{code} may be kept longer than before")
        self._seen = seen

    def refused(self, why: str = "clock-back") -> None:
        """Nothing can be dated now, and the reason is said."""
        self.steps += 1
        answer = self.station.do("prep")
        if "error" not in answer:
            self._say("food was dated by a clock that cannot be right")
            self._keep(answer)
        elif answer["error"] != why or "The clock says" not in answer.get("line", ""):
            self._say(f"a clock that cannot be right is not what is reported: {answer}")

    def end(self) -> list[str]:
        """What was wrong in all."""
        self.station.close()
        told = [Acknowledged(each["number"], each["hash"]) for each in self._kept]
        return [*self.wrong, *judge(self.station.path, told).said()]

    def _keep(self, answer: Answer) -> str:
        self.steps += 1
        if "error" in answer:
            self._say(f"refused: {answer}")
            return ""
        if self._kept:
            before = self._kept[-1]
            if answer["number"] <= before["number"]:
                self._say("a number was not counted up")
            if answer["recorded_at"] < before["recorded_at"]:
                self._say("an entry was recorded before the one it follows")
        self._kept.append(answer)
        return str(answer["code"])

    def _expect_limit(self, code: str, limit: datetime) -> None:
        found = self.station.do("list").get(code, ("", 0, 0))[2]
        # The limit is a second that is over, or a moment four hours after one.
        if abs(found - _at(limit)) > SLACK:
            shown = datetime.fromtimestamp(found / 1000, WHERE)
            self._say(f"the limit is {shown}, not {limit.astimezone(WHERE)}")

    def _check_clock(self) -> None:
        """Else nothing was tried."""
        before = self.station.now()
        found = self.station.do("now").get("now", 0)
        if not before - SLACK < found < self.station.now() + SLACK:
            self._say("the clock could not be set")

    def _say(self, what: str) -> None:
        self.wrong.append(f"{self.now:%d %B %H:%M %Z}: {what}")


def _back(watch: Watch) -> None:
    watch.prep()
    right = watch.now
    watch.it_is(right - 2 * DAYS)
    watch.refused()
    watch.it_is(right + 30 * MINUTES)
    watch.prep()


def _on_and_back(watch: Watch) -> None:
    watch.prep()
    right = watch.now
    watch.it_is(right + 2 * DAYS)
    code = watch.prep()
    watch.it_is(right + 10 * MINUTES)
    watch.refused()
    watch.bin(code)
    # Until the time has come that was written down, nothing is dated.
    watch.it_is(right + 2 * DAYS + 5 * MINUTES)
    watch.prep()
    for day in range(3, 10):
        watch.it_is(right + day * DAYS)


def _a_year_on(watch: Watch) -> None:
    """A kitchen that was closed for longer than a month, then a clock of another year."""
    watch.prep()
    right = watch.now
    watch.it_is(right + 31 * DAYS)
    watch.refused("clock-ahead")
    watch.right()
    watch.prep()
    watch.it_is(right + 60 * DAYS)
    watch.prep()
    watch.it_is(right + 425 * DAYS)
    watch.refused("clock-ahead")


def _a_little_back(watch: Watch) -> None:
    """As when a clock is set right: nobody is kept from working, and over midnight neither."""
    for minutes in (0, 3, -1, 2, -1, 2, -1):
        watch.it_is(watch.now + minutes * MINUTES)
        watch.prep()


def _spring(watch: Watch) -> None:
    """In New York 2 o'clock of 8 March 2026 does not occur."""
    watch.prep()
    code = watch.prep()
    watch.it_is(_wall("2026-03-08 00:30"))
    watch.out(code)
    begin = _wall("2026-03-08 01:58").astimezone(UTC)
    for minutes in (0, 3, 60, 90):
        watch.it_is(begin + minutes * MINUTES)
        watch.prep()
    for wall in ("2026-03-08 04:29", "2026-03-08 05:31", "2026-03-09 00:01"):
        watch.it_is(_wall(wall))


def _autumn(watch: Watch) -> None:
    """In New York 1 to 2 o'clock of 1 November 2026 occurs twice."""
    watch.prep()
    code = watch.prep()
    watch.it_is(_wall("2026-11-01 00:30"))
    watch.out(code)
    begin = _wall("2026-11-01 01:30").astimezone(UTC)
    for minutes in (0, 29, 31, 60, 90, 119, 121):
        watch.it_is(begin + minutes * MINUTES)
        watch.prep()


def _leap_day(watch: Watch) -> None:
    for wall in ("2028-02-25 15:00", "2028-02-28 23:59", "2028-02-29 00:01", "2028-02-29 23:59"):
        watch.it_is(_wall(wall))
        watch.prep()
    for wall in ("2028-03-01 00:01", "2028-03-02 23:58", "2028-03-03 00:01"):
        watch.it_is(_wall(wall))
        watch.prep()


def _zones(watch: Watch) -> None:
    """The machine is carried around the world; the kitchen stays."""
    shown = set()
    for turn, name in enumerate(
        ("Pacific/Kiritimati", "America/Los_Angeles", "UTC", "Asia/Kolkata")
    ):
        shown.add(watch.station.do("tz", zone=name).get("shows"))
        for wall in ("23:55", "00:05"):
            day = 10 + turn + (wall < "12")
            watch.it_is(_wall(f"2026-06-{day} {wall}"))
            watch.prep()
    if len(shown) != 4:
        watch.wrong.append("the zone of the machine could not be changed")


SITUATIONS: dict[str, tuple[str, Callable[[Watch], None]]] = {
    "two days back": ("2026-06-10 15:00", _back),
    "two days on, then back": ("2026-06-10 15:00", _on_and_back),
    "a year on": ("2026-06-10 15:00", _a_year_on),
    "a minute back, again and again": ("2026-06-10 23:56:30", _a_little_back),
    "the night the clocks go on": ("2026-03-07 23:30", _spring),
    "the night they go back": ("2026-10-31 23:30", _autumn),
    "leap day": ("2028-02-25 14:00", _leap_day),
    "the machine's zone changes": ("2026-06-10 12:00", _zones),
}
CONTROLS = ("two days back", "two days on, then back", "a year on")


def run(short: bool, scratch: Path) -> Iterator[Outcome]:  # noqa: ARG001  (there is one form)
    """Every situation, then those that a build must stumble over that trusts its clock."""
    if shutil.which("faketime") is None:
        yield not_here("clocks", "the program faketime is not on the PATH")
        return
    for name in SITUATIONS:
        yield _situation(scratch, name)
    for name in CONTROLS:
        yield _situation(scratch, name, "trusting")


def _situation(scratch: Path, name: str, spoilt: str = "") -> Outcome:
    start, happens = SITUATIONS[name]
    watch = Watch(Path(tempfile.mkdtemp(dir=scratch)), _wall(start), spoilt)
    happens(watch)
    wrong = watch.end()
    shown = f"clocks, {name}{', trusting' if spoilt else ''}"
    return Outcome(shown, {"steps": watch.steps}, wrong, control=bool(spoilt))


def _wall(text: str) -> datetime:
    """A moment in the kitchen's zone; of an hour that occurs twice, the first."""
    return datetime.fromisoformat(text).replace(tzinfo=WHERE)


def _at(moment: datetime) -> Instant:
    return Instant(round(moment.timestamp() * 1000))
