"""What a year of a logger's readings costs: the file read, the rows kept, the rows asked for.

525,600 readings, one a minute. Goals: keeping at most 2 times what the bare driver takes to put
the same rows into a table of the same columns and key that has no guards; everything is
interleaved in one run on files side by side, and the medians of the ratios count. The time to
read the file is set beside what Python's csv module takes to split the same bytes into cells.
Run: python -m benchmarks readings
"""

import csv
import io
import sqlite3
import statistics
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import perf_counter
from zoneinfo import ZoneInfo

from holdlog.core.events import Reading
from holdlog.core.moments import Instant
from holdlog.core.temperature import read_temperature
from holdlog.journal import migrate, readings
from holdlog.journal.engine import Database, journal_for, open_database, sqlite_version
from holdlog.journal.entries import Draft, append
from holdlog.kitchen.logger_file import Told, read_logger

SITE, UNIT = "tern-and-tide", "walk-in"
MINUTES = 525_600
ROUNDS = 5
START = datetime(2026, 1, 1, tzinfo=UTC)
NEW_YORK = ZoneInfo("America/New_York")


def samples(shift: int = 0) -> list[tuple[int, int]]:
    first = int(START.timestamp()) * 1000 + shift
    return [(first + 60_000 * n, 3600 + 10 * (n * 7919 % 60)) for n in range(MINUTES)]


def file() -> bytes:
    """The same as a logger in New York writes it: local time, both changeover nights."""
    lines = ["Serial,0042", "Time,Temperature (°F)"]
    for n in range(MINUTES):
        wall = (START + timedelta(minutes=n)).astimezone(NEW_YORK)
        lines.append(f"{wall:%Y-%m-%d %H:%M:%S},{36 + (n * 7919 % 60) / 10:.1f}")
    return "\n".join([*lines, ""]).encode()


def opened(path: Path) -> Database:
    db = open_database(path)
    migrate.create(db)
    with db.appending() as conn:
        draft = Draft(Reading(read_temperature("38 F")), Instant(0), UNIT, "MK")
        append(conn, SITE, [draft], recorded_at=Instant(1))
    return db


def ours(db: Database, some: list[tuple[int, int]]) -> readings.Put:
    with db.appending() as conn:
        return readings.put(conn, SITE, UNIT, 1, "F", some)


def bare(path: Path) -> sqlite3.Connection:
    conn = sqlite3.connect(path, isolation_level=None)
    mode, synchronous = journal_for(sqlite_version())
    conn.execute(f"PRAGMA journal_mode = {mode}")
    conn.execute(f"PRAGMA synchronous = {synchronous}")
    conn.execute(
        "CREATE TABLE reading (site TEXT, unit TEXT, at BIGINT, hundredths INTEGER, scale TEXT,"
        " entry INTEGER, PRIMARY KEY (site, unit, at)) WITHOUT ROWID"
    )
    return conn


def by_hand(conn: sqlite3.Connection, some: list[tuple[int, int]]) -> None:
    conn.execute("BEGIN IMMEDIATE")
    rows = [(SITE, UNIT, at, value, "F", 1) for at, value in some]
    conn.executemany("INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?)", rows)
    conn.execute("COMMIT")


def taken(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def show(title: str, goal: str, rounds: list[tuple[float, float]]) -> None:
    one = statistics.median(first for first, _ in rounds)
    other = statistics.median(second for _, second in rounds)
    ratio = statistics.median(second / first for first, second in rounds)
    print(f"{title:44}{one:10.2f}{other:10.2f}{ratio:8.2f}{goal:>7}")


def keeping(folder: Path) -> list[tuple[float, float]]:
    return [one_round(folder, number) for number in range(ROUNDS)]


def one_round(folder: Path, number: int) -> tuple[float, float]:
    some = samples()
    db = opened(folder / f"ours-{number}.db")
    with closing(bare(folder / f"bare-{number}.db")) as conn:
        times = taken(lambda: by_hand(conn, some)), taken(lambda: ours(db, some))
    db.close()
    return times


def again(db: Database) -> list[tuple[float, float]]:
    """The same file once more: nothing is added, and every row is compared."""
    assert db.path is not None
    some = samples()
    ours(db, some)
    query = "SELECT at, hundredths, scale FROM reading WHERE site = ? AND unit = ?"
    with closing(sqlite3.connect(db.path)) as conn:
        return [
            (
                taken(lambda: conn.execute(query, (SITE, UNIT)).fetchall()),
                taken(lambda: ours(db, some)),
            )
            for _ in range(ROUNDS)
        ]


def asking(db: Database) -> list[tuple[float, float]]:
    assert db.path is not None
    query = (
        "SELECT at, hundredths, scale, entry FROM reading"
        " WHERE site = ? AND unit = ? AND at >= ? AND at < ? ORDER BY at"
    )
    end = Instant(2**52)
    with closing(sqlite3.connect(db.path)) as conn, db.reading() as held:
        return [
            (
                taken(lambda: conn.execute(query, (SITE, UNIT, 0, end)).fetchall()),
                taken(lambda: list(readings.between(held, SITE, UNIT, Instant(0), end))),
            )
            for _ in range(ROUNDS)
        ]


def parsing() -> list[tuple[float, float]]:
    data = file()
    told = Told()
    assert len(read_logger(data, NEW_YORK, told=told).samples) == MINUTES
    return [
        (
            taken(lambda: list(csv.reader(io.StringIO(data.decode())))),
            taken(lambda: read_logger(data, NEW_YORK, told=told)),
        )
        for _ in range(ROUNDS)
    ]


def main() -> None:
    print(f"{MINUTES:,} readings; seconds")
    print(f"{'':44}{'bare':>10}{'ours':>10}{'ratio':>8}{'goal':>7}")
    show("a logger's file read / csv cells only", "", parsing())
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        show("readings kept / bare executemany", "2", keeping(folder))
        db = opened(folder / "again.db")
        show("the same file again / rows fetched", "", again(db))
        show("a year asked for / rows fetched", "", asking(db))
        assert db.path is not None
        print(f"{'one year on disk, MB':44}{'':10}{db.path.stat().st_size / 1e6:10.1f}")
        db.close()


if __name__ == "__main__":
    main()
