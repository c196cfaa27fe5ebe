"""Packing a container with the oxygen reduced."""

from typing import Annotated

import typer

from holdlog.cli.finish import finish
from holdlog.cli.onto import AS_USUAL, Onto, labels, opened
from holdlog.cli.wiring import At, By, Code, Json, moment


@labels
def pack(
    context: typer.Context,
    code: Code,
    how: Annotated[
        str, typer.Option("--how", help="vacuum, cook-chill, sous-vide or map.")
    ] = "vacuum",
    haccp_plan: Annotated[
        bool, typer.Option("--haccp-plan", help="Under a HACCP plan the authority has.")
    ] = False,
    at: At = "",
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Pack a container with the oxygen reduced. Its hours begin, and the freezer does not stop
    them; without a HACCP plan the hold is short, or not allowed at all.

    \b
    Examples:
      holdlog pack H7K3-9QX2
      holdlog pack H7K3-9QX2 --how sous-vide --haccp-plan
    """
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.pack import pack as job
    from holdlog.rules.scenario import PACKINGS

    if how not in PACKINGS:
        raise Mistake("bad-pack", f"{how!r} is no way of packing.", f"Say {', '.join(PACKINGS)}.")
    shop, place = opened(context, onto)
    done = job(shop, by, code, moment(shop, at), how, haccp_plan=haccp_plan)  # type: ignore[arg-type]
    finish(shop, by, [done.row], place, json=json, headline="Packed.")
