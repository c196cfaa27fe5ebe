"""The round on paper: print the sheet, and enter afterwards what was ticked on it."""

import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.check import OnlyUnit
from holdlog.cli.show import emit, note, say
from holdlog.cli.wiring import At, By, Json, asks, kitchen, moment, spare, typed, who

if TYPE_CHECKING:
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.sheet_entry import Entered


def sheet(
    context: typer.Context,
    unit: OnlyUnit = "",
    to: Annotated[
        str, typer.Option("--to", help="The PDF to write.", metavar="FILE")
    ] = "round-sheet.pdf",
    paper: Annotated[str, typer.Option("--paper", help="letter or a4.")] = "letter",
    enter: Annotated[
        str,
        typer.Option(
            "--enter",
            help="What was ticked, a line each (-: typed in).",
            show_default=False,
            metavar="FILE",
        ),
    ] = "",
    yes: Annotated[bool, typer.Option("--yes", help="Record it without asking.")] = False,
    in_charge: Annotated[
        str,
        typer.Option(
            "--in-charge", help="Who answers for the round.", show_default=False, metavar="WHO"
        ),
    ] = "",
    at: At = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""A PDF of all that is on hand, in the order of the walk, with boxes to tick; and the quick
    way to enter what was ticked.

    With --enter, a code is its last four signs, which the sheet prints large:

    \b
      sheet 1234-AB12           the mark at the foot of the sheet
      read walk-in 39F          what a unit read
      bin 9QX2 K3FA date        the reason comes last
      used 9QX2                 also: sold, staff-meal, donated, returned
      missing 9QX2              not there; it stays on record as not seen
      seen 9QX2
      rest walk-in              everything else on the sheet was seen
      found walk-in rice 500g    no label, binned

    What this comes to is shown, and recorded as a round: all of it, or nothing.

    \b
    Examples:
      holdlog round sheet --to round.pdf
      holdlog round sheet -u walk-in --paper a4
      holdlog round sheet --enter ticked.txt --yes --in-charge JR --by MK
    """  # fmt: skip
    shop = kitchen(context)
    if enter:
        _enter(shop, who(by), enter, at, in_charge, yes=yes, json=json)
    else:
        _print(shop, unit, to, paper, json=json)


def _print(shop: "Kitchen", unit: str, to: str, paper: str, *, json: bool) -> None:
    from holdlog.cli.round_sheet_words import sheet_of
    from holdlog.core import whole_files
    from holdlog.kitchen.round_sheet import sheet_data
    from holdlog.labels.typefaces import label_font
    from holdlog.reports.page_text import Typeface
    from holdlog.reports.round_sheet import round_sheet

    found = sheet_data(shop, unit)
    typeface = Typeface(label_font(bold=False), label_font(bold=True), found.fonts)
    made = round_sheet(sheet_of(found, shop), paper.strip().lower(), typeface)
    whole_files.write(spare(shop, to), made.pdf, f"{whole_files.ELSEWHERE[:-1]}: --to.")
    for warning in made.warnings:
        note(warning)
    count = sum(len(each.lines) for each in found.units)
    if json:
        emit({"file": to, "sheet": found.mark, "entry": found.number, "head": found.head,
              "containers": count, "pages": made.pages,
              "warnings": list(made.warnings)})  # fmt: skip
        return
    pages = "1 page" if made.pages == 1 else f"{made.pages} pages"
    containers = "1 container" if count == 1 else f"{count} containers"
    say(
        [
            f"{to}: sheet {found.mark}, {containers}, {pages}.",
            "Walked? Enter it: holdlog round sheet --enter -",
        ]
    )


def _enter(
    shop: "Kitchen", by: str, file: str, at: str, in_charge: str, *, yes: bool, json: bool
) -> None:
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.sheet_entry import enter

    when = moment(shop, at)
    lines = _lines(file)
    if not yes:
        would = enter(shop, by, lines, when, in_charge, keep=False)
        if json:
            emit(_json(would, shop, recorded=False))
        else:
            say(["This would be recorded:", *_parts(would, shop)])
        if not asks():
            raise Mistake("not-confirmed", "Nothing was recorded.", "If it is right, add --yes.")
        if not typer.confirm("Record it?", default=False):
            say(["Nothing was recorded."])
            return
    done = enter(shop, by, lines, when, in_charge, keep=True)
    if json:
        emit(_json(done, shop, recorded=True))
    elif yes:
        say(["Recorded:", *_parts(done, shop), _next(done)])
    else:
        say([f"Recorded. {_next(done)}"])


def _lines(file: str) -> list[str]:
    if file == "-" and asks():
        print("A line each; an empty line ends it.")
        lines = []
        print("> ", end="", flush=True)
        while line := sys.stdin.readline().strip():
            lines.append(line)
            print("> ", end="", flush=True)
        return lines
    return typed(file, "it holds a line for each tick").splitlines()


def _parts(found: "Entered", shop: "Kitchen") -> list[str]:
    from holdlog.cli.show import count_of, rows_told

    outcome = found.outcome
    parts = [f"  {each}" for each in found.says]
    parts.append(f"In all {count_of(outcome.seen, 'container')} seen.")
    if outcome.not_seen:
        parts.append(f"NOT SEEN, {len(outcome.not_seen)}, and still on hand:")
        parts += rows_told(outcome.not_seen, shop)
    return parts


def _next(found: "Entered") -> str:
    return f"The round: holdlog round show {found.outcome.round.id}"


def _json(found: "Entered", shop: "Kitchen", *, recorded: bool) -> dict[str, Any]:
    from holdlog.cli.round_words import outcome_json

    return {"recorded": recorded, "says": list(found.says), **outcome_json(found.outcome, shop)}
