"""The demonstration plays the very commands, and ends with something to look at."""

import re
import subprocess
import zipfile
from pathlib import Path

import pytest

from tests.cli.running import HOLDLOG, Till, environment


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    folder = tmp_path_factory.mktemp("demo")
    done = subprocess.run(
        [*HOLDLOG, "demo", "--folder", "out"],
        cwd=folder, env=environment(), capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, ""), done
    return folder / "out", done.stdout


def test_it_ends_with_labels_a_list_a_why_and_an_audit(played: tuple[Path, str]) -> None:
    folder, said = played
    pictures = list((folder / "labels").rglob("*.png"))
    assert len(pictures) >= 10
    assert list((folder / "labels").rglob("*.pdf"))
    assert not any(zipfile.is_zipfile(each) for each in pictures)
    for line in ("Labels to look at:", "The morning list:", "Why a date:", "The audit:"):
        assert line in said
    for command in ("setup", "prep", "cool", "freeze", "receive", "open", "combine", "discard",
                    "due", "why", "audit", "doctor"):  # fmt: skip
        assert f"$ holdlog {command}" in said
    assert "\x1b" not in said
    assert "All is well." in said


def test_the_stew_takes_over_the_date_of_the_chickpeas(played: tuple[Path, str]) -> None:
    _, said = played
    why = said.rpartition("$ holdlog why")[2]
    assert "chickpea stew" in why
    assert re.search(r"by 3-501\.17\(C\): From\s+chickpea, cooked", why)


def test_its_kitchen_can_be_gone_on_with(played: tuple[Path, str]) -> None:
    folder, _ = played
    till = Till(folder)
    assert "on hand" in till.ok("due")
    assert "All is well." in till.ok("doctor")


def test_it_overwrites_nothing(played: tuple[Path, str]) -> None:
    folder, _ = played
    before = (folder / "kitchen.db").read_bytes()
    line = Till(folder.parent).run("demo", "--folder", str(folder)).refusal()
    assert "--folder" in line
    assert (folder / "kitchen.db").read_bytes() == before
