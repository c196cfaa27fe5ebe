"""Every published worked example that the program ships holds, and says where it comes from."""

import tomllib
from pathlib import Path

import pytest

from holdlog.rules import scenario
from tests.rules.making import SHARED, book_text, category_text

EXAMPLES = sorted((SHARED / "worked_examples").glob("*.toml"))


def test_there_are_examples_of_every_kind_of_rule() -> None:
    kinds = {path.name.split("-", 1)[0] for path in EXAMPLES}
    assert kinds >= {"combined", "cooling", "freezing", "opened", "prepared", "tcs", "time"}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_example_holds(path: Path) -> None:
    read = scenario.read(path.read_text(encoding="utf-8"), path.name, book_text, category_text)
    assert scenario.unmet(read, scenario.answer(read)) == []
    assert any(read.expect.values())


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_example_names_its_source_and_how_it_was_seen(path: Path) -> None:
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    assert data["source"].strip()
    assert data["title"].strip()
    assert data["seen"] in {"text", "secondary", "memory", "inference"}
