"""The tamper matrix: what a person with the file can do, and what shows it (docs/proof.md).

Every case is plain ``sqlite3`` on the file, the guards dropped first and put back afterwards, so
that nothing but the tampering itself is left to see. Hashes are worked out anew by the page's own
recipe (docs/export.md: SHA-256, FIPS 180-4, from the standard library), not by holdlog.
"""

import hashlib
import sqlite3
from collections.abc import Callable
from contextlib import closing

import pytest

from holdlog.core.chain import show_head
from holdlog.core.errors import Fault
from holdlog.core.heads import KeptHead, head_told, read_head
from holdlog.journal.tables import TRIGGERS
from holdlog.kitchen import discard, doctor
from holdlog.kitchen.proof import compare
from tests.kitchen.cold import take_in
from tests.kitchen.conftest import another, set_up_once, shop  # noqa: F401  (fixtures)
from tests.kitchen.shop import Shop

HASHED = (
    "previous", "site", "number", "kind", "version", "at", "recorded_at", "by", "station",
    "subject", "body",
)  # fmt: skip
LOG = "Time,Temp (°F)\n2026-06-01 06:10,38.5\n2026-06-01 06:15,39.25\n2026-06-01 06:20,39\n"


@pytest.fixture
def worked(shop: Shop) -> Shop:  # noqa: F811
    """A day's work: tubs, readings of a logger, a discard, and a last tub after it."""
    shop.tub(amount="6 l")
    other = shop.tub("garlic oil")
    shop.it_is("06-01 07:00")
    take_in(shop, LOG.encode())
    discard.discard(shop.kitchen, "mk", other, shop.hand.now, "off")
    shop.tub("fish stock")
    return shop


def rehashed(raw: sqlite3.Connection) -> None:
    """The whole chain made to hold again, as whoever knows how it works would."""
    previous = "0" * 64
    rows = raw.execute("SELECT number FROM entry ORDER BY number").fetchall()
    for number, (old,) in enumerate(rows, 1):
        raw.execute(
            "UPDATE entry SET number = ?, previous = ? WHERE number = ?", (number, previous, old)
        )
        names = ", ".join(f'"{name}"' for name in HASHED)
        row = raw.execute(f"SELECT {names} FROM entry WHERE number = ?", (number,)).fetchone()
        fields = [str(value).encode() for value in row]
        total = hashlib.sha256(b"".join(b"%d:%s" % (len(each), each) for each in fields))
        previous = total.hexdigest()
        raw.execute("UPDATE entry SET hash = ? WHERE number = ?", (previous, number))


def other_hand(raw: sqlite3.Connection) -> None:
    raw.execute("UPDATE entry SET by = 'XX' WHERE kind = 'discarded'")


def earlier(raw: sqlite3.Connection) -> None:
    raw.execute("UPDATE entry SET at = at - 60000 WHERE kind = 'discarded'")


def one_out(raw: sqlite3.Connection) -> None:
    raw.execute("DELETE FROM entry WHERE kind = 'discarded'")


def one_put_in(raw: sqlite3.Connection) -> None:
    raw.executescript(
        "CREATE TEMP TABLE one AS SELECT * FROM entry WHERE kind = 'discarded';"
        "UPDATE one SET number = (SELECT max(number) + 1 FROM entry);"
        "INSERT INTO entry SELECT * FROM one"
    )


def swapped(raw: sqlite3.Connection) -> None:
    ((low,), (high,)) = raw.execute("SELECT number FROM entry WHERE kind = 'prepared' LIMIT 2")
    for old, new in ((low, 9999), (high, low), (9999, high)):
        raw.execute("UPDATE entry SET number = ? WHERE number = ?", (new, old))


def tail_cut(raw: sqlite3.Connection) -> None:
    """The discard and what came after it; the containers are set to match."""
    ((first,),) = raw.execute("SELECT number FROM entry WHERE kind = 'discarded'")
    raw.execute("DELETE FROM entry WHERE number >= ?", (first,))


def edited_and_rehashed(raw: sqlite3.Connection) -> None:
    other_hand(raw)
    rehashed(raw)


def taken_out_and_rehashed(raw: sqlite3.Connection) -> None:
    one_out(raw)
    rehashed(raw)


def all_anew(raw: sqlite3.Connection) -> None:
    """Another history from the first entry on."""
    raw.execute("UPDATE entry SET by = 'XX'")
    rehashed(raw)


def reading_out(raw: sqlite3.Connection) -> None:
    raw.execute("DELETE FROM reading WHERE hundredths = 3925")


def reading_changed(raw: sqlite3.Connection) -> None:
    raw.execute("UPDATE reading SET hundredths = 3800 WHERE hundredths = 3925")


def readings_out_with_their_import(raw: sqlite3.Connection) -> None:
    raw.execute("DELETE FROM reading")
    raw.execute("DELETE FROM entry WHERE kind = 'readings'")
    rehashed(raw)


