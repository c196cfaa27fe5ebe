"""Units: list, show, read."""

from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.show import at_told, count_of, emit, row_json, rows_told, say
from holdlog.cli.wiring import At, By, Json, ProbeName, kitchen, moment

if TYPE_CHECKING:
    from holdlog.core.moments import Instant
    from holdlog.journal.on_hand import ContainerRow
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.unit_read import UnitWasRead
    from holdlog.kitchen.unit_story import UnitShown
    from holdlog.reports.tables import Table

UnitArg = Annotated[str, typer.Argument(metavar="UNIT", help="The unit; its beginning will do.")]
Evidence = Annotated[
    str,
    typer.Option("--evidence", show_default=False,
                 help="For an earlier day: the paper or logger it rests on."),
]  # fmt: skip
# How many containers a screen names before it only counts.
NAMED = 30


def unit_list(context: typer.Context, json: Json = False) -> None:
    r"""The units in the order of the walk: sort, limit, and what was read last.

    \b
    Example:
      holdlog unit list
    """
    from holdlog.cli.unit_words import now_json, now_row
    from holdlog.kitchen.units import overview
    from holdlog.reports.tables import Table

    shop = kitchen(context)
    with shop.db.reading() as conn:
        at = shop.moment(conn)
        found = overview(shop, conn, at)
    if json:
        emit([now_json(each, shop, at) for each in found])
    elif not found:
        say(['There is no unit yet. Add one: holdlog unit add "walk-in"'])
    else:
        rows = tuple(now_row(each, shop, at) for each in found)
        say([Table("", ("", "unit", "sort", "limit", "last reading"), rows)])


def unit_show(context: typer.Context, unit: UnitArg, json: Json = False) -> None:
    r"""One unit: its limit, its readings of a day as a plot, what is in it, what is on hold.

    \b
    Example:
      holdlog unit show walk-in
    """
    from holdlog.cli.unit_words import now_json, reading_json
    from holdlog.core.moments import DAY
    from holdlog.kitchen.unit_story import unit_now

    shop = kitchen(context)
    found = unit_now(shop, shop.unit(unit), DAY)
    if json:
        emit(
            {
                **now_json(found.now, shop, found.at),
                "readings": [reading_json(each, shop) for each in found.readings],
                "inside": [row_json(row, shop) for row in found.inside],
                "on_hold": [row_json(row, shop) for row in found.held],
            }
        )
        return
    say(_shown_parts(found, shop))


