"""Running ``holdlog`` as a person or another program does."""

import fcntl
import json
import os
import pty
import select
import sqlite3
import struct
import subprocess
import sys
import sysconfig
import termios
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.cli import warm

ROOT = Path(__file__).resolve().parents[2]
# The console script beside this interpreter; without an installation the module does as well.
_SCRIPT = Path(sysconfig.get_path("scripts")) / "holdlog"
HOLDLOG = [str(_SCRIPT)] if _SCRIPT.exists() else [sys.executable, "-m", "holdlog"]
MODULE = [sys.executable, "-m", "holdlog"]
UNWANTED = {"COLUMNS", "NO_COLOR", "PYTHONDONTWRITEBYTECODE"}
EXAMPLES = ROOT / "shared" / "worked_examples"


def zone_where_it_is(hour: int) -> str:
    """A time zone in which it is about ``hour`` o'clock now.

    In the IANA list, Etc/GMT+5 lies five hours west of Greenwich: the sign is turned round.
    """
    west = (datetime.now(UTC).hour - hour) % 24
    return f"Etc/GMT+{west}" if west <= 12 else f"Etc/GMT-{24 - west}"


@dataclass(frozen=True)
class Done:
    """One finished run."""

    code: int
    out: str
    err: str

    def json(self) -> Any:
        """The output, read as JSON."""
        return json.loads(self.out)

    def refusal(self) -> str:
        """The one line of a refusal; fails where it was none or more than a line."""
        assert self.code == 2, self
        return self.one_line()

    def fault(self) -> str:
        """The one line of a fault of the surroundings."""
        assert self.code == 1, self
        return self.one_line()

    def one_line(self) -> str:
        """The line on standard error, which holds nothing else."""
        lines = self.err.splitlines()
        assert len(lines) == 1, self.err
        assert lines[0].startswith("holdlog: "), self.err
        assert "Traceback" not in self.err
        assert "fault of the program itself" not in self.err
        return lines[0]


def environment(**more: str) -> dict[str, str]:
    """A clean environment: nobody else's kitchen, no wide terminal, compiled modules kept as
    an installation has them.
    """
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith("HOLDLOG_") and name not in UNWANTED
    }
    return {**kept, **more}


@dataclass(frozen=True)
class Till:
    """A kitchen in a folder of its own, and the person in front of it."""

    folder: Path
    by: str = "MK"
    more: Mapping[str, str] = field(default_factory=dict)

    @property
    def journal(self) -> Path:
        """The journal's file."""
        return self.folder / "kitchen.db"

    def env(self) -> dict[str, str]:
        """What a run of this kitchen sees."""
        return environment(HOLDLOG_DB=str(self.journal), HOLDLOG_BY=self.by, **self.more)

    def run(
        self,
        *arguments: str,
        stdin: str = "",
        before: Callable[[], None] | None = None,
        env: Mapping[str, str] | None = None,
        cold: bool = False,
    ) -> Done:
        """Run ``holdlog`` with its outputs piped; ``before``, or one that is to start ``cold``,
        has an interpreter of its own.
        """
        wanted = {**self.env(), **(env or {})}
        folder = self.folder if self.folder.exists() else None
        if before is None and not cold:
            return Done(*warm.run(arguments, stdin, wanted, folder))
        done = subprocess.run(
            [*HOLDLOG, *arguments],
            input=stdin,
            env=wanted,
            cwd=folder,
            capture_output=True,
            encoding="utf-8",
            preexec_fn=before,
            check=False,
        )
        return Done(done.returncode, done.stdout, done.stderr)

    def ok(self, *arguments: str, **env: str) -> str:
        """Run it, expect it to succeed without complaint, and return what it says."""
        done = self.run(*arguments, env=env)
        assert done.code == 0, done
        assert done.err == "", done
        return done.out

    def data(self, *arguments: str) -> Any:
        """Run it with --json, expect success, and return the data."""
        return json.loads(self.ok(*arguments, "--json"))

    def codes(self, *arguments: str) -> list[str]:
        """The codes of the containers that a command has made or changed."""
        found = self.data(*arguments)
        return [each["code"] for each in found["containers"]]

    def entries(self) -> int:
        """How many entries the journal holds, asked of SQLite itself."""
        with closing(sqlite3.connect(self.journal)) as conn:
            (count,) = conn.execute("SELECT count(*) FROM entry").fetchone()
        return int(count)

    def at_a_terminal(
        self,
        *arguments: str,
        types: Sequence[str] = (),
        columns: int = 80,
        env: Mapping[str, str] | None = None,
    ) -> Done:
        """Run it in a terminal of so many ``columns``; whenever it waits, type the next of
        ``types``. Both outputs come back as one.
        """
        child, terminal = pty.fork()
        if child == 0:
            os.chdir(self.folder)
            wanted = {**self.env(), "TERM": "xterm-256color", **(env or {})}
            os.execve(HOLDLOG[0], [*HOLDLOG, *arguments], wanted)
        fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
        said, waiting = b"", list(types)
        while True:
            # A question ends without a line's end; nothing more comes until it is answered.
            quiet = 0.15 if waiting and said and not said.endswith(b"\n") else 20
            ready, _, _ = select.select([terminal], [], [], quiet)
            if ready:
                try:
                    piece = os.read(terminal, 65536)
                except OSError:  # what Linux answers when the other side has closed
                    break
                if not piece:
                    break
                said += piece
            elif waiting:
                os.write(terminal, waiting.pop(0).encode())
            else:
                break
        os.close(terminal)
        _, status = os.waitpid(child, 0)
        return Done(os.waitstatus_to_exitcode(status), said.decode().replace("\r\n", "\n"), "")


def set_up(folder: Path, zone: str, **env: str) -> Till:
    """A new kitchen at Tern & Tide, in ``zone``."""
    folder.mkdir(parents=True, exist_ok=True)
    till = Till(folder, more=env)
    till.ok(
        "setup", "--name", "Tern & Tide", "--zone", zone, "--scale", "F",
        "-R", "us-food-code-2022",
        "-u", "walk-in", "-u", "reach-in", "-u", "chest freezer:freezer", "-u", "hot box",
        "--by", "JR",
    )  # fmt: skip
    return till
