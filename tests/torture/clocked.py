"""A station whose clock is not its own: it does one thing a line, and says what came of it.

Started under libfaketime, which gives every call for the time another answer; the file that says
which may be written anew while it runs. It takes the time from where the commands take it.
"""

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

from holdlog.cli.wiring import clock
from holdlog.core import events as ev
from holdlog.core.errors import HoldlogError
from holdlog.core.moments import SECOND, Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Connection, open_database
from holdlog.kitchen import clocks, discard, handle
from holdlog.kitchen.clock_right import found_right
from holdlog.kitchen.due import everything
from holdlog.kitchen.items import find_item, items
from holdlog.kitchen.kitchen import SITE, Kitchen, open_kitchen
from holdlog.kitchen.prep import Batch, record
from holdlog.kitchen.setup import set_up
from tests.kitchen.shop import PLAN

Answer = dict[str, Any]


class Clocked:
    """A station under another clock, seen from outside, where the time is the real one."""

    def __init__(self, folder: Path, start: Instant, spoilt: str = "") -> None:
        self.path = folder / "kitchen.db"
        self._offset = folder / "offset"
        self.set(start)
        env = {**os.environ, "FAKETIME_TIMESTAMP_FILE": str(self._offset)}
        env |= {"FAKETIME_NO_CACHE": "1", "FAKETIME_DONT_FAKE_MONOTONIC": "1"}
        env |= {"LD_PRELOAD": _library(), "TZ": "UTC"}
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.torture.clocked", str(self.path), spoilt],
            cwd=Path(__file__).parents[2], env=env, stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip

    def set(self, at: Instant) -> None:
        """Let its clock say ``at``, to the second, and go on from there."""
        self._ahead = round((at - _now()) / SECOND)
        beside = self._offset.with_suffix(".new")
        beside.write_text(f"{self._ahead:+d}\n", encoding="ascii")
        beside.replace(self._offset)

    def now(self) -> Instant:
        """What its clock has to say now, by the real one."""
        return Instant(_now() + self._ahead * SECOND)

    def do(self, what: str, **more: object) -> Answer:
        """What came of it; ``error`` and ``line`` where it was refused."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps({"do": what, **more}) + "\n")
        self._process.stdin.flush()
        answer: Answer = json.loads(self._process.stdout.readline() or '{"error": "it is dead"}')
        return answer

    def close(self) -> None:
        """Let it end."""
        assert self._process.stdin is not None
        self._process.stdin.close()
        self._process.wait(30)


def _now() -> Instant:
    return Instant(time.time_ns() // 1_000_000)


def _library() -> str:
    """Where the system keeps libfaketime: its own program says it to those it starts."""
    shown = subprocess.run(
        ["faketime", "-m", "now", "env"], capture_output=True, text=True, check=True
    ).stdout
    return next(
        line.partition("=")[2] for line in shown.splitlines() if line.startswith("LD_PRELOAD=")
    )


def main() -> None:
    """The station's side."""
    db = open_database(Path(sys.argv[1]))
    with _trusting() if sys.argv[2:] == ["trusting"] else nullcontext():
        set_up(db, clock, "MK", PLAN)
        kitchen = open_kitchen(db, clock, Random(clock()).choice)
        for line in sys.stdin:
            try:
                answer = _answer(kitchen, json.loads(line))
            except HoldlogError as error:
                answer = {"error": error.code, "line": error.line()}
            sys.stdout.write(json.dumps(answer) + "\n")
            sys.stdout.flush()


def _answer(kitchen: Kitchen, told: Answer) -> Answer:
    match told["do"]:
        case "tz":
            os.environ["TZ"] = told["zone"]
            time.tzset()
            return {"shows": time.strftime("%z")}
        case "now":
            return {"now": clock()}
        case "list":
            lines = everything(kitchen)
            return {each.row.code: [each.verdict, each.day, each.row.use_by] for each in lines}
        case other:
            return _kept(kitchen, _written(kitchen, other, told.get("code", "")))


def _written(kitchen: Kitchen, what: str, code: str) -> str:
    match what:
        case "prep":
            return _prep(kitchen)
        case "out":
            handle.take_out(kitchen, "mk", code, kitchen.now(), ev.Out("4h"))
        case "bin":
            discard.discard(kitchen, "mk", code, kitchen.now(), "date")
        case "right":
            found_right(kitchen, "jr")
        case _:
            raise ValueError(what)
    return code


def _prep(kitchen: Kitchen) -> str:
    with kitchen.db.reading() as conn:
        item = find_item(items(kitchen, conn), "chicken stock")
    batch = Batch(item=item, containers=1, at=kitchen.now(), unit=kitchen.unit("walk-in"))
    return record(kitchen, "mk", batch).rows[0].code


def _kept(kitchen: Kitchen, code: str) -> Answer:
    with kitchen.db.reading() as conn:
        number, digest, recorded_at = journal_entries.head(conn, SITE)
    return {"code": code, "number": number, "hash": digest, "recorded_at": recorded_at}


@contextmanager
def _trusting() -> Iterator[None]:
    """A build that believes whatever the clock says."""

    def now(self: Kitchen, _: Connection | None = None) -> Instant:
        return self.clock()

    def trusted(_: Connection, __: str, now: Instant) -> clocks.Apart:
        return clocks.Apart(now, now)

    with (
        patch.object(Kitchen, "now", now),
        patch.object(Kitchen, "moment", now),
        patch.object(clocks, "apart", trusted),
    ):
        yield


if __name__ == "__main__":
    main()
