"""`holdlog probe`: thermometers, as a cook meets them.

What is allowed: FDA Food Code 2022, 4-203.11: ±2 °F on a probe that shows Fahrenheit alone, ±1 °C
(1.8 °F) on one that shows Celsius. Boiling points: IAPWS-95 at the pressure of the US Standard
Atmosphere, 1976: 202.3 °F at 5280 ft, 211.95 °F at the sea.
"""

import pytest

from tests.cli.conftest import Stock
from tests.cli.running import Till


@pytest.fixture
def red(till: Till) -> Till:
    """A kitchen with a good probe."""
    till.ok("probe", "add", "red", "--scale", "F")
    till.ok("probe", "check", "red", "32F")
    return till


def test_none_yet_says_how_to_add_one(till: Till) -> None:
    assert till.data("probe", "list") == []
    assert "holdlog probe add red --scale F" in till.ok("probe", "list")


def test_one_is_added_checked_and_listed(till: Till) -> None:
    told = till.ok("probe", "add", "red", "--scale", "f")
    assert "red is added; it shows °F." in told
    assert "never checked" in till.ok("probe", "list")
    told = till.ok("probe", "check", "red", "33.5F")
    assert "1.5 °F too high (expected 32 °F, 2 °F is allowed)." in told
    assert "Good." in told
    (listed,) = till.data("probe", "list")
    check = listed["last_ice_check"]
    assert (check["offset"], check["passed"], listed["in_doubt"]) == ("1.5", True, False)
    told = till.ok("probe", "list")
    assert "1.5 °F too high" in told
    assert "today" in told


def test_a_probe_with_both_scales_fails_within_two_degrees_fahrenheit(till: Till) -> None:
    till.ok("probe", "add", "dual", "--scale", "FC")
    told = till.ok("probe", "check", "dual", "33.9F")
    assert "1.8 °F is allowed" in told
    assert "OUT OF TOLERANCE (FDA Food Code 4-203.11)." in told
    assert "exactly right" in till.ok("probe", "check", "dual", "0C")


def test_a_bad_check_says_what_it_shook_and_what_to_do(stock: Stock, red: Till) -> None:
    code = stock.stock[0]
    red.ok("read", code, "38F", "--probe", "red")
    told = red.ok("probe", "check", "red", "36F")
    assert "OUT OF TOLERANCE" in told
    assert "Read each again now on a good probe: holdlog read CODE READING --probe NAME" in told
    assert code[:4] in told
    assert "IN DOUBT: probe red; 1 container was last read on it." in red.ok("due")
    assert [each["probe"] for each in red.data("due")["probes_in_doubt"]] == ["red"]
    assert "IN DOUBT" in red.ok("probe", "list")
    assert "on probe red [probe in doubt]" in red.ok("why", code, COLUMNS="200")
    red.ok("probe", "add", "blue", "--scale", "F")
    red.ok("read", code, "38F", "--probe", "blue")
    assert red.data("probe", "list")[0]["last_read_on"] == []
    again = red.ok("probe", "check", "red", "32F")
    assert "What was read on it while it was in doubt stays in doubt." in again
    assert "IN DOUBT" not in red.ok("due")


def test_a_bad_check_holds_what_was_cooled_on_it(stock: Stock, red: Till) -> None:
    for reads in ("140F", "69F", "40F"):
        red.ok("cool", stock.cooling, reads, "--probe", "red")
    done = red.data("probe", "check", "red", "36F")
    assert [(each["code"], each["was"], each["verdict"]) for each in done["changed"]] == [
        (stock.cooling, "serve", "hold")
    ]
    assert (done["passed"], done["decides"], done["offset"]) == (False, True, "4")
    assert done["read_again"] == [stock.cooling]
    red.ok("void", str(done["entry"]), "--why", "that was the oven's")
    assert red.data("probe", "list")[0]["in_doubt"] is False
    assert red.data("why", stock.cooling)["holding"]["verdict"] == "serve"