def _shown_parts(found: "UnitShown", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.cli.unit_words import last_told, limit_told
    from holdlog.kitchen.unit_plot import plot_of
    from holdlog.reports.sketch import sketched

    now = found.now
    parts: list[Table | str] = [f"{now.unit.name} ({now.unit.sort}): {limit_told(now.limit, shop)}"]
    parts.append(f"  {last_told(now, shop, found.at)}")
    scale = found.readings[-1].temperature.scale if found.readings else shop.scale
    same = [each for each in found.readings if each.temperature.scale == scale]
    if same:
        plot = plot_of(now.unit.name, now.limit, scale, same, shop, now=found.at)
        parts += ["", *sketched(plot)]
    elif now.last is not None:
        parts.append("  No reading of the last 24 hours.")
    count = count_of(len(found.inside), "container")
    parts += ["", f"{count} in it." if found.inside else "Nothing is in it."]
    held = {row.code for row in found.held}
    others = [row for row in found.inside if row.code not in held]
    parts += rows_told(others[:NAMED], shop)
    parts += _and_more(len(others))
    if found.held:
        parts += ["", *held_told(found.held, shop, now.unit.name)]
    return parts


def unit_read(
    context: typer.Context,
    unit: UnitArg,
    reading: Annotated[str, typer.Argument(metavar="READING", help='What it reads: "38F".')],
    at: At = "",
    probe: ProbeName = "",
    evidence: Evidence = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Log what a unit reads. Beyond its limit, everything in it goes on hold at once.

    The time since its last good reading is unknown until the missing readings are entered:
    holdlog unit import, or this with --at and --evidence.

    \b
    Examples:
      holdlog unit read walk-in 38F
      holdlog unit read walk-in 52F --by MK
    """
    from holdlog.core.temperature import read_temperature
    from holdlog.kitchen.unit_read import read_unit

    shop = kitchen(context)
    done = read_unit(
        shop, by, shop.unit(unit), moment(shop, at), read_temperature(reading), probe, evidence
    )
    if json:
        emit(_read_json(done, shop))
    else:
        say(_read_parts(done, shop))


def _read_parts(done: "UnitWasRead", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.cli.unit_words import limit_told

    name, read = done.unit.name, done.reading
    said = f"{name}: {read.temperature} on {at_told(read.at, shop)}"
    if done.good is None:
        return [f"{said}. {limit_told(done.limit, shop)}."]
    if done.good:
        parts: list[Table | str] = [f"{said}: good."]
        if not read.proves:
            parts.append(
                "  It proves nothing: it is of an earlier day (name its paper: --evidence), or "
                "its probe was found off."
            )
        if done.rows:
            parts += ["Worked out anew:", *rows_told(done.rows, shop)]
        return parts + (held_told(done.still, shop, name) if done.still else [])
    limit = done.limit.show(read.temperature.scale) if done.limit is not None else ""
    parts = [f"{said}: BEYOND ITS LIMIT, {limit}."]
    if done.since is None:
        parts.append("  Since when is unknown: no good reading is on record.")
    else:
        when = at_told(done.since.at, shop)
        parts.append(f"  The last good reading was {done.since.temperature} on {when}.")
    if done.rows:
        parts += ["Do not serve; the person in charge decides:", *rows_told(done.rows, shop)]
    else:
        parts.append("Nothing in it goes on hold.")
    if done.left:
        parts += ["It stood there in that time, and is there no more:"]
        parts += [f"  {gone_told(row, shop)}" for row in done.left[:NAMED]]
        parts += _and_more(len(done.left))
    return [*parts, *(_next_steps(name) if done.still else [])]


def _next_steps(name: str) -> list[str]:
    return [
        (
            f'To shorten what is unknown: holdlog unit import "{name}" FILE, or holdlog unit read '
            f'"{name}" READING --at WHEN --evidence PAPER'
        ),
        "To keep a container: holdlog settle CODE --keep. To bin it: holdlog discard CODE",
    ]


def held_told(rows: "tuple[ContainerRow, ...]", shop: "Kitchen", unit: str) -> list[str]:
    """What an excursion still has on hold, and what to do."""
    return [
        f"{count_of(len(rows), 'container')} of the {unit} still on hold:",
        *rows_told(rows[:NAMED], shop),
        *_and_more(len(rows)),
        "To keep one: holdlog settle CODE --keep. To bin it: holdlog discard CODE",
    ]


def gone_told(row: "ContainerRow", shop: "Kitchen") -> str:
    """A container that is no longer where it was: where it went, or how it ended."""
    from holdlog.core.codes import show

    if row.ended_at is not None:
        went = f"{row.ended_as} on {at_told(row.ended_at, shop)}"
    else:
        went = f"now in the {row.unit}" + (f": {row.verdict.upper()}" if row.verdict else "")
    return f"{show(row.code)}  {row.item_name}: {went}"


def _and_more(count: int) -> list[str]:
    return [f"  and {count - NAMED} more (--json names all)"] if count > NAMED else []


def _read_json(done: "UnitWasRead", shop: "Kitchen") -> dict[str, object]:
    from holdlog.cli.show import moment as told
    from holdlog.cli.unit_words import limit_json, reading_json

    since: Instant | None = done.since.at if done.since is not None else None
    return {
        "unit": done.unit.name,
        "reading": reading_json(done.reading, shop),
        "limit": limit_json(done.limit),
        "good": done.good,
        "last_good": told(since, shop),
        "containers": [row_json(row, shop) for row in done.rows],
        "left": [row_json(row, shop) for row in done.left],
        "on_hold": [row_json(row, shop) for row in done.still],
    }
