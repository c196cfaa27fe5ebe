"""A recall: everything that holds a maker's lot, a batch or a container goes on hold at once.

One entry says so, about the lot, the batch or the container. It holds what is on hand, what is
made of it from now on, what comes back because its end is voided, and every delivery of the lot,
written down before the recall or after it: none of them needs an entry of its own that somebody
could forget. So a lot may be recalled before any of it came, once a person has said that it is
not mistyped. Food under a recall is discarded or sent back. A recall that was a mistake, or that
its maker withdrew, is lifted as a whole, by voiding its entry, and at any time only on a paper
that is named: it sets food free.
"""

from dataclasses import dataclass, replace

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, read_amount
from holdlog.core.errors import Mistake
from holdlog.core.lots import check_lot, lot_subject
from holdlog.core.moments import Instant, show_moment
from holdlog.journal import entries as journal_entries
from holdlog.journal import kinship
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.kitchen import LOT, Kitchen, Writing
from holdlog.kitchen.lots import Lot, lots_like, recalled_lots_like, recalls_in_force
from holdlog.kitchen.records import Container
from holdlog.kitchen.standing import Standing, standing
from holdlog.kitchen.trace import ALWAYS, NEVER, Start, going_on, start_of
from holdlog.rules.history import History

GOES_ON = ("made into", "poured together", "split")
NOT_SERVED = ("discarded", "returned")


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
    def served(self) -> bool:
        """Whether somebody may have got it to eat."""
        return self.how not in GOES_ON and self.how not in NOT_SERVED

    @property
    def goes_on(self) -> bool:
        """Whether it went on in another container: it is found there."""
        return self.how in GOES_ON


@dataclass(frozen=True, slots=True)
class Recall:
    """What a recall finds. ``live`` are on hand, on hold once it is recorded; ``number`` is its
    entry, None in a dry run. ``look_alike``: other lots on record that may be the same.
    ``already``: the recall of it that is in force, in a dry run. ``elsewhere``: the other sites
    of the journal that had the lot, too, and are not touched.
    """

    start: Start
    at: Instant
    why: str
    number: int | None
    live: tuple[ContainerRow, ...]
    gone: tuple[Gone, ...]
    without_end: tuple[ContainerRow, ...]
    look_alike: tuple[Lot, ...]
    elsewhere: tuple[str, ...] = ()
    already: int | None = None

    @property
    def absent(self) -> bool:
        """Whether it is of a lot of which no batch is on record."""
        return not self.start.names


def recall(
    kitchen: Kitchen, by: str, typed: str, lot: str, why: str, *, dry_run: bool = False,
    absent: bool = False,
) -> Recall:  # fmt: skip
    """Recall a container, a batch or a maker's lot. ``dry_run``: only look. ``absent``: also a
    lot of which no batch is on record.

    Raises ``Mistake``: nothing is known by that name (``no-lot`` names what looks like it), it is
    recalled already, no reason is given.
    """
    if dry_run:
        with kitchen.db.reading() as conn:
            start = start_of(kitchen, conn, typed, lot, absent=True)
            found = _found(kitchen, conn, start, kitchen.moment(conn), why.strip(), None)
            known = standing_recall(kitchen, conn, start.subject)
            return replace(found, already=known.entry.number if known is not None else None)
    with kitchen.writing(by, ev.Recalled) as write:
        start = start_of(write.kitchen, write.conn, typed, lot, absent=absent)
        known = standing_recall(write.kitchen, write.conn, start.subject)
        if known is not None:
            when = show_moment(known.entry.at, kitchen.where, kitchen.now())
            raise Mistake(
                "is-recalled",
                f"{start.what} is recalled already, since {when} (entry {known.entry.number}).",
                "To see what holds it: --dry-run.",
            )
        if not why.strip():
            raise Mistake(
                "no-reason", f"Why is {start.what} recalled?",
                'Say it: --why "maker\'s notice 4711, listeria".',
            )  # fmt: skip
        fact = ev.Recalled(start.what, why.strip())
        (entry,) = write.append((fact, write.recorded_at, start.subject))
        # By lot as by name: the rows of everything touched are folded anew.
        write.settle(start.subject)
        return _found(
            write.kitchen, write.conn, start, write.recorded_at, why.strip(), entry.number
        )


@dataclass(frozen=True, slots=True)
class InForce:
    """A recall that was not lifted, and how many containers on hand it holds."""

    number: int
    at: Instant
    by: str
    what: str
    why: str
    on_hand: int


