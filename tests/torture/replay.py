"""A disk without power: what is left of files whose writes were recorded.

What a sync covered is there. Of the sectors written since, any part may be. The names in a folder
follow the same rule: a file that was made, removed or renamed is certainly so only once its
folder was synced (fsync(2): "calling fsync() does not necessarily ensure that the entry in the
directory containing the file has also reached disk"). Where a file grew and its new bytes did
not arrive, there may be anything ("Atomic Commit In SQLite", section 2.0: the size may be written
before the content).

A disk that says that it has synced and has not is not modelled: no program can be safe on one.
"""

import os
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from random import Random
from typing import Literal

from tests.torture.strace import Call, Unread

SECTOR = 512
Arrived = Literal["nothing", "everything", "in order", "any"]
HOW: tuple[Arrived, ...] = ("nothing", "everything", "in order", "any", "any", "any")


@dataclass(slots=True)
class _Piece:
    """Bytes within one sector, written by the call ``number``; or, without bytes, a new size."""

    number: int
    at: int
    data: bytes = b""


@dataclass(slots=True)
class _File:
    safe: bytes = b""
    waiting: list[_Piece] = field(default_factory=list)

    def write(self, number: int, at: int, data: bytes) -> None:
        begin = 0
        while begin < len(data):
            size = min(SECTOR - (at + begin) % SECTOR, len(data) - begin)
            self.waiting.append(_Piece(number, at + begin, data[begin : begin + size]))
            begin += size

    def sync(self) -> None:
        self.safe, self.waiting = self.content(), []

    def content(self) -> bytes:
        """What a program that reads the file sees."""
        return _put(self.safe, self.waiting)


@dataclass(frozen=True, slots=True)
class _Naming:
    """A change of a folder: the name, and which file it then stands for (None: none)."""

    number: int
    names: tuple[tuple[str, _File | None], ...]


class Disk:
    """The files below ``folder``, as calls come in. ``there`` are those that were there, safe, by
    path; ``ignored`` are endings of names: of files that are memory rather than storage.
    """

    def __init__(
        self, folder: str, there: Mapping[str, bytes], ignored: tuple[str, ...] = ("-shm",)
    ) -> None:
        self._folder = folder.rstrip("/")
        self._ignored = ignored
        self._safe = {path: _File(content) for path, content in there.items()}
        self._waiting: list[_Naming] = []
        self._seen = dict(self._safe)
        self._number = 0

    def take(self, call: Call) -> bool:
        """Do what ``call`` did. Whether it concerned this disk."""
        self._number += 1
        if call.name == "sync" and call.path == self._folder:
            self._settle()
            return True
        if not self._ours(call.path) and not self._ours(call.other):
            return False
        match call.name:
            case "open":
                return self._open(call)
            case "pwrite64":
                self._seen[call.path].write(self._number, call.at, call.data)
            case "sync":
                self._seen[call.path].sync()
            case "cut":
                self._seen[call.path].waiting.append(_Piece(self._number, call.at))
            case "unlink":
                self._name((call.path, None))
            case "rename":
                self._name((call.path, None), (call.other, self._seen[call.path]))
            case _:
                raise Unread(f"{call.name} of {call.path}")
        return True

    def content(self) -> dict[str, bytes]:
        """The files as a program sees them while there is power."""
        return {path: file.content() for path, file in self._seen.items()}

    def cut(self, dice: Random, arrived: Arrived) -> dict[str, bytes]:
        """The files as they are found after the power was cut now."""
        last = {"nothing": 0, "everything": self._number}.get(arrived, self._last(dice))
        names = dict(self._safe)
        # Folders are written in order; how far they came does not depend on the files.
        done = [each for each in self._waiting if each.number <= last]
        if arrived == "any":
            done = self._waiting[: dice.randint(0, len(self._waiting))]
        for naming in done:
            _apply(names, naming)
        return {path: _left(file, dice, arrived, last) for path, file in names.items()}

    def _ours(self, path: str) -> bool:
        return path.startswith(self._folder + "/") and not path.endswith(self._ignored)

    def _open(self, call: Call) -> bool:
        if call.path not in self._seen:
            if "make" not in call.other:
                return False  # a folder in the folder
            self._name((call.path, _File()))
        if "empty" in call.other and self._seen[call.path].content():
            self._seen[call.path].waiting.append(_Piece(self._number, 0))
        return True

    def _name(self, *names: tuple[str, _File | None]) -> None:
        naming = _Naming(self._number, names)
        _apply(self._seen, naming)
        self._waiting.append(naming)

    def _settle(self) -> None:
        for naming in self._waiting:
            _apply(self._safe, naming)
        self._waiting = []

    def _last(self, dice: Random) -> int:
        """The number of the last call that arrived, where they arrive in order."""
        waiting = [piece.number for file in self._seen.values() for piece in file.waiting]
        waiting += [naming.number for naming in self._waiting]
        return dice.choice([0, *sorted(set(waiting))])


def _apply(names: dict[str, _File], naming: _Naming) -> None:
    for path, file in naming.names:
        if file is None:
            names.pop(path, None)
        else:
            names[path] = file


def _left(file: _File, dice: Random, arrived: Arrived, last: int) -> bytes:
    if arrived != "any":
        return _put(file.safe, [piece for piece in file.waiting if piece.number <= last])
    # A sector arrives as it was at some time since the last sync: of what was written into it,
    # nothing is missing that came before something that is there.
    written = Counter(_slot(piece) for piece in file.waiting)
    kept = {
        slot: count if dice.random() < 0.5 else dice.randrange(count)
        for slot, count in sorted(written.items())
    }
    met: Counter[int] = Counter()
    pieces, grown = [], len(file.safe)
    for piece in file.waiting:
        slot = _slot(piece)
        met[slot] += 1
        if met[slot] <= kept[slot]:
            pieces.append(piece)
        grown = max(grown, piece.at + len(piece.data)) if piece.data else grown
    left = _put(file.safe, pieces)
    if any(not piece.data for piece in file.waiting) or dice.random() < 0.5:
        return left
    return _grown(left, file.safe, pieces, grown, dice)


def _slot(piece: _Piece) -> int:
    return piece.at // SECTOR if piece.data else -1


def _grown(left: bytes, safe: bytes, pieces: list[_Piece], size: int, dice: Random) -> bytes:
    """The size was written before the content: what did not arrive is whatever was there."""
    rubbish = bytearray(dice.randbytes(size))
    rubbish[: len(safe)] = left[: len(safe)].ljust(len(safe), b"\0")
    for piece in pieces:
        rubbish[piece.at : piece.at + len(piece.data)] = piece.data
    return bytes(rubbish)


def _put(content: bytes, pieces: list[_Piece]) -> bytes:
    made = bytearray(content)
    for piece in pieces:
        end = piece.at + len(piece.data)
        if not piece.data:
            del made[end:]
        if len(made) < end:
            made.extend(bytes(end - len(made)))
        made[piece.at : end] = piece.data
    return bytes(made)


def lay(files: Mapping[str, bytes], folder: str, into: str) -> None:
    """Write ``files``, found below ``folder``, below ``into`` instead."""
    for path, content in files.items():
        to = into + path.removeprefix(folder.rstrip("/"))
        handle = os.open(to, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        try:
            os.write(handle, content)
        finally:
            os.close(handle)
