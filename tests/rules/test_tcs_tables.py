"""Which food needs time and temperature control for safety.

Source of the two tables: FDA Food Code 2022 (version of 18 January 2023), §1-201.10(B), the
definition of "time/temperature control for safety food", Tables A and B, written out here again
from the published wording of their rows and columns, independently of the shipped rulebook.
"""

from collections.abc import Iterator
from decimal import Decimal

import pytest

from holdlog.core import events as ev
from holdlog.rules import hazard
from holdlog.rules.hazard import TcsFinding
from holdlog.rules.kinds import TcsRule
from tests.rules.making import categories, event, food, food_code, found, history

PH = Decimal("0.01")
AW = Decimal("0.001")


def table_a(ph: Decimal, aw: Decimal) -> str:
    """Heat-treated to destroy vegetative cells, then packaged."""
    if aw <= Decimal("0.92"):
        return "non-TCS"
    if aw <= Decimal("0.95"):
        return "non-TCS" if ph <= Decimal("5.6") else "PA"
    return "non-TCS" if ph <= Decimal("4.6") else "PA"


def table_b(ph: Decimal, aw: Decimal) -> str:
    """Not heat-treated, or heat-treated but not packaged."""
    if aw < Decimal("0.88"):
        return "non-TCS"
    if aw <= Decimal("0.90"):
        return "non-TCS" if ph <= Decimal("5.0") else "PA"
    if aw <= Decimal("0.92"):
        return "non-TCS" if ph <= Decimal("4.6") else "PA"
    return "non-TCS" if ph < Decimal("4.2") else "PA"


def edges(figures: list[str], step: Decimal) -> list[Decimal]:
    return [Decimal(figure) + way * step for figure in figures for way in (-1, 0, 1)]


def every_edge(
    ph: list[str], aw: list[str], middles: tuple[list[str], list[str]]
) -> Iterator[tuple[Decimal, Decimal]]:
    for acid in [*edges(ph, PH), *map(Decimal, middles[0])]:
        for water in [*edges(aw, AW), *map(Decimal, middles[1])]:
            yield acid, water


A = list(every_edge(["4.6", "5.6"], ["0.92", "0.95"], (["3.0", "5", "7"], ["0.5", "0.93", "0.99"])))
B = list(
    every_edge(
        ["4.2", "4.6", "5.0"],
        ["0.88", "0.90", "0.92"],
        (["3.0", "4.4", "4.8", "7"], ["0.5", "0.89", "0.91", "0.99", "1"]),
    )
)


def rule() -> TcsRule:
    found_rule = food_code().rules["tcs"]
    assert isinstance(found_rule, TcsRule)
    return found_rule


def decide(of: ev.Food, *, opened: bool = False, made_here: bool = False) -> TcsFinding:
    return hazard.decide(of, categories()[of.category], rule(), opened=opened, made_here=made_here)


@pytest.mark.parametrize(("ph", "aw"), A)
def test_table_a(ph: Decimal, aw: Decimal) -> None:
    packed = food("sauce", "sauce", ph=ph, aw=aw, heat_treated=True, packaged=True)
    assert decide(packed).tcs == {"non-TCS": "not-tcs", "PA": "assess"}[table_a(ph, aw)]


@pytest.mark.parametrize(("ph", "aw"), B)
@pytest.mark.parametrize(
    "facts",
    [
        {"heat_treated": False},
        {"heat_treated": False, "packaged": True},
        {"heat_treated": True, "packaged": False},
        {"heat_treated": True},
    ],
    ids=str,
)
def test_table_b(ph: Decimal, aw: Decimal, facts: dict[str, object]) -> None:
    loose = food("sauce", "sauce", ph=ph, aw=aw, **facts)
    assert decide(loose).tcs == {"non-TCS": "not-tcs", "PA": "assess"}[table_b(ph, aw)]


def test_each_cell_of_both_tables_was_reached() -> None:
    def bands(value: Decimal, *limits: Decimal) -> int:
        return sum(value > limit for limit in limits)

    cells_a = {
        (bands(aw, Decimal("0.92"), Decimal("0.95")), bands(ph, Decimal("4.6"), Decimal("5.6")))
        for ph, aw in A
    }
    assert len(cells_a) == 9
    cells_b = {
        (
            bands(aw, Decimal("0.8799"), Decimal("0.90"), Decimal("0.92")),
            bands(ph, Decimal("4.1999"), Decimal("4.6"), Decimal("5.0")),
        )
        for ph, aw in B
    }
    assert len(cells_b) == 16


def test_a_pack_that_was_opened_goes_by_table_b() -> None:
    # pH 4.5 at water activity 0.96: non-TCS by Table A, PA by Table B.
    packed = food("sauce", "sauce", ph="4.5", aw="0.96", heat_treated=True, packaged=True)
    assert decide(packed).tcs == "not-tcs"
    assert decide(packed, opened=True).tcs == "assess"