def in_force(kitchen: Kitchen) -> list[InForce]:
    """The recalls that were not lifted, the oldest first."""
    found = []
    with kitchen.db.reading() as conn:
        for each in recalls_in_force(kitchen, conn):
            subject, fact = each.entry.subject, each.fact
            if not isinstance(fact, ev.Recalled):
                continue
            names: tuple[str, ...] = (subject,)
            if subject.startswith(LOT):
                key = subject.removeprefix(LOT)
                names = tuple(one.batch for one in kinship.of_lots(conn, kitchen.site, [key]))
            rows = kinship.containers(conn, kitchen.site, going_on(kitchen, conn, names).names)
            live = sum(row.ended_at is None for row in rows.values())
            found.append(
                InForce(each.entry.number, each.entry.at, each.entry.by, fact.what, fact.why, live)
            )
    return found


def standing_recall(kitchen: Kitchen, conn: Connection, subject: str) -> Standing | None:
    """The recall of ``subject`` that is in force, or None."""
    about = journal_entries.of_subjects(conn, kitchen.site, [subject])
    found = [each for each in standing(about, kitchen.where) if isinstance(each.fact, ev.Recalled)]
    return found[0] if found else None


def under_recall(history: History) -> bool:
    """Whether a recall holds the food: its own, or one of what went into it, at any depth.

    The moment counts, as in the fold: what was taken out of a tub before something was poured in
    does not hold that.
    """
    until: dict[int, Instant] = {}
    waiting = [(history, NEVER)]
    while waiting:
        food, at = waiting.pop()
        if until.get(id(food), ALWAYS) >= at:
            continue
        until[id(food)] = at
        if any(isinstance(event.fact, ev.Recalled) for event in food.events):
            return True
        waiting += [(part.history, part.at) for part in food.joined if part.at <= at]
    return False


def refuse_before_filled(write: Writing, container: Container, at: Instant) -> None:
    """All that is in it did not go at ``at``, before the last of it came in: a recall of what was
    poured in would find that nowhere. Raises ``Mistake("too-early")``.
    """
    since = max((part.at for part in container.history.joined), default=at)
    if since > at:
        when = show_moment(since, write.kitchen.where, write.recorded_at)
        raise Mistake(
            "too-early",
            f"{container.history.name} was filled up {when}: it was not emptied before that.",
            "Nothing was recorded. Check the time. Was that not poured in? Void its entry first.",
        )


def recall_of_lot(kitchen: Kitchen, conn: Connection, lot: str) -> str:
    """Why a maker's lot is recalled; empty: it is not."""
    found = standing_recall(kitchen, conn, lot_subject(lot)) if lot.strip() else None
    return found.fact.why if found is not None and isinstance(found.fact, ev.Recalled) else ""


def lot_coming_in(
    kitchen: Kitchen, conn: Connection, lot: str, *, compared: bool
) -> tuple[str, tuple[ev.Recalled, ...]]:
    """Why a maker's lot that food is said to be of is recalled, or which recalled lots it may be
    mistyped for. ``compared``: somebody has looked that it is none of these.

    Raises ``Mistake``: ``"long-lot"``, and ``"looks-recalled"`` unless somebody has compared them:
    in doubt, nothing is given a date to be served by. The very lot that is recalled always comes
    in: it is held.
    """
    if recalled := recall_of_lot(kitchen, conn, lot):
        return recalled, ()
    check_lot(lot)
    if not lot.strip():
        return "", ()
    near = tuple(recalled_lots_like(kitchen, conn, lot))
    if near and not compared:
        raise Mistake(
            "looks-recalled",
            f"Lot {lot.strip()} looks like {near[0].what}, which is recalled ({near[0].why}).",
            "Nothing was recorded; keep it apart. Compare it with the crate: is it that lot, write "
            "it as it is recalled; is it another, say --other-lot.",
        )
    return "", near


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
                # What was taken out of it before it got any of this is no business of a recall.
                if each.entry.at >= names[code]:
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
        look_alike=tuple(_look_alike(kitchen, conn, start)),
        elsewhere=tuple(_elsewhere(kitchen, conn, start)),
    )


def _elsewhere(kitchen: Kitchen, conn: Connection, start: Start) -> list[str]:
    """Each kitchen recalls for itself; that another one has the lot is told all the same."""
    if not start.subject.startswith(LOT):
        return []
    key = start.subject.removeprefix(LOT)
    others = (site for site in journal_entries.site_names(conn) if site != kitchen.site)
    return [site for site in others if kinship.of_lots(conn, site, [key])]


def _look_alike(kitchen: Kitchen, conn: Connection, start: Start) -> list[Lot]:
    if not start.subject.startswith(LOT):
        return []
    lot = start.subject.removeprefix(LOT)
    return lots_like(kitchen, conn, lot, mistyped=not start.names)


def _gone(row: ContainerRow, each: Standing, fact: ev.Used | ev.Discarded) -> Gone:
    amount = fact.amount
    if amount is None and not fact.part and row.amount:
        amount = read_amount(row.amount)
    if isinstance(fact, ev.Discarded):
        return Gone(row, each.entry.at, "discarded", amount, fact.part, each.entry.by)
    at, by = each.entry.at, each.entry.by
    return Gone(row, at, fact.ended_as, amount, fact.part, by, fact.into)
