"""What stands where a file should: pipes, devices, loops, gigabytes of nothing.

Each reader runs in a process of its own with a bound on its memory and its processor time, so
that what would never end ends as a failure.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from holdlog.core.errors import BadFile
from holdlog.core.files import is_file, open_file, read_bytes, read_text
from tests.fuzz.hostile import UNSEEN, clear

KINDS = ("pipe", "zero", "loop", "folder", "gone", "sparse", "long name", "utf-16", "junk")
# In one process, since to start one takes longer than to refuse a file. After what each command
# said comes what it left with.
RUNNER = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (900 << 20, 900 << 20))
resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
from holdlog.cli.door import run
for words in sys.stdin.read().splitlines():
    arguments = words.split("\\t")
    print(f"? {run(arguments)}", file=sys.stderr, flush=True)
"""


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Odd things by name; each as if it were a TOML file."""
    folder = tmp_path_factory.mktemp("odd")
    found = {kind: folder / f"{kind.replace(' ', '-')}.toml" for kind in KINDS}
    os.mkfifo(found["pipe"])
    found["zero"].symlink_to("/dev/zero")
    found["loop"].symlink_to(found["loop"])
    found["folder"].mkdir()
    with found["sparse"].open("wb") as file:
        file.truncate(2 << 30)
    found["long name"] = folder / f"{'n' * 300}.toml"
    found["utf-16"].write_text('id = "x"', encoding="utf-16")
    found["junk"].write_bytes(os.urandom(3000) + b"\x1b[2J\xff")
    return found


def runs(commands: list[list[str]], folder: Path) -> list[tuple[int, list[str]]]:
    """Run each: what it left with, and the lines it said on standard error."""
    done = subprocess.run(
        [sys.executable, "-c", RUNNER],
        input="\n".join("\t".join(words) for words in commands),
        capture_output=True, text=True, timeout=100, check=False, cwd=folder,
        env={**os.environ, "HOLDLOG_DB": str(folder / "kitchen.db"), "HOLDLOG_BY": "MK"},
    )  # fmt: skip
    parts = re.split(r"^\? (\d+)\n", done.stderr, flags=re.MULTILINE)[:-1]
    assert len(parts) == 2 * len(commands), done
    return [
        (int(code), said.splitlines()) for said, code in zip(parts[::2], parts[1::2], strict=True)
    ]


SET_UP = ["setup", "--name", "Tern & Tide", "--zone", "America/New_York", "--scale", "F",
          "-R", "us-food-code-2022", "-u", "walk-in"]  # fmt: skip
READERS = (
    ["whatif", "{}"], ["whatif", "{}", "--json"], ["rulebook", "show", "{}"],
    ["template", "show", "{}"], ["sheet", "ruler", "{}"], ["adopt", "-R", "{}", "--dry-run"],
    ["unit", "import", "walk-in", "{}"], ["import", "items", "{}"], ["import", "inventory", "{}"],
    ["round", "--unit", "walk-in", "--codes", "{}", "--in-charge", "JR"],
    ["round", "sheet", "--enter", "{}"],
)  # fmt: skip
LISTERS = (["rulebook", "check", "{}"], ["template", "check", "{}"], ["verify", "{}"])


def test_every_command_refuses_what_is_no_file_with_one_clear_line(
    odd: dict[str, Path], tmp_path: Path
) -> None:
    commands = [
        [word.replace("{}", str(path)) for word in words]
        for words in (*READERS, *LISTERS)
        for path in odd.values()
    ]
    (code, _), *found = runs([SET_UP, *commands], tmp_path)
    assert code == 0
    for words, (code, said) in zip(commands, found, strict=True):
        assert code in (1, 2), words
        assert not any(UNSEEN.search(line) for line in said), (words, said)
        assert not any("fault of the program" in line for line in said), (words, said)
        if words[:2] not in [each[:2] for each in LISTERS[:2]] and words[0] != "verify":
            assert len(said) == 1, (words, said)
            assert said[0].startswith("holdlog: "), (words, said)


def test_what_is_no_regular_file_is_never_opened_to_wait(odd: dict[str, Path]) -> None:
    for kind in ("pipe", "zero", "folder"):
        with pytest.raises(OSError, match=r"pipe|directory"):
            open_file(odd[kind])
    for kind in ("loop", "gone", "long name"):
        with pytest.raises(OSError):
            open_file(odd[kind])
        assert not is_file(odd[kind])
    with pytest.raises(OSError, match="no file can have this name"):
        open_file(Path("a\0b"))
    assert not is_file(Path("a\0b"))


def test_a_file_over_its_limit_is_not_read(odd: dict[str, Path], tmp_path: Path) -> None:
    with pytest.raises(BadFile, match=r"larger than 1,000 bytes.*2,147,483,648") as caught:
        read_bytes(odd["sparse"], 1_000, "Give it in parts.")
    clear(caught.value)
    assert caught.value.hint == "Give it in parts."
    whole = tmp_path / "whole"
    whole.write_bytes(b"\xef\xbb\xbfa\r\nb\rc\n")
    assert read_bytes(whole, 10) == whole.read_bytes()
    assert read_text(whole, 10) == "a\nb\nc\n"
    with pytest.raises(BadFile):
        read_bytes(whole, 9)
