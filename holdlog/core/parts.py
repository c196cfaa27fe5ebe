"""Working files: what becomes a file lies beside it under a hidden name until it is whole.

It is brought to the disk, takes its name in one step, and the folder is brought to the disk, so
that the name lasts. A program that is killed leaves its working file behind: nothing reads it, and
whoever writes the same file a day later takes it away.
"""

import errno
import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

# A working file that nobody has written to for so long belongs to a program that was killed. Ours:
# the longest job, the move of a journal, takes minutes, and machines that share a disk may differ
# by hours. A lock would tell sooner; but not every disk of a network keeps one, and to close a file
# that SQLite has open drops the locks that it has (sqlite.org/howtocorrupt.html, section 2.2).
CUT_SHORT = 24 * 3600  # seconds
PART = ".part"
# File systems take 255 octets (ext4, tmpfs) or more; ours is what the rest of the name leaves.
_LONGEST = 200
_NAME = re.compile(r"(?P<part>\.(?P<of>.*)\.\d+(?:-[0-9a-f]+)?\.part)(?:-[a-z]+)?", re.DOTALL)


@contextmanager
def working(
    file: Path,
    take: Callable[[Path], Path],
    *,
    endings: tuple[str, ...] = (),
    lasting: bool = False,
) -> Iterator[Path]:
    """Give a path beside ``file`` to write to, a name that no other program uses. Who writes there
    brings it to the disk (fsync); then ``take`` gives it its name, and says which. Where the block
    raises, no more than before is there.

    ``endings``: what else may lie beside the working file, and goes with it. With ``lasting`` a
    folder that cannot be brought to the disk is an error, and the new name is taken away again;
    else it is not: some file systems of networks cannot. Raises ``OSError``.
    """
    part = file.with_name(f".{_cut(file.name)}.{os.getpid()}-{os.urandom(4).hex()}{PART}")
    try:
        _begin(file, part)
        yield part
        named = take(part)
        try:
            sync(named.parent)
        except OSError:
            if lasting:
                # A second try has to find its place free.
                named.unlink(missing_ok=True)
                raise
    finally:
        for end in ("", *endings):
            with suppress(OSError):
                part.with_name(part.name + end).unlink(missing_ok=True)


def take_name(part: Path, file: Path) -> Path:
    """Give ``part`` the name ``file`` in the place of what has it (rename, POSIX.1)."""
    return part.replace(file)


def take_new_name(part: Path, file: Path) -> Path:
    """Give ``part`` the name ``file`` too. Raises ``FileExistsError`` where there is something of
    that name, be it since a moment ago: a link is made or refused in one step (link, POSIX.1),
    while a rename would put ``part`` in its place.

    A memory stick (FAT) has no links, and how that is told differs from disk to disk. There it is
    looked first and renamed at once, and ``part`` is gone. Between the two, somebody might still
    make the file (not on Windows, where a rename takes nobody's place). To begin the file empty and
    alone (O_EXCL) would keep that out; but it would show a file that is not whole, and leave it
    there where the program is killed.
    """
    try:
        file.hardlink_to(part)
    except FileExistsError:
        # A server of files (NFS) may have made it, and its answer was lost: open(2), O_EXCL.
        if not os.path.samestat(os.lstat(file), os.lstat(part)):
            raise
    except OSError as error:
        if os.path.lexists(file):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(file)) from error
        part.rename(file)
    return file


def sync(path: Path) -> None:
    """Make the disk keep a file, or the names in a folder. Raises ``OSError``."""
    if os.name == "nt" and path.is_dir():
        return  # Windows cannot open a folder, and keeps its names itself.
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def left(folder: Path, before: float, *, of: str = "", begins: str = "") -> list[Path]:
    """The working files in ``folder``, and what lies beside them, that nobody has written to since
    ``before`` (seconds since 1970, by the clock of the disk); only those of the file ``of``, or of
    files whose names begin so. Raises ``OSError``.
    """
    found: dict[str, list[tuple[Path, float]]] = {}
    for entry in os.scandir(folder):
        match = _NAME.fullmatch(entry.name)
        if match is None or (of and match["of"] != _cut(of)):
            continue
        if match["of"].startswith(begins):
            with suppress(OSError):
                changed = entry.stat(follow_symlinks=False).st_mtime
                found.setdefault(match["part"], []).append((Path(entry.path), changed))
    # One that is filled through a log of its own may be the older of the two all the while.
    old = [each for each in found.values() if max(changed for _, changed in each) < before]
    return sorted(path for each in old for path, _ in each)


def sweep(new: Path, *, of: str = "", begins: str = "") -> None:
    """Take away what killed programs left in the folder of ``new``, a file that was just written:
    a day older than it. Another program may be at work on a younger one.
    """
    with suppress(OSError):
        for path in left(new.parent, new.stat().st_mtime - CUT_SHORT, of=of, begins=begins):
            with suppress(OSError):
                path.unlink()


def _begin(file: Path, part: Path) -> None:
    try:
        part.touch(exist_ok=False)
    except FileExistsError:
        raise
    except OSError:
        return  # A folder that takes no file is told of by whoever fills it.
    sweep(part, of=file.name)


def _cut(name: str) -> str:
    return name.encode("utf-8", "surrogateescape")[:_LONGEST].decode("utf-8", "ignore")
