"""A seeded year at Tern & Tide: what the audit adds up is what the raw entries add up to.

The year is worked through the jobs, as cooks would: parts, ends of all kinds, prices that change,
entries a day late, entries taken back, batches corrected. Then the entry table is read with
sqlite3, each body parsed as JSON, and everything is counted anew with polars, to the last digit
of a gram and to the cent. Factors: NIST Handbook 44 (2024), Appendix C, written out here again.
"""

import json
import shutil
import sqlite3
import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from pathlib import Path
from random import Random
from typing import Any

import polars as pl
import pytest

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.costs import read_cost
from holdlog.core.errors import Mistake
from holdlog.core.moments import HOUR, MINUTE, Instant, from_local
from holdlog.core.temperature import read_temperature
from holdlog.journal.engine import open_database
from holdlog.kitchen import correct, discard, handle
from holdlog.kitchen.audit import Audit, audit
from holdlog.kitchen.clock_right import found_right
from holdlog.kitchen.discard import REASONS
from holdlog.kitchen.ended import Total
from holdlog.kitchen.items import Item, add_item, items
from holdlog.kitchen.kitchen import open_kitchen
from holdlog.kitchen.prep import Batch, record
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import WHERE, Hand, Shop

YEAR = 2027
COOKS = ("MK", "AN", "JR")
# What is made, in which amounts, and what it costs: one per kilo of what is measured in litres,
# one in another currency, one without a cost.
MENU = {
    "chicken stock": (("6 l", "8 qt", "12 pint", ""), "1.80 EUR/l"),
    "fish stock": (("4 l", "3.5 qt"), "2.35 EUR/qt"),
    "lentil, cooked": (("2.5 kg", "4 lb", "40 oz"), "2.15 EUR/kg"),
    "hummus": (("1.2 kg", "3 lb", "10 portion"), "5.333 EUR/kg"),
    "béchamel": (("3 l", "1 gal"), "4.00 EUR/kg"),
    "garlic oil": (("500 ml", "16 fl oz", "3 cup"), "9.9 USD/l"),
    "vegetable stock": (("5 l", "7 l"), ""),
}
FACTORS = {
    "g": ("g", "1"), "kg": ("g", "1000"), "oz": ("g", "28.349523125"), "lb": ("g", "453.59237"),
    "ml": ("ml", "1"), "l": ("ml", "1000"), "fl oz": ("ml", "29.5735295625"),
    "cup": ("ml", "236.5882365"), "pint": ("ml", "473.176473"), "qt": ("ml", "946.352946"),
    "gal": ("ml", "3785.411784"), "portion": ("portion", "1"),
}  # fmt: skip


# Minutes after it came off the heat, and what it read then.
COOLINGS = (
    ((100, "69F"), (300, "40F")), ((120, "70F"), (360, "41F")), ((30, "130F"), (210, "90F")),
    ((100, "69F"),), ((30, "134F"), (160, "68F"), (350, "41F")), ((90, "66F"), (365, "42F")),
)  # fmt: skip


# ---- the year --------------------------------------------------------------------------------


