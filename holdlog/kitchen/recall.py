"""A recall: everything that holds a maker's lot, a batch or a container goes on hold at once.

One entry says so, about the lot, the batch or the container. It holds what is on hand, what is
made of it from now on, what comes back because its end is voided, and further deliveries of the
lot: none of them needs an entry of its own that somebody could forget. Food under a recall is
discarded or sent back. A recall that was a mistake, or that its maker withdrew, is lifted as a
whole, by voiding its entry; on a later day that waits for the person in charge.
"""

from dataclasses import dataclass

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, read_amount
from holdlog.core.errors import Mistake
from holdlog.core.lots import lot_subject
from holdlog.core.moments import Instant, show_moment
from holdlog.journal import entries as journal_entries
from holdlog.journal import kinship
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.standing import Standing, standing
from holdlog.kitchen.trace import Start, going_on, start_of

GOES_ON = ("made into", "poured together", "split")


@dataclass(frozen=True, slots=True)
class Gone:
    """Food under the recall that is not in ``row`` any more: all of it, or ``part`` of it.

    ``how``: used, sold, staff meal, donated, returned, discarded, made into, poured together,
    split. ``into``: the batch or container. ``amount`` None: nobody knows.
    """

    row: ContainerRow
    at: Instant
    how: str
    amount: Amount | None
    part: bool
    by: str
    into: str = ""

    @property
    def out(self) -> bool:
        """Whether it left the kitchen: what went on in another container is found there."""
        return self.how not in GOES_ON


@dataclass(frozen=True, slots=True)
class Recall:
    """What a recall finds. ``live`` are on hand, on hold once it is recorded; ``number`` is its
    entry, None in a dry run.
    """

    start: Start
    at: Instant
    why: str
    number: int | None
    live: tuple[ContainerRow, ...]
    gone: tuple[Gone, ...]
    without_end: tuple[ContainerRow, ...]


def recall(
    kitchen: Kitchen, by: str, typed: str, lot: str, why: str, *, dry_run: bool = False
) -> Recall:
    """Recall a container, a batch or a maker's lot. ``dry_run``: only look.

    Raises ``Mistake`` where nothing is known by that name, no reason is given, or it is recalled
    already.
    """
    if dry_run:
        with kitchen.db.reading() as conn:
            start = start_of(kitchen, conn, typed, lot)
            return _found(kitchen, conn, start, kitchen.moment(conn), why.strip(), None)
    if not why.strip():
        raise Mistake(
            "no-reason", "Why is it recalled?", 'Say it: --why "maker\'s notice 4711, listeria".'
        )
    with kitchen.writing(by) as write:
        start = start_of(write.kitchen, write.conn, typed, lot)
        known = standing_recall(write.kitchen, write.conn, start.subject)
        if known is not None:
            when = show_moment(known.entry.at, kitchen.where)
            raise Mistake(
                "is-recalled",
                f"{start.what} is recalled already, since {when} (entry {known.entry.number}).",
                "To see what holds it: --dry-run.",
            )
        fact = ev.Recalled(start.what, why.strip())
        (entry,) = write.append((fact, write.recorded_at, start.subject))
        # By lot as by name: the rows of everything touched are folded anew.
        write.settle(start.subject)
        return _found(
            write.kitchen, write.conn, start, write.recorded_at, why.strip(), entry.number
        )


def standing_recall(kitchen: Kitchen, conn: Connection, subject: str) -> Standing | None:
    """The recall of ``subject`` that is in force, or None."""
    about = journal_entries.of_subjects(conn, kitchen.site, [subject])
    found = [each for each in standing(about, kitchen.where) if isinstance(each.fact, ev.Recalled)]
    return found[0] if found else None


def refuse_recalled(kitchen: Kitchen, conn: Connection, lot: str) -> None:
    """A lot under recall is not taken in. Raises ``Mistake("recalled")``."""
    found = standing_recall(kitchen, conn, lot_subject(lot)) if lot.strip() else None
    if found is not None and isinstance(found.fact, ev.Recalled):
        raise Mistake(
            "recalled",
            f"Lot {lot.strip()} is recalled: {found.fact.why}.",
            "Do not take it in; send it back. Nothing was recorded.",
        )


def _found(
    kitchen: Kitchen, conn: Connection, start: Start, at: Instant, why: str, number: int | None
) -> Recall:
    names = going_on(kitchen, conn, start.names).names
    rows = kinship.containers(conn, kitchen.site, names)
    kinds = ("used", "discarded", "voided", "confirmed")
    about = kinship.about(conn, kitchen.site, rows, kinds)
    gone: list[Gone] = []
    ended_here: set[str] = set()
    for code, row in rows.items():
        for each in standing(about.get(code, []), kitchen.where):
            if isinstance(each.fact, ev.Used | ev.Discarded):
                gone.append(_gone(row, each, each.fact))
                if not each.fact.part:
                    ended_here.add(code)
    ordered = sorted(rows.values(), key=lambda row: (row.unit, row.item_name, row.code))
    return Recall(
        start=start,
        at=at,
        why=why,
        number=number,
        live=tuple(row for row in ordered if row.ended_at is None),
        gone=tuple(sorted(gone, key=lambda each: (each.at, each.row.code))),
        without_end=tuple(
            row for row in ordered if row.ended_at is not None and row.code not in ended_here
        ),
    )


def _gone(row: ContainerRow, each: Standing, fact: ev.Used | ev.Discarded) -> Gone:
    amount = fact.amount
    if amount is None and not fact.part and row.amount:
        amount = read_amount(row.amount)
    if isinstance(fact, ev.Discarded):
        return Gone(row, each.entry.at, "discarded", amount, fact.part, each.entry.by)
    at, by = each.entry.at, each.entry.by
    return Gone(row, at, fact.ended_as, amount, fact.part, by, fact.into)
