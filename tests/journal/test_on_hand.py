"""The rows of what is on hand, as the kitchen hands them over."""

from typing import Any

import pytest

from holdlog.core.errors import Fault
from holdlog.core.moments import Instant
from holdlog.journal import on_hand
from holdlog.journal.engine import Database
from holdlog.journal.entries import append
from holdlog.journal.on_hand import BatchRow, ContainerRow, LinkRow
from tests.journal.made import NOW, SITE, all_of, batch_row, container_row, draft, write


def put(
    db: Database,
    *containers: ContainerRow,
    batches: tuple[BatchRow, ...] = (batch_row(),),
    links: tuple[LinkRow, ...] = (),
    site: str = SITE,
) -> None:
    write(db, site=site)
    with db.appending() as conn:
        on_hand.put(conn, site, batches=batches, containers=containers, links=links)


def live_codes_in_order(db: Database, site: str = SITE) -> list[str]:
    with db.reading() as conn:
        return [row.code for row in on_hand.live(conn, site)]


def test_a_row_comes_back_as_it_was_handed_over(db: Database) -> None:
    full = container_row(
        "A2222222",
        parent="H7K39QX2",
        days_left=2,
        verdict="hold",
        reason="cooling not proven",
        review_at=Instant(NOW + 7),
        printed_use_by=Instant(NOW + 9),
        cautions=('says "hé"', "no temperature was logged"),
        ended_at=Instant(NOW + 3),
        ended_as="used",
    )
    bare = container_row("B2222222", use_by=None, last_day=None, of=None)
    put(db, full, bare)
    with db.reading() as conn:
        found = on_hand.find(conn, SITE, "A2222222")
        assert found == full
        assert type(found) is ContainerRow
        assert hash(found) == hash(full)
        assert on_hand.find(conn, SITE, "B2222222") == bare
        assert on_hand.find(conn, SITE, "C2222222") is None
        assert on_hand.batch(conn, SITE, "B1") == batch_row()
        assert on_hand.batch(conn, SITE, "B2") is None


def test_a_row_that_was_read_cannot_be_changed(db: Database) -> None:
    put(db, container_row())
    with db.reading() as conn:
        (row,) = on_hand.live(conn, SITE)
    unfrozen: Any = row
    with pytest.raises(AttributeError):
        unfrozen.use_by = NOW


def test_what_has_no_known_limit_comes_first_then_the_earliest(db: Database) -> None:
    put(
        db,
        container_row("A2222222", use_by=Instant(NOW + 9)),
        container_row("B2222222", use_by=None),
        container_row("C2222222", use_by=Instant(NOW + 1)),
        container_row("E2222222", use_by=Instant(NOW + 1)),
        container_row("D2222222", use_by=Instant(NOW + 1)),
        container_row("F2222222", use_by=Instant(NOW), ended_at=NOW, ended_as="used"),
    )
    expected = ["B2222222", "C2222222", "D2222222", "E2222222", "A2222222"]
    assert live_codes_in_order(db) == expected
    with db.reading() as conn:
        assert on_hand.live_codes(conn, SITE) == sorted(expected)


def test_a_later_row_takes_the_place_of_the_earlier(db: Database) -> None:
    put(db, container_row())
    with db.appending() as conn:
        moved = container_row(unit="reach-in", state="frozen", ended_at=NOW, ended_as="used")
        renamed = batch_row(item_name="white bean, mashed", lot="L7")
        on_hand.put(conn, SITE, batches=[renamed], containers=[moved])
    with db.reading() as conn:
        assert on_hand.everything(conn, SITE) == ([renamed], [moved], [])
    assert live_codes_in_order(db) == []


def test_the_days_list_uses_the_partial_index(filed: Database) -> None:
    """What keeps its cost from growing with history; a bound value would lose it."""
    with filed.reading() as conn:
        plan = conn.exec_driver_sql(
            "EXPLAIN QUERY PLAN " + on_hand._LIVE.text(conn)[0],
            (SITE,),
        ).all()
    text = " ".join(str(row[-1]) for row in plan)
    assert "ix_container_live" in text
    assert "TEMP B-TREE" not in text


def test_families_are_found(db: Database) -> None:
    put(
        db,
        container_row("A2222222", number=2),
        container_row("B2222222", number=1),
        container_row("C2222222", number=3, parent="A2222222"),
        container_row("D2222222", batch="B2"),
        batches=(batch_row(1), batch_row(2)),
        links=(
            LinkRow("A2222222", "B2"),
            LinkRow("B2222222", "B2"),
            LinkRow("A2222222", "D2222222"),
            LinkRow("A2222222", "B2"),
        ),
    )
    with db.reading() as conn:
        codes = [row.code for row in on_hand.of_batch(conn, SITE, "B1")]
        assert codes == ["B2222222", "A2222222", "C2222222"]
        assert [row.code for row in on_hand.children(conn, SITE, "A2222222")] == ["C2222222"]
        assert on_hand.links_from(conn, SITE, "A2222222") == [
            LinkRow("A2222222", "B2"),
            LinkRow("A2222222", "D2222222"),
        ]


