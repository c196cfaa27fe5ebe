"""What years of history cost the morning: the day's list and one scan of a round.

Journals with 10,000, 100,000 and 1,000,000 containers that were made, labelled and ended, and
500 on hand, made and labelled through the program on the last five days; three of four units are
read now and then, and were in those days. The history is put in by
plain SQL: plausible entries and rows, with numbers for hashes, since nothing here walks the
chain. The floor is the bare SQLite driver on the same file in the same run, warm. For the list it
is (1) the 500 rows alone and (2) every statement that the list asks, as it asks them; for a scan,
the one row. Goals: at most 2 times the floor (2), and no growth from 10,000 to 1,000,000.
Run: python -m benchmarks growth
"""

import sqlite3
import statistics
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import islice
from pathlib import Path
from random import Random
from time import perf_counter
from typing import Any

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.codes import ALPHABET, LENGTH, LETTERS, check_character
from holdlog.core.moments import DAY, HOUR, Instant
from holdlog.core.temperature import read_temperature
from holdlog.journal.codec import encode
from holdlog.journal.engine import Database, open_database
from holdlog.journal.on_hand import BatchRow, ContainerRow
from holdlog.journal.tables import TRIGGERS
from holdlog.kitchen.due import due, line
from holdlog.kitchen.handle import freeze
from holdlog.kitchen.items import find_item, items
from holdlog.kitchen.kitchen import Kitchen, find_container, open_kitchen
from holdlog.kitchen.prep import Batch, record
from holdlog.kitchen.printing import write_by_hand
from holdlog.kitchen.setup import Plan, set_up

SIZES = (10_000, 100_000, 1_000_000)
LIVE, EACH = 500, 4
ROUNDS, LISTS, SCANS = 7, 5, 200
NOW = Instant(1_811_862_000_000)  # a Wednesday of June 2027, 11:00 at Tern & Tide
PLAN = Plan(
    name="Tern & Tide",
    zone="America/New_York",
    scale="F",
    rulebooks=("us-food-code-2022",),
    units=(("walk-in", "walk-in"), ("reach-in", "reach-in"), ("chest freezer", "freezer"),
           ("hot box", "hot box")),
)  # fmt: skip
READ = ("walk-in", "reach-in", "chest freezer")  # the hot box was never read
Rows = Iterator[tuple[Any, ...]]


class Hand:
    """A clock that is set by hand, and dice."""

    def __init__(self) -> None:
        self.now = Instant(NOW - 3000 * DAY)
        self.draw = Random(1).choice

    def clock(self) -> Instant:
        """What it shows."""
        return self.now


def code(number: int) -> str:
    """The code of the number: spread over all codes, none twice (the factor is prime)."""
    number = number * 7_368_787 % (len(LETTERS) * len(ALPHABET) ** (LENGTH - 2))
    letters = []
    for _ in range(LENGTH - 2):
        number, rest = divmod(number, len(ALPHABET))
        letters.append(ALPHABET[rest])
    body = LETTERS[number] + "".join(letters)
    return body + check_character(body)


