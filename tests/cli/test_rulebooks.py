"""The commands about rules: list, show, compare, check, house, and trying out what to adopt."""

import json
import sys
from pathlib import Path

import pytest

from holdlog.bundled import folder
from tests.cli.conftest import Stock
from tests.cli.running import ROOT, Till

CODE = "us-food-code-2022"
SHELF = sorted(path.stem for path in (folder("shared") / "rulebooks").glob("*.toml"))
HOUSE = """
id = "house"
title = "House rules"
role = "house"

[rule.house-stock]
kind = "date-mark"
categories = ["stock"]
days = 3
cite = "house rule of 1 June 2026"
says = "We keep stock three days."
seen = "text"
"""
ANSWER = {"says", "rule", "cite", "seen"}


@pytest.fixture
def house(till: Till) -> str:
    (till.folder / "house.toml").write_text(HOUSE, encoding="utf-8")
    return "house.toml"


def test_none_of_them_needs_a_kitchen(empty: Till) -> None:
    assert "us-mn" in empty.ok("rulebook", "list")
    assert "3-501.17(A)" in empty.ok("rulebook", "show", CODE)
    assert "until Sun 7 June" in empty.ok("rulebook", "compare", CODE, "fr-2009", "-k", "stock")
    empty.ok("rulebook", "house")
    empty.ok("rulebook", "check", "house.toml", "--on", CODE)


def test_the_list_for_programs(empty: Till) -> None:
    found = empty.data("rulebook", "list")
    assert sorted(each["id"] for each in found) == SHELF
    for each in found:
        assert set(each) == {
            "id", "title", "issuer", "edition", "role", "amends", "rules", "marks",
        }  # fmt: skip
        assert sum(each["marks"].values()) == each["rules"]


@pytest.mark.parametrize("name", SHELF)
def test_every_book_is_shown_for_people_and_for_programs(empty: Till, name: str) -> None:
    # A narrow screen breaks lines; what is said stays the same.
    text = " ".join(empty.ok("rulebook", "show", name).split())
    found = empty.data("rulebook", "show", name)
    assert found["rules"]
    for rule in found["rules"]:
        assert " ".join(rule["cite"].split()) in text
        assert " ".join(rule["says"].split()) in text
        assert rule["seen"] == "text" or f"[{rule['seen']}]" in text
    for kind in found["silent"]:
        assert f"({kind})" in text


def test_what_a_book_has_no_rule_for_is_said_of_the_book_and_not_of_the_law(empty: Till) -> None:
    text = " ".join(empty.ok("rulebook", "show", "uk-england").split())
    assert "This book has no rule for: " in text
    assert "The law itself may have one: ask." in text
    assert "Days (date-mark)" in text
    assert "nothing is borrowed from another authority" in text
    assert "There the book it amends stands." in " ".join(
        empty.ok("rulebook", "show", "us-ga").split()
    )


def test_figures_for_programs_are_numbers(empty: Till) -> None:
    rules = {each["rule"]: each for each in empty.data("rulebook", "show", CODE)["rules"]}
    assert rules["prepared"]["figures"]["days"] == 7
    assert rules["cold-holding"]["figures"]["limit"] == {"f": 41, "c": 5, "exclusive": False}


def test_a_comparison_for_programs(empty: Till) -> None:
    found = empty.data("rulebook", "compare", CODE, "us-food-code-2013,us-mn", "-k", "dairy")
    assert found["first"]["rulebooks"] == [CODE]
    assert found["second"]["rulebooks"] == ["us-food-code-2013", "us-mn"]
    for each in found["situations"]:
        assert set(each) == {"situation", "differs", "first", "second"}
        assert set(each["first"]) == set(each["second"]) == ANSWER
        assert each["differs"] == (each["first"]["says"] != each["second"]["says"])


def test_two_stacks_that_agree(empty: Till) -> None:
    assert "Nothing differs" in empty.ok("rulebook", "compare", CODE, CODE, "-k", "stock")


