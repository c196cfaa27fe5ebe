"""A PostgreSQL server of the tests' own: in a temporary folder, on a socket, gone at the end.

PostgreSQL does not run as root ("initdb must be run as the user that will own the server
process": PostgreSQL manual, initdb), so that for root its programs run as the account that
Debian's package makes, ``postgres``.
"""

import ctypes
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path
from typing import Any, Literal
from urllib.parse import quote

import psycopg

from tests.system import need

# Where Debian's packages put the programs; they are not on the PATH.
_DEBIAN = Path("/usr/lib/postgresql")
_ROLE = "postgres"
# An order of texts that is not that of their bytes, so that a forgotten collation shows.
_ORDER = ("--locale-provider", "icu", "--icu-locale", "en-US")
_NAMES = count(1)


def programs() -> Path | None:
    """The folder of the newest PostgreSQL that is installed here, or None."""
    if (found := shutil.which("postgres")) and (Path(found).parent / "initdb").exists():
        return Path(found).resolve().parent
    versions = [folder.parent for folder in _DEBIAN.glob("*/bin") if (folder / "postgres").exists()]
    newest = max(versions, key=lambda each: float(each.name), default=None)
    return None if newest is None else newest / "bin"


def needs() -> Path:
    """The folder of PostgreSQL's programs, or the end of the calling test (``tests/system.py``)."""
    return programs() or Path(need("postgres")).parent


class Server:
    """One server, with all that a power cut needs unless ``settings`` say otherwise."""

    def __init__(self, folder: Path, *, settings: tuple[str, ...] = ()) -> None:
        self.bin = needs()
        # A socket's path has room for about a hundred characters, and the account has to be able
        # to reach it: neither holds for pytest's own folders.
        self.folder = folder
        self.data = folder / "data"
        self.log = folder / "log"
        self._settings = [
            "listen_addresses=",
            f"unix_socket_directories={folder}",
            "max_connections=60",
            "shared_buffers=32MB",
            # Small ones are enough, and a folder in memory has no room for more.
            "min_wal_size=32MB",
            "max_wal_size=64MB",
            # Each a process that a server of tests has no use for.
            "autovacuum=off",
            "max_logical_replication_workers=0",
            *settings,
        ]
        self._account: dict[str, Any] = {}
        if os.geteuid() == 0:
            who = pwd.getpwnam(_ROLE)
            self._account = {"user": who.pw_uid, "group": who.pw_gid, "extra_groups": []}
            os.chown(folder, who.pw_uid, who.pw_gid)
        folder.chmod(0o755)
        self._postmaster: subprocess.Popen[bytes] | None = None
        self._run(
            "initdb",
            "--username", _ROLE,
            "--auth", "trust",
            "--encoding", "UTF8",
            "--locale", "C.UTF-8",
            *_ORDER,
            "--no-sync",
            "--pgdata", str(self.data),
        )  # fmt: skip

    def url(self, name: str = "postgres", *, role: str = _ROLE) -> str:
        """What holdlog is told to use the database ``name``."""
        return f"postgresql://{role}@/{name}?host={quote(str(self.folder), safe='')}"

    def fresh(self, template: str | None = None) -> str:
        """The URL of a new database: empty, or a copy of the database ``template``.

        Nobody may be connected to the one that is copied.
        """
        name = f"journal_{os.getpid()}_{next(_NAMES)}"
        copied = f' TEMPLATE "{template}" STRATEGY file_copy' if template else ""
        self.say(f'CREATE DATABASE "{name}"{copied}')
        return self.url(name)

    def drop(self, url: str) -> None:
        """Throw a database away, whoever is connected to it."""
        self.say(f'DROP DATABASE IF EXISTS "{name_in(url)}" WITH (FORCE)')

    def say(self, statement: str, *, name: str = "postgres") -> list[tuple[Any, ...]]:
        """Run one statement as the superuser, in the database ``name``; what it answers."""
        with psycopg.connect(self.url(name), autocommit=True) as conn:
            # By its bytes: psycopg takes as text only what stands in the program's own words.
            answer = conn.execute(statement.encode())
            return answer.fetchall() if answer.description else []

    def start(self) -> None:
        """Start, or start again; returns when it answers, after a crash when it has recovered."""
        arguments = [part for setting in self._settings for part in ("-c", setting)]
        with self.log.open("ab") as log:
            self._postmaster = subprocess.Popen(
                [self.bin / "postgres", "-D", self.data, *arguments],
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                cwd=self.folder,
                # Ctrl-C at the terminal is for pytest, which then stops the server.
                start_new_session=True,
                preexec_fn=_end_with_us,  # noqa: PLW1509  (it takes no lock)
                **self._account,
            )
        until = time.monotonic() + 60
        while True:
            try:
                self.say("SELECT 1")
            except psycopg.OperationalError as error:
                if self._postmaster.poll() is not None or time.monotonic() > until:
                    raise AssertionError(self.log.read_text(errors="replace")[-4000:]) from error
                time.sleep(0.02)
            else:
                return

    def stop(self, how: Literal["smart", "fast", "immediate"] = "fast") -> None:
        """Stop as ``pg_ctl stop --mode`` does; ``immediate`` leaves recovery to the next start."""
        signals = {"smart": signal.SIGTERM, "fast": signal.SIGINT, "immediate": signal.SIGQUIT}
        if self._postmaster is not None:
            self._postmaster.send_signal(signals[how])
            self._postmaster.wait(timeout=60)
            self._postmaster = None

    def kill(self) -> None:
        """SIGKILL to the server and every process of it, as when the machine goes down."""
        if self._postmaster is None:
            return
        everyone = [self._postmaster.pid, *_children(self._postmaster.pid)]
        # The parent first, so that it starts no new one in the place of a killed child.
        for pid in everyone:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self._postmaster.wait(timeout=60)
        self._postmaster = None
        while any(_runs(pid) for pid in everyone):
            time.sleep(0.005)

    def backends(self) -> list[int]:
        """The processes that serve a connection now, but the asking one."""
        rows = self.say(
            "SELECT pid FROM pg_stat_activity"
            " WHERE backend_type = 'client backend' AND pid <> pg_backend_pid()"
        )
        return [pid for (pid,) in rows]

    def _run(self, program: str, *arguments: str) -> None:
        done = subprocess.run(
            [self.bin / program, *arguments],
            cwd=self.folder,
            capture_output=True,
            text=True,
            check=False,
            **self._account,
        )
        assert done.returncode == 0, done.stderr


