"""Two stations write to one file, and each is killed (SIGKILL) at any moment.

The second one goes on for a while over what the first left behind. Half of the kills are aimed:
they come when the station is in the middle of an entry.
"""

import shutil
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random

from tests.torture.judge import Judgement, journal_mode, judge
from tests.torture.ledger import Told
from tests.torture.outcome import Outcome
from tests.torture.seeds import dice
from tests.torture.spoilt import Spoilt, drop_guards
from tests.torture.station import Orders, Station, template, wrong_in

MODES = ("DELETE", "WAL")
KILLS = {"short": 60, "long": 1000}
# A spoilt build has so many tries to be found out; one is enough nearly always.
TRIES = 40
CONTROLS: tuple[Spoilt, ...] = ("ack-first", "two-transactions", "deferred", "unlocked")


def run(short: bool, scratch: Path) -> Iterator[Outcome]:
    """Both journal modes, and then each spoilt build until it is found out."""
    seed, luck = dice()
    for mode in MODES:
        made = scratch / f"{mode}.db"
        known = template(made, mode)
        yield _kills(made, known, mode, KILLS["short" if short else "long"] // 2, seed, luck)
        for spoilt in CONTROLS:
            yield _control(made, known, mode, spoilt, luck)


def _kills(made: Path, known: int, mode: str, rounds: int, seed: int, luck: Random) -> Outcome:
    count: Counter[str] = Counter()
    wrong: list[str] = []
    for number in range(rounds):
        told, found = one_round(made, known, mode, luck, number)
        count["acknowledged"] += sum(len(each.acknowledged) for each in told)
        count["killed inside an entry"] += sum(each.inside for each in told)
        count["stored unacknowledged"] += found.unacknowledged
        count["journals to recover"] += found.to_recover
        said = [line for each in told for line in wrong_in(each)] + found.said()
        wrong += [f"round {number}: {line}" for line in said]
        count["lost"] += sum(kind == "lost" for kind, _ in found.wrong)
    names = ("acknowledged", "lost", "killed inside an entry", "stored unacknowledged",
             "journals to recover")  # fmt: skip
    figures = {name: count[name] for name in names}
    return Outcome(f"kills, {mode}", {"kills": 2 * rounds, **figures, "seed": seed}, wrong)


def _control(made: Path, known: int, mode: str, spoilt: Spoilt, luck: Random) -> Outcome:
    wrong: list[str] = []
    rounds = 0
    while not wrong and rounds < TRIES:
        told, found = one_round(made, known, mode, luck, rounds, spoilt)
        # That the guards were taken off does not count as having been found out.
        wrong = [line for each in told for line in wrong_in(each)] + found.said(besides=["guards"])
        rounds += 1
    return Outcome(f"kills, {mode}, {spoilt}", {"kills": 2 * rounds}, wrong, control=True)


def one_round(
    made: Path, known: int, mode: str, luck: Random, number: int, spoilt: Spoilt = ""
) -> tuple[list[Told], Judgement]:
    """Two stations on a copy of the journal ``made``, both killed; what they said, and what is
    left.
    """
    folder = made.parent / f"{mode}{spoilt}-{number}"
    folder.mkdir()
    path = Path(shutil.copy(made, folder / "journal.db"))
    if spoilt == "unlocked":
        drop_guards(path)
    stations = [
        Station(
            Orders(
                path, folder / f"{by}.ledger", by, luck.randrange(10**6), mode, spoilt,
                breath=luck.choice([0, 0.0005, 0.002]),
            )
        )
        for by in ("MK", "JO")
    ]  # fmt: skip
    for station in stations:
        # Most are at full speed when they are killed, some have only just begun.
        station.working() if luck.random() < 0.8 else station.ready()
    luck.shuffle(stations)
    for station in stations:
        # A spoilt build gets time to go wrong.
        time.sleep(luck.uniform(0, 0.4 if spoilt else 0.15))
        if luck.random() < 0.5:
            station.inside()
            time.sleep(luck.uniform(0, 0.008))
        station.kill()
    told = [station.told() for station in stations]
    acknowledged = [each for one in told for each in one.acknowledged]
    with journal_mode(mode):
        found = judge(path, acknowledged, known=known)
    shutil.rmtree(folder)
    return told, found
