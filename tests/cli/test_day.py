"""A day in the kitchen, from an empty folder to the audit."""

import json
import re
import subprocess
from pathlib import Path

import pytest

from tests.cli.conftest import Stock
from tests.cli.running import HOLDLOG, Till, environment, set_up, zone_where_it_is
from tests.system import need

CODE = re.compile(r"\b[A-HJKMNP-TV-Z][2-9A-HJKMNP-TV-Z]{3}-[2-9A-HJKMNP-TV-Z]{4}\b")


def test_a_day_from_set_up_to_the_audit(tmp_path: Path) -> None:
    till = set_up(tmp_path / "kitchen", zone_where_it_is(15))
    assert "Nothing is on hand" in till.ok("due")

    said = till.ok("prep", "chicken stock", "6l", "-c", "3")
    codes = CODE.findall(said.partition("Labels:")[0])
    assert len(codes) == 3
    assert "3-501.17(A)" in said
    labels = sorted((tmp_path / "kitchen" / "labels").rglob("*.png"))
    assert len(labels) == 3
    assert all(label.read_bytes().startswith(b"\x89PNG") for label in labels)
    assert len(list((tmp_path / "kitchen" / "labels").rglob("*.pdf"))) == 1

    assert "Nothing must go today or tomorrow." in till.ok("due")
    assert "3 on hand" in till.ok("on-hand")

    binned = till.ok("discard", codes[0], "-r", "dropped", "--amount", "1.5l")
    assert "chicken stock, 1.5 l" in binned
    assert "off the list" in till.ok("use", codes[1], "--as", "staff-meal")
    assert "1 on hand" in till.ok("on-hand")

    audit = till.ok("audit")
    assert "dropped or dirty" in audit
    assert "In all 1 container: 1.5 l." in audit
    assert "1 staff meal" in audit
    assert "All is well." in till.ok("doctor")


@pytest.mark.system
def test_the_next_morning_the_list_says_what_must_go(tmp_path: Path) -> None:
    """By the real clock of the program: the date is the system's, moved by libfaketime."""
    faketime = need("faketime")

    def at(moment: str, *arguments: str) -> str:
        done = subprocess.run(
            [faketime, "-f", f"@{moment}", *HOLDLOG, *arguments],
            env={**till.env(), "TZ": "UTC"},
            cwd=till.folder,
            capture_output=True,
            encoding="utf-8",
            check=False,
        )
        assert done.returncode == 0, done
        return done.stdout

    folder = tmp_path / "kitchen"
    folder.mkdir()
    till = Till(folder)
    at(
        "2031-06-02 12:00:00", "setup", "--name", "Tern & Tide", "--zone", "UTC", "--scale", "F",
        "-R", "us-food-code-2022", "-u", "walk-in", "-u", "freezer",
    )  # fmt: skip
    at("2031-06-02 12:10:00", "prep", "garlic oil", "500ml", "--tape")
    at("2031-06-02 12:20:00", "prep", "chicken stock", "2l", "--tape")
    # Garlic oil keeps 4 days, Monday to Thursday (NCHFP, garlic in oil).
    assert "1 on the last day tomorrow." in at("2031-06-04 06:10:00", "due")
    last = at("2031-06-05 06:10:00", "due")
    assert "1 on the last day today." in last
    assert re.search(r"LAST DAY +\S+ +garlic oil", last)
    gone = at("2031-06-06 06:10:00", "due")
    assert "1 to discard." in gone
    assert re.search(r"DISCARD +\S+ +garlic oil", gone)
    # Stock of Monday the 2nd is served through Sunday the 8th (Food Code 3-501.17(A)).
    code = json.loads(at("2031-06-08 23:50:00", "due", "--json"))["last_day"][0]["code"]
    assert "DISCARD" in at("2031-06-09 00:00:01", "why", code)


