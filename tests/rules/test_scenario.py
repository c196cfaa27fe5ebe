"""The scenario contract: what may be written, what comes back, and that nothing crashes."""

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdlog.core.errors import BadFile, Mistake
from holdlog.rules import scenario
from tests.rules.making import book_text, category_text

GOOD = """
timezone = "America/Chicago"
rulebooks = ["us-food-code-2022"]
now = 2026-06-04T09:00:00

[batch.burgers]
item = "burgers, cooked"
category = "cooked-meat"
[[batch.burgers.event]]
event = "prepared"
at = 2026-06-01T15:00:00

[batch.chili]
item = "chili"
category = "cooked-dish"
made_from = ["burgers"]
[[batch.chili.event]]
event = "prepared"
at = 2026-06-03T11:00:00
"""


def find_book(name: str) -> tuple[str, str]:
    if name != "us-food-code-2022":
        raise Mistake("no-book", f"There is no rulebook {name!r}.")
    return book_text(name)


def find_category(name: str) -> tuple[str, str]:
    try:
        return category_text(name)
    except (OSError, ValueError) as error:
        raise Mistake("no-category", f"There is no category {name!r}.") from error


def answered(text: str) -> dict[str, Any]:
    return scenario.answer(scenario.read(text, "file.toml", find_book, find_category))


def faults(text: str) -> tuple[str, ...]:
    with pytest.raises(BadFile) as caught:
        answered(text)
    return caught.value.faults


def test_the_example_of_the_manual() -> None:
    # Southern Nevada Health District, FAQ: burgers of June 1 in chili of June 3 give June 7.
    chili = answered(GOOD)["batches"]["chili"]
    assert chili["last_day"] == "2026-06-07"
    assert chili["use_by"] == "2026-06-07T23:59:59-05:00"
    assert (chili["day"], chili["of"], chili["verdict"]) == (4, 7, "serve")
    assert chili["basis"][0]["rule"] == "combined"
    assert chili["basis"][0]["binds"] is True


def kinds(value: object) -> object:
    match value:
        case dict():
            return {key: kinds(each) for key, each in value.items()}
        case list():
            return [kinds(value[0])] if value else []
        case _:
            return type(value).__name__


def test_the_answer_has_the_keys_and_types_of_the_contract() -> None:
    result = answered(GOOD)
    assert list(result) == ["rulebooks", "at", "batches"]
    assert kinds(result["batches"]["chili"]) == {
        "verdict": "str",
        "state": "str",
        "tcs": "str",
        "use_by": "str",
        "last_day": "str",
        "day": "int",
        "of": "int",
        "days_left_once_thawed": "NoneType",
        "best_by": "str",
        "cooling": "NoneType",
        "basis": [
            {
                "rule": "str",
                "cite": "str",
                "says": "str",
                "limit": "str",
                "binds": "bool",
                "seen": "str",
            }
        ],
        "cautions": ["str"],
        "conventions": {"freeze_day": "str", "thaw_day": "str", "day_end": "str"},
    }
    assert json.loads(json.dumps(result)) == result


def test_the_answer_of_frozen_and_cooling_food() -> None:
    text = GOOD + (
        "[[batch.chili.event]]\nevent = 'frozen'\nat = 2026-06-03T18:00:00\n"
        "[[batch.burgers.event]]\nevent = 'off-heat'\nat = 2026-06-04T08:00:00\n"
    )
    batches = answered(text)["batches"]
    frozen, hot = batches["chili"], batches["burgers"]
    assert frozen["state"] == "frozen"
    assert [frozen[key] for key in ("use_by", "last_day", "day")] == [None, None, None]
    # Of seven days three are used: June 1, 2, 3.
    assert frozen["days_left_once_thawed"] == 4
    assert hot["cooling"] == {
        "first": "running",
        "whole": "running",
        "deadline_first": "2026-06-04T10:00:00-05:00",
        "deadline_whole": "2026-06-04T14:00:00-05:00",
        "forecast": None,
        # An hour after 135 °F, on the one exponential through the three limits of §3-501.14(A).
        "pace": {"should_be": "93 F", "needs_times_faster": None},
    }
    assert hot["verdict"] == "hold"


