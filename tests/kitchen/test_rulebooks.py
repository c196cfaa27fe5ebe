"""Rulebooks as they are listed, shown, laid side by side, checked, and tried out on a kitchen."""

import re
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from holdlog.bundled import folder
from holdlog.core.errors import BadFile, Mistake
from holdlog.core.events import Conventions
from holdlog.core.moments import Instant, local_date
from holdlog.kitchen import handle, rulebooks, setup
from holdlog.kitchen.figures import KINDS
from holdlog.kitchen.printing import print_labels
from holdlog.kitchen.redate import Move, Redating
from holdlog.kitchen.shelf import book_ids, category_ids
from holdlog.kitchen.situations import Situation, compare
from holdlog.rules import rule_tables
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import WHERE, Shop, temp

SHELF = folder("shared") / "rulebooks"
CODE = "us-food-code-2022"
STRICT = Conventions()
LOOSE = Conventions(freeze_day="does-not-count", thaw_day="does-not-count")
ADOPTED = [book.id for book in rulebooks.listed() if book.role == "adopted"]
HOUSE = """
id = "house"
title = "House rules"
role = "house"

[rule.house-stock]
kind = "date-mark"
categories = ["stock"]
days = 3
cite = "house rule"
says = "We keep stock three days."
seen = "text"
"""


