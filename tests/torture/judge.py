"""What is left of a journal after something was done to it, against what was acknowledged."""

import dataclasses
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random
from unittest.mock import patch

from holdlog.core.chain import Entry, link
from holdlog.core.errors import HoldlogError
from holdlog.core.moments import Instant
from holdlog.journal import checks, engine
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Database, open_database
from holdlog.kitchen import doctor
from holdlog.kitchen.kitchen import SITE, Kitchen, open_kitchen
from holdlog.kitchen.unit_read import read_unit
from tests.kitchen.shop import temp
from tests.torture.ledger import Acknowledged

# What each check of the doctor is called here.
_MEANS = {
    "chain": "chain",
    "on-hand": "torn",
    "readings": "torn",
    "database": "database",
    "migrations": "database",
    "triggers": "guards",
}


@dataclass(frozen=True, slots=True)
class Judgement:
    """What was found. ``unacknowledged``: stored although nobody was told, which is allowed.

    ``to_recover``: the journal was left with an unfinished transaction or one not yet moved into
    the file. ``wrong`` holds (kind, sentence): lost, denied (it is there, and somebody was told
    that it was not written), chain, torn, database, guards, append, closed (it could not be
    opened), crash.
    """

    entries: int
    unacknowledged: int
    to_recover: bool
    wrong: tuple[tuple[str, str], ...]

    def said(self, *, besides: Sequence[str] = ()) -> list[str]:
        """The sentences, without those of the kinds ``besides``."""
        return [f"{kind}: {says}" for kind, says in self.wrong if kind not in besides]


@contextmanager
def journal_mode(mode: str) -> Iterator[None]:
    """Use SQLite in this journal mode in this process, whatever its version would choose.

    Empty: as it would choose.
    """
    if not mode:
        yield
        return
    pair = {"WAL": ("WAL", "FULL"), "DELETE": ("DELETE", "EXTRA")}[mode]
    with (
        patch.object(engine, "journal_for", lambda *_: pair),
        patch.object(checks, "journal_for", lambda *_: pair),
    ):
        yield


def left_to_recover(path: Path) -> bool:
    """Whether a rollback journal or a write-ahead log was left beside the file.

    Ask before it is opened again. A rollback journal that was finished is gone or empty
    (sqlite.org/lockingv3.html); a write-ahead log is there until the last connection closes.
    """
    beside = (path.with_name(path.name + end) for end in ("-journal", "-wal"))
    return any(each.exists() and each.stat().st_size > 0 for each in beside)


def judge(
    where: str | Path,
    acknowledged: Sequence[Acknowledged],
    *,
    denied: Sequence[Acknowledged] = (),
    known: int = 0,
    site: str = SITE,
    append: bool = True,
) -> Judgement:
    """Open the journal at ``where`` afresh and hold it against ``acknowledged``.

    Nothing of ``denied`` may be there: who was told that it was not written has written it again.
    ``known`` entries were there before anybody was watched. With ``append`` one entry more is
    written, which has to follow the last.
    """
    to_recover = isinstance(where, Path) and left_to_recover(where)
    entries: list[Entry] = []
    wrong: list[tuple[str, str]] = []
    try:
        db = open_database(where, must_exist=True)
    except HoldlogError as error:
        return Judgement(0, 0, to_recover, (("closed", error.line()),))
    try:
        # Before anything else: these are what people were told.
        with db.reading() as conn:
            entries = list(journal_entries.stream(conn, site))
        wrong += _lost(entries, acknowledged)
        there = {entry.hash for entry in entries}
        wrong += [
            ("denied", f"entry {each.number} was said not to be written, and is there")
            for each in denied
            if each.hash in there
        ]
        wrong += _examined(db, site)
        if append:
            wrong += _next(db, site, len(entries))
    except HoldlogError as error:
        wrong.append(("closed", error.line()))
    # Anything that is not one clear line is a fault of the program, whatever it was.
    except Exception as error:  # noqa: BLE001
        wrong.append(("crash", f"{type(error).__name__}: {error}"))
    finally:
        db.close()
    told = {each.number for each in acknowledged}
    silent = sum(entry.number > known and entry.number not in told for entry in entries)
    return Judgement(len(entries), silent, to_recover, tuple(wrong))


def _lost(
    entries: Sequence[Entry], acknowledged: Sequence[Acknowledged]
) -> Iterator[tuple[str, str]]:
    there = {entry.number: entry for entry in entries}
    missing = [
        each
        for each in acknowledged
        if each.number not in there
        or there[each.number].hash != each.hash
        # The text is what counts, not what the row says its hash is.
        or link(there[each.number]) != each.hash
    ]
    if missing:
        yield "lost", f"{len(missing)} of {len(acknowledged)}, the first is {missing[0].number}"
    twice = len(acknowledged) - len({each.number for each in acknowledged})
    if twice:
        yield "lost", f"{twice} numbers were acknowledged twice"


def _examined(db: Database, site: str) -> Iterator[tuple[str, str]]:
    for finding in doctor.examine(_kitchen(db, site)):
        if not finding.ok and finding.name in _MEANS:
            yield _MEANS[finding.name], finding.says


def _next(db: Database, site: str, last: int) -> Iterator[tuple[str, str]]:
    kitchen = _kitchen(db, site)
    read = read_unit(kitchen, "jr", kitchen.unit("walk-in"), kitchen.now(), temp("38 F"))
    if read.reading.entry != last + 1:
        yield "append", f"the entry after {last} got number {read.reading.entry}"
    with db.reading() as conn:
        chain = checks.chain_whole(conn, site)
    if not chain.ok:
        yield "append", chain.says


def _kitchen(db: Database, site: str) -> Kitchen:
    kitchen = open_kitchen(db, _no_clock, Random(1).choice, site=site)
    # The time is that of the journal: it may have been written by a clock of another year.
    with db.reading() as conn:
        last = journal_entries.head(conn, site)[2]
    return dataclasses.replace(kitchen, clock=lambda: last)


def _no_clock() -> Instant:
    raise AssertionError("no clock is asked")