def test_without_a_now_it_is_the_moment_of_the_last_event() -> None:
    text = GOOD.replace("now = 2026-06-04T09:00:00", "")
    assert answered(text)["at"] == "2026-06-03T11:00:00-05:00"


def test_what_happens_after_now_is_ignored() -> None:
    later = "[[batch.chili.event]]\nevent = 'discarded'\nat = 2026-06-05T11:00:00\n"
    assert answered(GOOD + later) == answered(GOOD)


def test_the_order_of_events_in_the_file_does_not_matter() -> None:
    frozen = "[[batch.burgers.event]]\nevent = 'frozen'\nat = 2026-06-02T15:00:00\n"
    head, made, rest = GOOD.partition("[[batch.burgers.event]]")
    assert answered(head + frozen + made + rest) == answered(GOOD + frozen)


SPLIT = (
    "[batch.tub]\ncategory = 'cooked-meat'\nitem = 'tub'\nsplit_from = 'burgers'\n"
    "[[batch.tub.event]]\nevent = 'chilled'\nat = 2026-06-02T10:00:00\n"
)


def test_a_split_off_carries_what_happened_before_and_not_what_happened_after() -> None:
    frozen = "[[batch.burgers.event]]\nevent = 'frozen'\nat = 2026-06-03T10:00:00\n"
    batches = answered(GOOD + SPLIT + frozen)["batches"]
    assert batches["tub"]["last_day"] == "2026-06-07"
    assert batches["tub"]["state"] == "chilled"
    assert batches["burgers"]["state"] == "frozen"


def test_a_split_off_carries_the_faults_of_before() -> None:
    warm = (
        "[[batch.burgers.event]]\nevent = 'reading'\nat = 2026-06-02T09:00:00\n"
        "temperature = '50 F'\n"
    )
    assert answered(GOOD + SPLIT + warm)["batches"]["tub"]["verdict"] == "hold"


def test_a_split_off_of_discarded_food_is_gone_too() -> None:
    binned = "[[batch.burgers.event]]\nevent = 'discarded'\nat = 2026-06-02T09:00:00\n"
    assert answered(GOOD + SPLIT + binned)["batches"]["tub"]["state"] == "gone"


def test_a_split_off_with_other_facts_than_its_parent_is_refused() -> None:
    (said,) = faults(GOOD + SPLIT.replace("cooked-meat", "raw-meat"))
    assert "category" in said
    assert faults(GOOD + SPLIT.replace("item = 'tub'", "susceptible_population = true"))


@pytest.mark.parametrize(
    ("was", "becomes", "where", "names"),
    [
        ("2026-06-03T11:00:00", "2026-06-03", "[batch.chili.event #1]", "at"),
        ("2026-06-03T11:00:00", "'June'", "[batch.chili.event #1]", "at"),
        ("2026-06-03T11:00:00", "9999-06-03T11:00:00", "[batch.chili.event #1]", "at"),
        ("2026-06-03T11:00:00", "0001-06-03T11:00:00", "[batch.chili.event #1]", "at"),
        ('"cooked-dish"', "true", "[batch.chili]", "category"),
        ('category = "cooked-dish"', "", "[batch.chili]", "category"),
        ('item = "chili"', "ph = true", "[batch.chili]", "ph"),
        ('item = "chili"', "ph = nan", "[batch.chili]", "ph"),
        ('item = "chili"', "ph = inf", "[batch.chili]", "ph"),
        ('item = "chili"', "ph = 15", "[batch.chili]", "ph"),
        ('item = "chili"', f"ph = 0x{'f' * 9000}", "[batch.chili]", "ph"),
        ('item = "chili"', "aw = 1.01", "[batch.chili]", "aw"),
        ('item = "chili"', "packaged = 1", "[batch.chili]", "packaged"),
        ('item = "chili"', "colour = 'red'", "[batch.chili]", "colour"),
        ('item = "chili"', "exempt_as = 'cheese'", "[batch.chili]", "exempt_as"),
        ('["burgers"]', '["salad"]', "[batch.chili]", "made_from"),
        ('["burgers"]', '["chili"]', "[batch.chili]", "made_from"),
        ('["burgers"]', "[1]", "[batch.chili]", "made_from"),
        ('"America/Chicago"', '"Chicago"', "", "timezone"),
        ('"America/Chicago"', '""', "", "timezone"),
        ('["us-food-code-2022"]', "[]", "", "rulebooks"),
        ('["us-food-code-2022"]', "'us-food-code-2022'", "", "rulebooks"),
        ("now = ", "then = ", "", "then"),
        ("now = 2026-06-04T09:00:00", "now = 2026-06-04", "", "now"),
        ("now = 2026-06-04T09:00:00", "conventions = 3", "", "conventions"),
        ("now = 2026-06-04T09:00:00", "conventions.day_end = 'noon'", "[conventions]", "day_end"),
        ("now = 2026-06-04T09:00:00", "expect.pie.verdict = 'serve'", "[expect]", "pie"),
        ("now = 2026-06-04T09:00:00", "expect.chili = 3", "[expect]", "chili"),
    ],
)
def test_a_wrong_file_is_named_with_table_and_key(
    was: str, becomes: str, where: str, names: str
) -> None:
    assert was in GOOD
    said = faults(GOOD.replace(was, becomes))
    expected = f"file.toml: {where} {names}: " if where else f"file.toml: {names}: "
    assert any(fault.startswith(expected) for fault in said), said
    assert all("\n" not in fault and len(fault) < 600 for fault in said)


