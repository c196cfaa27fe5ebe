"""Trace and recall. The reference for what is made of what is networkx, on a graph that the test
draws while it cooks: a container is one node for each span between two things that happened to
it, so that what was taken out before something was poured in is another node than what came
after. The graph knows nothing of the journal.
"""

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from random import Random
from typing import Any

import networkx as nx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import MINUTE, Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.engine import open_database
from holdlog.journal.entries import Draft
from holdlog.journal.on_hand import ContainerRow, LinkRow
from holdlog.kitchen import correct, discard, handle
from holdlog.kitchen.kitchen import open_kitchen
from holdlog.kitchen.label import ready
from holdlog.kitchen.lots import lots_like
from holdlog.kitchen.prep import record
from holdlog.kitchen.recall import in_force, recall
from holdlog.kitchen.trace import trace
from tests.kitchen.shop import Hand, Shop, at

SOUP = "chicken stock"


def codes_of(names: object) -> set[str]:
    return {name for name in names if len(name) == 8}  # type: ignore[attr-defined]


@dataclass(slots=True)
class Cook:
    """Cooks at random, and draws what goes where beside it."""

    shop: Shop
    dice: Random
    graph: "nx.DiGraph[tuple[str, int]]" = field(default_factory=nx.DiGraph)
    now: dict[str, tuple[str, int]] = field(default_factory=dict)
    gone: set[str] = field(default_factory=set)
    lots: dict[str, list[str]] = field(default_factory=dict)

    def node(self, code: str) -> tuple[str, int]:
        return self.now[code]

    def born(self, code: str, *of: tuple[str, int]) -> None:
        self.now[code] = (code, 0)
        self.graph.add_node((code, 0))
        self.graph.add_edges_from((each, (code, 0)) for each in of)

    def live(self) -> list[str]:
        return sorted(set(self.now) - self.gone)

    def pick(self) -> str:
        return self.dice.choice(self.live())

    def tick(self) -> None:
        self.shop.hand.now = Instant(self.shop.hand.now + MINUTE)

    def step(self) -> None:
        self.tick()
        if len(self.live()) < 2:
            self.open()
            return
        self.dice.choice(
            (
                self.open,
                self.make,
                self.make,
                self.split,
                self.split,
                self.pour,
                self.pour,
                self.end,
            )
        )()

    def open(self) -> None:
        lot = self.dice.choice(("L1", "L2", "L 1", "x-9", "X9"))
        made = self.shop.prep(SOUP, self.dice.randint(1, 2), kind="opened", lot=lot)
        for row in made.rows:
            self.born(row.code)
            self.lots.setdefault(lot.replace(" ", "").replace("-", "").upper(), []).append(row.code)

    def make(self) -> None:
        parts = sorted({self.pick() for _ in range(self.dice.randint(1, 3))})
        partly = tuple(code for code in parts if self.dice.random() < 0.5)
        whole = tuple(code for code in parts if code not in partly)
        made = self.shop.prep(SOUP, self.dice.randint(1, 2), made_from=whole, partly=partly)
        for row in made.rows:
            self.born(row.code, *(self.node(code) for code in parts))
        self.gone.update(whole)

    def split(self) -> None:
        code, keep = self.pick(), self.dice.random() < 0.5
        done = handle.split(
            self.shop.kitchen, "mk", code, self.shop.hand.now, self.dice.randint(1, 2), keep=keep
        )
        for row in done.made:
            self.born(row.code, self.node(code))
        if not keep:
            self.gone.add(code)

    def pour(self) -> None:
        kept, poured = self.pick(), self.pick()
        try:
            handle.top_up(self.shop.kitchen, "mk", kept, poured, self.shop.hand.now)
        except Mistake as mistake:
            if mistake.code not in ("same-code", "made-of-it"):
                raise
            return
        before = self.node(kept)
        self.now[kept] = (kept, before[1] + 1)
        self.graph.add_edge(before, self.now[kept])
        self.graph.add_edge(self.node(poured), self.now[kept])
        self.gone.add(poured)

    def end(self) -> None:
        code = self.pick()
        if self.dice.random() < 0.5:
            discard.discard(self.shop.kitchen, "mk", code, self.shop.hand.now, "off")
        else:
            handle.end(self.shop.kitchen, "mk", code, self.shop.hand.now, "sold", None)
        self.gone.add(code)

    def afterwards(self, *, late: bool) -> None:
        """Something that is done after a recall; ``late``: said to have been before it."""
        shop, code, other = self.shop, self.pick(), self.pick()
        when = Instant(shop.hand.now - 5 * MINUTE * late)

        def seen(code: str) -> list[tuple[str, int]]:
            # Of a late entry, as widely as can be.
            return self.versions(code) if late else [self.node(code)]

        if self.dice.random() < 0.5:
            done = handle.split(shop.kitchen, "mk", code, when, 1, keep=True)
            for row in done.made:
                self.born(row.code, *seen(code))
        elif self.dice.random() < 0.5:
            batch = shop.batch(SOUP, 1, partly=(code, other))
            for row in record(shop.kitchen, "mk", replace(batch, at=when)).rows:
                self.born(row.code, *seen(code), *seen(other))
        else:
            handle.top_up(shop.kitchen, "mk", code, other, when)
            self.graph.add_edges_from((each, self.node(code)) for each in seen(other))
            self.gone.add(other)

    def versions(self, code: str) -> list[tuple[str, int]]:
        return [(code, n) for n in range(self.now[code][1] + 1)]

    def holders(self, *codes: str) -> set[str]:
        """The containers that hold, or held, any of ``codes``: networkx says."""
        found = set(codes)
        for code in codes:
            for node in self.versions(code):
                found |= {name for name, _ in nx.descendants(self.graph, node)}
        return found

    def sources(self, code: str) -> set[str]:
        return {name for name, _ in nx.ancestors(self.graph, self.now[code])} | {code}


