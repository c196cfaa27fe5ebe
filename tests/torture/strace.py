"""Runs a program under strace, and reads what strace wrote down. See strace(1).

Only what a database does to its files is understood. A call that is not makes ``Unread``, so that
a recording is complete or worth nothing.
"""

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

# Every call by which a program can change a file or a folder, or make a change last. Those that
# ``Call`` cannot tell of are traced too: they must be seen in order to be refused.
_CALLS = (
    "openat,open,creat,pwrite64,write,pwritev,pwritev2,writev,fsync,fdatasync,sync,syncfs,"
    "ftruncate,truncate,fallocate,unlink,unlinkat,rename,renameat,renameat2,link,linkat,"
    "sendfile,copy_file_range,sync_file_range"
)
_MOST = 1 << 24


class Unread(Exception):
    """A line of the recording, or a call in it, that is not understood."""


@dataclass(frozen=True, slots=True)
class Call:
    """One call that succeeded: what it did, to the file at which path, where, and with what."""

    name: str
    path: str
    at: int = 0
    data: bytes = b""
    other: str = ""
    handle: int = -1


def missing() -> str:
    """What is needed and not there, or nothing."""
    return "" if shutil.which("strace") else "the program strace is not on the PATH"


def recording(to: Path) -> list[str]:
    """The command that records a process, with every byte, in the file ``to``."""
    how = ["-f", "-qq", "-y", "-xx", "-s", str(_MOST), "-e", "signal=none"]
    return ["strace", *how, "-e", f"trace={_CALLS}", "-o", str(to)]


def failing(call: str, error: str, when: str, paths: list[Path], to: Path) -> list[str]:
    """The command that lets a process's calls fail on ``paths``: the ``when``-th
    (``3``), or all from there on (``3+``). What was called is written to ``to``.
    """
    where = [word for path in paths for word in ("-P", str(path))]
    inject = f"inject={call}:error={error}:when={when}"
    how = ["-f", "-qq", "-e", "signal=none", "-e", f"trace={call}"]
    return ["strace", *how, *where, "-e", inject, "-o", str(to)]


def calls(recorded: Path) -> Iterator[Call]:
    """What the recorded program did, in order; calls that failed did nothing and are left out."""
    waiting: dict[str, str] = {}
    with recorded.open(encoding="ascii") as lines:
        for line in lines:
            process, _, text = line.rstrip("\n").partition(" ")
            text = text.strip()
            if text.endswith("<unfinished ...>"):
                waiting[process] = text.removesuffix("<unfinished ...>").rstrip()
                continue
            resumed = re.match(r"<\.\.\. \w+ resumed>\s?", text)
            if resumed:
                text = waiting.pop(process) + text[resumed.end() :]
            call = _call(text)
            if call is not None:
                yield call


_LINE = re.compile(r"(\w+)\((.*)\)\s+= (-?\d+|\?)(.*)", re.DOTALL)
_HANDLE = re.compile(r"(\d+)<([^>]*)>(\(deleted\))?")


def _call(text: str) -> Call | None:  # noqa: PLR0911  (a table of calls)
    if text.startswith(("+++", "---")):
        return None
    found = _LINE.fullmatch(text)
    if found is None:
        raise Unread(text[:200])
    name, words, result, rest = found.groups()
    if result.startswith("-") or result == "?":
        return None
    arguments = words.split(", ")
    match name:
        case "pwrite64" | "write":
            handle, path = _handle(arguments[0])
            # A write may be cut short: then only its beginning was taken.
            data = _text(arguments[1])[: int(result)]
            return Call(name, path, int(arguments[3]) if arguments[3:] else 0, data, "", handle)
        case "fsync" | "fdatasync":
            return Call("sync", _handle(arguments[0])[1])
        case "ftruncate":
            return Call("cut", _handle(arguments[0])[1], int(arguments[1]))
        case "open" | "openat" | "creat":
            path = _handle(result + rest)[1]
            made = "O_CREAT" in words or name == "creat"
            emptied = "O_TRUNC" in words or name == "creat"
            return Call("open", path, other=f"{'make' if made else ''}{'empty' if emptied else ''}")
        case "unlink":
            return Call("unlink", _text(arguments[0]).decode())
        case "rename":
            return Call("rename", _text(arguments[0]).decode(), other=_text(arguments[1]).decode())
        case _:
            return Call(name, _handle(arguments[0])[1] if "<" in arguments[0] else "")


def _handle(text: str) -> tuple[int, str]:
    found = _HANDLE.match(text)
    if found is None:
        raise Unread(text[:200])
    return int(found[1]), "" if found[3] else _bytes(found[2]).decode()


def _text(quoted: str) -> bytes:
    if not (quoted.startswith('"') and quoted.endswith('"')):
        raise Unread(quoted[:200])
    return _bytes(quoted[1:-1])


def _bytes(text: str) -> bytes:
    """With ``-xx`` every byte is written in hexadecimal."""
    return bytes.fromhex(text.replace("\\x", ""))
