"""Settling: the person in charge keeps food that was put on hold."""

from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.show import emit, row_json, rows_told, say
from holdlog.cli.wiring import By, Json, kitchen

if TYPE_CHECKING:
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.settle import Settlement
    from holdlog.reports.tables import Table


def settle(
    context: typer.Context,
    code: Annotated[
        str, typer.Argument(metavar="CODE", help="The container; or --unit.", show_default=False)
    ] = "",
    unit: Annotated[
        str,
        typer.Option(
            "--unit",
            "-u",
            help="Everything this unit has on hold.",
            show_default=False,
            metavar="UNIT",
        ),
    ] = "",
    keep: Annotated[bool, typer.Option("--keep", help="It is kept.")] = False,
    why: Annotated[str, typer.Option("--why", help="Why it is kept.", show_default=False)] = "",
    evidence: Annotated[
        str,
        typer.Option("--evidence", help="The paper or logger that rests on.", show_default=False),
    ] = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""The person in charge keeps food that a reading or its unit had put on hold.

    Only where the whole time is measured, and never against a rule that says discard. What is
    not kept is binned: holdlog discard.

    \b
    Example:
      holdlog settle H7K3-9QX2 --keep --why "24 min at 44 F, food read 40 F" \
        --evidence "logger file walk-in" --by JR
    """
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.settle import settle as job
    from holdlog.kitchen.settle import settle_unit

    if not keep:
        raise Mistake(
            "keep-or-bin", "Keep it or bin it?",
            "To keep it: --keep, --why and --evidence. To bin it: holdlog discard CODE",
        )  # fmt: skip
    if bool(code) == bool(unit):
        raise Mistake("one-of-two", "Settle what?", "Give a container's code, or --unit.")
    shop = kitchen(context)
    done = job(shop, by, code, why, evidence) if code else settle_unit(
        shop, by, shop.unit(unit), why, evidence
    )  # fmt: skip
    if json:
        emit(
            {
                "containers": [row_json(row, shop) for row in done.kept],
                "others": [row_json(row, shop) for row in done.others],
                "refused": [{**row_json(row, shop), "why": says} for row, says in done.refused],
            }
        )
    else:
        say(_parts(done, shop))


def _parts(done: "Settlement", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.core.codes import show

    kept = [row for row in done.kept if not row.verdict]
    still = [row for row in done.kept if row.verdict]
    parts: list[Table | str] = []
    if kept:
        parts += ["Kept.", *rows_told(kept, shop)]
    if still:
        parts += ["Settled, and still not to be served:", *rows_told(still, shop)]
    if done.others:
        parts += ["Released with it, having been one with it then:"]
        parts += rows_told(done.others, shop)
    if done.refused:
        parts += ["Not settled:"]
        parts += [f"  {show(row.code)}: {says}" for row, says in done.refused]
    return parts
