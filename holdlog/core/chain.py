"""The chain: each entry's hash covers the one before, so that an edit shows.

The hash is SHA-256 over the previous hash, the header fields and the exact stored text of the
body, each preceded by its length in bytes, so that no two different entries can give the same
bytes. A chain alone shows neither a cut tail nor a history that was hashed anew as a whole: its
head goes on paper (``heads``, docs/proof.md).
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

from holdlog.core.moments import Instant

FIRST = "0" * 64
SHORT, WHOLE = 8, 64  # signs of a hash: on labels and screens; on sheets and in files


@dataclass(frozen=True, slots=True)
class Entry:
    """An event as written in the journal.

    ``number`` counts from 1 within ``site``; ``at`` is when it happened as claimed,
    ``recorded_at`` when it was written; ``body`` is the exact stored text (JSON).
    """

    site: str
    number: int
    kind: str
    version: int
    at: Instant
    recorded_at: Instant
    by: str
    station: str
    subject: str
    body: str
    previous: str
    hash: str = ""


def link(entry: Entry) -> str:
    """The hash of ``entry`` (64 hexadecimal characters), whatever its ``hash`` field says."""
    fields = (
        entry.previous, entry.site, str(entry.number), entry.kind, str(entry.version),
        str(entry.at), str(entry.recorded_at), entry.by, entry.station, entry.subject, entry.body,
    )  # fmt: skip
    digest = hashlib.sha256()
    for field in fields:
        data = field.encode()
        digest.update(b"%d:" % len(data))
        digest.update(data)
    return digest.hexdigest()


def show_head(number: int, digest: str, signs: int = SHORT) -> str:
    """A head as it is shown everywhere: the entry's number and its hash, ``#1204 9f3a1c22``;
    with ``WHOLE`` all of the hash.
    """
    return f"#{number} {digest[:signs]}"


def fault_of(entry: Entry, number: int, previous: str) -> str | None:
    """What is wrong with ``entry`` as the one with this number after the hash ``previous``."""
    if entry.number != number:
        return f"entry {number} is missing (the next one found is {entry.number})"
    if entry.previous != previous:
        return f"entry {entry.number} does not follow the one before it"
    if not _as_written(entry) or link(entry) != entry.hash:
        return f"entry {entry.number} was changed after it was written"
    return None


def first_fault(entries: Iterable[Entry]) -> str | None:
    """What is wrong with the first entry that does not fit its chain, or None if all do.

    ``entries`` are all entries of one site in order of number.
    """
    previous = FIRST
    for number, entry in enumerate(entries, 1):
        if fault := fault_of(entry, number, previous):
            return fault
        previous = entry.hash
    return None


def _as_written(entry: Entry) -> bool:
    """Whether every field is of its kind. SQLite gives whatever the file holds, and a damaged file
    holds numbers or bytes in the place of texts (sqlite.org/datatype3.html).
    """
    texts = (
        entry.site, entry.kind, entry.by, entry.station, entry.subject, entry.body,
        entry.previous, entry.hash,
    )  # fmt: skip
    numbers = (entry.number, entry.version, entry.at, entry.recorded_at)
    return all(isinstance(each, str) for each in texts) and all(
        isinstance(each, int) for each in numbers
    )
