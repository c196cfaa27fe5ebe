"""Cooling: what cools now, a reading, a move, the time off the heat, the plot for the record."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.onto import AS_USUAL, Onto, labels, place_for
from holdlog.cli.show import columns, emit, note, say
from holdlog.cli.wiring import At, By, Json, ProbeName, kitchen, moment, save

if TYPE_CHECKING:
    from holdlog.core import events as ev
    from holdlog.core.moments import Instant
    from holdlog.kitchen.cool import Cooled, PutIn
    from holdlog.kitchen.coolings import Logged
    from holdlog.kitchen.kitchen import Kitchen

KINDS = ("png", "svg", "pdf")
OFF_HEAT = ("off-heat", "off heat")
# The size of a sketch under each cooling: several fit on a screen.
WIDE, TALL, NARROWEST = 60, 9, 30


@labels
def cool(
    context: typer.Context,
    code: Annotated[
        str, typer.Argument(metavar="CODE", help="Whose cooling; none: all there are.")
    ] = "",
    reading: Annotated[
        str, typer.Argument(metavar="READING", help='What it reads: "68F"; or off-heat.')
    ] = "",
    off_heat: Annotated[
        str,
        typer.Option("--off-heat", help="When it came off the heat, hot.", show_default=False,
                     metavar="WHEN"),
    ] = "",
    put_in: Annotated[
        str,
        typer.Option("--in", help='What it cools in from now on: "ice bath", or a unit.',
                     show_default=False, metavar="WHERE"),
    ] = "",
    surroundings: Annotated[
        str,
        typer.Option("--surroundings", help='How warm it is in there: "33F".', show_default=False,
                     metavar="READING"),
    ] = "",
    at: At = "",
    evidence: Annotated[
        str,
        typer.Option("--evidence", help="For a later day: the paper or logger it rests on.",
                     show_default=False),
    ] = "",
    probe: ProbeName = "",
    label: Annotated[
        bool, typer.Option("--label", help="Once it is cold, make its date labels.")
    ] = False,
    plot: Annotated[
        str,
        typer.Option("--plot", help="Its plot, for the record: .png, .svg or .pdf.",
                     show_default=False, metavar="FILE"),
    ] = "",
    sketch: Annotated[
        bool, typer.Option("--sketch", help="Sketch each cooling, where it is piped too.")
    ] = False,
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:  # fmt: skip
    r"""What is cooling, and when to read it next; with a reading, log it for the whole batch.

    Read it as it passes the hot limit, just before the first deadline and just before the last:
    a limit that no reading proves is not met. Say when it is put elsewhere (--in): what is
    expected of it begins anew there. A forecast warns and never judges.

    \b
    Examples:
      holdlog cool
      holdlog cool H7K3-9QX2 off-heat --at 14:05
      holdlog cool H7K3-9QX2 104F
      holdlog cool H7K3-9QX2 --in "ice bath" --surroundings 33F
      holdlog cool H7K3-9QX2 40F --label
      holdlog cool H7K3-9QX2 --plot cooling.pdf
    """
    if plot:
        _check_plot(plot)
    shop = kitchen(context)
    if not code:
        said = (put_in, surroundings, off_heat, at, evidence, plot)
        _refuse_without_code(any(said) or label)
        _list(shop, sketch=sketch, json=json)
        return
    place = place_for(context, shop, onto) if label else None
    facts, when = _facts(shop, reading, off_heat, at, probe)
    where = _put_in(shop, put_in, surroundings, when)
    done = _log(shop, by, code, when, facts, evidence, where) if facts or where else None
    from holdlog.cli import cooling_words
    from holdlog.kitchen.coolings import cooling_of

    each = cooling_of(shop, code)
    drawn = bool(plot) and _drawn(context, shop, each, plot)
    data, lines = _answer(
        shop, each, done, where, plot if drawn else "", sketch=sketch, label=label
    )
    if facts:
        from holdlog.cli.probe_words import doubt_said

        lines = [*lines, *doubt_said(shop, probe)]
    rows = [row for row in each.rows if row.ended_at is None and row.state != "frozen"]
    if place is not None and rows and cooling_words.fit(each):
        from holdlog.cli.finish import finish

        if not json:
            say(lines)
        finish(shop, by, rows, place, json=json, headline="Its date:", also=data)
    elif json:
        emit(data)
    else:
        none = "  No date label: its cooling is not met, or it is not to be served."
        say([*lines, none] if label else lines)
    if plot and not drawn:
        raise typer.Exit(1)


def _refuse_without_code(wanted: bool) -> None:
    from holdlog.core.errors import Mistake

    if wanted:
        raise Mistake("no-code", "Whose cooling?", "Give a code: holdlog cool CODE ...")


def _list(shop: "Kitchen", *, sketch: bool, json: bool) -> None:
    from holdlog.cli import cooling_words
    from holdlog.cli.show import moment as moment_json
    from holdlog.kitchen.coolings import coolings

    found = coolings(shop)
    if json:
        told = [cooling_words.cooling_json(each, shop) for each in found]
        emit({"kitchen": shop.name, "at": moment_json(shop.now(), shop), "coolings": told})
        return
    sketches = [_sketch(shop, each, wanted=sketch) for each in found]
    say(cooling_words.list_parts(found, shop, sketches))


def _sketch(shop: "Kitchen", each: "Logged", *, wanted: bool) -> list[str]:
    """The cooling in characters, where somebody looks at a screen that is wide enough."""
    import sys

    room = min(WIDE, columns() - 12)
    if room < NARROWEST or not (wanted or sys.stdout.isatty()):
        return []
    from holdlog.kitchen.cooling_plot import cooling_plot
    from holdlog.reports.sketch import sketched

    return sketched(cooling_plot(shop, each), room, TALL)


# ---- what is logged --------------------------------------------------------------------------


def _facts(
    shop: "Kitchen", reading: str, off_heat: str, at: str, probe: str
) -> "tuple[list[tuple[ev.Fact, Instant]], Instant]":
    """What was said of it, each with its moment; and the moment that ``--at`` stands for."""
    from holdlog.core import events as ev
    from holdlog.core.errors import Mistake
    from holdlog.core.temperature import read_temperature

    when = moment(shop, at)
    facts: list[tuple[ev.Fact, Instant]] = []
    if off_heat:
        facts.append((ev.OffHeat(), moment(shop, off_heat)))
    if reading.strip().lower() in OFF_HEAT:
        if off_heat:
            raise Mistake("too-much", "Off the heat was said twice.", "Leave one of them out.")
        facts.append((ev.OffHeat(), when))
    elif reading:
        facts.append((ev.Cooling(read_temperature(reading), probe), when))
    return facts, when


def _put_in(shop: "Kitchen", said: str, surroundings: str, at: "Instant") -> "PutIn | None":
    """What it cools in. A unit's own temperature is what was read there lately, if anything."""
    from holdlog.core.errors import Mistake
    from holdlog.core.temperature import read_temperature
    from holdlog.kitchen.cool import PutIn
    from holdlog.kitchen.surroundings import last_read

    if not said:
        if surroundings:
            raise Mistake("no-place", "How warm is it where?", 'Say --in "ice bath", or a unit.')
        return None
    try:
        unit = shop.unit(said)
    except Mistake:
        unit = None  # an ice bath is no unit
    around = read_temperature(surroundings) if surroundings else None
    if around is not None or unit is None:
        return PutIn(unit.name if unit is not None else said.strip(), unit, around)
    with shop.db.reading() as conn:
        read = last_read(shop, conn, unit, at)
    read_at, around = read if read is not None else (None, None)
    return PutIn(unit.name, unit, around, read_at)


