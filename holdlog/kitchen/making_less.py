"""Making less: what became of each batch of an item, and how large a batch its history asks for.

What was wanted of a batch is what was used of it. Where some was binned for its date or because
too much was made, that is just how much was wanted. Where nothing was left, or the rest was lost
for another reason (too warm, dropped, recalled), at least so much was.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from statistics import median_low

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, alike
from holdlog.core.chain import Entry
from holdlog.core.costs import Money, worth
from holdlog.core.demand import Size, Wanted, batch_size, left_over, product_limit
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant, local_date, start_of_day
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.engine import Connection
from holdlog.kitchen.items import cost_in_force, find_item, items
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.project import slug
from holdlog.kitchen.standing import standing

# Below these counts nothing is recommended. The house's own figures: with fewer, the interval
# spans about all that was ever made.
BATCHES, KNOWN = 8, 3
# Left over because too much was made. Whatever else was binned might have been wanted.
TOO_MUCH = ("date", "over-made")


@dataclass(frozen=True, slots=True)
class BatchPast:
    """One batch that has ended: made, used, and binned for which reasons, in g, ml or pieces.

    ``left``: some of it was binned for its date or as too much, so that no more was wanted.
    """

    batch: str
    day: date
    made: Decimal
    used: Decimal
    binned: dict[str, Decimal]

    @property
    def left(self) -> bool:
        """Whether more was made than was wanted."""
        return any(self.binned.get(reason) for reason in TOO_MUCH)


@dataclass(frozen=True, slots=True)
class Advice:
    """How large a batch is enough in the share of cases asked for; in g, ml or pieces.

    ``usual`` is the batch in the middle, ``left_now`` what is left of one on average and
    ``left_then`` what would be of one of ``size.at``; ``saved`` what that saves a batch.
    """

    size: Size
    usual: Decimal
    left_now: Decimal
    left_then: Decimal | None
    saved: Money | None


@dataclass(frozen=True, slots=True)
class ItemPast:
    """The batches of an item, oldest first, in the measure ``adds_as`` (g, ml, portion …).

    ``advice`` None: not enough history. ``left_out``: batches that tell nothing, by reason.
    """

    item: str
    adds_as: str
    batches: tuple[BatchPast, ...]
    left_out: dict[str, int]
    advice: Advice | None

    @property
    def ran_out(self) -> int:
        """How many batches left nothing that was too much: their demand is not known."""
        return sum(not each.left for each in self.batches)

    @property
    def enough(self) -> bool:
        """Whether there are batches enough to say anything."""
        known = len(self.batches) - self.ran_out
        return len(self.batches) >= BATCHES and known >= KNOWN


def making_less(
    kitchen: Kitchen, first: date, last: date, share: float, *, item: str = ""
) -> list[ItemPast]:
    """Each item's batches made from ``first`` through ``last``, the most wasted first.

    ``share`` (over 0, under 1) is in how many cases a batch is to be enough. Raises
    ``Mistake``: ``bad-period``, ``bad-share``, ``no-item``.
    """
    if last < first:
        raise Mistake("bad-period", f"{last} lies before {first}.", "Give --from, then --to.")
    if not 0 < share < 1:
        raise Mistake(
            "bad-share",
            f"{share:g} is no share of days.",
            "Give a number between 0 and 1: 0.9 is enough on nine days of ten.",
        )
    since = start_of_day(first, kitchen.where)
    until = start_of_day(last + timedelta(days=1), kitchen.where)
    with kitchen.db.reading() as conn:
        wanted = find_item(items(kitchen, conn), item).name if item else ""
        groups: dict[str, list[_Read]] = defaultdict(list)
        for name, read in _batches(kitchen, conn, since, until, wanted):
            groups[name].append(read)
        found = [_item(kitchen, conn, name, reads, share, until) for name, reads in groups.items()]
    return sorted(found, key=lambda each: (-_waste(each), each.item))


_Read = tuple[str, BatchPast | None, str]
"""What a batch adds up as and its past; or why it is left out."""


def _waste(each: ItemPast) -> Decimal:
    """The share that was binned of all that was made."""
    made = sum((one.made for one in each.batches), Decimal(0))
    binned = sum((sum(one.binned.values(), Decimal(0)) for one in each.batches), Decimal(0))
    return binned / made if made else Decimal(0)


def _batches(
    kitchen: Kitchen, conn: Connection, since: Instant, until: Instant, item: str
) -> Iterable[tuple[str, _Read]]:
    """The batches made in the period, by their number, each with the name of its item."""
    kind = ev.KIND_OF[ev.Prepared]
    made = journal_entries.of_kinds(conn, kitchen.site, [kind], since=since, until=until)
    about = _by_subject(conn, kitchen, {entry.subject for entry in made})
    for batch in dict.fromkeys(entry.subject for entry in made):
        makings = [
            each for each in standing(about[batch], kitchen.where)
            if isinstance(each.fact, ev.Prepared) and since <= each.entry.at < until
        ]  # fmt: skip
        if not makings:
            continue  # taken back, or made on another day by a correction
        fact, at = makings[-1].fact, makings[-1].entry.at
        if not isinstance(fact, ev.Prepared) or fact.food is None:
            continue
        if item in ("", fact.food.item):
            yield fact.food.item, _past(kitchen, conn, batch, at, fact.amount)


def _by_subject(
    conn: Connection, kitchen: Kitchen, subjects: Iterable[str]
) -> dict[str, list[Entry]]:
    found: dict[str, list[Entry]] = defaultdict(list)
    for entry in journal_entries.of_subjects(conn, kitchen.site, subjects):
        found[entry.subject].append(entry)
    return found


def _past(
    kitchen: Kitchen, conn: Connection, batch: str, at: Instant, made: Amount | None
) -> _Read:
    rows = on_hand.of_batch(conn, kitchen.site, batch)
    if made is None:
        return "", None, "nobody said how much was made"
    if any(row.ended_at is None for row in rows) or not rows:
        return "", None, "still on hand"
    binned: dict[str, Decimal] = defaultdict(Decimal)
    about = _by_subject(conn, kitchen, [row.code for row in rows])
    facts = [each.fact for own in about.values() for each in standing(own, kitchen.where)]
    for fact in facts:
        if isinstance(fact, ev.ToppedUp) or getattr(fact, "ended_as", "") == "poured together":
            return "", None, "poured together with another"
        if isinstance(fact, ev.Discarded):
            if fact.amount is None or not alike(fact.amount, made):
                return "", None, "nobody said how much was binned"
            binned[fact.reason] += fact.amount.base
    # Shares are kept to four decimals, so that the parts may come to a hair more than the whole.
    used = max(made.base - sum(binned.values(), Decimal(0)), Decimal(0))
    day = local_date(at, kitchen.where)
    return made.adds_as, BatchPast(batch, day, made.base, used, dict(binned)), ""


def _item(
    kitchen: Kitchen,
    conn: Connection,
    name: str,
    reads: list[_Read],
    share: float,
    until: Instant,
) -> ItemPast:
    usual = Counter(key for key, past, _ in reads if past is not None).most_common(1)
    adds_as = usual[0][0] if usual else ""
    batches = [past for key, past, _ in reads if past is not None and key == adds_as]
    left_out = Counter(why for _, past, why in reads if past is None)
    left_out["in another measure"] = len(reads) - len(batches) - left_out.total()
    batches.sort(key=lambda each: (each.day, int(each.batch[1:])))
    past = ItemPast(name, adds_as, tuple(batches), dict(+left_out), None)
    if not past.enough:
        return past
    return replace(past, advice=_advice(kitchen, conn, past, share, until))


def _advice(
    kitchen: Kitchen, conn: Connection, past: ItemPast, share: float, until: Instant
) -> Advice:
    steps = product_limit(Wanted(each.used, not each.left) for each in past.batches)
    size = batch_size(steps, share)
    middle = median_low(each.made for each in past.batches)
    surplus = (each.binned.get(reason, Decimal(0)) for each in past.batches for reason in TOO_MUCH)
    now = sum(surplus, Decimal(0)) / len(past.batches)
    then = Decimal(round(left_over(steps, size.at), 3)) if size.at is not None else None
    saved = None
    price = cost_in_force(kitchen, conn, slug(past.item), until)
    if price is not None and then is not None and now > then:
        saved = worth(price, Amount(round(now - then, 3), past.adds_as))
    return Advice(size, middle, now, then, saved)
