"""Looking ahead: what goes on which day, the last chance to freeze, what to pull and when.

What has not happened yet is not guessed: a freezing or a thawing of a day to come is put into a
copy of the history and judged by the same rules as everything else.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant, end_of_day, local_date, start_of_day
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.engine import Connection
from holdlog.kitchen.due import Line, line, walk_order
from holdlog.kitchen.items import find_item, items
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.records import LiveRecords, Reader
from holdlog.kitchen.setup import WEEKDAYS
from holdlog.rules.history import Event, History
from holdlog.rules.holding import Holding, holding
from holdlog.rules.stack import Stack

ONE = timedelta(days=1)
WEEK, LONGEST = 7, 60
# Where an item says nothing: a night in the refrigerator. Common practice, no source.
THAW_DAYS = 1
GONE = ("discard", "refuse")
# What stands there and could go into a freezer.
_CHILLED = ("made", "chilled")


@dataclass(frozen=True, slots=True)
class Going:
    """A container whose last day is ``day``. ``until`` is the instant, where it is not the whole
    day that counts; ``act_by`` is the last day before it on which the kitchen is open, where it
    is closed on ``day``.
    """

    line: Line
    day: date
    until: Instant | None
    act_by: date | None = None


@dataclass(frozen=True, slots=True)
class Freezing:
    """The last day on which freezing a container leaves any: ``days_left`` once it is thawed."""

    line: Line
    day: date
    days_left: int


@dataclass(frozen=True, slots=True)
class Pulling:
    """A container to take from the freezer on ``day``. It is thawed on ``ready`` and would carry
    the date ``carries`` (None: nothing limits it).
    """

    line: Line
    day: date
    lead: int
    ready: date
    carries: date | None

    @property
    def too_slow(self) -> bool:
        """Whether its days end before it is thawed in a refrigerator."""
        return self.carries is not None and self.carries < self.ready


@dataclass(frozen=True, slots=True)
class DayAhead:
    """One day: what has its last day, its last chance to be frozen, and what to pull."""

    day: date
    closed: bool
    goes: tuple[Going, ...]
    freeze: tuple[Freezing, ...]
    pull: tuple[Pulling, ...]

    @property
    def empty(self) -> bool:
        """Whether there is nothing to tell of it."""
        return not (self.goes or self.freeze or self.pull)


@dataclass(frozen=True, slots=True)
class Ahead:
    """The days from ``today`` on. ``gone``: to discard already; ``held``: on hold or to reheat,
    and listed on its day as well; ``no_limit``: nothing known limits it. ``head``: the number of
    the journal's last entry. ``only``: the unit and the item that were asked for, if any.
    """

    at: Instant
    today: date
    days: tuple[DayAhead, ...]
    gone: tuple[Line, ...]
    held: tuple[Line, ...]
    no_limit: tuple[Line, ...]
    on_hand: int
    head: int
    journal: str
    only: tuple[str, ...] = ()

    @property
    def goes(self) -> list[Going]:
        """What goes, over all days."""
        return [each for day in self.days for each in day.goes]


@dataclass(slots=True)
class _Look:
    """One look: the rules, the moment, and each history read once."""

    kitchen: Kitchen
    conn: Connection
    at: Instant
    stack: Stack
    days: tuple[date, ...]
    _histories: dict[str, History] = field(default_factory=dict)

    def history(self, code: str) -> History:
        if code not in self._histories:
            reader = Reader(LiveRecords(self.conn, self.kitchen.site), self.kitchen.where)
            self._histories[code] = reader.container(code).history
        return self._histories[code]

    def at_time(self, code: str, at: Instant) -> Holding:
        return holding(self.history(code), self.stack, at, self.kitchen.where)

    def after(self, code: str, fact: ev.Fact, at: Instant) -> Holding:
        """Where it would stand if ``fact`` happened at ``at``, or next, if that is now."""
        at = Instant(max(at, self.at + 1))  # of two facts of one moment the order is not told
        known = self.history(code)
        would = replace(known, events=(*known.events, Event(at, fact, at)))
        return holding(would, self.stack, at, self.kitchen.where)

    def closed(self, day: date) -> bool:
        return WEEKDAYS[day.weekday()] in self.kitchen.closed

    def open_by(self, day: date) -> date:
        """The last day up to ``day`` on which somebody is there; today somebody is."""
        while day > self.days[0] and self.closed(day):
            day -= ONE
        return day


def ahead(kitchen: Kitchen, days: int = WEEK, unit: str = "", item: str = "") -> Ahead:
    """The next ``days`` days (1 to 60, today is the first), of one unit or item or of all.

    Raises ``Mistake`` for a number of days, a unit or an item that is not.
    """
    if not 1 <= days <= LONGEST:
        raise Mistake("bad-days", f"{days} days?", f"Say 1 to {LONGEST}.")
    wanted = kitchen.unit(unit).name if unit else ""
    with kitchen.db.reading() as conn:
        kitchen, at = kitchen.current(conn), kitchen.moment(conn)
        today = local_date(at, kitchen.where)
        span = tuple(today + n * ONE for n in range(days))
        look = _Look(kitchen, conn, at, kitchen.stack(conn), span)
        known = items(kitchen, conn)
        name = find_item(known, item).id if item else ""
        rows = [row for row in on_hand.live(conn, kitchen.site) if name in ("", row.item)]
        lines = walk_order(kitchen, (line(kitchen, conn, row, at) for row in rows))
        thaw = {each.id: each.fact.thaw_days for each in known}
        # A tub in any unit can be what makes a pull unnecessary.
        pulls = [each for each in _pulls(look, lines, thaw) if wanted in ("", each.line.row.unit)]
        lines = [each for each in lines if wanted in ("", each.row.unit)]
        fit = [each for each in lines if each.verdict not in GONE]
        goes = [going for each in fit if (going := _going(look, each)) is not None]
        freeze = [found for each in fit if (found := _last_chance(look, each)) is not None]
        head, journal = _head(kitchen, conn)
    return Ahead(
        at, today,
        tuple(
            DayAhead(
                day, look.closed(day),
                tuple(each for each in goes if each.day == day),
                tuple(each for each in freeze if each.day == day),
                tuple(each for each in pulls if each.day == day),
            )
            for day in span
        ),
        tuple(each for each in lines if each.verdict in GONE),
        tuple(each for each in lines if each.verdict in ("hold", "reheat")),
        tuple(each for each in fit if each.no_limit and each.verdict == "serve"),
        len(lines), head, journal, tuple(filter(None, (wanted, name))),
    )  # fmt: skip


def _going(look: _Look, each: Line) -> Going | None:
    """On which day of the span it goes, if it does."""
    where, row = look.kitchen.where, each.row
    day = local_date(row.use_by, where) if row.use_by is not None else None
    if row.review_at is not None and local_date(row.review_at, where) <= look.days[-1]:
        day = min(filter(None, (day, _verdict_turns(look, row.code))), default=None)
    if day is None or day > look.days[-1]:
        return None
    use_by = row.use_by
    hour = use_by is not None and local_date(use_by, where) == day
    whole = not hour or use_by == end_of_day(day, where)
    act_by = look.open_by(day) if look.closed(day) else None
    return Going(each, day, None if whole else use_by, act_by)


def _verdict_turns(look: _Look, code: str) -> date | None:
    """The first day at whose end it is to be discarded, by other than its date as well."""
    for day in look.days:
        midnight = start_of_day(day + ONE, look.kitchen.where)
        if look.at_time(code, midnight).verdict in GONE:
            return day
    return None


def _last_chance(look: _Look, each: Line) -> Freezing | None:
    """The last open day of the span on which freezing it would leave a day. A limit that is an
    hour or a maker's date does not stand still in the freezer, and freezing cures no fault.
    """
    row = each.row
    fit = each.verdict in ("serve", "last-day") and row.state in _CHILLED and row.of is not None
    if not fit or row.last_day is None:
        return None
    last = date.fromisoformat(row.last_day)
    if last > look.days[-1] + ONE:
        return None
    for day in reversed(look.days):
        if day > last or look.open_by(day) != day:
            continue
        # A day to come is taken at its end: whoever freezes earlier has no less.
        at = look.at if day == look.days[0] else end_of_day(day, look.kitchen.where)
        would = look.after(row.code, ev.Frozen(), at)
        if would.verdict == "serve" and (would.days_left_once_thawed or 0) >= 1:
            return Freezing(each, day, would.days_left_once_thawed or 0)
    return None


def _pulls(look: _Look, lines: Sequence[Line], thaw: dict[str, int | None]) -> Iterator[Pulling]:
    """Of each item that is in a freezer, one container after the other: taken out so that it is
    thawed on the last day of what stands chilled before it, the one with the fewest days first.
    """
    until: dict[str, date] = {}
    for each in lines:
        if each.row.state != "frozen" and each.verdict in ("serve", "last-day"):
            last = date.fromisoformat(each.row.last_day) if each.row.last_day else date.max
            until[each.row.item] = max(until.get(each.row.item, date.min), last)
    for each in _by_days_left(lines):
        row, today = each.row, look.days[0]
        known = thaw.get(row.item)
        lead = THAW_DAYS if known is None else known
        covered = until.get(row.item, today)
        if covered - lead * ONE > look.days[-1]:
            continue
        day = look.open_by(max(today, covered - lead * ONE))
        pulled = _pulled(look, each, day, lead)
        if pulled is None:
            continue
        yield pulled
        if not pulled.too_slow:
            until[row.item] = max(covered, pulled.carries or date.max)


def _by_days_left(lines: Iterable[Line]) -> list[Line]:
    frozen = [each for each in lines if each.row.state == "frozen" and each.verdict == "serve"]
    return sorted(
        frozen,
        key=lambda each: (
            each.row.item_name.lower(), each.row.item,
            each.row.days_left if each.row.days_left is not None else LONGEST * LONGEST,
            each.row.made_at, each.row.code,
        ),
    )  # fmt: skip


def _pulled(look: _Look, each: Line, day: date, lead: int) -> Pulling | None:
    """What it would be if it were taken out on ``day``; None where it must go by then."""
    # A day to come is taken at its start: whoever thaws later has no less.
    at = look.at if day == look.days[0] else start_of_day(day, look.kitchen.where)
    would = look.after(each.row.code, ev.Thawed("refrigerator"), at)
    if would.verdict not in ("serve", "last-day"):
        return None
    return Pulling(each, day, lead, day + lead * ONE, would.last_day)


def _head(kitchen: Kitchen, conn: Connection) -> tuple[int, str]:
    """The number of the last entry, and the hash of the first: it names this journal."""
    number = journal_entries.head(conn, kitchen.site)[0]
    first = journal_entries.numbered(conn, kitchen.site, 1)
    return number, first.hash if first is not None else ""
