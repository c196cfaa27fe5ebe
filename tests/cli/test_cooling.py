"""`holdlog cool`, as a cook types it between the stove and the walk-in.

It is about noon in this kitchen, so that what happened is typed with --at. Limits: FDA Food Code
2022 3-501.14(A).
"""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from holdlog.reports.wrapping import width
from tests.cli.conftest import Stock
from tests.cli.running import Till
from tests.cli.test_terminal import bare


def flat(text: str) -> str:
    return " ".join(text.split())


def pot(till: Till, off_heat: str = "06:00", count: int = 1) -> str:
    """The code of one container of a stockpot that came off the heat then."""
    made = ["--made", off_heat, "--off-heat", off_heat, "-c", str(count), "--tape"]
    return till.codes("prep", "fish stock", "6l", *made)[0]


@pytest.fixture
def calm(stock: Stock) -> Till:
    """The stocked kitchen without the pot that cools in it."""
    stock.till.ok("discard", stock.cooling, "-r", "other", "--note", "for this test")
    return stock.till


def test_nothing_cools(calm: Till) -> None:
    said = calm.ok("cool")
    assert "Nothing is cooling" in said
    assert "holdlog prep ITEM --warm 150F" in flat(said)
    assert calm.data("cool")["coolings"] == []


def test_a_pot_is_met_and_labelled_at_once(calm: Till) -> None:
    code = pot(calm, count=2)
    for when, reading in (("06:30", "112F"), ("07:50", "70F")):
        calm.ok("cool", code, reading, "--at", when)
    running = calm.ok("cool", code, "50F", "--at", "11:00")
    assert "70 °F by 08:00: met (70 °F at 07:50, 1 h 50 after 06:00; 2 h allowed)" in flat(running)
    done = calm.ok("cool", code, "41F", "--at", "11:58", "--label", "--tape")
    assert "Cooling met." in done
    assert "41 °F by 12:00: met (41 °F at 11:58, 5 h 58 after 06:00; 6 h allowed)" in flat(done)
    assert done.count("USE BY") == 2
    assert "COOLING" not in done
    assert "safe" not in done.lower()
    assert "Nothing is cooling" in calm.ok("cool")
    assert {row["state"] for row in calm.data("on-hand") if row["item"] == "fish stock"} == {
        "chilled"
    }


def test_a_running_pot_says_what_is_ahead_and_what_to_do(calm: Till) -> None:
    code = pot(calm, "11:00")
    calm.ok("cool", code, "--in", "walk-in", "--surroundings", "38F", "--at", "11:00")
    calm.ok("cool", code, "130F", "--at", "11:10")
    said = flat(calm.ok("cool", code, "118F", "--at", "11:30"))
    assert "70 °F between" in said
    assert "if it stays 38 °F there; the limit is 13:00." in said
    assert "act now. Ice bath and stir, or split it into shallower pans" in said
    assert re.search(r"For 70 °F in time it has to cool \d+\.\d times as fast", said)
    assert "70 °F by 13:00: running." in said
    for never in ("safe", "will pass", "%"):
        assert never not in said


def test_a_move_begins_anew_and_asks_how_warm_it_is_there(calm: Till) -> None:
    code = pot(calm, "11:20")
    calm.ok("cool", code, "--in", "walk-in", "--surroundings", "38F", "--at", "11:20")
    calm.ok("cool", code, "120F", "--at", "11:30")
    moved = flat(calm.ok("cool", code, "110F", "--in", "ice bath", "--at", "11:50"))
    # An ice bath that nobody measured counts for nothing.
    assert f'{code[:4]}-{code[4:]} --in "ice bath" --surroundings READING' in moved
    told = flat(calm.ok("cool", code, "--in", "ice bath", "--surroundings", "33F", "--at", "11:51"))
    assert "Too few readings for a forecast: two at or below 135 °F, 15 minutes apart" in told
    found = calm.data("cool", code)
    assert (found["cooling_in"], found["surroundings"]) == ("ice bath", "33 °F")


def test_a_unit_that_was_read_lately_tells_how_warm_it_is_there(calm: Till) -> None:
    code = pot(calm, "11:20")
    calm.ok("unit", "read", "walk-in", "38F", "--at", "11:10")
    said = flat(calm.ok("cool", code, "120F", "--in", "walk-in", "--at", "11:30"))
    assert "cooling in: walk-in, 38 °F." in said
    assert "The walk-in was 38 °F when it was last read, at 11:10." in said