def raw(book: str) -> dict[str, Any]:
    text = (SHELF / f"{book}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text, parse_float=Decimal)


# ---- the list, and one book ------------------------------------------------------------------


def test_every_file_on_the_shelf_is_listed_and_those_to_adopt_come_first() -> None:
    books = rulebooks.listed()
    assert sorted(book.id for book in books) == sorted(path.stem for path in SHELF.glob("*.toml"))
    roles = [book.role for book in books]
    assert roles == sorted(roles)


@pytest.mark.parametrize("name", book_ids())
def test_the_marks_are_counted_as_they_stand_in_the_file(name: str) -> None:
    marks = rulebooks.marks(rulebooks.shown(name).book)
    in_file = [rule["seen"] for rule in raw(name)["rule"].values()]
    assert marks == {
        mark: in_file.count(mark) for mark in ("text", "secondary", "memory", "inference")
    }


@pytest.mark.parametrize("name", book_ids())
def test_a_book_is_shown_whole(name: str) -> None:
    found = rulebooks.shown(name)
    shown = {rule.id: rule for _, rules in found.rules for rule in rules}
    in_file = raw(name)["rule"]
    assert set(shown) == set(in_file)
    for rule_id, table in in_file.items():
        rule = shown[rule_id]
        assert (rule.cite, rule.says, rule.seen, rule.kind.id) == (
            table["cite"], table["says"], table["seen"], table["kind"],
        )  # fmt: skip
    spoken = {table["kind"] for table in in_file.values()}
    assert {kind.id for kind in found.silent} == set(rule_tables.KINDS) - spoken


def test_every_kind_of_rule_has_a_name_and_a_page() -> None:
    assert {kind.id for kind in KINDS.values()} == set(rule_tables.KINDS)


def figures_in(value: Any) -> set[tuple[Decimal, str]]:
    """The temperatures of a rule's table: those written { f = …, c = … }."""
    if not isinstance(value, dict):
        return set()
    own = {
        (Decimal(value[key]), key.upper())
        for key in ("f", "c")
        if isinstance(value.get(key), int | Decimal)
    }
    return own.union(*(figures_in(each) for each in value.values()))


@pytest.mark.parametrize("name", book_ids())
def test_temperatures_are_shown_as_printed_and_none_is_worked_out(name: str) -> None:
    in_file = raw(name)["rule"]
    for _, rules in rulebooks.shown(name).rules:
        for rule in rules:
            # The words beside a cited remedy or thawing rule are not this rule's figures.
            texts = [text for key, text in rule.figures if key != "for use at once"]
            shown = {
                (Decimal(figure.replace("−", "-")), scale)
                for text in texts
                for figure, scale in re.findall(r"(−?[0-9.]+) °([FC])", text)
            }
            assert shown == figures_in(in_file[rule.id]), rule.id


def test_days_and_hours_are_those_of_the_file() -> None:
    shown = {rule.id: dict(rule.figures) for _, rules in rulebooks.shown(CODE).rules
             for rule in rules}  # fmt: skip
    # FDA Food Code 2022: 3-501.17(A), 3-501.14(A) and (B), 3-501.19(B), 3-502.12(F), 3-402.12.
    assert shown["prepared"]["keeps"] == "7 days"
    assert shown["cooling"]["first"] == "from 135 °F (57 °C) to 70 °F (21 °C) within 2 hours"
    assert shown["cooling"]["whole"] == "to 41 °F (5 °C) within 6 hours in all"
    assert shown["cooling-ambient"]["cooled"] == "to 41 °F (5 °C) within 4 hours"
    assert shown["time-control-4h"]["out for"] == "4 hours"
    assert shown["reduced-oxygen-48h"]["kept"] == "48 hours"
    assert shown["records-parasites"]["kept for"] == "90 days"


def test_a_strict_limit_is_not_shown_as_one_that_is_included() -> None:
    """Minnesota Rules 4626.0408 item B: less than 41 °F, greater than 135 °F."""
    (time,) = [rule for kind, rules in rulebooks.shown("us-mn").rules
               if kind.id == "time-control" for rule in rules]  # fmt: skip
    assert dict(time.figures)["starts at"] == "below 41 °F (5 °C) or above 135 °F (57 °C)"


def test_a_book_that_sets_no_days_says_so() -> None:
    silent = {kind.id for kind in rulebooks.shown("uk-england").silent}
    assert "date-mark" in silent
    assert "holding-limit" not in silent


# ---- two stacks ------------------------------------------------------------------------------


def by_name(situations: tuple[Situation, ...]) -> dict[str, Situation]:
    return {each.name: each for each in situations}


def test_the_food_code_and_france_side_by_side() -> None:
    found = by_name(compare([CODE], ["fr-2009"], "stock").situations)
    made = found["made on Monday"]
    # 3-501.17(A): seven days with day one; annexe IV point 4: three days after the day made.
    assert (made.first.says, made.second.says) == (
        "until Sun 7 June (7 days)", "until Thu 4 June (4 days)",
    )  # fmt: skip
    assert made.differs
    assert made.first.source is not None
    assert made.first.source.cite == "3-501.17(A)"
    cooled = found["off the heat at 10:00, cooled"]
    assert cooled.first.says == "70 °F (21 °C) or below by 12:00, 41 °F (5 °C) or below by 16:00"
    assert cooled.second.says == "10 °C or below by 12:00"
    # Monday, Tuesday, Wednesday of freezing and Wednesday of thawing count: three are left.
    frozen = found["made on Monday, frozen Wednesday, thawed the next Wednesday"]
    assert frozen.first.says == "until Sat 13 June (7 days)"
    assert found["out of the cold at 10:00, 4 hour plan"].first.says == "until Mon 1 June 14:00"
    assert found["out of the cold at 10:00, 4 hour plan"].second.says.startswith("not allowed")


def test_minnesota_binds_a_quality_date_and_nothing_else_changes_for_stock() -> None:
    """4626.0400 item B(2) drops the condition that the maker's date was set for safety."""
    found = compare(["us-food-code-2013"], ["us-food-code-2013", "us-mn"], "stock").situations
    differs = [each.name for each in found if each.differs]
    assert "as above, maker's quality date Thursday" in differs
    assert "made on Monday" not in differs


def test_a_second_stage_without_a_clock_time_is_not_lost() -> None:
    """South Dakota counts the second stage from when 70 °F is reached (ARSD 44:02:07)."""
    found = by_name(compare(["us-sd"], ["us-sd"], "stock").situations)
    says = found["off the heat at 10:00, cooled"].first.says
    assert "by 12:00" in says
    assert "41 °F" in says
    assert "within" in says


@pytest.mark.parametrize("category", category_ids())
def test_nothing_differs_from_itself_and_the_sides_can_be_changed(category: str) -> None:
    assert not any(each.differs for each in compare([CODE], [CODE], category).situations)
    one = by_name(compare([CODE], ["us-sd"], category).situations)
    other = by_name(compare(["us-sd"], [CODE], category).situations)
    assert {name: (each.first, each.second) for name, each in one.items()} == {
        name: (each.second, each.first) for name, each in other.items()
    }


def test_a_category_that_is_none_is_refused() -> None:
    with pytest.raises(Mistake, match="stok"):
        compare([CODE], [CODE], "stok")


# ---- checking --------------------------------------------------------------------------------


def written(tmp_path: Path, text: str) -> str:
    file = tmp_path / "house.toml"
    file.write_text(text, encoding="utf-8")
    return str(file)


def test_all_faults_of_all_files_are_named(tmp_path: Path) -> None:
    text = HOUSE.replace('"stock"]', '"stok"]').replace("days = 3", 'days = "3"\ndasy = 4')
    bad = written(tmp_path, text)
    first, second = rulebooks.checked([bad, str(tmp_path / "none.toml")])
    assert len(first.faults) == 2
    for fault, key in zip(first.faults, ("days: expected", "dasy: unknown"), strict=True):
        assert fault.startswith(f"{bad}: [rule.house-stock] {key}")
    assert second.faults == (f"{tmp_path / 'none.toml'}: No such file or directory",)


def test_a_category_that_is_none_is_a_fault_of_the_file(tmp_path: Path) -> None:
    (found,) = rulebooks.checked([written(tmp_path, HOUSE.replace('"stock"]', '"stok"]'))])
    (fault,) = found.faults
    assert "[rule.house-stock] categories: expected categories, found 'stok'" in fault


def test_a_loose_house_file_is_found_only_on_its_stack(tmp_path: Path) -> None:
    loose = written(tmp_path, HOUSE.replace("days = 3", "days = 9"))
    assert rulebooks.checked([loose])[0].faults == ()
    (fault,) = rulebooks.checked([loose], [CODE])[0].faults
    assert fault.startswith(f"{loose}: [rule.house-stock] days: is looser than 3-501.17(A)")
    # South Dakota allows ten days (ARSD 44:02:07:38).
    assert rulebooks.checked([loose], ["us-sd"])[0].faults == ()


def test_an_amendment_on_the_wrong_book_is_a_fault() -> None:
    (fault,) = rulebooks.checked(["us-mn"], ["fr-2009"])[0].faults
    assert "us-mn amends us-food-code-2013, not fr-2009" in fault
    with pytest.raises(Mistake, match="exactly one rulebook"):
        rulebooks.checked(["us-mn"], ["us-ga"])


@pytest.mark.parametrize("name", book_ids())
def test_every_shipped_book_passes(name: str) -> None:
    assert rulebooks.checked([name])[0].faults == ()


@pytest.mark.parametrize("book", ADOPTED)
def test_the_house_file_to_begin_with_stands_on_every_book(tmp_path: Path, book: str) -> None:
    file = tmp_path / "house.toml"
    rulebooks.write_house(file)
    assert rulebooks.checked([str(file)], [book])[0].faults == ()


def test_its_examples_are_rules_once_the_marks_are_taken_away(tmp_path: Path) -> None:
    whole = re.sub(r"^# (?=\[rule|[a-z]+ =)", "", rulebooks.STARTER, flags=re.MULTILINE)
    file = written(tmp_path, whole)
    (found,) = rulebooks.checked([file], [CODE])
    assert found.faults == ()
    assert found.book is not None
    assert set(found.book.rules) == {"house-stock", "house-everything", "house-cold"}


def test_a_house_file_is_never_written_over(tmp_path: Path) -> None:
    file = Path(written(tmp_path, "mine"))
    with pytest.raises(Mistake, match="is there already"):
        rulebooks.write_house(file)
    assert file.read_text(encoding="utf-8") == "mine"


# ---- a change of rules -----------------------------------------------------------------------


@pytest.fixture
def stack(tmp_path: Path) -> list[str]:
    """The Food Code with a house that keeps stock three days."""
    return [CODE, written(tmp_path, HOUSE)]


def tried(shop: Shop, names: list[str], conventions: Conventions = STRICT) -> Redating:
    return setup.would_adopt(shop.kitchen, names, conventions, "A. Name, county, 1 June 2026")


def move(found: Redating, code: str) -> Move:
    return next(each for each in found.moves if each.row.code == code)


def test_a_dry_run_writes_nothing(shop: Shop, stack: list[str]) -> None:
    shop.tub("chicken stock")
    before = shop.path.read_bytes()
    assert tried(shop, stack).moves
    assert shop.path.read_bytes() == before


def test_a_dry_run_says_what_adopting_then_does(
    shop: Shop, stack: list[str], tmp_path: Path
) -> None:
    labelled, bare, oil = shop.tub("chicken stock"), shop.tub("fish stock"), shop.tub("garlic oil")
    frozen = shop.tub("vegetable stock")
    print_labels(shop.kitchen, "mk", [labelled, oil], tmp_path)
    shop.it_is("06-02 06:00")
    handle.freeze(shop.kitchen, "mk", frozen, shop.hand.now, None)
    found = tried(shop, stack)
    done = setup.adopt(shop.kitchen, "jr", stack, STRICT, "")
    shop.reopen()
    for code in (labelled, bare, oil, frozen):
        then, row = move(found, code).then, shop.row(code)
        assert (then.use_by, then.days_left_once_thawed) == (row.use_by, row.days_left)
        assert move(done, code).change == move(found, code).change
    assert {each.row.code for each in found.of("earlier")} == {labelled, bare, frozen}
    assert {each.row.code for each in found.of("unchanged")} == {oil}
    assert shop.facts("stack")[-1].number > 1
    assert shop.everything() == shop.replayed()


def test_an_earlier_date_makes_the_printed_label_wrong(
    shop: Shop, stack: list[str], tmp_path: Path
) -> None:
    labelled, bare = shop.tub("chicken stock"), shop.tub("chicken stock")
    print_labels(shop.kitchen, "mk", [labelled], tmp_path)
    found = tried(shop, stack)
    assert [each.row.code for each in found.wrong_labels] == [labelled]
    each = move(found, labelled)
    # 1 June is day one: seven days end on the 7th, three on the 3rd.
    assert each.now.last_day is not None
    assert each.then.last_day is not None
    assert (each.now.last_day.day, each.then.last_day.day) == (7, 3)
    assert each.label is not None
    assert each.label.use_by is not None
    assert local_date(Instant(each.label.use_by), WHERE).day == 7
    assert not move(found, bare).label_wrong
    # Labelled again it is right again.
    setup.adopt(shop.kitchen, "jr", stack, STRICT, "")
    shop.reopen()
    print_labels(shop.kitchen, "mk", [labelled], tmp_path)
    assert tried(shop, stack).wrong_labels == []


def test_a_later_date_waits_for_a_new_label(shop: Shop, stack: list[str], tmp_path: Path) -> None:
    setup.adopt(shop.kitchen, "jr", stack, STRICT, "")
    shop.reopen()
    labelled, bare = shop.tub("chicken stock"), shop.tub("chicken stock")
    print_labels(shop.kitchen, "mk", [labelled], tmp_path)
    found = tried(shop, [CODE])
    assert {each.row.code for each in found.of("later")} == {labelled, bare}
    assert found.wrong_labels == []
    each = move(found, labelled)
    days = [held.last_day.day for held in (each.now, each.then, each.fresh) if held.last_day]
    assert days == [3, 3, 7]
    assert each.waits_for_label
    assert not move(found, bare).waits_for_label
    setup.adopt(shop.kitchen, "jr", [CODE], STRICT, "")
    shop.reopen()
    assert shop.row(labelled).last_day == "2026-06-03"
    print_labels(shop.kitchen, "mk", [labelled], tmp_path)
    assert shop.row(labelled).last_day == "2026-06-07"


def test_the_days_printed_on_frozen_food_can_go_wrong_too(
    shop: Shop, stack: list[str], tmp_path: Path
) -> None:
    code = shop.tub("chicken stock")
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    print_labels(shop.kitchen, "mk", [code], tmp_path)
    found = tried(shop, stack)
    each = move(found, code)
    assert (each.now.days_left_once_thawed, each.then.days_left_once_thawed) == (6, 2)
    assert each.change == "earlier"
    assert each.label_wrong


def test_a_looser_convention_needs_its_ruling_even_to_try(shop: Shop) -> None:
    with pytest.raises(Mistake, match="less strictly"):
        setup.would_adopt(shop.kitchen, [CODE], LOOSE, " ")
    shop.tub("chicken stock")
    assert tried(shop, [CODE], LOOSE).of("later") == []


def test_a_stack_that_cannot_be_is_refused_before_anything_is_judged(
    shop: Shop, tmp_path: Path
) -> None:
    loose = written(tmp_path, HOUSE.replace("days = 3", "days = 9"))
    with pytest.raises(BadFile, match="looser"):
        tried(shop, [CODE, loose])


def test_where_the_rules_name_no_time_for_cooling_warm_food_is_held_until_it_is_cold(
    shop: Shop,
) -> None:
    """England says "as quickly as possible" and prints 8 °C for cold food (SI 2013/2996)."""
    setup.adopt(shop.kitchen, "jr", ["uk-england"], None, "")
    shop.reopen()
    for more in ({"off_heat_at": shop.hand.now}, {"warm": temp("70 C")}):
        code = shop.tub("chicken stock", **more)
        assert shop.row(code).verdict == "hold"
        log_cooling(shop.kitchen, "mk", code, shop.hand.now, temp("8 C"))
        assert shop.row(code).verdict == ""
