"""Items: what the kitchen makes or opens again and again, and what it costs."""

from typing import Annotated

import typer

from holdlog.cli.show import emit, say
from holdlog.cli.wiring import By, Json, kitchen


def item_add(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help='Noun first: "white bean, cooked".')],
    category: Annotated[
        str, typer.Option("--category", "-k", help="The kind of food.", show_default=False)
    ] = "",
    allergen: Annotated[
        list[str], typer.Option("--allergen", "-a", help="Repeat it.", show_default=False)
    ] = [],  # noqa: B006
    caution: Annotated[
        list[str], typer.Option("--caution", help="Short, for the label.", show_default=False)
    ] = [],  # noqa: B006
    thaw_days: Annotated[
        int, typer.Option("--thaw-days", help="Days to thaw in the cold.", show_default=False)
    ] = -1,
    house_days: Annotated[
        int, typer.Option("--house-days", help="Days this kitchen keeps it.", show_default=False)
    ] = 0,
    cost: Annotated[
        str,
        typer.Option(
            "--cost", help="Of a unit of it: 4.20/kg, 4.20 EUR/kg; or none.", show_default=False
        ),
    ] = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Add an item, or say anew what is known of it.

    Without -k, of an item that is known, only what you say changes. A new cost counts for what is
    binned from now on; what was binned keeps its cost.

    \b
    Examples:
      holdlog item add "chickpea, cooked" -k cooked-legume --by MK
      holdlog item add "chicken stock" --cost "1.80 EUR/l"
    """
    from dataclasses import replace

    from holdlog.core.costs import read_cost
    from holdlog.core.errors import Mistake
    from holdlog.core.events import ItemAdded
    from holdlog.kitchen.books import category_ids
    from holdlog.kitchen.items import add_item, check_allergens, known_item

    if not name.strip():
        raise Mistake("no-item", "What is it called?", 'Say its name: "chickpea, cooked".')
    shop = kitchen(context)
    fact = ItemAdded(name=name.strip(), category=category)
    if not category:
        with shop.db.reading() as conn:
            known = known_item(shop, conn, name)
        if known is None:
            raise Mistake(
                "no-category", "What kind of food?", f"-k with: {', '.join(category_ids())}."
            )
        fact = known.fact
    if allergen:
        fact = replace(fact, allergens=check_allergens(allergen))
    if caution:
        fact = replace(fact, cautions=tuple(caution))
    if thaw_days >= 0:
        fact = replace(fact, thaw_days=thaw_days)
    if house_days:
        fact = replace(fact, house_days=house_days)
    if cost:
        free = cost.strip().lower() == "none"
        fact = replace(fact, cost=None if free else read_cost(cost))
    item = add_item(shop, by, fact)
    if json:
        emit(
            {
                "item": item.id,
                "name": item.name,
                "category": item.fact.category,
                "cost": str(item.fact.cost) if item.fact.cost else None,
            }
        )
    else:
        price = f", {item.fact.cost}" if item.fact.cost else ""
        say([f"{item.name} ({item.fact.category}{price}) is {'added' if category else 'changed'}."])


def item_list(
    context: typer.Context,
    words: Annotated[
        str, typer.Argument(metavar="WORDS", help="Only names with these.", show_default=False)
    ] = "",
    json: Json = False,
) -> None:
    r"""The items, with their category and allergens.

    \b
    Example:
      holdlog item list stock
    """
    from holdlog.kitchen.items import items
    from holdlog.reports.tables import Table

    shop = kitchen(context)
    with shop.db.reading() as conn:
        found = [
            each
            for each in items(shop, conn)
            if all(
                word in f"{each.name} {each.fact.category}".lower()
                for word in words.lower().split()
            )
        ]
    if json:
        emit(
            [
                {
                    "item": each.id,
                    "name": each.name,
                    "category": each.fact.category,
                    "allergens": list(each.fact.allergens),
                    "cautions": list(each.fact.cautions),
                    "thaw_days": each.fact.thaw_days,
                    "house_days": each.fact.house_days,
                    "source": each.fact.source,
                    "cost": str(each.fact.cost) if each.fact.cost else None,
                }
                for each in found
            ]
        )
    elif found:
        rows = tuple(
            (each.name, each.fact.category, ", ".join(each.fact.allergens) or "-",
             str(each.fact.cost or ""),
             f"house: {each.fact.house_days} days" if each.fact.house_days else "")
            for each in found
        )  # fmt: skip
        say([Table("", ("item", "category", "allergens", "cost", ""), rows)])
    else:
        say(["No such item. Add one: holdlog item add NAME -k CATEGORY"])
