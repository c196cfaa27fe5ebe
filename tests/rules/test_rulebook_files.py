"""Rulebook files: what ships is sourced, what is wrong is said, and a house may only tighten."""

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.errors import BadFile, Mistake
from holdlog.rules import category, rulebook
from holdlog.rules.stack import build
from tests.rules.making import (
    AMENDMENT,
    BOOKS,
    CATEGORIES,
    HOUSE,
    book_text,
    categories,
    event,
    food,
    food_code,
    found,
    history,
    stack,
)

SEEN = {"text", "secondary", "memory", "inference"}


@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_every_shipped_rule_has_its_section_its_words_and_how_it_was_seen(path: Path) -> None:
    book = rulebook.load(path.read_text(encoding="utf-8"), path.name)
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    assert book.id == path.stem
    assert book.rules
    assert book.defer
    for name, table in data["rule"].items():
        assert table["cite"].strip(), name
        assert table["says"].strip(), name
        assert table["seen"] in SEEN, name
        assert table["purpose"] in {"safety", "quality"}, name


@pytest.mark.parametrize("path", CATEGORIES, ids=lambda path: path.stem)
def test_every_category_file_reads_and_is_sourced(path: Path) -> None:
    found_category = category.load(path.read_text(encoding="utf-8"), path.name)
    assert found_category.id == path.stem
    for source in (
        found_category.hazard,
        *found_category.cautions,
        *(each.source for each in found_category.guidance),
    ):
        assert source.cite.strip()
        assert source.says.strip()
        assert source.seen in SEEN


# The figures of the shipped book against the text: FDA Food Code 2022 (18 January 2023).
FIGURES = [
    ("prepared", "days", 7),  # 3-501.17(A)
    ("opened", "days", 7),  # 3-501.17(B)
    ("cooling", "first_minutes", 120),  # 3-501.14(A)(1)
    ("cooling", "whole_minutes", 360),  # 3-501.14(A)(2)
    ("cooling", "hot", {"f": 135, "c": 57}),
    ("cooling", "middle", {"f": 70, "c": 21}),
    ("cooling", "cold", {"f": 41, "c": 5}),
    ("cooling-ambient", "whole_minutes", 240),  # 3-501.14(B)
    ("cold-holding", "limit", {"f": 41, "c": 5}),  # 3-501.16(A)(2)
    ("hot-holding", "limit", {"f": 135, "c": 57}),  # 3-501.16(A)(1)
    ("time-control-4h", "hours", 4),  # 3-501.19(B)
    ("time-control-6h", "hours", 6),  # 3-501.19(C)
    ("time-control-6h", "ceiling", {"f": 70, "c": 21}),
    ("reheat", "target", {"f": 165, "c": 74}),  # 3-403.11(A)
    ("reheat", "seconds", 15),
    ("reheat", "within_minutes", 120),  # 3-403.11(D)
    ("reduced-oxygen-48h", "hours", 48),  # 3-502.12(F)
]


@pytest.mark.parametrize(("rule", "key", "figure"), FIGURES)
def test_the_shipped_figures_are_those_of_the_text(rule: str, key: str, figure: object) -> None:
    data = tomllib.loads(book_text("us-food-code-2022")[0])
    assert data["rule"][rule][key] == figure


# ---- wrong files -----------------------------------------------------------------------------


def faults(text: str) -> tuple[str, ...]:
    with pytest.raises(BadFile) as caught:
        rulebook.load(text, "book.toml")
    return caught.value.faults


RULE = """
id = "x"
title = "X"
issuer = "X"
edition = "1"
role = "adopted"
[rule.prepared]
kind = "date-mark"
starts = "prepared"
days = 7
cite = "1"
says = "Seven."
seen = "text"
"""


