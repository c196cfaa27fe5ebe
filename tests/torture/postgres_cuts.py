"""The link to a PostgreSQL server is cut at the n-th request of a command, for every n.

Before the server has heard the request, or after it has done it and before it is told; the link
alone, or the server with it. What the cook is told is held against the journal: "nothing was
written" must be true, and so must "recorded"; and whatever it is, it is one line.
"""

import json
import multiprocessing
import os
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Literal

from tests.postgres import Server, in_memory, name_in, programs, running
from tests.torture.cutter import NEVER, Cut, Link
from tests.torture.judge import judge
from tests.torture.missing import not_here
from tests.torture.outcome import Outcome
from tests.torture.seeds import dice
from tests.torture.spoilt import Spoilt, build
from tests.torture.station import template

PREP = ("prep", "chicken stock", "2l", "--tape")
READ = ("unit", "read", "walk-in", "38F")
DISCARD = ("discard", "CODE", "-r", "off")
JOBS = {
    "short": {"prep": PREP, "discard": DISCARD},
    "long": {"prep": PREP, "discard": DISCARD, "unit read": READ},
}
HOW: tuple[Literal["unheard", "untold"], ...] = ("unheard", "untold")
WRITES = "BEGIN ISOLATION LEVEL READ COMMITTED"
# What the short form cuts of each command, beside its commits.
FEW = 8
# What the server says when it can go on no longer, such as when it cannot sync its log.
PANIC = b"SPANIC\0VPANIC\0C58030\0Mcould not fsync file\0\0"
PANICS = b"E" + (len(PANIC) + 4).to_bytes(4, "big") + PANIC
# How a line begins or ends that leaves it open.
OPEN = ("It may or may not be kept", "Something was recorded before this")

Told = Literal["acknowledged", "said not written", "unknown", "refused"]


@dataclass(frozen=True, slots=True)
class _Said:
    code: int
    out: str
    err: str

    def told(self) -> Told:
        """What the cook takes from it: every refusal that does not leave it open is a no."""
        if self.code == 0:
            return "acknowledged"
        if self.code == 2:
            return "refused"
        return "unknown" if any(each in self.err for each in OPEN) else "said not written"


def run(short: bool, scratch: Path) -> Iterator[Outcome]:
    """Every command, and builds that deny what was kept."""
    if programs() is None:
        yield not_here("postgres cuts", "no PostgreSQL (package: postgresql)")
        return
    seed, luck = dice()
    with running(in_memory()) as server:
        bench = _Bench(server, scratch, luck, tubs=20 if short else 150)
        for name, job in JOBS["short" if short else "long"].items():
            yield bench.cut(name, job, seed, FEW if short else 0)
        yield bench.control("denied", PREP)
        yield bench.control("forgetful", PREP)
        yield bench.whole()