def test_a_reading_that_does_not_fit_is_asked_about_and_kept(calm: Till) -> None:
    code = pot(calm, "11:00")
    calm.ok("cool", code, "--in", "walk-in", "--surroundings", "38F", "--at", "11:00")
    for when, reading in (("11:10", "130F"), ("11:30", "112F")):
        calm.ok("cool", code, reading, "--at", when)
    said = flat(calm.ok("cool", code, "111F", "--at", "11:50"))
    assert "111 °F is warmer than the readings before it promise." in said
    number = re.search(r"holdlog void (\d+) --why", said)
    assert number is not None
    assert calm.data("cool", code)["readings"][-1]["temperature"] == "111 °F"
    calm.ok("void", number[1], "--why", "typed wrong")
    assert calm.data("cool", code)["readings"][-1]["temperature"] == "112 °F"


def test_a_late_reading_is_overdue_in_words_on_both_lists(calm: Till) -> None:
    code = pot(calm, "11:20")
    listed, due = flat(calm.ok("cool")), flat(calm.ok("due"))
    assert "1 cooling, 1 reading OVERDUE" in listed
    assert "OVERDUE since 11:50. Read it now" in listed
    assert "Still cooling: 70 °F by 13:20." in due
    assert "Reading OVERDUE since 11:50." in due
    assert "holdlog cool" in due
    assert calm.data("cool")["coolings"][0]["overdue"] is True
    assert calm.data("cool", code)["overdue"] is True


def test_missed_says_reheat_once_or_bin_it(calm: Till) -> None:
    code = pot(calm, "09:30")
    calm.ok("cool", code, "134F", "--at", "09:35")
    said = flat(calm.ok("cool", code, "90F", "--at", "11:40"))
    assert "70 °F by 11:30: MISSED (still 90 °F at 11:40, 2 h 05 after 09:35; 2 h allowed)" in said
    assert "REHEAT: Cooling missed its first limit: reheat once" in said
    assert "holdlog reheat" in said
    assert "There is no third." in said
    assert f"holdlog discard {code[:4]}-{code[4:]} -r cooling" in said
    assert "70 °F by 11:30: MISSED" in flat(calm.ok("due"))
    calm.ok("reheat", code, "-t", "165F", "--held", "15", "--took", "30")
    again = calm.data("cool", code)
    assert (again["stands"], again["verdict"]) == ("running", "hold")


def test_unproven_names_the_missing_reading_and_how_to_enter_it(calm: Till) -> None:
    (code,) = calm.codes("prep", "chickpea, cooked", "4kg", "--warm", "120F", "--tape")
    said = flat(calm.ok("cool", code))
    assert "70 °F: NOT PROVEN; no reading at or above 135 °F is logged" in said
    assert "off-heat --at TIME --evidence" in said
    reason = calm.data("why", code)["holding"]["verdict"]
    assert reason == "hold"
    why = flat(calm.ok("why", code))
    assert "Cooling 70 °F: NOT PROVEN" in why
    calm.ok("cool", code, "--off-heat", "11:30", "--evidence", "cooling sheet 3, JR")
    assert calm.data("cool", code)["stands"] == "running"


def test_a_first_limit_passed_above_it_says_that_no_colder_reading_helps(calm: Till) -> None:
    code = pot(calm, "09:00")
    calm.ok("cool", code, "100F", "--at", "10:40")
    said = flat(calm.ok("cool", code, "88F", "--at", "11:10"))
    assert "70 °F by 11:00: NOT PROVEN; it was still 88 °F at 11:10." in said
    assert "Only another reading at or above 135 °F, read after 09:00" in said


def test_a_cold_reading_on_a_bad_probe_is_said_not_to_count(calm: Till, tmp_path: Path) -> None:
    calm.ok("probe", "add", "red", "--scale", "F")
    code = pot(calm, "09:00")
    calm.ok("cool", code, "69F", "--at", "10:50", "--probe", "red")
    off = flat(calm.ok("probe", "check", "red", "40F"))
    assert "rests on it" not in off
    said = flat(calm.ok("cool", code))
    assert "no reading shows it at 70 °F or colder by 11:00 that counts: 69 °F at 10:50" in said
    assert "was last" not in said
    drawn = tmp_path / "cooling.svg"
    calm.ok("cool", code, "--plot", str(drawn))
    assert "1 of its readings prove nothing" in drawn.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["record.svg", "record.pdf", "RECORD.SVG"])
