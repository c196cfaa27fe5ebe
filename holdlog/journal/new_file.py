"""A file that appears whole under its name, or not at all."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from holdlog.core.errors import Fault, Mistake

# What SQLite keeps beside a file while it is open, and leaves there after a crash.
BESIDE = ("-journal", "-wal", "-shm")
PART = ".part"


@contextmanager
def new_file(to: Path) -> Iterator[Path]:
    """Give a path to write to; at the end of the block the file there gets the name ``to``.

    Until then it lies beside ``to`` under a hidden name, so that no bad copy passes for a good
    one; where the block raises it is taken away. Raises ``Mistake("file-exists")``,
    ``Fault("cannot-copy")``.
    """
    if to.exists():
        raise Mistake("file-exists", f"There is a file at {to} already.", "Give another path.")
    part = to.with_name(f".{to.name}{PART}")
    try:
        discard_file(part)
        yield part
        sync(part)
        part.replace(to)
        _keep_name(to)
    except OSError as error:
        raise Fault(
            "cannot-copy",
            f"The copy {to} could not be written: {error.strerror}.",
            "Nothing is lost; copy to another disk.",
        ) from error
    except Fault as fault:
        # The file is told by the name that it would have got.
        said = fault.sentence.replace(str(part), str(to))
        raise Fault(fault.code, said, fault.hint) from fault
    finally:
        with suppress(OSError):
            discard_file(part)


def _keep_name(to: Path) -> None:
    try:
        sync(to.parent)
    except OSError:
        # The name may not last, and a second try has to find its place free.
        to.unlink(missing_ok=True)
        raise


def discard_file(path: Path) -> None:
    """Delete a database's file, if it is there, and what SQLite left beside it."""
    for each in (path, *(path.with_name(path.name + end) for end in BESIDE)):
        each.unlink(missing_ok=True)


def sync(path: Path) -> None:
    """Make the disk keep a file, or the names in a folder."""
    if os.name == "nt" and path.is_dir():
        return  # Windows cannot open a folder, and keeps its names itself.
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
