"""A unit, its limit and its readings in words and as data."""

from typing import TYPE_CHECKING, Any

from holdlog.cli.show import at_told, count_of, moment
from holdlog.core.moments import Instant, show_length

if TYPE_CHECKING:
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.units import UnitLimit, UnitNow, UnitReading
    from holdlog.rules.episodes import Course

NO_LIMIT = "no limit"
GAPS_NAMED = 5


def limit_told(limit: "UnitLimit | None", shop: "Kitchen") -> str:
    """``41 °F or below, 3-501.16(A)(2)``."""
    if limit is None:
        return "no limit here: nothing is judged"
    rule = limit.binding(shop.scale).source
    seen = "" if rule.seen == "text" else f" [seen: {rule.seen}]"
    return f"{limit.show(shop.scale)}, {rule.cite}{seen}"


def last_told(now: "UnitNow", shop: "Kitchen", at: Instant) -> str:
    """The newest reading with its age: ``38 °F, 2 h ago``."""
    if now.last is None:
        return "never read"
    beyond = ", BEYOND ITS LIMIT" if now.good is False else ""
    old = ", an old reading" if now.stale else ""
    by = "by its logger" if now.last.by_logger else "by hand"
    age = show_length(at - now.last.at)
    when = at_told(now.last.at, shop)
    return f"{now.last.temperature} {by}, {age} ago ({when}){beyond}{old}"


def now_row(now: "UnitNow", shop: "Kitchen", at: Instant) -> tuple[str, ...]:
    """A unit as a row of the list."""
    limit = now.limit.show(shop.scale) if now.limit is not None else NO_LIMIT
    return str(now.unit.order), now.unit.name, now.unit.sort, limit, last_told(now, shop, at)


def limit_json(limit: "UnitLimit | None") -> dict[str, Any] | None:
    """The limit for programs."""
    if limit is None:
        return None
    return {
        "f": limit.binding("F").limit.f,
        "c": limit.binding("C").limit.c,
        "side": "or above" if limit.place == "hot" else "or below",
        "cite": limit.binding("F").source.cite,
        "seen": limit.binding("F").source.seen,
    }


def reading_json(each: "UnitReading", shop: "Kitchen") -> dict[str, Any]:
    """A reading for programs."""
    return {
        "at": moment(each.at, shop),
        "temperature": str(each.temperature),
        "by": "logger" if each.by_logger else "hand",
        "probe": each.probe or None,
        "proves": each.proves,
        "entry": each.entry,
    }


def now_json(now: "UnitNow", shop: "Kitchen", at: Instant) -> dict[str, Any]:
    """A unit for programs."""
    return {
        "unit": now.unit.name,
        "sort": now.unit.sort,
        "limit": limit_json(now.limit),
        "last_reading": reading_json(now.last, shop) if now.last is not None else None,
        "age_seconds": (at - now.last.at) // 1000 if now.last is not None else None,
        "good": now.good,
        "stale": now.stale,
    }


def course_json(shown: "Course", shop: "Kitchen") -> dict[str, Any]:
    """What a stretch of readings says, for programs."""
    total = shown.total
    return {
        "scale": shown.scale,
        "readings": len(shown.samples),
        "seconds_beyond": -(-total.total // 1000),
        "longest_seconds": -(-total.longest // 1000),
        "runs": total.runs,
        "worst": total.worst / 100 if total.worst is not None else None,
        "degree_minutes": round(total.degree_minutes, 1),
        "unknown_seconds": -(-total.unknown // 1000),
        "at_most_seconds": -(-total.at_most // 1000),
        "too_close": shown.too_close,
        "gaps": [[moment(each.begins, shop), moment(each.ends, shop)] for each in shown.gaps],
        "events": [
            {
                "begins": moment(each.begins, shop),
                "ends": moment(each.ends, shop),
                "worst": each.worst / 100,
            }
            for each in total.events
        ],
    }


def course_told(shown: "Course", shop: "Kitchen", unit: str) -> list[str]:
    """The same for people, in a few lines."""
    total = shown.total
    lines = []
    if total.total:
        worst = f"{(total.worst or 0) / 100:g} °{shown.scale}"
        lines.append(
            f"Beyond the limit for {show_length(total.total)} in all, "
            f"{count_of(total.runs, 'time')}, {show_length(total.longest)} at the longest, "
            f"at worst {worst}, {total.degree_minutes:.0f} degree-minutes."
        )
    else:
        lines.append("Never beyond the limit, as far as it was measured.")
    if total.unknown:
        most = show_length(total.at_most)
        lines.append(
            f"Without readings for {show_length(total.unknown)}, which is no good time: beyond "
            f"the limit for at most {most}."
        )
        lines += [
            f"  no readings from {at_told(each.begins, shop)} to {at_told(each.ends, shop)}"
            for each in shown.gaps[:GAPS_NAMED]
        ]
        more = len(shown.gaps) - GAPS_NAMED
        lines += [f"  and {more} more gaps"] if more > 0 else []
    if shown.too_close and shown.usual is not None:
        stands = f"The {unit} usually stands at {shown.usual / 100:g} °{shown.scale}"
        way = "up" if shown.side == "below" else "down"
        if shown.beyond(shown.usual):
            lines.append(f"{stands}, beyond its limit. Is this the file of the {unit}?")
        else:
            lines.append(f"{stands}, too close to its limit: turn it {way}.")
    return lines