def test_a_house_file_on_top_is_compared_by_its_path(till: Till, house: str) -> None:
    found = till.data("rulebook", "compare", CODE, f"{CODE},{house}", "-k", "stock")
    made = next(each for each in found["situations"] if each["situation"] == "made on Monday")
    assert made["second"]["cite"] == "house rule of 1 June 2026"
    assert made["second"]["says"] == "until Wed 3 June (3 days)"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("show", "us-zz"), "no rulebook 'us-zz'"),
        (("compare", CODE, CODE), "What kind of food"),
        (("compare", CODE, CODE, "-k", "stok"), "no category 'stok'"),
        (("compare", "us-mn", CODE, "-k", "stock"), "exactly one rulebook"),
        (("compare", ",", CODE, "-k", "stock"), "exactly one rulebook"),
        (("check", "house.toml", "--on", "us-zz"), "no rulebook 'us-zz'"),
    ],
)
def test_refusals_are_one_line(till: Till, house: str, words: tuple[str, ...], says: str) -> None:
    assert (till.folder / house).is_file()
    assert says in till.run("rulebook", *words).refusal()


def test_every_fault_has_its_line(till: Till) -> None:
    bad = HOUSE.replace("days = 3", 'days = "3"').replace('seen = "text"', 'sen = "text"')
    (till.folder / "bad.toml").write_text(bad, encoding="utf-8")
    done = till.run("rulebook", "check", "bad.toml", "none.toml")
    assert done.code == 2
    lines = done.err.splitlines()
    assert all(line.startswith("holdlog: ") for line in lines)
    assert [line for line in lines if "bad.toml: [rule.house-stock] days: expected" in line]
    assert [line for line in lines if "bad.toml: [rule.house-stock] seen: missing" in line]
    assert [line for line in lines if "bad.toml: [rule.house-stock] sen: unknown key" in line]
    assert [line for line in lines if "none.toml: No such file" in line]
    assert len(lines) == 4


def test_faults_for_programs(till: Till, house: str) -> None:
    loose = HOUSE.replace("days = 3", "days = 30")
    (till.folder / "loose.toml").write_text(loose, encoding="utf-8")
    done = till.run("rulebook", "check", house, "loose.toml", "--on", CODE, "--json")
    assert done.code == 2
    good, bad = done.json()["files"]
    assert (good["id"], good["role"], good["rules"], good["faults"]) == ("house", "house", 1, [])
    (fault,) = bad["faults"]
    assert "looser than 3-501.17(A)" in fault
    assert done.err == f"holdlog: {fault}\n"


def test_a_file_without_fault_says_what_was_looked_at(till: Till, house: str) -> None:
    assert "--on with the stack" in " ".join(till.ok("rulebook", "check", house).split())
    assert "only tightens" in " ".join(till.ok("rulebook", "check", house, "--on", CODE).split())


def test_a_house_file_is_written_once(empty: Till) -> None:
    assert empty.data("rulebook", "house", "our.toml") == {"file": "our.toml"}
    text = (empty.folder / "our.toml").read_text(encoding="utf-8")
    assert "rulebook check our.toml" in text
    assert "is there already" in empty.run("rulebook", "house", "our.toml").refusal()
    assert (empty.folder / "our.toml").read_text(encoding="utf-8") == text
    assert "there is no folder" in empty.run("rulebook", "house", "no/where.toml").fault()


# ---- trying out what to adopt ----------------------------------------------------------------


def test_a_dry_run_writes_nothing_and_shows_both_dates(stock: Stock, house: str) -> None:
    till = stock.till
    till.ok("label", stock.stock[0])
    before = till.entries()
    found = till.data("adopt", "-R", CODE, "-R", house, "--dry-run")
    assert till.entries() == before
    assert found["dry_run"] is True
    assert found["judged"] == 6
    earlier = {each["code"]: each for each in found["earlier"]}
    assert set(stock.stock) <= set(earlier)
    each = earlier[stock.stock[0]]
    assert each["then"]["last_day"] < each["now"]["last_day"]
    assert each["then"]["cite"] == "house rule of 1 June 2026"
    assert each["label_says"]["use_by"] == each["now"]["use_by"]
    # The labels written on tape count like the printed one.
    assert set(found["labels_wrong"]) == {*stock.stock, stock.cooling}


