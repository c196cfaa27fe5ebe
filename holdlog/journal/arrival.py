"""Where a whole journal arrives: in a new file, in an empty database, or in another's place.

All or nothing, each of them: it is proven in the transaction that brought it, and a new file gets
its name after that.
"""

import errno
import os
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from holdlog.core.errors import Fault, Mistake
from holdlog.core.parts import sync, take_new_name
from holdlog.journal import migrate
from holdlog.journal.engine import Connection, Database, open_database
from holdlog.journal.flaws import Proof, flaw, heads
from holdlog.journal.new_file import BESIDE, new_file
from holdlog.journal.soundness import weakened
from holdlog.journal.transfer import Tell, emptied, fill, keep_others_out, pour, quiet

After = Callable[[Connection], None]
"""What is done with the journal that arrived, in the same transaction, once it was proven."""


def _nothing(_: Connection) -> None:
    pass


def arrive(
    source: Connection,
    target: Database,
    proof: Proof,
    tell: Tell = quiet,
    after: After = _nothing,
) -> None:
    """Bring the journal of ``source`` to ``target``, which has to be missing or empty.

    Raises ``Mistake("not-empty")``, and ``Fault``; then the target is as it was.
    """
    if migrate.state(target) != "missing":
        raise _not_empty(target)
    if target.path is None or target.path.exists():
        with target.appending() as conn:
            # Asked again now that nobody else writes: two may have come at once.
            if not migrate.empty(conn):
                raise _not_empty(target)
            fill(source, conn, tell)
            _prove(source, target, conn, proof)
            after(conn)
        return
    # Through a link: the file is made where it points to, and not in the link's place.
    with new_file(target.path.resolve()) as part:
        _filled(source, part, proof, tell, after)


def _not_empty(target: Database) -> Mistake:
    return Mistake(
        "not-empty",
        f"There is a journal at {target.name} already.",
        "Nothing was changed. Give an empty database, or a file that is not there yet.",
    )


def take_the_place(
    source: Connection,
    target: Database,
    first: Callable[[Connection], None],
    proof: Proof,
    tell: Tell = quiet,
    after: After = _nothing,
) -> None:
    """Put the journal of ``source`` in the place of the sound one in ``target``.

    In one transaction, so that other programs that have it open see the old one or the new one,
    and never lose the file under their hands. Nobody else writes meanwhile; ``first`` looks at
    the old one in this transaction, and may end it by raising.
    """
    with target.appending() as conn:
        keep_others_out(conn)
        first(conn)
        with emptied(conn):
            pour(source, conn, tell)
        _prove(source, target, conn, proof)
        after(conn)


def take_the_damaged_place(
    source: Connection,
    target: Database,
    aside: Path,
    proof: Proof,
    tell: Tell = quiet,
    after: After = _nothing,
) -> None:
    """The same where the file is too damaged to be opened: it is moved to ``aside`` as it is,
    with what SQLite keeps beside it.

    Raises ``Fault("locked")`` while another program is at work on it.
    """
    if target.path is None:
        raise Mistake("not-a-file", "Only a file can be moved aside.")
    path = target.path.resolve()
    _refuse_if_used(target)
    # No connection may be left: what is renamed must not be open here.
    target.close()
    replaced = path.with_name(f"{path.name}.restored")
    with suppress(OSError):
        replaced.unlink()
    with new_file(replaced) as part:
        _filled(source, part, proof, tell, after)
    try:
        _put_aside(path, aside)
        replaced.replace(path)
        sync(path.parent)
    except OSError as error:
        raise Fault(
            "cannot-restore",
            f"The restored journal could not be put in its place: {error.strerror}.",
            f"It is {replaced}; what was there is {path}, or {aside} with what bears that name.",
        ) from error


def _put_aside(path: Path, aside: Path) -> None:
    """Give the file at ``path`` the name ``aside``, and what lies beside it a name alike; never
    over another file.
    """
    names = {path.with_name(path.name + end): aside.with_name(aside.name + end) for end in BESIDE}
    for name in (aside, *names.values()):
        if os.path.lexists(name):
            raise FileExistsError(errno.EEXIST, f"{name} is there already", str(name))
    # What lay beside the old file goes first: SQLite would play it into the new one.
    for old, new in names.items():
        if old.exists():
            old.replace(new)
    # The old file keeps its name, too, so that there is no moment without a journal.
    take_new_name(path, aside)


def _filled(source: Connection, part: Path, proof: Proof, tell: Tell, after: After) -> None:
    new = open_database(part)
    try:
        with new.appending() as conn:
            fill(source, conn, tell)
            _prove(source, new, conn, proof)
            after(conn)
        with new.driver() as raw:
            # So that all of it is in the one file that gets the name.
            raw.execute("PRAGMA journal_mode = DELETE")
    finally:
        new.close()


def _prove(source: Connection, target: Database, conn: Connection, proof: Proof) -> None:
    fault = flaw(conn, heads(source)) or proof(target, conn)
    if not fault and (missing := weakened(conn)):
        fault = f"what guards the entries is not all there: {', '.join(missing)}"
    if fault:
        raise Fault(
            "not-whole",
            f"What arrived at {target.name} is not whole ({fault}).",
            "Nothing was kept of it. See what is wrong at the source with: holdlog doctor",
        )


def _refuse_if_used(target: Database) -> None:
    try:
        with target.driver() as raw:
            raw.execute("BEGIN EXCLUSIVE")
            raw.execute("ROLLBACK")
    except Fault as fault:
        if fault.code == "locked":
            raise
