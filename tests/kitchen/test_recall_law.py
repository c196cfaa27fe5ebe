"""What is held under a recall is set free on a named paper alone.

The reference is the trace (held against networkx in test_trace.py), which shares no line with the
comparison that refuses a correction: it reads steps out of the entries, and no history is folded.
"""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.errors import Mistake
from holdlog.core.moments import DAY, MINUTE, Instant
from holdlog.journal import engine
from holdlog.kitchen import correct, discard, handle, setup
from holdlog.kitchen.items import add_item
from holdlog.kitchen.recall import recall
from tests.kitchen.shop import CONVENTIONS, Shop, at
from tests.kitchen.test_laws import HOUSE
from tests.kitchen.test_trace import SOUP, Cook

UNFIT = ("hold", "refuse", "discard")
# Food that ended so is not in the kitchen any more, or is found in another container.
ENDED = (*handle.ENDS, "discarded", "split", "made into", "poured together")


OF_NO_FOOD = ("kitchen", "stack", "unit", "item")


@dataclass(slots=True)
class Corrector(Cook):
    """Cooks at random, and then takes back and corrects at random, without a paper."""

    folder: Path = field(default_factory=Path)
    recalls: list[tuple[str, str]] = field(default_factory=list)
    refused: int = 0
    done: int = 0

    def cook(self, steps: int) -> None:
        for _ in range(steps):
            also = self.dice.choice((self.step, self.freeze, self.move, self.correct))
            for job in (self.step, also):
                with suppress(Mistake):
                    job()

    def recall(self) -> None:
        """A lot, and perhaps a batch and a container, too."""
        lots = sorted({row.lot_key for row in self.shop.everything()[0] if row.lot})
        code = self.dice.choice(sorted(self.now))
        for what in (("", self.dice.choice(lots)), (self.shop.row(code).batch, ""), (code, "")):
            if self.dice.random() < (0.4 if self.recalls else 0.6) or what == (code, ""):
                recall(self.shop.kitchen, "jr", *what, "glass")
                self.recalls.append(what)
                if self.dice.random() < 0.6:
                    return

    def held(self) -> set[str]:
        """All that is on hand of what is recalled."""
        found = [recall(self.shop.kitchen, "", *what, "", dry_run=True) for what in self.recalls]
        return {row.code for each in found for row in each.live}

    def attempt(self) -> None:
        on = DAY if self.dice.random() < 0.1 else MINUTE
        self.shop.hand.now = Instant(self.shop.hand.now + on)
        job = self.dice.choice((self.void, self.void, self.void, self.correct, self.correct,
                                self.correct, self.dash, self.handle, self.rules))  # fmt: skip
        before, held = (self.shop.everything(), self.shop.entries()[-1].hash), self.held()
        try:
            job()
        except Mistake:
            self.refused += 1
            assert (self.shop.everything(), self.shop.entries()[-1].hash) == before
            return
        self.done += 1
        still = self.held()
        for code in held:
            row = self.shop.row(code)
            if row.ended_at is None:
                assert code in still, (job, row)
                assert row.verdict in UNFIT, (job, row)
            else:
                assert row.ended_as in ENDED, (job, row)
        # Nor has the morning's list anything of it that is to be served.
        for code in still:
            assert self.shop.row(code).verdict in UNFIT, (job, code)

    def void(self) -> None:
        evidence = self.dice.choice(("", "", " - "))
        correct.void(self.shop.kitchen, "mk", self.entry(), "typed wrong", evidence)

    def correct(self) -> None:
        changes = (
            correct.unchanged, correct.with_lot(self.dice.choice(("L1", "L7", "L11", "new", ""))),
            correct.with_allergens(("milk",)),
        )  # fmt: skip
        when = Instant(self.shop.hand.now - self.dice.choice((0, 1, 5, 12, 40)) * MINUTE)
        correct.correct_making(
            self.shop.kitchen, "mk", self.here(), self.dice.choice(changes),
            self.dice.choice((None, when, when)), "typed wrong",
            lot_compared=self.dice.random() < 0.5,
        )  # fmt: skip

    def dash(self) -> None:
        """A void of a later day waits for a paper, and a dash names none."""
        correct.confirm(self.shop.kitchen, "mk", self.entry(), "-")

    def entry(self) -> int:
        """One that tells of food; voids of it, too."""
        known = self.shop.entries()
        return self.dice.choice([each.number for each in known if each.kind not in OF_NO_FOOD])

    def handle(self) -> None:
        self.dice.choice((self.freeze, self.move, self.bin, self.late_part, self.late_whole))()

    def here(self) -> str:
        rows = self.shop.live()
        if not rows:
            raise Mistake("no-code", "Nothing is on hand.")
        return self.dice.choice(sorted(row.code for row in rows))

    def freeze(self) -> None:
        handle.freeze(self.shop.kitchen, "mk", self.here(), self.shop.hand.now, None)

    def move(self) -> None:
        unit = self.shop.unit("reach-in")
        handle.move(self.shop.kitchen, "mk", self.here(), self.shop.hand.now, unit)

    def bin(self) -> None:
        discard.discard(self.shop.kitchen, "mk", self.here(), self.shop.hand.now, "off")

    def late_part(self) -> None:
        when = Instant(self.shop.hand.now - 9 * MINUTE)
        handle.split(self.shop.kitchen, "mk", self.here(), when, 1, keep=True)

    def late_whole(self) -> None:
        when = Instant(self.shop.hand.now - self.dice.choice((3, 9, 20)) * MINUTE)
        if self.dice.random() < 0.5:
            handle.split(self.shop.kitchen, "mk", self.here(), when, 1)
        else:
            handle.top_up(self.shop.kitchen, "mk", self.here(), self.here(), when)

    def rules(self) -> None:
        """Other rules, and something else known of an item."""
        house = self.folder / "house.toml"
        house.write_text(HOUSE, encoding="utf-8")
        books = ["us-food-code-2022", *([str(house)] if self.dice.random() < 0.5 else [])]
        setup.adopt(self.shop.kitchen, "jr", books, CONVENTIONS, "")
        add_item(self.shop.kitchen, "jr", ev.ItemAdded(SOUP, "pickle", house_days=None))


