"""Looking: due, on-hand, why."""

from typing import Annotated

import typer

from holdlog.cli.show import emit, say
from holdlog.cli.wiring import Code, Json, kitchen

OnlyUnit = Annotated[
    str, typer.Option("--unit", "-u", help="Only this unit.", show_default=False, metavar="UNIT")
]


def due(
    context: typer.Context,
    unit: OnlyUnit = "",
    check: Annotated[
        bool, typer.Option("--check", help="Leave with 1 if anything must go or is on hold.")
    ] = False,
    json: Json = False,
) -> None:
    r"""The morning check: what must go now, today and tomorrow, by unit as you walk.

    \b
    Examples:
      holdlog due
      holdlog due -u walk-in
    """
    from holdlog.cli import morning
    from holdlog.kitchen.due import due as job

    shop = kitchen(context)
    found = job(shop, unit)
    if json:
        emit(morning.due_json(found, shop))
    else:
        say(morning.due_parts(found, shop))
    if check and (found.go or found.hold):
        raise typer.Exit(1)


def on_hand(context: typer.Context, unit: OnlyUnit = "", json: Json = False) -> None:
    r"""Everything that is in the kitchen now, by unit as you walk.

    \b
    Examples:
      holdlog on-hand
      holdlog on-hand -u walk-in
    """
    from holdlog.cli import morning
    from holdlog.kitchen.due import everything

    shop = kitchen(context)
    lines = everything(shop, unit)
    if json:
        emit([morning.line_json(each, shop) for each in lines])
    else:
        say(morning.on_hand_parts(lines, shop, unit))


def why(context: typer.Context, code: Code, json: Json = False) -> None:
    r"""Why this date: the rules it stands on, with their citations, and its whole story.

    \b
    Example:
      holdlog why H7K3-9QX2
    """
    from holdlog.cli import story
    from holdlog.kitchen.why import why as job

    shop = kitchen(context)
    found = job(shop, code)
    if json:
        emit(story.why_json(found, shop))
    else:
        say(story.why_parts(found, shop))
