"""A kitchen for the tests: Tern & Tide, an invented bistro, with a clock that is set by hand."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.chain import Entry
from holdlog.core.moments import Instant, from_local
from holdlog.core.temperature import Temperature, read_temperature
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.engine import Database
from holdlog.journal.on_hand import BatchRow, ContainerRow, LinkRow
from holdlog.kitchen import doctor
from holdlog.kitchen.clock_right import found_right
from holdlog.kitchen.items import find_item, items
from holdlog.kitchen.kitchen import Kitchen, Unit, look, open_kitchen
from holdlog.kitchen.prep import Batch, Recorded, record
from holdlog.kitchen.setup import Plan
from holdlog.rules.holding import Holding

ZONE = "America/New_York"
WHERE = ZoneInfo(ZONE)
FIRST = "2026-06-01 06:00"  # a Monday
PLAN = Plan(
    name="Tern & Tide",
    zone=ZONE,
    scale="F",
    rulebooks=("us-food-code-2022",),
    units=(
        ("walk-in", "walk-in"), ("reach-in", "reach-in"), ("chest freezer", "freezer"),
        ("hot box", "hot box"), ("pass shelf", "room"),
    ),
    closed=("wed",),
)  # fmt: skip


def at(wall: str) -> Instant:
    """``"06-01 15:00"`` of 2026, in the kitchen's zone."""
    full = wall if wall[:2] == "20" else f"2026-{wall}"
    return from_local(datetime.fromisoformat(full), WHERE)


def temp(text: str) -> Temperature:
    return read_temperature(text)


@dataclass(slots=True)
class Hand:
    """The clock and the dice of a test."""

    now: Instant = field(default_factory=lambda: at(FIRST))
    dice: Random = field(default_factory=lambda: Random(7))

    def clock(self) -> Instant:
        return self.now

    def draw(self, letters: str) -> str:
        return self.dice.choice(letters)


@dataclass(slots=True)
class Shop:
    """A kitchen, and short ways to work in it."""

    db: Database
    path: Path
    hand: Hand
    kitchen: Kitchen
    # Where another program finds the journal, if it is not the file at ``path``.
    url: str = ""

    @property
    def where(self) -> str:
        """What another program is told to open the same journal."""
        return self.url or str(self.path)

    def it_is(self, wall: str) -> None:
        self.hand.now = at(wall)

    def reopens(self, wall: str) -> None:
        """It was closed until then, for more than 30 days, and the clock was found right."""
        self.it_is(wall)
        assert found_right(self.kitchen, "jr").recorded

    def reopen(self) -> Kitchen:
        self.kitchen = open_kitchen(self.db, self.hand.clock, self.hand.draw)
        return self.kitchen

    def unit(self, name: str) -> Unit:
        return self.kitchen.unit(name)

    def batch(self, item: str = "chicken stock", count: int = 1, **more: Any) -> Batch:
        amount = more.pop("amount", "")
        unit = more.pop("unit", "walk-in")
        when = more.pop("made", "")
        with self.db.reading() as conn:
            wanted = find_item(items(self.kitchen, conn), item)
        return Batch(
            item=wanted,
            containers=count,
            at=at(when) if when else self.hand.now,
            unit=self.unit(unit),
            amount=read_amount(amount) if amount else None,
            **more,
        )

    def prep(self, item: str = "chicken stock", count: int = 1, **more: Any) -> Recorded:
        return record(self.kitchen, "mk", self.batch(item, count, **more))

    def tub(self, item: str = "chicken stock", **more: Any) -> str:
        """The code of one container of a new batch."""
        return self.prep(item, 1, **more).rows[0].code

    def row(self, code: str) -> ContainerRow:
        with self.db.reading() as conn:
            row = on_hand.find(conn, self.kitchen.site, code)
        assert row is not None
        return row

    def live(self) -> list[ContainerRow]:
        with self.db.reading() as conn:
            return on_hand.live(conn, self.kitchen.site)

    def holding(self, code: str, wall: str = "") -> Holding:
        with self.db.reading() as conn:
            return look(self.kitchen, conn, code, at(wall) if wall else self.hand.now)[1]

    def entries(self) -> list[Entry]:
        with self.db.reading() as conn:
            return list(journal_entries.stream(conn, self.kitchen.site))

    def facts(self, kind: str) -> list[Entry]:
        return [entry for entry in self.entries() if entry.kind == kind]

    def everything(self) -> tuple[list[BatchRow], list[ContainerRow], list[LinkRow]]:
        with self.db.reading() as conn:
            return on_hand.everything(conn, self.kitchen.site)

    def replayed(self) -> tuple[list[BatchRow], list[ContainerRow], list[LinkRow]]:
        with self.db.reading() as conn:
            found = doctor.replay(self.kitchen, conn)
        return found.batches, found.containers, found.links

    def bad(self) -> list[str]:
        return [finding.name for finding in doctor.examine(self.kitchen) if not finding.ok]


def day(wall: str) -> date:
    return date.fromisoformat(f"2026-{wall}")


def codes(rows: Iterable[Any]) -> list[str]:
    """The codes of rows, or of lines about rows."""
    return [getattr(each, "row", each).code for each in rows]


CONVENTIONS = ev.Conventions()
