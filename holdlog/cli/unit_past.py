"""Looking back at a unit: when it was beyond its limit, and its readings as a plot."""

from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.show import at_told, count_of, emit, row_json, say
from holdlog.cli.units import UnitArg
from holdlog.cli.wiring import Json, kitchen, save

if TYPE_CHECKING:
    from holdlog.core.moments import Instant
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.unit_story import Struck, UnitStory
    from holdlog.reports.tables import Table

From = Annotated[
    str,
    typer.Option("--from", help='From when: "2026-06-01", "2026-06-01 14:30".',
                 show_default=False, metavar="WHEN"),
]  # fmt: skip
Until = Annotated[
    str,
    typer.Option("--until", help="Until when; a day with its end. Else now.",
                 show_default=False, metavar="WHEN"),
]  # fmt: skip
DAYS = 7  # as far back as it goes where nobody says


def excursions(
    context: typer.Context,
    unit: UnitArg,
    since: From = "",
    until: Until = "",
    json: Json = False,
) -> None:
    r"""When a unit was beyond its limit, and what was decided of each container that stood there.

    \b
    Examples:
      holdlog unit excursions walk-in
      holdlog unit excursions walk-in --from 2026-06-01 --until 2026-06-02
    """
    shop = kitchen(context)
    found = _story(shop, unit, since, until)
    if json:
        emit(_story_json(found, shop))
    else:
        say(_story_parts(found, shop))


def plot(
    context: typer.Context,
    unit: UnitArg,
    since: From = "",
    until: Until = "",
    to: Annotated[
        str,
        typer.Option(
            "--to",
            help="Draw it to this file: .png, .svg or .pdf.",
            show_default=False,
            metavar="FILE",
        ),
    ] = "",
    json: Json = False,
) -> None:
    r"""Plot the readings of a unit: here in characters, or to a picture for the record.

    \b
    Examples:
      holdlog unit plot walk-in
      holdlog unit plot walk-in --to walk-in.png
    """
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.printers import own_fonts
    from holdlog.kitchen.unit_plot import plot_of, plot_of_course
    from holdlog.reports.plots import drawn
    from holdlog.reports.sketch import sketched

    shop = kitchen(context)
    kind = Path(to).suffix.lstrip(".").lower()
    if to and kind not in ("png", "svg", "pdf"):
        raise Mistake("bad-picture", f"{to!r} is no picture.", "End it with .png, .svg or .pdf.")
    found = _story(shop, unit, since, until)
    if found.courses:
        picture = plot_of_course(found, found.courses[0], shop, broken=bool(to))
    else:
        scale = found.hand[-1].temperature.scale if found.hand else shop.scale
        same = [each for each in found.hand if each.temperature.scale == scale]
        picture = plot_of(found.unit.name, found.limit, scale, same, shop)
    count = sum(not isnan(each) for each in picture.readings.degrees)
    empty = not count
    if to and not empty:
        save(context, to, drawn(picture, kind, own_fonts(shop)))  # type: ignore[arg-type]
    if json:
        emit({"unit": found.unit.name, "file": to or None, "readings": count})
    elif empty:
        say([f"No reading of the {found.unit.name} in that time."])
    elif to:
        say([f"{to}: {count_of(count, 'reading')}."])
    else:
        say([picture.title, *sketched(picture)])


def _story(shop: "Kitchen", unit: str, since: str, until: str) -> "UnitStory":
    from holdlog.core.errors import Mistake
    from holdlog.core.moments import DAY, Instant
    from holdlog.kitchen.unit_story import story

    with shop.db.reading() as conn:
        now = shop.moment(conn)
    end = _when(until, shop, end=True) if until else now
    start = _when(since, shop, end=False) if since else Instant(end - DAYS * DAY)
    if start > now:
        raise Mistake("in-the-future", "All of that is still to come.", "Give an earlier --from.")
    if end < start:
        raise Mistake("bad-period", "It ends before it begins.", "Give --from, then --until.")
    return story(shop, shop.unit(unit), start, min(end, now))


def _when(text: str, shop: "Kitchen", *, end: bool) -> "Instant":
    from holdlog.core.moments import end_of_day, read_day, read_moment, start_of_day

    if ":" in text:
        return read_moment(text, shop.now(), shop.where)
    day = read_day(text)
    return end_of_day(day, shop.where) if end else start_of_day(day, shop.where)


def _story_parts(found: "UnitStory", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.cli.unit_words import course_told, limit_told
    from holdlog.core.moments import show_length
    from holdlog.reports.tables import Table

    span = f"{at_told(found.since, shop)} to {at_told(found.until, shop)}"
    parts: list[Table | str] = [f"{found.unit.name}, {span}: {limit_told(found.limit, shop)}"]
    for shown in found.courses:
        parts += course_told(shown, shop, found.unit.name)
        rows = tuple(
            (
                at_told(each.begins, shop), at_told(each.ends, shop),
                show_length(each.ends - each.begins), f"{each.worst / 100:g} °{shown.scale}",
            )
            for each in shown.total.events
        )  # fmt: skip
        if rows:
            parts += ["", Table("Events", ("from", "to", "length", "worst"), rows)]
    beyond = [each for each in found.hand
              if found.limit is not None and not found.limit.within(each.temperature)]  # fmt: skip
    parts += [
        f"Read by hand: {each.temperature} on {at_told(each.at, shop)}, beyond the limit."
        for each in beyond
    ]
    if not found.courses and not found.hand:
        parts.append("No readings in that time.")
    if found.struck:
        heads = ("code", "item", "beyond", "unknown", "decided")
        table = tuple(_struck_row(each, shop) for each in found.struck)
        parts += ["", Table("Stood there in that time", heads, table)]
    return parts


def _struck_row(each: "Struck", shop: "Kitchen") -> tuple[str, ...]:
    from holdlog.core.codes import show
    from holdlog.core.moments import show_length

    decided = each.decision + (f": {each.why}" if each.why else "")
    if each.row.ended_at is not None:
        decided += f", {at_told(each.row.ended_at, shop)}"
    return (
        show(each.row.code), each.row.item_name, show_length(each.seconds * 1000),
        show_length(each.unknown_seconds * 1000), decided,
    )  # fmt: skip


def _story_json(found: "UnitStory", shop: "Kitchen") -> dict[str, Any]:
    from holdlog.cli.show import moment
    from holdlog.cli.unit_words import course_json, limit_json, reading_json

    return {
        "unit": found.unit.name,
        "limit": limit_json(found.limit),
        "from": moment(found.since, shop),
        "until": moment(found.until, shop),
        "logger": [course_json(each, shop) for each in found.courses],
        "by_hand": [reading_json(each, shop) for each in found.hand],
        "containers": [
            {
                **row_json(each.row, shop),
                "seconds_beyond": each.seconds,
                "unknown_seconds": each.unknown_seconds,
                "decision": each.decision,
                "why": each.why or None,
                "excursions": [
                    {
                        "entry": one.standing.entry.number,
                        "began": moment(one.began, shop),
                        "until": moment(one.at, shop),
                        "peak": str(one.fact.peak) if one.fact.peak is not None else None,
                    }
                    for one in each.excursions
                ],
            }
            for each in found.struck
        ],
    }
