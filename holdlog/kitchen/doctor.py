"""The doctor: is the journal whole, and is what it shows on hand what it says?"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import chain

from holdlog.core import events as ev
from holdlog.core.errors import Fault
from holdlog.core.moments import Instant
from holdlog.journal import books as kept_books
from holdlog.journal import checks, on_hand, readings
from holdlog.journal import entries as journal_entries
from holdlog.journal.checks import Finding
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import BatchRow, ContainerRow, LinkRow
from holdlog.kitchen.books import outdated
from holdlog.kitchen.cut_short import cut_short
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.project import batch_of, container_row, links_of
from holdlog.kitchen.records import Reader, ReplayRecords

# Of what is wrong, told in one line. Ours: enough to see what sort of harm it is.
_TOLD = 5


@dataclass(frozen=True, slots=True)
class Replay:
    """What the journal alone says is on hand."""

    batches: list[BatchRow]
    containers: list[ContainerRow]
    links: list[LinkRow]


def examine(kitchen: Kitchen) -> list[Finding]:
    """Every check: chain, database, triggers, migrations, journal mode, on hand, rulebooks, and
    whether the clock can be right; and working files, if any were left.
    """
    findings = checks.check(kitchen.db, kitchen.site)
    if all(finding.ok for finding in findings if finding.name in ("migrations", "chain")):
        with kitchen.db.reading() as conn:
            findings.append(on_hand_as_written(kitchen, conn))
            findings.append(readings_as_imported(kitchen, conn))
            findings.append(_books_as_adopted(conn))
            findings.append(_clock(kitchen, conn))
            findings += filter(None, [cut_short(kitchen, conn)])
    changed = outdated(kitchen.adopted)
    says = (
        "changed since they were adopted: " + ", ".join(changed) + "; the adopted copies still "
        "decide. Adopt again with: holdlog adopt"
        if changed
        else "the adopted rules are those on the shelf"
    )
    findings.append(Finding("rulebooks", not changed, says))
    return findings


def _clock(kitchen: Kitchen, conn: Connection) -> Finding:
    """Whether food may be dated by the clock."""
    try:
        kitchen.dating(conn)
    except Fault as error:
        return Finding("clock", ok=False, says=error.line())
    says = "not behind the last entry, and not more than 30 days after it"
    return Finding("clock", ok=True, says=says)


def replay(kitchen: Kitchen, conn: Connection) -> Replay:
    """Fold the whole journal anew."""
    kitchen = kitchen.current(conn)
    records = ReplayRecords()
    for entry in journal_entries.stream(conn, kitchen.site):
        records.add(entry)
    reader = Reader(records, kitchen.where)
    batches, links = [], []
    for subject in records.by_subject:
        links += links_of(reader, subject)
        batch = batch_of(reader, subject) if subject not in records.origins else None
        if batch is not None:
            batches.append(batch)
    containers = [
        container_row(
            reader, code, lambda number: kitchen.stack_at(conn, number), kitchen.adopted_at
        )
        for code in records.origins
    ]
    return Replay(
        sorted(batches, key=lambda row: row.batch),
        sorted(containers, key=lambda row: row.code),
        sorted(set(links), key=lambda link: (link.code, link.into)),
    )


def rebuild(kitchen: Kitchen, by: str) -> int:
    """Write what is on hand anew from the journal alone. How many containers there are.

    Raises ``Fault("broken-chain")`` when the journal itself was changed: nothing is shown on the
    word of such a journal.
    """
    with kitchen.writing(by) as write:
        chain = checks.chain_whole(write.conn, kitchen.site)
        if not chain.ok:
            raise Fault(
                "broken-chain",
                chain.says,
                "What is on hand was left as it is. Go back to a copy that is whole.",
            )
        found = replay(kitchen, write.conn)
        on_hand.replace_all(write.conn, kitchen.site, found.batches, found.containers, found.links)
    return len(found.containers)


def on_hand_as_written(kitchen: Kitchen, conn: Connection) -> Finding:
    """Whether what is on hand is what a replay of the journal gives."""
    wanted = replay(kitchen, conn)
    batches, containers, links = on_hand.everything(conn, kitchen.site)
    wrong = [
        *_differences(containers, wanted.containers, "container", "code"),
        *_differences(batches, wanted.batches, "batch", "batch"),
    ]
    if set(links) != set(wanted.links):
        wrong.append("what was made into what")
    if wrong:
        shown = ", ".join(wrong[:_TOLD])
        shown += f" and {len(wrong) - _TOLD} more" if wrong[_TOLD:] else ""
        return Finding(
            "on-hand",
            False,  # noqa: FBT003
            f"not what the journal says: {shown}. Mend it with: holdlog doctor --rebuild",
        )
    return Finding("on-hand", True, f"{len(containers)} containers, as the journal says")  # noqa: FBT003


def _books_as_adopted(conn: Connection) -> Finding:
    """Whether every rulebook kept is the one that was adopted: the chain does not reach into
    their table, but each adoption names them.
    """
    # Sites share the books and not their clocks: any adoption may have been the first to keep one.
    adopted: dict[str, set[tuple[str, Instant]]] = {}
    for entry in chain.from_iterable(
        journal_entries.of_kinds(conn, site, ["stack"]) for site in journal_entries.site_names(conn)
    ):
        fact = fact_of(entry)
        for book in fact.books if isinstance(fact, ev.StackAdopted) else ():
            adopted.setdefault(book.digest, set()).add((book.id, entry.recorded_at))
    wrong = set(adopted)
    for digest, name, at, content in kept_books.kept(conn):
        whole = isinstance(content, bytes) and hashlib.sha256(content).hexdigest() == digest
        if whole and (name, at) in adopted.get(digest, ()):
            wrong.discard(digest)
        else:
            wrong.add(digest)
    if wrong:
        known = {digest: min(said)[0] for digest, said in adopted.items()}
        names = ", ".join(sorted(str(known.get(digest, digest[:12])) for digest in wrong))
        says = f"Rulebooks are not as they were adopted: {names}. Go back to a copy that is whole."
        return Finding("books", ok=False, says=says)
    return Finding("books", ok=True, says=f"{len(adopted)} rulebooks, as they were adopted.")


def readings_as_imported(kitchen: Kitchen, conn: Connection) -> Finding:
    """Whether the loggers' readings are those that their imports kept: the chain does not reach
    into their table, but each import's entry holds the digest of what it added.
    """
    added: dict[str, int] = {}
    wrong = []
    for entry in journal_entries.of_kinds(conn, kitchen.site, ["readings"]):
        fact = fact_of(entry)
        if not isinstance(fact, ev.ReadingsImported):
            continue
        added[entry.subject] = added.get(entry.subject, 0) + fact.added
        if fact.kept and fact.kept != _kept(kitchen, conn, entry.subject, entry.number, fact):
            wrong.append(f"entry {entry.number} ({entry.subject}, {fact.file})")
    there = readings.units(conn, kitchen.site)
    for unit in sorted({*added, *there}, key=str):
        count = readings.count(conn, kitchen.site, unit)
        if count != added.get(unit, 0):
            wrong.append(f"{unit}: {count} readings, {added.get(unit, 0)} imported")
    if wrong:
        says = f"The readings are not those that were imported: {'; '.join(wrong[:_TOLD])}."
        return Finding("readings", ok=False, says=f"{says} Go back to a copy that is whole.")
    total = sum(added.values())
    return Finding("readings", ok=True, says=f"{total} readings of loggers, as they were imported.")


def _kept(
    kitchen: Kitchen, conn: Connection, unit: str, number: int, fact: ev.ReadingsImported
) -> str:
    if fact.first is None or fact.last is None:
        return readings.digest(conn, kitchen.site, unit, number)
    first, last = Instant(fact.first), Instant(fact.last)
    return readings.digest(conn, kitchen.site, unit, number, start=first, end=last)


def _differences(
    found: Iterable[BatchRow | ContainerRow],
    wanted: Iterable[BatchRow | ContainerRow],
    what: str,
    key: str,
) -> list[str]:
    have = {getattr(row, key): row for row in found}
    want = {getattr(row, key): row for row in wanted}
    # A damaged name may be no text.
    names = sorted({*have, *want}, key=str)
    return [f"{what} {name}" for name in names if have.get(name) != want.get(name)]