def batches(count: int) -> Iterator[tuple[int, list[str], int]]:
    """Batch number, the codes of its containers, and when it was made."""
    step = 2990 * DAY // (count // EACH)
    for number in range(1, count // EACH + 1):
        made = NOW - 2999 * DAY + number * step
        yield number, [code(number * EACH + n) for n in range(EACH)], made


def entries(count: int, first: int) -> Rows:
    """What was made, labelled, read and ended, in the order of writing."""
    food = ev.Food("chicken stock", "stock", heat_treated=True)
    ended = encode(ev.Used(amount=read_amount("2 l")))
    binned = encode(ev.Discarded("date", read_amount("2 l")))
    read = encode(ev.UnitRead(read_temperature("38.5 F")))
    number = first

    def row(fact: tuple[str, int, str], at: int, subject: str) -> tuple[Any, ...]:
        nonlocal number
        number += 1
        kind, version, body = fact
        link = f"{number:064x}"
        return "main", number, kind, version, at, at, "MK", "", subject, body, link, link

    for batch, codes, made in batches(count):
        fact = ev.Prepared(food, tuple(codes), "walk-in", read_amount("8 l"))
        yield row(encode(fact), made, f"B{batch}")
        label = encode(ev.Labelled("tape", "use-by", made + 6 * DAY))
        for each in codes:
            yield row(label, made, each)
        if batch % 10 == 0:
            yield row(read, made + HOUR, READ[batch // 10 % 3])
        for n, each in enumerate(codes):
            yield row(binned if (batch + n) % 12 == 0 else ended, made + 3 * DAY, each)


def batch_rows(count: int) -> Rows:
    for number, _, made in batches(count):
        row = BatchRow(
            f"B{number}", number, "chicken-stock", "chicken stock", "stock", Instant(made),
            "prepared",
        )  # fmt: skip
        yield "main", *(getattr(row, name) for name in BatchRow.__slots__)


def container_rows(count: int) -> Rows:
    for number, codes, made in batches(count):
        for n, each in enumerate(codes):
            row = ContainerRow(
                code=each, batch=f"B{number}", parent="", item="chicken-stock",
                item_name="chicken stock", category="stock", unit="walk-in", number=n + 1,
                count=EACH, amount="2 l", made_at=Instant(made), made_kind="prepared",
                state="gone", tcs="tcs", use_by=Instant(made + 6 * DAY), last_day="2026-06-07",
                of=7, days_left=None, verdict="", reason="", review_at=None,
                printed_use_by=Instant(made + 6 * DAY), binds="ready-to-eat",
                cite="3-501.17(A)(1)", says="held cold, through day 7", cautions=(),
                judged_at=Instant(made + 3 * DAY), ended_at=Instant(made + 3 * DAY),
                ended_as="discarded" if (number + n) % 12 == 0 else "used",
            )  # fmt: skip
            cells = {name: getattr(row, name) for name in ContainerRow.__slots__}
            yield "main", *{**cells, "cautions": "[]"}.values()


def put(conn: sqlite3.Connection, table: str, columns: list[str], rows: Rows) -> None:
    names = ", ".join(f'"{name}"' for name in columns)
    insert = f"INSERT INTO {table} ({names}) VALUES (?{', ?' * (len(columns) - 1)})"
    while some := list(islice(rows, 20_000)):
        conn.executemany(insert, some)


def with_history(path: Path, count: int) -> None:
    """Years of history, past the guards of the journal."""
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        conn.execute("PRAGMA synchronous = OFF")
        conn.execute("PRAGMA cache_size = -200000")
        conn.execute("BEGIN")
        conn.execute("DROP TRIGGER entry_in_order")
        (first,) = conn.execute("SELECT max(number) FROM entry").fetchone()
        columns = [
            "site", "number", "kind", "version", "at", "recorded_at", "by", "station", "subject",
            "body", "previous", "hash",
        ]  # fmt: skip
        put(conn, "entry", columns, entries(count, first))
        put(conn, "batch", ["site", *BatchRow.__slots__], batch_rows(count))
        put(conn, "container", ["site", *ContainerRow.__slots__], container_rows(count))
        conn.execute(TRIGGERS["entry_in_order"])
        conn.execute("COMMIT")
        conn.execute("PRAGMA journal_mode = DELETE")


def stocked(kitchen: Kitchen, hand: Hand) -> list[str]:
    """What is on hand: made on the last five days, labelled, some of it frozen. Their codes."""
    dice = Random(2)
    with kitchen.db.reading() as conn:
        known = items(kitchen, conn)
    wanted = ("chicken stock", "lentil, cooked", "hummus", "béchamel", "fish stock")
    codes: list[str] = []
    for n in range(LIVE // EACH):
        hand.now = Instant(NOW - 5 * DAY + n * (5 * DAY // (LIVE // EACH)))
        batch = Batch(
            item=find_item(known, dice.choice(wanted)), at=hand.now, containers=EACH,
            unit=kitchen.unit(dice.choice(["walk-in", "reach-in"])), amount=read_amount("8 l"),
        )  # fmt: skip
        made = [row.code for row in record(kitchen, "MK", batch).rows]
        if n % 6 == 0:
            for each in made:
                freeze(kitchen, "MK", each, hand.now, None)
        write_by_hand(kitchen, "MK", made)
        codes += made
        if n % 25 == 0:
            with kitchen.writing("MK") as write:
                fact = ev.UnitRead(read_temperature("38.5 F"))
                write.append(*((fact, hand.now, unit) for unit in READ))
    hand.now = NOW
    return codes


def asked(db: Database, work: Callable[[], object]) -> list[str]:
    """The statements that ``work`` asks of SQLite, their values written in."""
    found: list[str] = []
    # The pool hands out the connection that was given back last.
    with db.engine.connect() as conn:
        driver: Any = conn.connection.driver_connection
    driver.set_trace_callback(found.append)
    work()
    driver.set_trace_callback(None)
    return [statement for statement in found if statement.startswith("SELECT")]


def median_us(work: Callable[[], object], times: int) -> float:
    taken = []
    for _ in range(times):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return statistics.median(taken) * 1e6


COLUMNS = ", ".join(f'"{name}"' for name in ContainerRow.__slots__)
LIST = (
    f"SELECT {COLUMNS} FROM container"
    " WHERE site = 'main' AND ended_at IS NULL ORDER BY use_by, code"
)
ONE = f"SELECT {COLUMNS} FROM container WHERE site = 'main' AND code = ?"


def measured(path: Path, count: int) -> dict[str, list[float]]:
    """Microseconds of each thing, one number a round; the things are interleaved."""
    hand = Hand()
    db = open_database(path)
    set_up(db, hand.clock, "JR", PLAN)
    with_history(path, count)
    kitchen = open_kitchen(db, hand.clock, hand.draw)
    codes = stocked(kitchen, hand)
    found = due(kitchen)
    assert found.on_hand == LIVE
    statements = asked(db, lambda: due(kitchen))
    scans = iter(codes * (ROUNDS * SCANS // LIVE + 2))
    again = iter(codes * (ROUNDS * SCANS // LIVE + 2))
    taken: dict[str, list[float]] = {}
    with closing(sqlite3.connect(path, isolation_level=None)) as bare, db.reading() as conn:
        bare.execute("PRAGMA query_only = ON")
        assert len(bare.execute(LIST).fetchall()) == LIVE

        def replay() -> None:
            bare.execute("BEGIN")
            for statement in statements:
                bare.execute(statement).fetchall()
            bare.execute("COMMIT")

        def scan() -> None:
            line(kitchen, conn, find_container(kitchen, conn, next(scans)), NOW)

        works: tuple[tuple[str, Callable[[], object], int], ...] = (
            ("rows", lambda: bare.execute(LIST).fetchall(), LISTS),
            ("asked", replay, LISTS),
            ("due", lambda: due(kitchen), LISTS),
            ("row", lambda: bare.execute(ONE, (next(again),)).fetchall(), SCANS),
            ("scan", scan, SCANS),
        )
        for _ in range(ROUNDS):
            for name, work, times in works:
                taken.setdefault(name, []).append(median_us(work, times))
    db.close()
    taken["statements"] = [len(statements)]
    return taken


def ratio(ours: list[float], floor: list[float]) -> float:
    return statistics.median(one / other for one, other in zip(ours, floor, strict=True))


def main(sizes: tuple[int, ...] = SIZES) -> None:
    print(f"{'ended containers, 500 on hand':34}" + "".join(f"{size:>12,}" for size in sizes))
    with tempfile.TemporaryDirectory() as name:
        found = [measured(Path(name) / f"{size}.db", size) for size in sizes]
    for title, key in (
        ("the 500 rows, bare, us", "rows"), ("all that due asks, bare, us", "asked"),
        ("due, us", "due"), ("one row, bare, us", "row"), ("one scan, us", "scan"),
        ("statements that due asks", "statements"),
    ):  # fmt: skip
        print(f"{title:34}" + "".join(f"{statistics.median(one[key]):12.0f}" for one in found))
    for title, key, floor in (
        ("due / all that it asks (goal 2)", "due", "asked"),
        ("due / the 500 rows alone", "due", "rows"),
        ("scan / one row (goal 2)", "scan", "row"),
    ):
        print(f"{title:34}" + "".join(f"{ratio(one[key], one[floor]):12.2f}" for one in found))
    for title, key in (("due, growth (goal 1)", "due"), ("scan, growth (goal 1)", "scan")):
        base = statistics.median(found[0][key])
        print(f"{title:34}" + "".join(f"{statistics.median(o[key]) / base:12.2f}" for o in found))


if __name__ == "__main__":
    main()