def name_in(url: str) -> str:
    """The name of the database in a URL of ``Server``."""
    return url.partition("@/")[2].partition("?")[0]


@contextmanager
def running(folder: Path | None = None, *, settings: tuple[str, ...] = ()) -> Iterator[Server]:
    """A server for a while, in ``folder`` (short, empty, and reachable for other accounts) or in
    one of its own.
    """
    needs()
    own = Path(tempfile.mkdtemp(prefix="pg-", dir=folder))
    try:
        server = Server(own, settings=settings)
        server.start()
        try:
            yield server
        finally:
            server.stop("immediate")
    finally:
        shutil.rmtree(own, ignore_errors=True)


def _end_with_us() -> None:
    """Told to the new process: end at once when the tests do, even if they are killed (prctl(2),
    PR_SET_PDEATHSIG). It is the thread that started it whose end counts.
    """
    ctypes.CDLL(None).prctl(1, signal.SIGQUIT)


def _children(pid: int) -> list[int]:
    everyone = (int(each.name) for each in Path("/proc").glob("[0-9]*"))
    return [each for each in everyone if _stat(each)[1] == str(pid)]


def _runs(pid: int) -> bool:
    return _stat(pid)[0] not in "XZ"  # a zombie holds nothing any more


def _stat(pid: int) -> tuple[str, str]:
    """The state and the parent of a process (proc(5)); ``X`` for one that is gone."""
    try:
        # They come after the name, which may hold anything.
        state, parent = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[:2]
    except OSError:
        return "X", ""
    return state, parent


def in_memory() -> Path | None:
    """A folder that lies in memory, where a server that syncs all it writes is quick, or None."""
    shared = Path("/dev/shm")
    roomy = shared.is_dir() and shutil.disk_usage(shared).free > 2**30
    return shared if roomy else None
