"""How the days to come are told: to people, to a wall screen, and in a calendar."""

from collections import Counter
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from holdlog.cli.morning import line_json
from holdlog.cli.show import WORDS, count_of, limit, moment
from holdlog.core.codes import show
from holdlog.core.moments import show_dated, show_day, to_local
from holdlog.reports.tables import Table

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from datetime import date

    from holdlog.core.moments import Instant
    from holdlog.kitchen.ahead import Ahead, DayAhead, Freezing, Going, Pulling
    from holdlog.kitchen.due import Line
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.reports.calendar_file import CalendarEvent

EMPTY = "Nothing is on hand. Record a batch: holdlog prep ITEM AMOUNT -c 2"
MOST_CODES = 4  # that are named of containers alike
DATES_ALONE = "Pulled by dates alone: one of each item, then the next when it has its last day."


# ---- for people ------------------------------------------------------------------------------


def ahead_parts(found: "Ahead", shop: "Kitchen") -> "list[Table | str]":
    """Day by day; then how it is spread over units and items."""
    head = f"{shop.name}, {show_dated(found.at, shop.where)}, {found.on_hand} on hand"
    parts: list[Table | str] = [head]
    if not found.on_hand:
        return [*parts, EMPTY]
    if found.gone:
        parts.append(f"{len(found.gone)} to discard already: holdlog due")
    if found.held:
        parts.append(f"{len(found.held)} on hold or to reheat: holdlog due")
    if found.no_limit:
        parts.append(f"{len(found.no_limit)} without a known limit: holdlog due")
    shown = [day for day in found.days if not day.empty or day.closed]
    quiet = all(day.empty for day in found.days)
    if quiet:
        parts.append(f"Nothing goes in the next {count_of(len(found.days), 'day')}.")
    for day in shown:
        parts += _day(day, found, shop)
    if any(day.pull for day in found.days):
        parts += ["", DATES_ALONE]
    if found.goes:
        parts += ["", _spread("By unit", "unit", found, lambda each: each.row.unit or "no unit")]
        parts += ["", _spread("By item", "item", found, lambda each: each.row.item_name)]
    books = _books(shop)
    return [*parts, "", f"{books}. Your health authority has the last word; in doubt, bin it."]


def _books(shop: "Kitchen") -> str:
    with shop.db.reading() as conn:
        return " + ".join(book.title for book in shop.current(conn).stack(conn).books)


def name_of(day: "date", today: "date") -> str:
    """``Today, Wed 3 June``."""
    said = {today: "Today, ", today + timedelta(days=1): "Tomorrow, "}.get(day, "")
    return f"{said}{show_day(day, today)}"


def _day(day: "DayAhead", found: "Ahead", shop: "Kitchen") -> "list[Table | str]":
    name = name_of(day.day, found.today)
    if day.closed:
        name += ", CLOSED"
        if day.goes:
            by = _act_by(day, found)
            name += (
                f": {count_of(len(day.goes), 'container')} out of date while closed; see to {by}"
            )
    if day.empty:
        return ["", f"{name}: nothing."]
    return [
        "",
        Table(name, ("", "code", "item", "unit", "amount", ""), _rows(day, found.today, shop)),
    ]


def _act_by(day: "DayAhead", found: "Ahead") -> str:
    them = "it" if len(day.goes) == 1 else "them"
    by = day.goes[0].act_by
    if by is None or by == found.today:
        return f"{them} today"
    return f"{them} by {show_day(by, found.today)}"


def _rows(day: "DayAhead", today: "date", shop: "Kitchen") -> tuple[tuple[str, ...], ...]:
    rows = [_row(_goes_word(each), each.line, _goes_told(each, shop)) for each in day.goes]
    rows += [_row("freeze by", each.line, _freeze_told(each, shop)) for each in day.freeze]
    rows += [_row("pull", each.line, _pull_told(each, today)) for each in day.pull]
    alike: dict[tuple[str, ...], list[str]] = {}
    for word, code, *rest in rows:
        alike.setdefault((word, *rest), []).append(code)
    return tuple((word, _codes(codes), *rest) for (word, *rest), codes in alike.items())


def _codes(codes: list[str]) -> str:
    """A code a line; of many, the first few."""
    if len(codes) <= MOST_CODES:
        return "\n".join(codes)
    return "\n".join([*codes[: MOST_CODES - 1], f"and {len(codes) - MOST_CODES + 1} more"])


def _row(word: str, each: "Line", says: str) -> tuple[str, ...]:
    row = each.row
    return word, show(row.code), row.item_name, row.unit, row.amount, says


def _goes_word(each: "Going") -> str:
    held = each.line.verdict in ("hold", "reheat")
    return WORDS[each.line.verdict] if held else "last day"


def _goes_told(each: "Going", shop: "Kitchen") -> str:
    if each.until is not None:
        return f"until {to_local(each.until, shop.where):%H:%M}"
    return "in the freezer too" if each.line.row.state == "frozen" else ""


def _freeze_told(each: "Freezing", shop: "Kitchen") -> str:
    return f"leaves {count_of(each.days_left, 'day')}, else {limit(each.line.row, shop)}"


def _pull_told(each: "Pulling", today: "date") -> str:
    ready = show_day(each.ready, today)
    if each.carries is None:
        known = "no date needed" if each.line.row.tcs == "not-tcs" else "no limit known"
        return f"ready {ready}; {known}"
    carries = show_day(each.carries, today)
    if each.too_slow:
        return (
            f"would carry {carries}, thawed only {ready}: thaw it as part of cooking, serve at once"
        )
    return f"ready {ready}, would carry {carries}"


