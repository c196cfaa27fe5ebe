"""What the journal costs, against the bare SQLite driver doing the same work.

Goals: one durable entry at most 2.5 times, the day's list at most 2 times. Everything that is
compared is interleaved in one run on files side by side, and only the ratios of the medians
count: the times depend on the disk. Run: python benchmarks/journal.py
"""

import hashlib
import json
import sqlite3
import statistics
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from time import perf_counter

from holdlog.core.chain import FIRST, first_fault
from holdlog.core.events import Reading
from holdlog.core.moments import Instant
from holdlog.core.temperature import read_temperature
from holdlog.journal import migrate, on_hand
from holdlog.journal.engine import Database, journal_for, open_database, sqlite_version
from holdlog.journal.entries import Draft, append, stream
from holdlog.journal.on_hand import BatchRow, ContainerRow

SITE = "tern-and-tide"
ENDED, LIVE = 99_500, 500
ROUNDS, APPENDS = 9, 100


def container(number: int, *, live: bool) -> ContainerRow:
    return ContainerRow(
        code=f"H{number:07d}",
        batch="B1",
        parent="",
        item="white-bean",
        item_name="white bean, cooked",
        category="cooked-legume",
        unit="walk-in",
        number=1,
        count=4,
        amount="2 l",
        made_at=Instant(number),
        made_kind="prepared",
        state="chilled",
        tcs="tcs",
        use_by=Instant(1_780_000_000_000 + number * 60_000),
        last_day="2026-06-07",
        of=7,
        days_left=None,
        verdict="",
        reason="",
        review_at=None,
        printed_use_by=Instant(1_780_000_000_000 + number * 60_000),
        binds="date-mark",
        cite="3-501.17(A)(1)",
        says="held cold, through day 7 with the day of preparation as day 1",
        cautions=("no temperature was logged",) if number % 2 else (),
        judged_at=Instant(number),
        ended_at=None if live else Instant(number),
        ended_as="" if live else "used",
    )


def filled(path: Path) -> Database:
    db = open_database(path)
    migrate.create(db)
    batch = BatchRow("B1", 1, "white-bean", "white bean, cooked", "cooked-legume", Instant(1), "x")
    fact = Reading(read_temperature("3.5 C"))
    with db.appending() as conn:
        append(conn, SITE, [Draft(fact, Instant(0), "kitchen", "MK")], recorded_at=Instant(1))
        rows = (container(number, live=number >= ENDED) for number in range(ENDED + LIVE))
        on_hand.put(conn, SITE, batches=[batch], containers=rows)
    return db


def bare(path: Path) -> sqlite3.Connection:
    conn = sqlite3.connect(path, isolation_level=None)
    conn.execute(f"PRAGMA synchronous = {journal_for(sqlite_version())[1]}")
    conn.execute("PRAGMA foreign_keys = ON")
    conn.execute("PRAGMA recursive_triggers = ON")
    return conn


def bare_append(conn: sqlite3.Connection, row: ContainerRow, at: int) -> None:
    """The same work by hand: text, link, entry, upsert of all 30 columns."""
    body = json.dumps({"temperature": "3.5 C"}, sort_keys=True, separators=(",", ":"))
    conn.execute("BEGIN IMMEDIATE")
    number, previous = conn.execute(
        "SELECT number, hash FROM entry WHERE site = ? ORDER BY number DESC LIMIT 1", (SITE,)
    ).fetchone() or (0, FIRST)
    number += 1
    header = (previous, SITE, str(number), "reading", "1", str(at), str(at), "MK", "", row.code)
    digest = hashlib.sha256()
    for field in (*header, body):
        digest.update(b"%d:" % len(field.encode()) + field.encode())
    conn.execute(
        "INSERT INTO entry VALUES (?,?,?,?,?,?,?,?,?,?,?,?)",
        (
            *(SITE, number, "reading", 1, at, at, "MK", "", row.code, body, previous),
            digest.hexdigest(),
        ),
    )
    values = {name: getattr(row, name) for name in ContainerRow.__slots__}
    values["cautions"] = json.dumps(values["cautions"])
    conn.execute(UPSERT, (SITE, *values.values()))
    conn.execute("COMMIT")


