"""Making containers: prep, receive, open, combine; and their labels."""

from typing import Annotated

import typer

from holdlog.cli.finish import finish, record_and_finish
from holdlog.cli.onto import AS_USUAL, Onto, labels, opened
from holdlog.cli.said import (
    batch_said,
    facts_said,
    house_limit_said,
    item_said,
    made_said,
    maker_said,
    with_limit,
)
from holdlog.cli.wiring import (
    At,
    By,
    Json,
    OtherLot,
    ProbeName,
    UnitName,
    moment,
    who,
)

ItemName = Annotated[
    str, typer.Argument(metavar="ITEM", help="What it is; part of its name will do.")
]
HowMuch = Annotated[
    str, typer.Argument(metavar="AMOUNT", help="How much in all: 6l, 2.5kg.", show_default=False)
]
HowMany = Annotated[int, typer.Option("--containers", "-c", help="Into how many containers.")]
Allergens = Annotated[
    list[str],
    typer.Option("--allergen", "-a", help="This batch's own; repeat it. Else the item's.",
                 show_default=False),
]  # fmt: skip
NoAllergens = Annotated[bool, typer.Option("--no-allergens", help="This batch has none.")]
Made = Annotated[
    str,
    typer.Option("--made", help='When it was finished: "14:30", "yesterday 22:15". Else now.',
                 show_default=False),
]  # fmt: skip
UseBy = Annotated[
    str, typer.Option("--use-by", help="The maker's date: 2026-06-07.", show_default=False)
]
DateFor = Annotated[
    str, typer.Option("--date-for", help="The maker set it for: safety, quality, use-or-freeze-by.")
]
Lot = Annotated[str, typer.Option("--lot", help="The maker's lot.", show_default=False)]

HouseDays = Annotated[
    int,
    typer.Option(
        "--house-days", min=0, max=365, help="Days this kitchen keeps it.", show_default=False
    ),
]


