"""A file that appears whole under its name, or not at all."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from holdlog.core.errors import Fault, Mistake

# What SQLite keeps beside a file while it is open, and leaves there after a crash.
BESIDE = ("-journal", "-wal", "-shm")
PART = ".part"
# A working file older than this belongs to a program that was cut short.
_CUT_SHORT = 24 * 3600  # seconds


@contextmanager
def new_file(to: Path) -> Iterator[Path]:
    """Give a path to write to; at the end of the block the file there gets the name ``to``.

    Until then it lies beside ``to`` under a hidden name that no other program uses, so that no
    bad copy passes for a good one; where the block raises it is taken away. A file that somebody
    else gave that name meanwhile stays. Raises ``Mistake("file-exists")``,
    ``Fault("cannot-copy")``.
    """
    if to.exists():
        raise _exists(to)
    part = to.with_name(f".{to.name}.{os.getpid()}-{os.urandom(4).hex()}{PART}")
    try:
        _discard_cut_short(to, part)
        yield part
        sync(part)
        _name(part, to)
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


def _exists(to: Path) -> Mistake:
    return Mistake("file-exists", f"There is a file at {to} already.", "Give another path.")


def _name(part: Path, to: Path) -> None:
    """A second name and not another name for it: that is refused where there is a file by now,
    which may have taken entries already.
    """
    try:
        to.hardlink_to(part)
    except FileExistsError as error:
        raise _exists(to) from error
    except OSError:
        # Some disks (FAT) know no second names.
        if to.exists():
            raise _exists(to) from None
        part.replace(to)


def _discard_cut_short(to: Path, part: Path) -> None:
    """Begin ``part``, and take away what earlier tries at the same file left: a day older than it
    by the clock of the disk. Another program may be at work on a younger one.
    """
    # A folder that takes no file is told of by whoever fills it.
    with suppress(OSError):
        part.touch(exist_ok=False)
        old = part.stat().st_mtime - _CUT_SHORT
        for each in list(to.parent.glob(f".{_plain(to.name)}.*{PART}")):
            if each.stat().st_mtime < old:
                discard_file(each)


def _plain(name: str) -> str:
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in name)


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
