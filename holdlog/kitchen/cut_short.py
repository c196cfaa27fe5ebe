"""Working files that killed programs left beside the journal and among its backups."""

from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from holdlog.core.moments import SECOND
from holdlog.core.parts import CUT_SHORT, left
from holdlog.journal.checks import Finding
from holdlog.journal.engine import Connection
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.last_backup import last_with

# Of the names told in one line. Ours: enough to know them by.
_TOLD = 3


def cut_short(kitchen: Kitchen, conn: Connection) -> Finding | None:
    """What was left, and what to do; None: nothing. Only files are told of that nobody has written
    to for a day: a younger one may be what another program is at work on.

    Looked at are the folder of the journal (where it is a file), the one for backups beside it, and
    that of the last backup made at this station.
    """
    before = kitchen.now() / SECOND - CUT_SHORT
    told = []
    for folder in _folders(kitchen, conn):
        with suppress(OSError):
            if found := left(folder, before):
                names = ", ".join(path.name for path in found[:_TOLD])
                more = f" and {len(found) - _TOLD} more" if found[_TOLD:] else ""
                told.append(f"In {folder}: {names}{more}.")
    if not told:
        return None
    says = (
        "Programs that were killed left working files. Nothing needs them: delete them while no "
        f"holdlog is at work there. {' '.join(told)}"
    )
    return Finding("working-files", ok=True, says=says, look=True)


def _folders(kitchen: Kitchen, conn: Connection) -> Iterable[Path]:
    found = []
    if kitchen.db.path is not None:
        beside = kitchen.db.path.resolve().parent
        found += [beside, beside / "backups"]
    last = last_with(conn, kitchen.site)
    if last is not None and last.station == kitchen.station:
        found.append(Path(last.file).parent)
    return dict.fromkeys(found)
