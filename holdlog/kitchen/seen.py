"""A label of which nobody knew whether it came out, and that a cook has in hand."""

from collections.abc import Sequence
from dataclasses import replace

from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.journal import entries as journal_entries
from holdlog.kitchen.kitchen import Kitchen, Writing
from holdlog.kitchen.waiting import Last, last_labels


def a_moment_of_its_own(write: Writing) -> None:
    """The newest label is the one that binds: no two are of one moment."""
    if write.recorded_at == journal_entries.head(write.conn, write.kitchen.site)[2]:
        write.recorded_at = Instant(write.recorded_at + 1)


def seen(kitchen: Kitchen, by: str, codes: Sequence[str]) -> None:
    """Write down that the last labels of ``codes`` did come out: a cook has them in hand.

    A later date on such a label binds from now on. Raises ``Mistake("not-unseen")``, and writes
    nothing, where the last label is none that was sent to a printer and not seen.
    """
    with kitchen.writing(by) as write:
        a_moment_of_its_own(write)
        last = last_labels(write.conn, kitchen.site, codes)
        facts: list[tuple[ev.Fact, Instant, str]] = []
        for code in codes:
            found = last.get(code, Last())
            if found.label is None or not found.unseen:
                raise Mistake(
                    "not-unseen",
                    f"{show(code)} has no label that a printer took and nobody saw come out.",
                    f"Make its label: holdlog label {show(code)}",
                )
            facts.append((replace(found.label, state="seen"), write.recorded_at, code))
        write.append(*facts)
        write.settle(*codes)
