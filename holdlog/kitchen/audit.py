"""The audit of a period: what was discarded, why, by whom, and what was corrected."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, totals
from holdlog.core.chain import Entry
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant, local_date, start_of_day
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.kitchen.discard import REASONS
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.records import standing
from holdlog.kitchen.telling import tell


@dataclass(frozen=True, slots=True)
class Binned:
    """One discard of the period. ``amount`` None: nobody said, and nothing was known."""

    number: int
    at: Instant
    code: str
    item: str
    reason: str
    amount: Amount | None
    by: str
    note: str
    late: bool


@dataclass(frozen=True, slots=True)
class Total:
    """A line of totals: how many containers, and sums by what can be added (g, ml, portion …).

    ``unknown`` containers carry no amount and are in no sum.
    """

    name: str
    containers: int
    sums: dict[str, Decimal]
    unknown: int


@dataclass(frozen=True, slots=True)
class Remark:
    """An entry of the period that an auditor looks at: late, voiding, confirming, a ruling."""

    number: int
    at: Instant
    recorded_at: Instant
    by: str
    subject: str
    what: str
    says: str


@dataclass(frozen=True, slots=True)
class Audit:
    """The audit of a period of local days, both included, and the head of the journal."""

    first: date
    last: date
    discards: tuple[Binned, ...]
    by_reason: tuple[Total, ...]
    by_item: tuple[Total, ...]
    by_cook: tuple[Total, ...]
    overall: Total
    ended: tuple[tuple[str, int], ...]
    remarks: tuple[Remark, ...]
    rulebooks: tuple[str, ...]
    entries: int
    head: str


def audit(
    kitchen: Kitchen,
    first: date,
    last: date,
    *,
    reason: str = "",
    item: str = "",
    cook: str = "",
) -> Audit:
    """The audit from ``first`` through ``last``, perhaps of one reason, item or cook only.

    Raises ``Mistake("bad-period")`` when the days are the wrong way round.
    """
    if last < first:
        raise Mistake("bad-period", f"{last} lies before {first}.", "Give --from, then --to.")
    since = start_of_day(first, kitchen.where)
    until = start_of_day(last + timedelta(days=1), kitchen.where)
    with kitchen.db.reading() as conn:
        binned = [
            each
            for each in _discards(kitchen, conn, since, until)
            if reason in ("", each.reason)
            and item.lower() in each.item.lower()
            and cook.upper() in ("", each.by)
        ]
        ends = _ends(kitchen, conn, since, until, item, cook)
        remarks = _remarks(kitchen, conn, since, until)
        number, head, _ = journal_entries.head(conn, kitchen.site)
        titles = tuple(book.title for book in kitchen.current(conn).stack(conn).books)
    counted = Counter(ends)
    counted["discarded"] = len(binned)
    return Audit(
        first, last, tuple(binned),
        _totals(binned, lambda each: REASONS.get(each.reason, each.reason)),
        _totals(binned, lambda each: each.item), _totals(binned, lambda each: each.by),
        _total("all", binned), tuple(sorted(counted.items())), tuple(remarks), titles,
        number, head,
    )  # fmt: skip


def _discards(kitchen: Kitchen, conn: Connection, since: Instant, until: Instant) -> list[Binned]:
    binned = []
    for entry in _that_count(kitchen, conn, "discarded", since, until):
        fact = fact_of(entry)
        row = on_hand.find(conn, kitchen.site, entry.subject)
        if isinstance(fact, ev.Discarded) and row is not None:
            binned.append(
                Binned(
                    entry.number, entry.at, entry.subject, row.item_name, fact.reason, fact.amount,
                    entry.by, fact.note, _late(entry, kitchen),
                )
            )  # fmt: skip
    return binned


def _ends(
    kitchen: Kitchen, conn: Connection, since: Instant, until: Instant, item: str, cook: str
) -> list[str]:
    """How containers ended well, one word for each."""
    words: list[str] = []
    for entry in _that_count(kitchen, conn, "used", since, until):
        fact = fact_of(entry)
        row = on_hand.find(conn, kitchen.site, entry.subject)
        named = row is not None and item.lower() in row.item_name.lower()
        if isinstance(fact, ev.Used) and named and cook.upper() in ("", entry.by):
            words.append(fact.ended_as)
    return words


def _that_count(
    kitchen: Kitchen, conn: Connection, kind: str, since: Instant, until: Instant
) -> list[Entry]:
    """The entries of ``kind`` in the period that were not voided, by when they happened."""
    found = journal_entries.of_kinds(conn, kitchen.site, [kind], since=since, until=until)
    subjects = sorted({entry.subject for entry in found})
    about: dict[str, list[Entry]] = defaultdict(list)
    for entry in journal_entries.of_subjects(conn, kitchen.site, subjects):
        about[entry.subject].append(entry)
    counts = {
        each.entry.number
        for subject in subjects
        for each in standing(about[subject], kitchen.where)
    }
    kept = (entry for entry in found if entry.number in counts)
    return sorted(kept, key=lambda entry: (entry.at, entry.number))


def _late(entry: Entry, kitchen: Kitchen) -> bool:
    return local_date(entry.recorded_at, kitchen.where) > local_date(entry.at, kitchen.where)


def _remarks(kitchen: Kitchen, conn: Connection, since: Instant, until: Instant) -> list[Remark]:
    """Late entries, corrections, confirmations and adopted rules of the period: what happened
    in it, and what was written in it of the time before.
    """
    remarks = []
    for entry in journal_entries.of_kinds(conn, kitchen.site, list(ev.KINDS), until=until):
        if entry.at < since and not since <= entry.recorded_at < until:
            continue
        fact = fact_of(entry)
        if isinstance(fact, ev.Voided):
            what = "voided"
        elif isinstance(fact, ev.Confirmed):
            what = "confirmed"
        elif isinstance(fact, ev.StackAdopted):
            what = "rules"
        elif isinstance(fact, ev.Labelled) and fact.copy:
            what = "reprint"
        elif _late(entry, kitchen):
            what = "late entry"
        else:
            continue
        remarks.append(
            Remark(
                entry.number, entry.at, entry.recorded_at, entry.by, entry.subject, what, tell(fact)
            )
        )
    return remarks


def _totals(binned: Iterable[Binned], name: Callable[[Binned], str]) -> tuple[Total, ...]:
    groups: dict[str, list[Binned]] = defaultdict(list)
    for each in binned:
        groups[name(each)].append(each)
    lines = [_total(group, members) for group, members in groups.items()]
    return tuple(sorted(lines, key=lambda each: (-each.containers, each.name)))


def _total(name: str, members: list[Binned]) -> Total:
    known = [each.amount for each in members if each.amount is not None]
    return Total(name, len(members), totals(known), len(members) - len(known))
