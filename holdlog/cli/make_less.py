"""Make less, waste less: what became of each batch, and how large a batch the history asks for."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.show import emit, say
from holdlog.cli.wiring import Json, kitchen, save

if TYPE_CHECKING:
    from decimal import Decimal

    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.making_less import ItemPast
    from holdlog.reports.tables import Table

DAYS = 365  # as far back as it goes where nobody says
SHARE = 0.9


def make_less(
    context: typer.Context,
    item: Annotated[
        str, typer.Option("--item", help="Only this; else all.", show_default=False)
    ] = "",
    first: Annotated[
        str, typer.Option("--from", help="Made from that day on. Else a year.", show_default=False)
    ] = "",
    last: Annotated[
        str, typer.Option("--to", help="Made until that day. Else today.", show_default=False)
    ] = "",
    service: Annotated[
        float | None,
        typer.Option(
            "--service", show_default=False, metavar="SHARE",
            help=f"In what share of cases a batch is to be enough. Else {SHARE}.",
        ),
    ] = None,
    short: Annotated[
        float | None,
        typer.Option(
            "--short", show_default=False, metavar="TIMES",
            help="Instead: how many times as bad as binning as much it is to run out.",
        ),
    ] = None,
    plot: Annotated[
        str,
        typer.Option(
            "--plot", help="Draw one --item to this file: .png, .svg or .pdf.",
            show_default=False, metavar="FILE",
        ),
    ] = "",
    json: Json = False,
) -> None:  # fmt: skip
    r"""How much of each batch was used before its date, and how large a batch is enough.

    A batch that ran out says only that at least so much was wanted, and is counted so. With
    fewer than 8 ended batches, or 3 of which something was left, nothing is recommended.
    --short 4: running out is 4 times as bad as binning as much, so enough in 4 of 5 cases.

    \b
    Examples:
      holdlog make-less
      holdlog make-less --item "chicken stock" --service 0.8
      holdlog make-less --item "chicken stock" --plot stock.png
    """
    from datetime import timedelta
    from math import inf

    from holdlog.core.demand import critical_share
    from holdlog.core.errors import Mistake
    from holdlog.core.moments import local_date, read_day
    from holdlog.kitchen.making_less import making_less
    from holdlog.kitchen.printers import own_fonts

    shop = kitchen(context)
    with shop.db.reading() as conn:
        until = read_day(last) if last else local_date(shop.moment(conn), shop.where)
    since = read_day(first) if first else until - timedelta(days=DAYS)
    if service is not None and short is not None:
        raise Mistake("two-shares", "--service and --short say the same.", "Give one of them.")
    if short is not None and not 0 < short < inf:
        raise Mistake("bad-share", f"--short {short:g} is no cost.", "Give a number above 0.")
    kind = Path(plot).suffix.lstrip(".").lower()
    if plot and kind not in ("png", "svg", "pdf"):
        raise Mistake("bad-picture", f"{plot!r} is no picture.", "End it with .png, .svg or .pdf.")
    if plot and not item:
        raise Mistake("no-item", "A plot of which item?", "Name it: --item.")
    share = SHARE if service is None else service
    share = share if short is None else critical_share(short, 1.0)
    found = making_less(shop, since, until, share, item=item)
    drawn = bool(plot and found and found[0].batches)
    if drawn:
        save(context, plot, _drawn(found[0], share, shop.name, kind, own_fonts(shop)))
    if json:
        emit({
            "from": since.isoformat(), "to": until.isoformat(), "share": round(share, 6),
            "file": plot if drawn else None, "items": [_json(each) for each in found],
        })  # fmt: skip
    else:
        parts = _parts(found, share, shop, one=bool(item))
        say([*parts, f"{plot}: drawn." if drawn else "Nothing to draw."] if plot else parts)


def _parts(
    found: "list[ItemPast]", share: float, shop: "Kitchen", *, one: bool
) -> "list[Table | str]":
    from holdlog.reports.tables import Table

    if not found:
        return ["No batch was made in that time."]
    heads = ("item", "batches", "ran out or lost", "used", "usual batch", "make", "95 % interval")
    rows = tuple(_row(each) for each in found)
    title = f"{shop.name} · a batch that is enough in {share * 100:.3g} % of cases"
    parts: list[Table | str] = [Table(title, heads, rows)]
    if one:
        parts += _listed(found[0])
    if not one and any(each.advice is None for each in found):
        parts.append(f"  Not enough history: {_needs()}.")
    for each in found:
        parts += _notes(each) if one or each.advice is not None else []
    last = (
        "From this kitchen's own batches: it knows no bookings and no season. Used is all that "
        "was not binned, the staff meal and what was given away with it."
    )
    return [*parts, "", last]


def _row(each: "ItemPast") -> tuple[str, ...]:
    made = sum(one.made for one in each.batches)
    used = sum(one.used for one in each.batches)
    share = f"{used / made * 100:.0f} %" if made else "-"
    counts = str(len(each.batches)), str(each.ran_out)
    advice = each.advice
    if advice is None:
        return each.item, *counts, share, "-", "not enough history", ""
    size = advice.size
    make = _told(each, size.at) if size.at is not None else f"over {_told(each, _most(each))}"
    low = _told(each, size.low) if size.low is not None else "?"
    high = _told(each, size.high) if size.high is not None else "open"
    return each.item, *counts, share, _told(each, advice.usual), make, f"{low} to {high}"


def _most(each: "ItemPast") -> "Decimal":
    return max(one.made for one in each.batches)


def _told(each: "ItemPast", base: "Decimal") -> str:
    from holdlog.core.amounts import show_total

    return show_total(each.adds_as, base)


def _listed(each: "ItemPast") -> "list[Table | str]":
    from holdlog.core.moments import show_dated_day
    from holdlog.kitchen.discard import REASONS
    from holdlog.reports.tables import Table

    rows = tuple(
        (
            show_dated_day(one.day), one.batch, _told(each, one.made), _told(each, one.used),
            ", ".join(
                f"{_told(each, base)} {REASONS.get(reason, reason)}"
                for reason, base in sorted(one.binned.items())
            ) or "all used",
        )
        for one in each.batches
    )  # fmt: skip
    return ["", Table("", ("made on", "batch", "made", "used", "binned"), rows)] if rows else []


def _notes(each: "ItemPast") -> list[str]:
    said = []
    advice = each.advice
    if advice is None:
        known = len(each.batches) - each.ran_out
        said.append(
            f"not enough history: {_batches(len(each.batches))} ended, {known} with something "
            f"left; {_needs()}"
        )
    elif advice.size.at is None:
        said.append("it ran out too often to say how much is enough: more than was ever made")
    elif advice.left_then is not None:
        text = (
            f"left over of a batch, on average: {_told(each, round(advice.left_now, 1))} so far, "
            f"{_told(each, round(advice.left_then, 1))} then"
        )
        said.append(text + (f", {advice.saved} less" if advice.saved is not None else ""))
    said += [f"left out, {why}: {count}" for why, count in sorted(each.left_out.items())]
    return [f"{each.item}: {'; '.join(said)}."]


def _needs() -> str:
    from holdlog.kitchen.making_less import BATCHES, KNOWN

    return f"it takes {BATCHES} ended batches, {KNOWN} of them with something left"


def _batches(count: int) -> str:
    return "1 batch" if count == 1 else f"{count} batches"


def _json(each: "ItemPast") -> dict[str, Any]:
    advice = each.advice
    return {
        "item": each.item,
        "adds_as": each.adds_as or None,
        "ran_out": each.ran_out,
        "enough_history": each.enough,
        "make": advice.size.at if advice else None,
        "interval": [advice.size.low, advice.size.high] if advice else None,
        "usual_batch": advice.usual if advice else None,
        "left_now": advice.left_now if advice else None,
        "left_then": advice.left_then if advice else None,
        "saved": str(advice.saved) if advice and advice.saved else None,
        "left_out": each.left_out,
        "batches": [
            {"batch": one.batch, "made_on": one.day.isoformat(), "made": one.made,
             "used": one.used, "binned": one.binned, "ran_out": not one.left}
            for one in each.batches
        ],
    }  # fmt: skip


def _drawn(
    each: "ItemPast", share: float, kitchen: str, kind: str, fonts: tuple[Path, ...] = ()
) -> bytes:
    from holdlog.kitchen.making_less import TOO_MUCH
    from holdlog.reports.batch_plot import Bar, BatchPlot, drawn

    measure, factor = {"g": ("kg", 1000.0), "ml": ("l", 1000.0)}.get(each.adds_as, ("", 1.0))

    def big(base: "Decimal | None") -> float | None:
        return float(base) / factor if base is not None else None

    bars = []
    for one in each.batches:
        surplus = sum(float(one.binned.get(reason, 0)) for reason in TOO_MUCH)
        lost = float(sum(one.binned.values())) - surplus
        bars.append(Bar(one.day, float(one.used) / factor, surplus / factor, lost / factor))
    size = each.advice.size if each.advice else None
    said = "not enough history for a size"
    if size is not None:
        cases = f"enough in {share * 100:.3g} % of cases"
        said = cases if size.at is not None else f"too often to say what is {cases}"
    picture = BatchPlot(
        f"{each.item}: made and used, batch by batch", measure or each.adds_as, tuple(bars),
        big(size.at) if size else None, big(size.low) if size else None,
        big(size.high) if size else None,
        f"{kitchen}. {_batches(len(bars))} that ended, "
        f"{each.ran_out} of them ran out or were lost; {said}.",
    )  # fmt: skip
    return drawn(picture, kind, fonts)  # type: ignore[arg-type]
