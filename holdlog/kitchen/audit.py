"""The audit of a period: what was discarded, why, by whom; what was cooled, held and corrected."""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, timedelta

from holdlog.core.errors import Mistake
from holdlog.core.moments import local_date, start_of_day
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Connection
from holdlog.kitchen.audit_asked import refuse_unknown_cook, refuse_unknown_item
from holdlog.kitchen.compliance import (
    BatchCooling,
    Hold,
    MovedDate,
    UnitPast,
    coolings_made,
    holds,
    moved_dates,
    unit_pasts,
)
from holdlog.kitchen.discard import REASONS
from holdlog.kitchen.ended import (
    DISCARDED,
    Balance,
    Ended,
    Total,
    balance,
    balances,
    ended,
    total,
    totals_by,
)
from holdlog.kitchen.items import items
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.remarks import (
    Labels,
    ProbeCheck,
    Remark,
    RulesInForce,
    label_entries,
    labels_of,
    probe_checks,
    remarks_of,
    rules_in_force,
)

OTHER = "discarded for other reasons"


@dataclass(frozen=True, slots=True)
class Audit:
    """The audit of a period of local days, both included, and the head of the journal.
    Coolings and units are judged by the rules in force now.

    ``voided``: discards that were taken back, which count nowhere. ``ended``: how many containers
    ended how. ``balances`` and ``balance``: what became of the food, by item and in all.
    """

    first: date
    last: date
    discards: tuple[Ended, ...]
    by_reason: tuple[Total, ...]
    by_item: tuple[Total, ...]
    by_cook: tuple[Total, ...]
    by_unit: tuple[Total, ...]
    overall: Total
    ended: tuple[tuple[str, int], ...]
    labels: Labels
    remarks: tuple[Remark, ...]
    rulebooks: tuple[str, ...]
    entries: int
    head: str
    voided: tuple[Ended, ...]
    balances: tuple[Balance, ...]
    balance: Balance
    probes: tuple[ProbeCheck, ...]
    coolings: tuple[BatchCooling, ...]
    units: tuple[UnitPast, ...]
    holds: tuple[Hold, ...]
    moved: tuple[MovedDate, ...]
    rules: tuple[RulesInForce, ...]


def audit(
    kitchen: Kitchen,
    first: date,
    last: date,
    *,
    reason: str = "",
    item: str = "",
    cook: str = "",
    unit: str = "",
) -> Audit:
    """The audit from ``first`` through ``last``, perhaps of one reason, item, cook or unit only.

    Raises ``Mistake``: ``in-the-future``, ``bad-period`` when the days are the wrong way round,
    ``no-unit``, ``no-item`` for a name that nothing here has, ``no-cook`` for one who signed
    nothing in the period.
    """
    with kitchen.db.reading() as conn:
        return audited(
            kitchen, conn, first, last, reason=reason, item=item, cook=cook, unit=unit
        )  # fmt: skip


def audited(
    kitchen: Kitchen,
    conn: Connection,
    first: date,
    last: date,
    *,
    reason: str = "",
    item: str = "",
    cook: str = "",
    unit: str = "",
) -> Audit:
    """The same within a transaction. What is of no item, cook or unit is of all of them: labels,
    probes, rules; units are of no item and no cook, moved dates of no cook, and only discards
    have a reason.
    """
    today = local_date(kitchen.moment(conn), kitchen.where)
    if first > today:
        raise Mistake(
            "in-the-future", f"{first} is still to come: today is {today}.", "Give an earlier day."
        )
    if last < first:
        raise Mistake("bad-period", f"{last} lies before {first}.", "Give --from, then --to.")
    item, cook = item.strip(), cook.strip()
    place = kitchen.unit(unit).name if unit else ""
    kitchen = kitchen.current(conn)
    since = start_of_day(first, kitchen.where)
    until = start_of_day(last + timedelta(days=1), kitchen.where)
    every = ended(kitchen, conn, since, until)
    if item:
        refuse_unknown_item(items(kitchen, conn), item, every)
    if cook:
        signed = {each.by for each in every}
        refuse_unknown_cook(kitchen, conn, cook, signed, since, until)
    asked = [
        each
        for each in every
        if item.lower() in each.item.lower()
        and cook.upper() in ("", each.by)
        and place in ("", each.unit)
    ]
    number, head, _ = journal_entries.head(conn, kitchen.site)
    # Asked for one reason, what was binned for others still ended: it is part of the whole.
    asked = [
        each if each.how != DISCARDED or reason in ("", each.reason) else replace(each, how=OTHER)
        for each in asked
    ]
    ends = [each for each in asked if not each.voided]
    binned = [each for each in ends if each.how == DISCARDED]
    counted = Counter(each.how for each in ends if not each.part and each.how != OTHER)
    counted[DISCARDED] += 0
    held = holds(kitchen, conn, since, until, item, cook)
    moved = moved_dates(kitchen, conn, since, until)
    labels = label_entries(kitchen, conn, since, until)
    return Audit(
        first=first,
        last=last,
        discards=tuple(binned),
        by_reason=totals_by(lambda each: REASONS.get(each.reason, each.reason), binned),
        by_item=totals_by(lambda each: each.item, binned),
        by_cook=totals_by(lambda each: each.by, binned),
        by_unit=totals_by(lambda each: each.unit, binned),
        overall=total("all", binned),
        ended=tuple(sorted(counted.items())),
        labels=labels_of(labels),
        remarks=tuple(
            remarks_of(kitchen, conn, since, until, labels, item=item, by=cook, unit=place)
        ),
        rulebooks=tuple(book.title for book in kitchen.stack(conn).books),
        entries=number,
        head=head,
        voided=tuple(each for each in asked if each.voided and each.how == DISCARDED),
        balances=balances(ends),
        balance=balance("all", ends),
        probes=tuple(probe_checks(kitchen, conn, since, until)),
        coolings=tuple(coolings_made(kitchen, conn, since, until, item, cook, place)),
        units=tuple(unit_pasts(kitchen, conn, since, until, place)),
        holds=tuple(each for each in held if place in ("", each.row.unit)),
        moved=tuple(
            each
            for each in moved
            if item.lower() in each.row.item_name.lower() and place in ("", each.row.unit)
        ),
        rules=tuple(rules_in_force(kitchen, conn, since, until)),
    )