def cooked(shop: Shop, seed: int, steps: int) -> Cook:
    cook = Cook(shop, Random(seed))
    for _ in range(steps):
        cook.step()
    return cook


@pytest.mark.parametrize("seed", range(6))
def test_a_trace_finds_what_networkx_finds(shop: Shop, seed: int) -> None:
    cook = cooked(shop, seed, 30)
    for code in cook.now:
        found = trace(shop.kitchen, code)
        assert codes_of(found.forward.names) == cook.holders(code)
        assert codes_of(found.back.names) == cook.sources(code)
        lots = {lot for lot, codes in cook.lots.items() if not cook.sources(code).isdisjoint(codes)}
        said = {lot.replace(" ", "").replace("-", "").upper() for lot in found.lots.values()}
        assert said == lots
    for lot, codes in cook.lots.items():
        assert codes_of(trace(shop.kitchen, lot=lot).forward.names) == cook.holders(*codes)


@pytest.mark.parametrize("seed", range(6, 12))
def test_a_recall_holds_all_that_is_live_and_lists_all_that_is_gone(shop: Shop, seed: int) -> None:
    cook = cooked(shop, seed, 30)
    for lot, roots in cook.lots.items():
        cook.tick()
        holders = cook.holders(*roots)
        looked = recall(shop.kitchen, "jr", "", lot, "", dry_run=True)
        done = recall(shop.kitchen, "jr", "", lot, "maker's notice 4711")
        assert looked.number is None
        assert {row.code for row in done.live} == holders - cook.gone
        assert {row.code for row in looked.live} == holders - cook.gone
        assert {each.row.code for each in done.gone if not each.part} == holders & cook.gone
        assert done.without_end == ()
        for code in holders - cook.gone:
            assert shop.row(code).verdict == "hold"
            assert "maker's notice 4711" in shop.row(code).reason
    recalled = set().union(*(cook.holders(*roots) for roots in cook.lots.values()))
    for code in set(cook.live()) - recalled:
        assert shop.row(code).verdict == ""
    assert shop.everything() == shop.replayed()


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10_000), after=st.integers(0, 12), back=st.integers(0, 1))
def test_nothing_live_that_holds_a_recalled_lot_may_be_served(
    another: Callable[[], Shop], seed: int, after: int, back: int
) -> None:
    """Whatever is done after the recall: ends voided, late entries, splits, pours, dishes."""
    shop = another()
    cook = cooked(shop, seed, 12)
    roots = cook.lots.pop(next(iter(cook.lots)), [])
    lot = shop_lot(shop, roots[0])
    recall(shop.kitchen, "jr", "", lot, "glass")
    cook.tick()
    for entry in shop.facts("used") + shop.facts("discarded"):
        if cook.dice.random() < 0.4 and entry.subject in cook.holders(*roots):
            correct.void(shop.kitchen, "mk", entry.number, "it is still there")
            if shop.row(entry.subject).ended_at is None:
                cook.gone.discard(entry.subject)
    for _ in range(after):
        cook.tick()
        try:
            cook.afterwards(late=bool(back))
        except Mistake as mistake:
            if mistake.code not in ("unfit", "too-early", "same-code", "made-of-it"):
                raise
    found = codes_of(trace(shop.kitchen, lot=lot).forward.names)
    # Of late entries the graph says the most that can be, the journal what is so.
    assert found <= cook.holders(*roots)
    assert back or found == cook.holders(*roots)
    for code in found:
        row = shop.row(code)
        if row.ended_at is None:
            assert shop.holding(code).verdict in ("hold", "refuse", "discard")
            assert row.verdict in ("hold", "refuse", "discard")
    assert shop.everything() == shop.replayed()


def shop_lot(shop: Shop, code: str) -> str:
    with shop.db.reading() as conn:
        batch = on_hand.batch(conn, shop.kitchen.site, shop.row(code).batch)
    assert batch is not None
    return batch.lot


