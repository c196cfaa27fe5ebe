"""Whatever is done, in whatever order: the rows on hand are what the journal says, the morning
list is what the rules say, and no date moves later by itself.

The expectation is never the code's own answer to the same question: rows kept by the jobs are
held against a fold of the whole journal, the list against a fold of each container alone.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.chain import first_fault
from holdlog.core.errors import Mistake
from holdlog.core.moments import DAY, HOUR, MINUTE, Instant, local_date
from holdlog.journal import engine
from holdlog.journal.codec import fact_of
from holdlog.kitchen import correct, discard, handle, printing, setup
from holdlog.kitchen.due import everything, line
from holdlog.kitchen.kitchen import look
from holdlog.kitchen.prep import record
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import CONVENTIONS, Shop, temp

ITEMS = ("chicken stock", "fish stock", "garlic oil", "red onion, pickled", "halibut portion, raw")
READINGS = ("165 F", "136 F", "110 F", "70 F", "68 F", "41 F", "39 F", "45 F")
HOUSE = """
id = "tern-and-tide"
title = "Tern & Tide, house rules"
role = "house"

[rule.short]
kind = "date-mark"
starts = "prepared"
days = 3
cite = "house"
says = "We keep it 3 days."
seen = "text"
"""


@dataclass(slots=True)
class Play:
    """One sequence of jobs in one kitchen."""

    shop: Shop
    folder: Path
    refused: int = 0
    done: int = 0

    def step(self, action: str, pick: tuple[int, int, int], on: int, back: int) -> None:
        shop = self.shop
        shop.hand.now = Instant(shop.hand.now + on * 17 * MINUTE)
        when = Instant(shop.hand.now - back * 7 * HOUR)
        before = shop.everything(), shop.entries()[-1].hash
        try:
            getattr(self, f"do_{action}")(pick, when)
        except Mistake:
            self.refused += 1
            assert (shop.everything(), shop.entries()[-1].hash) == before
        else:
            self.done += 1
        assert shop.everything() == shop.replayed()

    def code(self, number: int, state: str = "", item: str = "") -> str:
        """One of those on hand: if there is any, in this state or of this item."""
        rows = self.shop.live()
        if not rows:
            raise Mistake("no-code", "Nothing is on hand.")
        fits = [row for row in rows if state in ("", row.state) and item in ("", row.item)]
        found = sorted(row.code for row in fits or rows)
        return found[number % len(found)]

    def do_prep(self, pick: tuple[int, int, int], when: Instant) -> None:
        shop, warm = self.shop, pick[1] % 3 == 0
        batch = shop.batch(
            ITEMS[pick[0] % len(ITEMS)],
            1 + pick[2] % 2,
            amount="3 l",
            off_heat_at=when if warm else None,
            warm=temp("150 F") if warm else None,
        )
        record(shop.kitchen, "mk", replace(batch, at=when))

    def do_receive(self, pick: tuple[int, int, int], when: Instant) -> None:
        ahead = Instant(when + pick[0] * DAY)
        batch = self.shop.batch(
            "chicken, poached",
            1 + pick[1] % 2,
            kind="received",
            maker_use_by=local_date(ahead, self.shop.kitchen.where),
            maker_date_for=("safety", "quality", "use-or-freeze-by")[pick[2] % 3],
        )
        record(self.shop.kitchen, "an", replace(batch, at=when))

    def do_combine(self, pick: tuple[int, int, int], when: Instant) -> None:
        batch = self.shop.batch(
            ITEMS[pick[2] % 2], 1, made_from=(self.code(pick[0]),), partly=(self.code(pick[1]),)
        )
        record(self.shop.kitchen, "mk", replace(batch, at=when))

    def do_open(self, pick: tuple[int, int, int], when: Instant) -> None:
        code = self.code(pick[0], item="chicken-poached")
        handle.open_container(self.shop.kitchen, "an", code, when)

    def do_freeze(self, pick: tuple[int, int, int], when: Instant) -> None:
        handle.freeze(self.shop.kitchen, "mk", self.code(pick[0]), when, None)

    def do_thaw(self, pick: tuple[int, int, int], when: Instant) -> None:
        method: ev.ThawMethod = ("refrigerator", "microwave")[pick[1] % 4 == 0]
        handle.thaw(self.shop.kitchen, "mk", self.code(pick[0], "frozen"), when, method, None)

    def do_move(self, pick: tuple[int, int, int], when: Instant) -> None:
        units = list(self.shop.kitchen.units.values())
        handle.move(self.shop.kitchen, "mk", self.code(pick[0]), when, units[pick[1] % len(units)])

    def do_reheat(self, pick: tuple[int, int, int], when: Instant) -> None:
        box = self.shop.unit("hot box") if pick[1] % 2 else None
        fact = ev.Reheated(temp(READINGS[pick[2] % 3]), 15)
        handle.reheat(self.shop.kitchen, "mk", self.code(pick[0]), when, fact, box)

    def do_out(self, pick: tuple[int, int, int], when: Instant) -> None:
        fact = ev.Out("4h", temp(READINGS[pick[1] % len(READINGS)]))
        handle.take_out(self.shop.kitchen, "mk", self.code(pick[0]), when, fact)

    def do_split(self, pick: tuple[int, int, int], when: Instant) -> None:
        keep = bool(pick[1] % 2)
        handle.split(self.shop.kitchen, "mk", self.code(pick[0]), when, 1 + pick[2] % 2, keep=keep)

    def do_top_up(self, pick: tuple[int, int, int], when: Instant) -> None:
        kept = self.code(pick[0], "chilled")
        poured = self.code(pick[1], item=self.shop.row(kept).item)
        handle.top_up(self.shop.kitchen, "mk", kept, poured, when)

    def do_use(self, pick: tuple[int, int, int], when: Instant) -> None:
        handle.end(self.shop.kitchen, "mk", self.code(pick[0]), when, "used", None)

    def do_read(self, pick: tuple[int, int, int], when: Instant) -> None:
        reading = temp(READINGS[pick[1] % len(READINGS)])
        handle.reading(self.shop.kitchen, "mk", self.code(pick[0]), when, reading)

    def do_cool(self, pick: tuple[int, int, int], when: Instant) -> None:
        reading = temp(READINGS[pick[1] % len(READINGS)]) if pick[1] else None
        log_cooling(self.shop.kitchen, "mk", self.code(pick[0]), when, reading)

    def do_discard(self, pick: tuple[int, int, int], when: Instant) -> None:
        discard.discard(self.shop.kitchen, "mk", self.code(pick[0]), when, "off")

    def do_label(self, pick: tuple[int, int, int], _: Instant) -> None:
        shop, code = self.shop, self.code(pick[0])
        printing.write_by_hand(shop.kitchen, "mk", [code])

    def do_void(self, pick: tuple[int, int, int], _: Instant) -> None:
        entries = [entry for entry in self.shop.entries() if entry.subject != "kitchen"]
        newest = entries[-(1 + pick[0] * 2 + pick[1])]
        correct.void(self.shop.kitchen, "jr", newest.number, "typed wrong")

    def do_confirm(self, pick: tuple[int, int, int], _: Instant) -> None:
        entries = self.shop.entries()
        correct.confirm(
            self.shop.kitchen, "jr", entries[-(1 + pick[0] + pick[1])].number, "sheet 12"
        )

    def do_correct(self, pick: tuple[int, int, int], when: Instant) -> None:
        correct.correct_making(
            self.shop.kitchen, "jr", self.code(pick[0]), correct.unchanged, when, "wrong hour"
        )

    def do_adopt(self, pick: tuple[int, int, int], _: Instant) -> None:
        house = self.folder / "house.toml"
        house.write_text(HOUSE, encoding="utf-8")
        books = ["us-food-code-2022", *([str(house)] if pick[0] % 2 else [])]
        setup.adopt(self.shop.kitchen, "jr", books, CONVENTIONS, "")


ACTIONS = sorted(name.removeprefix("do_") for name in dir(Play) if name.startswith("do_"))
# What is done most in a kitchen is tried most.
OFTEN = ("prep", "prep", "void", "void", "label", "freeze", "thaw", "split", "top_up", "cool")
WEIGHED = [*ACTIONS, *OFTEN, "combine"]
Step = tuple[str, tuple[int, int, int], int, int]
SMALL = st.integers(0, 7)
STEPS = st.lists(
    st.tuples(
        st.sampled_from(WEIGHED),
        st.tuples(SMALL, SMALL, SMALL),
        st.sampled_from([0, 0, 1, 3, 5, 9, 40, 90, 200]),
        st.sampled_from([0, 0, 0, 0, 1, 4, 11]),
    ),
    min_size=6,
    max_size=18,
)
BEGIN: list[Step] = [
    ("prep", (0, 1, 1), 1, 0), ("prep", (0, 0, 0), 1, 0), ("receive", (4, 0, 0), 1, 0),
]  # fmt: skip


@pytest.fixture
def _no_waiting_for_the_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """A thousand small commits; what a power cut does is the journal's test."""
    monkeypatch.setattr(engine, "journal_for", lambda *_: ("DELETE", "OFF"))