def test_every_fault_is_reported_once_and_all_at_once() -> None:
    text = GOOD.replace('"America/Chicago"', '"Chicago"').replace('["burgers"]', '["salad"]')
    said = faults(text.replace("2026-06-01T15:00:00", "true"))
    assert len(said) == len(set(said)) == 3


def test_an_unknown_rulebook_or_category_is_a_bad_file() -> None:
    assert "no-such-book" in faults(GOOD.replace("us-food-code-2022", "no-such-book"))[0]
    assert "soup" in faults(GOOD.replace('"cooked-dish"', '"soup"'))[0]


def batch(name: str, *made_from: str) -> str:
    return (
        f"[batch.{name}]\ncategory = 'sauce'\nmade_from = {list(made_from)}\n"
        f"event = [{{ event = 'prepared', at = 2026-06-01T15:00:00 }}]\n"
    )


HEAD = 'timezone = "America/Chicago"\nrulebooks = ["us-food-code-2022"]\n'


@pytest.mark.parametrize("length", [1, 2, 3, 300])
def test_food_made_from_itself_is_refused(length: int) -> None:
    ring = [batch(f"b{number}", f"b{(number + 1) % length}") for number in range(length)]
    assert any("made from itself" in fault for fault in faults(HEAD + "".join(ring)))


def test_a_ladder_of_two_to_the_forty_paths_is_answered() -> None:
    rungs = [batch("a0"), batch("b0")]
    for number in range(1, 40):
        rungs += [
            batch(f"{side}{number}", f"a{number - 1}", f"b{number - 1}") for side in ("a", "b")
        ]
    assert answered(HEAD + "".join(rungs))["batches"]["a39"]["last_day"] == "2026-06-07"


def test_a_chain_of_a_thousand_batches_is_answered() -> None:
    chain = [batch("b0"), *(batch(f"b{n}", f"b{n - 1}") for n in range(1, 1000))]
    assert answered(HEAD + "".join(chain))["batches"]["b999"]["last_day"] == "2026-06-07"


def test_what_is_expected_and_does_not_hold_is_told() -> None:
    text = GOOD + "[expect.chili]\nlast_day = '2026-06-08'\nverdict = 'serve'\n"
    read = scenario.read(text, "file.toml", find_book, find_category)
    (wrong,) = scenario.unmet(read, scenario.answer(read))
    assert "[expect.chili] last_day" in wrong
    assert "2026-06-07" in wrong


@pytest.mark.parametrize(
    "strange",
    ["verdict = {x = 1}", "basis = {x = 1}", "caution = 3", "colour = 1", "cooling = {first = 1}"],
)
def test_a_strange_expectation_is_told_as_unmet(strange: str) -> None:
    text = f"{GOOD}[expect.chili]\n{strange}\n"
    read = scenario.read(text, "file.toml", find_book, find_category)
    assert len(scenario.unmet(read, scenario.answer(read))) == 1


# ---- nothing crashes -------------------------------------------------------------------------


