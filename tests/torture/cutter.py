"""A link to a PostgreSQL server that breaks at a request of our choice.

It stands between the program and the server and passes bytes on, until the n-th request: then it
cuts, either before the server has heard of it or after the server has done it and before the
program is told. To the program both look the same.

A message is a letter, a length, and so many bytes; only the first of a connection has no letter
(PostgreSQL manual, 55.7 "Message Formats"). A request is what the server answers as one: a simple
query (Q), the parts of an extended one up to its Sync (S), or the end of a COPY (c, f).
"""

import shutil
import socket
import tempfile
import threading
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Literal, Self
from urllib.parse import quote

from tests.postgres import Server, name_in

# Where a server's socket lies in its folder (PostgreSQL manual, unix_socket_directories).
_SOCKET = ".s.PGSQL.5432"
_ENDS = b"QScf"
# ReadyForQuery and CopyInResponse: it is the program's turn again.
_WAITS, _COPIES = b"ZG", b"G"


@dataclass(frozen=True, slots=True)
class Cut:
    """Cut at request ``at`` (0: never), ``unheard`` by the server or ``untold`` to the program.

    ``down``: nobody is let through afterwards, as when the whole server is gone. ``answer``: what
    the program is told in the server's place before the cut. ``only``: of the requests, these alone
    are counted (``COMMIT``); how many others there are changes with what is in the journal.
    """

    at: int
    how: Literal["unheard", "untold"]
    down: bool = False
    answer: bytes = b""
    only: str = ""


NEVER = Cut(0, "unheard")


class Link:
    """The way to ``server``. The requests of all connections are counted together."""

    def __init__(self, server: Server, cut: Cut = NEVER) -> None:
        self._cut = cut
        # The server's own folder is nearly as long as a socket's path may be.
        self._folder = Path(tempfile.mkdtemp(prefix="cut-"))
        self._server = str(server.folder / _SOCKET)
        self._open = socket.socket(socket.AF_UNIX)
        self._open.bind(str(self._folder / _SOCKET))
        self._open.listen(20)
        self._lock = threading.Lock()
        self.requests: list[str] = []
        self.struck = False
        self._counted = 0
        threading.Thread(target=self._let_in, daemon=True).start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._open.close()
        shutil.rmtree(self._folder, ignore_errors=True)

    def url(self, direct: str) -> str:
        """The URL of the same database by this way."""
        return f"postgresql://postgres@/{name_in(direct)}?host={quote(str(self._folder), safe='')}"

    def _let_in(self) -> None:
        while True:
            try:
                program, _ = self._open.accept()
            except OSError:
                return
            if self.struck and self._cut.down:
                program.close()
                continue
            server = socket.socket(socket.AF_UNIX)
            server.connect(self._server)
            threading.Thread(target=self._serve, args=(program, server), daemon=True).start()

    def _serve(self, program: socket.socket, server: socket.socket) -> None:
        """One connection, from its first byte to its end."""
        asked, told = program.makefile("rb"), server.makefile("rb")
        with suppress(OSError, EOFError), program, server, asked, told:
            head = _exactly(asked, 4)
            server.sendall(head + _exactly(asked, _length(head) - 4))
            copying = _answer(told, program)
            ends = _ENDS
            while True:
                request, letter = _request(asked, ends)
                strikes = self._strikes(request)
                if not strikes or self._cut.how == "untold":
                    server.sendall(request)
                    copying = _answer(told, None if strikes else program)
                if strikes:
                    program.sendall(self._cut.answer)
                    return
                # A COPY that began as an extended query ends as one.
                ends = b"S" if copying and letter == b"S" else _ENDS

    def _strikes(self, request: bytes) -> bool:
        with self._lock:
            # Of a server that is gone, every connection is.
            if self.struck and self._cut.down:
                return True
            said = _said(request)
            self.requests.append(said)
            if self.struck or (self._cut.only and said != self._cut.only):
                return False
            self._counted += 1
            self.struck = self._counted == self._cut.at
            return self.struck


def _answer(told: BinaryIO, program: socket.socket | None) -> bool:
    """Pass on one answer, up to where the server waits again (to None: take it away); whether
    what it waits for is to be copied in.
    """
    while True:
        letter, message = _message(told)
        if program is not None:
            program.sendall(message)
        if letter in _WAITS:
            return letter == _COPIES


def _request(asked: BinaryIO, ends: bytes) -> tuple[bytes, bytes]:
    """The next request, and the letter that ended it."""
    parts = []
    while True:
        letter, message = _message(asked)
        if letter == b"X":
            raise EOFError  # the program hangs up, and so do we
        parts.append(message)
        if letter in ends:
            return b"".join(parts), letter


def _message(line: BinaryIO) -> tuple[bytes, bytes]:
    head = _exactly(line, 5)
    return head[:1], head + _exactly(line, _length(head[1:]) - 4)


def _length(four: bytes) -> int:
    return int.from_bytes(four, "big")


def _exactly(line: BinaryIO, count: int) -> bytes:
    found = line.read(count)
    if len(found) < count:
        raise EOFError
    return found


def _said(request: bytes) -> str:
    """The first words of a request, for a person: what stands in it of SQL."""
    if request[:1] == b"P":  # Parse: a name, then the query
        return request[5:].split(b"\0")[1].decode(errors="replace")
    if request[:1] == b"Q":
        return request[5:-1].decode(errors="replace")
    return request[:1].decode()
