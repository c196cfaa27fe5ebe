"""What cools in this kitchen: every cooling that runs, and those that are missed or unproven."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.journal import on_hand
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.cool import cools_alone
from holdlog.kitchen.kitchen import Kitchen, find_container
from holdlog.kitchen.project import held
from holdlog.kitchen.records import Container, LiveRecords, Reader
from holdlog.rules.cooling_record import CoolingRecord, cooling_record
from holdlog.rules.history import in_order
from holdlog.rules.holding import Holding
from holdlog.rules.outlook import Outlook

Stands = Literal["running", "met", "missed", "unproven", "no-clock"]


@dataclass(frozen=True, slots=True)
class Logged:
    """One cooling: the containers that share it, where they stand, and what is on record.

    ``method`` is what it was last said to cool in. ``books`` are the titles of the rules.
    ``alone``: it was hot by itself, and what is logged of it is not of its batch.
    """

    at: Instant
    batch: str
    rows: tuple[ContainerRow, ...]
    holding: Holding
    record: CoolingRecord
    method: str
    books: str
    alone: bool = False

    @property
    def item(self) -> str:
        """The name of its item."""
        return self.rows[0].item_name

    @property
    def stands(self) -> Stands:
        """Where the cooling stands, in a word."""
        verdict = self.record.verdict
        if verdict is None:
            return "no-clock"
        if verdict.missed:
            return "missed"
        if verdict.unproven:
            return "unproven"
        return "met" if self.record.met else "running"

    @property
    def ahead(self) -> Outlook | None:
        """What is ahead of it while it runs."""
        return self.holding.ahead

    @property
    def overdue_since(self) -> Instant | None:
        """Since when its next reading is due; None: it is not, or none is asked for."""
        due = self.ahead.read_by if self.ahead is not None else None
        return due if due is not None and due < self.at else None


def coolings(kitchen: Kitchen) -> list[Logged]:
    """Every cooling that runs, is missed or is unproven, of what is on hand: what is late to be
    read comes first.
    """
    with kitchen.db.reading() as conn:
        kitchen = kitchen.current(conn)
        return coolings_of(kitchen, conn, on_hand.live(conn, kitchen.site), kitchen.moment(conn))


def coolings_of(
    kitchen: Kitchen, conn: Connection, rows: Iterable[ContainerRow], at: Instant
) -> list[Logged]:
    """The coolings among ``rows`` that a cook has to look at, in the order of their urgency."""
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    found: dict[object, Logged] = {}
    for row in rows:
        # Whatever is wrong with a cooling is a fault of the food: without one there is none.
        if not row.verdict:
            continue
        each = logged(kitchen, conn, reader, row, at)
        if each is None or not _to_look_at(each):
            continue
        key = (each.batch, each.record.readings, each.record.moves, each.holding.reason)
        known = found.get(key)
        found[key] = each if known is None else _with(known, row)
    return sorted(found.values(), key=_urgency)


def _with(known: Logged, row: ContainerRow) -> Logged:
    rows = (*known.rows, row)
    ordered = tuple(sorted(rows, key=lambda each: (each.number, each.code)))
    return replace(known, rows=ordered)


def _to_look_at(each: Logged) -> bool:
    if each.stands == "no-clock":
        return each.holding.verdict == "hold" and each.holding.state in ("made", "cooling")
    # Held hot or out under time control it cools no more, but what is missing stays missing.
    return each.stands in ("missed", "unproven") or each.ahead is not None


def _urgency(each: Logged) -> tuple[int, Instant, str]:
    """Late readings first, then what may still be mended, then what comes next."""
    due = each.ahead.read_by if each.ahead is not None else None
    latest = Instant(2**53)
    if each.overdue_since is not None:
        return 0, each.overdue_since, each.batch
    if each.holding.verdict == "reheat":
        return 1, each.record.readings[0].at, each.batch
    order = {"running": 2, "no-clock": 3, "unproven": 4, "missed": 5, "met": 6}
    return order[each.stands], due if due is not None else latest, each.batch


def cooling_of(kitchen: Kitchen, typed: str) -> Logged:
    """The last cooling of the container whose code was typed, with those that share it.

    Raises ``Mistake("no-cooling")`` where none was logged.
    """
    with kitchen.db.reading() as conn:
        kitchen = kitchen.current(conn)
        at = kitchen.moment(conn)
        row = find_container(kitchen, conn, typed, ended=True)
        reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
        found = logged(kitchen, conn, reader, row, at)
        if found is None:
            raise Mistake(
                "no-cooling",
                f"No cooling is logged for {row.item_name}, {show(row.code)}.",
                f"Log it: holdlog cool {show(row.code)} READING",
            )
        for other in on_hand.of_batch(conn, kitchen.site, row.batch):
            if other.code == row.code or other.ended_at is not None:
                continue
            each = logged(kitchen, conn, reader, other, at)
            if each is not None and each.record.readings == found.record.readings:
                found = _with(found, other)
        return found


def logged(
    kitchen: Kitchen, conn: Connection, reader: Reader, row: ContainerRow, at: Instant
) -> Logged | None:
    """The last cooling of one container as of ``at``, or of its end; None: none was logged."""
    at = min(at, row.ended_at) if row.ended_at is not None else at
    container, stack = reader.container(row.code), kitchen.stack(conn)
    record = cooling_record(container.history, stack, at, kitchen.where)
    if record is None:
        return None
    return Logged(
        at,
        row.batch,
        (row,),
        held(container, stack, at, kitchen.where),
        record,
        _method(container, record, row),
        " + ".join(book.title for book in stack.books),
        cools_alone(container, at),
    )


def _method(container: Container, record: CoolingRecord, row: ContainerRow) -> str:
    """What it was last put in to cool; where it was only put elsewhere since, the unit."""
    if not record.moves:
        return ""
    said = [
        event
        for event in in_order(container.history)
        if isinstance(event.fact, ev.CoolingIn) and event.at == record.moves[-1].at
    ]
    last = said[-1].fact if said else None
    return last.method if isinstance(last, ev.CoolingIn) else row.unit