def never_crashes(text: str) -> None:
    try:
        answered(text)
        said: tuple[str, ...] = ("file.toml: nothing",)
    except BadFile as error:
        said = error.faults
    assert said
    assert all(fault.startswith("file.toml") and "\n" not in fault for fault in said)


@settings(max_examples=400)
@given(
    st.text(max_size=80)
    | st.text(alphabet="[]{}=\"'.,\n#01:-TZabx \\u", max_size=60)
    | st.binary(max_size=40).map(lambda raw: raw.decode("latin-1"))
)
def test_no_text_crashes(text: str) -> None:
    never_crashes(text)


@settings(max_examples=400)
@given(st.integers(0, len(GOOD) - 1), st.text(max_size=12), st.integers(0, 12))
def test_no_slip_of_the_pen_crashes(place: int, typed: str, lost: int) -> None:
    never_crashes(GOOD[:place] + typed + GOOD[place + lost :])


VALUES = st.sampled_from(
    ["true", "0", "-1", "1e400", "nan", "-inf", f"0x{'f' * 5000}", '""', '"x"', '"68 F"', '"4h"',
     "2026-06-02", "2026-06-02T10:00:00", "2026-06-02T10:00:00+14:00", "10:00:00",
     "0001-01-01T00:00:00Z", "9999-12-31T23:59:59", "2026-03-08T02:30:00", "[]", "[[[]]]", "{}",
     "{a = {b = 1}}", '["burgers"]', '"burgers"', '"safety"', '"vacuum"', '"microwave"', "1000000"]
)  # fmt: skip
KEYS = st.sampled_from(
    ["item", "category", "ph", "aw", "heat_treated", "packaged", "ready_to_eat", "commercial",
     "ambient_ingredients", "made_from", "split_from", "exempt_as", "depth_in", "reduced_oxygen",
     "event", "x", '"a\\nb"', '""']
)  # fmt: skip
EVENT_KEYS = st.sampled_from(
    ["temperature", "maker_use_by", "maker_date_for", "method", "plan", "held_seconds", "minutes",
     "took_minutes", "surroundings", "limit", "peak", "seconds", "unknown_seconds",
     "reduced_oxygen", "at"]
)  # fmt: skip
EVENTS = st.sampled_from(
    ["prepared", "received", "opened", "off-heat", "cooling-in", "cooling", "chilled", "reading",
     "frozen", "thawed", "reheated", "hot-held", "out", "packed", "excursion", "split", "used",
     "discarded", "eaten"]
)  # fmt: skip


@settings(max_examples=500)
@given(
    facts=st.dictionaries(KEYS, VALUES, max_size=4),
    events=st.lists(
        st.tuples(EVENTS, VALUES, st.dictionaries(EVENT_KEYS, VALUES, max_size=3)), max_size=4
    ),
)
def test_no_strange_value_crashes(
    facts: dict[str, str], events: list[tuple[str, str, dict[str, str]]]
) -> None:
    text = GOOD + "[batch.odd]\n" + "".join(f"{k} = {v}\n" for k, v in facts.items())
    if "category" not in facts:
        text += 'category = "other"\n'
    for kind, when, more in events:
        fields = {"at": when, **more}
        text += f"[[batch.odd.event]]\nevent = '{kind}'\n"
        text += "".join(f"{k} = {v}\n" for k, v in fields.items())
    never_crashes(text)


@pytest.mark.parametrize(
    "text",
    [
        f"{HEAD}x = {'[' * 2000}{']' * 2000}",
        f"{HEAD}item = {'{a=' * 2000}1{'}' * 2000}",
        f"{HEAD}[batch.{'.'.join('a' * 3000)}]\n",
        f"{GOOD}[batch.odd.item.{'.'.join('a' * 3000)}]\n",
        f"{GOOD}[batch.{'a' * 3000}]\n",
        f"{GOOD}now2 = {'9' * 5000}\n",
        "\ufeff" + GOOD,
        GOOD.replace("\n", "\r"),
        "",
        "\0",
        "x" * 1_000_001,
    ],
    ids=lambda text: repr(text[-12:]),
)
def test_no_deep_or_huge_file_crashes(text: str) -> None:
    assert faults(text)