@pytest.mark.parametrize(
    ("was", "becomes", "names"),
    [
        ("days = 7", "days = true", "days"),
        ("days = 7", "days = 7.0", "days"),
        ("days = 7", "days = 0", "days"),
        ("days = 7", "days = -1", "days"),
        ("days = 7", 'days = "7"', "days"),
        ("days = 7", "days = 2026-01-01", "days"),
        ("days = 7", "days = [7]", "days"),
        ("days = 7", f"days = 0x{'f' * 9000}", "days"),
        ("days = 7", "dayz = 7", "dayz"),
        ("days = 7", "days = 7\ndays_extra = 1", "days_extra"),
        ('cite = "1"', 'cite = ""', "cite"),
        ('cite = "1"', "", "cite"),
        ('says = "Seven."', "says = 7", "says"),
        ('seen = "text"', 'seen = "somewhere"', "seen"),
        ('seen = "text"', "", "seen"),
        ('starts = "prepared"', "", "starts"),
        ('starts = "prepared"', 'starts = "bought"', "starts"),
        ('kind = "date-mark"', 'kind = "datemark"', "kind"),
        ('kind = "date-mark"', "", "kind"),
        ("days = 7", 'days = 7\npurpose = "quality"', "purpose"),
        ("days = 7", 'days = 7\nexempt = ["cheese"]', "exempt"),
    ],
)
def test_a_wrong_key_type_or_value_is_named(was: str, becomes: str, names: str) -> None:
    assert was in RULE
    said = faults(RULE.replace(was, becomes))
    assert any(
        fault.startswith("book.toml: [rule.prepared] ") and f" {names}: " in fault for fault in said
    ), said
    assert all("\n" not in fault and len(fault) < 400 for fault in said)


def test_all_faults_are_reported_at_once_and_each_once() -> None:
    said = faults(RULE.replace("days = 7", "days = true").replace('cite = "1"', "colour = 1"))
    assert len(said) == len(set(said)) == 3


COOLING = """
[rule.cooling]
kind = "cooling"
when = "cooked"
hot = { f = 135, c = 57 }
middle = { f = 70, c = 21 }
cold = { f = 41, c = 5 }
first_minutes = 120
whole_minutes = 360
cite = "1"
says = "Cool."
seen = "text"
"""


@pytest.mark.parametrize(
    ("was", "becomes", "names"),
    [
        ("{ f = 135, c = 57 }", "{ }", "hot"),
        ("{ f = 135, c = 57 }", "{ f = nan, c = 57 }", "f"),
        ("{ f = 135, c = 57 }", "{ f = inf, c = 57 }", "f"),
        ("{ f = 135, c = 57 }", "{ f = 60, c = 57 }", "middle"),
        ("{ f = 41, c = 5 }", "{ f = 41, c = 25 }", "cold"),
        ("{ f = 41, c = 5 }", "{ f = 41, c = 5, k = 278 }", "k"),
        ("{ f = 41, c = 5 }", "41", "cold"),
        ("first_minutes = 120", "first_minutes = 400", "first_minutes"),
        ("first_minutes = 120", "", "first_minutes"),
        ("middle = { f = 70, c = 21 }", "", "middle"),
        ("whole_minutes = 360", "", "whole_minutes"),
    ],
)
def test_a_cooling_rule_must_fall(was: str, becomes: str, names: str) -> None:
    assert was in COOLING
    said = faults(RULE + COOLING.replace(was, becomes))
    assert any(f" {names}: " in fault for fault in said), said


@pytest.mark.parametrize(
    ("was", "becomes"),
    [
        ('ph = ["<= 4.6", "<= 5.6"]', 'ph = ["<= 5.6", "<= 4.6"]'),
        ('ph = ["<= 4.6", "<= 5.6"]', 'ph = ["<= 4.6", "about 5.6"]'),
        ('ph = ["<= 4.6", "<= 5.6"]', 'ph = ["<= 4.6", "<= ²"]'),
        ('["non-TCS", "PA", "PA"],', '["non-TCS", "PA"],'),
        ('["non-TCS", "PA", "PA"],', '["non-TCS", "PA", "safe"],'),
        ('binds_for = ["safety"]', 'binds_for = ["safty"]'),
        ('binds_for = ["safety"]', "binds_for = []"),
        ('at_once = ["running-water"', 'at_once = ["hot-water"'),
    ],
)
def test_a_wrong_table_or_list_of_the_shipped_book_is_refused(was: str, becomes: str) -> None:
    text = book_text("us-food-code-2022")[0]
    assert was in text
    assert faults(text.replace(was, becomes))


