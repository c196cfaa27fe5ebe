"""How food ended in a period: binned, used, sold, eaten by the staff, donated, returned.

Each end is counted apart, so that the share that was wasted is true: of all that ended, in the
same measure, how much was binned. What went on in another container (split, poured together,
made into a dish) has not ended, and is counted there.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, alike, in_unit_of, read_amount, totals
from holdlog.core.chain import Entry
from holdlog.core.costs import Money, money_totals
from holdlog.core.moments import Instant, local_date
from holdlog.journal import entries as journal_entries
from holdlog.journal import kinship
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.records import LiveRecords, Reader
from holdlog.kitchen.standing import Standing, standing
from holdlog.kitchen.whereabouts import unit_of

DISCARDED = "discarded"
# Of a tub that was emptied with less in it than had been written: taken out, nobody said how.
NOT_SAID = "not said"
GOES_ON = ("made into", "poured together", "split")
_INTO_A_UNIT = (ev.Moved, ev.Frozen, ev.Thawed, ev.Opened)
_TELLS_MORE = ("voided", *(ev.KIND_OF[fact] for fact in _INTO_A_UNIT))


@dataclass(frozen=True, slots=True)
class Ended:
    """One end of a container, or of ``part`` of what was in it; ``code`` is empty for food that
    a round found without a label.

    ``how`` is "discarded" (then there is a ``reason``) or another way to end. ``amount`` None:
    nobody said, and nothing was known. ``cost`` None: not discarded, or not known. ``rest`` is
    what should have been in it beyond ``amount``. ``voided``: why the entry was taken back; it
    counts nowhere then.
    """

    number: int
    at: Instant
    code: str
    item: str
    unit: str
    how: str
    reason: str
    amount: Amount | None
    cost: Money | None
    by: str
    note: str
    late: bool
    part: bool
    rest: Amount | None = None
    voided: str = ""


@dataclass(frozen=True, slots=True)
class Total:
    """A line of totals: how many containers were binned, wholly or in part, in how many
    ``discards``, and sums by what can be added (g, ml, portion …) and by currency.

    ``unknown`` discards carry no amount, ``unpriced`` ones no cost: they are in no such sum.
    """

    name: str
    containers: int
    sums: dict[str, Decimal]
    unknown: int
    discards: int
    cost: dict[str, Decimal]
    unpriced: int


@dataclass(frozen=True, slots=True)
class Balance:
    """What became of all that ended of an item: sums by how it ended, and how many ends of each
    are of ``unknown`` amount and in no sum.
    """

    name: str
    ended: dict[str, dict[str, Decimal]]
    unknown: dict[str, int]

    @property
    def waste(self) -> dict[str, Decimal]:
        """The share that was binned, 0 to 1 with four decimals, of each measure."""
        whole: dict[str, Decimal] = defaultdict(Decimal)
        for sums in self.ended.values():
            for key, base in sums.items():
                whole[key] += base
        binned = self.ended.get(DISCARDED, {})
        return {
            key: round(binned.get(key, Decimal(0)) / base, 4) for key, base in sorted(whole.items())
        }


def ended(kitchen: Kitchen, conn: Connection, since: Instant, until: Instant) -> list[Ended]:
    """Every end from ``since`` to just before ``until``, by when it happened; voided ones too."""
    kinds = [DISCARDED, "used"]
    found = journal_entries.of_kinds(conn, kitchen.site, kinds, since=since, until=until)
    codes = {one.subject for one in found}
    # Most tubs were never moved and nothing about them was taken back: their story is not read.
    telling = kinship.about(conn, kitchen.site, codes, _TELLS_MORE)
    about: dict[str, list[Entry]] = defaultdict(list)
    for entry in journal_entries.of_subjects(conn, kitchen.site, telling):
        about[entry.subject].append(entry)
    counts = {code: standing(entries, kitchen.where) for code, entries in about.items()}
    rows = kinship.containers(conn, kitchen.site, codes)
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    ends = []
    for entry in sorted(found, key=lambda each: (each.at, each.number)):
        row = rows.get(entry.subject)
        if row is None:
            continue
        own = counts.get(row.code)
        voided = _why_voided(entry, own, about[row.code]) if own is not None else ""
        unit = _unit_then(reader, row, own or (), entry)
        end = _end(entry, row, unit, voided, kitchen)
        if end is not None:
            ends.append(end)
    ends += _without_label(kitchen, conn, since, until)
    return sorted(ends, key=lambda each: (each.at, each.number))


def _without_label(
    kitchen: Kitchen, conn: Connection, since: Instant, until: Instant
) -> list[Ended]:
    """What rounds found without a label: binned by rule, and of no container (``code`` empty)."""
    kind = ev.KIND_OF[ev.RoundFound]
    found = journal_entries.of_kinds(conn, kitchen.site, [kind], since=since, until=until)
    about = journal_entries.of_subjects(conn, kitchen.site, {one.subject for one in found})
    voids = [fact for one in about if isinstance(fact := fact_of(one), ev.Voided)]
    why = {fact.entry: fact.why for fact in voids}
    return [
        Ended(
            entry.number, Instant(entry.at), "", fact.what, fact.unit, DISCARDED, "no-label",
            fact.amount, None, entry.by, "", late=_late(entry, kitchen), part=False,
            voided=why.get(entry.number, ""),
        )
        for entry in found
        if isinstance(fact := fact_of(entry), ev.RoundFound)
    ]  # fmt: skip


def _end(entry: Entry, row: ContainerRow, unit: str, voided: str, kitchen: Kitchen) -> Ended | None:
    fact = fact_of(entry)
    late = _late(entry, kitchen)
    match fact:
        case ev.Discarded():
            how, reason, cost, note = DISCARDED, fact.reason, fact.cost, fact.note
        case ev.Used():
            how, reason, cost, note = fact.ended_as, "", None, ""
        case _:
            return None
    rest = None if fact.part or how in GOES_ON else _rest(row.amount, fact.amount)
    return Ended(
        entry.number, entry.at, row.code, row.item_name, unit, how, reason, fact.amount, cost,
        entry.by, note, late, fact.part, rest, voided,
    )  # fmt: skip


def _late(entry: Entry, kitchen: Kitchen) -> bool:
    """Whether it was written on a later day than it happened on."""
    return local_date(entry.recorded_at, kitchen.where) > local_date(entry.at, kitchen.where)


# Containers of one batch hold alike, and most end so.
@lru_cache(maxsize=1024)
def _rest(written: str, amount: Amount | None) -> Amount | None:
    """What should have been in a container, as ``written``, beyond the amount that was said when
    it ended.
    """
    holds = read_amount(written) if written else None
    if holds is None or amount is None or not alike(holds, amount):
        return None
    return in_unit_of(holds, holds.base - amount.base)


def _why_voided(entry: Entry, counts: Sequence[Standing], about: Iterable[Entry]) -> str:
    if any(each.entry.number == entry.number for each in counts):
        return ""
    facts = (fact_of(each) for each in about if each.kind == "voided")
    return next(
        fact.why for fact in facts if isinstance(fact, ev.Voided) and fact.entry == entry.number
    )


def _unit_then(reader: Reader, row: ContainerRow, counts: Iterable[Standing], entry: Entry) -> str:
    """Where it stood when it ended. Only what moved after that has to be read in full."""
    order = entry.at, entry.number
    for each in counts:
        moved = isinstance(each.fact, _INTO_A_UNIT) and each.fact.unit
        if moved and each.order > order:
            return unit_of(reader, reader.container(row.code), before=order)
    return row.unit


def total(name: str, binned: Iterable[Ended]) -> Total:
    """One line of totals over discards."""
    members = list(binned)
    amounts = [each.amount for each in members if each.amount is not None]
    costs = [each.cost for each in members if each.cost is not None]
    return Total(
        name, len({each.code or each.number for each in members}), totals(amounts),
        len(members) - len(amounts), len(members), money_totals(costs), len(members) - len(costs),
    )  # fmt: skip


def totals_by(name: Callable[[Ended], str], binned: Iterable[Ended]) -> tuple[Total, ...]:
    """A line of totals for each name, the one with the most containers first."""
    lines = [total(group, members) for group, members in _grouped(name, binned).items()]
    return tuple(sorted(lines, key=lambda each: (-each.containers, each.name)))


def balance(name: str, ends: Iterable[Ended]) -> Balance:
    """What became of all that ended."""
    amounts: dict[str, list[Amount]] = defaultdict(list)
    unknown: dict[str, int] = defaultdict(int)
    for each in ends:
        if each.rest is not None:
            amounts[NOT_SAID].append(each.rest)
        if each.how in GOES_ON:
            continue
        if each.amount is None:
            unknown[each.how] += 1
        else:
            amounts[each.how].append(each.amount)
    return Balance(name, {how: totals(some) for how, some in amounts.items()}, dict(unknown))


def show_waste(balance: Balance) -> str:
    """What was binned of all that ended: ``12.5 %``, or one for each measure."""
    measures = {"g": "by weight", "ml": "by volume"}
    alone = len(balance.waste) == 1
    return ", ".join(
        f"{share * 100:.1f} %" + ("" if alone else f" {measures.get(key, f'by {key}')}")
        for key, share in balance.waste.items()
    )


def balances(ends: Iterable[Ended]) -> tuple[Balance, ...]:
    """What became of each item of which anything ended, by name."""
    groups = _grouped(lambda each: each.item, (one for one in ends if one.how not in GOES_ON))
    return tuple(balance(item, groups[item]) for item in sorted(groups))


def _grouped(name: Callable[[Ended], str], ends: Iterable[Ended]) -> dict[str, list[Ended]]:
    groups: dict[str, list[Ended]] = defaultdict(list)
    for each in ends:
        groups[name(each)].append(each)
    return groups