def opened(shop: Shop, lot: str = "L442", count: int = 1) -> list[str]:
    return [row.code for row in shop.prep("cream, opened", count, kind="opened", lot=lot).rows]


def test_what_was_taken_out_before_something_was_poured_in_does_not_hold_it(shop: Shop) -> None:
    old, new = (shop.tub(SOUP, amount="4 l", kind="opened", lot=lot) for lot in ("OLD", "NEW"))
    shop.it_is("06-01 09:00")
    before = handle.split(shop.kitchen, "mk", old, at("06-01 09:00"), 1, keep=True).made[0].code
    shop.it_is("06-01 10:00")
    handle.top_up(shop.kitchen, "mk", old, new, at("06-01 10:00"))
    shop.it_is("06-01 11:00")
    after = handle.split(shop.kitchen, "mk", old, at("06-01 11:00"), 1, keep=True).made[0].code
    done = recall(shop.kitchen, "jr", "", "new", "glass")
    assert {row.code for row in done.live} == {old, after}
    assert shop.row(before).verdict == ""
    assert before not in trace(shop.kitchen, lot="NEW").forward.names
    assert new in trace(shop.kitchen, after).back.names


def test_a_lot_is_found_however_it_was_typed(shop: Shop) -> None:
    (code,) = opened(shop, "L-442 b")
    for typed in ("L442B", "l442b", "Lot L 442-B", "lot. l442b"):
        assert trace(shop.kitchen, lot=typed).start.names == (shop.row(code).batch,)


def test_a_lot_that_is_not_on_record_is_recalled_only_when_somebody_says_so(shop: Shop) -> None:
    opened(shop, "L442")
    with pytest.raises(Mistake, match="No batch of lot L449 is on record") as caught:
        recall(shop.kitchen, "jr", "", "L449", "")
    assert "L442 (cream, opened)" in caught.value.hint
    looked = recall(shop.kitchen, "", "", "L449", "", dry_run=True)
    assert looked.absent
    assert [each.lot for each in looked.look_alike] == ["L442"]
    assert shop.facts("recalled") == []
    done = recall(shop.kitchen, "jr", "", "L449", "maker's notice", absent=True)
    assert (done.absent, done.live) == (True, ())
    assert [each.subject for each in shop.facts("recalled")] == ["lot L449"]
    with pytest.raises(Mistake, match="held when it comes in"):
        trace(shop.kitchen, lot="L449")


@pytest.mark.parametrize("kind", ["received", "opened"])
@pytest.mark.parametrize("before", [True, False])
def test_what_comes_in_of_a_recalled_lot_is_held_at_once(
    shop: Shop, kind: str, before: bool
) -> None:
    """Recalled before any of it came, or after; and what is said to have come before that."""
    if not before:
        opened(shop, "Lot L-442")
    recall(shop.kitchen, "jr", "", "L442", "listeria", absent=True)
    shop.it_is("06-01 12:00")
    for late in ("", "06-01 05:00"):
        made = shop.prep("cream, opened", 2, kind=kind, lot="l 442", made=late)
        assert made.recalled == "listeria"
        assert [row.verdict for row in made.rows] == ["hold", "hold"]
        with shop.db.reading() as conn:
            assert "listeria" in ready(shop.kitchen, conn, made.rows[0].code).label.held
    code = made.rows[0].code
    with pytest.raises(Mistake, match="Recalled"):
        shop.tub(SOUP, partly=(code,))
    assert code in {row.code for row in recall(shop.kitchen, "", "", "L442", "", dry_run=True).live}
    assert shop.everything() == shop.replayed()
    handle.end(shop.kitchen, "mk", code, shop.hand.now, "returned", None)


def test_what_was_received_and_opened_of_a_lot_is_held_with_what_was_split_off(shop: Shop) -> None:
    made = shop.prep("cream, opened", 2, kind="received", lot="L442", amount="4 l")
    one, other = (row.code for row in made.rows)
    shop.it_is("06-01 09:00")
    handle.open_container(shop.kitchen, "mk", one, shop.hand.now)
    taken = handle.split(shop.kitchen, "mk", one, shop.hand.now, 1, keep=True).made[0].code
    done = recall(shop.kitchen, "jr", "", "L442", "listeria")
    assert {row.code for row in done.live} == {one, other, taken}
    assert {shop.row(code).verdict for code in (one, other, taken)} == {"hold"}
    handle.open_container(shop.kitchen, "mk", other, shop.hand.now)
    assert shop.row(other).verdict == "hold"


def test_a_recall_that_came_first_is_lifted_from_what_came_after(shop: Shop) -> None:
    done = recall(shop.kitchen, "jr", "", "L442", "listeria", absent=True)
    (code,) = opened(shop)
    assert [(one.what, one.on_hand) for one in in_force(shop.kitchen)] == [("lot L442", 1)]
    assert done.number is not None
    correct.void(shop.kitchen, "jr", done.number, "it is L424", "the notice, read again")
    assert shop.row(code).verdict == ""
    assert in_force(shop.kitchen) == []
    assert shop.everything() == shop.replayed()


