"""Appends to the journal and reads it back. Nothing here changes an entry.

An append takes place inside ``Database.appending()``, together with the on-hand rows that
follow from it: both are kept, or neither.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache
from itertools import starmap

from sqlalchemy import Connection, bindparam, insert, select

from holdlog.core.chain import FIRST, Entry, link
from holdlog.core.errors import Mistake
from holdlog.core.events import Fact
from holdlog.core.moments import DAY, Instant
from holdlog.journal.codec import encode
from holdlog.journal.rows import Prepared, chunks, maker, streamed, tuples
from holdlog.journal.tables import entry as table
from holdlog.journal.tables import site as sites
from holdlog.journal.turns import open_site, take_or_open

COLUMNS = [field.name for field in fields(Entry)]
_ALL = select(*(table.c[name] for name in COLUMNS)).where(table.c.site == bindparam("site"))
_IN_ORDER = _ALL.order_by(table.c.number)
_NUMBERED = Prepared(_ALL.where(table.c.number == bindparam("number")))
_OF_SUBJECTS = Prepared(_ALL.where(table.c.subject.in_(bindparam("subjects", expanding=True))))
_SINCE = Prepared(
    _IN_ORDER.where(table.c.subject == bindparam("subject"), table.c.number > bindparam("number"))
)
_WRITTEN = Prepared(
    _IN_ORDER.where(
        table.c.number >= bindparam("first"),
        table.c.number < bindparam("last"),
        table.c.kind.in_(bindparam("kinds", expanding=True)) | (table.c.recorded_at > table.c.at),
    )
)
_BOUNDS = {
    "since": table.c.at >= bindparam("since"),
    "until": table.c.at < bindparam("until"),
    "written_since": table.c.recorded_at >= bindparam("written_since"),
}
_LATEST = (
    _ALL.where(table.c.subject == bindparam("subject"), table.c.at < bindparam("until"))
    .order_by(table.c.at.desc(), table.c.number.desc())
    .limit(1)
)
_LATEST_LATELY = Prepared(
    _LATEST.where(table.c.kind == bindparam("kind"), table.c.at >= bindparam("since"))
)
# With something added to the kind no index of kinds fits: it is looked up by its subject.
_LATEST_OF_SUBJECT = Prepared(_LATEST.where(table.c.kind.concat("") == bindparam("kind")))
LATELY = 7 * DAY
_HEAD = Prepared(
    select(table.c.number, table.c.hash, table.c.recorded_at)
    .where(table.c.site == bindparam("site"))
    .order_by(table.c.number.desc())
    .limit(1)
)
_INSERT = insert(table)
_made = maker(Entry)


@dataclass(frozen=True, slots=True)
class Draft:
    """A fact about to be written: when it happened, what it is about, who wrote it."""

    fact: Fact
    at: Instant
    subject: str
    by: str


def append(
    conn: Connection,
    site: str,
    drafts: Sequence[Draft],
    *,
    recorded_at: Instant,
    station: str = "",
) -> list[Entry]:
    """Write ``drafts`` after the last entry of ``site``, in this order, as one chain.

    Raises ``Mistake("in-the-future")`` for one that happened after ``recorded_at``,
    ``Mistake("bad-text")`` for text that cannot be stored, ``Fault("unwritable-entry")`` for a
    fact that could not be read again. Nothing is written then.
    """
    take_or_open(conn, site, recorded_at)
    number, previous, _ = head(conn, site)
    if number == 0:
        open_site(conn, site, recorded_at)
    written: list[Entry] = []
    for draft in drafts:
        number += 1
        entry = _entry(site, number, draft, recorded_at, station, previous)
        previous = entry.hash
        written.append(entry)
    if written:
        conn.execute(_INSERT, [{name: getattr(e, name) for name in COLUMNS} for e in written])
    return written


def next_number(conn: Connection, site: str, at: Instant) -> int:
    """The number of the entry that is appended next in this transaction; nobody else gets it."""
    take_or_open(conn, site, at)
    return head(conn, site)[0] + 1


def latest(
    conn: Connection, site: str, kind: str, subject: str, before: Instant | None = None
) -> Entry | None:
    """The entry of ``kind`` about ``subject`` that happened last (before an instant), or None."""
    until = before if before is not None else Instant(2**53)
    lately = Instant(min(until, head(conn, site)[2]) - LATELY)
    values = {"site": site, "kind": kind, "subject": subject, "until": until}
    # Among the few of its kind that happened lately, else among all that is known of the subject:
    # neither walks through years of entries about others.
    rows = tuples(conn, _LATEST_LATELY, **values, since=lately)
    if not rows:
        rows = tuples(conn, _LATEST_OF_SUBJECT, **values)
    return _made(*rows[0]) if rows else None


def head(conn: Connection, site: str) -> tuple[int, str, Instant]:
    """Number, hash and ``recorded_at`` of the last entry; ``(0, FIRST, 0)`` if there is none."""
    for number, digest, recorded_at in tuples(conn, _HEAD, site=site):
        return number, digest, Instant(recorded_at)
    return 0, FIRST, Instant(0)


def numbered(conn: Connection, site: str, number: int) -> Entry | None:
    """The entry with this number, or None."""
    rows = tuples(conn, _NUMBERED, site=site, number=number)
    return _made(*rows[0]) if rows else None


def of_subjects(conn: Connection, site: str, subjects: Iterable[str]) -> list[Entry]:
    """The entries about any of ``subjects``, by number."""
    found: list[Entry] = []
    for some in chunks(dict.fromkeys(subjects)):
        found.extend(starmap(_made, tuples(conn, _OF_SUBJECTS, site=site, subjects=some)))
    found.sort(key=lambda entry: entry.number)
    return found


def about_since(conn: Connection, site: str, subject: str, number: int) -> list[Entry]:
    """The entries about ``subject`` that were written after entry ``number``, in order."""
    return list(starmap(_made, tuples(conn, _SINCE, site=site, subject=subject, number=number)))


def of_kinds(
    conn: Connection,
    site: str,
    kinds: Iterable[str],
    *,
    since: Instant | None = None,
    until: Instant | None = None,
    written_since: Instant | None = None,
) -> list[Entry]:
    """The entries of ``kinds`` that happened from ``since`` to just before ``until``, by number;
    with ``written_since``, only those that were written then or later.

    It is ``at`` that counts, when it happened, not when it was written. None: no bound.
    """
    given = (("since", since), ("until", until), ("written_since", written_since))
    bounds = {name: at for name, at in given if at is not None}
    query = _of_kinds(*bounds)
    # Put in order here: asked to do it, SQLite walks the whole journal by number instead of
    # looking up the few entries of a kind.
    rows = tuples(conn, query, site=site, kinds=list(kinds), **bounds)
    found = list(starmap(_made, rows))
    found.sort(key=lambda entry: entry.number)
    return found


@cache
def _of_kinds(*bounds: str) -> Prepared:
    of_kinds = _ALL.where(table.c.kind.in_(bindparam("kinds", expanding=True)))
    return Prepared(of_kinds.where(*(_BOUNDS[name] for name in bounds)))


def written(
    conn: Connection, site: str, kinds: Iterable[str], since: Instant, until: Instant
) -> list[Entry]:
    """Of the entries that were written from ``since`` to just before ``until`` those of ``kinds``
    and those that tell of something earlier than that, by number.

    Numbers follow the clock, so that the two ends are found by halving, without an index.
    """
    first, last = (first_written(conn, site, at) for at in (since, until))
    values = {"site": site, "first": first, "last": last, "kinds": list(kinds)}
    return list(starmap(_made, tuples(conn, _WRITTEN, **values)))


def first_written(conn: Connection, site: str, at: Instant) -> int:
    """The number of the first entry that was written at ``at`` or later (of the next one, if none
    was).
    """
    low, high = 1, head(conn, site)[0] + 1
    while low < high:
        middle = (low + high) // 2
        entry = numbered(conn, site, middle)
        if entry is not None and entry.recorded_at >= at:
            high = middle
        else:
            low = middle + 1
    return low


def stream(conn: Connection, site: str) -> Iterator[Entry]:
    """Every entry of ``site`` by number, a few at a time: use it up inside the transaction."""
    return starmap(_made, streamed(conn, _IN_ORDER, site=site))


def site_names(conn: Connection) -> list[str]:
    """The sites that have a journal in this database, in order."""
    return [name for (name,) in tuples(conn, select(sites.c.site).order_by(sites.c.site))]


def _entry(
    site: str, number: int, draft: Draft, recorded_at: Instant, station: str, previous: str
) -> Entry:
    if draft.at > recorded_at:
        raise Mistake(
            "in-the-future",
            "An entry cannot tell of something that is still to come.",
            "Check the clock of this machine and the time you gave.",
        )
    _check_text(site, draft.subject, draft.by, station)
    kind, version, body = encode(draft.fact)
    entry = Entry(
        site=site,
        number=number,
        kind=kind,
        version=version,
        at=draft.at,
        recorded_at=recorded_at,
        by=draft.by,
        station=station,
        subject=draft.subject,
        body=body,
        previous=previous,
    )
    return replace(entry, hash=link(entry))


def _check_text(*texts: str) -> None:
    # Half a character cannot be stored as UTF-8, and PostgreSQL takes no NUL.
    for text in texts:
        if "\0" in text or any("\ud800" <= character <= "\udfff" for character in text):
            raise Mistake(
                "bad-text", f"{text!r} holds characters that cannot be kept.", "Type it again."
            )
