"""The round: walk the units with a scanner, go on with an open round, look at old ones."""

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.onto import AS_USUAL, Onto, labels, place_for
from holdlog.cli.show import at_told, emit, note, say
from holdlog.cli.wiring import By, Json, asks, kitchen, typed, who

if TYPE_CHECKING:
    from holdlog.cli.round_input import Input
    from holdlog.kitchen.kitchen import Kitchen, Unit
    from holdlog.kitchen.round import Round

MOST_CODES = 100_000
STOPPED = 130


@labels
def round_(
    context: typer.Context,
    unit: Annotated[
        list[str],
        typer.Option(
            "--unit",
            "-u",
            help="Which unit; more than one may be named. Else all.",
            show_default=False,
            metavar="UNIT",
        ),
    ] = [],  # noqa: B006  (typer copies it)
    resume: Annotated[bool, typer.Option("--resume", help="Go on with the open round.")] = False,
    end: Annotated[
        bool, typer.Option("--end", help="End the open round: what was not seen, and initials.")
    ] = False,
    number: Annotated[
        str,
        typer.Option(
            "--round", help="Which open round. Else the newest.", show_default=False, metavar="R12"
        ),
    ] = "",
    shelf: Annotated[
        int,
        typer.Option(
            "--shelf",
            help="The shelf to begin with; 1 is the top one.",
            min=0,
            max=20,
            show_default=False,
        ),
    ] = 0,
    codes: Annotated[
        str,
        typer.Option(
            "--codes",
            help="A list of scanned codes, one a line (-: standard input). Needs one --unit.",
            show_default=False,
            metavar="FILE",
        ),
    ] = "",
    in_charge: Annotated[
        str,
        typer.Option(
            "--in-charge",
            help="With --codes or --end: who answers for it.",
            show_default=False,
            metavar="WHO",
        ),
    ] = "",
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Walk the units, scan by scan, with a scanner or by typing codes.

    Each unit's temperature is asked first; then every code that is scanned is answered at once
    in one line. A key and Enter (? shows them) bins, moves, freezes or labels what was scanned
    last. At the end it asks after all that was not seen. A round that was left stays open.

    \b
    Examples:
      holdlog round
      holdlog round --unit walk-in --unit reach-in
      holdlog round --codes scans.txt --unit walk-in --json
    """  # fmt: skip
    from holdlog.core.errors import Mistake

    if context.invoked_subcommand is not None:
        return
    if json and not (codes or end):
        raise Mistake(
            "no-json", "A round that is walked speaks to a cook.", "JSON: with --codes or --end."
        )
    shop = kitchen(context)
    chosen = [shop.unit(name) for name in unit]
    if codes:
        _from_list(shop, by, chosen, codes, in_charge, json=json)
        return
    place = place_for(context, shop, onto)
    by = who(by)
    if hasattr(sys.stdin, "reconfigure"):
        sys.stdin.reconfigure(errors="replace")
    from holdlog.cli.round_input import Input

    lines = Input()
    found = _round(shop, by, chosen, number, lines, resume=resume or end or bool(number))
    if end and (json or in_charge):
        _end_unasked(shop, by, found, in_charge, json=json)
        return
    _walk(shop, by, found, chosen, place, lines, shelf or None, closing=end)


def _walk(
    shop: "Kitchen", by: str, found: "Round", chosen: "list[Unit]", place: "object",
    lines: "Input", shelf: int | None, *, closing: bool,
) -> None:  # fmt: skip
    from typing import cast

    from holdlog.cli.onto import Place
    from holdlog.cli.round_close import close
    from holdlog.cli.round_walk import Walk, leave, scan, walk

    names = [each.name for each in chosen] or found.units
    units = [each for name, each in shop.units.items() if name in names]
    by = by.strip().upper()
    on = Walk(shop, by, found, units, cast("Place", place), lines, _start(found, units, by), shelf)
    try:
        if closing:
            if not close(on, scan):
                leave(on)
        else:
            say([f"Round {found.id}: {', '.join(unit.name for unit in units)}. Keys: ?"])
            walk(on)
    except KeyboardInterrupt:
        print()
        leave(on)
        raise typer.Exit(STOPPED) from None


def _start(found: "Round", units: "list[Unit]", by: str) -> "Unit":
    """Where the cook had been in this round; else the first unit that nobody came to."""
    by_name = {unit.name: unit for unit in units}
    if found.place.get(by) in by_name:
        return by_name[found.place[by]]
    return next((unit for unit in units if unit.name not in found.came_to), units[0])


def _round(
    shop: "Kitchen", by: str, chosen: "list[Unit]", number: str, lines: "Input", *, resume: bool
) -> "Round":
    """The open round that is meant, or a new one; a cook is offered the open one."""
    from holdlog.core.errors import Mistake
    from holdlog.kitchen import round as job

    if number:
        found = job.find(shop, number)
        if found.end is not None:
            raise Mistake("round-ended", f"Round {found.id} is ended.", "Begin a new one.")
        return found
    known = job.open_rounds(shop)
    if resume and not known:
        raise Mistake("no-round", "No round is open.", "Begin one with: holdlog round")
    if resume:
        return known[0]
    if known and asks():
        newest = known[0]
        begun = f"{at_told(newest.at, shop)} by {newest.by}"
        where = ", ".join(newest.units)
        said = lines.ask(f"Round {newest.id} is open ({where}; {begun}). Go on with it? [Y/n]")
        if said is None or not said.lower().startswith("n"):
            return newest
    return job.begin(shop, by, chosen)


def _end_unasked(shop: "Kitchen", by: str, found: "Round", in_charge: str, *, json: bool) -> None:
    from holdlog.cli.round_close import others_told
    from holdlog.cli.round_words import outcome_json, outcome_parts
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.round_end import end

    if not in_charge.strip():
        raise Mistake("no-name", "Who answers for the round?", "Say --in-charge with initials.")
    told = others_told(found, by, shop)
    done = end(shop, by, found, in_charge)
    for each in told:
        note(f"{each} What is scanned now is refused.")
    if json:
        emit(outcome_json(done, shop))
    else:
        say(outcome_parts(done, shop))


def _from_list(
    shop: "Kitchen", by: str, chosen: "list[Unit]", file: str, in_charge: str, *, json: bool
) -> None:
    from holdlog.cli.round_words import answer_json, answer_lines, outcome_json, outcome_parts
    from holdlog.core.errors import Mistake
    from holdlog.kitchen import round as job
    from holdlog.kitchen.round_end import end

    if len(chosen) != 1:
        raise Mistake("no-unit", "In which unit were these scanned?", "Say one --unit.")
    scanned = _read(file)
    walk = job.begin(shop, by, chosen)
    job.come_to(shop, by, walk, chosen[0])
    answers = [job.see(shop, by, walk, chosen[0], each) for each in scanned]
    done = end(shop, by, walk, in_charge)
    if json:
        told = [answer_json(each, shop) for each in answers]
        emit({**outcome_json(done, shop), "scans": told})
        return
    for each in answers:
        print("\n".join(answer_lines(each, shop)))
    say(["", *outcome_parts(done, shop)])


def _read(file: str) -> list[str]:
    from holdlog.core.errors import BadFile

    text = typed(file, "it holds one code a line")
    codes = [line.strip() for line in text.splitlines() if line.strip()]
    if not codes or len(codes) > MOST_CODES:
        raise BadFile("bad-file", (f"{file} holds {len(codes)} codes; one a line is read.",))
    return codes


def list_(context: typer.Context, json: Json = False) -> None:
    r"""The rounds that were walked, and those that are open.

    \b
    Example:
      holdlog round list
    """
    from holdlog.cli.round_words import round_json, rounds_parts
    from holdlog.kitchen.round import rounds

    shop = kitchen(context)
    with shop.db.reading() as conn:
        known = rounds(shop, conn)
    if json:
        emit([round_json(each, shop) for each in known])
    else:
        say(rounds_parts(known, shop))


def show(
    context: typer.Context,
    number: Annotated[str, typer.Argument(metavar="ROUND", help="R12. Else the newest.")] = "",
    json: Json = False,
) -> None:
    r"""What a round came to: seen, not seen, elsewhere, unknown, and what was done in it.

    \b
    Examples:
      holdlog round show
      holdlog round show R1
    """
    from holdlog.cli.round_words import outcome_json, outcome_parts
    from holdlog.kitchen.round import find
    from holdlog.kitchen.round_end import outcome

    shop = kitchen(context)
    found = outcome(shop, find(shop, number))
    if json:
        emit(outcome_json(found, shop))
    else:
        say(outcome_parts(found, shop))