def container_edited(raw: sqlite3.Connection) -> None:
    raw.execute("UPDATE container SET use_by = use_by + 86400000 WHERE item_name = 'fish stock'")


def batch_edited(raw: sqlite3.Connection) -> None:
    raw.execute("UPDATE batch SET item_name = 'water' WHERE batch = 'B1'")


Tamper = Callable[[sqlite3.Connection], None]
# What was done; what the doctor then finds without a head; whether the head of before shows it.
MATRIX: dict[str, tuple[Tamper, list[str], bool]] = {
    "edit a field": (other_hand, ["chain"], True),
    "move a moment": (earlier, ["chain"], True),
    "delete one": (one_out, ["chain"], True),
    "put one in": (one_put_in, ["chain"], False),
    "swap two": (swapped, ["chain"], True),
    "cut the tail": (tail_cut, ["on-hand"], True),
    "edit, hash anew": (edited_and_rehashed, [], True),
    "write all of it anew": (all_anew, [], True),
    "delete one, hash anew": (taken_out_and_rehashed, ["on-hand"], True),
    "delete a reading": (reading_out, ["readings"], False),
    "change a reading": (reading_changed, ["readings"], False),
    "delete an import, hash anew": (readings_out_with_their_import, [], True),
    "edit a container": (container_edited, ["on-hand"], False),
    "edit a batch": (batch_edited, ["on-hand"], False),
}


def by_hand(shop: Shop, tamper: Tamper) -> None:  # noqa: F811
    shop.db.close()
    with closing(sqlite3.connect(shop.path)) as raw:
        guards = raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in guards:
            raw.execute(f"DROP TRIGGER {name}")
        raw.execute("PRAGMA ignore_check_constraints = ON")
        tamper(raw)
        for text in TRIGGERS.values():
            raw.execute(text)
        raw.commit()


def kept(shop: Shop) -> KeptHead:  # noqa: F811
    """The head as a label has it."""
    last = shop.entries()[-1]
    return read_head(show_head(last.number, last.hash))


@pytest.mark.parametrize("what", MATRIX)
def test_what_shows_with_a_head_from_paper_and_without(worked: Shop, what: str) -> None:
    tamper, alone, by_head = MATRIX[what]
    paper = kept(worked)
    assert worked.bad() == []
    assert [each.ok for each in compare(worked.kitchen, [paper])] == [True]
    by_hand(worked, tamper)
    assert worked.bad() == alone
    (found,) = compare(worked.kitchen, [paper])
    assert found.ok is not by_head
    # Nothing that a kitchen could lose by is without a sign in both.
    assert alone or by_head


@pytest.mark.parametrize(
    ("tamper", "says"),
    [
        (tail_cut, "there are only"), (taken_out_and_rehashed, "there are only"),
        (edited_and_rehashed, "has another hash"),
    ],
)  # fmt: skip
def test_who_also_mends_what_is_on_hand_is_shown_by_the_head_alone(
    worked: Shop, tamper: Tamper, says: str
) -> None:
    (discarded,) = worked.facts("discarded")
    before = worked.entries()[discarded.number - 2]
    heads = [read_head(show_head(before.number, before.hash)), kept(worked)]
    by_hand(worked, tamper)
    # A program that had it open all the while would refuse to write.
    doctor.rebuild(worked.reopen(), "xx")
    assert worked.bad() == []
    # A head pins the entries up to it, and says nothing of those after.
    early, late = compare(worked.kitchen, heads)
    assert early.ok
    assert "NOT the journal this was printed from" in head_told(late, str)
    assert says in head_told(late, str)


BOOKS = {
    "book-changed": "UPDATE book SET content = CAST('id = \"mine\"' AS BLOB)",
    "book-missing": "DELETE FROM book",
}


@pytest.mark.parametrize("code", BOOKS)
def test_nothing_is_decided_by_a_rulebook_that_was_put_in_the_place_of_another(
    worked: Shop, code: str
) -> None:
    def replaced(raw: sqlite3.Connection) -> None:
        raw.execute(BOOKS[code])

    by_hand(worked, replaced)
    worked.reopen()
    with pytest.raises(Fault) as refused:
        worked.bad()
    assert refused.value.code == code


def test_a_book_kept_under_its_own_new_digest_is_none_that_was_adopted(worked: Shop) -> None:
    """To be used it would have to be adopted, which is an entry: back to the chain."""

    def replaced(raw: sqlite3.Connection) -> None:
        content = b'id = "mine"'
        digest = hashlib.sha256(content).hexdigest()
        raw.execute("UPDATE book SET digest = ?, content = ? WHERE rowid = 1", (digest, content))

    by_hand(worked, replaced)
    worked.reopen()
    with pytest.raises(Fault) as refused:
        worked.bad()
    assert refused.value.code == "book-missing"