COLUMNS = [f'"{name}"' for name in ContainerRow.__slots__]
UPSERT = (
    f"INSERT INTO container (site, {', '.join(COLUMNS)}) VALUES (?{', ?' * len(COLUMNS)})"
    f" ON CONFLICT (site, code) DO UPDATE SET"
    f" {', '.join(f'{name} = excluded.{name}' for name in COLUMNS[1:])}"
)
LIST = (
    f"SELECT {', '.join(COLUMNS)} FROM container"
    " WHERE site = ? AND ended_at IS NULL ORDER BY use_by, code"
)


def our_append(db: Database, row: ContainerRow, at: int) -> None:
    fact = Reading(read_temperature("3.5 C"))
    with db.appending(SITE) as conn:
        draft = Draft(fact, Instant(at), row.code, "MK")
        append(conn, SITE, [draft], recorded_at=Instant(at))
        on_hand.put(conn, SITE, containers=[row])


def median_us(work: Callable[[], object], times: int) -> float:
    taken = []
    for _ in range(times):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return statistics.median(taken) * 1e6


def compare(plain: Callable[[], object], ours: Callable[[], object], times: int) -> list[float]:
    """Medians of the two in microseconds, and the median of the ratios of the rounds."""
    rounds = [(median_us(plain, times), median_us(ours, times)) for _ in range(ROUNDS)]
    return [
        statistics.median(one for one, _ in rounds),
        statistics.median(other for _, other in rounds),
        statistics.median(other / one for one, other in rounds),
    ]


def appends(folder: Path, mode: str) -> list[float]:
    row = container(ENDED, live=True)
    db = filled(folder / f"ours-{mode}.db")
    filled(folder / f"bare-{mode}.db").close()
    for path in folder.glob(f"*-{mode}.db"):
        with closing(sqlite3.connect(path)) as conn:
            conn.execute(f"PRAGMA journal_mode = {mode}")
    if mode != journal_for(sqlite_version())[0]:
        # Not what the program would choose with this SQLite: keep it from changing it back.
        with db.engine.connect() as held:
            held.info["holdlog_mode"] = mode
    with closing(bare(folder / f"bare-{mode}.db")) as conn:
        return compare(lambda: bare_append(conn, row, 9), lambda: our_append(db, row, 9), APPENDS)


def days_list(db: Database) -> list[float]:
    assert db.path is not None
    with closing(bare(db.path)) as conn, db.reading() as held:
        raw = conn.execute(LIST, (SITE,)).fetchall()
        assert len(raw) == len(on_hand.live(held, SITE)) == LIVE
        return compare(
            lambda: conn.execute(LIST, (SITE,)).fetchall(),
            lambda: on_hand.live(held, SITE),
            20,
        )


def verified(db: Database) -> list[float]:
    with db.appending() as conn:
        drafts = [Draft(Reading(read_temperature("3 C")), Instant(9), "H", "MK")] * 20_000
        append(conn, SITE, drafts, recorded_at=Instant(9))
    with db.reading() as conn:
        entries = list(stream(conn, SITE))
        return compare(lambda: first_fault(entries), lambda: first_fault(stream(conn, SITE)), 1)


def main() -> None:
    shown = ".".join(map(str, sqlite_version()))
    print(f"SQLite {shown}, journal mode {journal_for(sqlite_version())[0]}")
    print(f"{'':44}{'bare':>10}{'ours':>10}{'ratio':>8}{'goal':>7}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        db = filled(folder / "list.db")
        for title, goal, (one, other, ratio) in (
            ("one durable entry, DELETE, us", "2.5", appends(folder, "DELETE")),
            ("one durable entry, WAL, us", "2.5", appends(folder, "WAL")),
            (f"day's list, {LIVE} live of {ENDED + LIVE}, us", "2", days_list(db)),
            ("chain from the file / in memory, us", "5", verified(db)),
        ):
            print(f"{title:44}{one:10.0f}{other:10.0f}{ratio:8.2f}{goal:>7}")


if __name__ == "__main__":
    main()
