"""The kitchen: journal, stack, clock and site, wired once; and the one way to write.

``Writing`` is the transaction of a job: it appends entries, folds what they touch and puts the
rows on hand, all or nothing.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.codes import near, new_code, read_code, show
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import Clock, Instant, show_moment, zone
from holdlog.core.temperature import Scale
from holdlog.journal import entries as journal_entries
from holdlog.journal import migrate, on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection, Database
from holdlog.journal.entries import Draft
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen import books, clocks
from holdlog.kitchen.project import batch_of, container_row, held, links_of
from holdlog.kitchen.records import Container, LiveRecords, Origin, Reader
from holdlog.kitchen.sites import no_kitchen
from holdlog.kitchen.taken_back import Known, appending
from holdlog.rules.holding import Holding
from holdlog.rules.stack import Stack

SITE = "main"
KITCHEN = "kitchen"
LOT = "lot "


@dataclass(frozen=True, slots=True)
class Unit:
    """A place with a temperature, as it was added."""

    name: str
    sort: ev.UnitSort
    order: int

    @property
    def cold(self) -> bool:
        """Whether it chills."""
        return self.sort in ("walk-in", "reach-in")

    @property
    def freezes(self) -> bool:
        """Whether it freezes."""
        return self.sort == "freezer"


@dataclass(frozen=True, slots=True)
class Kitchen:
    """One kitchen, ready for work. ``stack`` is read when first asked for."""

    db: Database
    site: str
    clock: Clock
    draw: Callable[[str], str]
    station: str
    name: str
    where: ZoneInfo
    scale: Scale
    closed: tuple[str, ...]
    susceptible: bool
    units: dict[str, Unit]
    adopted: ev.StackAdopted
    adopted_at: Instant
    adopted_in: int
    # When the last entry was written, as the kitchen was opened.
    written_at: Instant
    known: Known
    _stacks: dict[ev.StackAdopted, Stack] = field(default_factory=dict)

    @property
    def apart(self) -> clocks.Apart:
        """What the clock says, and when the journal was last written as it was opened."""
        return clocks.Apart(self.clock(), self.written_at)

    def now(self) -> Instant:
        """What the clock says; where it is behind the journal, when that was last written."""
        found = self.apart
        return found.last if found.behind else found.now

    def moment(self, conn: Connection) -> Instant:
        """As of when food is judged: what the clock says, and never earlier than the journal was
        last written.
        """
        return clocks.apart(conn, self.site, self.clock()).judged

    def dating(self, conn: Connection) -> Instant:
        """What the clock says, by which food may be dated.

        Raises ``Fault("clock-back")`` when it is earlier than the journal was last written,
        ``Fault("clock-ahead")`` when it is more than 30 days later.
        """
        return self._by_the_clock(conn, ())[0]

    def _by_the_clock(
        self, conn: Connection, only: Sequence[type[ev.Fact]]
    ) -> tuple[Instant, Fault | None]:
        found = clocks.apart(conn, self.site, self.clock())
        doubt = clocks.fault(conn, self.site, self.where, found)
        clocks.refuse(doubt, only)
        return found.judged, doubt

    def current(self, conn: Connection) -> "Kitchen":
        """This kitchen with the rules in force: another program may have adopted others since
        it was opened.
        """
        entry = journal_entries.of_kinds(conn, self.site, ["stack"])[-1]
        fact = fact_of(entry)
        if entry.number == self.adopted_in or not isinstance(fact, ev.StackAdopted):
            return self
        return replace(self, adopted=fact, adopted_at=entry.recorded_at, adopted_in=entry.number)

    def stack(self, conn: Connection) -> Stack:
        """The rules in force now."""
        return self.stack_of(conn, self.adopted)

    def stack_at(self, conn: Connection, number: int | None) -> Stack:
        """The rules that entry ``number`` was written under (None: the rules in force now).

        An adoption is under the rules it adopts. What was written before the first adoption is
        under those in force now: there were no others.
        """
        if number is None or number >= self.adopted_in:
            return self.stack(conn)
        for entry in reversed(journal_entries.of_kinds(conn, self.site, ["stack"])):
            fact = fact_of(entry)
            if entry.number <= number and isinstance(fact, ev.StackAdopted):
                return self.stack_of(conn, fact)
        return self.stack(conn)

    def stack_of(self, conn: Connection, adopted: ev.StackAdopted) -> Stack:
        """The rules of one adoption."""
        if adopted not in self._stacks:
            self._stacks[adopted] = books.adopted_stack(conn, adopted)
        return self._stacks[adopted]

    def unit(self, name: str) -> Unit:
        """The unit called ``name`` (case does not matter, a beginning that fits one is enough)."""
        wanted = name.strip().lower()
        fits = [unit for unit in self.units.values() if unit.name.lower() == wanted]
        fits = fits or [
            unit for unit in self.units.values() if unit.name.lower().startswith(wanted)
        ]
        if len(fits) != 1 or not wanted:
            known = ", ".join(self.units) or "none yet"
            raise Mistake(
                "no-unit",
                f"There is no unit {name!r}.",
                f'Known: {known}. Add one with: holdlog unit add "NAME" --sort walk-in',
            )
        return fits[0]

    def first_unit(self, sorts: tuple[str, ...]) -> Unit | None:
        """The first unit of the walk that is of one of ``sorts``."""
        fits = (unit for unit in self.units.values() if unit.sort in sorts)
        return min(fits, key=lambda unit: unit.order, default=None)

    @contextmanager
    def writing(self, by: str, *only: type[ev.Fact]) -> Iterator["Writing"]:
        """The transaction of one job, for the cook ``by`` (initials). ``only``: the facts that the
        job writes, where some may be written by a clock that dates nothing.

        Raises ``Fault`` as ``dating`` and ``appending`` do.
        """
        if not by.strip():
            raise Mistake(
                "no-name", "Who is writing?", "Say --by with your initials, or set HOLDLOG_BY."
            )
        with appending(self.db, self.site, self.known) as conn:
            at, doubt = self._by_the_clock(conn, only)
            yield Writing(self.current(conn), conn, by.strip().upper(), at, doubt)


@dataclass(slots=True)
class Writing:
    """One transaction: entries and the rows they change commit together or not at all.

    ``doubt``: why nothing may be dated by the clock; what is written despite it is written as of
    ``recorded_at``.
    """

    kitchen: Kitchen
    conn: Connection
    by: str
    recorded_at: Instant
    doubt: Fault | None = None

    def when(self, at: Instant) -> Instant:
        """The moment to write down for something that happened ``at``: nothing is as certain as
        the last entry where the clock is not.
        """
        return at if self.doubt is None else self.recorded_at

    def append(self, *drafts: tuple[ev.Fact, Instant, str]) -> list[Entry]:
        """Append facts, each with when it happened and its subject."""
        clocks.refuse(self.doubt, [type(fact) for fact, _, _ in drafts])
        made = [Draft(fact, self.when(at), subject, self.by) for fact, at, subject in drafts]
        return journal_entries.append(
            self.conn,
            self.kitchen.site,
            made,
            recorded_at=self.recorded_at,
            station=self.kitchen.station,
        )

    def new_codes(self, count: int) -> tuple[str, ...]:
        """So many codes that no container of this site ever had."""
        codes: list[str] = []
        while len(codes) < count:
            code = new_code(self.kitchen.draw)
            if code not in codes and not on_hand.code_taken(self.conn, self.kitchen.site, code):
                codes.append(code)
        return tuple(codes)

    def settle(self, *subjects: str, born: dict[str, Origin] | None = None) -> list[ContainerRow]:
        """Fold everything that the entries about ``subjects`` touch, and put its rows.

        Touched are the containers of a batch, what was split off, and whatever was made from
        any of them, at any depth: a fault found later travels.
        """
        records = LiveRecords(self.conn, self.kitchen.site)
        for code, origin in (born or {}).items():
            records.born([code], origin)
        reader = Reader(records, self.kitchen.where)
        codes, batches = touched(self.conn, self.kitchen.site, subjects, born or {})
        batch_rows = [row for batch in batches if (row := batch_of(reader, batch)) is not None]
        rows = [
            container_row(
                reader,
                code,
                lambda number: self.kitchen.stack_at(self.conn, number),
                self.kitchen.adopted_at,
            )
            for code in codes
        ]
        links = [link for name in (*batches, *codes) for link in links_of(reader, name)]
        on_hand.put(self.conn, self.kitchen.site, batches=batch_rows, containers=rows, links=links)
        return rows

    def settle_one(self, code: str) -> ContainerRow:
        """The same for one container, whose row it gives.

        Raises ``Fault("on-hand-damaged")`` where the journal no longer knows it.
        """
        row = next((each for each in self.settle(code) if each.code == code), None)
        if row is None:
            raise Fault(
                "on-hand-damaged",
                f"What is on hand says otherwise of {show(code)} than the journal.",
                "Nothing was written. Run: holdlog doctor",
            )
        return row

    def find(self, typed: str) -> ContainerRow:
        """The container whose code was typed. See ``find_container``."""
        return find_container(self.kitchen, self.conn, typed)

    def look(self, code: str, at: Instant) -> tuple[Container, Holding]:
        """A container and where it stood at ``at``."""
        return look(self.kitchen, self.conn, code, at)


def touched(
    conn: Connection, site: str, subjects: Sequence[str], born: Iterable[str] = ()
) -> tuple[list[str], list[str]]:
    """The codes and the batches that entries about ``subjects`` can concern: the containers of a
    batch, what was split off, and whatever was made from any of them. ``born`` are codes that are
    not on hand yet.
    """
    codes: dict[str, None] = {}
    batches: dict[str, None] = {}
    new = dict.fromkeys(born)
    waiting = [*subjects, *new]
    for subject in subjects:
        if subject.startswith(LOT):
            key = subject.removeprefix(LOT)
            waiting += [row.batch for row in on_hand.batches_of_lot(conn, site, key)]
    while waiting:
        subject = waiting.pop(0)
        if subject in codes or subject in batches:
            continue
        if subject in new or on_hand.find(conn, site, subject) is not None:
            codes[subject] = None
            waiting += [row.code for row in on_hand.children(conn, site, subject)]
            waiting += [link.into for link in on_hand.links_from(conn, site, subject)]
        else:
            batches[subject] = None
            waiting += [row.code for row in on_hand.of_batch(conn, site, subject)]
    return list(codes), list(batches)


def find_container(
    kitchen: Kitchen, conn: Connection, typed: str, *, ended: bool = False
) -> ContainerRow:
    """The container whose code was typed or scanned.

    Raises ``Mistake``: the code does not check (with the live codes one keystroke away), is
    not known here, or belongs to a container that is gone (unless ``ended``).
    """
    try:
        code = read_code(typed)
    except Mistake:
        # All codes are only looked through for a hint: a good scan never waits for that.
        code = read_code(typed, on_hand.live_codes(conn, kitchen.site))
    row = on_hand.find(conn, kitchen.site, code)
    if row is None:
        close = near(code, on_hand.live_codes(conn, kitchen.site))
        hint = f"Did you mean {' or '.join(show(each) for each in close)}?" if close else (
            "It may be another kitchen's; food without a record is discarded."
        )  # fmt: skip
        raise Mistake("unknown-code", f"No container {show(code)} is known here.", hint)
    if row.ended_at is not None and not ended:
        when = show_moment(row.ended_at, kitchen.where, kitchen.now())
        raise Mistake(
            "gone",
            f"{row.item_name}, {show(code)}, is gone: {row.ended_as} on {when}.",
            "If that was a mistake, void the entry: holdlog why " + show(code),
        )
    return row


def look(kitchen: Kitchen, conn: Connection, code: str, at: Instant) -> tuple[Container, Holding]:
    """A container as the journal has it, and where it stands at ``at``."""
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    container = reader.container(code)
    return container, held(container, kitchen.current(conn).stack(conn), at, kitchen.where)


def open_kitchen(
    db: Database,
    clock: Clock,
    draw: Callable[[str], str],
    *,
    site: str = SITE,
    station: str = "",
) -> Kitchen:
    """Open the kitchen of a journal. Raises ``Mistake("no-journal")`` where there is none."""
    migrate.require_current(db)
    with db.reading() as conn:
        return kitchen_in(conn, db, clock, draw, site=site, station=station)


def kitchen_in(
    conn: Connection,
    db: Database,
    clock: Clock,
    draw: Callable[[str], str],
    *,
    site: str = SITE,
    station: str = "",
) -> Kitchen:
    """The kitchen of a journal as the transaction of ``conn`` sees it, committed or not."""
    found = journal_entries.of_kinds(conn, site, ["kitchen", "stack", "unit"])
    set_up: ev.KitchenSetUp | None = None
    adopted: tuple[ev.StackAdopted, Entry] | None = None
    units: dict[str, Unit] = {}
    for entry in found:
        match fact_of(entry):
            case ev.KitchenSetUp() as fact:
                set_up = fact
            case ev.StackAdopted() as fact:
                adopted = fact, entry
            case ev.UnitAdded() as fact:
                units[entry.subject] = Unit(entry.subject, fact.sort, fact.order)
            case _:
                pass
    if set_up is None or adopted is None:
        raise no_kitchen("" if site == SITE else site, journal_entries.site_names(conn))
    ordered = sorted(units.values(), key=lambda unit: unit.order)
    return Kitchen(
        db=db, site=site, clock=clock, draw=draw, station=station, name=set_up.name,
        where=zone(set_up.zone), scale=set_up.scale, closed=set_up.closed,
        susceptible=set_up.susceptible,
        units={unit.name: unit for unit in ordered}, adopted=adopted[0],
        adopted_at=adopted[1].recorded_at, adopted_in=adopted[1].number,
        written_at=clocks.last_written(conn, site),
        known={site: journal_entries.head(conn, site)[:2]},
    )  # fmt: skip