def test_a_lot_that_looks_like_a_recalled_one_comes_in_only_when_somebody_has_compared_them(
    shop: Shop,
) -> None:
    recall(shop.kitchen, "jr", "", "L442", "listeria", absent=True)
    entries = len(shop.entries())
    for lot in ("L424", "442", "L 44Z"):  # two signs swapped, a letter left out, one mistyped
        with pytest.raises(Mistake) as told:
            shop.prep("cream, opened", kind="received", lot=lot)
        assert told.value.code == "looks-recalled"
    assert len(shop.entries()) == entries
    made = shop.prep("cream, opened", kind="received", lot="L424", lot_compared=True)
    assert [(one.what, one.why) for one in made.near] == [("lot L442", "listeria")]
    assert made.rows[0].verdict == ""
    assert shop.prep("cream, opened", kind="received", lot="X-977").near == ()


@pytest.mark.parametrize(
    ("asked", "lot", "alike", "mistyped"),
    [
        ("442", "L.442", True, True),  # its letter left out, as it was printed on the crate
        ("LOT 442", "L442", True, True),
        ("L442", "442", True, True),
        ("L442", "L-442/01", True, True),  # a part of the delivery
        ("L44201", "L442", True, True),
        ("LO42", "L042", True, True),  # O for 0
        ("L442", "Batch L442", True, True),  # the word on the crate typed with it
        ("Lote L442", "L442", True, True),
        ("B0I8", "8018", False, False),  # too many signs at once
        ("442", "443", False, True),  # the next day's, or mistyped
        ("4421", "4412", False, True),
        ("L442", "X977", False, False),
        ("L442", "l 442", False, False),  # the very lot
        ("", "L442", False, False),
    ],
)
def test_lots_that_look_alike_are_named(
    shop: Shop, asked: str, lot: str, alike: bool, mistyped: bool
) -> None:
    """Made up by us: there is no standard of how lots are mistyped."""
    opened(shop, lot)
    with shop.db.reading() as conn:
        assert [each.lot for each in lots_like(shop.kitchen, conn, asked)] == [lot] * alike
        near = lots_like(shop.kitchen, conn, asked, mistyped=True)
        assert [each.lot for each in near] == [lot] * mistyped


def test_lifting_a_recall_gives_back_exactly_what_it_held(shop: Shop) -> None:
    """Other recalls, other holds and ended tubs stand as before: every row is as it was."""
    cook = cooked(shop, 3, 30)
    (lot, roots), *others = cook.lots.items()
    recall(shop.kitchen, "jr", "", others[0][0], "another notice")
    codes = sorted(cook.now)

    def rows() -> list[ContainerRow]:
        # When it was judged is another moment; nothing else may differ.
        return [replace(shop.row(code), judged_at=Instant(0)) for code in codes]

    before = rows()
    done = recall(shop.kitchen, "jr", "", lot, "glass")
    assert {row.code for row in done.live} == cook.holders(*roots) - cook.gone
    assert rows() != before
    assert done.number is not None
    correct.void(shop.kitchen, "jr", done.number, "wrong lot", "notice 12")
    assert rows() == before
    assert shop.everything() == shop.replayed()
    for code in cook.holders(*cook.lots[others[0][0]]) - cook.gone:
        assert shop.row(code).verdict == "hold"


def test_what_was_sold_before_it_got_any_of_the_lot_is_not_listed(shop: Shop) -> None:
    old, new = (shop.tub(SOUP, amount="4 l", kind="opened", lot=lot) for lot in ("OLD", "NEW"))
    half = read_amount("500 ml")
    shop.it_is("06-01 09:00")
    handle.end(shop.kitchen, "mk", old, shop.hand.now, "sold", half, part=True)
    shop.it_is("06-01 10:00")
    handle.top_up(shop.kitchen, "mk", old, new, shop.hand.now)
    shop.it_is("06-01 11:00")
    handle.end(shop.kitchen, "mk", old, shop.hand.now, "sold", half, part=True)
    done = recall(shop.kitchen, "jr", "", "NEW", "glass")
    assert [(each.how, each.at, str(each.amount)) for each in done.gone] == [
        ("poured together", at("06-01 10:00"), "4 l"),
        ("sold", at("06-01 11:00"), "500 ml"),
    ]


def test_what_was_binned_or_sent_back_was_served_to_nobody(shop: Shop) -> None:
    codes = opened(shop, count=6)
    ways: tuple[ev.EndedAs, ...] = ("sold", "used", "returned", "donated", "staff meal")
    for code, how in zip(codes, ways, strict=False):
        handle.end(shop.kitchen, "mk", code, shop.hand.now, how, None)
    discard.discard(shop.kitchen, "mk", codes[5], shop.hand.now, "off")
    done = recall(shop.kitchen, "jr", "", "L442", "glass")
    assert {each.how: each.served for each in done.gone} == {
        "sold": True, "used": True, "returned": False, "donated": True, "staff meal": True,
        "discarded": False,
    }  # fmt: skip


