"""Turns the database driver's errors into sentences a cook can act on.

SQLite says what went wrong by a result code with a name (sqlite.org/rescode.html), the same in
every release and language; its English texts are not relied on, but where no code is given.
What PostgreSQL says is in ``sqlstates.py``.
"""

import os
import re
import shutil
from pathlib import Path
from typing import TypeAlias

from holdlog.core.errors import Fault

Told: TypeAlias = tuple[str, str, str]
"""Code, sentence and hint of a fault; ``{name}`` and ``{error}`` are put in."""

_AGAIN = re.compile(r"^Nothing was written[;.] (try again[^.]*\. ?)?|,? and enter it again")
_KEPT = "Something was recorded before this: look with holdlog on-hand before you enter it again."
BACKUP = "Stop, keep the file as it is, and go back to the latest good copy."


def explain(error: BaseException | None, name: str, path: Path | None) -> Fault:
    """The fault for ``error``, raised by the driver of the database called ``name``."""
    result = getattr(error, "sqlite_errorname", None) or _from_text(str(error))
    if path is not None and result.startswith("SQLITE_CANTOPEN"):
        return _cannot_open(name, path)
    said = next(iter(str(error).strip().splitlines()), "")
    for prefix, fault in _FAULTS.items():
        if result == prefix or result.startswith(prefix + "_"):
            return told(fault, name, said)
    return Fault(
        "database",
        f"The database {name} could not do what was asked: {said}",
        "Run: holdlog doctor",
    )


def is_damage(error: BaseException | None) -> bool:
    """Whether SQLite says that the file itself is not as it should be."""
    name = getattr(error, "sqlite_errorname", None) or ""
    return name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB"))


def told(fault: Told, name: str, said: str) -> Fault:
    """``fault`` of the database called ``name``, of which the driver ``said`` this."""
    code, sentence, hint = fault
    return Fault(code, sentence.format(name=name, error=said), hint)


def after_an_entry(fault: Fault) -> Fault:
    """``fault`` in a program that has kept something already. Of its last step alone it is true
    that nothing was written: who reads that, or to try again, enters once more what is there.
    """
    if fault.hint == BACKUP:
        return fault
    helps = _AGAIN.sub("", fault.hint)
    return Fault(fault.code, fault.sentence, f"{_KEPT} {helps[:1].upper()}{helps[1:]}".strip())


def locked(name: str) -> Fault:
    """Another program has its turn, and has had it for longer than anybody waits."""
    return told(LOCKED, name, "")


def refused(what: str) -> Told:
    """The guards or the rules of the tables did not take ``what``."""
    return (
        "refused",
        f"The journal {{name}} refused {what} that does not fit: {{error}}.",
        "Nothing was written. Run: holdlog doctor",
    )


LOCKED: Told = (
    "locked",
    "Another program is writing to the journal {name}.",
    "Nothing was written; try again in a moment. If it stays so, end the other program.",
)
FULL: Told = (
    "disk-full",
    "The disk that holds the journal {name} is full.",
    "Nothing was written; make room on the disk and enter it again.",
)
_READ_ONLY: Told = (
    "read-only",
    "The journal {name} cannot be written: the file or its folder is read-only.",
    "Nothing was written; give the account that runs holdlog the right to write there.",
)
MOVED: Told = (
    "moved",
    "The journal {name} was moved, deleted or replaced while it was in use.",
    "Nothing was written; put the file back, or plug in its disk, and enter it again.",
)
DAMAGED: Told = ("damaged", "The file {name} is damaged, or is not a journal at all.", BACKUP)
# The first that fits is taken, so the special cases of one prefix come before it.
_FAULTS = {
    "SQLITE_BUSY": LOCKED,
    "SQLITE_LOCKED": LOCKED,
    "SQLITE_FULL": FULL,
    "SQLITE_READONLY_DBMOVED": MOVED,
    "SQLITE_READONLY": _READ_ONLY,
    "SQLITE_NOTADB": DAMAGED,
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_IOERR": (
        "disk-fault",
        "The disk did not take or give the data of the journal {name}.",
        "Nothing was half-written; see whether the disk is full, over a quota, or failing.",
    ),
    "SQLITE_CONSTRAINT": refused("an entry"),
}


def _from_text(text: str) -> str:
    """The result code of an error that carries none (one made by the driver itself)."""
    return "SQLITE_BUSY" if "locked" in text.lower() else ""


def _cannot_open(name: str, path: Path) -> Fault:
    # SQLite gives one code for a missing folder, a path that is no file and a file of somebody
    # else; which of them it was decides what the person has to do.
    folder = path.parent
    if not folder.is_dir():
        return Fault(
            "no-folder",
            f"The folder {folder} is not there, so the journal {name} cannot be opened.",
            "Make the folder, or plug in the disk that holds it.",
        )
    readable = not path.exists() or os.access(path, os.R_OK)
    if readable and not os.access(folder, os.W_OK):
        # In WAL mode even a look needs a file of its own beside the journal.
        return told(_READ_ONLY, name, "")
    if shutil.disk_usage(folder).free == 0:
        return told(FULL, name, "")
    return Fault(
        "cannot-open",
        f"The journal {name} cannot be opened.",
        "See that it is a file, and that the account that runs holdlog may read and write it.",
    )
