"""The disk is full, or read-only, or a limit is met: one clear line, and on when there is room.

Real filesystems of a few megabytes, mounted for the occasion (that needs root and loop devices):
ext4 with blocks of 4 and of 1 KiB, a tmpfs, one that is remounted read-only; and a limit on the
size of a file, which needs nothing.

In WAL mode SQLite maps the file ``-shm`` into memory. It makes room for it by one byte a page
(unixShmMap in its os_unix.c), which takes one block a page; where blocks are smaller than pages
and the rest of a page finds no room any more, the kernel ends the process with SIGBUS (mmap(2)).
The rollback journal has no such file, and food can be looked up on a disk that is full.
"""

import os
import shutil
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from tests.torture import alone, seeds
from tests.torture.alone import Alone, Ended
from tests.torture.judge import judge
from tests.torture.missing import not_here
from tests.torture.outcome import Outcome

MIB = 1 << 20
KIB = 1 << 10
# What is left to write in, so that some dozen jobs go through: a write-ahead log grows with every
# job, a rollback journal is removed after each.
ROOM = {"DELETE": 180 * KIB, "WAL": 600 * KIB}
# Room for a part of ``-shm``, which is 32 KiB, and for none of it.
BRIM = (0, 4, 8, 9, 10, 11, 12, 13, 14, 20, 40)


@dataclass(frozen=True, slots=True)
class _Disk:
    """A sort of filesystem: what makes it (a block size of ext4, or 0 for a tmpfs)."""

    name: str
    block: int


DISKS = (_Disk("ext4 4 KiB", 4096), _Disk("ext4 1 KiB", 1024), _Disk("tmpfs", 0))


def run(short: bool, scratch: Path) -> Iterator[Outcome]:
    """Every disk in both safe modes, then a build that must be found out."""
    seed = seeds.dice()[0]
    times = 1 if short else 10
    for pair in alone.SAFE:
        yield _limited(scratch, pair, seed)
    if lacks := _cannot_mount(scratch):
        yield not_here("full disks", lacks)
        return
    for disk in DISKS:
        for pair in alone.SAFE:
            yield _filled(scratch, disk, pair, seed, times)
    for disk in DISKS:
        for pair in (alone.SAFE[0], alone.CHOSEN):
            yield _to_the_brim(scratch, disk, pair, seed, BRIM[::5] if short else BRIM)
    for pair in alone.SAFE:
        yield _read_only(scratch, pair, seed)
    yield _to_the_brim(scratch, DISKS[1], ("WAL", "FULL"), seed, BRIM, control=True)
    yield _filled(scratch, DISKS[0], alone.SAFE[0], seed, 1, spoilt="ack-first")


def _filled(
    scratch: Path, disk: _Disk, pair: alone.Pair, seed: int, times: int, spoilt: str = ""
) -> Outcome:
    wrong: list[str] = []
    acknowledged = stopped = 0
    for turn in range(times):
        with _mounted(scratch, disk) as folder:
            ballast = folder / "ballast"
            known = alone.template(folder / "kitchen.db", pair)
            _fill(folder, ballast, ROOM[pair[0]])
            ended = _work(scratch, folder, pair, seed + turn, 0, spoilt)
            acknowledged += len(ended.told.acknowledged)
            stopped += any("full" in fault for fault in ended.told.faults)
            wrong += _met(ended, "full")
            ballast.unlink()
            wrong += _after(folder / "kitchen.db", pair, ended, known)
    name = f"full disk, {disk.name}, {alone.called(pair)}{f', {spoilt}' if spoilt else ''}"
    figures: dict[str, int | float | str] = {
        "times": times,
        "acknowledged": acknowledged,
        "said so": stopped,
        "seed": seed,
    }
    return Outcome(name, figures, wrong, control=bool(spoilt))


def _to_the_brim(
    scratch: Path,
    disk: _Disk,
    pair: alone.Pair,
    seed: int,
    rooms: Sequence[int],
    *,
    control: bool = False,
) -> Outcome:
    """Begin on a disk that is full already: to look, and to write."""
    wrong: list[str] = []
    looked = 0
    with _mounted(scratch, disk) as folder:
        path, ballast = folder / "kitchen.db", folder / "ballast"
        known = alone.template(path, pair)
        for room in rooms:
            _fill(folder, ballast, room * KIB)
            look = alone.run(Alone(path, scratch / "looked", pair, seed, look=True))
            looked += look.told.done
            ended = _work(scratch, folder, pair, seed, 2)
            ballast.unlink()
            found = [f"looking: {each}" for each in _unclear(look, pair)]
            found += [*ended.unclear(), *_after(path, pair, ended, known)]
            wrong += [f"{room} KiB free: {each}" for each in found]
            # The judge has written one as well.
            known += len(ended.told.acknowledged) + 1
            if control and wrong:
                break
    name = f"full to the brim, {disk.name}, {alone.called(pair)}"
    return Outcome(name, {"times": len(rooms), "list shown": looked}, wrong, control=control)


