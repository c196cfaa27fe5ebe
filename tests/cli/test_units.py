"""Units on the command line: read, import, look back, settle; for people and for programs."""

from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from tests.cli.conftest import Stock
from tests.cli.running import Till


@cache
def began(folder: Path) -> datetime:
    """The whole minute, in the kitchen's own time, at which a test first asked: every file of one
    test counts from it, however long its commands take and whatever second they fall on.
    """
    now = datetime.fromisoformat(Till(folder).data("due")["at"])
    return now.replace(second=0, microsecond=0, tzinfo=None)


def logger(till: Till, *degrees: float, name: str = "walk-in.csv", minutes: int = 5) -> Path:
    """A file whose last reading is of a minute before the test began, in the kitchen's own time."""
    first = began(till.folder) - timedelta(minutes=minutes * (len(degrees) - 1) + 1)
    rows = [
        f"{first + timedelta(minutes=minutes * n):%Y-%m-%d %H:%M:%S},{value}"
        for n, value in enumerate(degrees)
    ]
    path = till.folder / name
    path.write_text("\n".join(["Time,Temperature (°F)", *rows, ""]), encoding="utf-8")
    return path


def test_a_unit_that_was_never_read_says_so(till: Till) -> None:
    assert "never read" in till.ok("unit", "list")
    shown = till.ok("unit", "show", "reach-in")
    assert "41 °F or below, 3-501.16(A)(2)" in shown
    assert "never read" in shown
    assert "Nothing is in it." in shown
    assert "No reading" in till.ok("unit", "plot", "walk-in")
    assert "No readings in that time." in till.ok("unit", "excursions", "walk-in")


def test_a_good_reading_is_one_line(stock: Stock) -> None:
    said = stock.till.ok("unit", "read", "walk", "38F")
    assert len(said.splitlines()) == 1
    assert "good" in said
    assert "38 °F" in stock.till.ok("unit", "show", "walk-in")


def test_a_warm_walk_in_is_on_hold_in_one_command(stock: Stock) -> None:
    till = stock.till
    inside = {each["code"] for each in till.data("on-hand") if each["unit"] == "walk-in"}
    done = till.data("unit", "read", "walk-in", "52F")
    assert {each["code"] for each in done["containers"]} == inside
    assert (done["good"], done["last_good"]) == (False, None)
    assert done["limit"]["cite"] == "3-501.16(A)(2)"
    morning = till.data("due")
    assert inside <= {each["code"] for each in morning["hold"] + morning["discard"]}
    assert [each["unit"] for each in morning["units"]] == ["walk-in"]
    said = till.ok("due")
    assert "WALK-IN: 52 °F" in said
    assert "BEYOND ITS LIMIT" in said
    again = till.ok("unit", "read", "walk-in", "38F")
    assert "still on hold" in again
    assert "holdlog settle CODE --keep" in again


def test_the_screen_says_since_when_and_what_to_do(stock: Stock) -> None:
    said = stock.till.ok("unit", "read", "walk-in", "52F")
    assert "BEYOND ITS LIMIT, 41 °F or below" in said
    assert "Since when is unknown" in said
    assert "HOLD" in said
    assert "holdlog unit import" in said
    assert "holdlog discard CODE" in said


def test_a_file_is_read_in_once_and_every_line_is_told(stock: Stock) -> None:
    till = stock.till
    path = logger(till, *[38.5] * 12)
    with path.open("a", encoding="utf-8") as out:
        out.write("not a reading at all,x\n")
    tried = till.data("unit", "import", "walk-in", path.name, "--dry-run")
    done = till.data("unit", "import", "walk-in", path.name)
    assert (tried["dry_run"], tried["entry"]) == (True, None)
    assert (done["read"], done["added"], len(done["refused"])) == (12, 12, 1)
    assert done["refused"][0]["line"] == 14
    assert done["lines"] == done["aside"] + done["read"] + len(done["refused"]) + done["repeated"]
    entries = till.entries()
    again = till.data("unit", "import", "walk-in", path.name)
    assert (again["added"], again["already"], again["entry"]) == (0, 12, None)
    assert till.entries() == entries
    said = till.ok("unit", "import", "walk-in", path.name, "--refused", "refused.csv")
    assert "12 there already" in said
    refused = (till.folder / "refused.csv").read_text(encoding="utf-8-sig").splitlines()
    assert refused[0] == "line,reason,text"
    assert refused[1].startswith("14,")


def test_refused_lines_are_shown_and_the_rest_counted(stock: Stock) -> None:
    till = stock.till
    path = logger(till, *[38.5] * 30)
    rows = path.read_text(encoding="utf-8").splitlines()
    rows[3:16] = [row.rpartition(",")[0] + ",Err" for row in rows[3:16]]
    path.write_text("\n".join([*rows, ""]), encoding="utf-8")
    said = till.ok("unit", "import", "walk-in", path.name)
    assert "line 4: " in said
    assert "line 13: " in said
    assert "line 14: " not in said
    assert "and 3 more refused" in said


