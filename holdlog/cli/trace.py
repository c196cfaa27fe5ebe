"""Tracing and recalling: where food came from, where it went, and what goes on hold."""

from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.show import emit, say
from holdlog.cli.wiring import By, Json, asks, kitchen

if TYPE_CHECKING:
    from holdlog.kitchen.kitchen import Kitchen

_NOTHING = "Nothing was recorded."
What = Annotated[
    str,
    typer.Argument(
        metavar="CODE|BATCH", help="A container, or a batch: B17. Else --lot.", show_default=False
    ),
]
Lot = Annotated[str, typer.Option("--lot", help="The maker's lot.", show_default=False)]


def trace(context: typer.Context, what: What = "", lot: Lot = "", json: Json = False) -> None:
    r"""Where it came from, down to the maker's lots, and where it went, to the last tub.

    A lot is found however it was typed: L-442 is l442. Lots that look like it are named.

    \b
    Examples:
      holdlog trace H7K3-9QX2
      holdlog trace --lot L442
    """
    from holdlog.cli.trace_words import look_alike_told, lots_json, trace_json, trace_parts
    from holdlog.kitchen.lots import lots_like
    from holdlog.kitchen.trace import trace as job

    shop = kitchen(context)
    found = job(shop, what, lot)
    with shop.db.reading() as conn:
        near = lots_like(shop, conn, lot) if lot.strip() else []
    if json:
        emit({**trace_json(found, shop), "look_alike": lots_json(near, shop)})
    else:
        say([*trace_parts(found, shop), *look_alike_told(near, shop, "trace")])


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
    yes: Annotated[
        bool, typer.Option("--yes", help="Also a lot of which nothing is on record yet.")
    ] = False,
    listed: Annotated[bool, typer.Option("--list", help="The recalls in force.")] = False,
    by: By = "",
    json: Json = False,
) -> None:
    r"""Put everything that holds it on hold at once, and list what is gone already.

    It holds what is made of it later, too, and what comes in of the lot. What is found is
    discarded (-r recall) or sent back (use --as returned). A recall that was a mistake or was
    withdrawn is lifted by voiding its entry, on a named paper: holdlog void --evidence.

    A lot that is not on record is asked about first, with those that look like it; it is held the
    moment it comes in.

    \b
    Examples:
      holdlog recall --lot L442 --dry-run
      holdlog recall --lot L442 --why "maker's notice of 3 June: listeria" --by JR
      holdlog recall --lot L977 --why "maker's notice of 3 June" --yes --by JR
      holdlog recall H7K3-9QX2 --why "a glass broke beside it" --by JR
      holdlog recall --list
    """
    from holdlog.cli.trace_words import recall_json, recall_parts
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.recall import recall as job

    shop = kitchen(context)
    if listed:
        _list(shop, json=json)
        return
    try:
        done = job(shop, by, what, lot, why, dry_run=dry_run, absent=yes)
    except Mistake as mistake:
        if mistake.code != "no-lot":
            raise
        if not asks():
            hint = f"{mistake.hint} Is {lot.strip()} right? Then say --yes."
            raise Mistake(mistake.code, f"{mistake.sentence} {_NOTHING}", hint) from mistake
        say([mistake.sentence, mistake.hint])
        if not typer.confirm(f"Is {lot.strip()} right? It is held when it comes in", default=False):
            raise Mistake("no-lot", _NOTHING, "Read the lot again from the notice.") from mistake
        done = job(shop, by, what, lot, why, absent=True)
    if json:
        emit(recall_json(done, shop))
    else:
        say(recall_parts(done, shop))


def _list(shop: "Kitchen", *, json: bool) -> None:
    from holdlog.cli.trace_words import in_force_json, in_force_parts
    from holdlog.kitchen.recall import in_force

    found = in_force(shop)
    if json:
        emit(in_force_json(found, shop))
    else:
        say(in_force_parts(found, shop))