def _log(
    shop: "Kitchen", by: str, code: str, when: "Instant",
    facts: "list[tuple[ev.Fact, Instant]]", evidence: str, where: "PutIn | None",
) -> "Cooled":  # fmt: skip
    from holdlog.kitchen.cool import log

    return log(shop, by, code, when, facts, evidence, where)


# ---- the answer ------------------------------------------------------------------------------


def _answer(
    shop: "Kitchen",
    each: "Logged",
    done: "Cooled | None",
    where: "PutIn | None",
    plot: str,
    *,
    sketch: bool,
    label: bool,
) -> tuple[dict[str, Any], list[str]]:
    """One cooling, for programs and for people."""
    from holdlog.cli import cooling_words

    data = {**cooling_words.cooling_json(each, shop), "plot": plot or None}
    data["entries"] = list(done.entries) if done is not None else []
    lines = [cooling_words.head(each), f"  {cooling_words.last_read(each, shop)}"]
    if where is not None and where.read_at is not None:
        lines.append(
            f"  The {where.method} was {where.surroundings} when it was last read, at "
            f"{cooling_words.clock(where.read_at, each, shop)}. Warmer now? Say --surroundings."
        )
    lines += [f"  {line}" for line in cooling_words.logged_told(each, shop, labelling=label)]
    if done is not None and each.ahead is not None and each.ahead.question:
        lines.append(
            f"  It is recorded as you typed it. Typed wrong? holdlog void {done.entries[0]} "
            '--why "typed wrong"'
        )
    drawn = _sketch(shop, each, wanted=sketch) if sketch or done is None else []
    lines += ["", *drawn] if drawn else []
    lines += [f"Plot: {plot}"] if plot else []
    return data, lines


def _check_plot(file: str) -> None:
    """Refuse what cannot be drawn before anything is recorded."""
    from holdlog.core.errors import Mistake

    path = Path(file)
    if path.suffix.lower().removeprefix(".") not in KINDS:
        raise Mistake(
            "bad-plot", f"{file}: what kind of picture?", "End its name in .png, .svg or .pdf."
        )
    if not path.absolute().parent.is_dir():
        raise Mistake("bad-plot", f"{file}: there is no such folder.", "Make it first.")


def _drawn(context: typer.Context, shop: "Kitchen", each: "Logged", file: str) -> bool:
    """Draw it, and give whether it could be written: what was logged before is told all the
    same, or it would be logged twice.
    """
    from holdlog.core.errors import Fault
    from holdlog.kitchen.cooling_plot import cooling_plot
    from holdlog.kitchen.printers import own_fonts
    from holdlog.reports.plots import Kind, drawn

    suffix = Path(file).suffix.lower().removeprefix(".")
    kinds: dict[str, Kind] = {"png": "png", "svg": "svg", "pdf": "pdf"}
    again = f"Draw it again: holdlog cool {each.rows[0].code if each.rows else 'CODE'} --plot FILE"
    try:
        picture = drawn(cooling_plot(shop, each), kinds[suffix], own_fonts(shop))
        save(context, file, picture, again)
    except Fault as fault:
        note(fault.line())
        return False
    return True
