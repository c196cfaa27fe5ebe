"""Files that people hand in: looked at before they are opened, and never read past their limit.

A pipe would keep a job waiting for ever and a device may have no end, so only regular files are
read; and every kind of file has a size that none of its kind comes near.
"""

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

from holdlog.core.errors import BadFile


def open_file(path: Path) -> BinaryIO:
    """Open a regular file for reading. Raises ``OSError``, with its reason, for anything else."""
    try:
        _refuse_others(os.stat(path), path)  # noqa: PTH116  (open below has the same arguments)
        # Not to wait, should a pipe have taken the place of the file since.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | _BINARY)
    except ValueError as error:
        raise OSError(errno.EINVAL, "no file can have this name", str(path)) from error
    try:
        _refuse_others(os.fstat(handle), path)
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


_BINARY = getattr(os, "O_BINARY", 0)


def _refuse_others(found: os.stat_result, path: Path) -> None:
    if stat.S_ISDIR(found.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(found.st_mode):
        raise OSError(errno.EINVAL, "it is a device or a pipe, no plain file", str(path))


def is_file(path: Path) -> bool:
    """Whether there is such a regular file; a name that no file can have is none."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def is_there(path: Path) -> bool:
    """Whether there is anything of that name: a file, a folder, a device. What nobody may look at
    is taken to be there: who opens it is told why not.
    """
    try:
        path.stat()
    except (FileNotFoundError, NotADirectoryError, ValueError):
        return False
    except OSError:
        return True
    return True


def read_bytes(path: Path, most: int, hint: str = "") -> bytes:
    """The bytes of a regular file of at most ``most`` bytes.

    Raises ``OSError``, and ``BadFile("too-large")`` with both sizes and ``hint``, what to do.
    """
    with open_file(path) as file:
        size = os.fstat(file.fileno()).st_size
        data = file.read(most + 1) if size <= most else b""
    if size > most or len(data) > most:
        raise too_large(str(path), most, max(size, len(data)), hint)
    return data


def too_large(name: str, most: int, size: int | None = None, hint: str = "") -> BadFile:
    """The error for a file of more than ``most`` bytes; ``size`` None: nobody knows how many."""
    has = f" (it has {size:,})" if size is not None else ""
    return BadFile(
        "too-large",
        (f"{name}: larger than {most:,} bytes, the most that is read{has}",),
        hint or "Is it the right file?",
    )


def read_text(path: Path, most: int, hint: str = "") -> str:
    """The text of a file in UTF-8, with or without a mark, its lines ending with a line feed.

    Raises what ``read_bytes`` does, and ``UnicodeDecodeError``.
    """
    return text_of(read_bytes(path, most, hint))


def text_of(data: bytes) -> str:
    """The text of ``data``, as ``read_text`` has it. Raises ``UnicodeDecodeError``."""
    return data.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")


def read_input(most: int, source: BinaryIO, hint: str = "") -> bytes:
    """Everything that ``source`` (standard input) holds. Raises ``BadFile("too-large")``."""
    data = source.read(most + 1)
    if len(data) > most:
        raise too_large("standard input", most, hint=hint)
    return data
