"""What the doctor costs as a journal grows, and what that time is made of.

The entries are written through the program: batches made, labelled by hand, read, moved, frozen,
used and binned. Each measurement is the first of a process of its own: what an earlier one has
left in the caches would favour the small journals. The floor is one pass over all entries by the
bare SQLite driver that decodes their bodies and hashes their texts, on the same file in the same
run. A replay folds every container under the rules besides. Goal: linear, that is entries per
second that do not fall.
Run: python -m benchmarks doctor
"""

import hashlib
import json
import sqlite3
import statistics
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path
from random import Random
from time import perf_counter

from benchmarks.growth import PLAN, Hand
from holdlog.core.amounts import read_amount
from holdlog.core.chain import first_fault
from holdlog.core.moments import HOUR, MINUTE, Instant
from holdlog.core.temperature import read_temperature
from holdlog.journal.engine import open_database
from holdlog.journal.entries import head, stream
from holdlog.kitchen import doctor
from holdlog.kitchen.discard import discard
from holdlog.kitchen.handle import end, freeze, move, reading
from holdlog.kitchen.items import find_item, items
from holdlog.kitchen.kitchen import Kitchen, open_kitchen
from holdlog.kitchen.prep import Batch, record
from holdlog.kitchen.printing import write_by_hand
from holdlog.kitchen.setup import set_up

SIZES = (2_000, 8_000, 32_000)
ROUNDS = 3
WANTED = ("chicken stock", "lentil, cooked", "hummus", "béchamel", "fish stock")


def lived_in(kitchen: Kitchen, hand: Hand, entries: int) -> None:
    """Days of a kitchen, until it has so many entries."""
    dice = Random(3)
    with kitchen.db.reading() as conn:
        known = items(kitchen, conn)
    number = 0
    while number < entries:
        hand.now = Instant(hand.now + 20 * MINUTE)
        batch = Batch(
            item=find_item(known, dice.choice(WANTED)), at=hand.now, containers=4,
            unit=kitchen.unit("walk-in"), amount=read_amount("8 l"),
        )  # fmt: skip
        codes = [row.code for row in record(kitchen, "MK", batch).rows]
        write_by_hand(kitchen, "MK", codes)
        hand.now = Instant(hand.now + HOUR)
        reading(kitchen, "MK", codes[0], hand.now, read_temperature("38 F"))
        move(kitchen, "MK", codes[1], hand.now, kitchen.unit("reach-in"))
        freeze(kitchen, "MK", codes[2], hand.now, None)
        hand.now = Instant(hand.now + HOUR)
        for code in codes[:2]:
            end(kitchen, "MK", code, hand.now, "used", None)
        discard(kitchen, "MK", codes[3], hand.now, "dropped")
        with kitchen.db.reading() as conn:
            number = head(conn, kitchen.site)[0]


def filled(path: Path, size: int) -> None:
    """A journal of so many entries."""
    hand = Hand()
    db = open_database(path)
    set_up(db, hand.clock, "JR", PLAN)
    with db.driver() as driver:
        driver.execute("PRAGMA synchronous = OFF")
    lived_in(open_kitchen(db, hand.clock, hand.draw), hand, size)
    db.close()


def once(path: Path, name: str) -> tuple[float, int]:
    """Seconds that one of the things takes in this process, and how many entries there are."""
    db = open_database(path)
    with db.reading() as conn:
        entries, _, last = head(conn, "main")
    kitchen = open_kitchen(db, lambda: last, Hand().draw)

    def bare() -> None:
        with closing(sqlite3.connect(path)) as conn:
            for row in conn.execute("SELECT * FROM entry ORDER BY number"):
                json.loads(row[9])
                hashlib.sha256("".join(map(str, row)).encode()).hexdigest()

    def chain() -> None:
        with db.reading() as conn:
            assert first_fault(stream(conn, kitchen.site)) is None

    def replay() -> None:
        with db.reading() as conn:
            doctor.replay(kitchen, conn)

    def whole() -> None:
        found = doctor.examine(kitchen)
        assert all(finding.ok for finding in found if finding.name != "backup"), found

    works = {"bare": bare, "chain": chain, "replay": replay, "all": whole}
    begun = perf_counter()
    works[name]()
    taken = perf_counter() - begun
    db.close()
    return taken, entries


def measured(path: Path, size: int) -> dict[str, float]:
    """Seconds of each thing, medians of rounds in which they take turns."""
    filled(path, size)
    taken: dict[str, list[float]] = {}
    entries = 0
    for _ in range(ROUNDS):
        for name in ("bare", "chain", "replay", "all"):
            done = subprocess.run(
                [sys.executable, "-m", "benchmarks.doctor", str(path), name],
                check=True, capture_output=True, text=True,
            )  # fmt: skip
            seconds, entries = json.loads(done.stdout)
            taken.setdefault(name, []).append(seconds)
    return {name: statistics.median(each) for name, each in taken.items()} | {"entries": entries}


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        found = [measured(Path(name) / f"{size}.db", size) for size in SIZES]
    print(f"{'entries':34}" + "".join(f"{one['entries']:>12,.0f}" for one in found))
    for title, key in (
        ("one bare pass, ms", "bare"), ("the chain, ms", "chain"), ("a replay, ms", "replay"),
        ("the whole doctor, ms", "all"),
    ):  # fmt: skip
        print(f"{title:34}" + "".join(f"{one[key] * 1e3:12.0f}" for one in found))
    for title, key in (("replay / bare pass", "replay"), ("doctor / bare pass", "all")):
        print(f"{title:34}" + "".join(f"{one[key] / one['bare']:12.2f}" for one in found))
    for title, key in (
        ("chain, entries a second", "chain"), ("replay, entries a second", "replay"),
        ("doctor, entries a second", "all"),
    ):  # fmt: skip
        print(f"{title:34}" + "".join(f"{one['entries'] / one[key]:12,.0f}" for one in found))
    first, last = found[0], found[-1]
    grown = (last["all"] / last["entries"]) / (first["all"] / first["entries"])
    print(f"{'doctor, time per entry (goal ≤ 1.2)':46}{grown:12.2f}")


if __name__ == "__main__":
    if sys.argv[1:]:
        print(json.dumps(once(Path(sys.argv[1]), sys.argv[2])))
    else:
        main()
