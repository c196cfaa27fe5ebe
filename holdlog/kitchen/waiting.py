"""Which containers wait for a label: the print failed, there was never one, or it misleads."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from holdlog.core import events as ev
from holdlog.journal import entries as journal_entries
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.label import TAG

# Only these are read back into facts: a container's history holds much else.
_KINDS = ("labelled", "print-failed")
UNSEEN = "nobody has seen its label come out"
_NOT_NOW = "the last print failed"


@dataclass(frozen=True, slots=True)
class Last:
    """The label a container bears, and the print that failed since, if one did."""

    label: ev.Labelled | None = None
    failed: ev.PrintFailed | None = None

    @property
    def unseen(self) -> bool:
        """Nobody knows whether the last label came out."""
        return self.label is not None and self.label.state in ("sent", "accepted")


def last_labels(conn: Connection, site: str, codes: Iterable[str]) -> Mapping[str, Last]:
    """The last label of each of ``codes``; discard tags are beside the label and no part of it."""
    found: dict[str, Last] = {}
    for entry in journal_entries.of_subjects(conn, site, codes):
        if entry.kind not in _KINDS:
            continue
        match fact_of(entry):
            case ev.Labelled(purpose=purpose) as fact if purpose != TAG:
                found[entry.subject] = Last(fact)
            case ev.PrintFailed(purpose=purpose) as fact if purpose != TAG:
                found[entry.subject] = Last(found.get(entry.subject, Last()).label, fact)
            case _:
                pass
    return found


def why_waiting(row: ContainerRow, last: Last, *, misleads: bool) -> str:
    """Why ``row`` wants a label, in a few words; empty: it does not. ``misleads``: its label
    promises more than the rules allow.
    """
    if last.failed is not None:
        reason = last.failed.reason
        return f"{_NOT_NOW}: {reason}" if reason else _NOT_NOW
    if last.label is None:
        return "it has no label"
    if misleads:
        return "its label says too late a day"
    if last.label.state == "accepted" or (last.unseen and row.binds == "printed-label"):
        return UNSEEN
    return _out_of_step(row, last.label)


def _out_of_step(row: ContainerRow, label: ev.Labelled) -> str:
    """What a label does not say of the state its container is in now."""
    frozen = row.state == "frozen"
    if (label.purpose == "frozen") != frozen:
        return "it is frozen, and its label does not say so" if frozen else (
            "its label says FROZEN, and it is not"
        )  # fmt: skip
    if row.verdict:
        return ""
    if label.purpose == "cooling":
        return "it has cooled, and its label says COOLING"
    if row.use_by is not None and label.use_by is None and not frozen:
        return "its label gives no date"  # it said ON HOLD, or NO LIMIT KNOWN
    return ""
