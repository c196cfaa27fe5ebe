"""The round: what each scan is answered, and what the round comes to, against plain sets."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.journal import on_hand
from holdlog.journal.engine import open_database
from holdlog.kitchen import round as job
from holdlog.kitchen.discard import discard
from holdlog.kitchen.handle import end as use_up
from holdlog.kitchen.handle import freeze, move
from holdlog.kitchen.kitchen import Kitchen, open_kitchen
from holdlog.kitchen.reconcile import Scan, Shelved, raw_above, reconcile
from holdlog.kitchen.round_end import Outcome, end, outcome
from holdlog.kitchen.unit_read import read_unit
from tests.kitchen.shop import Shop, temp

UNITS = ("walk-in", "reach-in", "chest freezer")
CODES = st.sampled_from([f"C{number}" for number in range(12)])
PLACES = st.sampled_from([*UNITS, "hot box"])
ANSWERS: st.SearchStrategy[ev.RoundAnswer] = st.sampled_from(
    ["serve", "today", "frozen", "no-limit", "hold", "bin", "belongs", "again", "ended", "unknown"]
)


@st.composite
def some_scans(draw: st.DrawFn) -> list[Scan]:
    drawn = draw(st.lists(st.tuples(CODES, PLACES, ANSWERS), max_size=30))
    return [
        Scan(number, Instant(number), "MK", code, unit, answer)
        for number, (code, unit, answer) in enumerate(drawn)
    ]


@given(
    walked=st.sets(st.sampled_from(UNITS)),
    scans=some_scans(),
    here=st.dictionaries(CODES, PLACES),
)
def test_the_reconciliation_is_what_plain_sets_say(
    walked: set[str], scans: list[Scan], here: dict[str, str]
) -> None:
    """Independently: comprehensions over the scans, no state carried from one to the next."""
    found = reconcile(walked, scans, here)
    known = [scan for scan in scans if scan.answer != "unknown"]
    seen = {scan.code for scan in known}
    assert set(found.seen) == seen
    assert set(found.not_seen) == {
        code for code in here if here[code] in walked and code not in seen
    }
    assert dict(found.elsewhere) == {
        code: unit
        for code in seen
        for unit in [[scan.unit for scan in known if scan.code == code][-1]]
        if code in here and here[code] != unit
    }
    assert set(found.ended) == {
        scan.code for scan in scans if scan.answer == "ended" and scan.code not in here
    }
    assert set(found.unknown) == {scan.code for scan in scans if scan.answer == "unknown"}
    # Nothing is told twice.
    for each in (found.seen, found.not_seen, found.elsewhere, found.ended, found.unknown):
        assert len(set(each)) == len(each)


@given(scans=some_scans(), here=st.dictionaries(CODES, PLACES))
def test_what_is_on_hand_in_a_walked_unit_is_seen_or_asked_about(
    scans: list[Scan], here: dict[str, str]
) -> None:
    found = reconcile(UNITS, scans, here)
    in_walk = {code for code, unit in here.items() if unit in UNITS}
    assert in_walk <= {*found.seen, *found.not_seen}


@given(
    st.lists(
        st.tuples(st.sampled_from(UNITS), st.integers(1, 5), st.booleans(), st.booleans()),
        max_size=12,
    )
)
def test_raw_food_above_ready_food_is_every_pair_with_a_smaller_shelf(
    drawn: list[tuple[str, int, bool, bool]],
) -> None:
    """Brute force over all pairs; FDA Food Code 3-302.11(A): raw animal food apart from what is
    ready to eat. Shelf 1 is the top one.
    """
    shelved = [Shelved(f"C{n}", *each) for n, each in enumerate(drawn)]
    wanted = {
        raw.code
        for raw in shelved
        for ready_food in shelved
        if raw.raw_animal and ready_food.ready_to_eat
        and raw.unit == ready_food.unit and raw.shelf < ready_food.shelf
    }  # fmt: skip
    assert set(raw_above(shelved)) == wanted


# ---- scans -----------------------------------------------------------------------------------


def begun(shop: Shop, *units: str) -> job.Round:
    return job.begin(shop.kitchen, "mk", [shop.unit(name) for name in units])


def scan(shop: Shop, walk: job.Round, typed: str, unit: str = "walk-in") -> job.Answer:
    return job.see(shop.kitchen, "mk", walk, shop.unit(unit), typed)


def stands(shop: Shop, walk: job.Round) -> Outcome:
    return outcome(shop.kitchen, walk)


def codes_of(rows: object) -> list[str]:
    return [row.code for row in rows]  # type: ignore[attr-defined]


def test_each_scan_is_answered_by_how_the_container_stands(shop: Shop) -> None:
    good = shop.tub()  # made 1 June: through Sunday 7 June, day 7 of 7 (FDA 3-501.17(A))
    frozen = shop.tub()
    freeze(shop.kitchen, "mk", frozen, shop.hand.now, None)
    cooling = shop.tub("fish stock", warm=temp("150F"))
    fish = shop.tub("halibut portion, raw", kind="received")
    elsewhere = shop.tub(unit="reach-in")
    gone = shop.tub()
    discard(shop.kitchen, "mk", gone, shop.hand.now, "off")
    walk = begun(shop)
    assert scan(shop, walk, good).word == "serve"
    assert scan(shop, walk, frozen, "chest freezer").word == "frozen"
    assert scan(shop, walk, cooling).word == "hold"
    assert scan(shop, walk, fish).word == "no-limit"
    assert scan(shop, walk, elsewhere).word == "belongs"
    assert scan(shop, walk, gone).word == "ended"
    assert scan(shop, walk, good).word == "again"
    shop.it_is("06-07 09:00")
    late = begun(shop)
    assert scan(shop, late, good).word == "today"
    shop.it_is("06-08 09:00")
    assert scan(shop, late, good).word == "bin", "that it was seen before hides nothing"
    assert scan(shop, late, elsewhere).word == "bin", "worse than the wrong unit"


def test_a_mistyped_code_is_told_with_those_it_may_be(shop: Shop) -> None:
    code = shop.tub()
    walk = begun(shop)
    wrong = code[:-1] + ("2" if code[-1] != "2" else "3")
    answer = scan(shop, walk, wrong)
    assert (answer.word, answer.mistyped, answer.near) == ("unknown", True, (code,))
    assert scan(shop, walk, "5000112637922").near == ()
    assert stands(shop, walk).unknown == (wrong, "5000112637922")
    assert codes_of(stands(shop, walk).not_seen) == [code]


def test_a_code_in_lower_case_with_a_dash_is_the_same_container(shop: Shop) -> None:
    code = shop.tub()
    walk = begun(shop)
    assert scan(shop, walk, f" {code[:4].lower()}-{code[4:].lower()} ").word == "serve"
    assert stands(shop, walk).seen == 1


@pytest.mark.parametrize("junk", ["\x00\x07\x1b[2J", "é" * 500, "💥", "; drop table entry"])
def test_whatever_a_scanner_sends_is_kept_as_unknown(shop: Shop, junk: str) -> None:
    walk = begun(shop)
    assert scan(shop, walk, junk).word == "unknown"
    (kept,) = stands(shop, walk).unknown
    assert kept.isprintable()
    assert len(kept) <= job.LONGEST


def test_a_label_that_says_later_than_the_food_may_be_kept_is_told(shop: Shop) -> None:
    code = shop.tub()
    walk = begun(shop)
    assert not scan(shop, walk, code).label_misleads
    with shop.kitchen.writing("mk") as write:
        said = ev.Labelled("two-by-two", "date", Instant(shop.row(code).use_by or 0) + 86_400_000)
        write.append((said, write.recorded_at, code))
        write.settle(code)
    assert scan(shop, walk, code).label_misleads


# ---- the whole round -------------------------------------------------------------------------


def test_a_round_comes_to_what_was_and_was_not_there(shop: Shop) -> None:
    one, two, three = (shop.tub() for _ in range(3))
    wrong, gone = shop.tub(unit="reach-in"), shop.tub()
    cold = shop.tub()
    freeze(shop.kitchen, "mk", cold, shop.hand.now, None)
    use_up(shop.kitchen, "mk", gone, shop.hand.now, "used", None)
    walk = begun(shop, "walk-in")
    for typed in (one, wrong, gone, "X2X2X2X2"):
        scan(shop, walk, typed)
    found = stands(shop, walk)
    assert found.seen == 3
    assert sorted(codes_of(found.not_seen)) == sorted([two, three])
    assert [(row.code, unit) for row, unit in found.elsewhere] == [(wrong, "walk-in")]
    assert codes_of(found.ended) == [gone]
    assert found.unknown == ("X2X2X2X2",)
    assert not found.clean


def test_what_is_binned_or_moved_after_its_scan_is_left_to_nobody(shop: Shop) -> None:
    binned, moved = shop.tub(), shop.tub(unit="reach-in")
    walk = begun(shop, "walk-in")
    scan(shop, walk, binned)
    scan(shop, walk, moved)
    discard(shop.kitchen, "mk", binned, shop.hand.now, "off")
    move(shop.kitchen, "mk", moved, shop.hand.now, shop.unit("walk-in"))
    assert stands(shop, walk).clean


def test_what_was_not_seen_stays_on_hand_when_the_round_is_ended(shop: Shop) -> None:
    code = shop.tub()
    walk = begun(shop)
    end(shop.kitchen, "mk", walk, "jr")
    assert shop.row(code).ended_at is None
    kept = outcome(shop.kitchen, job.find(shop.kitchen, "R1"))
    assert codes_of(kept.not_seen) == [code]
    assert kept.round.end is not None
    assert kept.round.end[1].in_charge == "JR"
    # A later scan elsewhere does not rewrite how that round was ended.
    scan(shop, begun(shop), code)
    assert codes_of(outcome(shop.kitchen, job.find(shop.kitchen, "1")).not_seen) == [code]


def test_nothing_is_added_to_a_round_that_was_ended(shop: Shop) -> None:
    code = shop.tub()
    walk, other = begun(shop), job.find(shop.kitchen)
    end(shop.kitchen, "jr", other, "jr")
    for late in (
        lambda: scan(shop, walk, code),
        lambda: end(shop.kitchen, "mk", walk, "mk"),
        lambda: job.found(shop.kitchen, "mk", walk, shop.unit("walk-in"), "rice"),
    ):
        with pytest.raises(Mistake) as told:
            late()
        assert told.value.code == "round-ended"
        assert "JR" in told.value.sentence


def test_two_cooks_walk_one_round_and_see_what_the_other_saw(shop: Shop) -> None:
    first, second = shop.tub(), shop.tub()
    mine = begun(shop, "walk-in")
    with open_other(shop) as other:
        theirs = job.find(other)
        job.see(other, "an", theirs, other.unit("walk-in"), first)
        answer = scan(shop, mine, first)
        assert answer.word == "again"
        assert answer.before is not None
        assert answer.before.by == "AN"
        scan(shop, mine, second)
        assert outcome(other, theirs).clean
        assert theirs.cooks == ["MK", "AN"]


class open_other:  # noqa: N801  (reads as a function)
    """The same journal from another till."""

    def __init__(self, shop: Shop) -> None:
        self.db = open_database(shop.where, must_exist=True, wait_ms=2000)
        self.kitchen = open_kitchen(self.db, shop.hand.clock, shop.hand.draw, station="two")

    def __enter__(self) -> Kitchen:
        return self.kitchen

    def __exit__(self, *_: object) -> None:
        self.db.close()


def test_the_rounds_are_numbered_and_an_open_one_is_found(shop: Shop) -> None:
    with pytest.raises(Mistake):
        job.find(shop.kitchen)
    one, two = begun(shop, "walk-in"), begun(shop, "reach-in", "walk-in")
    assert (one.id, two.id) == ("R1", "R2")
    assert two.units == ("walk-in", "reach-in"), "in the order of the walk"
    end(shop.kitchen, "mk", two, "jr")
    assert [each.id for each in job.open_rounds(shop.kitchen)] == ["R1"]
    with pytest.raises(Mistake, match="r9"):
        job.find(shop.kitchen, "r9")


# ---- what is done in it ----------------------------------------------------------------------


def test_the_last_thing_done_is_taken_back_by_an_entry_that_voids_it(shop: Shop) -> None:
    code, walk = shop.tub(), begun(shop)
    assert job.last_done(shop.kitchen, walk, "mk") is None
    scan(shop, walk, code)
    unit = shop.unit("walk-in")
    job.found(shop.kitchen, "mk", walk, unit, "white rice", read_amount("1 kg"))
    discard(shop.kitchen, "mk", code, shop.hand.now, "off")
    discard(shop.kitchen, "an", shop.tub(), shop.hand.now, "off")  # another cook, another tub
    last = job.last_done(shop.kitchen, walk, "mk")
    assert last is not None
    assert last.subject == code
    job.take_back(shop.kitchen, "mk", walk, last)
    assert shop.row(code).ended_at is None
    last = job.last_done(shop.kitchen, walk, "mk")
    assert last is not None
    assert "white rice" in last.says
    job.take_back(shop.kitchen, "mk", walk, last)
    assert job.last_done(shop.kitchen, walk, "mk") is None
    found = stands(shop, walk)
    assert found.round.found == []
    assert found.seen == 1, "what was seen is not taken back"
    assert len(shop.facts("voided")) == 2
    assert shop.bad() == []


def test_a_bad_temperature_holds_the_unit_and_taking_it_back_frees_it(shop: Shop) -> None:
    code, walk = shop.tub(), begun(shop, "walk-in")
    unit = shop.unit("walk-in")
    shop.it_is("06-01 07:00")
    read = read_unit(shop.kitchen, "mk", unit, shop.hand.now, temp("55F"))
    job.come_to(shop.kitchen, "mk", walk, unit, read.reading.entry)
    assert scan(shop, walk, code).word == "hold"
    assert str(stands(shop, walk).units[0].read) == "55 °F"
    last = job.last_done(shop.kitchen, walk, "mk")
    assert last is not None
    job.take_back(shop.kitchen, "mk", walk, last)
    assert stands(shop, walk).units[0].read is None
    assert scan(shop, walk, code).word == "again"


def test_raw_food_on_the_shelf_above_is_flagged(shop: Shop) -> None:
    raw, stock, below = (
        shop.tub("halibut portion, raw", kind="received"),
        shop.tub(),
        shop.tub("halibut portion, raw", kind="received"),
    )
    walk, unit = begun(shop, "walk-in"), shop.unit("walk-in")
    for code, shelf in ((raw, 1), (stock, 2), (below, 3)):
        job.see(shop.kitchen, "mk", walk, unit, code, shelf=shelf)
    assert codes_of(stands(shop, walk).raw_above) == [raw]
    # Carried down and scanned there, it is flagged no more.
    job.see(shop.kitchen, "mk", walk, unit, raw, shelf=3)
    assert stands(shop, walk).raw_above == ()


def test_the_journal_with_rounds_is_replayed_to_the_same_rows(shop: Shop) -> None:
    codes = [shop.tub() for _ in range(3)]
    walk = begun(shop)
    for code in codes:
        scan(shop, walk, code)
    job.note(shop.kitchen, "mk", walk, shop.unit("walk-in"), "lid off", codes[0])
    job.found(shop.kitchen, "mk", walk, shop.unit("walk-in"), "rice")
    end(shop.kitchen, "mk", walk, "jr")
    assert shop.everything() == shop.replayed()
    assert shop.bad() == []


def test_a_scan_asks_for_one_row_and_not_for_all(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However many containers there are, a good scan looks at its own."""
    code, walk = shop.tub(), begun(shop)

    def never(*_: object) -> list[str]:
        raise AssertionError("all codes were read")

    monkeypatch.setattr(on_hand, "live_codes", never)
    monkeypatch.setattr(on_hand, "live", never)
    assert scan(shop, walk, code).word == "serve"
    assert scan(shop, walk, code).word == "again"


@pytest.mark.parametrize("bad", ["<script>", "J R", "1/2"])
def test_what_are_no_initials_sign_nothing(shop: Shop, bad: str) -> None:
    walk = begun(shop)
    with pytest.raises(Mistake, match="initials"):
        end(shop.kitchen, "mk", walk, bad)
    assert [each.id for each in job.open_rounds(shop.kitchen)] == ["R1"]


def test_many_kitchens_number_their_own_rounds(another: Callable[[], Shop]) -> None:
    assert [begun(another()).id, begun(another()).id] == ["R1", "R1"]


def test_who_scanned_lately_walks_it_still(shop: Shop) -> None:
    walk = begun(shop, "walk-in")
    job.see(shop.kitchen, "an", walk, shop.unit("reach-in"), shop.tub())
    stands(shop, walk)
    now = shop.hand.now
    assert walk.still_walking("mk", now) == [("AN", "reach-in", now)]
    assert walk.still_walking("an", now) == []
    assert walk.still_walking("mk", Instant(now + job.LATELY)) == []
