"""What a cook says of a batch on the command line, turned into what the kitchen records."""

import re
from typing import TYPE_CHECKING, Any

import typer

from holdlog.cli.wiring import asks, moment

if TYPE_CHECKING:
    from holdlog.core import events as ev
    from holdlog.core.moments import Instant
    from holdlog.kitchen.items import Item
    from holdlog.kitchen.kitchen import Kitchen, Unit
    from holdlog.kitchen.prep import Batch

# Before this hour a batch without a stated time may well be last night's.
SMALL_HOURS = 4
LONGEST_KEPT = 365
_NUMBER = re.compile(r"[0-9]{1,3}(?:[.,][0-9]{1,6})?|[.,][0-9]{1,6}")


def item_said(shop: "Kitchen", typed: str) -> "Item":
    """The item meant by what was typed."""
    from holdlog.kitchen.items import find_item, items

    with shop.db.reading() as conn:
        return find_item(items(shop, conn), typed)


def made_said(shop: "Kitchen", text: str) -> "Instant":
    """When the batch was made. In the small hours it asks which day is meant."""
    from holdlog.core.errors import Mistake
    from holdlog.core.moments import MINUTE, Instant, end_of_day, local_date, show_day, to_local

    now = shop.now()
    if text or to_local(now, shop.where).hour >= SMALL_HOURS:
        return moment(shop, text)
    today = local_date(now, shop.where)
    from datetime import timedelta

    yesterday = today - timedelta(days=1)
    if not asks():
        raise Mistake(
            "which-day",
            f"It is past midnight: was it made today, {show_day(today)}, or yesterday?",
            f'Say --made "yesterday 23:30" or --made "{to_local(now, shop.where):%H:%M}".',
        )
    if typer.confirm(
        f"Past midnight. Was it finished yesterday, {show_day(yesterday)}?", default=True
    ):
        return Instant(end_of_day(yesterday, shop.where) - MINUTE + 1_000)  # 23:59
    return now


def facts_said(
    name: str, ph: str, aw: str, depth: str, *, variance: bool, ambient: bool, house_days: int
) -> "ev.Food":
    """What was measured of this batch. ``depth``: of the layer it cools in, "2in" or "5cm"."""
    from holdlog.core.events import Food

    inches, centimetres = _depth(depth)
    return Food(
        item=name,
        category="",
        ph=_number("pH", ph, 14),
        aw=_number("water activity", aw, 1),
        depth_in=inches,
        depth_cm=centimetres,
        variance=variance,
        ambient_ingredients=ambient,
        house_days=house_days or None,
    )


def _depth(text: str) -> "tuple[Any, Any]":
    from holdlog.core.errors import Mistake

    if not text:
        return None, None
    unit = text.strip().lower()[-2:]
    if unit not in ("in", "cm"):
        raise Mistake("bad-depth", f"{text!r} is no depth.", 'Write "2in" or "5cm".')
    depth = _number("depth", text.strip()[:-2].strip(), 100)
    return (depth, None) if unit == "in" else (None, depth)


def house_limit_said(days: int) -> "ev.Food | None":
    """The days this kitchen keeps a maker's food, if it has said so."""
    from holdlog.core.events import Food

    return Food(item="", category="", house_days=days) if days else None


def _number(what: str, text: str, most: int) -> Any:
    from decimal import Decimal

    from holdlog.core.errors import Mistake
    from holdlog.core.visible import quoted

    if not text:
        return None
    if not _NUMBER.fullmatch(text.strip()) or (number := Decimal(text.replace(",", "."))) > most:
        raise Mistake(
            "bad-number", f"{quoted(text)} is no {what}.", f"It is a number from 0 to {most}."
        )
    return number


def maker_said(use_by: str, date_for: str) -> dict[str, Any]:
    """The maker's date and what it was set for. Raises ``Mistake``."""
    from holdlog.core.errors import Mistake
    from holdlog.core.moments import read_day

    known = ("safety", "quality", "use-or-freeze-by")
    if date_for not in known:
        raise Mistake(
            "bad-date-for", f"A maker's date is not for {date_for!r}.", f"Say {', '.join(known)}."
        )
    return {"maker_use_by": read_day(use_by) if use_by else None, "maker_date_for": date_for}


def batch_said(
    shop: "Kitchen",
    item: "Item",
    amount: str,
    containers: int,
    at: "Instant",
    unit: str,
    allergens: list[str],
    *,
    no_allergens: bool,
) -> "Batch":
    """A batch as it was said on the command line. Raises ``Mistake`` for what cannot be."""
    from holdlog.core.amounts import read_amount
    from holdlog.kitchen.items import check_allergens
    from holdlog.kitchen.prep import Batch

    named = check_allergens(allergens) if allergens else None
    return Batch(
        item=item,
        containers=containers,
        at=at,
        unit=_unit(shop, unit),
        amount=read_amount(amount) if amount else None,
        allergens=() if no_allergens else named,
    )


def _unit(shop: "Kitchen", name: str) -> "Unit":
    from holdlog.core.errors import Mistake

    if name:
        unit = shop.unit(name)
        if unit.sort not in ("walk-in", "reach-in", "room"):
            raise Mistake(
                "not-a-start",
                f"{unit.name} is a {unit.sort}.",
                "Record the batch in a cold unit, then: "
                + (
                    "holdlog freeze CODE"
                    if unit.freezes
                    else f'holdlog reheat CODE --into "{unit.name}"'
                ),
            )
        return unit
    first = shop.first_unit(("walk-in", "reach-in", "room"))
    if first is None:
        raise Mistake(
            "no-unit", "This kitchen has no cold unit.", 'holdlog unit add "walk-in" --sort walk-in'
        )
    return first


def _days(text: str) -> int:
    if text.strip() not in map(str, range(LONGEST_KEPT + 1)):
        raise typer.BadParameter(f"write a whole number of days, up to {LONGEST_KEPT}.")
    return int(text)


def with_limit(shop: "Kitchen", batch: "Batch") -> "Batch":
    """Where no rule sets a limit, ask for the house's own."""
    from dataclasses import replace

    from holdlog.kitchen.prep import limit_known

    if limit_known(shop, batch) or not asks():
        return batch
    answer = typer.prompt(
        f"No rule here limits {batch.item.name}. How many days does this kitchen keep it? "
        "(0: not decided)",
        value_proc=_days,
        default="0",
    )
    if answer <= 0:
        return batch
    from holdlog.core.events import Food

    facts = batch.facts or Food(item=batch.item.name, category="")
    return replace(batch, facts=replace(facts, house_days=answer))
