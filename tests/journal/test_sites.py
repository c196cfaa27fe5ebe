"""Sites that share a database: many programs write at once, and each chain stays its own."""

import json
import time

import pytest

from holdlog.core.chain import first_fault
from holdlog.journal import entries, on_hand
from holdlog.journal.engine import open_database
from tests.journal.made import SITE, all_of, batch_row, container_row, write
from tests.journal.test_writers import start
from tests.postgres import Server, name_in

OTHER = "boat-shed"

WORKS = """
import json, sys
from holdlog.journal import on_hand
from holdlog.journal.engine import open_database
from holdlog.journal.entries import append
from tests.journal.made import NOW, batch_row, draft, write

where, site, by, wanted = sys.argv[1:]
db = open_database(where, wait_ms=20000)
print("ready", flush=True)
sys.stdin.readline()
# What was read decides what is written: lost updates would show as a number given twice.
given = []
for _ in range(int(wanted)):
    with db.appending(site) as conn:
        number = on_hand.next_batch_number(conn, site)
        append(conn, site, [draft(by=by, subject=f"B{number}")] * 2, recorded_at=NOW)
        on_hand.put(conn, site, batches=[batch_row(number, batch=f"{by}{number}")])
    given.append(number)
db.close()
print(json.dumps(given))
"""

DIES = """
import sys, time
from holdlog.journal.engine import open_database
from holdlog.journal.entries import append
from tests.journal.made import NOW, draft

db = open_database(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
with db.appending(sys.argv[2]) as conn:
    append(conn, sys.argv[2], [draft(by="GONE")] * 3, recorded_at=NOW)
    print("inside", flush=True)
    time.sleep(600)
"""


@pytest.mark.postgres
def test_many_programs_of_several_sites_and_one_killed_in_the_middle(
    postgres: Server, url: str
) -> None:
    """Where the server's default is the strictest isolation, which would refuse most of them if
    nobody waited for a turn: nothing is lost, given twice or left behind.
    """
    postgres.say(
        f'ALTER DATABASE "{name_in(url)}" SET default_transaction_isolation = serializable'
    )
    db = open_database(url)
    for site in (SITE, OTHER):
        write(db, site=site)
    wanted = 40
    writers = {
        by: (site, start(WORKS, url, site, by, wanted))
        for site, by in ((SITE, "MK"), (SITE, "JO"), (OTHER, "AL"), (OTHER, "RW"))
    }
    dying = start(DIES, url, SITE)
    assert dying.stdin is not None
    assert dying.stdout is not None
    dying.stdin.write("go\n")
    dying.stdin.flush()
    assert dying.stdout.readline() == "inside\n"
    # It has the turn of the site, and the others of that site have to wait for it.
    for _, writer in writers.values():
        assert writer.stdin is not None
        writer.stdin.write("go\n")
        writer.stdin.flush()
    until = time.monotonic() + 60
    while len(all_of(db, OTHER)) < 10 and time.monotonic() < until:
        time.sleep(0.01)
    assert len(all_of(db, OTHER)) >= 10
    assert len(all_of(db)) == 1
    dying.kill()
    dying.communicate(timeout=30)
    given: dict[str, list[int]] = {SITE: [], OTHER: []}
    for site, writer in writers.values():
        given[site] += json.loads(writer.communicate(timeout=120)[0])
        assert writer.returncode == 0
    for site, numbers in given.items():
        assert sorted(numbers) == list(range(1, 2 * wanted + 1))
        found = all_of(db, site)
        assert first_fault(found) is None
        assert len(found) == 2 * len(numbers) + 1
        assert {entry.by for entry in found[1:]} == {
            by for by, (of, _) in writers.items() if of == site
        }
        with db.reading() as conn:
            kept = [row.number for row in on_hand.everything(conn, site)[0]]
        assert sorted(kept) == sorted(numbers)
    db.close()


def test_two_sites_never_see_each_others_rows(where: str) -> None:
    """The same codes and batch names in both, as in kitchens that know nothing of each other."""
    db = open_database(where)
    for site in (SITE, OTHER):
        write(db, site=site)
        with db.appending(site) as conn:
            named = batch_row(item_name=site)
            on_hand.put(conn, site, batches=[named], containers=[container_row(item_name=site)])
    with db.reading() as conn:
        assert entries.site_names(conn) == sorted([SITE, OTHER])
        for site in (SITE, OTHER):
            assert {entry.site for entry in entries.stream(conn, site)} == {site}
            batches, containers, _ = on_hand.everything(conn, site)
            assert [row.item_name for row in batches] == [site]
            assert [row.item_name for row in containers] == [site]
    with db.appending(OTHER) as conn:
        on_hand.replace_all(conn, OTHER, [], [], [])
    with db.reading() as conn:
        assert [len(rows) for rows in on_hand.everything(conn, OTHER)] == [0, 0, 0]
        assert [len(rows) for rows in on_hand.everything(conn, SITE)] == [1, 1, 0]
    db.close()
