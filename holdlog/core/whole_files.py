"""Files as wholes: read in one piece or refused, written in one piece or not at all.

What is written goes to a file beside the one that is meant, is brought to the disk and takes its
name in one step (rename, POSIX.1): who looks at that name finds the file of before or all of the
new one, however full the disk and whenever the program is stopped.
"""

import errno
import io
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path
from typing import BinaryIO, TextIO

from holdlog.core import files
from holdlog.core.errors import BadFile, Fault, Mistake
from holdlog.core.parts import take_name, take_new_name, working

ELSEWHERE = "Name a file in a folder that you may write to."
# Octets. Ours: larger than any list that a kitchen hands in, small enough to hold.
MOST = 256 * 1024 * 1024
# Why the system refused, in words for a kitchen; what is not here is said in the system's own.
_WHY = {
    errno.EACCES: "the account that runs holdlog may not do that there",
    errno.EEXIST: "there is something else of that name",
    errno.EPERM: "the account that runs holdlog may not do that there",
    errno.EISDIR: "it is a folder",
    errno.ENAMETOOLONG: "its name is too long",
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk has no more room for this account",
    errno.EROFS: "the disk is write-protected",
    errno.EIO: "the disk does not answer as it should",
}


def why(error: OSError, file: Path) -> str:
    """Why ``file`` could not be read or written, in a few words without a full stop."""
    if error.errno in (errno.ENOENT, errno.ENOTDIR):
        folder = file.absolute().parent
        if not folder.exists():
            return f"there is no folder {folder}"
        return "there is no such file" if folder.is_dir() else f"{folder} is no folder"
    return _WHY.get(error.errno or 0, error.strerror or str(error))


# ---- written ---------------------------------------------------------------------------------


def write(file: Path, content: bytes, hint: str = ELSEWHERE) -> None:
    """Make ``content`` the file. Raises ``Fault("no-file")``; the file is then as it was."""
    with writing(file, hint) as out:
        out.write(content)


def write_new(file: Path, content: bytes, hint: str = ELSEWHERE) -> None:
    """The same, never over a file. Raises ``Mistake("file-exists")`` where there is one, even if it
    came while this one was written.
    """
    there = Mistake(
        "file-exists", f"{file} is there already; it is left as it is.", "Name another file."
    )
    # Said before any work is done, and of a link that leads nowhere.
    if os.path.lexists(file):
        raise there
    with _told(file, hint):
        try:
            target = _named(file)
            with _beside(target, lambda part: take_new_name(part, target)) as out:
                out.write(content)
        except FileExistsError as error:
            raise there from error


def write_free(folder: Path, name: str, ending: str, content: bytes) -> Path:
    """A new file of ``content`` in ``folder``: ``name`` with its ``ending``, or the first of
    ``name_2``, ``name_3`` … that is free. No file is ever written over. Raises ``OSError``.
    """
    files: list[Path] = []

    def take(part: Path) -> Path:
        for number in count(1):
            file = folder / f"{name}{f'_{number}' if number > 1 else ''}{ending}"
            with suppress(FileExistsError):
                files.append(take_new_name(part, file))
                break
        return files[-1]

    with _beside(folder / f"{name}{ending}", take) as out:
        out.write(content)
    return files[-1]


@contextmanager
def writing(file: Path, hint: str = ELSEWHERE) -> Iterator[BinaryIO]:
    """A stream whose octets become the file at the end of the block: all of them, or none.

    Raises ``Fault("no-file")`` with ``hint``. What is no plain file (a pipe, a device) is written
    to as it is: put in its place, a file would be the end of it.
    """
    with _told(file, hint):
        target = _named(file)
        mode = target.stat().st_mode if target.exists() else None
        if mode is not None and not stat.S_ISREG(mode):
            with target.open("wb") as out:
                yield out
        else:
            with _beside(target, lambda part: take_name(part, target), mode) as out:
                yield out


@contextmanager
def _told(file: Path, hint: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        says = f"{file} could not be written: {why(error, file)}."
        raise Fault("no-file", says, hint) from error


@contextmanager
def writing_text(file: Path, hint: str = ELSEWHERE) -> Iterator[TextIO]:
    """The same for text, in UTF-8 and with the ends of lines as they are written."""
    with writing(file, hint) as out:
        text = io.TextIOWrapper(out, encoding="utf-8", newline="", write_through=True)
        try:
            yield text
        finally:
            text.detach()


def _named(file: Path) -> Path:
    """What a link leads to, which is written: the link stays a link."""
    try:
        return Path(os.path.realpath(file))
    except ValueError as error:
        raise OSError(errno.EINVAL, "no file can have this name") from error


@contextmanager
def _beside(
    target: Path, take: Callable[[Path], Path], mode: int | None = None
) -> Iterator[BinaryIO]:
    with working(target, take) as part, part.open("wb") as out:
        if mode is not None:
            part.chmod(stat.S_IMODE(mode))
        yield out
        out.flush()
        # Through the handle that wrote it, which is told of every fault of the disk.
        os.fsync(out.fileno())


# ---- read ------------------------------------------------------------------------------------


def read(file: Path, hint: str = "", most: int = MOST) -> bytes:
    """All of a plain file of no more than ``most`` octets.

    Raises ``Mistake("no-file")`` with ``hint`` where it cannot be read, ``BadFile("too-large")``,
    ``Fault("file-changed")`` where somebody wrote to it meanwhile: half of an old file and half of
    a new one are no file.
    """
    try:
        with files.open_file(file) as data:
            before = os.fstat(data.fileno())
            content = data.read(most + 1)
            after = os.fstat(data.fileno())
    except OSError as error:
        raise Mistake("no-file", f"{file} cannot be read: {why(error, file)}.", hint) from error
    if len(content) > most:
        raise files.too_large(str(file), most, after.st_size, hint)
    # Seen by its time, which some disks keep to two seconds; or by its length.
    seen = before.st_mtime_ns, before.st_size, before.st_size
    if seen != (after.st_mtime_ns, after.st_size, len(content)):
        raise Fault(
            "file-changed",
            f"{file} was changed while it was read.",
            "Nothing was recorded. Try again once nobody writes to it.",
        )
    return content


def read_text(file: Path, holds: str, hint: str = "") -> str:
    """All of a text in UTF-8. ``holds`` tells what such a file is made of.

    Raises as ``read`` does, and ``BadFile("bad-file")`` for what is no text.
    """
    try:
        return files.text_of(read(file, hint))
    except UnicodeDecodeError as error:
        raise BadFile("bad-file", (f"{file} is not text: {holds}.",)) from error