def test_nothing_is_made_of_recalled_food(shop: Shop) -> None:
    (code,) = opened(shop)
    recall(shop.kitchen, "jr", code, "", "glass")
    with pytest.raises(Mistake, match="Recalled"):
        shop.tub(SOUP, partly=(code,))


def test_a_late_dish_made_before_the_recall_is_held_at_once(shop: Shop) -> None:
    (code,) = opened(shop)
    shop.it_is("06-01 12:00")
    recall(shop.kitchen, "jr", "", "L442", "glass")
    shop.it_is("06-01 12:30")
    late = shop.tub(SOUP, partly=(code,), made="06-01 11:00")
    assert shop.row(late).verdict == "hold"


def test_food_whose_bottle_was_binned_before_the_recall_is_held(shop: Shop) -> None:
    (code,) = opened(shop)
    dish = shop.tub(SOUP, partly=(code,))
    shop.it_is("06-01 09:00")
    discard.discard(shop.kitchen, "mk", code, shop.hand.now, "over-made")
    recall(shop.kitchen, "jr", "", "L442", "glass")
    assert shop.row(dish).verdict == "hold"


def test_a_recall_of_a_batch_holds_its_containers_and_no_others(shop: Shop) -> None:
    first, second = shop.prep(SOUP, 2), shop.prep(SOUP, 1)
    done = recall(shop.kitchen, "jr", first.batch.lower(), "", "a glass broke beside it")
    assert {row.code for row in done.live} == {row.code for row in first.rows}
    assert shop.row(second.rows[0].code).verdict == ""


def test_a_recall_of_a_container_leaves_the_rest_of_its_batch(shop: Shop) -> None:
    one, other = (row.code for row in shop.prep(SOUP, 2).rows)
    taken = handle.split(shop.kitchen, "mk", one, shop.hand.now, 1, keep=True).made[0].code
    shop.it_is("06-01 09:00")
    done = recall(shop.kitchen, "jr", one, "", "a lid broke")
    assert {row.code for row in done.live} == {one, taken}
    assert shop.row(taken).verdict == "hold"
    assert shop.row(other).verdict == ""


def test_a_recall_that_was_a_mistake_is_lifted_as_a_whole_by_voiding_it(shop: Shop) -> None:
    (code,) = opened(shop)
    dish = shop.tub(SOUP, partly=(code,))
    done = recall(shop.kitchen, "jr", "", "L442", "listeria")
    assert done.number is not None
    correct.void(shop.kitchen, "jr", done.number, "wrong lot: it is L424", "notice 12")
    assert [shop.row(each).verdict for each in (code, dish)] == ["", ""]
    opened(shop)  # and it may come in again


@pytest.mark.parametrize("when", ["06-01 06:00", "06-02 09:00"])
@pytest.mark.parametrize("of_lot", [True, False])
def test_a_recall_is_lifted_only_on_a_paper_on_whatever_day(
    shop: Shop, when: str, of_lot: bool
) -> None:
    (code,) = opened(shop)
    done = recall(shop.kitchen, "jr", *(("", "L442") if of_lot else (code, "")), "listeria")
    assert done.number is not None
    shop.it_is(when)
    before = shop.entries()
    for evidence in ("", " - "):
        with pytest.raises(Mistake, match="is no longer recalled") as told:
            correct.void(shop.kitchen, "mk", done.number, "withdrawn", evidence)
        assert "--evidence" in told.value.hint
    assert shop.entries() == before
    assert shop.row(code).verdict == "hold"
    lifted = correct.void(shop.kitchen, "jr", done.number, "withdrawn", "maker's letter of 2 June")
    assert not lifted.pending
    assert shop.row(code).verdict == ""


def test_recalled_food_is_taken_out_of_a_tub_only_on_a_paper(shop: Shop) -> None:
    (bad,) = opened(shop)
    (good,) = opened(shop, lot="L977")
    handle.top_up(shop.kitchen, "mk", good, bad, shop.hand.now)
    poured = shop.facts("topped-up")[-1].number
    recall(shop.kitchen, "jr", "", "L442", "listeria")
    assert shop.row(good).verdict == "hold"
    before = shop.entries()
    with pytest.raises(Mistake, match="is no longer recalled") as told:
        correct.void(shop.kitchen, "mk", poured, "it went into another tub")
    assert "--evidence" in told.value.hint
    assert shop.entries() == before
    assert shop.row(good).verdict == "hold"
    correct.void(shop.kitchen, "jr", poured, "another tub", "MK's sheet, both tubs looked at")
    assert (shop.row(good).verdict, shop.row(bad).verdict) == ("", "hold")
    assert shop.everything() == shop.replayed()


