"""Setting up is all or nothing, and nothing loose is adopted without a name for it."""

from dataclasses import replace
from pathlib import Path

import pytest

from holdlog.core import events as ev
from holdlog.core.errors import HoldlogError, Mistake
from holdlog.journal import migrate
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import open_database
from holdlog.kitchen.items import items
from holdlog.kitchen.kitchen import open_kitchen
from holdlog.kitchen.setup import Plan, add_unit, adopt, set_up
from tests.kitchen.shop import CONVENTIONS, PLAN, Hand, Shop

LOOSE = ev.Conventions(freeze_day="does-not-count")
BAD: dict[str, tuple[str, Plan]] = {
    "an unknown zone": ("bad-zone", replace(PLAN, zone="Harbour/Street")),
    "an unknown rulebook": ("no-rulebook", replace(PLAN, rulebooks=("atlantis-2030",))),
    "no rulebook": ("bad-stack", replace(PLAN, rulebooks=())),
    "no unit": ("no-unit", replace(PLAN, units=())),
    "a unit without a name": ("no-unit", replace(PLAN, units=((" ", "walk-in"),))),
    "one unit twice": (
        "unit-exists", replace(PLAN, units=(("Walk-in", "walk-in"), ("walk-in ", "freezer")))
    ),
    "a day that is none": ("no-weekday", replace(PLAN, closed=("someday",))),
    "a looser count without a ruling": ("no-ruling", replace(PLAN, conventions=LOOSE)),
    "a kitchen without a name": ("no-name", replace(PLAN, name="  ")),
}  # fmt: skip


@pytest.mark.parametrize("what", sorted(BAD))
def test_a_bad_plan_makes_no_journal(tmp_path: Path, what: str) -> None:
    wanted, plan = BAD[what]
    path = tmp_path / "kitchen.db"
    db = open_database(path)
    with pytest.raises(Mistake) as told:
        set_up(db, Hand().clock, "JR", plan)
    db.close()
    assert told.value.code == wanted
    assert told.value.hint
    assert not path.exists()


def test_a_bad_rulebook_file_makes_no_journal(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text('id = "x"\n', encoding="utf-8")
    db = open_database(tmp_path / "kitchen.db")
    plan = replace(PLAN, rulebooks=("us-food-code-2022", str(file)))
    with pytest.raises(HoldlogError) as told:
        set_up(db, Hand().clock, "JR", plan)
    db.close()
    assert "house.toml" in told.value.sentence
    assert not (tmp_path / "kitchen.db").exists()


def test_nobody_sets_up_a_kitchen(tmp_path: Path) -> None:
    db = open_database(tmp_path / "kitchen.db")
    with pytest.raises(Mistake) as told:
        set_up(db, Hand().clock, " ", PLAN)
    assert told.value.code == "no-name"


def test_a_second_set_up_is_refused_and_changes_nothing(shop: Shop) -> None:
    head = shop.entries()[-1].hash
    with pytest.raises(Mistake) as told:
        set_up(shop.db, shop.hand.clock, "JR", replace(PLAN, name="Another"))
    assert told.value.code == "journal-exists"
    assert shop.entries()[-1].hash == head
    assert shop.reopen().name == "Tern & Tide"


def test_a_journal_without_a_kitchen_says_what_to_run(tmp_path: Path) -> None:
    db = open_database(tmp_path / "kitchen.db")
    migrate.create(db)
    with pytest.raises(Mistake, match="No kitchen") as told:
        open_kitchen(db, Hand().clock, Hand().draw)
    db.close()
    assert "holdlog setup" in told.value.hint


def test_a_kitchen_is_wired_as_it_was_planned(shop: Shop) -> None:
    assert [unit.name for unit in shop.kitchen.units.values()] == [name for name, _ in PLAN.units]
    assert (shop.kitchen.scale, shop.kitchen.closed, str(shop.kitchen.where)) == (
        "F", ("wed",), "America/New_York",
    )  # fmt: skip
    with shop.db.reading() as conn:
        assert len(items(shop.kitchen, conn)) > 40


def test_a_ruling_is_kept_with_the_rules_it_settles(shop: Shop) -> None:
    with pytest.raises(Mistake) as told:
        adopt(shop.kitchen, "jr", ["us-food-code-2022"], LOOSE, " ")
    assert told.value.code == "no-ruling"
    adopt(shop.kitchen, "jr", ["us-food-code-2022"], LOOSE, "A. Name, county health, 3 May 2026")
    fact = fact_of(shop.facts("stack")[-1])
    assert isinstance(fact, ev.StackAdopted)
    assert (fact.conventions, fact.ruling) == (LOOSE, "A. Name, county health, 3 May 2026")


def test_units_with_odd_names_are_found(shop: Shop) -> None:
    for name in ("B1", "Kühlhaus №2", "walk-in 2", "冷蔵庫"):
        add_unit(shop.reopen(), "jr", name, "walk-in")
    kitchen = shop.reopen()
    assert kitchen.unit("WALK-IN").name == "walk-in"
    assert kitchen.unit("walk-in 2").name == "walk-in 2"
    assert kitchen.unit("kühl").name == "Kühlhaus №2"
    assert [unit.order for unit in kitchen.units.values()] == list(range(1, 10))
    # A unit may bear the name of a batch.
    made = shop.prep(unit="B1")
    assert (made.batch, made.rows[0].unit) == ("B1", "B1")
    assert shop.everything() == shop.replayed()


def test_the_conventions_of_the_book_are_the_strict_ones() -> None:
    assert ev.Conventions("counts", "counts", "calendar") == CONVENTIONS
