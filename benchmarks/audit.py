"""What the audit of a month costs, and whether years of other history make it dearer.

The journals are those of ``benchmarks.growth``: 10,000, 100,000 and 1,000,000 containers over
eight years. The floor is the bare SQLite driver in the same run, warm, asked the same statements
with the same values. Goals: a month among 1,000,000 at most 3 times that floor; and days that hold
about 1,000 ended containers cost the same however many others there are (growth 1).
Run: python -m benchmarks audit
"""

import sqlite3
import statistics
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

from benchmarks.growth import NOW, PLAN, Hand, asked, median_us, ratio, stocked, with_history
from holdlog.core.moments import DAY, Instant, local_date
from holdlog.journal.engine import open_database
from holdlog.kitchen.audit import audit
from holdlog.kitchen.kitchen import open_kitchen
from holdlog.kitchen.setup import set_up

SIZES = (10_000, 100_000, 1_000_000)
ROUNDS = 3
SPAN = 2990  # days of history
SAME = 1_000  # containers in the days that are compared across sizes


def measured(path: Path, count: int) -> dict[str, list[float]]:
    """Microseconds of the month and of the days with as many containers, and of their floors."""
    hand = Hand()
    db = open_database(path)
    set_up(db, hand.clock, "JR", PLAN)
    with_history(path, count)
    kitchen = open_kitchen(db, hand.clock, hand.draw)
    stocked(kitchen, hand)
    middle = local_date(Instant(NOW - SPAN // 2 * DAY), kitchen.where)
    days = max(1, round(SPAN * SAME / count))
    taken: dict[str, list[float]] = {}

    def work(length: int) -> Callable[[], object]:
        first: date = middle - timedelta(days=length - 1)
        return lambda: audit(kitchen, first, middle)

    with closing(sqlite3.connect(path, isolation_level=None)) as bare:
        bare.execute("PRAGMA query_only = ON")
        for name, length in (("month", 30), ("same", days)):
            job = work(length)
            statements = asked(db, job)

            def replay(statements: list[str] = statements) -> None:
                bare.execute("BEGIN")
                for statement in statements:
                    bare.execute(statement).fetchall()
                bare.execute("COMMIT")

            for _ in range(ROUNDS):
                taken.setdefault(f"{name} bare", []).append(median_us(replay, 1))
                taken.setdefault(name, []).append(median_us(job, 1))
            taken[f"{name} statements"] = [len(statements)]
    db.close()
    return taken


def main(sizes: tuple[int, ...] = SIZES) -> None:
    print(f"{'ended containers':34}" + "".join(f"{size:>12,}" for size in sizes))
    with tempfile.TemporaryDirectory() as name:
        found = [measured(Path(name) / f"{size}.db", size) for size in sizes]
    for title, key in (
        ("a month, ms", "month"), ("what it asks, bare, ms", "month bare"),
        ("about 1,000 containers, ms", "same"), ("what that asks, bare, ms", "same bare"),
    ):  # fmt: skip
        cells = (f"{statistics.median(one[key]) / 1000:12.1f}" for one in found)
        print(f"{title:34}" + "".join(cells))
    print(f"{'statements of the month':34}"
          + "".join(f"{one['month statements'][0]:12.0f}" for one in found))  # fmt: skip
    for title, key in (("month / bare (goal 3)", "month"), ("1,000 / bare", "same")):
        cells = (f"{ratio(one[key], one[f'{key} bare']):12.2f}" for one in found)
        print(f"{title:34}" + "".join(cells))
    base = statistics.median(found[0]["same"])
    cells = (f"{statistics.median(one['same']) / base:12.2f}" for one in found)
    print(f"{'1,000 containers, growth (goal 1)':34}" + "".join(cells))


if __name__ == "__main__":
    main()