@pytest.mark.system
def test_a_clock_that_went_backwards_is_reported_before_anything_is_dated(stock: Stock) -> None:
    faketime = need("faketime")
    done = subprocess.run(
        [faketime, "-f", "-1d", *HOLDLOG, "freeze", stock.stock[0], "--at", "00:00", "--tape"],
        env=stock.till.env(),
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 1
    assert "clock" in done.stderr
    assert stock.till.data("why", stock.stock[0])["state"] == "chilled"


@pytest.mark.parametrize("write", ["upper", "lower", "dash", "spaces"])
def test_a_code_may_be_typed_in_any_way(stock: Stock, write: str) -> None:
    code = stock.stock[0]
    typed = {
        "upper": code,
        "lower": code.lower(),
        "dash": f"{code[:4]}-{code[4:]}",
        "spaces": f" {code[:4].lower()} {code[4:]} ",
    }[write]
    assert stock.till.data("why", typed)["code"] == code


def test_a_batch_carries_its_date_into_the_freezer_and_out(stock: Stock) -> None:
    code = stock.stock[0]
    before = stock.till.data("why", code)
    (frozen,) = stock.till.data("freeze", code, "--tape")["containers"]
    assert (frozen["state"], frozen["unit"]) == ("frozen", "chest freezer")
    assert frozen["days_left_once_thawed"] == 6
    (thawed,) = stock.till.data("thaw", code, "--tape")["containers"]
    assert thawed["use_by"] == before["use_by"]


def test_warm_food_gets_a_cooling_label_and_its_date_once_it_is_cold(till: Till) -> None:
    said = till.ok("prep", "fish stock", "6l", "--off-heat", "11:59", "--warm", "150F")
    assert "HOLD" in said
    assert "Read it: 70 °F by" in said
    (code,) = set(CODE.findall(said))
    cooled = till.ok("cool", code, "40F")
    assert f"holdlog label {code} --batch" in cooled
    assert "use by" in till.ok("label", code, "--batch")


def test_tape_has_everything_a_label_must_say(till: Till) -> None:
    said = till.ok("prep", "fish stock", "2l", "--tape", "-c", "2")
    tape = said.partition("Write on tape")[2]
    assert len(CODE.findall(tape)) == 2
    for needed in ("FISH STOCK", "USE BY", "CONTAINS fish", "1 of 2", "2 of 2", "MK"):
        assert needed in tape
    assert not list(till.folder.rglob("*.png"))


def test_a_dish_takes_over_the_earliest_date(stock: Stock) -> None:
    till = stock.till
    (oil,) = till.codes("prep", "garlic oil", "200ml", "--tape")
    (dish,) = till.data("combine", "vegetable stock", stock.stock[0], oil, "--tape")["containers"]
    assert dish["last_day"] == till.data("why", oil)["last_day"]
    assert dish["binds"] == "combined"
    assert till.data("why", oil)["ended_as"] == "made into"


def test_what_is_split_and_poured_together_keeps_one_history(stock: Stock) -> None:
    till = stock.till
    parts = till.codes("split", stock.stock[0], "--into", "2", "--tape")
    assert len(parts) == 2
    last_day = till.data("why", stock.stock[0])["last_day"]
    assert {till.data("why", part)["last_day"] for part in parts} == {last_day}
    said = till.ok("top-up", parts[0], parts[1], "--tape")
    assert f"{parts[1][:4]}-{parts[1][4:]} is retired" in said


def test_a_wrong_entry_is_taken_back_and_stays_readable(stock: Stock) -> None:
    till = stock.till
    till.ok("discard", stock.stock[0], "-r", "date")
    entry = till.data("why", stock.stock[0])["story"][-1]["entry"]
    till.ok("void", str(entry), "--why", "binned the wrong tub")
    after = till.data("why", stock.stock[0])
    assert after["ended_at"] is None
    assert [each["voided"] for each in after["story"] if each["entry"] == entry] == [True]
    assert "binned the wrong tub" in till.ok("audit", COLUMNS="200")


def test_food_that_needs_no_date_is_not_said_to_have_an_unknown_one(stock: Stock) -> None:
    """Below pH 4.2, not packed: not TCS at any water activity (Food Code 1-201.10(B), Table B)."""
    till = stock.till
    (dressing,) = till.codes("prep", "vinaigrette, shallot", "1l", "--ph", "3.4", "--tape")
    why = " ".join(till.ok("why", dressing).split())
    assert "serve: no date needed." in why
    assert "Why no date 1-201.10(B): Not TCS" in why
    assert re.search(r"vinaigrette, shallot +1 l +no date needed", till.ok("on-hand"))
    assert "no limit known" in till.ok("why", stock.fish)
    due = till.data("due")
    assert dressing not in {each["code"] for each in due["no_limit_known"]}
    assert stock.fish in {each["code"] for each in due["no_limit_known"]}


def test_an_empty_kitchen_says_what_to_do_next(tmp_path: Path) -> None:
    till = set_up(tmp_path / "kitchen", zone_where_it_is(12))
    for command in ("due", "on-hand"):
        assert "holdlog prep" in till.ok(command)
    assert "Nothing was discarded" in till.ok("audit")
    assert "Nothing is in the walk-in." in till.ok("on-hand", "-u", "walk")
    assert "holdlog item add" in till.ok("item", "list", "unicorn")


def test_the_first_set_up_makes_its_own_folder(tmp_path: Path) -> None:
    """Nobody names a journal on the first day: it goes into the user's own data folder, which
    is not there yet. A folder that was named and is missing stays missing: it may be a disk.
    """
    own = tmp_path / "data"
    setup = [
        *HOLDLOG, "setup", "--name", "Tern & Tide", "--zone", "UTC", "--scale", "C",
        "-R", "us-food-code-2022", "-u", "walk-in", "--by", "JR",
    ]  # fmt: skip
    env = environment(XDG_DATA_HOME=str(own))
    done = subprocess.run(setup, capture_output=True, text=True, env=env, check=False)
    assert done.returncode == 0, done.stderr
    assert (own / "holdlog" / "kitchen.db").is_file()

    stick = str(tmp_path / "stick" / "kitchen.db")
    named = [*HOLDLOG, "--db", stick, *setup[len(HOLDLOG) :]]
    refused = subprocess.run(named, capture_output=True, text=True, env=env, check=False)
    assert refused.returncode == 1
    assert "The folder" in refused.stderr
    assert not (tmp_path / "stick").exists()
