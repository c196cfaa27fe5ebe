"""Entries and rows of Tern & Tide, an invented bistro, for the tests to write."""

import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from holdlog.core.chain import Entry
from holdlog.core.events import Fact, Reading
from holdlog.core.moments import Instant
from holdlog.core.temperature import read_temperature
from holdlog.journal.engine import Database
from holdlog.journal.entries import Draft, append, stream
from holdlog.journal.on_hand import BatchRow, ContainerRow

SITE = "tern-and-tide"
NOW = Instant(1_780_000_000_000)
COLD = Reading(read_temperature("3.5 C"))
ROOT = Path(__file__).resolve().parents[2]


def draft(fact: Fact = COLD, *, at: int = NOW, subject: str = "H7K39QX2", by: str = "MK") -> Draft:
    return Draft(fact, Instant(at), subject, by)


def write(
    db: Database, drafts: Sequence[Draft] | None = None, *, site: str = SITE, at: int = NOW
) -> list[Entry]:
    with db.appending(site) as conn:
        return append(conn, site, drafts or [draft()], recorded_at=Instant(at), station="pass")


def all_of(db: Database, site: str = SITE) -> list[Entry]:
    with db.reading() as conn:
        return list(stream(conn, site))


def batch_row(number: int = 1, **changes: Any) -> BatchRow:
    row = BatchRow(
        batch=f"B{number}",
        number=number,
        item="white-bean",
        item_name="white bean, cooked",
        category="cooked-legume",
        day_one=NOW,
        kind="prepared",
    )
    return replace(row, **changes)


def container_row(code: str = "H7K39QX2", **changes: Any) -> ContainerRow:
    row = ContainerRow(
        code=code,
        batch="B1",
        parent="",
        item="white-bean",
        item_name="white bean, cooked",
        category="cooked-legume",
        unit="walk-in",
        number=1,
        count=2,
        amount="2 l",
        made_at=NOW,
        made_kind="prepared",
        state="chilled",
        tcs="tcs",
        use_by=Instant(NOW + 1000),
        last_day="2026-06-07",
        of=7,
        days_left=None,
        verdict="",
        reason="",
        review_at=None,
        printed_use_by=None,
        binds="date-mark",
        cite="3-501.17(A)(1)",
        says="held cold, through day 7",
        cautions=(),
        judged_at=NOW,
        ended_at=None,
        ended_as="",
    )
    return replace(row, **changes)


def files(folder: Path) -> list[str]:
    """The names in ``folder``, without what SQLite keeps beside a file that is open in WAL mode."""
    names = (path.name for path in folder.iterdir())
    return sorted(name for name in names if not name.endswith(("-wal", "-shm")))


def elsewhere(script: str, *args: object) -> Any:
    """Run ``script`` in a process of its own; give what it prints as JSON on its last line."""
    done = subprocess.run(
        [sys.executable, "-c", script, *map(str, args)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])
