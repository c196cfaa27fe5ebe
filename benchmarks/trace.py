"""A trace of one lot, among 10,000 to 1,000,000 other containers.

The history is that of benchmarks/growth.py; the lot, what was made of it and what of that goes in
through the program. The floor is the bare SQLite driver on the same file in the same run, warm:
(1) one recursive statement that finds the names; (2) that, and the rows and entries of what it
found, which tell what counts, what was voided and when. A trace also decodes the entries, orders
the steps in time and looks for circles. Goals: at most 3 times the floor (2), and no growth from
10,000 to 1,000,000. Run: python -m benchmarks trace
"""

import sqlite3
import statistics
import tempfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from benchmarks.growth import NOW, PLAN, SIZES, Hand, asked, median_us, ratio, with_history
from holdlog.core.amounts import read_amount
from holdlog.core.events import ItemAdded
from holdlog.core.moments import MINUTE, Instant
from holdlog.journal.engine import open_database
from holdlog.journal.entries import COLUMNS
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.handle import split
from holdlog.kitchen.items import add_item, find_item, items
from holdlog.kitchen.kitchen import Kitchen, open_kitchen
from holdlog.kitchen.prep import Batch, record
from holdlog.kitchen.recall import recall
from holdlog.kitchen.setup import set_up
from holdlog.kitchen.trace import trace

ROUNDS, TIMES = 7, 5
SOUPS = 24
_KINDS = (
    "'prepared', 'received', 'opened', 'split', 'topped-up', 'used', 'discarded', 'voided', "
    "'confirmed'"
)
# A plus keeps SQLite from an index that a million rows share: of the empty parent, of a kind.
NAMES = """
WITH RECURSIVE reached(name) AS (
  SELECT batch FROM batch WHERE site = 'main' AND lot_key = 'L442'
  UNION SELECT c.code FROM reached r JOIN container c
    ON c.site = 'main' AND c.batch = r.name AND +c.parent = ''
  UNION SELECT c.code FROM reached r JOIN container c ON c.site = 'main' AND c.parent = r.name
  UNION SELECT l."into" FROM reached r JOIN link l ON l.site = 'main' AND l.code = r.name
) SELECT name FROM reached
"""
_CELLS = ", ".join(f'"{name}"' for name in ContainerRow.__slots__)
_PARTS = ", ".join(f'"{name}"' for name in COLUMNS)


def cooked(kitchen: Kitchen, hand: Hand) -> None:
    """A lot of cream in soups, their containers split, and stews of the soups."""
    add_item(kitchen, "MK", ItemAdded("bean soup", "cooked-dish"))
    with kitchen.db.reading() as conn:
        known = items(kitchen, conn)
    soup, unit = find_item(known, "bean soup"), kitchen.unit("walk-in")
    cream = record(kitchen, "MK", Batch(
        item=find_item(known, "cream, opened"), containers=4, at=hand.now, unit=unit,
        amount=read_amount("8 l"), kind="opened", lot="L442",
    ))  # fmt: skip
    made = Batch(soup, 3, hand.now, unit, read_amount("9 l"))
    for n in range(SOUPS):
        hand.now = Instant(hand.now + MINUTE)
        part = cream.rows[n % len(cream.rows)].code
        first = record(kitchen, "MK", replace(made, at=hand.now, partly=(part,)))
        taken = split(kitchen, "MK", first.rows[0].code, hand.now, 2).made
        hand.now = Instant(hand.now + MINUTE)
        parts = taken[0].code, first.rows[1].code
        record(kitchen, "MK", replace(made, containers=2, at=hand.now, made_from=parts))


def measured(path: Path, count: int) -> dict[str, list[float]]:
    """Microseconds of each thing, one number a round; the things are interleaved."""
    hand = Hand()
    db = open_database(path)
    set_up(db, hand.clock, "JR", PLAN)
    with_history(path, count)
    hand.now = Instant(NOW - 600 * MINUTE)
    kitchen = open_kitchen(db, hand.clock, hand.draw)
    cooked(kitchen, hand)
    hand.now = NOW
    found = trace(kitchen, lot="L442").forward.names
    statements = asked(db, lambda: trace(kitchen, lot="L442"))
    taken: dict[str, list[float]] = {}
    with closing(sqlite3.connect(path, isolation_level=None)) as bare:
        bare.execute("PRAGMA query_only = ON")

        def names() -> list[str]:
            return [name for (name,) in bare.execute(NAMES)]

        def all_of_it() -> None:
            bare.execute("BEGIN")
            some = names()
            marks = ", ".join("?" * len(some))
            bare.execute(
                f"SELECT {_CELLS} FROM container WHERE site = 'main' AND code IN ({marks})", some
            ).fetchall()
            bare.execute(
                f"SELECT {_PARTS} FROM entry WHERE site = 'main' AND subject IN ({marks})"
                f" AND +kind IN ({_KINDS})", some
            ).fetchall()  # fmt: skip
            bare.execute("COMMIT")

        assert set(names()) == set(found)
        works: tuple[tuple[str, Callable[[], object]], ...] = (
            ("names", names),
            ("floor", all_of_it),
            ("trace", lambda: trace(kitchen, lot="L442")),
            ("dry", lambda: recall(kitchen, "", "", "L442", "", dry_run=True)),
        )
        for _ in range(ROUNDS):
            for name, work in works:
                taken.setdefault(name, []).append(median_us(work, TIMES))
    db.close()
    taken["found"], taken["statements"] = [len(found)], [len(statements)]
    return taken


def main(sizes: tuple[int, ...] = SIZES) -> None:
    print(f"{'other containers':40}" + "".join(f"{size:>12,}" for size in sizes))
    with tempfile.TemporaryDirectory() as name:
        found = [measured(Path(name) / f"{size}.db", size) for size in sizes]
    for title, key in (
        ("names found", "found"), ("statements that a trace asks", "statements"),
        ("the recursion alone, bare, us", "names"),
        ("recursion, rows and entries, bare, us", "floor"),
        ("trace, both ways, us", "trace"), ("recall --dry-run, us", "dry"),
    ):  # fmt: skip
        print(f"{title:40}" + "".join(f"{statistics.median(one[key]):12.0f}" for one in found))
    for title, key, floor in (
        ("trace / recursion, rows, entries (goal 3)", "trace", "floor"),
        ("trace / the recursion alone", "trace", "names"),
    ):
        print(f"{title:40}" + "".join(f"{ratio(one[key], one[floor]):12.2f}" for one in found))
    base = statistics.median(found[0]["trace"])
    print(
        f"{'trace, growth (goal 1)':40}"
        + "".join(f"{statistics.median(one['trace']) / base:12.2f}" for one in found)
    )


if __name__ == "__main__":
    main()
