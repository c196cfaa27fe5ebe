"""What is written beside the journal, and fails: a label, an export, a backup.

Nothing may be left that looks whole and is not, and what was there before stays as it was.
"""

import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from holdlog.journal import on_hand
from holdlog.journal.engine import open_database
from holdlog.kitchen.kitchen import SITE
from tests.torture import alone
from tests.torture.judge import judge
from tests.torture.outcome import Outcome


@dataclass(frozen=True, slots=True)
class _Output:
    """A command that writes into the folder ``out``, and the calls that can fail in it."""

    name: str
    command: tuple[str, ...]
    calls: tuple[str, ...]
    before: dict[str, bytes] = field(default_factory=dict)


def run(short: bool, scratch: Path) -> Iterator[Outcome]:
    """One outcome a command."""
    folder = scratch / "outputs"
    folder.mkdir()
    db = folder / "template.db"
    alone.template(db, alone.SAFE[0])
    most = 2 if short else 12
    for output in _outputs(_a_code(db)):
        yield _outcome(output, folder, most)


def _outputs(code: str) -> tuple[_Output, ...]:
    program = (sys.executable, "-m", "holdlog", "--db", "{db}")
    export = (*program, "export", "--to", "{out}/journal.jsonl")
    return (
        _Output(
            "label",
            (*program, "label", code, "--by", "MK", "--to", "{out}"),
            ("write", "mkdir"),
        ),
        _Output("export", export, ("write", "fsync", "rename")),
        _Output(
            "export over another",
            (*export, "--replace"),
            ("write", "fsync", "rename"),
            {"journal.jsonl": b"yesterday's\n"},
        ),
        _Output(
            "backup",
            (*program, "backup", "--to", "{out}", "--by", "MK"),
            ("pwrite64", "fdatasync", "fsync", "link"),
        ),
    )


def _outcome(output: _Output, folder: Path, most: int) -> Outcome:
    tally: Counter[str] = Counter()
    wrong: list[str] = []
    for call in output.calls:
        for number in range(1, most + 1):
            # In turn, as either may come: the disk is full, the disk is broken.
            error = "ENOSPC" if number % 2 else "EIO"
            said, met = _fail(output, folder, f"{call}:error={error}:when={number}")
            if not met:
                break
            tally[call] += 1
            wrong += said
    if not sum(tally.values()):
        wrong.append("no call was met that could fail")
    return Outcome(f"an output fails, {output.name}", dict(tally), wrong)


def _fail(output: _Output, folder: Path, inject: str) -> tuple[list[str], bool]:
    work = folder / "work"
    out = work / "out"
    shutil.rmtree(work, ignore_errors=True)
    out.mkdir(parents=True)
    shutil.copy(folder / "template.db", work / "kitchen.db")
    for name, content in output.before.items():
        (out / name).write_bytes(content)
    command = [word.format(db=work / "kitchen.db", out=out) for word in output.command]
    how = ["-f", "--seccomp-bpf", "-qq", "-e", "signal=none", "-e", f"inject={inject}"]
    call = inject.partition(":")[0]
    strace = ["strace", *how, "-e", f"trace={call}", "-o", str(work / "calls")]
    done = subprocess.run([*strace, *command], capture_output=True, text=True, check=False)
    met = [line for line in (work / "calls").read_text().splitlines() if "INJECTED" in line]
    if not met:
        return [], False
    # What was written to the terminal, and failed, is not what is asked about.
    if any(f"{call}({handle}," in met[0] for handle in (1, 2)):
        return [], False
    wrong = _unclear(done.returncode, done.stderr)
    left = {
        str(each.relative_to(out)): each.read_bytes() for each in out.rglob("*") if each.is_file()
    }
    if done.returncode and left != output.before:
        wrong.append(f"left behind: {', '.join(sorted(left)) or 'nothing'}")
    wrong += judge(work / "kitchen.db", []).said()
    return [f"{inject}: {each}" for each in wrong], True


def _unclear(code: int, said: str) -> list[str]:
    lines = said.strip().splitlines()
    if code == 0:
        return []
    if code != 1 or len(lines) != 1 or not lines[0].startswith("holdlog: "):
        return [f"exit {code}: {said.strip()[-200:]}"]
    return ["no clear line: " + lines[0]] if "a fault of the program itself" in lines[0] else []


def _a_code(path: Path) -> str:
    db = open_database(path)
    try:
        with db.reading() as conn:
            return on_hand.live(conn, SITE)[0].code
    finally:
        db.close()
