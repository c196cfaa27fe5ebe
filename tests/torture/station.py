"""The system under test: a process that works in the kitchen and tells its ledger what is kept.

It calls the kitchen as a command does. An entry is acknowledged once the job came back, which
is after its commit, and never before.
"""

import multiprocessing
import random
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, Literal
from unittest.mock import patch

from holdlog.core.chain import Entry
from holdlog.core.errors import Fault, Mistake
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Connection, Database, open_database
from holdlog.kitchen.kitchen import SITE, open_kitchen
from holdlog.kitchen.setup import set_up
from tests.kitchen.shop import PLAN
from tests.torture import ledger
from tests.torture.clock import real_clock
from tests.torture.cook import Cook
from tests.torture.judge import journal_mode
from tests.torture.ledger import Acknowledged, Pen, Told
from tests.torture.spoilt import Spoilt, build

# How long a job waits for the journal: what the program itself is content with.
WAIT_MS = 5000
# The faults that leave it open whether the entry is kept. Every other one is a "no" to the cook.
_LEFT_OPEN = ("outcome-unknown", "disk-fault")


@dataclass(frozen=True, slots=True)
class Orders:
    """What a station has to do: ``jobs`` of them (0: until it is killed), one after the other
    with ``breath`` seconds between. ``quick``: the quickest job only. ``mode``: of SQLite's
    journal, or empty.
    """

    where: str | Path
    ledger: Path
    by: str
    seed: int
    mode: str = ""
    spoilt: Spoilt = ""
    jobs: int = 0
    quick: bool = False
    breath: float = 0


def work(orders: Orders) -> None:
    """Do what was ordered. Ends early when the journal fails, as a fault says."""
    pen = Pen(orders.ledger)
    dice = random.Random(orders.seed)
    with journal_mode(orders.mode), build(orders.spoilt), _watched(pen, orders) as written:
        db = open_database(orders.where, must_exist=True, wait_ms=WAIT_MS)
        kitchen = open_kitchen(db, real_clock, dice.choice, station=orders.by)
        cook = Cook(kitchen, orders.by, dice)
        pen.line("ready")
        done = 0
        while not orders.jobs or done < orders.jobs:
            written.clear()
            came = _one(pen, cook.one_entry if orders.quick else cook.job, written, orders)
            if came == "over":
                return
            done += came == "done"
            time.sleep(orders.breath)
        db.close()
    pen.line("done")


def _one(
    pen: Pen, job: Callable[[], None], written: list[Acknowledged], orders: Orders
) -> Literal["done", "again", "over"]:
    began = time.monotonic()
    try:
        job()
    except Mistake:
        pen.line("refused")
        return "done"
    except Fault as fault:
        # Every job of the cook is one transaction.
        pen.tell("unknown" if fault.code in _LEFT_OPEN else "denied", written)
        if fault.code == "locked":
            pen.line("turned-away", time.monotonic() - began)
            return "again"
        pen.line("fault", fault.line())
        return "over"
    # Not one of the program's own lines: a fault of the program, whatever it was.
    except Exception as error:  # noqa: BLE001
        pen.line("crash", f"{type(error).__name__}: {error}")
        return "over"
    if orders.spoilt != "ack-first":
        pen.acknowledge(written)
    pen.line("job", time.monotonic() - began)
    return "done"


@contextmanager
def _watched(pen: Pen, orders: Orders) -> Iterator[list[Acknowledged]]:
    """What was appended since the list was last emptied, kept or not."""
    plain, plain_appending = journal_entries.append, Database.appending
    written: list[Acknowledged] = []

    def append(conn: Connection, site: str, drafts: Any, **more: Any) -> list[Entry]:
        pen.line("writing")
        entries = plain(conn, site, drafts, **more)
        fresh = [Acknowledged(entry.number, entry.hash) for entry in entries]
        written.extend(fresh)
        if orders.spoilt == "ack-first":
            pen.acknowledge(fresh)
        return entries

    @contextmanager
    def appending(db: Database, site: str = "") -> Iterator[Connection]:
        with plain_appending(db, site) as conn:
            yield conn
            pen.line("committing")
        pen.line("committed")

    with (
        patch.object(journal_entries, "append", append),
        patch.object(Database, "appending", appending),
    ):
        yield written


class Station:
    """A station at work, seen from outside."""

    def __init__(self, orders: Orders) -> None:
        self.orders = orders
        # Each is forked from a process that has loaded the program and opened nothing: a process
        # that has opened a database must not be forked (sqlite.org/howtocorrupt.html, 2.6).
        self._process: BaseProcess = _CONTEXT.Process(target=work, args=(orders,), daemon=True)
        self._process.start()

    def told(self) -> Told:
        """Everything it has said so far."""
        return ledger.read(self.orders.ledger)

    def ready(self) -> "Station":
        """Wait until it is about to begin its first job."""
        self._wait(lambda: self.told().ready)
        return self

    def working(self) -> "Station":
        """Wait until it has done a job: the first one is slow, since so much is loaded for it."""
        self._wait(lambda: self.told().jobs > 0)
        return self

    def inside(self) -> None:
        """Wait until it is in the middle of an entry."""
        self._wait(lambda: ledger.last_word(self.orders.ledger) in _INSIDE)

    def _wait(self, until: Callable[[], bool]) -> None:
        last = time.monotonic() + 60
        while not until() and self.alive():
            if time.monotonic() > last:
                raise TimeoutError(f"{self.orders.by} has said nothing for a minute")
            time.sleep(0.0002)

    def alive(self) -> bool:
        """Whether it still runs."""
        return self._process.is_alive()

    def kill(self) -> None:
        """SIGKILL, and gone when this returns."""
        self._process.kill()
        self._process.join()

    def join(self, seconds: float) -> None:
        """Wait until it has done what was ordered."""
        self._process.join(seconds)
        if self.alive():
            self.kill()
            raise TimeoutError(f"{self.orders.by} was not done after {seconds} s")


def template(where: str | Path, mode: str = "", jobs: int = 25) -> int:
    """Set up Tern & Tide at ``where`` and work there a little; how many entries there are."""
    with journal_mode(mode):
        db = open_database(where)
        set_up(db, real_clock, "JR", PLAN)
        dice = random.Random(4)
        cook = Cook(open_kitchen(db, real_clock, dice.choice), "JR", dice)
        for _ in range(jobs):
            with suppress(Mistake):
                cook.job()
        with db.reading() as conn:
            number = journal_entries.head(conn, SITE)[0]
        db.close()
    return number


def wrong_in(told: Told, wait: float = WAIT_MS / 1000) -> list[str]:
    """What a station said that no station ever should."""
    found = [f"crash: {each}" for each in told.crashes]
    found += [f"fault: {each}" for each in told.faults]
    early = [each for each in told.turned_away if each < wait]
    if early:
        found.append(f"early: turned away {len(early)} times, once after {min(early):.3f} s")
    return found


_INSIDE = ("writing", "committing")
_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload([__name__, "psycopg", "sqlalchemy.dialects.postgresql"])