def _spread(title: str, head: str, found: "Ahead", key: "Callable[[Line], str]") -> Table:
    rows = []
    for name in dict.fromkeys(key(each.line) for each in found.goes):
        days = Counter(each.day for each in found.goes if key(each.line) == name)
        told = "; ".join(
            f"{number} on {show_day(day, found.today)}" for day, number in sorted(days.items())
        )
        rows.append((name, told))
    return Table(title, (head, "last days"), tuple(rows))


# ---- for programs ----------------------------------------------------------------------------


def ahead_json(found: "Ahead", shop: "Kitchen") -> dict[str, Any]:
    """The days to come for programs. The keys are stable; README.md explains them."""
    return {
        "kitchen": shop.name,
        "at": moment(found.at, shop),
        "today": found.today.isoformat(),
        "on_hand": found.on_hand,
        "discard": [line_json(each, shop) for each in found.gone],
        "hold": [line_json(each, shop) for each in found.held],
        "no_limit_known": [line_json(each, shop) for each in found.no_limit],
        "days": [_day_json(day, found, shop) for day in found.days],
        "by_unit": _counts(found, lambda each: each.row.unit),
        "by_item": _counts(found, lambda each: each.row.item_name),
    }


def _day_json(day: "DayAhead", found: "Ahead", shop: "Kitchen") -> dict[str, Any]:
    return {
        "date": day.day.isoformat(),
        "name": name_of(day.day, found.today),
        "closed": day.closed,
        "last_day": [
            {
                **line_json(each.line, shop),
                "until": moment(each.until, shop),
                "act_by": each.act_by.isoformat() if each.act_by else None,
            }
            for each in day.goes
        ],
        "freeze_by": [
            {**line_json(each.line, shop), "days_left_if_frozen": each.days_left}
            for each in day.freeze
        ],
        "pull": [
            {
                **line_json(each.line, shop),
                "thaw_days": each.lead,
                "ready": each.ready.isoformat(),
                "would_carry": each.carries.isoformat() if each.carries else None,
                "too_slow": each.too_slow,
            }
            for each in day.pull
        ],
    }


def _counts(found: "Ahead", key: "Callable[[Line], str]") -> dict[str, dict[str, int]]:
    counts: dict[str, Counter[str]] = {}
    for each in found.goes:
        counts.setdefault(key(each.line), Counter())[each.day.isoformat()] += 1
    return {name: dict(days) for name, days in counts.items()}


# ---- for a calendar --------------------------------------------------------------------------


def calendar_events(found: "Ahead", shop: "Kitchen") -> "list[CalendarEvent]":
    """One event a day and kind; what has an hour has an event of its own."""
    events: list[CalendarEvent] = []
    for day in found.days:
        whole = [each for each in day.goes if each.until is None]
        events += _kind(found, day.day, "last-day", _last_day_title(day, len(whole)),
                        (_told(each.line, _goes_word(each)) for each in whole))  # fmt: skip
        events += [_timed(each, each.until, found, shop) for each in day.goes if each.until]
        events += _kind(
            found,
            day.day,
            "freeze",
            f"Last chance to freeze: {count_of(len(day.freeze), 'container')}",
            (_told(each.line, _freeze_told(each, shop)) for each in day.freeze),
        )
        events += _kind(
            found,
            day.day,
            "pull",
            f"Take from the freezer: {count_of(len(day.pull), 'container')}",
            (_told(each.line, _pull_told(each, found.today)) for each in day.pull),
        )
    by_day: dict[date, list[Going]] = {}
    for each in found.goes:
        if each.act_by is not None:
            by_day.setdefault(each.act_by, []).append(each)
    for act_by, group in by_day.items():
        events += _kind(
            found,
            act_by,
            "before-closing",
            f"{count_of(len(group), 'container')} out of date while closed",
            (_told(each.line, f"last day {show_day(each.day, found.today)}") for each in group),
        )
    return events


def _last_day_title(day: "DayAhead", count: int) -> str:
    return f"Last day of {count_of(count, 'container')}{' (closed)' if day.closed else ''}"


def _told(each: "Line", says: str) -> str:
    facts = ", ".join(filter(None, (each.row.item_name, each.row.amount, each.row.unit)))
    return f"{show(each.row.code)} {facts}: {says}"


def _kind(
    found: "Ahead", day: "date", kind: str, title: str, lines: "Iterable[str]"
) -> "list[CalendarEvent]":
    from holdlog.reports.calendar_file import CalendarEvent

    told = list(lines)
    if not told:
        return []
    text = "\n".join([*told, "", f"As of entry {found.head}; what counts that day: holdlog due"])
    return [CalendarEvent(f"{day}-{kind}-{_journal(found)}", day, title, text)]


def _timed(each: "Going", at: "Instant", found: "Ahead", shop: "Kitchen") -> "CalendarEvent":
    from holdlog.reports.calendar_file import CalendarEvent

    until = to_local(at, shop.where)
    row = each.line.row
    return CalendarEvent(
        f"{row.code}-until-{_journal(found)}", each.day,
        f"{row.item_name}, {show(row.code)}: serve until {until:%H:%M}",
        f"{_told(each.line, 'serve or discard')}\n\nAs of entry {found.head}.", until,
    )  # fmt: skip


def _journal(found: "Ahead") -> str:
    """This journal's own name in an identity, and what alone was asked for: two kitchens, or the
    lists of two units, do not overwrite each other in one calendar.
    """
    only = "".join(f"{each}-".replace(" ", "-").lower() for each in found.only)
    return f"{only}{found.journal[:16]}@holdlog"
