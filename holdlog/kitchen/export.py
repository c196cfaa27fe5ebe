"""The whole journal into a file of lines, which needs no holdlog to be checked."""

import contextlib
import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from holdlog.core.errors import Fault, Mistake
from holdlog.core.journal_lines import line_of
from holdlog.journal import entries as journal_entries
from holdlog.kitchen.kitchen import Kitchen

EVERY = 50_000


@dataclass(frozen=True, slots=True)
class Exported:
    """What was written: how many entries, and the hash of the last one."""

    file: Path
    count: int
    head: str


def export(kitchen: Kitchen, file: Path, *, replace: bool, told: Callable[[int], None]) -> Exported:
    """Write every entry of the site to ``file``, one a line, as of one moment.

    The file appears whole or not at all. ``told`` hears of the progress. Raises
    ``Mistake("file-exists")`` unless ``replace``, ``Fault("cannot-write")``.
    """
    if file.exists() and not replace:
        raise Mistake("file-exists", f"{file} is there already.", "Name another, or say --replace.")
    if file.is_dir() or not file.parent.is_dir():
        raise Mistake("no-folder", f"{file} is no file that can be written.", "Name a file.")
    count = 0
    try:
        handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
        try:
            with (
                os.fdopen(handle, "w", encoding="utf-8", newline="") as out,
                kitchen.db.reading() as conn,
            ):
                head = journal_entries.head(conn, kitchen.site)[1]
                for entry in journal_entries.stream(conn, kitchen.site):
                    out.write(line_of(entry))
                    count += 1
                    if count % EVERY == 0:
                        told(count)
                out.flush()
                os.fsync(out.fileno())
            Path(name).replace(file)
        except BaseException:
            with contextlib.suppress(OSError):
                Path(name).unlink()
            raise
    except OSError as error:
        raise Fault(
            "cannot-write", f"{file} cannot be written: {error.strerror or error}.",
            "Is the disk full, or the folder not yours?",
        ) from error  # fmt: skip
    return Exported(file, count, head)
