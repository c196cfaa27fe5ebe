"""Does this food need time and temperature control for safety (TCS)?

Decided in a fixed order: named exclusions, foods listed by name, the pH and water-activity
tables, else the kind of food. What is not known is TCS.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from holdlog.core.events import Food
from holdlog.rules.category import Category
from holdlog.rules.kinds import AcidityTable, Source, TcsRule

Tcs = Literal["tcs", "not-tcs", "assess"]
_ANSWER = {"tcs": "TCS", "not-tcs": "Not TCS", "assess": "Product assessment needed"}
_WORD = re.compile(r"[a-z]+")


_NEEDS_VARIANCE = (
    "Acidifying, curing or fermenting to keep food needs a variance first (3-502.11): ask the "
    "local authority."
)


@dataclass(frozen=True, slots=True)
class TcsFinding:
    """The answer, why, and what the cook should be told beside it.

    "assess" asks for a product assessment, and every rule treats it as TCS until there is one.
    """

    tcs: Tcs
    why: str
    cautions: tuple[str, ...] = ()


def cell(table: AcidityTable, ph: Decimal | None, aw: Decimal | None) -> str:
    """The cell of a published table: "non-TCS" or "PA" (product assessment).

    With one of the two values unknown, the worst cell of the row or column that is left.
    """
    rows = [_band(table.aw, aw)] if aw is not None else range(len(table.cells))
    columns = [_band(table.ph, ph)] if ph is not None else range(len(table.cells[0]))
    worst = any(table.cells[row][column] == "PA" for row in rows for column in columns)
    return "PA" if worst else "non-TCS"


def _band(bands: tuple[tuple[str, Decimal], ...], value: Decimal) -> int:
    for number, (comparison, figure) in enumerate(bands):
        if value < figure or (comparison == "<=" and value == figure):
            return number
    return len(bands)


def decide(
    food: Food,
    category: Category,
    rule: TcsRule | None,
    *,
    opened: bool,
    made_here: bool = False,
) -> TcsFinding:
    """Whether ``food`` is TCS. ``opened``: its package has been opened since it was treated;
    ``made_here``: it was prepared in this kitchen.

    ``rule`` None: the adopted book has no such tables, so the category decides and what is
    unknown is TCS.
    """
    if category.excluded_as and (rule is None or category.excluded_as in rule.excluded):
        if category.excluded_as == "air-cooled-egg":
            return TcsFinding(
                "not-tcs", "an air-cooled boiled egg in its shell is excluded by name"
            )
        # What a kitchen seals itself is not commercially sterile.
        plant_packed = not (made_here or food.made_on_site)
        if category.excluded_as == "sterile-pack" and plant_packed and not opened:
            return TcsFinding(
                "not-tcs", "an unopened, commercially sterile pack is excluded by name"
            )
    on_site = food.made_on_site if food.made_on_site is not None else not food.commercial
    named = _listed(food, category, rule)
    if named and not food.variance:
        return TcsFinding("tcs", f"{named} is listed by name as TCS")
    if rule is not None and (food.ph is not None or food.aw is not None):
        if category.modified and on_site and not food.variance:
            return TcsFinding(
                "assess",
                f"{category.modified} here without a variance, so its pH and water activity do "
                "not count",
                (_NEEDS_VARIANCE,),
            )
        return _by_tables(food, category, rule, opened=opened)
    return TcsFinding("tcs", _by_kind(food, category))


def _listed(food: Food, category: Category, rule: TcsRule | None) -> str:
    """The listed food this is, by its category or by the words of its name; else empty."""
    if rule is None or category.listed_as in rule.listed:
        return category.listed_as
    if category.id == "cut-produce":
        words = f" {' '.join(_WORD.findall(food.item.lower()))} "
        for listed, names in rule.listed.items():
            if any(f" {name}{end} " in words for name in names for end in ("", "s", "es")):
                return listed
    return ""


def _by_tables(food: Food, category: Category, rule: TcsRule, *, opened: bool) -> TcsFinding:
    heated = food.heat_treated if food.heat_treated is not None else category.heat_treated
    table_a = heated and food.packaged is True and not opened
    name = "Table A" if table_a else "Table B"
    found = cell(rule.table_a if table_a else rule.table_b, food.ph, food.aw)
    values = ", ".join(
        text
        for text in (
            f"pH {food.ph}" if food.ph is not None else "pH unknown",
            f"water activity {food.aw}" if food.aw is not None else "water activity unknown",
        )
    )
    if found == "non-TCS":
        return TcsFinding("not-tcs", f"{values}: not TCS by {name}")
    return TcsFinding("assess", f"{values}: {name} asks for a product assessment; until then TCS")


def _by_kind(food: Food, category: Category) -> str:
    heated = food.heat_treated if food.heat_treated is not None else category.heat_treated
    if category.animal:
        return "animal food"
    if heated:
        return "heat-treated plant food"
    return "nothing known takes it out of the definition"


def applies(tcs: Tcs) -> bool:
    """Whether the rules for TCS food apply."""
    return tcs != "not-tcs"


def ready_to_eat(food: Food, category: Category) -> bool:
    """Whether the food is eaten without a further cooking step."""
    return food.ready_to_eat if food.ready_to_eat is not None else category.ready_to_eat


def source(rule: TcsRule | None, finding: TcsFinding) -> Source:
    """The decision as a finding's source."""
    if rule is None:
        says = f"{_ANSWER[finding.tcs]}: {finding.why}."
        return Source("tcs", "common practice, no source", says, "inference")
    says = f"{_ANSWER[finding.tcs]}: {finding.why}."
    return Source("tcs", rule.source.cite, says, rule.source.seen)
