"""A station alone with its disk: under strace, under limits, in any journal mode, spoilt or not.

Each is a process of its own, forked from one that has loaded the program and opened nothing.
"""

import ctypes
import multiprocessing
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from multiprocessing.connection import Connection as Pipe
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

from holdlog.core.errors import Fault
from holdlog.journal import checks, engine
from holdlog.journal.engine import Connection, Database, open_database
from holdlog.kitchen.due import everything
from holdlog.kitchen.kitchen import open_kitchen
from tests.torture import ledger, station
from tests.torture.clock import real_clock
from tests.torture.ledger import Pen

Pair = tuple[str, str]
SAFE: tuple[Pair, ...] = (("DELETE", "EXTRA"), ("WAL", "FULL"))
# What the program itself chooses where SQLite has no fault in WAL mode.
CHOSEN: Pair = ("", "")
SOUND_SQLITE = (3, 51, 3)
_CONTEXT = multiprocessing.get_context("forkserver")
# prctl(2): whoever likes may trace this process, where the system lets only parents do it.
_SET_PTRACER, _ANYBODY = 0x59616D61, ctypes.c_ulong(-1)


@dataclass(frozen=True, slots=True)
class Alone:
    """What the process is to do: ``jobs`` of them (0: until the journal fails).

    ``pair`` is SQLite's journal mode and ``synchronous``. ``spoilt``: ack-first, or swallow, a
    build in which the journal's faults are not heard. ``largest``: no file may grow beyond so
    many bytes. ``look``: nothing is written, only what is on hand is looked at.
    """

    where: Path
    ledger: Path
    pair: Pair
    seed: int
    jobs: int = 0
    spoilt: str = ""
    largest: int = 0
    look: bool = False


@dataclass(frozen=True, slots=True)
class Ended:
    """How the process ended: what it told its ledger, its exit code, and what it said besides."""

    told: ledger.Told
    code: int
    said: str

    def unclear(self) -> list[str]:
        """What a cook would not have understood: anything but one clear line."""
        found = []
        if self.code < 0:
            found.append(f"the process died of signal {-self.code}")
        elif self.code or self.said:
            last = self.said.strip().splitlines()[-1:] or [""]
            found.append(f"exit {self.code}, {last[0][:200]}")
        elif not self.told.done and not self.told.faults and not self.told.crashes:
            found.append("it ended and did not say why")
        found += [f"crash: {each}" for each in self.told.crashes]
        found += [f"not a clear line: {fault}" for fault in self.told.faults if not _clear(fault)]
        return found


def _clear(fault: str) -> bool:
    """Whether the journal has words of its own for it, rather than those of the driver."""
    return "could not do what was asked" not in fault and "Error" not in fault


def run(orders: Alone, strace: Sequence[str] = (), limit: float = 120) -> Ended:
    """Let it work to its end, traced by the command ``strace`` if there is one."""
    said = orders.ledger.with_name(f"{orders.ledger.name}.said")
    orders.ledger.unlink(missing_ok=True)
    here, there = _CONTEXT.Pipe()
    process = _CONTEXT.Process(target=_work, args=(orders, said, there), daemon=True)
    process.start()
    tracer = _trace(strace, process.pid or 0) if strace else None
    here.send("go")
    process.join(limit)
    if process.exitcode is None:
        process.kill()
        process.join()
    if tracer is not None:
        tracer.wait(limit)
    text = said.read_text(encoding="utf-8", errors="replace")
    return Ended(ledger.read(orders.ledger), process.exitcode or 0, text)


def _trace(strace: Sequence[str], process: int) -> "subprocess.Popen[bytes]":
    tracer = subprocess.Popen([*strace, "-p", str(process)], stderr=subprocess.DEVNULL)
    status = Path(f"/proc/{process}/status")
    until = time.monotonic() + 30
    while "TracerPid:\t0\n" in status.read_text(encoding="ascii"):
        if tracer.poll() is not None or time.monotonic() > until:
            raise OSError(f"strace cannot trace a process here: exit {tracer.poll()}")
        time.sleep(0.002)
    return tracer


def _work(orders: Alone, said: Path, begin: Pipe) -> None:
    handle = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
    for standard in (1, 2):
        os.dup2(handle, standard)
    sys.stderr = os.fdopen(2, "w", closefd=False)
    ctypes.CDLL(None).prctl(_SET_PTRACER, _ANYBODY, 0, 0, 0)
    begin.recv()
    if orders.largest:
        resource.setrlimit(resource.RLIMIT_FSIZE, (orders.largest, orders.largest))
    with paired(orders.pair), swallowing() if orders.spoilt == "swallow" else nullcontext():
        try:
            _look(orders) if orders.look else station.work(_as_station(orders))
        except Fault as fault:
            # Before the first job: the journal could not even be opened.
            Pen(orders.ledger).line("fault", fault.line())


def _as_station(orders: Alone) -> station.Orders:
    return station.Orders(
        where=orders.where,
        ledger=orders.ledger,
        by="JO",
        seed=orders.seed,
        jobs=orders.jobs,
        spoilt="ack-first" if orders.spoilt == "ack-first" else "",
    )


def _look(orders: Alone) -> None:
    db = open_database(orders.where, must_exist=True)
    try:
        everything(open_kitchen(db, real_clock, Random(1).choice))
    finally:
        db.close()
    Pen(orders.ledger).line("done")


def template(path: Path, pair: Pair, jobs: int = 12) -> int:
    """A kitchen that has worked a little, at ``path``; how many entries there are."""
    with paired(pair):
        return station.template(path, jobs=jobs)


def called(pair: Pair) -> str:
    """A pair in words."""
    return " ".join(pair) if pair != CHOSEN else "as chosen for a later SQLite"


@contextmanager
def paired(pair: Pair) -> Iterator[None]:
    """Use SQLite in this journal mode, synced like this, in this process."""
    name: str = "journal_for"
    answer: Callable[..., Any] = lambda *_: pair  # noqa: E731  (patched in below)
    if pair == CHOSEN:
        name, answer = "sqlite_version", lambda: SOUND_SQLITE
    with patch.object(engine, name, answer), patch.object(checks, name, answer):
        yield


@contextmanager
def swallowing() -> Iterator[None]:
    """A build in which the journal's faults are not heard: everything seems to be kept."""
    plain = Database.appending

    @contextmanager
    def appending(self: Database, *given: Any, **named: Any) -> Iterator[Connection]:
        try:
            with plain(self, *given, **named) as conn:
                yield conn
        except Fault:
            pass

    with patch.object(Database, "appending", appending):
        yield
