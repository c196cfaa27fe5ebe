"""Coolings in words: what a stage rests on, what is ahead, what to do; and for programs."""

from typing import TYPE_CHECKING, Any

from holdlog.cli.show import at_told, count_of, moment, row_json
from holdlog.core.codes import show
from holdlog.core.moments import HOUR, MINUTE, local_date, show_dated, show_moment, to_local

if TYPE_CHECKING:
    from holdlog.core.moments import Instant
    from holdlog.core.temperature import Scale
    from holdlog.kitchen.coolings import Logged
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.rules.cooling import CoolingReading
    from holdlog.rules.cooling_record import Ground

EMPTY = (
    "Nothing is cooling. To log one: holdlog cool CODE READING, or when it is made: "
    "holdlog prep ITEM --warm 150F"
)
NAMED = 4  # so many codes are named; more are counted
STAGES = {"met": "met", "running": "running", "missed": "MISSED", "unproven": "NOT PROVEN"}


def clock(at: "Instant", each: "Logged", shop: "Kitchen") -> str:
    """``12:05``; with its day where that is another."""
    if local_date(at, shop.where) != local_date(each.at, shop.where):
        return show_moment(at, shop.where, each.at)
    return f"{to_local(at, shop.where):%H:%M}"


def lasting(milliseconds: int) -> str:
    """``1 h 35``, ``40 min``: whole minutes, rounded up."""
    minutes = -(-milliseconds // MINUTE)
    hours, rest = divmod(minutes, HOUR // MINUTE)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {rest:02}" if rest else f"{hours} h"


def scale(each: "Logged", shop: "Kitchen") -> "Scale":
    """The scale its limits are told in."""
    from holdlog.kitchen.cooling_plot import scale_of

    return scale_of(shop, each)


def read_at(reading: "CoolingReading", each: "Logged", shop: "Kitchen") -> str:
    """``104 °F at 10:32``; ``off the heat at 10:00``."""
    what = reading.temperature if reading.temperature is not None else "off the heat"
    return f"{what} at {clock(reading.at, each, shop)}"


# ---- the stages ------------------------------------------------------------------------------


def stage(ground: "Ground", each: "Logged", shop: "Kitchen") -> str:
    """One stage and where it stands: ``70 °F by 12:05: met``."""
    by = f" by {clock(ground.deadline, each, shop)}" if ground.deadline is not None else ""
    ended = ground.stage == "running" and each.record.reheated
    word = "not finished, it was heated again" if ended else STAGES[ground.stage]
    return f"{ground.limit.show(scale(each, shop))}{by}: {word}"


def stages(each: "Logged", shop: "Kitchen") -> list[str]:
    """Each stage, where it stands, and the readings this rests on."""
    lines: list[str] = []
    said = ""
    for ground in each.record.grounds:
        why = _grounds(ground, each, shop)
        same = why and why == said
        lines.append(f"{stage(ground, each, shop)}{', for the same reason' if same else why}.")
        said = why
    return lines


def _grounds(ground: "Ground", each: "Logged", shop: "Kitchen") -> str:
    allowed = f"{lasting(ground.allowed)} allowed"
    if ground.stage == "met" and ground.reached is not None and ground.longest is not None:
        took = lasting(ground.longest)
        reached = read_at(ground.reached, each, shop)
        return f" ({reached}, {took} after {_at(ground.begun_after, each, shop)}; {allowed})"
    if ground.stage == "missed" and ground.above is not None and ground.begun_by is not None:
        took = lasting(ground.shortest or 0)
        still = read_at(ground.above, each, shop)
        return f" (still {still}, {took} after {_at(ground.begun_by, each, shop)}; {allowed})"
    return f"; {missing(ground, each, shop)}" if ground.stage == "unproven" else ""


def _at(at: "Instant | None", each: "Logged", shop: "Kitchen") -> str:
    return clock(at, each, shop) if at is not None else "a time not known"


def missing(ground: "Ground", each: "Logged", shop: "Kitchen") -> str:
    """Which reading is missing for a stage to be proved."""
    told = scale(each, shop)
    if ground.begun_after is None and ground.start is not None:
        start = ground.start.show(told)
        rule = each.record.rule
        if rule is not None and ground.start is not rule.hot:
            return f"no reading fixes when it passed {start}"
        return f"no reading at or above {start} is logged, and no time off the heat"
    last = ground.above
    if last is not None and ground.deadline is not None and last.at >= ground.deadline:
        later = f"read after {_at(ground.begun_after, each, shop)}"
        start = f"at or above {ground.start.show(told)}" if ground.start is not None else "hot"
        return (
            f"it was still {read_at(last, each, shop)}. Only another reading {start}, {later}, "
            "could put the deadline off"
        )
    limit = ground.limit.show(told)
    by = f" by {clock(ground.deadline, each, shop)}" if ground.deadline is not None else ""
    wanted = f"no reading shows it at {limit} or colder{by}"
    if ground.above is not None and ground.reached is not None:
        before, then = read_at(ground.above, each, shop), read_at(ground.reached, each, shop)
        return f"{wanted}: nobody read it between {before} and {then}"
    from holdlog.rules.cooling import is_reached

    last = each.record.readings[-1]
    if last.late and is_reached(last, ground.limit):
        # Written down on a later day without its paper, or on a thermometer that is off.
        return f"{wanted} that counts: {read_at(last, each, shop)} does not"
    return f"{wanted}: it was last {read_at(last, each, shop)}"


# ---- one cooling -----------------------------------------------------------------------------


def head(each: "Logged") -> str:
    """What cools, where, and under which codes."""
    codes = [show(row.code) for row in each.rows]
    named = " ".join(codes) if len(codes) <= NAMED else f"{codes[0]} and {len(codes) - 1} more"
    return f"{each.item}, {each.batch}, {count_of(len(codes), 'container')}: {named}"


def last_read(each: "Logged", shop: "Kitchen") -> str:
    """The last reading, and what it cools in as far as that was said."""
    readings, moves = each.record.readings, each.record.moves
    parts = [read_at(readings[-1], each, shop)] if readings else ["not read yet"]
    if moves:
        around = moves[-1].surroundings
        where = each.method or "where it was put"
        parts.append(
            f"cooling in: {where}, {around if around is not None else 'not known how warm'}"
        )
    return f"Last {'; '.join(parts)}." if readings else f"Not read yet; {'; '.join(parts[1:])}."


def logged_told(each: "Logged", shop: "Kitchen", *, labelling: bool = False) -> list[str]:
    """What a cook has to know of one cooling: late reading, stages, what is ahead, what to do.

    ``labelling``: its labels are made at once.
    """
    from holdlog.rules import outlook

    lines = outlook.told(each.ahead, shop.where)
    if each.overdue_since is not None:
        lines.insert(0, f"OVERDUE since {clock(each.overdue_since, each, shop)}. {lines.pop()}")
    if each.ahead is not None and each.ahead.question:
        lines.insert(0, each.ahead.question)
    lines += stages(each, shop)
    held, row = each.holding, each.rows[0]
    if row.ended_at is not None:
        return [*lines, f"Gone: {row.ended_as}, {at_told(row.ended_at, shop)}."]
    if held.reason:
        earlier = each.record.again and each.stands in ("running", "met")
        lines.append(f"{held.verdict.upper()}: {held.reason}")
        if earlier and not held.reason.startswith("Still cooling"):
            lines.append("That is of what was before it was heated again.")
    return [*lines, *to_do(each, labelling=labelling), *_no_forecast(each)]


def _no_forecast(each: "Logged") -> list[str]:
    """Why there is no forecast, and what to type for one."""
    if each.ahead is None or not each.ahead.no_forecast:
        return []
    moves, code = each.record.moves, show(each.rows[0].code)
    if moves and moves[-1].surroundings is not None:
        return [each.ahead.no_forecast]
    if moves and each.method:
        again = f'holdlog cool {code} --in "{each.method}" --surroundings READING'
        return [f"How warm it is there is not known. Measure it, for a forecast: {again}"]
    where = 'walk-in (or "ice bath" --surroundings READING)'
    return [f"Say where it cools, for a forecast: holdlog cool {code} --in {where}"]


def to_do(each: "Logged", *, labelling: bool = False) -> list[str]:
    """The commands that go on from here."""
    code = show(each.rows[0].code)
    batch = "" if each.alone else " --batch"
    if each.stands == "met" or fit(each):
        label = f" Print its date label: holdlog label {code}{batch}"
        said = "Cooling met." if each.stands == "met" else "It is cold."
        return [said + (label if fit(each) and not labelling else "")]
    every = "" if len(each.rows) == 1 else f", for each of its {len(each.rows)} containers"
    if each.holding.verdict == "reheat":
        return [
            f"Heat it: holdlog reheat {code} -t READING --held SECONDS --took MINUTES{every}",
            "Then log its second cooling. There is no third.",
            f"Or bin it: holdlog discard {code} -r cooling{every}",
        ]
    if each.stands == "unproven":
        wants = [ground for ground in each.record.grounds if ground.stage == "unproven"]
        no_start = any(ground.begun_after is None for ground in wants[:1])
        what = "off-heat" if no_start else "READING"
        entry = f"holdlog cool {code} {what} --at TIME --evidence"
        return [
            f'If somebody wrote it down: {entry} "cooling sheet 12, MK"',
            f"If nobody did: holdlog discard {code} -r cooling{every}",
        ]
    if each.holding.verdict == "discard" and each.holding.state != "gone":
        return [f"Bin it: holdlog discard {code} -r cooling{every}"]
    return []


def fit(each: "Logged") -> bool:
    """Whether it has cooled, and is there to be served by a date."""
    there = each.holding.state not in ("gone", "frozen")
    cooled = each.stands in ("met", "no-clock")
    return cooled and there and each.holding.verdict in ("serve", "last-day")


def short(each: "Logged", shop: "Kitchen") -> str:
    """One cooling in a sentence or two, for a list that says its verdict beside it."""
    reason = each.holding.reason
    ground = next((one for one in each.record.grounds if one.stage == each.stands), None)
    if ground is None:
        return reason
    said = [stage(ground, each, shop).removesuffix(f": {STAGES['running']}") + "."]
    if each.overdue_since is not None:
        said.append(f"Reading OVERDUE since {clock(each.overdue_since, each, shop)}.")
    elif each.ahead is not None and each.ahead.read_by is not None:
        said.append(f"Read it by {clock(each.ahead.read_by, each, shop)}.")
    # The word HOLD stands beside it, so that "do not serve" need not be said again.
    return " ".join([reason.replace(": do not serve.", ":"), *said])


# ---- all of them -----------------------------------------------------------------------------


def list_parts(found: "list[Logged]", shop: "Kitchen", sketches: "list[list[str]]") -> list[str]:
    """All coolings for people, the late ones first."""
    when = show_dated(shop.now(), shop.where)
    if not found:
        return [f"{shop.name}, {when}", EMPTY]
    words = {"running": "cooling", "no-clock": "cooling without a clock"}
    counts: dict[str, int] = {}
    for each in found:
        word = words.get(each.stands, STAGES.get(each.stands, each.stands).lower())
        counts[word] = counts.get(word, 0) + 1
    said = [f"{count} {word}" for word, count in counts.items()]
    late = sum(each.overdue_since is not None for each in found)
    said += [f"{count_of(late, 'reading')} OVERDUE"] if late else []
    parts = [f"{shop.name}, {when}: {', '.join(said)}."]
    for each, sketch in zip(found, sketches, strict=True):
        parts += ["", head(each), f"  {last_read(each, shop)}"]
        parts += [f"  {line}" for line in logged_told(each, shop)]
        parts += ["", *sketch] if sketch else []
    return [*parts, "", f"{found[0].books}. Your health authority has the last word."]


# ---- for programs ----------------------------------------------------------------------------


def cooling_json(each: "Logged", shop: "Kitchen") -> dict[str, Any]:
    """One cooling for programs."""
    from holdlog.rules import outlook

    verdict, ahead, moves = each.record.verdict, each.ahead, each.record.moves
    around = moves[-1].surroundings if moves else None
    return {
        "batch": each.batch,
        "item": each.item,
        "stands": each.stands,
        "first": verdict.first if verdict else None,
        "whole": verdict.whole if verdict else None,
        "deadline_first": moment(verdict.deadline_first, shop) if verdict else None,
        "deadline_whole": moment(verdict.deadline_whole, shop) if verdict else None,
        "verdict": each.holding.verdict,
        "reason": each.holding.reason,
        **outlook.as_json(ahead, shop.where),
        "no_forecast": (ahead.no_forecast or None) if ahead else None,
        "question": (ahead.question or None) if ahead else None,
        "next_deadline": moment(ahead.deadline, shop) if ahead else None,
        "read_by": moment(ahead.read_by, shop) if ahead else None,
        "overdue": each.overdue_since is not None,
        "cooling_in": each.method or None,
        "surroundings": str(around) if around is not None else None,
        "readings": [
            {
                "at": moment(reading.at, shop),
                "temperature": str(reading.temperature) if reading.temperature else None,
                "late": reading.late,
            }
            for reading in each.record.readings
        ],
        "containers": [row_json(row, shop) for row in each.rows],
    }
