"""Turns the database driver's errors into sentences a cook can act on.

SQLite says what went wrong by a result code with a name (sqlite.org/rescode.html), the same in
every release and language; its English texts are not relied on, but where no code is given.
"""

from pathlib import Path

from holdlog.core.errors import Fault

_BACKUP = "Stop, keep the file as it is, and go back to the latest good copy."


def explain(error: BaseException | None, name: str, path: Path | None) -> Fault:
    """The fault for ``error``, raised by the driver of the database called ``name``."""
    result = getattr(error, "sqlite_errorname", None) or _from_text(str(error))
    if path is not None and result.startswith("SQLITE_CANTOPEN"):
        return _cannot_open(name, path)
    said = next(iter(str(error).strip().splitlines()), "")
    for prefix, fault in _FAULTS.items():
        if result == prefix or result.startswith(prefix + "_"):
            code, sentence, hint = fault
            return Fault(code, sentence.format(name=name, error=said), hint)
    return Fault(
        "database",
        f"The database {name} could not do what was asked: {said}",
        "Run: holdlog doctor",
    )


_LOCKED = (
    "locked",
    "Another program is writing to the journal {name}.",
    "Nothing was written; try again in a moment. If it stays so, end the other program.",
)
_FULL = (
    "disk-full",
    "The disk that holds the journal {name} is full.",
    "Nothing was written; make room on the disk and enter it again.",
)
_READ_ONLY = (
    "read-only",
    "The journal {name} cannot be written: the file or its folder is read-only.",
    "Nothing was written; give the account that runs holdlog the right to write there.",
)
_DAMAGED = ("damaged", "The file {name} is damaged, or is not a journal at all.", _BACKUP)
# The first that fits is taken, so the special cases of one prefix come before it.
_FAULTS = {
    "SQLITE_BUSY": _LOCKED,
    "SQLITE_LOCKED": _LOCKED,
    "SQLITE_FULL": _FULL,
    "SQLITE_READONLY": _READ_ONLY,
    "SQLITE_NOTADB": _DAMAGED,
    "SQLITE_CORRUPT": _DAMAGED,
    "SQLITE_IOERR": (
        "disk-fault",
        "The disk did not take or give the data of the journal {name}.",
        "Nothing was half-written; see whether the disk is full, over a quota, or failing.",
    ),
    "SQLITE_CONSTRAINT": (
        "refused",
        "The journal {name} refused an entry that does not fit: {error}.",
        "Nothing was written. Run: holdlog doctor",
    ),
}


def _from_text(text: str) -> str:
    """The result code of an error that carries none (PostgreSQL, or one made by us)."""
    lowered = text.lower()
    if "locked" in lowered or "lock timeout" in lowered:
        return "SQLITE_BUSY"
    if "no space left" in lowered:
        return "SQLITE_FULL"
    if "violates" in lowered or lowered.startswith(("an entry ", "a reading ")):
        return "SQLITE_CONSTRAINT"
    return ""


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
    return Fault(
        "cannot-open",
        f"The journal {name} cannot be opened.",
        "See that it is a file, and that the account that runs holdlog may read and write it.",
    )