def test_the_plot_is_a_record_that_can_be_read(calm: Till, name: str) -> None:
    code = pot(calm)
    calm.ok("cool", code, "70F", "--at", "07:50")
    said = calm.ok("cool", code, "41F", "--at", "11:50", "--plot", name)
    assert f"Plot: {name}" in said
    file = calm.folder / name
    words = (
        "fish stock", "first 70 °F", "by 08:00", "by 12:00", "first limit (70 °F) MET",
        "3-501.14(A)", "health authority has the last word",
    )  # fmt: skip
    for each in words:
        assert each in read_back(file), each


def read_back(file: Path) -> str:
    """The words of a plot, read by somebody else's reader."""
    if file.suffix == ".pdf":
        (page,) = PdfReader(file).pages
        return flat(page.extract_text())
    texts = ET.fromstring(file.read_bytes()).iter("{http://www.w3.org/2000/svg}text")
    return flat(" ".join("".join(each.itertext()) for each in texts))


def test_a_plot_of_what_runs_is_a_picture_with_its_forecast_in_it(calm: Till) -> None:
    code = pot(calm, "11:20")
    calm.ok("cool", code, "--plot", "before.png")
    calm.ok("cool", code, "--in", "walk-in", "--surroundings", "38F", "--at", "11:20")
    calm.ok("cool", code, "120F", "--at", "11:25")
    calm.ok("cool", code, "104F", "--at", "11:50", "--plot", "after.png")
    calm.ok("cool", code, "--plot", "after.svg")
    sizes = []
    for name in ("before.png", "after.png"):
        with Image.open(calm.folder / name) as picture:
            sizes.append(picture.size)
    assert sizes == [(1200, 675), (1200, 675)]
    assert "70 °F expected" in read_back(calm.folder / "after.svg")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--plot", "a.jpg"], "End its name in .png, .svg or .pdf"),
        (["--plot", "nowhere/a.png"], "no such folder"),
        (["--surroundings", "33F"], 'Say --in "ice bath", or a unit'),
        (["hot"], "not a temperature"),
        (["--in", "hot box"], "Nothing cools in the hot box"),
        (["off-heat", "--off-heat", "06:00"], "said twice"),
        (["68F", "--at", "23:59"], "still to come"),
        (["68F", "--probe", "gold"], "no probe 'gold'"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_written(
    stock: Stock, arguments: list[str], says: str
) -> None:
    before = stock.till.entries()
    assert says in stock.till.run("cool", stock.cooling, *arguments).refusal()
    assert stock.till.entries() == before


def test_without_a_code_there_is_nothing_to_log(stock: Stock) -> None:
    for arguments in (["--in", "walk-in"], ["--label"], ["--plot", "a.png"], ["--at", "11:00"]):
        assert "Whose cooling?" in stock.till.run("cool", *arguments).refusal()
    told = stock.till.run("cool", stock.stock[0]).refusal()
    assert "No cooling is logged for chicken stock" in told


def test_no_label_before_it_is_cold(stock: Stock) -> None:
    said = stock.till.ok("cool", stock.cooling, "140F", "--label")
    assert "No date label" in said
    assert not (stock.till.folder / "labels").exists()


@pytest.mark.parametrize("columns", [40, 80])
def test_at_a_terminal_each_cooling_is_sketched_and_fits(calm: Till, columns: int) -> None:
    code = pot(calm, "11:20", count=6)
    calm.ok("cool", code, "--in", "walk-in", "--surroundings", "38F", "--at", "11:20")
    calm.ok("cool", code, "130F", "--at", "11:30")
    shown = calm.at_a_terminal("cool", columns=columns)
    assert shown.code == 0, shown
    text = bare(shown.out)
    assert [line for line in text.splitlines() if width(line.rstrip()) > columns] == []
    assert ("o reading" in text) is (columns == 80)
    assert "and 5 more" in flat(text)
    piped = calm.ok("cool", COLUMNS=str(columns))
    assert "o reading" not in piped
    assert [line for line in piped.splitlines() if width(line) > columns] == []
    assert "o reading" in calm.ok("cool", "--sketch")
