"""Runs ``holdlog`` in processes of their own that need not load the libraries first.

One interpreter a test session loads what others wrote (SQLAlchemy, Typer, Pillow …) and forks for
each run: every run has its own memory, environment, folder and exit code, and loads holdlog itself
anew. What a cold start loads, and what it costs, is asked elsewhere of real ones.
"""

import atexit
import json
import os
import signal
import socket
import struct
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from functools import cache
from pathlib import Path
from tempfile import TemporaryFile

ROOT = Path(__file__).resolve().parents[2]
_LOADED = (
    "typer", "rich", "rich.table", "rich.console", "sqlalchemy", "sqlalchemy.dialects.sqlite",
    "alembic.command", "alembic.config", "alembic.script", "PIL.Image", "PIL.ImageDraw",
    "PIL.ImageFont", "barcode", "segno", "babel.dates", "babel.support", "matplotlib.figure",
    "matplotlib.backends.backend_agg", "reportlab.pdfgen.canvas", "icalendar", "zoneinfo",
)  # fmt: skip


def run(
    arguments: Sequence[str], stdin: str, env: Mapping[str, str], folder: Path | None
) -> tuple[int, str, str]:
    """Run ``holdlog`` with ``arguments``; the exit code (minus a signal's number) and what it
    said on both outputs.
    """
    with ExitStack() as files:
        given, out, err = (files.enter_context(TemporaryFile()) for _ in range(3))
        given.write(stdin.encode())
        given.seek(0)
        told, tells = socket.socketpair()
        files.enter_context(told)
        request = {"arguments": list(arguments), "env": dict(env), "folder": str(folder or ROOT)}
        with tells:
            handles = [given.fileno(), out.fileno(), err.fileno(), tells.fileno()]
            message = json.dumps(request).encode()
            socket.send_fds(_warm(os.getpid()), [struct.pack("!I", len(message))], handles)
            _warm(os.getpid()).sendall(message)
        answer = told.recv(4, socket.MSG_WAITALL)
        assert len(answer) == 4, "the warm interpreter ended without an answer"
        (code,) = struct.unpack("!i", answer)
        said = []
        for file in (out, err):
            file.seek(0)
            said.append(file.read().decode().replace("\r\n", "\n"))
        return code, said[0], said[1]


@cache
def _warm(pid: int) -> socket.socket:
    """The line to the warm interpreter of process ``pid``, which ends when that one does."""
    assert pid == os.getpid()
    ours, theirs = socket.socketpair()
    with theirs:
        env = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
        # It ends by itself when our end of the line is closed; nobody waits for it.
        subprocess.Popen(
            [sys.executable, "-m", "tests.cli.warm", str(theirs.fileno())],
            cwd=ROOT,
            env=env,
            pass_fds=[theirs.fileno()],
            stdin=subprocess.DEVNULL,
        ).returncode = 0
    atexit.register(ours.close)
    return ours


def _serve(line: socket.socket) -> None:
    for name in _LOADED:
        __import__(name)
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    while True:
        head, handles, _, _ = socket.recv_fds(line, 4, 4)
        if not head:
            return
        (length,) = struct.unpack("!I", head)
        request = json.loads(line.recv(length, socket.MSG_WAITALL))
        if os.fork() == 0:
            line.close()
            _watch(request, handles)
        for handle in handles:
            os.close(handle)


def _watch(request: dict[str, object], handles: list[int]) -> None:
    """Fork the run itself, wait for it, and tell how it ended."""
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    child = os.fork()
    if child == 0:
        _become(request, handles)
    _, status = os.waitpid(child, 0)
    os.write(handles[3], struct.pack("!i", os.waitstatus_to_exitcode(status)))
    os._exit(0)


def _become(request: dict[str, object], handles: list[int]) -> None:
    """What an interpreter does that was started for this run alone."""
    for number, handle in enumerate(handles[:3]):
        os.dup2(handle, number)
    for handle in handles:
        os.close(handle)
    os.chdir(str(request["folder"]))
    os.environ.clear()
    os.environ.update(request["env"])  # type: ignore[call-overload]
    time.tzset()
    sys.argv = ["holdlog", *request["arguments"]]  # type: ignore[misc]
    for name, number, mode in (("stdin", 0, "r"), ("stdout", 1, "w"), ("stderr", 2, "w")):
        stream = open(number, mode, encoding="utf-8", closefd=False)  # noqa: SIM115
        setattr(sys, name, stream)
    code = 1
    try:
        from holdlog.cli import main

        main()
    except SystemExit as leaving:
        code = leaving.code if isinstance(leaving.code, int) else 1
    except BaseException:  # noqa: BLE001  # an interpreter prints whatever ends it
        import traceback

        traceback.print_exc()
    finally:
        # Files that are still open are closed, and what was registered for the end is done.
        atexit._run_exitfuncs()
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        os._exit(code)


if __name__ == "__main__":
    _serve(socket.socket(fileno=int(sys.argv[1])))
