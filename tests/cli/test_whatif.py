"""`holdlog whatif`: the scenario contract as other programs meet it."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import EXAMPLES, HOLDLOG, ROOT, Done, environment

CHILI = EXAMPLES / "combined-burgers-chili.toml"
BATCH_KEYS = {
    "verdict", "state", "tcs", "use_by", "last_day", "day", "of", "days_left_once_thawed",
    "best_by", "cooling", "basis", "cautions", "conventions",
}  # fmt: skip


def whatif(*arguments: str, stdin: bytes = b"", folder: Path | None = None) -> Done:
    done = subprocess.run(
        [*HOLDLOG, "whatif", *arguments],
        input=stdin, env=environment(), cwd=folder, capture_output=True, check=False,
    )  # fmt: skip
    return Done(done.returncode, done.stdout.decode(), done.stderr.decode())


def test_json_has_the_form_of_the_contract() -> None:
    done = whatif(str(CHILI), "--json")
    assert (done.code, done.err) == (0, "")
    found = done.json()
    assert set(found) == {"rulebooks", "at", "batches"}
    assert found["rulebooks"] == ["us-food-code-2022"]
    assert found["at"] == "2026-06-04T09:00:00-07:00"
    chili = found["batches"]["chili"]
    assert set(chili) == BATCH_KEYS
    assert set(chili["conventions"]) == {"freeze_day", "thaw_day", "day_end"}
    assert all(
        set(each) == {"rule", "cite", "says", "limit", "binds", "seen"} for each in chili["basis"]
    )
    # Southern Nevada Health District's own example: burgers of June 1 bind the chili of June 3.
    assert (chili["last_day"], chili["day"], chili["of"]) == ("2026-06-07", 4, 7)
    assert [each["cite"] for each in chili["basis"] if each["binds"]] == ["3-501.17(C)"]


def test_cooling_has_the_form_of_the_contract() -> None:
    found = whatif(str(EXAMPLES / "cooling-running.toml"), "--json").json()
    cooling = next(each["cooling"] for each in found["batches"].values() if each["cooling"])
    assert set(cooling) == {
        "first", "whole", "deadline_first", "deadline_whole", "forecast", "pace",
    }  # fmt: skip


def test_people_are_told_what_is_ahead_of_food_that_cools() -> None:
    said = " ".join(whatif(str(EXAMPLES / "cooling-running.toml")).out.split())
    # An hour and a half after 135 °F, on the pace line of §3-501.14(A); the limit is at two.
    assert "By now it should be at 80 °F or colder." in said
    assert "Read it now and just before 14:00." in said
    assert "Caution: Where it cools now, and how warm it is there, is not logged" in said


def test_people_are_told_days_by_name_and_the_rule() -> None:
    said = whatif(str(CHILI)).out
    assert "chili: serve, use by Sun 7 June 2026, day 4 of 7" in said
    assert "Sun 7 June 2026 by 3-501.17(C)" in said
    assert "As of Thu 4 June 2026 09:00, by us-food-code-2022." in said
    assert "2026-06-07" not in said


def test_a_scenario_is_read_from_standard_input() -> None:
    text = CHILI.read_bytes()
    assert whatif("-", "--json", stdin=text).out == whatif(str(CHILI), "--json").out
    bad = whatif("-", stdin=text.replace(b'category = "cooked-dish"', b"category = 7"))
    assert "standard input: [batch.chili] category: expected a text" in bad.refusal()


def test_check_holds_the_published_answer_against_ours(tmp_path: Path) -> None:
    assert whatif(str(CHILI), "--check").code == 0
    wrong = tmp_path / "wrong.toml"
    wrong.write_bytes(CHILI.read_bytes().replace(b"day = 4", b"day = 5"))
    done = whatif(str(wrong), "--check", "--json")
    line = done.fault()
    assert "wrong.toml: [expect.chili] day: expected 5, got 4" in line
    assert done.json()["batches"]["chili"]["day"] == 4
    assert whatif(str(wrong)).code == 0


@pytest.mark.parametrize(
    ("was", "becomes", "names"),
    [
        ('category = "cooked-dish"\n', "", ["[batch.chili]", "category", "missing"]),
        ('category = "cooked-dish"', 'categry = "x"', ["[batch.chili]", "categry", "unknown key"]),
        ("2026-06-03T11:00:00", '"Wednesday"', ["[batch.chili.event #1]", "at", "2026-06-01T"]),
        ('event = "prepared", at = 2026-06-03', 'event = "cooked", at = 2026-06-03',
         ["[batch.chili.event #1]", "event", "one of"]),
        ('made_from = ["burgers"]', 'made_from = ["sliders"]', ["[batch.chili]", "'sliders'"]),
        ('made_from = ["burgers"]', 'made_from = ["chili"]', ["[batch.chili]", "itself"]),
        ('timezone = "America/Los_Angeles"', 'timezone = "Coast"', ["timezone", "'Coast'"]),
        ('["us-food-code-2022"]', '["us-food-code-1822"]', ["'us-food-code-1822'", "known"]),
        ("[batch.chili]", "[batch.chili", ["not valid TOML", "line"]),
    ],
)  # fmt: skip
def test_a_bad_file_is_one_line_with_file_table_and_key(
    tmp_path: Path, was: str, becomes: str, names: list[str]
) -> None:
    text = CHILI.read_text(encoding="utf-8")
    assert was in text
    (tmp_path / "soup.toml").write_text(text.replace(was, becomes), encoding="utf-8")
    done = whatif(str(tmp_path / "soup.toml"), "--json")
    line = done.refusal()
    assert "soup.toml" in line
    for name in names:
        assert name in line
    assert set(json.loads(done.out)["error"]) == {"code", "says", "hint"}


def test_files_that_are_none(tmp_path: Path) -> None:
    assert "nowhere.toml" in whatif(str(tmp_path / "nowhere.toml")).refusal()
    assert str(tmp_path) in whatif(str(tmp_path)).refusal()
    (tmp_path / "noise.toml").write_bytes(bytes(range(128, 256)))
    assert "not a text in UTF-8" in whatif(str(tmp_path / "noise.toml")).refusal()
    (tmp_path / "empty.toml").write_bytes(b"")
    assert "timezone" in whatif(str(tmp_path / "empty.toml")).refusal()
    assert "FILE" in whatif().refusal()
    assert "b.toml" in whatif("a.toml", "b.toml").refusal()


def test_a_house_file_beside_the_scenario_is_found(tmp_path: Path) -> None:
    text = CHILI.read_text(encoding="utf-8").replace(
        '["us-food-code-2022"]', '["us-food-code-2022", "house.toml"]'
    )
    (tmp_path / "soup.toml").write_text(text, encoding="utf-8")
    (tmp_path / "house.toml").write_text("nonsense = 1\n")
    line = whatif("soup.toml", folder=tmp_path).refusal()
    assert "house.toml" in line
    assert "nonsense" in line


def test_no_kitchen_is_needed_and_none_is_touched(tmp_path: Path) -> None:
    done = subprocess.run(
        [*HOLDLOG, "whatif", str(CHILI)],
        env=environment(HOLDLOG_DB=str(tmp_path / "none.db"), HOME=str(tmp_path)),
        cwd=tmp_path, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("order", [["--db", "x", "whatif"], ["whatif", "--json"], ["whatif"]])
def test_the_quick_way_and_the_long_way_say_the_same(order: list[str]) -> None:
    """A plain whatif is understood without loading the parser; both must read alike."""
    done = subprocess.run(
        [*HOLDLOG, *order, str(CHILI), *([] if "--json" in order else ["--json"])],
        env=environment(), capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert done.stdout == whatif(str(CHILI), "--json").out


def test_the_quick_way_loads_no_parser() -> None:
    """Other programs call it a thousand times; the parser is a third of its start."""
    program = "import sys; from holdlog.cli.door import run; run(sys.argv[1:])"
    program += "; print('typer' in sys.modules, file=sys.stderr)"
    loaded = [
        subprocess.run(
            [sys.executable, "-c", program, *words, str(CHILI)],
            env=environment(), cwd=ROOT, capture_output=True, encoding="utf-8", check=True,
        ).stderr.strip()
        for words in (["whatif"], ["whatif", "--json", "--check"], ["--db", "x", "whatif"])
    ]  # fmt: skip
    assert loaded == ["False", "False", "True"]
