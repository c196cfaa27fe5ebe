"""The power is cut at any moment, and what a disk may then hold is opened.

A station works under strace; every write, sync, truncation, removal and new name is recorded, and
so is every acknowledgement, in the order in which they happened. For moments drawn by lot ``Disk``
rebuilds what the disk may hold, and the judge compares it with what had been acknowledged. The
set-up of a kitchen is cut in the same way: afterwards there is all of it, or it can be set up.
"""

import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from holdlog.core.errors import HoldlogError
from holdlog.journal.engine import open_database
from holdlog.kitchen.setup import set_up
from tests.kitchen.shop import PLAN
from tests.torture import alone, replay, seeds, strace
from tests.torture.alone import Alone
from tests.torture.clock import real_clock
from tests.torture.judge import judge
from tests.torture.ledger import Acknowledged
from tests.torture.missing import not_here
from tests.torture.outcome import Outcome
from tests.torture.places import in_memory
from tests.torture.replay import Disk
from tests.torture.strace import Call

# What must lose something: another way of syncing, or of acknowledging.
CONTROLS = (
    (("WAL", "NORMAL"), ""),
    (("WAL", "OFF"), ""),
    (("DELETE", "OFF"), ""),
    # A commit is the removal of the journal, and only EXTRA has the folder synced after it
    # (sqlite.org/pragma.html#pragma_synchronous).
    (("DELETE", "FULL"), ""),
    (("DELETE", "EXTRA"), "ack-first"),
    (("WAL", "FULL"), "ack-first"),
)


@dataclass(slots=True)
class _Tally:
    cuts: int
    good: int = 0
    unfinished: int = 0
    silent: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Recording:
    """What a program did to ``disk``, and what it said, as bytes written to ``said``."""

    disk: Path
    there: dict[str, bytes]
    calls: list[Call]
    said: str


# Looks at what is left in a folder; ``told`` is what had been said before the cut.
_Judging = Callable[[Path, bytes, _Tally], str]


def run(short: bool, scratch: Path) -> Iterator[Outcome]:
    """Cuts in both safe modes and during set-up, then in builds that must lose something."""
    if lacks := strace.missing():
        yield not_here("power cuts", lacks)
        return
    seed, luck = seeds.dice()
    jobs, cuts, few = (40, 200, 40) if short else (150, 1200, 200)
    for pair in alone.SAFE:
        yield _station(scratch, pair, "", jobs, _Tally(cuts), seed, luck)
    yield _set_up(scratch, _Tally(few), seed, luck)
    for pair, spoilt in CONTROLS:
        yield _station(scratch, pair, spoilt, 40, _Tally(few), seed, luck, control=True)


def _station(
    scratch: Path,
    pair: alone.Pair,
    spoilt: str,
    jobs: int,
    tally: _Tally,
    seed: int,
    luck: Random,
    *,
    control: bool = False,
) -> Outcome:
    folder = _folder(scratch)
    disk, book = folder / "disk", folder / "ledger"
    known = alone.template(disk / "kitchen.db", pair)
    there = {str(path): path.read_bytes() for path in disk.iterdir()}
    orders = Alone(disk / "kitchen.db", book, pair, seed, jobs, spoilt)
    ended = alone.run(orders, strace.recording(folder / "calls"))
    tally.wrong += [*ended.unclear(), *ended.told.faults]

    def judging(left: Path, told: bytes, tally: _Tally) -> str:
        with alone.paired(pair):
            found = judge(left / "kitchen.db", _acknowledged(told), known=known)
        tally.unfinished += found.to_recover
        tally.silent += bool(found.unacknowledged)
        tally.kinds.update({kind for kind, _ in found.wrong})
        return "; ".join(found.said())

    if not tally.wrong:
        calls = list(strace.calls(folder / "calls"))
        _cut(_Recording(disk, there, calls, str(book)), judging, tally, luck)
    shutil.rmtree(folder)
    name = f"power cuts, {alone.called(pair)}{f', {spoilt}' if spoilt else ''}"
    told = {"acknowledged": len(ended.told.acknowledged), "left unfinished": tally.unfinished}
    figures = {**told, "kept unacknowledged": tally.silent, **tally.kinds}
    return _outcome(name, tally, figures, seed, control=control)