VALUES: list[Any] = [True, 7, -7, 1.5, float("nan"), float("inf"), "x", "", [], [[1]], {}, 10**30]


def written(value: object) -> str:
    match value:
        case bool():
            return str(value).lower()
        case str():
            return f'"{value}"'
        case dict():
            return "{}"
        case _:
            return str(value)


@settings(max_examples=300)
@given(line=st.integers(0, 400), value=st.sampled_from(VALUES), drop=st.booleans())
def test_one_line_of_the_shipped_book_spoiled_never_crashes(
    line: int, value: object, *, drop: bool
) -> None:
    lines = book_text("us-food-code-2022")[0].splitlines()
    number = line % len(lines)
    key, is_key, _ = lines[number].partition(" = ")
    if drop or not is_key:
        del lines[number]
    else:
        lines[number] = f"{key} = {written(value)}"
    try:
        rulebook.load("\n".join(lines), "book.toml")
        said: tuple[str, ...] = ()
    except BadFile as error:
        said = error.faults
    assert all(fault.startswith("book.toml") for fault in said)


# ---- stacks ----------------------------------------------------------------------------------


def amendment(name: str = "prepared", days: int = 4, seen: str = "text", **change: str) -> str:
    text = AMENDMENT.format(name=name, days=days, seen=seen)
    for was, becomes in change.items():
        text = text.replace(was, becomes)
    return text


def last_day(*more: str, of: ev.Food | None = None) -> str:
    stew = history(event("06-01 15:00", ev.Prepared()), of=of or food())
    return str(found(stew, "06-02 09:00", stack(*more)).last_day)


def test_an_amendment_replaces_the_rule_and_may_loosen_it() -> None:
    assert last_day(amendment(days=4)) == "2026-06-04"
    assert last_day(amendment(days=9)) == "2026-06-09"


def test_an_amendment_that_adds_a_rule_leaves_the_others_standing() -> None:
    assert last_day(amendment(name="further", days=9)) == "2026-06-07"
    assert last_day(amendment(name="further", days=5)) == "2026-06-05"


def test_an_amendment_alone_is_refused() -> None:
    with pytest.raises(Mistake, match="exactly one rulebook"):
        build([rulebook.load(amendment(), "a.toml")], categories())


def test_two_adopted_books_are_refused() -> None:
    with pytest.raises(Mistake, match="exactly one rulebook"):
        build([food_code(), food_code()], categories())


def test_two_amendments_of_one_rule_are_refused() -> None:
    other = amendment().replace("us-harbour-county", "us-harbour-town")
    with pytest.raises(Mistake, match="both replace"):
        stack(amendment(), other)


def test_an_amendment_of_another_kind_under_the_rules_name_is_refused() -> None:
    with pytest.raises(Mistake, match="another kind"):
        stack(amendment(name="cooling"))


def test_a_second_cooling_rule_beside_the_first_is_refused() -> None:
    text = amendment() + COOLING.replace("[rule.cooling]", "[rule.cooling-here]")
    with pytest.raises(Mistake, match="same thing"):
        stack(text)


CONVENTIONS = """
[conventions]
freeze_day = "does-not-count"
cite = "HC 2"
says = "The day of freezing is left out."
seen = "text"
"""


def test_two_amendments_that_settle_the_conventions_are_refused() -> None:
    one = amendment().replace("[rule.", f"{CONVENTIONS}[rule.")
    other = one.replace("us-harbour-county", "us-harbour-town").replace(".prepared", ".other")
    with pytest.raises(Mistake, match="conventions"):
        stack(one, other)


def test_an_amendment_of_another_edition_stands_with_a_caution() -> None:
    text = amendment().replace("us-food-code-2022", "us-food-code-2017")
    stew = history(event("06-01 15:00", ev.Prepared()))
    holding = found(stew, "06-02 09:00", stack(text))
    assert any("us-food-code-2017" in caution for caution in holding.cautions)