class Year:
    """One seeded year of work."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.kitchen = shop.kitchen
        self.dice = Random(YEAR)
        # Of its own, so that what is cooled and read moves nothing else of the year.
        self.other_dice = Random(YEAR + 1)
        self.hot: list[tuple[str, Instant]] = []
        self.read: set[str] = set()
        self.standing: list[tuple[str, int]] = []  # a code, and its age in days
        with shop.db.reading() as conn:
            self.known = {each.name: each for each in items(self.kitchen, conn)}

    def clock(self, day: date, hour: int) -> None:
        wall = datetime(day.year, day.month, day.day, hour, self.dice.randrange(60))
        self.shop.hand.now = max(from_local(wall, WHERE), self.shop.hand.now)

    @property
    def now(self) -> Instant:
        return self.shop.hand.now

    @property
    def cook(self) -> str:
        return self.dice.choice(COOKS)

    def work(self) -> None:
        day = date(YEAR, 1, 1)
        self.clock(day, 5)
        found_right(self.kitchen, "JR")  # set up in June, it opens on New Year's Day
        for name, (_, cost) in MENU.items():
            self.price(self.known[name], cost)
        while day.year == YEAR:
            self.clock(day, 7)
            # Before the notes of last night are written down: they keep last night's price.
            if self.dice.random() < 0.3:
                name = self.dice.choice(list(MENU))
                self.price(self.known[name], self.dearer(MENU[name][1]))
            self.morning()
            self.clock(day, 15)
            for _ in range(self.dice.randint(2, 3)):
                self.make()
            self.clock(day, 22)
            self.cool()
            self.evening()
            self.standing = [(code, age + 1) for code, age in self.standing]
            day += timedelta(days=1)

    def dearer(self, cost: str) -> str:
        if not cost:
            return ""
        number, _, rest = cost.partition(" ")
        more = Decimal(number) * self.dice.randint(90, 130) / 100
        return f"{more.quantize(Decimal('0.001'))} {rest}"

    def price(self, item: Item, cost: str) -> None:
        price = read_cost(cost) if cost else None
        add_item(self.kitchen, "jr", ev.ItemAdded(item.name, item.fact.category, cost=price))

    def make(self) -> None:
        name = self.dice.choice(list(MENU))
        amount = self.dice.choice(MENU[name][0])
        bought = self.dice.random() < 0.1
        batch = Batch(
            item=self.known[name], kind="received" if bought else "prepared", at=self.now,
            containers=self.dice.randint(1, 5), unit=self.kitchen.unit("walk-in"),
            amount=read_amount(amount) if amount else None,
        )  # fmt: skip
        hot = not bought and name == "chicken stock" and self.other_dice.random() < 0.6
        if hot:
            batch = replace(batch, off_heat_at=self.now)
        codes = [row.code for row in record(self.kitchen, self.cook, batch).rows]
        if amount and self.dice.random() < 0.06:
            right = correct.with_amount(read_amount(self.dice.choice(MENU[name][0]) or "2 l"))
            correct.correct_making(self.kitchen, "jr", codes[0], right, None, "weighed again")
        self.standing += [(code, 0) for code in codes]
        if hot:
            self.hot.append((codes[0], self.now))

    def cool(self) -> None:
        """The readings of the afternoon: in time, too late, or some that are missing."""
        for code, began in self.hot:
            for minutes, degrees in self.other_dice.choice(COOLINGS):
                moment = Instant(began + minutes * MINUTE)
                log_cooling(self.kitchen, "MK", code, moment, read_temperature(degrees))
        self.hot = []

    def probe(self, code: str) -> None:
        """Some food is read in the morning, some of it too warm."""
        name = self.shop.row(code).item_name
        if name != "chicken stock" and code not in self.read and self.other_dice.random() < 0.04:
            self.read.add(code)
            degrees = self.other_dice.choice(["38F", "41F", "41.5F", "45F"])
            handle.reading(self.kitchen, "MK", code, self.now, read_temperature(degrees))

    def morning(self) -> None:
        """The walk-in: what is old goes, some on a note of last night."""
        for code, age in list(self.standing):
            if age:
                self.probe(code)
            if age >= 5 or (age and self.dice.random() < 0.06):
                late = self.dice.random() < 0.1
                self.bin(code, "date" if age >= 5 else self.dice.choice(list(REASONS)), late=late)

    def evening(self) -> None:
        for code, _ in list(self.standing):
            roll = self.dice.random()
            if roll < 0.05:
                unit = self.dice.choice(["reach-in", "walk-in"])
                handle.move(self.kitchen, self.cook, code, self.now, self.kitchen.unit(unit))
            elif roll < 0.15:
                self.use(code, part=True)
            elif roll < 0.50:
                self.use(code)
            elif roll < 0.55:
                self.bin(code, "over-made", part=True)

    def some(self, code: str, *, part: bool) -> str:
        """An amount as a cook would say it, or nothing."""
        row = self.shop.row(code)
        if not row.amount or not (part or self.dice.random() < 0.15):
            return "300 g" if part else ""
        number, _, unit = row.amount.partition(" ")
        much = Decimal(number) * self.dice.randint(10, 80) / 100
        return f"{max(much, Decimal('0.01')).quantize(Decimal('0.001'))} {unit}"

    def use(self, code: str, *, part: bool = False) -> None:
        how = self.dice.choice(
            ["used", "used", "used", "sold", "staff meal", "donated", "returned"]
        )
        said = self.some(code, part=part)
        amount = read_amount(said) if said else None
        with suppress(Mistake):  # what was made here is not returned, what is unfit not used
            handle.end(self.kitchen, self.cook, code, self.now, how, amount, part=part)  # type: ignore[arg-type]
            if not part:
                self.gone(code, "used")

    def bin(self, code: str, reason: str, *, part: bool = False, late: bool = False) -> None:
        when = Instant(self.now - 8 * HOUR) if late else self.now
        said = self.some(code, part=part)
        amount = read_amount(said) if said else None
        with suppress(Mistake):  # too early: it was not there last night
            discard.discard(
                self.kitchen, self.cook, code, when, reason, amount, "as found", part=part
            )
            if not part:
                self.gone(code, "discarded")

    def gone(self, code: str, kind: str) -> None:
        """Off the list, unless the entry is taken back: then it is still there."""
        if self.dice.random() >= 0.05:
            self.standing = [pair for pair in self.standing if pair[0] != code]
            return
        with closing(sqlite3.connect(self.shop.path)) as conn:
            query = "SELECT max(number) FROM entry WHERE subject = ? AND kind = ?"
            (number,) = conn.execute(query, (code, kind)).fetchone()
        correct.void(self.kitchen, "jr", number, "the wrong tub")


@pytest.fixture(scope="module")
def worked(
    set_up_once: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Shop, "Recount"]]:
    path = Path(shutil.copy(set_up_once, tmp_path_factory.mktemp("year") / "kitchen.db"))
    db = open_database(path, must_exist=True)
    hand = Hand()
    shop = Shop(db, path, hand, open_kitchen(db, hand.clock, hand.draw))
    with db.engine.connect() as conn:
        # Thousands of jobs that need not outlive a power cut.
        conn.exec_driver_sql("PRAGMA journal_mode = MEMORY")
        conn.exec_driver_sql("PRAGMA synchronous = OFF")
    Year(shop).work()
    yield shop, Recount(path)
    db.close()


CATEGORIES = {
    path.stem: tomllib.loads(path.read_text("utf-8"))
    for path in (Path(__file__).parents[2] / "shared" / "categories").glob("*.toml")
}


# ---- the recount -----------------------------------------------------------------------------

EXACT = pl.Decimal(38, 16)


def in_base(text: str) -> tuple[str, Decimal]:
    """``"2.5 lb"`` as what it adds up as, and how much of that."""
    number, _, unit = text.partition(" ")
    key, factor = FACTORS[unit]
    return key, Decimal(number) * Decimal(factor)


class Recount:
    """The raw entries, counted anew; nothing of the program is asked."""

    def __init__(self, path: Path) -> None:
        with closing(sqlite3.connect(path)) as conn:
            found = conn.execute(
                'SELECT number, kind, at, recorded_at, "by", subject, body FROM entry'
            ).fetchall()
        names = ("number", "kind", "at", "recorded_at", "by", "subject", "body")
        rows: list[dict[str, Any]] = [dict(zip(names, row, strict=True)) for row in found]
        self.head = max(row["number"] for row in rows)
        for row in rows:
            row["body"] = json.loads(row["body"])
        self.void = {
            row["body"]["entry"]: row["body"]["why"] for row in rows if row["kind"] == "voided"
        }
        self.rows = [row for row in rows if row["number"] not in self.void]
        self.taken_back = [row for row in rows if row["number"] in self.void]
        self.about: dict[str, list[dict[str, Any]]] = defaultdict(list)
        self.making: dict[str, dict[str, Any]] = {}
        self.prices: dict[str, list[dict[str, Any]]] = defaultdict(list)
        for row in sorted(self.rows, key=lambda row: (row["at"], row["number"])):
            self.about[row["subject"]].append(row)
            if row["kind"] in ("prepared", "received"):
                self.making.update((code, row["body"]) for code in row["body"]["containers"])
            if row["kind"] == "item":
                self.prices[row["body"]["name"]].append(row)
        ends = [row for row in self.rows if row["kind"] in ("discarded", "used")]
        self.ends = pl.DataFrame([self.end(row) for row in ends], schema=SCHEMA, orient="row")
        rests = [(row, self.rest(row)) for row in ends]
        self.rests = pl.DataFrame(
            [
                {
                    "day": local_day(row["at"]),
                    "item": self.item(row),
                    "key": rest[0],
                    "base": rest[1],
                }
                for row, rest in rests
                if rest is not None
            ],
            schema={"day": pl.Date, "item": pl.String, "key": pl.String, "base": EXACT},
        )

    def batches(self, first: date, last: date) -> dict[str, dict[str, Any]]:
        """The batches made here in the period, as they were last corrected."""
        made = [row for row in self.rows if row["kind"] == "prepared"]
        return {
            row["subject"]: row for row in made if first <= local_day(row["at"]) <= last
        }  # fmt: skip

    def stands(self, batch: dict[str, Any]) -> str:
        """Food Code 2022, 3-501.14(A): 135 to 70 °F within 2 hours, to 41 °F within 6 in all. The
        clock began between coming off the heat and the first reading below 135 °F.
        """
        subjects = (batch["subject"], *batch["body"]["containers"])
        about = [row for name in subjects for row in self.about[name]]
        if not any(row["kind"] == "off-heat" for row in about):
            heated = CATEGORIES[batch["body"]["food"]["category"]]["heat_treated"]
            return "not-logged" if heated else ""
        began = min(row["at"] for row in about if row["kind"] == "off-heat")
        read = sorted(
            (row["at"], Decimal(row["body"]["temperature"].split()[0]))
            for row in about
            if row["kind"] == "cooling"
        )
        by = min((at for at, degrees in read if degrees < 135), default=2**60)
        found = set()
        for limit, hours in ((70, 2), (41, 6)):
            reached = [at for at, degrees in read if degrees <= limit]
            above = [at for at, degrees in read if degrees > limit]
            if reached and reached[0] <= began + hours * HOUR:
                found.add("met")
            elif above and above[-1] >= by + hours * HOUR:
                found.add("missed")
            else:
                found.add("unproven")
        return next(word for word in ("missed", "unproven", "met") if word in found)

    def item(self, row: dict[str, Any]) -> str:
        return str(self.making[row["subject"]]["food"]["item"])

    def end(self, row: dict[str, Any]) -> dict[str, Any]:
        body = row["body"]
        binned = row["kind"] == "discarded"
        amount = in_base(body["amount"]) if "amount" in body else (None, None)
        cost = body.get("cost")
        assert (cost and (Decimal(cost["number"]), cost.get("currency", ""))) == (
            self.worth(row) if binned else None
        ), row
        return {
            "day": local_day(row["at"]),
            "code": row["subject"],
            "item": self.item(row),
            "how": "discarded" if binned else body.get("ended_as", "used"),
            "reason": REASONS[body["reason"]] if binned else "",
            "cook": row["by"],
            "unit": self.unit(row),
            "late": local_day(row["recorded_at"]) > local_day(row["at"]),
            "part": body.get("part", False),
            "key": amount[0],
            "base": amount[1],
            "cents": int(Decimal(cost["number"]) * 100) if cost else None,
            "currency": cost.get("currency", "") if cost else None,
        }

    def unit(self, row: dict[str, Any]) -> str:
        moves = [
            each["body"]["unit"]
            for each in self.about[row["subject"]]
            if each["kind"] == "moved" and (each["at"], each["number"]) < (row["at"], row["number"])
        ]
        return str(moves[-1] if moves else self.making[row["subject"]]["unit"])

    def worth(self, row: dict[str, Any]) -> tuple[Decimal, str] | None:
        """Amount times the price in force when it was binned, to the cent."""
        prices = [each for each in self.prices[self.item(row)] if each["at"] <= row["at"]]
        cost = prices[-1]["body"].get("cost") if prices else None
        if cost is None or "amount" not in row["body"]:
            return None
        key, base = in_base(row["body"]["amount"])
        per_key, per = FACTORS[cost["per"]]
        if key != per_key:
            return None
        with localcontext() as exact:
            exact.prec = 60
            money = Decimal(cost["number"]) * base / Decimal(per)
            return money.quantize(Decimal("0.01"), ROUND_HALF_EVEN), cost.get("currency", "")

    def rest(self, row: dict[str, Any]) -> tuple[str, Decimal] | None:
        """What must have been in a tub beyond what was said when it was emptied: its share of
        the batch, less the parts, to four decimals of the unit it was made in.
        """
        made = self.making[row["subject"]]
        if row["body"].get("part") or "amount" not in row["body"] or "amount" not in made:
            return None
        number, _, unit = made["amount"].partition(" ")
        key, factor = FACTORS[unit]
        left = round(Decimal(number) / len(made["containers"]), 4)
        parts = [each for each in self.about[row["subject"]] if each["body"].get("part")]
        for each in [*parts, row]:
            other, base = in_base(each["body"]["amount"])
            if other != key:
                return None
            left = round(left - base / Decimal(factor), 4)
        return (key, left * Decimal(factor)) if left > 0 else None

    def binned(self, first: date, last: date) -> pl.DataFrame:
        return self.during(first, last).filter(pl.col("how") == "discarded")

    def during(self, first: date, last: date) -> pl.DataFrame:
        return self.ends.filter(pl.col("day").is_between(first, last))


SCHEMA: dict[str, Any] = {
    "day": pl.Date, "code": pl.String, "item": pl.String, "how": pl.String, "reason": pl.String,
    "cook": pl.String, "unit": pl.String, "late": pl.Boolean, "part": pl.Boolean,
    "key": pl.String, "base": EXACT, "cents": pl.Int64, "currency": pl.String,
}  # fmt: skip


def local_day(at: int) -> date:
    return datetime.fromtimestamp(at / 1000, WHERE).date()


def sums(frame: pl.DataFrame) -> dict[str, Decimal]:
    known = frame.filter(pl.col("key").is_not_null())
    return dict(known.group_by("key").agg(pl.col("base").sum()).iter_rows())


def counted(frame: pl.DataFrame) -> dict[str, Any]:
    """One line of totals, as polars adds them up."""
    cents = frame.filter(pl.col("cents").is_not_null()).group_by("currency")
    return {
        "containers": frame["code"].n_unique(),
        "discards": frame.height,
        "sums": sums(frame),
        "unknown": frame["key"].null_count(),
        "cost": {
            name: Decimal(each) / 100 for name, each in cents.agg(pl.sum("cents")).iter_rows()
        },
        "unpriced": frame["cents"].null_count(),
    }


def as_counted(total: Total) -> dict[str, Any]:
    return {
        "containers": total.containers, "discards": total.discards, "sums": total.sums,
        "unknown": total.unknown, "cost": total.cost, "unpriced": total.unpriced,
    }  # fmt: skip


# ---- the checks ------------------------------------------------------------------------------

PERIODS = {
    "the year": (date(YEAR, 1, 1), date(YEAR, 12, 31)),
    "march, with the night of the clocks": (date(YEAR, 3, 1), date(YEAR, 3, 31)),
    "one day": (date(YEAR, 7, 14), date(YEAR, 7, 14)),
}
Worked = tuple[Shop, Recount]


def audited(worked: Worked, period: str) -> tuple[Audit, Recount, tuple[date, date]]:
    shop, recount = worked
    first, last = PERIODS[period]
    return audit(shop.kitchen, first, last), recount, (first, last)


def test_it_was_a_year_worth_counting(worked: Worked) -> None:
    """Were one of these missing, the checks below would check less than they say."""
    _, recount = worked
    frame = recount.ends
    assert len(recount.making) > 2500
    assert set(frame["reason"]) == {*REASONS.values(), ""}
    assert {"used", "sold", "staff meal", "donated", "returned", "discarded"} == set(frame["how"])
    assert set(frame["unit"]) == {"walk-in", "reach-in"}
    binned = frame.filter(pl.col("how") == "discarded")
    for many in (
        binned.filter("late"), binned.filter("part"), binned.filter(pl.col("key").is_null()),
        binned.filter(pl.col("cents").is_null()), recount.rests, recount.taken_back,
    ):  # fmt: skip
        assert len(many) > 20
    assert set(binned["currency"]) == {"EUR", "USD", None}
    kinds = Counter(row["kind"] for row in recount.taken_back)
    assert kinds["discarded"] > 20
    assert kinds["prepared"] > 20


@pytest.mark.parametrize("period", PERIODS)
def test_the_totals_are_those_of_the_raw_entries(worked: Worked, period: str) -> None:
    found, recount, days = audited(worked, period)
    frame = recount.binned(*days)
    assert as_counted(found.overall) == counted(frame)
    for by, totals in (
        ("reason", found.by_reason), ("item", found.by_item), ("cook", found.by_cook),
        ("unit", found.by_unit),
    ):  # fmt: skip
        expected = {name: counted(part) for (name,), part in frame.group_by(by)}
        assert {total.name: as_counted(total) for total in totals} == expected
    assert sum(each.late for each in found.discards) == frame["late"].sum()
    assert found.entries == recount.head


@pytest.mark.parametrize("period", PERIODS)
def test_what_became_of_the_food_is_that_of_the_raw_entries(worked: Worked, period: str) -> None:
    found, recount, days = audited(worked, period)
    frame = recount.during(*days)
    rests = recount.rests.filter(pl.col("day").is_between(*days))
    for name, balance in {
        **{each.name: each for each in found.balances},
        "": found.balance,
    }.items():
        own = frame.filter(pl.col("item") == name) if name else frame
        left = rests.filter(pl.col("item") == name) if name else rests
        ended = {how: sums(part) for (how,), part in own.group_by("how") if sums(part)}
        ended |= {"not said": sums(left)} if left.height else {}
        assert balance.ended == ended
        whole: Counter[str] = Counter()
        for each in ended.values():
            whole.update(each)
        for key, share in balance.waste.items():
            binned = ended.get("discarded", {}).get(key, Decimal(0))
            assert abs(share - binned / Decimal(whole[key])) <= Decimal("0.00005")
    whole_ends = frame.filter(~pl.col("part")).group_by("how").len()
    assert dict(found.ended) == {"discarded": 0, **dict(whole_ends.iter_rows())}


@pytest.mark.parametrize("period", PERIODS)
def test_coolings_and_holds_are_those_of_the_raw_entries(worked: Worked, period: str) -> None:
    found, recount, days = audited(worked, period)
    expected = {
        name: stands for name, batch in recount.batches(*days).items()
        if (stands := recount.stands(batch))
    }  # fmt: skip
    assert {each.batch: each.stands for each in found.coolings} == expected
    warm = {
        row["subject"]: row["at"]
        for row in recount.rows
        if row["kind"] == "reading" and days[0] <= local_day(row["at"]) <= days[1]
        and Decimal(row["body"]["temperature"].split()[0]) > 41
    }  # fmt: skip
    assert {each.row.code: each.at for each in found.holds} == warm
    ends = {
        row["subject"]: row["body"].get("ended_as", "discarded")
        for row in recount.rows
        if row["kind"] in ("used", "discarded") and not row["body"].get("part")
    }
    assert {each.row.code: each.outcome for each in found.holds} == {
        code: ends.get(code, "on hold") for code in warm
    }
    if period == "the year":
        counts = Counter(expected.values())
        assert min(counts[word] for word in ("met", "missed", "unproven", "not-logged")) > 5
        assert len(warm) > 20


def test_what_was_taken_back_is_shown_and_counts_nowhere(worked: Worked) -> None:
    found, recount, _ = audited(worked, "the year")
    void = {row["number"]: row for row in recount.taken_back if row["kind"] == "discarded"}
    assert {each.number: each.voided for each in found.voided} == {
        number: recount.void[number] for number in void
    }
    assert not {each.number for each in found.discards} & set(void)


def test_the_months_add_up_to_the_year(worked: Worked) -> None:
    shop, _ = worked
    whole = audit(shop.kitchen, *PERIODS["the year"]).overall
    added: Counter[str] = Counter()
    for month in range(1, 13):
        last = (date(YEAR, month, 28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)
        part = audit(shop.kitchen, date(YEAR, month, 1), last).overall
        added.update({**part.sums, **part.cost, "discards": part.discards})
    assert dict(added) == {**whole.sums, **whole.cost, "discards": whole.discards}


def test_what_is_on_hand_after_the_year_is_what_the_journal_says(worked: Worked) -> None:
    shop, _ = worked
    assert shop.everything() == shop.replayed()
