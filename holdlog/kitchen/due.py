"""The morning check: what must go, what goes first, what to freeze and what to pull.

The rows on hand carry the verdict as it was when they were last judged; only a row whose
verdict can have changed since is folded again, so the cost does not grow with history.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from holdlog.core.moments import Instant, local_date
from holdlog.journal import on_hand
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.coolings import Logged, coolings_of
from holdlog.kitchen.items import items
from holdlog.kitchen.kitchen import Kitchen, look
from holdlog.kitchen.probes import InDoubt, in_doubt
from holdlog.kitchen.setup import WEEKDAYS
from holdlog.kitchen.units import UnitNow, troubled
from holdlog.kitchen.waiting import Last, last_labels, why_waiting
from holdlog.rules.faults import WORST_FIRST, Verdict

ONE = timedelta(days=1)
# Fridge stock that is past within so many days is worth asking about before closing.
FREEZE_AHEAD = 2
LONGEST_CLOSURE = 6


@dataclass(frozen=True, slots=True)
class Line:
    """One container on the list: its row, its verdict now, why, and the day it has reached."""

    row: ContainerRow
    verdict: Verdict
    reason: str
    day: int | None

    @property
    def no_limit(self) -> bool:
        """Whether nothing known limits it."""
        return "no-limit-known" in self.row.cautions


@dataclass(frozen=True, slots=True)
class Pull:
    """Something to take from the freezer today: when it is ready, and how long it then keeps."""

    row: ContainerRow
    ready: date
    days_left: int | None


@dataclass(frozen=True, slots=True)
class Waits:
    """A container that waits for a label, and why."""

    line: Line
    why: str


@dataclass(frozen=True, slots=True)
class Due:
    """The morning list. A container stands in one of the first six lists at most.

    ``relabel``: the label it bears says a later date than it may be kept, so that whoever reads
    the tub and not this list is misled. ``waiting``: all that wait for a label, those included.
    ``probes``: the thermometers in doubt, and what was last read on them, in all units.
    ``cooling``: the coolings behind some of what is on hold or to discard. ``units``: those whose
    newest reading is beyond the limit or older than a day.
    """

    at: Instant
    today: date
    no_limit: tuple[Line, ...]
    go: tuple[Line, ...]
    hold: tuple[Line, ...]
    today_last: tuple[Line, ...]
    tomorrow: tuple[Line, ...]
    closed: tuple[Line, ...]
    closed_days: tuple[date, ...]
    freeze: tuple[Line, ...]
    pull: tuple[Pull, ...]
    on_hand: int
    relabel: tuple[Line, ...] = ()
    waiting: tuple[Waits, ...] = ()
    probes: tuple[InDoubt, ...] = ()
    cooling: tuple[Logged, ...] = ()
    units: tuple[UnitNow, ...] = ()


def line(kitchen: Kitchen, conn: Connection, row: ContainerRow, at: Instant) -> Line:
    """Where a live container stands at ``at``. Of a frozen one whose maker's date runs on, the
    days left are those at ``at``.
    """
    if row.state == "frozen" and row.review_at is not None:
        found = look(kitchen, conn, row.code, at)[1]
        row = replace(row, days_left=found.days_left_once_thawed)
        return Line(row, found.verdict, found.reason, found.day)
    if row.review_at is not None and at >= row.review_at:
        found = look(kitchen, conn, row.code, at)[1]
        return Line(row, found.verdict, found.reason, found.day)
    verdict, reason = _by_date(row, at, kitchen)
    if row.verdict:
        fault = next(each for each in WORST_FIRST if each == row.verdict)
        if WORST_FIRST.index(fault) <= WORST_FIRST.index(verdict):
            verdict, reason = fault, row.reason
    return Line(row, verdict, reason, _day(row, at, kitchen))


def as_judged(each: Line) -> ContainerRow:
    """Its row, with the verdict of now for a fault: what is told of the row alone is then what
    the list and a scan say.
    """
    if each.verdict in ("serve", "last-day"):
        return replace(each.row, verdict="", reason="")
    return replace(each.row, verdict=each.verdict, reason=each.reason)


def _by_date(row: ContainerRow, at: Instant, kitchen: Kitchen) -> tuple[Verdict, str]:
    if row.state == "frozen":
        if row.days_left is not None and row.days_left < 1:
            return "discard", "No days are left once it is thawed."
        return "serve", ""
    if row.use_by is None:
        return "serve", ""
    if at > row.use_by:
        return "discard", "Past its limit."
    if local_date(row.use_by, kitchen.where) == local_date(at, kitchen.where):
        return "last-day", "Its last day is today."
    return "serve", ""


def _day(row: ContainerRow, at: Instant, kitchen: Kitchen) -> int | None:
    """Day n of its binding count. Nothing is frozen now, so every day until the last counts."""
    if row.of is None or row.last_day is None:
        return None
    return row.of - (date.fromisoformat(row.last_day) - local_date(at, kitchen.where)).days


def everything(kitchen: Kitchen, unit: str = "") -> list[Line]:
    """All that is on hand, by unit in the order of the walk, worst first."""
    with kitchen.db.reading() as conn:
        return _lines(kitchen.current(conn), conn, kitchen.moment(conn), unit)


def _lines(kitchen: Kitchen, conn: Connection, at: Instant, unit: str) -> list[Line]:
    wanted = kitchen.unit(unit).name if unit else ""
    rows = on_hand.live(conn, kitchen.site)
    lines = [line(kitchen, conn, row, at) for row in rows if wanted in ("", row.unit)]
    return walk_order(kitchen, lines)


def walk_order(kitchen: Kitchen, lines: Iterable[Line]) -> list[Line]:
    """By unit in the order a cook walks, then worst first, then the earliest date."""

    def place(each: Line) -> tuple[int, int, Instant, str, str]:
        unit = kitchen.units.get(each.row.unit)
        return (
            unit.order if unit is not None else 0,
            -1 if each.no_limit else WORST_FIRST.index(each.verdict),
            each.row.use_by if each.row.use_by is not None else Instant(2**53),
            each.row.item_name,
            each.row.code,
        )

    return sorted(lines, key=place)


def due(kitchen: Kitchen, unit: str = "") -> Due:
    """The morning list, for one unit or all of them."""
    with kitchen.db.reading() as conn:
        at = kitchen.moment(conn)
        today = local_date(at, kitchen.where)
        lines = _lines(kitchen.current(conn), conn, at, unit)
        pull = _pull(kitchen, conn, lines, today) if not unit else []
        wanted = _waiting(kitchen, conn, lines)
        doubts = in_doubt(kitchen, conn)
        warm = troubled(kitchen, conn, at, unit)
        cool = coolings_of(kitchen.current(conn), conn, [each.row for each in lines], at)
    closed_days = closing(kitchen, today)
    reopening = next(
        n for n in range(len(closed_days) + 1) if today + (n + 1) * ONE not in closed_days
    )
    go, hold, last, tomorrow, closed, freeze, no_limit = [], [], [], [], [], [], []
    for each in lines:
        days = _days_to_go(each.row, today)
        if each.verdict in ("discard", "refuse"):
            go.append(each)
        elif each.verdict in ("hold", "reheat"):
            hold.append(each)
        elif each.no_limit:
            no_limit.append(each)
        elif each.verdict == "last-day":
            last.append(each)
        elif days is not None and today + days * ONE in closed_days:
            closed.append(each)
        elif days == 1:
            tomorrow.append(each)
        soon = days is not None and 1 <= days <= FREEZE_AHEAD + reopening
        cold = each.row.state not in ("frozen", "hot-held", "out")
        if soon and cold and each.verdict == "serve":
            freeze += [each] if _room_to_freeze(each) else []
    return Due(
        at, today, tuple(no_limit), tuple(go), tuple(hold), tuple(last), tuple(tomorrow),
        tuple(closed), tuple(closed_days), tuple(freeze), tuple(pull), len(lines),
        tuple(each for each in lines if _label_misleads(each)), tuple(wanted), tuple(doubts),
        tuple(cool), tuple(warm),
    )  # fmt: skip


def waiting(kitchen: Kitchen, unit: str = "") -> list[Waits]:
    """The containers that wait for a label, by unit in the order of the walk."""
    with kitchen.db.reading() as conn:
        kitchen = kitchen.current(conn)
        return _waiting(kitchen, conn, _lines(kitchen, conn, kitchen.moment(conn), unit))


def _waiting(kitchen: Kitchen, conn: Connection, lines: Iterable[Line]) -> list[Waits]:
    # Food that must go gets no label: it stands on the list of what to discard.
    fit = [each for each in lines if each.verdict not in ("discard", "refuse")]
    last = last_labels(conn, kitchen.site, [each.row.code for each in fit])
    none = Last()
    reasons = (
        (each, why_waiting(each.row, last.get(each.row.code, none), misleads=_label_misleads(each)))
        for each in fit
    )
    return [Waits(each, why) for each, why in reasons if why]


def _label_misleads(each: Line) -> bool:
    printed, limit = each.row.printed_use_by, each.row.use_by
    return printed is not None and limit is not None and limit < printed


def _days_to_go(row: ContainerRow, today: date) -> int | None:
    if row.last_day is None or row.state == "frozen":
        return None
    return (date.fromisoformat(row.last_day) - today).days


def _room_to_freeze(each: Line) -> bool:
    """Frozen tonight, with today counted as used, at least one day must be left. A limit that
    is an hour or a maker's date does not stand still in the freezer.
    """
    return each.row.of is not None and each.day is not None and each.row.of - each.day >= 1


def closing(kitchen: Kitchen, today: date) -> tuple[date, ...]:
    """The closed days of the week ahead, as far as the kitchen has told."""
    ahead = (today + (n + 1) * ONE for n in range(LONGEST_CLOSURE))
    return tuple(day for day in ahead if WEEKDAYS[day.weekday()] in kitchen.closed)


def _pull(kitchen: Kitchen, conn: Connection, lines: Iterable[Line], today: date) -> list[Pull]:
    """For each item whose chilled stock is gone before a thaw begun today would be ready: the
    frozen container to take out now, the one with the fewest days left first.
    """
    lead = {item.name: item.fact.thaw_days for item in items(kitchen, conn)}
    frozen: dict[str, ContainerRow] = {}
    chilled_until: dict[str, date] = {}
    for each in lines:
        name = each.row.item_name
        if each.row.state == "frozen" and each.verdict == "serve":
            known = frozen.get(name)
            if known is None or (each.row.days_left or 99, each.row.made_at) < (
                known.days_left or 99, known.made_at,
            ):  # fmt: skip
                frozen[name] = each.row
        elif each.verdict in ("serve", "last-day"):
            last = date.fromisoformat(each.row.last_day) if each.row.last_day else date.max
            chilled_until[name] = max(chilled_until.get(name, date.min), last)
    pulls = []
    for name, row in sorted(frozen.items()):
        days = lead.get(name)
        ready = today + (1 if days is None else days) * ONE
        if chilled_until.get(name, date.min) <= ready:
            pulls.append(Pull(row, ready, row.days_left))
    return pulls