def test_a_delivery_of_a_recalled_lot_is_taken_back_only_on_a_paper(shop: Shop) -> None:
    (code,) = opened(shop)
    came = shop.facts("opened")[-1].number
    recall(shop.kitchen, "jr", "", "L442", "listeria")
    with pytest.raises(Mistake, match="is no longer recalled"):
        correct.void(shop.kitchen, "mk", came, "it never came")
    assert shop.row(code).verdict == "hold"


LONG = "L" + "1234567890" * 12  # 121 characters


def test_a_lot_that_is_longer_than_any_is_refused_wherever_it_is_said(shop: Shop) -> None:
    code = shop.tub("cream, opened", kind="received", lot=LONG[:120])
    before = shop.entries()
    for job in (
        lambda: shop.prep("cream, opened", kind="received", lot=LONG),
        lambda: shop.prep("cream, opened", kind="opened", lot="\ufdfa" * 9),  # 15 letters each
        lambda: correct.correct_making(
            shop.kitchen, "mk", code, correct.with_lot(LONG), None, "read again", "note 1"
        ),
        lambda: recall(shop.kitchen, "jr", "", LONG, "glass", absent=True),
        lambda: recall(shop.kitchen, "jr", "", LONG, "", dry_run=True),
        lambda: trace(shop.kitchen, lot=LONG),
    ):
        with pytest.raises(Mistake, match="characters, more than 120") as told:
            job()
        assert told.value.code == "long-lot"
    assert shop.entries() == before


