"""The manual's pages about rules are what the rulebooks say, without a gap."""

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from holdlog.kitchen import rulebooks
from holdlog.kitchen.figures import MARKS
from holdlog.kitchen.situations import compare
from holdlog.rules.rule_tables import KINDS

ROOT = Path(__file__).resolve().parents[2]
PAGES = ROOT / "docs" / "rules"
BOOKS = sorted((ROOT / "shared" / "rulebooks").glob("*.toml"))
HAND_WRITTEN = (ROOT / "docs" / "amendments.md").read_text(encoding="utf-8")


def pages() -> dict[str, str]:
    return {path.name: path.read_text(encoding="utf-8") for path in PAGES.glob("*")}


def test_the_committed_pages_are_current(tmp_path: Path) -> None:
    """Where this fails the data has changed since: `make docs`, and look at what it changes."""
    (tmp_path / "left-over.md").write_text("the page of a kind that is no more")
    script = [sys.executable, str(ROOT / "docs" / "build.py"), str(tmp_path)]
    subprocess.run(script, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=True)
    made = {path.name: path.read_text(encoding="utf-8") for path in tmp_path.glob("*")}
    committed = pages()
    assert set(made) == set(committed)
    stale = [name for name, text in made.items() if committed[name] != text]
    assert stale == [], "run: make docs"


def test_there_is_a_page_for_every_kind_and_a_list_of_them() -> None:
    assert set(pages()) == {f"{kind}.md" for kind in KINDS} | {"README.md"}
    for kind in KINDS:
        assert f"({kind}.md)" in pages()["README.md"]


@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_every_rule_is_there_with_its_section_its_words_and_its_mark(path: Path) -> None:
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    assert f"`{path.stem}`" in pages()["README.md"]
    for name, rule in data["rule"].items():
        text = pages()[f"{rule['kind']}.md"]
        authority = re.split(r"^## ", text, flags=re.MULTILINE)
        (own,) = [part for part in authority if f"\n`{path.stem}`: " in part]
        entries = re.split(r"^### ", own, flags=re.MULTILINE)[1:]
        (entry,) = [each for each in entries if f"Rule `{name}`, " in each]
        assert entry.startswith(rule["cite"] + "\n")
        assert rule["says"] in entry
        assert f"Rule `{name}`, {MARKS[rule['seen']]}." in entry


def test_every_link_of_the_pages_leads_somewhere() -> None:
    files = [*PAGES.glob("*.md"), ROOT / "docs" / "amendments.md"]
    for file in files:
        for link in re.findall(r"\]\(([^)#]+)\)", file.read_text(encoding="utf-8")):
            assert (file.parent / link).resolve().exists(), f"{file.name}: {link}"


def test_every_worked_example_named_on_a_page_says_where_it_comes_from() -> None:
    for name, text in pages().items():
        shown = text.count("Worked example: ")
        assert text.count("\nSource: ") == shown, name
        # Each kind that decides anything has at least one.
        assert shown or name in {"README.md", "records.md", "outage.md"}, name


# ---- the page on amendments ------------------------------------------------------------------


def examples(folder: Path) -> dict[str, str]:
    """The files that the page shows, written to ``folder``; their paths by name."""
    found = {}
    for text in re.findall(r"^```toml\n(.*?)^```$", HAND_WRITTEN, re.MULTILINE | re.DOTALL):
        name = text.splitlines()[0].removeprefix("# file: ")
        (folder / name).write_text(text, encoding="utf-8")
        found[name] = str(folder / name)
    return found


def test_the_examples_of_the_page_on_amendments_load_and_stand(tmp_path: Path) -> None:
    files = examples(tmp_path)
    assert set(files) == {"tern-county.toml", "house.toml"}
    law = ["us-food-code-2022", files["tern-county.toml"]]
    for each in (
        *rulebooks.checked([files["tern-county.toml"]], law[:1]),
        *rulebooks.checked([files["house.toml"]], law),
    ):
        assert each.faults == ()


def test_they_do_what_the_page_says(tmp_path: Path) -> None:
    files = examples(tmp_path)
    code, county = "us-food-code-2022", files["tern-county.toml"]
    house = files["house.toml"]

    def last(stack: list[str], category: str, name: str) -> str:
        found = compare([code], stack, category).situations
        return next(each.second.says for each in found if each.name == name)

    assert last([code, county], "cooked-meat", "made on Monday") == "until Fri 5 June (5 days)"
    assert last([code, county, house], "stock", "made on Monday") == "until Wed 3 June (3 days)"
    assert last([code, county], "raw-seafood", "held cold") == "38 °F (3 °C) or below"
    assert "39 °F (4 °C)" in last([code, county, house], "stock", "held cold")


def test_every_command_on_the_page_is_one() -> None:
    from holdlog.cli.app import PLACES

    commands = re.findall(r"^    holdlog (.+)$", HAND_WRITTEN, re.MULTILINE)
    assert commands
    for line in commands:
        words = line.split()
        assert words[0] in PLACES or " ".join(words[:2]) in PLACES
