"""The journal as a file. It is verified by another program: the one in docs/export.md, which is
taken out of the page and run as it stands there. SHA-256 is the standard library's.
"""

import json
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Stock
from tests.cli.running import ROOT, Till

PAGE = (ROOT / "docs" / "export.md").read_text(encoding="utf-8")


@pytest.fixture
def exported(till: Till) -> Path:
    till.ok("export", "--to", "journal.jsonl")
    return till.folder / "journal.jsonl"


def by_the_page(file: Path, *head: str) -> int:
    (script,) = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
    assert len(script.splitlines()) <= 30
    program = file.parent / "verifier.py"
    program.write_text(script, encoding="utf-8")
    return subprocess.run(
        [sys.executable, "-I", str(program), str(file), *head], capture_output=True, check=False
    ).returncode


def both(till: Till, file: Path, *head: str) -> tuple[int, int]:
    """What the page's verifier and ours leave with."""
    ours = till.run("verify", str(file), *(["--head", *head] if head else []))
    assert ours.code in (0, 1), ours
    return by_the_page(file, *head), ours.code


def test_an_export_is_whole_to_either_program(till: Till, exported: Path) -> None:
    lines = exported.read_bytes().splitlines(keepends=True)
    assert len(lines) == till.entries()
    head = json.loads(lines[-1])["hash"]
    assert both(till, exported) == (0, 0)
    assert both(till, exported, head) == (0, 0)
    assert both(till, exported, head[:8]) == (0, 0)
    # As a label, a sheet or the file itself had it on an earlier day.
    early = json.loads(lines[6])["hash"]
    assert both(till, exported, f"#7 {early[:8]}") == (0, 0)
    assert both(till, exported, f"#8 {early[:8]}") == (1, 1)
    assert both(till, exported, f"#7 {head}") == (1, 1)


def changed(lines: list[bytes]) -> list[bytes]:
    entry = json.loads(lines[40])
    entry["by"] = "XX"
    return [*lines[:40], json.dumps(entry).encode() + b"\n", *lines[41:]]


def body_written_again(lines: list[bytes]) -> list[bytes]:
    """The same facts in other bytes: the hash is over the stored text."""
    entry = json.loads(lines[0])
    entry["body"] = json.dumps(json.loads(entry["body"]), indent=1)
    return [json.dumps(entry).encode() + b"\n", *lines[1:]]


def one_taken_out(lines: list[bytes]) -> list[bytes]:
    return lines[:10] + lines[11:]


def two_swapped(lines: list[bytes]) -> list[bytes]:
    return [*lines[:10], lines[11], lines[10], *lines[12:]]


def beginning_cut(lines: list[bytes]) -> list[bytes]:
    return lines[1:]


def one_doubled(lines: list[bytes]) -> list[bytes]:
    return [*lines[:10], lines[9], *lines[10:]]


def other_site(lines: list[bytes]) -> list[bytes]:
    return [*lines[:-1], lines[-1].replace(b'"site":"main"', b'"site":"annex"')]


def garbage(lines: list[bytes]) -> list[bytes]:
    return [*lines, b"\xff\xfe no entry\n"]


def nothing(_: list[bytes]) -> list[bytes]:
    return []


@pytest.mark.parametrize(
    "harm",
    [changed, body_written_again, one_taken_out, two_swapped, beginning_cut, one_doubled,
     other_site, garbage, nothing],
    ids=lambda harm: harm.__name__,
)  # fmt: skip
def test_what_was_done_to_it_shows(
    till: Till, exported: Path, harm: Callable[[list[bytes]], list[bytes]]
) -> None:
    exported.write_bytes(b"".join(harm(exported.read_bytes().splitlines(keepends=True))))
    assert both(till, exported) == (1, 1)


def test_a_cut_end_shows_only_beside_the_head_from_paper(till: Till, exported: Path) -> None:
    lines = exported.read_bytes().splitlines(keepends=True)
    head = json.loads(lines[-1])["hash"]
    exported.write_bytes(b"".join(lines[:-3]))
    assert both(till, exported) == (0, 0)
    assert "cut off" in till.ok("verify", str(exported))
    assert both(till, exported, head) == (1, 1)


def test_a_file_cut_within_a_line_is_not_whole(till: Till, exported: Path) -> None:
    exported.write_bytes(exported.read_bytes()[:-10])
    assert both(till, exported) == (1, 1)


def test_an_older_file_is_not_overwritten_unasked(till: Till, exported: Path) -> None:
    before = exported.read_bytes()
    assert "there already" in till.run("export", "--to", str(exported)).refusal()
    till.ok("prep", "chicken stock", "1l", "--tape")
    assert exported.read_bytes() == before
    till.ok("export", "--to", str(exported), "--replace")
    assert exported.read_bytes().startswith(before)
    assert [each.name for each in exported.parent.iterdir() if each.name.startswith(".")] == []


def test_verify_asks_for_a_file_and_a_head_that_can_be(till: Till, exported: Path) -> None:
    assert "there is no such file" in till.run("verify", "none.jsonl").refusal()
    assert "no plain file" in till.run("verify", "/dev/zero").refusal()
    assert "no plain file" in till.run("restore", "/dev/zero", "--dry-run").refusal()
    assert "no head" in till.run("verify", str(exported), "--head", "abc").refusal()
    found = till.data("verify", str(exported))
    assert found["whole"] is True
    assert found["head_compared"] is False


def test_the_journal_is_never_written_over(stock: Stock) -> None:
    till, journal = stock.till, str(stock.till.journal)
    before = till.journal.read_bytes()
    for words in (
        ("export", "--to", journal, "--replace"),
        ("register", "on-hand", "--csv", journal, "--replace"),
        ("inspector-file", "--pdf", journal),
        ("round", "sheet", "--to", journal),
        ("ahead", "--ics", journal),
    ):
        assert "is the journal itself" in till.run(*words).refusal(), words
    assert till.journal.read_bytes() == before
    assert "All is well" in till.ok("doctor")
