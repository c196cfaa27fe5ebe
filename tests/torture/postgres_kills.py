"""The same on PostgreSQL: a station is killed, or the whole server under both of them."""

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
            count["told of it"] += sum(len(one.faults) for one in told)
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
        if what == "stations":
            for station in stations:
                self._wait(station)
                station.kill()
        else:
            self._wait(stations[0])
            self._server.kill()
            for station in stations:
                # Told by the end of its connection; it goes away by itself.
                station.join(60)
            began = time.monotonic()
            self._server.start()
            took = time.monotonic() - began
        told = [station.told() for station in stations]
        acknowledged = [each for one in told for each in one.acknowledged]
        found = judge(url, acknowledged, known=self._known)
        self._server.drop(url)
        return told, found, took

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
