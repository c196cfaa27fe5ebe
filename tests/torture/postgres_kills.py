"""The same on PostgreSQL: a station is killed, or the whole server under both of them.

A server's commit takes so short a time that hardly any kill would strike it. So it is made longer
(``commit_delay``: the kill comes before it is on the disk), and in every second round it is held
where it is on the disk already and nobody is told: the server then waits for a second one that
never comes (PostgreSQL manual, "Write Ahead Log" and "Synchronous Replication").
"""

import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random

from tests.postgres import Server, in_memory, name_in, programs, running
from tests.torture.judge import Judgement, judge
from tests.torture.ledger import Told
from tests.torture.missing import not_here
from tests.torture.outcome import Outcome
from tests.torture.seeds import dice
from tests.torture.spoilt import Spoilt
from tests.torture.station import Orders, Station, template, wrong_in

KILLS = {"short": 20, "long": 300}
# A spoilt build has so many tries to be found out.
TRIES = 20
# How much longer a commit takes, in microseconds.
DELAY = 20_000


def run(short: bool, scratch: Path) -> Iterator[Outcome]:
    """Stations killed, servers killed, and then the spoilt builds."""
    seed, luck = dice()
    kills = KILLS["short" if short else "long"]
    if programs() is None:
        yield not_here("postgres kills", "no PostgreSQL (package: postgresql)")
        return
    # All that keeps an entry through a power cut is on, as on any server. A killed process leaves
    # to the system what it had handed over, so that memory serves as well as a disk.
    with running(in_memory()) as server:
        made = server.fresh()
        known = template(made)
        bench = _Bench(server, made, known, scratch, luck)
        yield bench.killed("stations", kills // 2, seed)
        yield bench.killed("server", kills - kills // 2, seed)
        yield bench.spoilt("stations", "ack-first")
        yield bench.spoilt("stations", "two-transactions")
        yield bench.spoilt("server", "unsynced")
        yield bench.spoilt("server", "denied")


class _Bench:
    def __init__(self, server: Server, made: str, known: int, scratch: Path, luck: Random) -> None:
        self._server, self._made, self._known = server, made, known
        self._scratch, self._luck = scratch, luck
        self._rounds = 0

    def killed(self, what: str, kills: int, seed: int) -> Outcome:
        """``kills`` of the sound build: of the two stations one after the other, or of the server
        under both.
        """
        count: Counter[str] = Counter()
        wrong: list[str] = []
        each = 2 if what == "stations" else 1
        for number in range(-(-kills // each)):
            told, found, took = self._round(what)
            count["kills"] += each
            count["acknowledged"] += sum(len(one.acknowledged) for one in told)
            count["lost"] += sum(kind == "lost" for kind, _ in found.wrong)
            count["inside an entry"] += sum(one.inside for one in told)
            count["in commit"] += sum(one.in_commit for one in told)
            count["told of it"] += sum(len(one.faults) for one in told)
            count["said not written"] += sum(len(one.denied) for one in told)
            count["unknown"] += sum(len(one.unknown) for one in told)
            count["wrongly not written"] += sum(kind == "denied" for kind, _ in found.wrong)
            count["stored unacknowledged"] += found.unacknowledged
            count["ms of recovery"] += round(took * 1000)
            wrong += [f"round {number}: {line}" for line in _wrong(what, told, found)]
        return Outcome(f"postgres kills, {what}", {**count, "seed": seed}, wrong)

    def spoilt(self, what: str, spoilt: Spoilt) -> Outcome:
        """Kills of a spoilt build until it is found out."""
        wrong: list[str] = []
        rounds = 0
        while not wrong and rounds < TRIES:
            told, found, _ = self._round(what, spoilt)
            wrong = _wrong(what, told, found)
            rounds += 1
        name = f"postgres kills, {what}, {spoilt}"
        return Outcome(name, {"rounds": rounds}, wrong, control=True)

    def _round(self, what: str, spoilt: Spoilt = "") -> tuple[list[Told], Judgement, float]:
        luck = self._luck
        self._rounds += 1
        url = self._server.fresh(name_in(self._made))
        if what == "server":
            self._server.say(f'ALTER DATABASE "{name_in(url)}" SET commit_delay = {DELAY}')
            self._server.say(f'ALTER DATABASE "{name_in(url)}" SET commit_siblings = 0')
        stations = [
            Station(
                Orders(
                    url, self._scratch / f"{self._rounds}-{by}.ledger", by,
                    luck.randrange(10**6), spoilt=spoilt, breath=luck.choice([0, 0.001]),
                )
            )
            for by in ("MK", "JO")
        ]  # fmt: skip
        for station in stations:
            station.working()
        took = 0.0
        # An unsynced commit waits for nobody.
        held = spoilt == "denied" or (what == "server" and not spoilt and self._rounds % 2 == 0)
        if what == "stations":
            for station in stations:
                self._wait(station)
                station.kill()
        else:
            self._wait(stations[0])
            if held:
                self._hold(url)
            self._server.kill()
            for station in stations:
                # Told by the end of its connection; it goes away by itself.
                station.join(60)
            began = time.monotonic()
            self._server.start()
            took = time.monotonic() - began
            self._wait_for_none()
        told = [station.told() for station in stations]
        acknowledged = [each for one in told for each in one.acknowledged]
        denied = [each for one in told for each in one.denied]
        found = judge(url, acknowledged, denied=denied, known=self._known)
        self._server.drop(url)
        return told, found, took

    def _hold(self, url: str) -> None:
        """Until a commit is on the server's disk and waits there to be told."""
        self._server.say("ALTER SYSTEM SET synchronous_standby_names = 'nobody'")
        self._server.say("SELECT pg_reload_conf()")
        waits = (
            "SELECT count(*) FROM pg_stat_activity"
            f" WHERE datname = '{name_in(url)}' AND wait_event = 'SyncRep'"
        )
        until = time.monotonic() + 30
        while self._server.say(waits) == [(0,)]:
            if time.monotonic() > until:
                raise TimeoutError("no commit waits for a second server")
            time.sleep(0.01)

    def _wait_for_none(self) -> None:
        self._server.say("ALTER SYSTEM RESET synchronous_standby_names")
        self._server.say("SELECT pg_reload_conf()")
        while self._server.say("SHOW synchronous_standby_names") != [("",)]:
            time.sleep(0.01)

    def _wait(self, station: Station) -> None:
        time.sleep(self._luck.uniform(0.05, 0.4))
        if self._luck.random() < 0.5:
            station.inside()
            time.sleep(self._luck.uniform(0, 0.008))


def _wrong(what: str, told: list[Told], found: Judgement) -> list[str]:
    said = found.said()
    for one in told:
        # Where the server was killed, a station says so in one line, and is right to.
        mine = [line for line in wrong_in(one) if what == "stations" or line[:5] != "fault"]
        if what == "server" and not one.faults and not one.crashes:
            mine.append("silent: a station did not notice that its server was gone")
        said += mine
    return said
