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
from holdlog.kitchen.records import Container, LiveRecords, Reader, standing
from holdlog.kitchen.telling import tell
from holdlog.rules.holding import Holding


@dataclass(frozen=True, slots=True)
class Happened:
    """One entry of a container's story.

    ``late``: written on a later day than it happened. ``voided``: it counts no more. ``disputed``:
    it was voided on a later day, and counts until the person in charge confirms that.
    """

    number: int
    at: Instant
    recorded_at: Instant
    by: str
    says: str
    late: bool
    voided: bool
    disputed: bool = False


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
    with kitchen.db.reading() as conn:
        kitchen = kitchen.current(conn)
        at = kitchen.moment(conn)
        row = find_container(kitchen, conn, typed, ended=True)
        container, found = look(kitchen, conn, row.code, at)
        stack = kitchen.stack(conn)
        entries = _entries(container, Reader(LiveRecords(conn, kitchen.site), kitchen.where))
        return Why(
            at=at,
            row=row,
            holding=found,
            allergens=allergens(container.history),
            made_from=tuple(part.history.name for part in container.history.joined),
            story=_story(entries, kitchen.where),
            rulebooks=tuple(book.title for book in stack.books),
            defer=stack.adopted.defer,
        )


def _entries(container: Container, reader: Reader) -> list[Entry]:
    """The entries of its batch, its own, and those of what it was split from, until then."""
    records = reader.records
    found = [*records.entries(container.origin.batch), *records.entries(container.code)]
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
    return isinstance(fact, ev.Voided | ev.Confirmed) and fact.entry == number


def _story(entries: list[Entry], where: ZoneInfo) -> tuple[Happened, ...]:
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
            voided=entry.number not in counts and not isinstance(fact, ev.Voided | ev.Confirmed),
            disputed=entry.number in counts and counts[entry.number].disputed_at is not None,
        )
        for entry in entries
    )