def test_numbers_and_codes_are_never_given_twice(db: Database) -> None:
    with db.reading() as conn:
        assert on_hand.next_batch_number(conn, SITE) == 1
        assert not on_hand.code_taken(conn, SITE, "A2222222")
    ended = container_row("A2222222", ended_at=NOW, ended_as="used")
    put(db, ended, batches=(batch_row(1), batch_row(41, batch="B1x")))
    with db.reading() as conn:
        assert on_hand.next_batch_number(conn, SITE) == 42
        assert on_hand.code_taken(conn, SITE, "A2222222")
        assert on_hand.next_batch_number(conn, "boat-shed") == 1
        assert not on_hand.code_taken(conn, "boat-shed", "A2222222")
    with pytest.raises(Fault) as caught:
        put(db, batches=(batch_row(41, batch="B41"),))
    assert caught.value.code == "refused"


def test_a_container_of_an_unknown_batch_is_refused(db: Database) -> None:
    with pytest.raises(Fault) as caught:
        put(db, container_row(batch="B9"))
    assert caught.value.code == "refused"


def test_an_entry_and_its_rows_are_kept_together_or_not_at_all(db: Database) -> None:
    write(db)

    def half_wrong() -> None:
        with db.appending() as conn:
            append(conn, SITE, [draft()], recorded_at=NOW)
            on_hand.put(conn, SITE, containers=[container_row(batch="B9")])

    with pytest.raises(Fault):
        half_wrong()
    assert len(all_of(db)) == 1
    assert live_codes_in_order(db) == []


def test_a_rebuild_replaces_one_site_and_leaves_the_other(db: Database) -> None:
    put(db, container_row("A2222222"), links=(LinkRow("A2222222", "B1"),))
    put(db, container_row("A2222222", unit="shed"), site="boat-shed")
    new = ([batch_row(2)], [container_row("C2222222", batch="B2")], [LinkRow("C2222222", "B2")])
    with db.appending() as conn:
        on_hand.replace_all(conn, SITE, *new)
    with db.reading() as conn:
        assert on_hand.everything(conn, SITE) == new
        shed = on_hand.everything(conn, "boat-shed")
    assert [row.unit for row in shed[1]] == ["shed"]


def test_everything_is_sorted_by_key(db: Database) -> None:
    batches = tuple(batch_row(n) for n in (2, 10, 1))
    codes = ["D2222222", "A2222222", "C2222222"]
    put(
        db,
        *(container_row(code) for code in codes),
        batches=batches,
        links=tuple(LinkRow(code, into) for code in codes for into in ("B2", "B1")),
    )
    with db.reading() as conn:
        found = on_hand.everything(conn, SITE)
    assert [row.batch for row in found[0]] == ["B1", "B10", "B2"]
    assert [row.code for row in found[1]] == sorted(codes)
    assert found[2] == sorted(found[2], key=lambda row: (row.code, row.into))
    assert len(found[2]) == 6


def test_what_existed_in_a_span_ended_or_not(db: Database) -> None:
    def row(code: str, made: int, ended: int | None) -> ContainerRow:
        gone = Instant(ended) if ended is not None else None
        return container_row(code, made_at=Instant(made), ended_at=gone)

    put(
        db,
        row("A2222222", 10, None),
        row("B2222222", 10, 19),  # gone before
        row("C2222222", 10, 20),  # gone as it begins
        row("D2222222", 30, 40),  # made as it ends
        row("E2222222", 31, None),  # made after
    )
    with db.reading() as conn:
        found = on_hand.existing(conn, SITE, Instant(20), Instant(30))
        assert [each.code for each in found] == ["A2222222", "C2222222", "D2222222"]
        assert on_hand.existing(conn, "boat-shed", Instant(20), Instant(30)) == []


def test_what_existed_lately_is_found_by_its_index(filed: Database) -> None:
    put(filed, container_row("A2222222"))
    with filed.reading() as conn:
        plan = conn.exec_driver_sql(
            "EXPLAIN QUERY PLAN SELECT code FROM container"
            " WHERE site = 'x' AND made_at <= 5 AND ended_at >= 3"
        ).all()
    assert "ix_container_ended_at" in " ".join(str(line) for line in plan)


def test_texts_are_in_the_order_of_their_bytes_whatever_the_database(db: Database) -> None:
    """Which no language has: capitals first, then the signs between, small letters, accents."""
    names = ["b1", "B1", "_1", "a2", "A2", "é1", "-1", "a 1", "\U0001f41f1"]
    put(
        db,
        *(container_row(name, batch=name) for name in names),
        batches=tuple(batch_row(number, batch=name) for number, name in enumerate(names, 1)),
        links=tuple(LinkRow("b1", name) for name in names),
    )
    by_bytes = sorted(names, key=str.encode)
    with db.reading() as conn:
        batches, containers, links = on_hand.everything(conn, SITE)
        assert on_hand.live_codes(conn, SITE) == by_bytes
        assert [row.code for row in on_hand.live(conn, SITE)] == by_bytes
    assert [row.batch for row in batches] == by_bytes
    assert [row.code for row in containers] == by_bytes
    assert [link.into for link in links] == by_bytes
