"""What an entry costs on PostgreSQL, against a bare INSERT and COMMIT on the same server.

The server is one of its own with everything that durability needs turned on. The floor is the
driver (psycopg) that adds one row of the same text to a table alike, in one transaction, on a
connection alike. Ours besides locks the site's row, reads the head, links, and puts the row on
hand: five statements for two, so that the ratio is the higher the less a sync of the disk costs
(read it beside the floor). With it the day's list, and the same entry on SQLite, for comparison.
Everything takes turns in one run, and only ratios of medians count. Needs PostgreSQL's programs
(as the tests do). Run: python -m benchmarks server
"""

import tempfile
from collections.abc import Callable
from pathlib import Path

import psycopg

from benchmarks.journal import (
    LIVE,
    SITE,
    compare,
    container,
    filled,
    our_append,
)  # fmt: skip
from holdlog.core.events import Reading
from holdlog.core.moments import Instant
from holdlog.core.temperature import read_temperature
from holdlog.journal import migrate, on_hand
from holdlog.journal.engine import Database, open_database
from holdlog.journal.entries import Draft, append
from holdlog.journal.on_hand import BatchRow
from tests.postgres import running

ENDED, APPENDS = 20_000, 60
LIST = (
    "SELECT * FROM container WHERE site = %s AND ended_at IS NULL ORDER BY use_by NULLS FIRST, code"
)


def stocked(url: str) -> Database:
    """A journal with containers that ended, and some on hand."""
    db = open_database(url)
    migrate.create(db)
    batch = BatchRow("B1", 1, "white-bean", "white bean, cooked", "cooked-legume", Instant(1), "x")
    fact = Reading(read_temperature("3.5 C"))
    with db.appending() as conn:
        append(conn, SITE, [Draft(fact, Instant(0), "kitchen", "MK")], recorded_at=Instant(1))
        rows = [container(number, live=number >= ENDED) for number in range(ENDED + LIVE)]
        on_hand.put(conn, SITE, batches=[batch], containers=rows)
    return db


def bare_insert(conn: "psycopg.Connection[tuple[object, ...]]") -> Callable[[], None]:
    """One more row of an entry's size, committed."""
    conn.execute("CREATE TABLE plain AS SELECT * FROM entry WITH NO DATA")
    conn.execute("ALTER TABLE plain ADD PRIMARY KEY (site, number)")
    conn.commit()
    number = 0

    def insert() -> None:
        nonlocal number
        number += 1
        digest = f"{number:064x}"
        conn.execute(
            "INSERT INTO plain VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)",
            (SITE, number, "reading", 1, 9, 9, "MK", "", "H0000001",
             '{"temperature":"3.5 C"}', digest, digest),
        )  # fmt: skip
        conn.commit()

    return insert


def main() -> None:
    row = container(ENDED, live=True)
    with running() as server, tempfile.TemporaryDirectory() as name:
        url = server.fresh()
        db = stocked(url)
        lite = filled(Path(name) / "kitchen.db")
        with psycopg.connect(url) as conn:
            insert = bare_insert(conn)

            def listed() -> list[tuple[object, ...]]:
                found = conn.execute(LIST, (SITE,)).fetchall()
                conn.commit()
                return found

            def ours() -> list[object]:
                with db.reading() as held:
                    return list(on_hand.live(held, SITE))

            assert len(listed()) == len(ours()) == LIVE
            entry = compare(insert, lambda: our_append(db, row, 9), APPENDS)
            day = compare(listed, ours, 10)
            both = compare(
                lambda: our_append(lite, row, 9), lambda: our_append(db, row, 9), APPENDS
            )
        lite.close()
        db.close()
        print(f"PostgreSQL {server.say('SHOW server_version')[0][0]}")
        print(f"{'':44}{'floor':>10}{'ours':>10}{'ratio':>8}{'goal':>7}")
        for title, goal, (one, other, ratio) in (
            ("one durable entry / INSERT + COMMIT, us", "2.5", entry),
            (f"day's list, {LIVE} live, us", "2", day),
            ("one durable entry / on SQLite, us", "", both),
        ):
            print(f"{title:44}{one:10.0f}{other:10.0f}{ratio:8.2f}{goal:>7}")
        print(f"{1e6 / entry[1]:.0f} entries a second, one writer")


if __name__ == "__main__":
    main()
