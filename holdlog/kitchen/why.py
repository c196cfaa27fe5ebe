"""Why this date: everything the journal says of a container, and the rules it stands on."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.moments import Instant, local_date
from holdlog.journal.codec import fact_of
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.kitchen import Kitchen, find_container, look
from holdlog.kitchen.project import allergens
from holdlog.kitchen.records import Container, LiveRecords
from holdlog.kitchen.telling import tell
from holdlog.rules.holding import Holding


@dataclass(frozen=True, slots=True)
class Happened:
    """One entry of a container's story. ``late``: written on a later day than it happened."""

    number: int
    at: Instant
    recorded_at: Instant
    by: str
    says: str
    late: bool
    voided: bool


@dataclass(frozen=True, slots=True)
class Why:
    """A container: where it stands now, what it is made of, and its story."""

    at: Instant
    row: ContainerRow
    holding: Holding
    allergens: tuple[str, ...]
    made_from: tuple[str, ...]
    story: tuple[Happened, ...]
    rulebooks: tuple[str, ...]
    defer: str


def why(kitchen: Kitchen, typed: str) -> Why:
    """The story and the basis of the container whose code was typed, gone or not."""
    at = kitchen.now()
    with kitchen.db.reading() as conn:
        row = find_container(kitchen, conn, typed, ended=True)
        container, found = look(kitchen, conn, row.code, at)
        stack = kitchen.stack(conn)
        records = LiveRecords(conn, kitchen.site)
        entries = _entries(container, records)
        return Why(
            at=at,
            row=row,
            holding=found,
            allergens=allergens(container.history),
            made_from=tuple(part.history.name for part in container.history.joined),
            story=tuple(_happened(entry, entries, kitchen.where) for entry in entries),
            rulebooks=tuple(book.title for book in stack.books),
            defer=stack.adopted.defer,
        )


def _entries(container: Container, records: LiveRecords) -> list[Entry]:
    subjects = [container.origin.batch, container.code]
    parent = container.origin.parent
    while parent:
        subjects.append(parent)
        origin = records.origin(parent)
        parent = origin.parent if origin is not None else ""
    found = [entry for subject in subjects for entry in records.entries(subject)]
    return sorted(found, key=lambda entry: (entry.at, entry.number))


def _happened(entry: Entry, entries: list[Entry], where: ZoneInfo) -> Happened:
    voids = {fact.entry for fact in map(fact_of, entries) if isinstance(fact, ev.Voided)}
    return Happened(
        number=entry.number,
        at=entry.at,
        recorded_at=entry.recorded_at,
        by=entry.by,
        says=tell(fact_of(entry)),
        late=local_date(entry.recorded_at, where) > local_date(entry.at, where),
        voided=entry.number in voids,
    )