def test_who_reads_a_probe_in_doubt_is_told_at_once(stock: Stock, red: Till) -> None:
    red.ok("probe", "check", "red", "36F")
    for command, code, reads in (("read", stock.stock[0], "38F"), ("cool", stock.cooling, "140F")):
        told = red.ok(command, code, reads, "--probe", "red")
        assert "IN DOUBT: probe red. This reading proves nothing: use a good one." in told
        assert "IN DOUBT" not in red.ok(command, code, reads)


def test_the_probe_of_the_environment_is_meant_unless_another_is_named(
    stock: Stock, red: Till
) -> None:
    code = stock.stock[0]
    red.ok("read", code, "38F", HOLDLOG_PROBE="red")
    assert red.data("why", code)["story"][-1]["says"] == "38 °F where it is held on probe red"


def test_the_audit_shows_the_checks_failed_ones_first(red: Till) -> None:
    red.ok("probe", "check", "red", "36F")
    assert [each["passed"] for each in red.data("audit")["probe_checks"]] == [False, True]
    assert "Checks of the probes, failed ones first" in red.ok("audit")


@pytest.mark.parametrize(
    ("where", "reads", "expected"),
    [
        (("--altitude", "5280ft"), "203F", 202.31),
        (("--altitude", "1609.344 m"), "202F", 202.31),
        (("--altitude", "0ft"), "212F", 211.95),
        (("--pressure", "1013.25hPa"), "212F", 211.95),
    ],
)
def test_boiling_water_is_advice(
    red: Till, where: tuple[str, ...], reads: str, expected: float
) -> None:
    done = red.data("probe", "check", "red", reads, "--boiling", *where)
    # Well within the 1 °F that weather moves it by.
    assert float(done["expected"]) == pytest.approx(expected, abs=0.1)
    assert (done["passed"], done["decides"]) == (True, False)
    told = red.ok("probe", "check", "red", "190F", "--boiling", *where)
    assert "Only ice decides.\nCheck it there now: holdlog probe check red 32F\n" in told
    assert red.data("probe", "list")[0]["in_doubt"] is False


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("add", "blue"), "What does it show? Say --scale F, C, or FC for both."),
        (("add", "blue", "--scale", "K"), "What does it show?"),
        (("add", "RED", "--scale", "F"), "There is a probe 'red' already."),
        (("add", " ", "--scale", "F"), "is no name for a probe"),
        (("check", "green", "32F"), "There is no probe 'green'. Known: red."),
        (("check", "red", "0C"), "shows °F alone"),
        (("check", "red", "cold"), "'cold' is not a temperature."),
        (("check", "red", "212F", "--boiling"), "Say --altitude"),
        (("check", "red", "212F", "--boiling", "--altitude", "high"), "'high' is no altitude."),
        (
            ("check", "red", "212F", "--boiling", "--altitude", "99999ft"),
            "no altitude of a kitchen",
        ),
        (("check", "red", "212F", "--boiling", "--pressure", "30inHg"), "is no air pressure"),
        (("check", "red", "212F", "--boiling", "--pressure", "10hPa"), "10 hPa is no air pressure"),
        (("check", "red", "32F", "--altitude", "0ft"), "Ice melts at the same temperature"),
        (("check", "red", "32F", "--ice", "--boiling"), "In ice, or in boiling water?"),
    ],
)
def test_what_cannot_be_is_refused_in_a_line(
    red: Till, arguments: tuple[str, ...], says: str
) -> None:
    before = red.entries()
    assert says in red.run("probe", *arguments).refusal()
    assert red.entries() == before


def test_a_reading_on_a_probe_that_nobody_added_is_refused(stock: Stock) -> None:
    till = stock.till
    before = till.entries()
    for command in ("read", "cool"):
        refused = till.run(command, stock.cooling, "140F", "--probe", "red").refusal()
        assert "There is no probe 'red'." in refused
        assert "holdlog probe add NAME --scale F" in refused
    assert till.entries() == before
