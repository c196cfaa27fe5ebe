"""A private printer and a private print service on loopback, for as long as a test needs them.

``ippeveprinter`` plays an IPP Everywhere printer; what it "prints" is kept as files. It only
starts where there is a message bus, so it gets one of its own. ``cupsd`` runs with every path of
its own and nobody else's queues.
"""

import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from tests.system import end, need

CONF = Path(__file__).with_name("label.conf")
PATIENCE = 15.0  # seconds until a server has to stand


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def until(what: str, true: Callable[[], bool]) -> None:
    """Wait until ``true()`` is, at most ``PATIENCE``."""
    for _ in range(int(PATIENCE / 0.02)):
        if true():
            return
        time.sleep(0.02)
    raise AssertionError(f"{what}: not within {PATIENCE} s")


def answers(port: int) -> bool:
    try:
        socket.create_connection(("localhost", port), 1).close()
    except OSError:
        return False
    return True


@contextmanager
def started(*command: str, env: Mapping[str, str], log: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A program in a process group of its own, of which nothing is left afterwards."""
    with log.open("ab") as out:
        process = subprocess.Popen(
            command, env=dict(env), stdout=out, stderr=out, stdin=subprocess.DEVNULL,
            start_new_session=True,
        )  # fmt: skip
    try:
        yield process
    finally:
        process.terminate()
        with suppress(subprocess.TimeoutExpired):
            process.wait(5)
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait(5)


@contextmanager
def folder() -> Iterator[Path]:
    """A folder with a short path (a socket's has 107 octets) that the user lp may enter."""
    path = Path(tempfile.mkdtemp(prefix="holdlog-"))
    path.chmod(0o755)
    try:
        yield path
    finally:
        shutil.rmtree(path, ignore_errors=True)


@dataclass
class PaperPrinter:
    """A printer without paper: its address, and what came out of it."""

    port: int
    home: Path
    process: subprocess.Popen[bytes]

    @property
    def address(self) -> str:
        return f"ipp://localhost:{self.port}/ipp/print"

    def printed(self) -> list[bytes]:
        """The documents, in the order in which they came; the tray is empty afterwards."""
        files = sorted((self.home / "got").iterdir(), key=lambda path: path.name)
        contents = [path.read_bytes() for path in files]
        for path in files:
            path.unlink()
        return contents

    def behaves(self, script: str = "") -> None:
        """What it does with each job, in shell; stderr is how it talks to ippeveprinter."""
        (self.home / "behaviour").write_text(script + "\n", encoding="utf-8")


@contextmanager
def paper_printer(changes: Mapping[str, str] | None = None) -> Iterator[PaperPrinter]:
    """A printer for 2 x 2 inch labels at 203 dpi.

    ``changes`` are lines of its description by attribute: kind and value, or empty to leave it
    out.
    """
    program, bus = need("ippeveprinter"), need("dbus-daemon")
    with folder() as home, ExitStack() as stack:
        for name in ("got", "spool"):
            (home / name).mkdir()
        lines = {line.split()[2]: line for line in CONF.read_text("utf-8").splitlines() if line}
        for name, value in (changes or {}).items():
            kind, _, rest = value.partition(" ")
            lines[name] = f"ATTR {kind} {name} {rest}" if value else ""
        (home / "label.conf").write_text("\n".join(lines.values()) + "\n", encoding="utf-8")
        take = home / "take"
        take.write_text(
            f'#!/bin/sh\ncp "$1" "{home}/got/$(date +%s%N)"\n. "{home}/behaviour"\n', "utf-8"
        )
        take.chmod(0o755)
        plain = {"PATH": os.environ.get("PATH", ""), "TMPDIR": str(home)}
        address = f"unix:path={home}/bus"
        stack.enter_context(
            started(
                bus,
                "--session",
                f"--address={address}",
                "--nofork",
                "--nopidfile",
                env=plain,
                log=home / "bus.log",
            )
        )
        until("the bus", (home / "bus").exists)
        port = free_port()
        process = stack.enter_context(
            started(
                program,
                "-r",
                "off",
                "-n",
                "localhost",
                "-p",
                str(port),
                "-d",
                str(home / "spool"),
                "-c",
                str(take),
                "-a",
                str(home / "label.conf"),
                "Label",
                env={**plain, "DBUS_SYSTEM_BUS_ADDRESS": address},
                log=home / "printer.log",
            )
        )
        printer = PaperPrinter(port, home, process)
        printer.behaves()
        until("the printer", lambda: answers(port) or process.poll() is not None)
        assert process.poll() is None, (home / "printer.log").read_text("utf-8", "replace")
        yield printer


_CUPSD = """LogLevel warn
Listen 127.0.0.1:{port}
Browsing Off
WebInterface No
DefaultAuthType None
<Location />
Order allow,deny
Allow localhost
</Location>
<Location /admin>
Order allow,deny
Allow localhost
</Location>
<Policy default>
<Limit All>
Order allow,deny
Allow localhost
</Limit>
</Policy>
"""
_FILES = """SystemGroup root
User lp
Group lp
ServerRoot {home}/root
CacheDir {home}/cache
StateDir {home}/state
RequestRoot {home}/requests
TempDir {home}/tmp
AccessLog {home}/log/access
ErrorLog {home}/log/error
PageLog {home}/log/page
"""


@contextmanager
def print_service() -> Iterator[str]:
    """Cupsd without queues; what CUPS_SERVER has to say to reach it."""
    program = need("cupsd")
    if os.geteuid():
        end("cupsd gives its work to the user lp, which takes root")
    with folder() as home, ExitStack() as stack:
        for name in ("root", "cache", "state", "requests", "tmp", "log"):
            (home / name).mkdir()
        shutil.chown(home / "tmp", "lp", "lp")  # the filters run as lp
        port = free_port()
        (home / "cupsd.conf").write_text(_CUPSD.format(port=port), encoding="utf-8")
        (home / "files.conf").write_text(_FILES.format(home=home), encoding="utf-8")
        process = stack.enter_context(
            started(
                program,
                "-f",
                "-c",
                str(home / "cupsd.conf"),
                "-s",
                str(home / "files.conf"),
                env={"PATH": os.environ.get("PATH", "")},
                log=home / "cupsd.log",
            )
        )
        until("the print service", lambda: answers(port) or process.poll() is not None)
        assert process.poll() is None, (home / "cupsd.log").read_text("utf-8", "replace")
        yield f"127.0.0.1:{port}"


def queue(server: str, name: str, printer: PaperPrinter) -> None:
    """Make a queue that prints on ``printer``, and wait until it is whole."""
    env = {**os.environ, "CUPS_SERVER": server, "LC_ALL": "C"}
    subprocess.run(
        [need("lpadmin"), "-p", name, "-E", "-v", printer.address, "-m", "everywhere"],
        env=env, check=True, capture_output=True, timeout=PATIENCE,
    )  # fmt: skip
    options = [need("lpoptions"), "-p", name, "-l"]

    def whole() -> bool:
        told = subprocess.run(options, env=env, check=False, capture_output=True, timeout=PATIENCE)
        return b"PageSize" in told.stdout

    until("the queue", whole)