def test_adopting_lists_the_labels_to_make_again_and_so_does_the_morning_list(
    stock: Stock, house: str
) -> None:
    till, (labelled, on_tape) = stock.till, stock.stock
    shown = f"{labelled[:4]}-{labelled[4:]}"
    till.ok("label", labelled)
    text = till.ok("adopt", "-R", CODE, "-R", house)
    assert "Labels that become wrong" in text
    assert shown in text.partition("Labels that become wrong")[2]
    wrong = {each["code"] for each in till.data("due")["relabel"]}
    assert wrong == {labelled, on_tape, stock.cooling}
    assert shown in till.ok("due").partition("Labels that say too late a day")[2]
    for code in (labelled, on_tape, stock.cooling):
        till.ok("label", code)
    assert till.data("due")["relabel"] == []
    assert "Labels that say" not in till.ok("due")
    # And back: the longer date waits for another label.
    later = {each["code"]: each for each in till.data("adopt", "-R", CODE, "--dry-run")["later"]}
    assert later[labelled]["then"]["last_day"] == later[labelled]["now"]["last_day"]
    assert later[labelled]["once_labelled"]["last_day"] > later[labelled]["then"]["last_day"]


def test_a_dry_run_of_an_empty_kitchen(stock: Stock) -> None:
    for code in (*stock.stock, stock.frozen, stock.cooling, stock.ham, stock.fish):
        stock.till.ok("discard", code, "-r", "other", "--note", "test")
    assert "Nothing is on hand" in stock.till.ok("adopt", "-R", CODE, "--dry-run")


def test_a_dry_run_needs_no_name_and_no_kitchen_is_made_for_it(till: Till, empty: Till) -> None:
    till.ok("adopt", "-R", CODE, "--dry-run", HOLDLOG_BY="")
    assert "adopt" in till.run("adopt", "--dry-run").refusal().lower()
    empty.run("adopt", "-R", CODE, "--dry-run").refusal()
    assert not empty.journal.exists()


def test_looking_at_rules_loads_no_database() -> None:
    """A comparison is tried many times over; it must not wait for what it does not need."""
    import subprocess

    program = (
        "import sys\n"
        "from holdlog.cli.door import run\n"
        f"run(['rulebook', 'compare', '{CODE}', 'fr-2009', '-k', 'stock', '--json'])\n"
        "print('\\n'.join(sys.modules), file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert json.loads(done.stdout)["situations"]
    loaded = set(done.stderr.split())
    assert "holdlog.kitchen.situations" in loaded
    assert not loaded & {"sqlalchemy", "sqlite3", "PIL", "rich", "alembic"}


# ---- whose counting --------------------------------------------------------------------------


def counting(till: Till, code: str) -> dict[str, str]:
    found: dict[str, str] = till.data("why", code)["holding"]["conventions"]
    return found


def test_a_kitchen_counts_as_the_rules_it_adopted_do(tmp_path: Path) -> None:
    """North Carolina leaves the day of freezing out (studied by its own worked table)."""
    till = Till(tmp_path)
    till.ok(
        "setup", "--name", "Tern & Tide", "--zone", "UTC", "--scale", "F",
        "-R", "us-food-code-2017", "-R", "us-nc", "-u", "walk-in", "--by", "JR",
    )  # fmt: skip
    (code,) = till.codes("prep", "chicken stock", "2l", "--made", "yesterday 15:00", "--tape")
    assert counting(till, code)["freeze_day"] == "does-not-count"


def test_a_ruling_stays_when_a_house_file_is_added_and_goes_with_its_rulebook(
    stock: Stock, house: str
) -> None:
    till, code = stock.till, stock.stock[0]
    asked = ("adopt", "-R", CODE, "--freeze-day", "does-not-count")
    assert "--ruling" in till.run(*asked).refusal()
    till.ok(*asked, "--ruling", "A. Name, county health, 3 May 2026")
    till.ok("adopt", "-R", CODE, "-R", house)
    assert counting(till, code)["freeze_day"] == "does-not-count"
    till.ok("adopt", "-R", CODE, "--freeze-day", "counts")
    assert counting(till, code)["freeze_day"] == "counts"


def test_set_up_asks_each_question_until_it_has_an_answer(tmp_path: Path) -> None:
    till = Till(tmp_path)
    done = till.at_a_terminal(
        "setup",
        types=[
            "Tern & Tide\n", "New York\n", "America/New_York\n", "K\n", "F\n", "england\n",
            "us-mn\n", "us-food-code-2022\n", "cupboard\n", "walk-in\n",
        ],
    )  # fmt: skip
    said = " ".join(done.out.split())
    assert done.code == 0, said
    for refusal in ("is not a time zone", "is no scale", "no rulebook", "only amends", "what sort"):
        assert refusal in said, refusal
    assert "is set up" in said
