"""The n-th call to the disk fails, for every n: of every sort of call, once and for good.

strace lets the call fail with ENOSPC (the disk is full) or EIO (it is broken) on the files of the
journal. The station may go on, where nothing needed the call, or end with one clear line. Nothing
that was acknowledged may be lost, and where the line says that nothing was written, nothing was.
"""

import shutil
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.torture import alone, failing_outputs, strace
from tests.torture.alone import Alone, Ended
from tests.torture.judge import judge
from tests.torture.missing import not_here
from tests.torture.outcome import Outcome
from tests.torture.places import in_memory

# The calls with which SQLite touches a disk, and how each can fail there.
CALLS = {
    "pwrite64": ("ENOSPC", "EIO"),
    "fdatasync": ("EIO", "ENOSPC"),
    "fsync": ("EIO",),
    "ftruncate": ("EIO", "ENOSPC"),
    "unlink": ("EIO",),
    "openat": ("ENOSPC", "EIO"),
    "pread64": ("EIO",),
    "fallocate": ("ENOSPC",),
}
JOBS, SEED = 4, 5
NOT_WRITTEN = "Nothing was written"


@dataclass(frozen=True, slots=True)
class _Failing:
    """The call that fails, how, and when: ``3`` or ``3+``."""

    call: str
    error: str
    when: str

    def __str__(self) -> str:
        return f"{self.call} {self.when} {self.error}"


class _Scenario:
    """Four jobs on a copy of one journal, always the same."""

    def __init__(self, folder: Path, pair: alone.Pair, spoilt: str = "") -> None:
        self._folder = folder
        self._pair = pair
        self._spoilt = spoilt
        folder.mkdir()
        self._template = folder / "template.db"
        self._known = alone.template(self._template, pair)

    def every(self) -> list[_Failing]:
        """Every call that can be made to fail, by sort, number, and way of failing."""
        work = self._fresh()
        # Failures that never come, so that the calls are only counted.
        self._run(work, _Failing(",".join(CALLS), "EIO", "65535"))
        lines = (work / "calls").read_text(encoding="utf-8").splitlines()
        counts = Counter(line.split()[1].partition("(")[0] for line in lines)
        found = []
        for call, errors in CALLS.items():
            for number in range(1, counts[call] + 1):
                for error in errors:
                    found += [_Failing(call, error, f"{number}{end}") for end in ("", "+")]
        return found

    def fail(self, failing: _Failing) -> tuple[str, list[str]]:
        """What the station did, and what was wrong with it."""
        work = self._fresh()
        ended = self._run(work, failing)
        hit = "INJECTED" in (work / "calls").read_text(encoding="utf-8")
        with alone.paired(self._pair):
            found = judge(work / "kitchen.db", ended.told.acknowledged, known=self._known)
        wrong = [*ended.unclear(), *found.said()]
        if found.unacknowledged and any(NOT_WRITTEN in fault for fault in ended.told.faults):
            wrong.append("it says that nothing was written, and something was")
        what = "not met" if not hit else "went on" if ended.told.done else "one clear line"
        if found.unacknowledged:
            what += ", kept all the same"
        return what, [f"{failing}: {each}" for each in wrong]

    def _fresh(self) -> Path:
        work = self._folder / "work"
        shutil.rmtree(work, ignore_errors=True)
        work.mkdir()
        shutil.copy(self._template, work / "kitchen.db")
        return work

    def _run(self, work: Path, failing: _Failing) -> Ended:
        db = work / "kitchen.db"
        orders = Alone(db, work / "ledger", self._pair, SEED, JOBS, self._spoilt)
        paths = [work, *(db.with_name(f"kitchen.db{end}") for end in ("", "-journal", "-wal"))]
        paths.append(db.with_name("kitchen.db-shm"))
        before = strace.failing(failing.call, failing.error, failing.when, paths, work / "calls")
        return alone.run(orders, before)


def run(short: bool, scratch: Path) -> Iterator[Outcome]:
    """Both safe modes, builds that must be found out, and what is written beside a journal."""
    if lacks := strace.missing():
        yield not_here("the n-th write", lacks)
        return
    with tempfile.TemporaryDirectory(dir=in_memory()) as folder:
        yield from _run(short, Path(folder))
    yield from failing_outputs.run(short, scratch)


def _run(short: bool, scratch: Path) -> Iterator[Outcome]:
    for pair in alone.SAFE:
        scenario = _Scenario(scratch / pair[0], pair)
        every = scenario.every()
        some = _spread(every, 36) if short else every
        yield _outcome(f"the n-th call fails, {' '.join(pair)}", scenario, some, len(every))
    for spoilt in ("ack-first", "swallow"):
        scenario = _Scenario(scratch / spoilt, alone.SAFE[0], spoilt)
        writes = [_Failing("pwrite64", "ENOSPC", f"{number}+") for number in (2, 9, 30)]
        yield _outcome(f"the n-th call fails, {spoilt}", scenario, writes, 3, control=True)


def _outcome(
    name: str,
    scenario: _Scenario,
    some: Sequence[_Failing],
    of: int,
    *,
    control: bool = False,
) -> Outcome:
    tally: Counter[str] = Counter()
    wrong: list[str] = []
    for failing in some:
        what, said = scenario.fail(failing)
        tally[what] += 1
        wrong += said
    figures: dict[str, int | float | str] = {
        "failures": len(some),
        "of": of,
        **dict(sorted(tally.items())),
    }
    return Outcome(name, figures, wrong, control=control)


def _spread(every: Sequence[_Failing], most: int) -> list[_Failing]:
    """At most so many, spread evenly; of every call some, of those that are rare too."""
    by_call: dict[str, list[_Failing]] = {}
    for each in every:
        by_call.setdefault(each.call, []).append(each)
    share = max(1, most // max(1, len(by_call)))
    return [
        each
        for group in by_call.values()
        # An odd step, so that all ways of failing are met.
        for each in group[:: max(1, len(group) // share) | 1][:share]
    ]