def test_a_file_at_odds_with_what_is_there_says_so_and_holds_for_the_worse(stock: Stock) -> None:
    till = stock.till
    till.ok("prep", "white bean, cooked", "2kg", "--made", "06:00", "--tape")
    rows = logger(till, *[38.0] * 30).read_text(encoding="utf-8").splitlines()
    till.ok("unit", "import", "walk-in", "walk-in.csv")
    rows[13:19] = [row.rpartition(",")[0] + ",47.0" for row in rows[13:19]]
    (till.folder / "other.csv").write_text("\n".join([*rows, ""]), encoding="utf-8")
    said = till.ok("unit", "import", "walk-in", "other.csv")
    assert "6 at odds with what is there" in said
    assert "what either shows beyond the limit counts" in " ".join(said.split())
    assert "HOLD" in said
    assert "worst 47 °F" in " ".join(said.split())


def test_a_unit_usually_beyond_its_limit_is_not_called_close_to_it(stock: Stock) -> None:
    logger(stock.till, *[38.0] * 30, name="wrong.csv")
    said = " ".join(stock.till.ok("unit", "import", "chest freezer", "wrong.csv").split())
    assert "usually stands at 38 °F, beyond its limit. Is this the file of the chest" in said
    assert "too close" not in said


def test_a_bad_night_is_listed_plotted_and_settled(stock: Stock) -> None:
    till = stock.till
    for degrees in ("38F", "46F", "38F"):
        till.ok("unit", "read", "walk-in", degrees)
    logger(till, *[38.0] * 20, *[47.0] * 6, *[38.0] * 3)
    done = till.data("unit", "import", "walk-in", "walk-in.csv")
    assert done["beyond"]["seconds_beyond"] > 0
    assert len(done["beyond"]["events"]) == 1
    past = till.data("unit", "excursions", "walk-in")
    (shown,) = past["logger"]
    assert shown["worst"] == 47
    struck = {each["code"]: each["decision"] for each in past["containers"]}
    assert struck[stock.stock[0]] == "on hold"
    said = till.ok("unit", "excursions", "walk-in")
    assert "degree-minutes" in said
    assert "on hold" in said
    assert "----" in till.ok("unit", "plot", "walk-in")
    for kind, head in (("png", b"\x89PNG"), ("pdf", b"%PDF"), ("svg", b"<?xml")):
        till.ok("unit", "plot", "walk-in", "--to", f"night.{kind}")
        assert (till.folder / f"night.{kind}").read_bytes().startswith(head)
    why, paper = "half an hour at 47 F, food read 40 F", "logger file walk-in"
    kept = till.ok(
        "settle", stock.stock[0], "--keep", "--why", why, "--evidence", paper, "--by", "JR"
    )
    assert kept.startswith("Kept.")
    story = till.ok("why", stock.stock[0])
    assert why.split(",", maxsplit=1)[0] in story
    assert "JR" in story
    audited = till.data("audit")
    assert "settled" in {each["what"] for each in audited["remarks"]}


MISTAKES = {
    "no such unit": (("unit", "read", "cellar", "38F"), "cellar", "holdlog unit add"),
    "no scale": (("unit", "read", "walk-in", "38"), "'38'", "scale"),
    "future": (("unit", "read", "walk-in", "38F", "--at", "2031-01-01 10:00"), "to come", ""),
    "no probe": (("unit", "read", "walk-in", "38F", "--probe", "zz"), "'zz'", "probe add"),
    "no file": (("unit", "import", "walk-in", "gone.csv"), "gone.csv", "path"),
    "no readings": (("unit", "import", "walk-in", "empty.csv"), "the file is empty", ""),
    "two orders": (
        ("unit", "import", "walk-in", "x.csv", "--day-first", "--month-first"), "--day-first", "one"
    ),
    "bad scale": (("unit", "import", "walk-in", "x.csv", "--scale", "K"), "'K'", "F or C"),
    "bad decimal": (("unit", "import", "walk-in", "x.csv", "--decimal", ";"), "';'", "Say"),
    "no picture": (("unit", "plot", "walk-in", "--to", "night.gif"), "night.gif", ".png"),
    "backwards": (
        ("unit", "excursions", "walk-in", "--from", "2026-06-02", "--until", "2026-06-01"),
        "before it begins", "--from",
    ),
    "settle what": (("settle", "--keep"), "Settle what", "--unit"),
    "keep or bin": (("settle", "H7K3-9QX2"), "Keep it or bin it", "holdlog discard"),
}  # fmt: skip


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_one_line_and_nothing_is_recorded(stock: Stock, name: str) -> None:
    arguments, names, hints = MISTAKES[name]
    (stock.till.folder / "empty.csv").write_text("", encoding="utf-8")
    entries = stock.till.entries()
    line = stock.till.run(*arguments).refusal()
    assert names in line
    assert hints in line
    assert stock.till.entries() == entries


def test_food_that_is_not_on_hold_is_not_settled(stock: Stock) -> None:
    done = stock.till.run(
        "settle", stock.stock[0], "--keep", "--why", "fine", "--evidence", "paper"
    )
    assert "not on hold" in done.refusal()


def test_a_plot_for_programs_counts_its_readings(stock: Stock) -> None:
    logger(stock.till, *[38.0] * 7)
    stock.till.ok("unit", "import", "walk-in", "walk-in.csv")
    found = stock.till.data("unit", "plot", "walk-in", "--to", "plot.svg")
    assert found == {"unit": "walk-in", "file": "plot.svg", "readings": 7}


def test_an_empty_plot_writes_no_file(till: Till) -> None:
    till.ok("unit", "plot", "walk-in", "--to", "plot.svg")
    assert not (till.folder / "plot.svg").exists()
