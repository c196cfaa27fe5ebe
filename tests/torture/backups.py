"""Backups made while two stations write, each of them restored in a place of its own."""

import shutil
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from holdlog.core.errors import HoldlogError
from holdlog.core.moments import Instant
from holdlog.journal.engine import open_database
from holdlog.kitchen.backups import back_up
from holdlog.kitchen.kitchen import open_kitchen
from holdlog.kitchen.restoring import restore
from holdlog.kitchen.taken_back import Signed
from tests.torture.clock import real_clock
from tests.torture.judge import journal_mode, judge
from tests.torture.ledger import Acknowledged
from tests.torture.outcome import Outcome
from tests.torture.seeds import dice
from tests.torture.station import Orders, Station, template, wrong_in

# Half of them in each journal mode.
BACKUPS = {"short": 10, "long": 100}
# A spoilt copy has so many tries to be found out.
TRIES = 20


@dataclass(frozen=True, slots=True)
class Copied:
    """A copy, what is known to be in it besides what was acknowledged before, and whether the
    journal tells of it: a backup is good without that, where others wrote for too long.
    """

    file: Path
    holds: tuple[Acknowledged, ...] = ()
    recorded: bool = True


Copy = Callable[[Path, Path], Copied]
"""Makes a copy of the journal (first) in a folder."""


def run(short: bool, scratch: Path) -> Iterator[Outcome]:
    """Both journal modes; then the file alone, without what SQLite keeps beside it."""
    seed, luck = dice()
    times = BACKUPS["short" if short else "long"] // 2
    for mode in ("DELETE", "WAL"):
        yield _backed_up(scratch / mode, mode, times, luck, seed)
    yield _backed_up(scratch / "plain", "WAL", TRIES, luck, None, plain_copy)


@dataclass(slots=True)
class _Count:
    wrong: list[str] = field(default_factory=list)
    figures: Counter[str] = field(default_factory=Counter)
    longest: float = 0


def _ours(path: Path, folder: Path) -> Copied:
    db = open_database(path, must_exist=True)
    try:
        kitchen = open_kitchen(db, real_clock, Random(1).choice)
        made = back_up(kitchen, "JR", folder, None)
    finally:
        db.close()
    holds = (Acknowledged(made.entries, made.head),)
    return Copied(made.file, holds, recorded=not made.unrecorded)


def plain_copy(path: Path, folder: Path) -> Copied:
    """What must not be done: the file without its write-ahead log."""
    copy = folder / f"{len(list(folder.iterdir()))}.db"
    return Copied(Path(shutil.copy(path, copy)))


def _backed_up(
    folder: Path, mode: str, times: int, luck: Random, seed: int | None, make: Copy = _ours
) -> Outcome:
    folder.mkdir()
    path, kept = folder / "journal.db", folder / "backups"
    kept.mkdir()
    known = template(path, mode)
    stations = [
        Station(Orders(path, folder / f"{by}.ledger", by, luck.randrange(10**6), mode, breath=0.01))
        for by in ("MK", "JO")
    ]
    for station in stations:
        station.working()
    count = _Count()
    acknowledged: list[Acknowledged] = []
    try:
        for _ in range(times):
            time.sleep(luck.uniform(0, 0.2))
            acknowledged = [one for station in stations for one in station.told().acknowledged]
            with journal_mode(mode):
                _one(path, kept, known, acknowledged, make, count)
            # Of a spoilt copy one that is not whole is enough.
            if seed is None and count.wrong:
                break
    finally:
        for station in stations:
            station.kill()
    told = [station.told() for station in stations]
    with journal_mode(mode):
        left = judge(path, [each for one in told for each in one.acknowledged], known=known)
    count.wrong += [line for one in told for line in wrong_in(one)] + left.said()
    figures: dict[str, int | float | str] = {
        **{
            name: count.figures[name]
            for name in ("backups", "restored", "turned away", "not recorded")
        },
        "acknowledged before the last": len(acknowledged),
        "longest": f"{count.longest:.1f} s",
    }
    if seed is not None:
        return Outcome(f"backups, {mode}", {**figures, "seed": seed}, count.wrong)
    return Outcome("backups, the file alone", figures, count.wrong, control=True)


def _one(
    path: Path,
    kept: Path,
    known: int,
    acknowledged: list[Acknowledged],
    make: Copy,
    count: _Count,
) -> None:
    """One backup: nothing that was acknowledged before it began may be missing in it."""
    began = time.monotonic()
    try:
        made = make(path, kept)
    except HoldlogError as error:
        if error.code == "locked":
            count.figures["turned away"] += 1
        else:
            count.wrong.append(f"not made: {error.line()}")
        return
    count.longest = max(count.longest, time.monotonic() - began)
    count.figures["backups"] += 1
    count.figures["not recorded"] += not made.recorded
    file = made.file
    # Nothing is written to the backup itself.
    wanted = list(dict.fromkeys([*acknowledged, *made.holds]))
    found = judge(file, wanted, known=known, append=False)
    count.wrong += found.said()
    if count.wrong:
        return
    place = path.with_name(f"restored-{file.name}")
    target = open_database(place)
    try:
        # By a clock that stands still: the entry that tells of it is as of the last one.
        who = Signed("jr", lambda: Instant(0))
        restore(file, target, path.parent, who, lose_newer=False)
    except HoldlogError as error:
        count.wrong.append(f"not restored: {error.line()}")
        return
    finally:
        target.close()
    # Work goes on there.
    count.wrong += judge(place, wanted, known=known).said()
    count.figures["restored"] += 1
    place.unlink()