def _unclear(look: Ended, pair: alone.Pair) -> list[str]:
    """To look needs no room, but for a write-ahead log; then it is said in one line."""
    return look.unclear() + (look.told.faults if pair[0] == "DELETE" else [])


def _read_only(scratch: Path, pair: alone.Pair, seed: int) -> Outcome:
    """Remounted read-only while the station works, as the kernel does to a failing disk."""
    with _mounted(scratch, DISKS[0]) as folder:
        known = alone.template(folder / "kitchen.db", pair)
        first = _work(scratch, folder, pair, seed, 5)
        _call("mount", "-o", "remount,ro", str(folder))
        second = _work(scratch, folder, pair, seed, 5)
        wrong = [*first.unclear(), *first.told.faults, *_met(second, "read")]
        _call("mount", "-o", "remount,rw", str(folder))
        wrong += _after(folder / "kitchen.db", pair, first, known)
    told = len(first.told.acknowledged)
    return Outcome(f"read-only, {alone.called(pair)}", {"acknowledged": told, "seed": seed}, wrong)


def _limited(scratch: Path, pair: alone.Pair, seed: int) -> Outcome:
    """``ulimit -f``: no file may grow beyond a size."""
    folder = scratch / f"limited-{pair[0]}"
    folder.mkdir()
    known = alone.template(folder / "kitchen.db", pair)
    size = (folder / "kitchen.db").stat().st_size + 40 * KIB
    ended = _work(scratch, folder, pair, seed, 0, largest=size)
    wrong = [*_met(ended, "disk"), *_after(folder / "kitchen.db", pair, ended, known)]
    told = len(ended.told.acknowledged)
    return Outcome(f"ulimit -f, {alone.called(pair)}", {"acknowledged": told, "seed": seed}, wrong)


def _work(
    scratch: Path,
    folder: Path,
    pair: alone.Pair,
    seed: int,
    jobs: int,
    spoilt: str = "",
    largest: int = 0,
) -> Ended:
    """Let a station work on the journal; its ledger is on another disk."""
    where, book = folder / "kitchen.db", scratch / "ledger"
    return alone.run(Alone(where, book, pair, seed, jobs, spoilt, largest))


def _met(ended: Ended, word: str) -> list[str]:
    """It has to have ended with a line that says ``word``."""
    wrong = ended.unclear()
    if not any(word in fault for fault in ended.told.faults):
        wrong.append(f"it did not say {word!r}: {'; '.join(ended.told.faults) or 'nothing'}")
    return wrong


def _after(path: Path, pair: alone.Pair, ended: Ended, known: int) -> list[str]:
    with alone.paired(pair):
        return judge(path, ended.told.acknowledged, known=known).said()


def _fill(folder: Path, ballast: Path, room: int) -> None:
    """Leave ``room`` bytes, whatever the filesystem takes for itself."""
    with ballast.open("wb", buffering=0) as file, suppress(OSError):
        while (free := _free(folder)) > room:
            file.write(bytes(min(64 * KIB, max(KIB, free - room))))
    os.sync()


def _free(folder: Path) -> int:
    found = os.statvfs(folder)
    return found.f_bavail * found.f_frsize


@contextmanager
def _mounted(scratch: Path, disk: _Disk) -> Iterator[Path]:
    folder, image = scratch / "mounted", scratch / "image"
    folder.mkdir(exist_ok=True)
    if disk.block:
        image.unlink(missing_ok=True)
        with image.open("wb") as file:
            file.truncate(8 * MIB)
        _call("mkfs.ext4", "-q", "-F", "-m", "0", "-b", str(disk.block), str(image))
        _call("mount", "-o", "loop", str(image), str(folder))
    else:
        _call("mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", str(folder))
    try:
        yield folder
    finally:
        _unmount(folder)


def _unmount(folder: Path) -> None:
    try:
        _call("umount", str(folder))
    except OSError:
        _call("umount", "-l", str(folder))


def _cannot_mount(scratch: Path) -> str:
    """Why nothing can be mounted here, or nothing."""
    if shutil.which("mkfs.ext4") is None:
        return "the program mkfs.ext4 is not on the PATH"
    try:
        for disk in DISKS:
            with _mounted(scratch, disk):
                pass
    except OSError as error:
        return str(error)
    return ""


def _call(*command: str) -> None:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise OSError(f"{command[0]}: {done.stderr.strip() or done.returncode}")