def test_a_longer_lot_of_an_older_journal_is_replayed_traced_and_recalled(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as older:
        older.setattr("holdlog.kitchen.recall.check_lot", lambda _: None)
        (code,) = opened(shop, LONG)
    assert trace(shop.kitchen, lot=LONG).start.names == (shop.row(code).batch,)
    recall(shop.kitchen, "jr", "", LONG, "listeria")
    assert shop.row(code).verdict == "hold"
    assert opened(shop, LONG)  # more of it is held, too
    with pytest.raises(Mistake, match="looks like"):  # and what fits of it is not let by
        opened(shop, LONG[:120])
    assert shop.everything() == shop.replayed()
    assert shop.bad() == []


@pytest.mark.parametrize(
    ("recalled", "lot"),
    [
        ("L442", "L-442/01"),  # a part of the delivery
        ("L-442/01", "L442"),
        ("L44" + "2" * 60, "L44" + "2" * 59 + "3"),  # mistyped at its far end
    ],
)
def test_a_lot_looks_recalled_whichever_of_the_two_was_typed_in_full(
    shop: Shop, recalled: str, lot: str
) -> None:
    """Made up by us: there is no standard of how lots are mistyped."""
    recall(shop.kitchen, "jr", "", recalled, "listeria", absent=True)
    with pytest.raises(Mistake, match="looks like"):
        opened(shop, lot)


def test_what_was_used_of_it_is_listed_with_moment_and_amount(shop: Shop) -> None:
    whole, part = (shop.tub("cream, opened", amount="2 l", kind="opened", lot="L442") for _ in "ab")
    shop.it_is("06-01 09:00")
    handle.end(shop.kitchen, "mk", whole, shop.hand.now, "sold", None)
    shop.it_is("06-01 10:00")
    handle.end(shop.kitchen, "an", part, shop.hand.now, "donated", read_amount("500 ml"), part=True)
    done = recall(shop.kitchen, "jr", "", "L442", "glass")
    told = [(each.row.code, each.how, str(each.amount), each.part, each.by) for each in done.gone]
    assert told == [
        (whole, "sold", "2 l", False, "MK"),
        (part, "donated", "500 ml", True, "AN"),
    ]
    assert [each.at for each in done.gone] == [at("06-01 09:00"), at("06-01 10:00")]
    assert [row.code for row in done.live] == [part]


def test_the_same_recall_is_not_recorded_twice(shop: Shop) -> None:
    opened(shop)
    recall(shop.kitchen, "jr", "", "L442", "glass")
    with pytest.raises(Mistake, match="already"):
        recall(shop.kitchen, "jr", "", "l-442", "glass")
    assert len(shop.facts("recalled")) == 1


def test_a_look_at_what_is_recalled_already_says_so(shop: Shop) -> None:
    (code,) = opened(shop)
    done = recall(shop.kitchen, "jr", "", "L442", "glass")
    looked = recall(shop.kitchen, "", "", "L442", "", dry_run=True)
    assert (looked.already, done.already) == (done.number, None)
    assert recall(shop.kitchen, "", code, "", "", dry_run=True).already is None


def test_a_recall_needs_a_reason_and_a_dry_run_writes_nothing(shop: Shop) -> None:
    (code,) = opened(shop)
    with pytest.raises(Mistake, match="Why"):
        recall(shop.kitchen, "jr", code, "", " ")
    before = len(shop.entries())
    assert recall(shop.kitchen, "", code, "", "", dry_run=True).live[0].code == code
    assert len(shop.entries()) == before
    assert shop.row(code).verdict == ""


def test_a_voided_dish_does_not_count_and_is_shown_as_voided(shop: Shop) -> None:
    (code,) = opened(shop)
    dish = shop.prep(SOUP, 1, partly=(code,))
    entry = next(each for each in shop.facts("prepared") if each.subject == dish.batch)
    correct.void(shop.kitchen, "mk", entry.number, "typed in the wrong kitchen")
    found = trace(shop.kitchen, code)
    assert dish.batch not in found.forward.names
    (step,) = [each for each in found.forward.steps if each.into == dish.batch]
    assert step.voided == "typed in the wrong kitchen"
    assert recall(shop.kitchen, "jr", code, "", "glass").live[0].code == code


def test_a_corrected_dish_is_told_once(shop: Shop) -> None:
    (code,) = opened(shop)
    shop.it_is("06-01 09:00")
    dish = shop.prep(SOUP, 1, partly=(code,))
    correct.correct_making(
        shop.kitchen, "mk", dish.rows[0].code, correct.unchanged, at("06-01 08:00"), "clock"
    )
    found = trace(shop.kitchen, code)
    (step,) = [each for each in found.forward.steps if each.into == dish.batch]
    assert (step.voided, step.at) == ("", at("06-01 08:00"))


def test_food_said_to_be_made_of_itself_is_refused(shop: Shop) -> None:
    """Past the guards of the program: only a journal that was tampered with holds such a thing."""
    one, other = shop.tub(SOUP), shop.tub(SOUP)
    with shop.db.appending() as conn:
        now = shop.hand.now
        drafts = [
            Draft(ev.ToppedUp(other), now, one, "MK"), Draft(ev.ToppedUp(one), now, other, "MK")
        ]  # fmt: skip
        journal_entries.append(conn, shop.kitchen.site, drafts, recorded_at=now)
        links = [LinkRow(other, one), LinkRow(one, other)]
        on_hand.put(conn, shop.kitchen.site, links=links)
    with pytest.raises(Fault, match="made of itself"):
        trace(shop.kitchen, one)


def test_a_sauce_fed_from_itself_for_a_year_is_followed_to_its_first_day(shop: Shop) -> None:
    code = first = shop.tub(SOUP, kind="opened", lot="OLDEST")
    for _ in range(120):
        shop.hand.now = Instant(shop.hand.now + MINUTE)
        code = shop.tub(SOUP, made_from=(code,))
    found = trace(shop.kitchen, code)
    assert first in found.back.names
    assert set(found.lots.values()) == {"OLDEST"}
    assert len(codes_of(trace(shop.kitchen, first).forward.names)) == 121


def asked(shop: Shop, code: str, lot: str = "") -> list[str]:
    """The statements of a trace, as SQLite itself was asked them, their values written in."""
    seen: list[str] = []
    # The pool hands out the connection that was given back last.
    with shop.db.engine.connect() as conn:
        driver: Any = conn.connection.driver_connection
    driver.set_trace_callback(seen.append)
    trace(shop.kitchen, code, lot)
    driver.set_trace_callback(None)
    return [text for text in seen if text.startswith("SELECT")]


@pytest.fixture
def on_sqlite(set_up_once: Path, tmp_path: Path) -> Iterator[Shop]:
    """What only SQLite tells: each statement with its values, and its plan."""
    path = Path(shutil.copy(set_up_once, tmp_path / "asked.db"))
    db, hand = open_database(path, must_exist=True), Hand()
    yield Shop(db, path, hand, open_kitchen(db, hand.clock, hand.draw))
    db.close()


def test_the_cost_of_a_trace_is_that_of_what_it_finds(on_sqlite: Shop) -> None:
    """Counted, not timed: as many statements whatever else there is, and each of them looks its
    rows up by name (SQLite's own plan), so that none walks through history.
    """
    shop = on_sqlite
    (code,) = opened(shop)
    shop.tub(SOUP, partly=(code,))
    before = [*asked(shop, code), *asked(shop, "", "L442")]
    for _ in range(30):
        shop.tub("fish stock")
    assert len(asked(shop, code)) + len(asked(shop, "", "L442")) == len(before)
    with shop.db.reading() as conn:
        for text in before:
            plan = conn.exec_driver_sql("EXPLAIN QUERY PLAN " + text).fetchall()
            for _, _, _, step in plan:
                if "VIRTUAL TABLE" in step:
                    continue  # the names themselves, handed over as a list
                assert not step.startswith("SCAN"), (text, step)
                assert "ix_entry_kind_at" not in step, (text, step)
                assert "uq_batch_number" not in step, (text, step)
                assert not step.endswith("(site=?)") or "LIMIT" in text, (text, step)


def test_a_trace_of_nothing_or_of_two_things_is_refused(shop: Shop) -> None:
    (code,) = opened(shop)
    for typed, lot in (("", ""), (code, "L442")):
        with pytest.raises(Mistake, match="Of what"):
            trace(shop.kitchen, typed, lot)
    with pytest.raises(Mistake) as caught:
        trace(shop.kitchen, "l442")
    assert caught.value.hint == "It is a maker's lot: --lot l442"
    with pytest.raises(Mistake, match="no batch B99"):
        trace(shop.kitchen, "b99")
    assert set(trace(shop.kitchen, code).containers) == {code}


def test_a_tub_does_nothing_before_it_was_split_off(shop: Shop) -> None:
    """Else what was taken out of it would seem to be older than what had been poured in."""
    old, new = (shop.tub(SOUP, amount="4 l", kind="opened", lot=lot) for lot in ("OLD", "NEW"))
    shop.it_is("06-01 10:00")
    handle.top_up(shop.kitchen, "mk", old, new, shop.hand.now)
    shop.it_is("06-01 11:00")
    (taken,) = handle.split(shop.kitchen, "mk", old, shop.hand.now, 1, keep=True).made
    shop.it_is("06-01 12:00")
    before = at("06-01 09:00")
    with pytest.raises(Mistake, match="was split off Mon 1 June 11:00"):
        handle.split(shop.kitchen, "mk", taken.code, before, 1, keep=True)
    with pytest.raises(Mistake, match="was not made yet then"):
        shop.tub(SOUP, partly=(taken.code,), made="06-01 09:00")
    with pytest.raises(Mistake, match="was made Mon 1 June 11:00"):
        discard.discard(shop.kitchen, "mk", taken.code, before, "off")


def test_what_a_corrected_making_puts_into_a_trace_is_held(shop: Shop) -> None:
    """Made later than it was split, by a correction: what was poured in meanwhile may be in it."""
    shop.it_is("06-01 09:00")
    old, new = (shop.tub(SOUP, amount="4 l", kind="opened", lot=lot) for lot in ("OLD", "NEW"))
    shop.it_is("06-01 09:30")
    (taken,) = handle.split(shop.kitchen, "mk", old, shop.hand.now, 1, keep=True).made
    shop.it_is("06-01 10:00")
    handle.top_up(shop.kitchen, "mk", old, new, shop.hand.now)
    shop.it_is("06-01 12:00")
    correct.correct_making(
        shop.kitchen, "mk", old, correct.unchanged, at("06-01 11:00"), "typed wrong"
    )
    done = recall(shop.kitchen, "jr", "", "NEW", "glass")
    assert {row.code for row in done.live} == {old, taken.code}
    assert {shop.row(code).verdict for code in (old, taken.code)} == {"hold"}


def test_a_batch_whose_dish_was_voided_after_it_was_sold_can_be_corrected(shop: Shop) -> None:
    (code,) = opened(shop)
    shop.it_is("06-01 09:00")
    dish = shop.prep(SOUP, 1, partly=(code,))
    handle.end(shop.kitchen, "mk", dish.rows[0].code, shop.hand.now, "sold", None)
    entry = next(each for each in shop.facts("prepared") if each.subject == dish.batch)
    correct.void(shop.kitchen, "mk", entry.number, "another kitchen's")
    correct.correct_making(
        shop.kitchen, "mk", code, correct.unchanged, at("06-01 05:00"), "typed wrong"
    )
    assert shop.row(code).made_at == at("06-01 05:00")


def test_what_was_made_of_a_delivery_that_was_voided_is_found_and_not_served(shop: Shop) -> None:
    """Said to be a slip, it may have been there all the same: its lot is in what was made of it."""
    first, second = (
        row.code for row in shop.prep("cream, opened", 2, kind="received", lot="L442").rows
    )
    shop.it_is("06-01 09:00")
    sold, kept = (row.code for row in shop.prep(SOUP, 2, made_from=(first,)).rows)
    handle.end(shop.kitchen, "mk", sold, shop.hand.now, "sold", None)
    correct.void(shop.kitchen, "mk", shop.facts("received")[0].number, "never came")
    assert shop.row(kept).verdict == "discard"
    assert "nothing says when it was made" in shop.row(kept).reason
    done = recall(shop.kitchen, "jr", "", "L442", "listeria")
    assert [row.code for row in done.live] == [kept]
    assert [each.row.code for each in done.gone if each.served] == [sold]
    assert [row.code for row in done.without_end] == [second]
    assert shop.everything() == shop.replayed()


def test_what_was_made_of_a_pan_whose_split_was_voided_is_found(shop: Shop) -> None:
    (code,) = opened(shop)
    (pan,) = handle.split(shop.kitchen, "mk", code, shop.hand.now, 1, keep=True).made
    shop.it_is("06-01 09:00")
    dish = shop.tub(SOUP, partly=(pan.code,))
    correct.void(shop.kitchen, "mk", shop.facts("split")[0].number, "another tub")
    done = recall(shop.kitchen, "jr", "", "L442", "listeria")
    assert {row.code for row in done.live} == {code, dish}
    assert [row.code for row in done.without_end] == [pan.code]
    assert shop.row(dish).verdict in ("hold", "discard")
