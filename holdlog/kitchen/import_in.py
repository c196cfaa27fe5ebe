"""What both imports share: a file is read in once, whole, or not at all."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from typing import Generic, Literal, TypeVar

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import show_dated
from holdlog.journal import entries as journal_entries
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.kitchen.kitchen import KITCHEN, Kitchen, Writing
from holdlog.kitchen.rows_in import Fault, RowIn, WrongCell

Made = TypeVar("Made")
Said = TypeVar("Said")


@dataclass(frozen=True, slots=True)
class Imported(Generic[Made]):
    """What became of a file: what was made of each row, and every fault. ``recorded``: it stands
    in the journal; never so where there is a fault. ``earlier``: other files of the kind that were
    read in before, in words.
    """

    file: str
    rows: tuple[tuple[int, Made], ...]
    faults: tuple[Fault, ...]
    recorded: bool
    earlier: tuple[str, ...] = ()


class _UndoneError(Exception):
    """Takes a transaction back."""


def bring_in(
    kitchen: Kitchen,
    by: str,
    what: Literal["items", "inventory"],
    file: tuple[str, bytes],
    rows: Sequence[tuple[RowIn, Said | None]],
    record: Callable[[Writing, Said], Made],
    *,
    yes: bool,
) -> Imported[Made]:
    """Record each row in one transaction, and take it all back unless ``yes`` and without fault.

    ``rows`` are those of the file with what they say, None where they have a fault. So a look is
    the very thing that would be recorded. Raises ``Mistake("is-imported")`` for a file that was
    read in already.
    """
    name, data = file
    digest = sha256(data).hexdigest()
    faults = [fault for row, _ in rows for fault in row.faults]
    made: list[tuple[int, Made]] = []
    earlier: list[str] = []
    try:
        with kitchen.writing(by) as write:
            earlier += _earlier(kitchen, write.conn, what, digest)
            for row, said in rows:
                if said is not None and not row.faults:
                    with _row(write.conn, row, faults):
                        made.append((row.number, record(write, said)))
            if faults or not yes:
                raise _UndoneError  # noqa: TRY301
            fact = ev.FileImported(what, name, digest, len(made))
            write.append((fact, write.recorded_at, KITCHEN))
    except _UndoneError:
        wrong = tuple(sorted(faults, key=_place))
        return Imported(name, tuple(made), wrong, recorded=False, earlier=tuple(earlier))
    return Imported(name, tuple(made), (), recorded=True, earlier=tuple(earlier))


@contextmanager
def _row(conn: Connection, row: RowIn, faults: list[Fault]) -> Iterator[None]:
    """One row: a mistake in it takes the row back, and the next one is looked at."""
    try:
        with conn.begin_nested():
            yield
    except Mistake as mistake:
        column = mistake.column if isinstance(mistake, WrongCell) else ""
        faults.append(Fault(row.number, column, mistake.sentence, mistake.hint))


def _place(fault: Fault) -> tuple[int, str]:
    return fault.row, fault.column


def _earlier(kitchen: Kitchen, conn: Connection, what: str, digest: str) -> list[str]:
    """The files of the kind that were read in before. Raises ``Mistake("is-imported")`` where
    this very one is among them.
    """
    found = []
    for entry in journal_entries.of_kinds(conn, kitchen.site, ["file-imported"]):
        fact = fact_of(entry)
        if not isinstance(fact, ev.FileImported) or fact.what != what:
            continue
        when = show_dated(entry.at, kitchen.where)
        if fact.digest == digest:
            raise Mistake(
                "is-imported",
                f"This very file was read in on {when} as {fact.file} (entry {entry.number}).",
                "Nothing was recorded. What is new goes into a file of its own.",
            )
        rows = "1 row" if fact.rows == 1 else f"{fact.rows} rows"
        found.append(f"{fact.file}, {rows}, {when} (entry {entry.number})")
    return found
