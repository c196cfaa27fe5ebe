"""Appending to the journal and reading it back."""

import pytest

from holdlog.core.chain import FIRST, first_fault
from holdlog.core.errors import Fault, Mistake
from holdlog.core.events import Discarded, Moved, Prepared
from holdlog.core.moments import Instant
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Database
from holdlog.journal.entries import (
    append,
    head,
    latest,
    next_number,
    numbered,
    of_kinds,
    of_subjects,
)
from tests.journal.made import COLD, NOW, SITE, all_of, draft, write


def test_entries_come_back_as_written_and_in_order(db: Database) -> None:
    first = write(db, [draft(Prepared(unit="walk-in"), subject="B1"), draft()])
    second = write(db, [draft(Moved("reach-in"), at=NOW + 5, by="JO")], at=NOW + 9)
    assert all_of(db) == first + second
    assert [entry.number for entry in all_of(db)] == [1, 2, 3]
    last = all_of(db)[-1]
    assert (last.at, last.recorded_at, last.by, last.station) == (NOW + 5, NOW + 9, "JO", "pass")
    assert fact_of(last) == Moved("reach-in")
    assert first_fault(all_of(db)) is None


def test_the_head_is_the_last_entry_and_the_first_link_when_there_is_none(db: Database) -> None:
    with db.reading() as conn:
        assert head(conn, SITE) == (0, FIRST, 0)
    write(db)
    last = write(db, at=NOW + 1)[-1]
    with db.reading() as conn:
        assert head(conn, SITE) == (2, last.hash, NOW + 1)
        assert numbered(conn, SITE, 2) == last
        assert numbered(conn, SITE, 3) is None


def test_sites_share_a_database_but_never_a_chain(db: Database) -> None:
    write(db)
    other = write(db, site="boat-shed")
    write(db)
    assert [entry.number for entry in all_of(db)] == [1, 2]
    assert all_of(db, "boat-shed") == other
    assert other[0].previous == FIRST
    with db.reading() as conn:
        assert of_subjects(conn, "boat-shed", [other[0].subject]) == other


def test_entries_of_many_subjects_come_by_number_whatever_the_order_asked(db: Database) -> None:
    # 1,201 subjects do not fit into one query with SQLite's smallest limit of 999 values.
    written = write(db, [draft(subject=f"C{n}") for n in range(1201)])
    asked = [f"C{n}" for n in reversed(range(1, 1201))] + ["C5", "nobody"]
    with db.reading() as conn:
        assert of_subjects(conn, SITE, asked) == written[1:]
        assert of_subjects(conn, SITE, []) == []


def test_entries_of_kinds_are_bounded_by_when_it_happened(db: Database) -> None:
    written = write(
        db,
        [
            draft(Discarded(), at=NOW - 30),
            draft(COLD, at=NOW - 20),
            draft(Discarded(), at=NOW - 20),
            draft(Moved("x"), at=NOW - 20),
            draft(Discarded(), at=NOW - 10),
        ],
    )
    since, until = Instant(NOW - 20), Instant(NOW - 10)
    with db.reading() as conn:
        assert of_kinds(conn, SITE, ["discarded"]) == [written[0], written[2], written[4]]
        assert of_kinds(conn, SITE, ["discarded"], since=since) == [written[2], written[4]]
        assert of_kinds(conn, SITE, ["discarded"], until=until) == [written[0], written[2]]
        both = of_kinds(conn, SITE, ["discarded", "reading"], since=since, until=until)
        assert both == [written[1], written[2]]
        assert of_kinds(conn, SITE, []) == []


def test_nothing_is_kept_of_a_transaction_that_fails(db: Database) -> None:
    def interrupted() -> None:
        with db.appending() as conn:
            append(conn, SITE, [draft()], recorded_at=NOW)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert all_of(db) == []
    write(db)
    assert first_fault(all_of(db)) is None


def test_what_is_still_to_come_is_refused(db: Database) -> None:
    with pytest.raises(Mistake) as caught:
        write(db, [draft(), draft(at=NOW + 1)])
    assert caught.value.code == "in-the-future"
    assert all_of(db) == []


@pytest.mark.parametrize("text", ["nul \0", "half a character \ud83d"])
def test_text_that_cannot_be_kept_is_refused(db: Database, text: str) -> None:
    with pytest.raises(Mistake) as caught:
        write(db, [draft(by=text)])
    assert caught.value.code == "bad-text"
    assert all_of(db) == []


def test_text_in_any_language_is_kept_exactly(db: Database) -> None:
    name = 'crème brûlée 焼き豆腐 "quoted" \\ \n line 😀'
    written = write(db, [draft(Moved(name), subject=name, by="Ö")])
    assert all_of(db) == written
    assert fact_of(written[0]) == Moved(name)


def test_one_unwritable_fact_keeps_the_whole_round_out(db: Database) -> None:
    with pytest.raises(Fault):
        write(db, [draft(), draft(Moved(unit=3))])  # type: ignore[arg-type]
    assert all_of(db) == []


def test_the_latest_of_a_kind_about_a_subject_is_by_when_it_happened(db: Database) -> None:
    written = write(db, [draft(at=NOW - 5), draft(at=NOW - 9), draft(subject="B2222222")])
    with db.reading() as conn:
        assert latest(conn, SITE, "reading", "H7K39QX2") == written[0]
        assert latest(conn, SITE, "reading", "H7K39QX2", Instant(NOW - 5)) == written[1]
        assert latest(conn, SITE, "reading", "H7K39QX2", Instant(NOW - 9)) is None
        assert latest(conn, SITE, "moved", "H7K39QX2") is None


def test_the_next_number_is_that_of_the_next_entry(db: Database) -> None:
    write(db)
    with db.appending() as conn:
        number = next_number(conn, SITE, NOW)
        (entry,) = append(conn, SITE, [draft()], recorded_at=NOW)
        assert entry.number == number == 2