@pytest.mark.parametrize(
    ("ph", "aw", "answer"),
    [
        # Table B by pH alone: below 4.2 every row is non-TCS, from 4.2 the last row is PA.
        ("4.19", None, "not-tcs"),
        ("4.2", None, "assess"),
        # Table B by water activity alone: below 0.88 every column is non-TCS.
        (None, "0.879", "not-tcs"),
        (None, "0.88", "assess"),
    ],
)
def test_one_value_alone_takes_the_worst_cell(ph: str | None, aw: str | None, answer: str) -> None:
    assert decide(food("sauce", "sauce", heat_treated=False, ph=ph, aw=aw)).tcs == answer


@pytest.mark.parametrize(
    ("ph", "aw", "answer"),
    # Table A by pH alone: to 4.6 every row is non-TCS. By water activity alone: to 0.92.
    [("4.6", None, "not-tcs"), ("4.61", None, "assess"), (None, "0.92", "not-tcs"),
     (None, "0.921", "assess")],
)  # fmt: skip
def test_one_value_alone_in_a_heated_pack(ph: str | None, aw: str | None, answer: str) -> None:
    packed = food("sauce", "sauce", heat_treated=True, packaged=True, ph=ph, aw=aw)
    assert decide(packed).tcs == answer


@pytest.mark.parametrize(
    "of",
    [
        # Named in the definition: sprouts, cut melons, tomatoes, leafy greens, garlic in oil.
        food("alfalfa", "sprouts", ph="4.0"),
        food("melon, diced", "cut-melon", ph="4.0"),
        food("tomato, sliced", "cut-tomato", ph="4.0"),
        food("romaine, torn", "cut-leafy-greens", aw="0.5"),
        food("garlic oil", "herb-oil", ph="4.0"),
        # Herbs in oil by our reading.
        food("basil oil", "herb-oil", ph="4.0"),
        food("cherry tomatoes, halved", "cut-produce", ph="4.0"),
        food("Tomato/onion salad", "cut-produce", ph="4.0"),
        food("spring mix", "cut-produce", ph="4.0"),
        food("lettuces, torn", "cut-produce", ph="4.0"),
    ],
    ids=lambda of: of.item,
)
def test_food_named_in_the_definition_is_tcs_whatever_its_ph(of: ev.Food) -> None:
    assert decide(of).tcs == "tcs"


def test_a_variance_lets_the_ph_of_a_named_food_count() -> None:
    assert decide(food("garlic oil", "herb-oil", ph="4.0", variance=True)).tcs == "not-tcs"
    assert decide(food("garlic oil", "herb-oil", variance=True)).tcs == "tcs"


def test_parsley_is_no_leafy_green() -> None:
    # §1-201.10(B), cut leafy greens: "does not include herbs such as cilantro or parsley".
    assert decide(food("parsley, chopped", "cut-produce", ph="4.0")).tcs == "not-tcs"


def test_what_is_unknown_is_tcs() -> None:
    assert decide(food("mystery", "other")).tcs == "tcs"
    assert decide(food("radish, cut", "cut-produce")).tcs == "tcs"


def test_named_exclusions() -> None:
    assert decide(food("egg", "boiled-egg-in-shell")).tcs == "not-tcs"
    assert decide(food("can of tuna", "sterile-pack", commercial=True)).tcs == "not-tcs"
    assert decide(food("can of tuna", "sterile-pack", commercial=True), opened=True).tcs == "tcs"


def test_a_jar_sealed_in_this_kitchen_is_not_commercially_sterile() -> None:
    jar = history(event("06-01 15:00", ev.Prepared()), of=food("beans in a jar", "sterile-pack"))
    assert found(jar, "06-02 09:00").tcs == "tcs"
    assert decide(food("jar", "sterile-pack", made_on_site=True)).tcs == "tcs"


@pytest.mark.parametrize("kind", ["pickle", "cured-seafood", "ferment"])
def test_acid_and_salt_added_here_count_only_with_a_variance(kind: str) -> None:
    # §3-502.11: a variance comes before using acid or curing to keep food.
    assert decide(food("x", kind, ph="3.5", aw="0.8")).tcs == "assess"
    assert decide(food("x", kind, ph="3.5", aw="0.8", variance=True)).tcs == "not-tcs"
    assert decide(food("x", kind, ph="3.5", aw="0.8", commercial=True)).tcs == "not-tcs"


def test_food_to_be_assessed_is_dated_like_tcs_food() -> None:
    unsure = history(event("06-01 15:00", ev.Prepared()), of=food("relish", "pickle", ph="3.5"))
    holding = found(unsure, "06-02 09:00")
    assert holding.tcs == "assess"
    assert str(holding.last_day) == "2026-06-07"
    assert any(caution.startswith("assess:") for caution in holding.cautions)
