"""Why this date: everything the journal says of a container, and the rules it stands on."""

from dataclasses import dataclass

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.moments import Instant, local_date
from holdlog.journal import entries as journal_entries
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.coolings import Logged, logged
from holdlog.kitchen.kitchen import Kitchen, find_container, look
from holdlog.kitchen.project import allergens
from holdlog.kitchen.reconcile import Scan
from holdlog.kitchen.records import Container, LiveRecords, Reader
from holdlog.kitchen.round import rounds
from holdlog.kitchen.standing import standing
from holdlog.kitchen.telling import tell
from holdlog.rules.holding import Holding


@dataclass(frozen=True, slots=True)
class Happened:
    """One entry of a container's story.

    ``late``: written on a later day than it happened. ``voided``: it counts no more. ``disputed``:
    it was voided on a later day, and counts until the person in charge confirms that. ``doubted``:
    it was read on a thermometer that was found off.
    """

    number: int
    at: Instant
    recorded_at: Instant
    by: str
    says: str
    late: bool
    voided: bool
    disputed: bool = False
    doubted: bool = False


@dataclass(frozen=True, slots=True)
class Why:
    """A container: where it stands now, what it is made of, and its story. ``cooling`` is its
    last cooling, if one was logged, and ``seen`` the last scan of it, with the id of its round.
    """

    at: Instant
    row: ContainerRow
    holding: Holding
    allergens: tuple[str, ...]
    made_from: tuple[str, ...]
    story: tuple[Happened, ...]
    rulebooks: tuple[str, ...]
    defer: str
    cooling: Logged | None = None
    seen: tuple[str, Scan] | None = None


def why(kitchen: Kitchen, typed: str) -> Why:
    """The story and the basis of the container whose code was typed, gone or not."""
    with kitchen.db.reading() as conn:
        kitchen = kitchen.current(conn)
        at = kitchen.moment(conn)
        row = find_container(kitchen, conn, typed, ended=True)
        container, found = look(kitchen, conn, row.code, at)
        stack = kitchen.stack(conn)
        reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
        return Why(
            at=at,
            row=row,
            holding=found,
            allergens=allergens(container.history),
            made_from=tuple(part.history.name for part in container.history.joined),
            story=_story(_entries(container, reader), reader),
            rulebooks=tuple(book.title for book in stack.books),
            defer=stack.adopted.defer,
            cooling=logged(kitchen, conn, reader, row, at),
            seen=_last_seen(kitchen, conn, row.code),
        )


def _last_seen(kitchen: Kitchen, conn: Connection, code: str) -> tuple[str, Scan] | None:
    """The round in which it was last seen, and that scan; rounds are read newest first."""
    for walk in rounds(kitchen, conn):
        entries = journal_entries.about_since(conn, kitchen.site, walk.subject, walk.number)
        # Most rounds say nothing of it, and reading a text is quicker than understanding it.
        if not any(code in entry.body for entry in entries):
            continue
        walk.end = None
        walk.catch_up(conn, kitchen.site)
        if code in walk.latest:
            return walk.id, walk.latest[code]
    return None


def _entries(container: Container, reader: Reader) -> list[Entry]:
    """The entries of its batch, its own, and those of what it was split from, until then."""
    records = reader.records
    found = [*records.entries(container.origin.batch), *records.entries(container.code)]
    found += [
        entry
        for lot in reader.lots(container.origin.batch)
        for entry in records.entries(lot)
        if isinstance(fact_of(entry), ev.Recalled | ev.Voided | ev.Confirmed)
    ]
    while container.split is not None:
        split, parent = container.split, container.origin.parent
        found += [
            entry
            for entry in records.entries(parent)
            if (entry.at, entry.number) <= split.order or _is_about(entry, split.entry.number)
        ]
        container = reader.container(parent)
    return sorted(found, key=lambda entry: (entry.at, entry.number))


def _is_about(entry: Entry, number: int) -> bool:
    fact = fact_of(entry)
    return isinstance(fact, ev.Voided | ev.Confirmed | ev.Settled) and fact.entry == number


def _story(entries: list[Entry], reader: Reader) -> tuple[Happened, ...]:
    where = reader.where
    by_subject: dict[str, list[Entry]] = {}
    for entry in entries:
        by_subject.setdefault(entry.subject, []).append(entry)
    counts = {
        each.entry.number: each for about in by_subject.values() for each in standing(about, where)
    }
    return tuple(
        Happened(
            number=entry.number,
            at=entry.at,
            recorded_at=entry.recorded_at,
            by=entry.by,
            says=tell(fact := fact_of(entry)),
            late=local_date(entry.recorded_at, where) > local_date(entry.at, where),
            voided=entry.number not in counts
            and not isinstance(fact, ev.Voided | ev.Confirmed | ev.Settled),
            disputed=entry.number in counts and counts[entry.number].disputed_at is not None,
            doubted=reader.doubted(entry, fact),
        )
        for entry in entries
    )