def _set_up(scratch: Path, tally: _Tally, seed: int, luck: Random) -> Outcome:
    folder = _folder(scratch)
    disk, said = folder / "disk", folder / "said"
    words = ["--db", str(disk / "kitchen.db"), "setup", "--name", PLAN.name, "--zone", PLAN.zone]
    units = [word for name, sort in PLAN.units for word in ("--unit", f"{name}:{sort}")]
    command = [sys.executable, "-m", "holdlog", *words, *units, "--by", "MK"]
    command += ["--rulebook", PLAN.rulebooks[0], "--scale", PLAN.scale]
    code, error = _to_file([*strace.recording(folder / "calls"), *command], said)
    tally.wrong += [f"exit {code}: {error}"] if code or error else []
    whole = 0 if tally.wrong else judge(disk / "kitchen.db", [], append=False).entries

    def judging(left: Path, told: bytes, tally: _Tally) -> str:
        made = _whole(left / "kitchen.db", whole)
        tally.kinds["whole" if made else "to set up again"] += 1
        if told.strip() and not made:
            return "lost: the kitchen, after its set-up was acknowledged"
        try:
            if not made:
                _set_up_again(left / "kitchen.db")
        except HoldlogError as error:
            return f"it cannot be set up again: {error.line()}"
        return "; ".join(judge(left / "kitchen.db", []).said())

    if not tally.wrong:
        calls = list(strace.calls(folder / "calls"))
        _cut(_Recording(disk, {}, calls, str(said)), judging, tally, luck)
    shutil.rmtree(folder)
    return _outcome("power cuts, set-up", tally, dict(tally.kinds), seed)


def _to_file(command: Sequence[str], said: Path) -> tuple[int, str]:
    with said.open("wb") as out:
        done = subprocess.run(command, stdout=out, stderr=subprocess.PIPE, text=True, check=False)
    return done.returncode, done.stderr.strip()


def _whole(path: Path, entries: int) -> bool:
    """Whether there is a whole kitchen. Opening it also recovers it."""
    return path.exists() and judge(path, [], append=False).entries == entries


def _set_up_again(path: Path) -> None:
    db = open_database(path)
    try:
        set_up(db, real_clock, "MK", PLAN)
    finally:
        db.close()


def _cut(recording: _Recording, judging: _Judging, tally: _Tally, luck: Random) -> None:
    """Cut the power ``tally.cuts`` times in one recording."""
    moments = Counter(_moments(recording, luck, tally.cuts))
    disk = Disk(str(recording.disk), recording.there)
    told = b""
    for number, call in enumerate(recording.calls):
        disk.take(call)
        if call.name == "write" and call.path == recording.said:
            told += call.data
        for _ in range(moments[number]):
            how = luck.choice(replay.HOW)
            with tempfile.TemporaryDirectory(dir=in_memory()) as left:
                replay.lay(disk.cut(luck, how), str(recording.disk), left)
                wrong = judging(Path(left), told, tally)
            tally.good += not wrong
            tally.wrong += [f"after call {number}, {how}: {wrong}"] if wrong else []
    # A recording that does not lead to what the files hold proves nothing.
    for path, content in disk.content().items():
        if Path(path).read_bytes() != content:
            tally.wrong.append(f"what was recorded of {Path(path).name} is not what was written")


def _moments(recording: _Recording, luck: Random, cuts: int) -> list[int]:
    """Half of them anywhere, half where most is at stake: after a commit was acknowledged, after
    a sync, after a removal.
    """
    near = (str(recording.disk), recording.said)
    ours = [at for at, call in enumerate(recording.calls) if call.path.startswith(near)]
    tight = [at for at in ours if recording.calls[at].name in ("write", "sync", "unlink")]
    return [luck.choice(tight if turn % 2 else ours) for turn in range(cuts)]


def _acknowledged(told: bytes) -> list[Acknowledged]:
    words = [line.split() for line in told.decode().splitlines()]
    return [Acknowledged(int(line[1]), line[2]) for line in words if line[0] == "kept"]


def _outcome(
    name: str, tally: _Tally, figures: dict[str, int], seed: int, *, control: bool = False
) -> Outcome:
    shown: dict[str, int | float | str] = {"cuts": tally.cuts, "good": tally.good, **figures}
    return Outcome(name, {**shown, "seed": seed}, tally.wrong, control=control)


def _folder(scratch: Path) -> Path:
    folder = Path(tempfile.mkdtemp(dir=scratch))
    (folder / "disk").mkdir()
    return folder