def _due_is_what_the_rules_say(shop: Shop) -> None:
    start = shop.hand.now
    hours = (0, 1, 2, 3, 4, 5, 6, 7, 10, 26, 50, 75, 100, 150, 170, 200, 400)
    for moment in (Instant(start + hour * HOUR) for hour in hours):
        with shop.db.reading() as conn:
            for row in shop.live():
                said = line(shop.kitchen.current(conn), conn, row, moment)
                fresh = look(shop.kitchen, conn, row.code, moment)[1]
                assert said.verdict == fresh.verdict, (row, moment, fresh)
                if row.state == "frozen":
                    assert said.row.days_left == fresh.days_left_once_thawed
    assert {each.row.code for each in everything(shop.kitchen)} == {row.code for row in shop.live()}


def _no_later_than_its_label(shop: Shop) -> None:
    entries = shop.entries()
    for row in shop.live():
        own = [entry for entry in entries if entry.subject == row.code]
        labels = [entry for entry in own if entry.kind == "labelled"]
        if not labels or row.use_by is None:
            continue
        printed = fact_of(labels[-1])
        assert isinstance(printed, ev.Labelled)
        # Freezing and thawing change the date, and so may taking those back.
        cold = [entry for entry in own if entry.kind in ("frozen", "thawed")]
        if printed.use_by is not None and not cold and not row.parent:
            assert row.use_by <= printed.use_by, row


# A journal for each example makes shrinking slow, and what failed is a short story already.
@settings(
    max_examples=80,
    suppress_health_check=list(HealthCheck),
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
@given(steps=STEPS)
@pytest.mark.usefixtures("_no_waiting_for_the_disk")
def test_rows_list_and_dates_hold_after_any_day(
    another: Callable[[], Shop], tmp_path: Path, steps: list[Step]
) -> None:
    shop = another()
    play = Play(shop, tmp_path)
    for action, pick, on, back in [*BEGIN, *steps]:
        play.step(action, pick, on, back)
        _no_later_than_its_label(shop)
    _due_is_what_the_rules_say(shop)
    assert first_fault(shop.entries()) is None
    assert play.done >= len(BEGIN)
    shop.db.close()
