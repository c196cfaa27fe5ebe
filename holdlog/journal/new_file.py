"""A database's file that appears whole under its name, or not at all."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from holdlog.core.errors import Fault, Mistake
from holdlog.core.parts import sync, take_new_name, working

# What SQLite keeps beside a file while it is open, and leaves there after a crash
# (sqlite.org/tempfiles.html).
_LOGS = ("-journal", "-wal")
BESIDE = (*_LOGS, "-shm")


@contextmanager
def new_file(to: Path) -> Iterator[Path]:
    """Give a path to write to; at the end of the block the file there gets the name ``to``.

    Until then it lies beside ``to`` under a hidden name that no other program uses, so that no
    bad copy passes for a good one; where the block raises it is taken away. A file that somebody
    else gave that name meanwhile stays: it may have taken entries already. Raises
    ``Mistake("file-exists")``, ``Mistake("log-left")``, ``Fault("cannot-copy")``.
    """

    def take(part: Path) -> Path:
        try:
            return take_new_name(part, to)
        except FileExistsError as error:
            raise _exists(to) from error

    if to.exists():
        raise _exists(to)
    refuse_logs(to)
    try:
        with working(to, take, endings=BESIDE, lasting=True) as part:
            try:
                yield part
            except Fault as fault:
                # The file is told by the name that it would have got.
                said = fault.sentence.replace(str(part), str(to))
                raise Fault(fault.code, said, fault.hint) from fault
            sync(part)
    except OSError as error:
        raise Fault(
            "cannot-copy",
            f"The copy {to} could not be written: {error.strerror}.",
            "Nothing is lost; copy to another disk.",
        ) from error


def refuse_logs(to: Path) -> None:
    """Raise ``Mistake("log-left")`` where there is one beside a file that is to be begun.

    SQLite plays a log that lies there into whatever file gets the name: what was just copied
    would be another journal, or none (sqlite.org/howtocorrupt.html, "Mispairing database files
    and hot journals").
    """
    for end in _LOGS:
        log = to.with_name(to.name + end)
        if os.path.lexists(log):
            raise Mistake(
                "log-left",
                f"{log} belongs to a file that is gone: SQLite would play it into the new one.",
                "Move it beside that file, under that file's name. If nobody has it: put it aside.",
            )


def _exists(to: Path) -> Mistake:
    return Mistake("file-exists", f"There is a file at {to} already.", "Give another path.")
