"""Copies the whole journal while it is in use, and believes no copy that it has not read.

The copy goes through SQLite's online backup: copying the file with other tools may miss what
is still in its journal, and opening it beside SQLite in one process drops SQLite's locks.
"""

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from holdlog.core.chain import first_fault
from holdlog.core.errors import Fault, Mistake
from holdlog.journal.engine import Connection, Database, open_database
from holdlog.journal.entries import head, site_names, stream
from holdlog.journal.soundness import unsound


def copy(where: str | Path, to: Path) -> Path:
    """Copy the journal at ``where`` to the new file ``to``, and give its absolute path.

    Raises ``Mistake("no-journal")``, ``Mistake("file-exists")``, and ``Fault("copy-bad")`` if
    the copy does not read back whole; then no file is left at ``to``.
    """
    db = open_database(where, must_exist=True)
    try:
        return copy_open(db, to)
    finally:
        db.close()


def copy_open(db: Database, to: Path, *, chains: bool = True) -> Path:
    """The same for a database that is open. Others may go on writing meanwhile.

    Without ``chains`` the entries are not read, for tables that are not those of this program.
    """
    if db.path is None:
        raise Mistake(
            "not-a-file",
            "Only a journal in a file can be copied.",
            "For PostgreSQL use its own tool, pg_dump.",
        )
    to = to.absolute()
    if to.exists():
        raise Mistake("file-exists", f"There is a file at {to} already.", "Give another path.")
    # Under another name until it is known to be good, so that no bad copy passes for one.
    part = to.with_name(f".{to.name}.part")
    try:
        part.unlink(missing_ok=True)
        _write(db, part, chains=chains)
        _sync(part)
        part.replace(to)
        _sync(to.parent)
    except OSError as error:
        raise Fault(
            "cannot-copy",
            f"The copy {to} could not be written: {error.strerror}.",
            "Nothing is lost; copy to another disk.",
        ) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return to


def _write(db: Database, to: Path, *, chains: bool) -> None:
    target = open_database(to)
    try:
        heads = _heads(db) if chains else {}
        with db.driver() as ours, target.driver() as theirs:
            ours.backup(theirs)
            # In WAL mode a copy could not be read from a medium that is write-protected.
            theirs.execute("PRAGMA journal_mode = DELETE")
        with target.reading() as conn:
            fault = unsound(conn) or next(filter(None, _chain_faults(conn, heads)), None)
    finally:
        target.close()
    if fault:
        raise Fault(
            "copy-bad",
            f"The copy {to} does not read back whole ({fault}), so it was thrown away.",
            "Run: holdlog doctor",
        )


def _heads(db: Database) -> dict[str, int]:
    with db.reading() as conn:
        return {site: head(conn, site)[0] for site in site_names(conn)}


def _chain_faults(conn: Connection, heads: dict[str, int]) -> Iterator[str | None]:
    for site, number in heads.items():
        yield first_fault(stream(conn, site))
        if head(conn, site)[0] < number:
            yield f"the last entries of {site} are missing"


def _sync(path: Path) -> None:
    """Make the disk keep a file, or the names in a folder."""
    if os.name == "nt" and path.is_dir():
        return  # Windows cannot open a folder, and keeps its names itself.
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
