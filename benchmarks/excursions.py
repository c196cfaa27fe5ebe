"""What it costs to find a year's excursions in a unit, and what they did to 500 containers.

The scan of 525,600 readings is set beside one plain pass of Python over the same list, in the same
run; a year beside a month says whether it grows in a straight line (12 times as many readings).
The whole judgement (readings fetched, scanned, containers found, excursions drafted) of a year
with twelve bad nights and 500 containers that stood there all along is set beside fetching the
readings alone: 6,000 excursions come of it. Run: python -m benchmarks excursions
"""

import statistics
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from time import perf_counter

from holdlog.core.moments import DAY, MINUTE, Instant
from holdlog.journal import readings
from holdlog.journal.engine import open_database
from holdlog.kitchen import logger_import
from holdlog.kitchen.clock_right import found_right
from holdlog.kitchen.items import find_item, items
from holdlog.kitchen.kitchen import Kitchen, open_kitchen
from holdlog.kitchen.logger_file import LoggerFile
from holdlog.kitchen.prep import Batch, record
from holdlog.kitchen.setup import Plan, set_up
from holdlog.rules.episodes import course

MINUTES, MONTH = 525_600, 43_800
ROUNDS = 5
LIMIT = 4100
BATCHES, EACH = 25, 20
START = Instant(int(datetime(2026, 1, 1, tzinfo=UTC).timestamp()) * 1000)
END = Instant(START + 366 * DAY)
PLAN = Plan(
    name="Tern & Tide", zone="America/New_York", scale="F", rulebooks=("us-food-code-2022",),
    units=(("walk-in", "walk-in"),),
)  # fmt: skip


def samples(count: int) -> list[tuple[int, int]]:
    """A steady walk-in, with a night at 46 °F every thirtieth day."""
    found = []
    for n in range(count):
        day, minute = divmod(n, 1440)
        bad = day % 30 == 8 and 180 <= minute < 330
        found.append((START + n * MINUTE, 4600 if bad else 3800 + 10 * (n * 7919 % 12)))
    return found


def taken(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def show(title: str, goal: str, rounds: list[tuple[float, float]]) -> None:
    one = statistics.median(first for first, _ in rounds)
    other = statistics.median(second for _, second in rounds)
    ratio = statistics.median(second / first for first, second in rounds)
    print(f"{title:44}{one:10.3f}{other:10.3f}{ratio:8.2f}{goal:>7}")


def scan(some: list[tuple[int, int]]) -> None:
    assert course(some, LIMIT, side="above", scale="F").episodes


def scanning() -> list[tuple[float, float]]:
    some = samples(MINUTES)

    def floor() -> None:
        before = 0
        above = 0
        for at, value in some:
            if value > LIMIT and at > before:
                above += 1
            before = at
        assert above

    return [(taken(floor), taken(lambda: scan(some))) for _ in range(ROUNDS)]


def growing() -> list[tuple[float, float]]:
    month, year = samples(MONTH), samples(MINUTES)
    return [(taken(lambda: scan(month)), taken(lambda: scan(year))) for _ in range(ROUNDS)]


def stocked(folder: Path) -> Kitchen:
    db = open_database(folder / "kitchen.db")
    dice = Random(7)
    now = [START]
    set_up(db, lambda: now[0], "JR", PLAN)
    kitchen = open_kitchen(db, lambda: now[0], dice.choice)
    with db.reading() as conn:
        item = find_item(items(kitchen, conn), "chicken stock")
    for _ in range(BATCHES):
        record(kitchen, "MK", Batch(item=item, containers=EACH, at=START,
                                    unit=kitchen.unit("walk-in")))  # fmt: skip
    now[0] = END
    found_right(kitchen, "JR")  # nothing was written for the year that is read in
    return kitchen


def judging(folder: Path) -> list[tuple[float, float]]:
    kitchen = stocked(folder)
    unit, some = kitchen.unit("walk-in"), samples(MINUTES)
    found = LoggerFile(some, "F", (), 0, len(some), 0, (), "", ())
    with kitchen.writing("MK") as write:
        done = logger_import.keep_file(write, unit, "bench", "", found, dry_run=False)
    assert done.excursions == 12 * BATCHES * EACH, done.excursions
    span = START, Instant(some[-1][0])
    with kitchen.db.reading() as conn:
        write = type(write)(kitchen, conn, "MK", END)
        stack = kitchen.stack(conn)

        def floor() -> None:
            readings.samples(conn, kitchen.site, unit.name, "F", *span)

        def whole() -> None:
            _, anew = logger_import.judged(write, stack, unit, "F", span, done.entry or 0)
            assert anew.excursions == ()  # the second time nothing is new

        rounds = [(taken(floor), taken(whole)) for _ in range(3)]
    kitchen.db.close()
    return rounds


def main() -> None:
    print(f"{MINUTES:,} readings, {BATCHES * EACH} containers; seconds")
    print(f"{'':44}{'floor':>10}{'ours':>10}{'ratio':>8}{'goal':>7}")
    show("a year scanned / one plain pass", "", scanning())
    show("a year / a month (12 is a straight line)", "13", growing())
    with tempfile.TemporaryDirectory() as name:
        show("judged with containers / readings fetched", "", judging(Path(name)))


if __name__ == "__main__":
    main()
