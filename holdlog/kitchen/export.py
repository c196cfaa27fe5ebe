"""The whole journal into a file of lines, which needs no holdlog to be checked."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from holdlog.core.errors import Mistake
from holdlog.core.journal_lines import line_of
from holdlog.core.whole_files import writing_text
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
    ``Mistake("file-exists")`` unless ``replace``, ``Fault("no-file")``.
    """
    if file.exists() and not replace:
        raise Mistake("file-exists", f"{file} is there already.", "Name another, or say --replace.")
    count = 0
    with writing_text(file) as out, kitchen.db.reading() as conn:
        head = journal_entries.head(conn, kitchen.site)[1]
        for entry in journal_entries.stream(conn, kitchen.site):
            out.write(line_of(entry))
            count += 1
            if count % EVERY == 0:
                told(count)
    return Exported(file, count, head)
