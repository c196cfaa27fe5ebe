"""How a container ends, wholly or in part: binned, or used, sold, donated, returned."""

from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.show import emit, row_json, say
from holdlog.cli.wiring import At, By, Code, Json, asks, kitchen, moment

if TYPE_CHECKING:
    from holdlog.journal.on_hand import ContainerRow

Part = Annotated[bool, typer.Option("--part", help="Only --amount of it; the rest stays.")]


def discard(
    context: typer.Context,
    code: Code,
    reason: Annotated[
        str,
        typer.Option(
            "--reason",
            "-r",
            help="date, cooling, warm, no-label, off, dropped, over-made, recall, other.",
            show_default=False,
        ),
    ] = "",
    amount: Annotated[
        str,
        typer.Option("--amount", help="How much: 1.5kg. Else what was in it.", show_default=False),
    ] = "",
    part: Part = False,
    note: Annotated[str, typer.Option("--note", help="In a few words.", show_default=False)] = "",
    at: At = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Record that a container was binned, or a part of it.

    Its worth is kept with it where the item has a cost (holdlog item add NAME --cost 4.20/kg).

    \b
    Examples:
      holdlog discard H7K3-9QX2 -r date --by MK
      holdlog discard H7K3-9QX2 -r off --amount 1pint --part
      holdlog discard H7K3-9QX2 -r other --amount 500g --note "lid was off"
    """
    from holdlog.core.amounts import read_amount
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.discard import REASONS
    from holdlog.kitchen.discard import discard as job

    if not reason:
        known = ", ".join(f"{word} ({says})" for word, says in REASONS.items())
        if not asks():
            raise Mistake("no-reason", "Why is it binned?", f"Say -r with one of: {known}.")
        reason = typer.prompt(f"Why? {known}", default="date")
    shop = kitchen(context)
    done = job(
        shop, by, code, moment(shop, at), reason, read_amount(amount) if amount else None, note,
        part=part,
    )  # fmt: skip
    if json:
        emit(
            {
                **row_json(done.row, shop),
                "discarded": str(done.amount or ""),
                "why": done.reason,
                "cost": str(done.cost) if done.cost else None,
                "part": part,
                "was_written": str(done.written) if done.written else None,
            }
        )
    else:
        much = f", {done.amount}" if done.amount else ", amount not known"
        worth = f", worth {done.cost}" if done.cost else ""
        binned = f"Binned: {done.row.item_name}{much}{worth} ({REASONS[done.reason]})."
        said = [f"{binned} {_stays(done.row)}" if part else binned]
        if done.written is not None:
            said.append(
                f"That is more than the {done.written} that was written of it; the scale counts. "
                f"Mistyped? holdlog void {done.entry}"
            )
        say(said)


def use(
    context: typer.Context,
    code: Code,
    ended_as: Annotated[
        str, typer.Option("--as", help="used, sold, staff-meal, donated or returned.")
    ] = "used",
    amount: Annotated[
        str,
        typer.Option("--amount", help="How much: 2l. Else what was in it.", show_default=False),
    ] = "",
    part: Part = False,
    at: At = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""A container ended well: used, sold, a staff meal, donated, returned to its maker.

    \b
    Examples:
      holdlog use H7K3-9QX2
      holdlog use H7K3-9QX2 --as staff-meal
      holdlog use H7K3-9QX2 --amount 500ml --part
      holdlog use M2RT-44KD --as returned
    """
    from holdlog.core.amounts import read_amount
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.handle import ENDS, end

    wanted = ended_as.strip().lower().replace("-", " ")
    if wanted not in ENDS:
        known = ", ".join(word.replace(" ", "-") for word in ENDS)
        raise Mistake(
            "bad-end", f"{ended_as!r} is no way to end well.", f"Say {known}; or holdlog discard."
        )
    shop = kitchen(context)
    how = next(word for word in ENDS if word == wanted)
    much = read_amount(amount) if amount else None
    done = end(shop, by, code, moment(shop, at), how, much, part=part)
    if json:
        emit(row_json(done.row, shop))
    elif part:
        say([f"{done.row.item_name}: {much} {how}. {_stays(done.row)}"])
    else:
        say([f"{done.row.item_name}: {done.row.ended_as}. It is off the list."])


def _stays(row: "ContainerRow") -> str:
    left = row.amount or "the rest; how much is not known"
    return f"On hand is still {left}."