@labels
def prep(
    context: typer.Context,
    item: ItemName,
    amount: HowMuch = "",
    containers: HowMany = 1,
    made: Made = "",
    unit: UnitName = "",
    allergen: Allergens = [],  # noqa: B006  (typer copies it)
    no_allergens: NoAllergens = False,
    warm: Annotated[
        str,
        typer.Option("--warm", help='Still warm: what it reads now, "150F".', show_default=False),
    ] = "",
    off_heat: Annotated[
        str, typer.Option("--off-heat", help="When it came off the heat, hot.", show_default=False)
    ] = "",
    probe: ProbeName = "",
    depth: Annotated[
        str,
        typer.Option(
            "--depth", help='How deep it lies while cooling: "2in", "5cm".', show_default=False
        ),
    ] = "",
    ambient: Annotated[
        bool, typer.Option("--ambient", help="Made from ingredients at room temperature.")
    ] = False,
    ph: Annotated[str, typer.Option("--ph", help="Measured, this batch.", show_default=False)] = "",
    aw: Annotated[
        str, typer.Option("--aw", help="Water activity, measured.", show_default=False)
    ] = "",
    variance: Annotated[
        bool, typer.Option("--variance", help="Made under a variance of the authority.")
    ] = False,
    house_days: HouseDays = 0,
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Record a batch at the end of prep and make its labels.

    \b
    Examples:
      holdlog prep "chicken stock" 6l -c 3 --by MK
      holdlog prep "fish stock" 6l -c 3 --off-heat 14:05 --warm 150F    (still warm)
      holdlog prep "white bean" 4kg -c 2 --made "yesterday 22:30"
    """
    from dataclasses import replace

    from holdlog.core.temperature import read_temperature

    by = who(by)
    shop, place = opened(context, onto)
    wanted = item_said(shop, item)
    facts = facts_said(
        wanted.name, ph, aw, depth, variance=variance, ambient=ambient, house_days=house_days
    )
    batch = batch_said(
        shop, wanted, amount, containers, shop.now(), unit, allergen, no_allergens=no_allergens
    )
    batch = replace(
        batch,
        facts=facts,
        warm=read_temperature(warm) if warm else None,
        off_heat_at=moment(shop, off_heat) if off_heat else None,
        probe=probe,
    )
    # Asked last: nobody answers a question to be told then that the amount was wrong.
    batch = replace(batch, at=made_said(shop, made))
    record_and_finish(shop, by, with_limit(shop, batch), place, json=json)


@labels
def receive(
    context: typer.Context,
    item: ItemName,
    amount: HowMuch = "",
    containers: HowMany = 1,
    use_by: UseBy = "",
    date_for: DateFor = "safety",
    lot: Lot = "",
    other_lot: OtherLot = False,
    temperature: Annotated[
        str, typer.Option("--temperature", help='What it read, "38F".', show_default=False)
    ] = "",
    probe: ProbeName = "",
    at: At = "",
    unit: UnitName = "",
    allergen: Allergens = [],  # noqa: B006
    no_allergens: NoAllergens = False,
    house_days: HouseDays = 0,
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Record a maker's containers that came in, unopened.

    \b
    Example:
      holdlog receive halibut 2kg -c 2 --use-by 2031-07-02 --lot L442 --temperature 36F
    """
    from dataclasses import replace

    from holdlog.core.temperature import read_temperature

    by = who(by)
    shop, place = opened(context, onto)
    batch = batch_said(
        shop, item_said(shop, item), amount, containers, moment(shop, at), unit, allergen,
        no_allergens=no_allergens,
    )  # fmt: skip
    batch = replace(
        batch,
        kind="received",
        facts=house_limit_said(house_days),
        lot=lot,
        lot_compared=other_lot,
        temperature=read_temperature(temperature) if temperature else None,
        probe=probe,
        **maker_said(use_by, date_for),
    )
    record_and_finish(shop, by, with_limit(shop, batch), place, json=json)


@labels
def open_(
    context: typer.Context,
    what: Annotated[
        str, typer.Argument(metavar="CODE|ITEM", help="A received container, or what was opened.")
    ],
    amount: HowMuch = "",
    use_by: UseBy = "",
    date_for: DateFor = "safety",
    lot: Lot = "",
    other_lot: OtherLot = False,
    at: At = "",
    unit: UnitName = "",
    allergen: Allergens = [],  # noqa: B006
    no_allergens: NoAllergens = False,
    house_days: HouseDays = 0,
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Open a maker's container: opening day is day 1.

    \b
    Examples:
      holdlog open H7K3-9QX2
      holdlog open "cream, opened" 1l --use-by 2031-07-02 --lot L442
    """
    from holdlog.core.codes import looks_like_a_code
    from holdlog.core.errors import Mistake

    by = who(by)
    shop, place = opened(context, onto)
    when = moment(shop, at)
    maker = maker_said(use_by, date_for)
    if looks_like_a_code(what):
        from holdlog.kitchen.handle import open_container

        _refuse_said_before(
            {
                f"its lot: holdlog correct {what} --lot": lot,
                f"its amount: holdlog correct {what} --amount": amount,
                f"its allergens: holdlog correct {what} --allergen": allergen or no_allergens,
                f"its unit: holdlog move {what} UNIT": unit,
                "its house days: holdlog receive --house-days": house_days,
            }
        )
        handled = open_container(shop, by, what, when, **maker)
        finish(shop, by, [handled.row], place, json=json, headline="Opened.")
        return
    from dataclasses import replace

    try:
        wanted = item_said(shop, what)
    except Mistake as error:
        hint = f"{error.hint.rstrip('.')}. Or scan its code."
        raise Mistake(error.code, error.sentence, hint) from error
    batch = batch_said(shop, wanted, amount, 1, when, unit, allergen, no_allergens=no_allergens)
    facts = house_limit_said(house_days)
    batch = replace(batch, kind="opened", lot=lot, lot_compared=other_lot, facts=facts, **maker)
    record_and_finish(shop, by, with_limit(shop, batch), place, json=json)


def _refuse_said_before(said: "dict[str, object]") -> None:
    """What was said of a container when it came in is not said again when it is opened: passed
    over in silence, a lot would be lost to every recall.
    """
    from holdlog.core.errors import Mistake

    again = [where for where, given in said.items() if given]
    if again:
        raise Mistake(
            "said-before",
            "That was said when it was received. Nothing was recorded.",
            f"To change {'; '.join(again)}. Then open it.",
        )


@labels
def combine(
    context: typer.Context,
    item: ItemName,
    codes: Annotated[
        list[str], typer.Argument(metavar="CODE...", help="What went in, used up.")
    ] = [],  # noqa: B006
    partly: Annotated[
        list[str],
        typer.Option(
            "--partly",
            help="What went in in part, and stays on hand; repeat it.",
            show_default=False,
        ),
    ] = [],  # noqa: B006
    amount: Annotated[
        str, typer.Option("--amount", help="How much in all: 6l.", show_default=False)
    ] = "",
    containers: HowMany = 1,
    made: Made = "",
    unit: UnitName = "",
    allergen: Allergens = [],  # noqa: B006
    no_allergens: NoAllergens = False,
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""A batch made from labelled containers: it keeps the date of the earliest.

    \b
    Example:
      holdlog combine "bean soup" H7K3-9QX2 M2RT-44KD --amount 8l -c 4
    """
    from dataclasses import replace

    from holdlog.core.errors import Mistake

    if not codes and not partly:
        raise Mistake(
            "no-code", "Made from what?", "Give the codes of the containers that went in."
        )
    by = who(by)
    shop, place = opened(context, onto)
    batch = batch_said(
        shop, item_said(shop, item), amount, containers, shop.now(), unit, allergen,
        no_allergens=no_allergens,
    )  # fmt: skip
    batch = replace(batch, made_from=tuple(codes), partly=tuple(partly), at=made_said(shop, made))
    record_and_finish(shop, by, batch, place, json=json)