@pytest.fixture
def _no_waiting_for_the_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """A thousand small commits; what a power cut does is the journal's test."""
    monkeypatch.setattr(engine, "journal_for", lambda *_: ("DELETE", "OFF"))


@settings(
    max_examples=25,
    suppress_health_check=list(HealthCheck),
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
@given(seed=st.integers(0, 100_000))
@pytest.mark.usefixtures("_no_waiting_for_the_disk")
def test_without_a_paper_nothing_under_a_recall_is_set_free(
    another: Callable[[], Shop], tmp_path: Path, seed: int
) -> None:
    shop = another()
    cook = Corrector(shop, Random(seed), folder=tmp_path)
    cook.cook(12)
    cook.recall()
    for _ in range(16):
        cook.attempt()
    assert shop.everything() == shop.replayed()
    shop.db.close()


def poured(shop: Shop) -> tuple[str, str]:
    """A tub of a recalled lot was poured into another at nine; that one at eight was not of it."""
    bad, good = (shop.tub(SOUP, amount="4 l", kind="opened", lot=lot) for lot in ("BAD", "GOOD"))
    shop.it_is("06-01 09:00")
    handle.top_up(shop.kitchen, "mk", good, bad, shop.hand.now)
    shop.it_is("06-01 10:00")
    return bad, good


def refused(shop: Shop, job: Callable[[str], object], *held: str) -> None:
    """Refused without a paper and on a dash, to the last entry; and done on a paper."""
    before = shop.entries()
    for evidence in ("", " - "):
        with pytest.raises(Mistake, match="On what does it rest") as told:
            job(evidence)
        assert told.value.code == "no-evidence"
    assert shop.entries() == before
    assert {shop.row(code).verdict for code in held} == {"hold"}
    assert shop.everything() == shop.replayed()
    job("prep sheet 12, MK")
    assert {shop.row(code).verdict for code in held} == {""}
    assert shop.everything() == shop.replayed()


@pytest.mark.parametrize("when", ["06-01 10:30", "06-02 09:00"])
def test_a_dish_is_moved_to_before_the_recalled_food_was_in_it_only_on_a_paper(
    shop: Shop, when: str
) -> None:
    _, good = poured(shop)
    dish = shop.tub("fish stock", partly=(good,))
    (taken,) = handle.split(shop.kitchen, "mk", dish, shop.hand.now, 1, keep=True).made
    recall(shop.kitchen, "jr", "", "BAD", "glass")
    shop.it_is(when)
    eight = at("06-01 08:00")
    refused(
        shop,
        lambda paper: correct.correct_making(
            shop.kitchen, "mk", dish, correct.unchanged, eight, "clock", paper
        ),
        dish,
        taken.code,
    )
    assert shop.row(good).verdict == "hold"


def test_a_correction_that_put_recalled_food_in_is_taken_back_only_on_a_paper(shop: Shop) -> None:
    """Both makings have the same food in them: only when it went in differs."""
    _, good = poured(shop)
    dish = shop.tub("fish stock", partly=(good,), made="06-01 08:00")
    shop.it_is("06-02 09:00")
    ten = at("06-01 10:00")
    correct.correct_making(shop.kitchen, "mk", dish, correct.unchanged, ten, "clock")
    recall(shop.kitchen, "jr", "", "BAD", "glass")
    number = shop.facts("prepared")[-1].number
    refused(shop, lambda paper: correct.void(shop.kitchen, "mk", number, "no", paper), dish)


def test_a_dish_is_not_moved_to_before_something_was_poured_into_what_it_used_up(
    shop: Shop,
) -> None:
    """Else a recall of that, when it comes, would find it in no container."""
    _, good = poured(shop)
    dish = shop.tub("fish stock", made_from=(good,))
    before, kitchen = shop.entries(), shop.kitchen
    with pytest.raises(Mistake, match=r"was filled up .*09:00") as told:
        correct.correct_making(
            kitchen, "jr", dish, correct.unchanged, at("06-01 08:59"), "clock", "sheet 12"
        )
    assert told.value.code == "too-early"
    assert shop.entries() == before
    correct.correct_making(kitchen, "mk", dish, correct.unchanged, at("06-01 09:00"), "clock")
    assert dish in {row.code for row in recall(kitchen, "jr", "", "BAD", "glass").live}


def test_held_food_is_not_taken_off_every_list_without_a_paper(shop: Shop) -> None:
    """Its making or the split is voided: the tub stands there, and nobody would be told of it."""
    made = shop.prep(SOUP, 1, amount="4 l")
    (code,) = (row.code for row in made.rows)
    one = handle.split(shop.kitchen, "mk", code, shop.hand.now, 1).made[0].code
    recall(shop.kitchen, "jr", made.batch, "", "a glass broke beside it")
    before = shop.entries()
    for kind in ("split", "prepared"):
        with pytest.raises(Mistake, match="It stays on hold"):
            correct.void(shop.kitchen, "mk", shop.facts(kind)[-1].number, "another tub")
    assert shop.entries() == before
    assert shop.row(one).verdict == "hold"
    correct.void(shop.kitchen, "jr", shop.facts("split")[-1].number, "another tub", "seen, JR")
    assert (shop.row(one).ended_as, shop.row(code).verdict) == ("voided", "hold")


def test_what_comes_back_of_recalled_food_is_held_whatever_was_taken_back(shop: Shop) -> None:
    bad, good = poured(shop)
    handle.end(shop.kitchen, "mk", good, shop.hand.now, "sold", None)
    recall(shop.kitchen, "jr", bad, "", "glass")
    shop.it_is("06-02 09:00")
    for entry in reversed(shop.facts("used")):
        correct.void(shop.kitchen, "mk", entry.number, "it is still there")
    assert [shop.row(code).verdict for code in (bad, good)] == ["hold", "hold"]
    # That it was not poured in waits for a paper, on a later day, and until then it counts.
    number = shop.facts("topped-up")[-1].number
    assert correct.void(shop.kitchen, "mk", number, "another tub").pending
    assert shop.row(good).verdict == "hold"
    voided = shop.facts("voided")[-1].number
    before = shop.entries()
    for paper in ("-", " . "):
        with pytest.raises(Mistake, match="names no paper"):
            correct.confirm(shop.kitchen, "mk", voided, paper)
    # A paper about another entry is none about this one.
    assert shop.entries() == before
    correct.confirm(shop.kitchen, "jr", shop.facts("opened")[0].number, "delivery note 12")
    assert [shop.row(code).verdict for code in (bad, good)] == ["hold", "hold"]
    correct.confirm(shop.kitchen, "jr", voided, "sheet 12, both tubs looked at")
    assert [shop.row(code).verdict for code in (bad, good)] == ["hold", ""]
    assert shop.everything() == shop.replayed()


def test_on_a_dash_nothing_is_taken_back_and_no_making_moved_later(shop: Shop) -> None:
    """On a later day only a paper lengthens a date, recalled or not."""
    code = shop.tub()
    number = shop.facts("prepared")[-1].number
    shop.it_is("06-02 09:00")
    before = shop.entries()
    with pytest.raises(Mistake, match="'-' names no paper"):
        correct.void(shop.kitchen, "mk", number, "never made", "-")
    with pytest.raises(Mistake, match="'-' names no paper"):
        correct.correct_making(
            shop.kitchen, "mk", code, correct.unchanged, shop.hand.now, "clock", "-"
        )
    assert shop.entries() == before


@pytest.mark.parametrize("recalled", [True, False])
def test_a_tub_is_not_emptied_before_something_was_poured_in(shop: Shop, recalled: bool) -> None:
    """Else food of a recalled lot would be free, or served, and no list would have it."""
    _, good = poured(shop)
    other = shop.tub(SOUP, kind="opened", made="06-01 07:00")
    if recalled:
        recall(shop.kitchen, "jr", "", "BAD", "glass")
    before, eight, mk = shop.entries(), at("06-01 08:00"), (shop.kitchen, "mk")
    for job in (
        lambda: handle.split(*mk, good, eight, 1),
        lambda: handle.top_up(*mk, other, good, eight),
        lambda: handle.end(*mk, good, eight, "sold", None),
        lambda: shop.tub("fish stock", made_from=(good,), made="06-01 08:00"),
    ):
        with pytest.raises(Mistake, match="was filled up") as told:
            job()
        assert told.value.code == "too-early"
    assert shop.entries() == before
    # What was taken out of it by then has nothing of it.
    handle.end(*mk, good, eight, "sold", read_amount("1 l"), part=True)
    assert handle.split(*mk, good, eight, 1, keep=True).made[0].verdict == ""
    assert shop.row(shop.tub("fish stock", partly=(good,), made="06-01 08:00")).verdict == ""
    assert shop.everything() == shop.replayed()