def test_an_amendment_of_another_country_is_refused() -> None:
    text = amendment().replace("us-harbour", "uk-harbour").replace("us-food-code-2022", "uk-book")
    with pytest.raises(Mistake, match="not us-food-code-2022"):
        stack(text)


def test_a_house_rule_tightens_and_says_so() -> None:
    stew = history(event("06-01 15:00", ev.Prepared()))
    holding = found(stew, "06-02 09:00", stack(HOUSE.format(name="shorter", days=3)))
    assert str(holding.last_day) == "2026-06-03"
    assert holding.binding is not None
    assert holding.binding.source.rule == "shorter"
    assert "prepared" in {finding.source.rule for finding in holding.basis}


def test_a_looser_house_rule_is_refused() -> None:
    with pytest.raises(BadFile, match=r"looser than 3-501\.17"):
        stack(HOUSE.format(name="longer", days=8))


def test_a_house_rule_under_the_name_of_a_rule_of_the_law_is_refused() -> None:
    with pytest.raises(BadFile, match="name of a rule of the law"):
        stack(HOUSE.format(name="prepared", days=3))


@pytest.mark.parametrize("limit", ["{ f = 42, c = 5 }", "{ f = 41, c = 6 }", "{ f = 50, c = 10 }"])
def test_a_house_limit_warmer_than_the_law_is_refused(limit: str) -> None:
    text = HOUSE.format(name="cold", days=3).replace('kind = "date-mark"', 'kind = "holding-limit"')
    text = text.replace('starts = "prepared"\n', 'place = "cold"\n')
    text = text.replace("days = 3\n", f"limit = {limit}\n")
    with pytest.raises(BadFile, match="looser"):
        stack(text)


@pytest.mark.parametrize("kind", ["tcs", "cooling", "time-control", "freeze", "inherit"])
def test_a_house_file_may_not_hold_other_kinds(kind: str) -> None:
    text = HOUSE.format(name="x", days=3).replace('kind = "date-mark"', f'kind = "{kind}"')
    assert any("kind" in fault for fault in faults(text))


def test_a_house_file_may_not_settle_conventions() -> None:
    text = HOUSE.format(name="x", days=3).replace("[rule.", f"{CONVENTIONS}[rule.")
    assert any("authority settles" in fault for fault in faults(text))


def test_a_house_rule_for_named_food_counts_from_whichever_day_is_its_first() -> None:
    text = HOUSE.format(name="raw", days=2).replace(
        'starts = "prepared"', 'categories = ["raw-meat"]'
    )
    steak = history(event("06-01 15:00", ev.Received()), of=food("steak", "raw-meat"))
    assert str(found(steak, "06-02 09:00", stack(text)).last_day) == "2026-06-02"


def test_a_rule_from_memory_says_so_where_it_binds() -> None:
    stew = history(event("06-01 15:00", ev.Prepared()))
    holding = found(stew, "06-02 09:00", stack(amendment(seen="memory")))
    assert any(
        caution.startswith("from-memory:") and "HC 1.2" in caution for caution in holding.cautions
    )


@pytest.mark.parametrize("kind", ["DateMarkRule", "CoolingRule", "HoldingLimitRule", "TcsRule"])
def test_a_kind_that_the_law_lacks_is_said(kind: str) -> None:
    kept = {name: rule for name, rule in food_code().rules.items() if type(rule).__name__ != kind}
    thin = build([replace(food_code(), rules=kept)], categories())
    holding = found(history(event("06-01 15:00", ev.Prepared())), "06-02 09:00", thin)
    assert any("say nothing of" in caution for caution in holding.cautions)


def test_without_a_rule_on_freezing_time_frozen_counts() -> None:
    kept = {name: rule for name, rule in food_code().rules.items() if name != "disposition"}
    thin = build([replace(food_code(), rules=kept)], categories())
    stew = history(
        event("06-01 15:00", ev.Prepared()),
        event("06-02 15:00", ev.Frozen()),
        event("06-20 15:00", ev.Thawed("refrigerator")),
    )
    assert found(stew, "06-20 16:00").verdict == "serve"
    assert found(stew, "06-20 16:00", thin).verdict == "discard"
