"""Tracing and recalling: where food came from, where it went, and what goes on hold."""

from typing import Annotated

import typer

from holdlog.cli.show import emit, say
from holdlog.cli.wiring import By, Json, kitchen

What = Annotated[
    str,
    typer.Argument(
        metavar="CODE|BATCH", help="A container, or a batch: B17. Else --lot.", show_default=False
    ),
]
Lot = Annotated[str, typer.Option("--lot", help="The maker's lot.", show_default=False)]


def trace(context: typer.Context, what: What = "", lot: Lot = "", json: Json = False) -> None:
    r"""Where it came from, down to the maker's lots, and where it went, to the last tub.

    A lot is found however it was typed: L-442 is l442.

    \b
    Examples:
      holdlog trace H7K3-9QX2
      holdlog trace --lot L442
    """
    from holdlog.cli.trace_words import trace_json, trace_parts
    from holdlog.kitchen.trace import trace as job

    shop = kitchen(context)
    found = job(shop, what, lot)
    if json:
        emit(trace_json(found, shop))
    else:
        say(trace_parts(found, shop))


def recall(
    context: typer.Context,
    what: What = "",
    lot: Lot = "",
    why: Annotated[
        str, typer.Option("--why", help="The notice, or what was found.", show_default=False)
    ] = "",
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what it would hold.")
    ] = False,
    by: By = "",
    json: Json = False,
) -> None:
    r"""Put everything that holds it on hold at once, and list what is gone already.

    It holds what is made of it later, too, and further deliveries of the lot. What is found is
    discarded (-r recall) or sent back (use --as returned). A recall that was a mistake or was
    withdrawn is lifted by voiding its entry: holdlog void.

    \b
    Examples:
      holdlog recall --lot L442 --dry-run
      holdlog recall --lot L442 --why "maker's notice of 3 June: listeria" --by JR
      holdlog recall H7K3-9QX2 --why "a glass broke beside it" --by JR
    """
    from holdlog.cli.trace_words import recall_json, recall_parts
    from holdlog.kitchen.recall import recall as job

    shop = kitchen(context)
    done = job(shop, by, what, lot, why, dry_run=dry_run)
    if json:
        emit(recall_json(done, shop))
    else:
        say(recall_parts(done, shop))