class _Bench:
    def __init__(self, server: Server, scratch: Path, luck: Random, tubs: int) -> None:
        self._server, self._scratch, self._luck = server, scratch, luck
        self._url = server.fresh()
        template(self._url)
        stock = self._run((*PREP, "-c", str(tubs), "--json"), self._url)
        self._tubs: list[str] = [each["code"] for each in json.loads(stock.out)["containers"]]
        self._entries = 0
        self._added()

    def cut(self, name: str, job: Sequence[str], seed: int, few: int) -> Outcome:
        """Cut ``job`` at every request, or at its commits and ``few`` others."""
        requests = self._requests(job)
        every = range(1, len(requests) + 1)
        ways = [(how, down) for how in HOW for down in (False, True)]
        # The first commit is that by which SQLAlchemy gets to know the server.
        commits = range(2, requests.count("COMMIT") + 1)
        in_commit = [Cut(each, *way, only="COMMIT") for each in commits for way in ways]
        in_commit += [
            Cut(each, how, answer=PANICS, only="COMMIT") for each in commits for how in HOW
        ]
        anywhere = [Cut(each, *way) for each in every for way in ways]
        cuts = in_commit + (self._luck.sample(anywhere, few) if few else anywhere)
        count: Counter[str] = Counter()
        wrong: list[str] = []
        for cut in cuts:
            told, said = self._one(job, cut)
            count[told] += 1
            wrong += [f"{cut}: {each}" for each in said]
        figures: dict[str, int | float | str] = {
            "requests": len(requests),
            "cuts": len(cuts),
            "in commit": len(in_commit),
            **{told: count[told] for told in ("acknowledged", "said not written", "unknown")},
            "wrong": len(wrong),
            "seed": seed,
        }
        return Outcome(f"postgres cuts, {name}", figures, wrong)

    def control(self, spoilt: Spoilt, job: Sequence[str]) -> Outcome:
        """Cut a spoilt build where the batch is kept and nobody was told, and at what follows."""
        wrong: list[str] = []
        for cut in (Cut(2, "untold", only="COMMIT"), Cut(2, "unheard", only=WRITES)):
            wrong += self._one(job, cut, spoilt)[1]
        return Outcome(f"postgres cuts, {spoilt}", {"cuts": 2}, wrong, control=True)

    def whole(self) -> Outcome:
        """What all of it has left of the journal."""
        found = judge(self._url, [])
        return Outcome("postgres cuts, what is left", {"entries": found.entries}, found.said())

    def _one(self, job: Sequence[str], cut: Cut, spoilt: Spoilt = "") -> tuple[Told, list[str]]:
        with Link(self._server, cut) as link:
            said = self._run(self._now(job), link.url(self._url), spoilt)
        added = self._added()
        told = said.told()
        wrong = []
        if cut.only and not link.struck:
            wrong.append("the cut never came")
        if told == "said not written" and added:
            wrong.append(f"{added} entries were written, and it says: {said.err.strip()}")
        if told in ("acknowledged", "refused") and bool(added) != (told == "acknowledged"):
            wrong.append(f"{added} entries, and it ended with {said.code}: {said.err.strip()}")
        if "Something was recorded before this" in said.err and not added:
            wrong.append(f"nothing was recorded, and it says: {said.err.strip()}")
        if said.code and (said.err.count("\n") != 1 or not said.err.startswith("holdlog: ")):
            wrong.append(f"not one line: {said.err.strip()!r}")
        if said.code not in (0, 1):
            wrong.append(f"it ended with {said.code}: {said.err.strip()}")
        if added and job == DISCARD:
            self._tubs.pop()
        return told, wrong

    def _requests(self, job: Sequence[str]) -> list[str]:
        with Link(self._server, NEVER) as link:
            said = self._run(self._now(job), link.url(self._url))
            assert said.code == 0, said
            if job == DISCARD:
                self._tubs.pop()
        self._added()
        return link.requests

    def _now(self, job: Sequence[str]) -> list[str]:
        return [self._tubs[-1] if word == "CODE" else word for word in job]

    def _added(self) -> int:
        """How many entries there are more than when this was asked last."""
        # A backend whose client is gone may still be at work on what it was sent.
        while self._server.backends():
            pass
        before = self._entries
        ((self._entries,),) = self._server.say(
            "SELECT count(*) FROM entry", name=name_in(self._url)
        )
        return self._entries - before

    def _run(self, arguments: Sequence[str], url: str, spoilt: Spoilt = "") -> _Said:
        """One command in a process of its own."""
        out, err = self._scratch / "out", self._scratch / "err"
        child = _CONTEXT.Process(target=_command, args=(list(arguments), url, out, err, spoilt))
        child.start()
        child.join(120)
        assert child.exitcode is not None, arguments
        return _Said(child.exitcode, out.read_text(), err.read_text())


def _command(arguments: list[str], url: str, out: Path, err: Path, spoilt: Spoilt) -> None:
    from holdlog.cli.door import run as command

    os.environ.update(HOLDLOG_DB=url, HOLDLOG_BY="MK")
    with out.open("w") as sys.stdout, err.open("w") as sys.stderr, build(spoilt):
        code = command(arguments)
        sys.stdout.flush()
        sys.stderr.flush()
    os._exit(code)


# Each is forked from a process that has loaded the program and opened nothing.
_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload(
    [
        "tests.torture.station",
        "psycopg",
        "sqlalchemy.dialects.postgresql",
        "holdlog.cli.app",
        "holdlog.cli.door",
        "holdlog.cli.discards",
        "holdlog.cli.make",
        "holdlog.kitchen.tape",
        "holdlog.kitchen.printing",
        "rich.console",
        "rich.table",
    ]
)
