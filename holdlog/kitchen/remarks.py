"""What an auditor looks at beside the food: late entries, corrections, labels, probes, rules."""

from collections.abc import Iterable
from dataclasses import dataclass

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.moments import Instant, local_date
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.kitchen.compliance import found_in
from holdlog.kitchen.doubts import PROBE
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.label import TAG
from holdlog.kitchen.telling import tell
from holdlog.rules.stack import Stack

_SAID = {
    "voided": "voided", "confirmed": "confirmed", "settled": "settled", "stack": "rules",
    "print-failed": "print failed", "recalled": "recall", "restored": "restored",
}  # fmt: skip
_ABOUT_ANOTHER = (ev.Voided, ev.Confirmed, ev.Settled)


@dataclass(frozen=True, slots=True)
class Remark:
    """An entry of the period that an auditor looks at: late, voiding, confirming, a ruling, a
    label printed again or not at all.
    """

    number: int
    at: Instant
    recorded_at: Instant
    by: str
    subject: str
    what: str
    says: str


@dataclass(frozen=True, slots=True)
class Labels:
    """Labels of the period: ``made`` (by a printer, as files or on tape), how many of them were
    ``copies`` or discard ``tags``, how many were ``unseen`` (sent, and not known to have come
    out), and how many wanted ones ``failed``.
    """

    made: int
    copies: int
    tags: int
    unseen: int
    failed: int


@dataclass(frozen=True, slots=True)
class ProbeCheck:
    """One check of a thermometer in the period, in the words of the journal."""

    number: int
    at: Instant
    by: str
    probe: str
    passed: bool
    says: str


@dataclass(frozen=True, slots=True)
class RulesInForce:
    """A stack that was in force in the period, from ``at`` on. ``before``: it was when the period
    began.

    ``looser``: what is counted more loosely than the strict reading, in words; ``ruling``: who
    ruled so, as it was recorded (empty: the books settle it themselves, or nothing is looser).
    """

    number: int
    at: Instant
    by: str
    titles: tuple[str, ...]
    looser: tuple[str, ...]
    ruling: str
    before: bool


def label_entries(
    kitchen: Kitchen, conn: Connection, since: Instant, until: Instant
) -> list[Entry]:
    """The labels of the period, made or not: most of what is written in a day, so read once."""
    wanted = ["labelled", "print-failed"]
    return journal_entries.of_kinds(conn, kitchen.site, wanted, since=since, until=until)


def labels_of(found: Iterable[Entry]) -> Labels:
    """The labels among these, counted."""
    facts = [fact_of(entry) for entry in found]
    labels = [fact for fact in facts if isinstance(fact, ev.Labelled)]
    made = [fact for fact in labels if fact.state != "seen"]  # counted when it was sent
    return Labels(
        made=len(made),
        copies=sum(fact.copy > 0 for fact in made),
        tags=sum(fact.purpose == TAG for fact in made),
        unseen=sum(fact.state in ("sent", "accepted") for fact in made),
        failed=len(facts) - len(labels),
    )


def probe_checks(
    kitchen: Kitchen, conn: Connection, since: Instant, until: Instant
) -> list[ProbeCheck]:
    """The checks of thermometers that count, the failed ones first."""
    kind = ev.KIND_OF[ev.ProbeChecked]
    checks = [
        ProbeCheck(
            each.entry.number, each.entry.at, each.entry.by,
            each.entry.subject.removeprefix(PROBE), each.fact.passed, tell(each.fact),
        )
        for each in found_in(kitchen, conn, [kind], since, until)
        if isinstance(each.fact, ev.ProbeChecked)
    ]  # fmt: skip
    return sorted(checks, key=lambda each: (each.passed, each.at, each.number))


def remarks_of(
    kitchen: Kitchen,
    conn: Connection,
    since: Instant,
    until: Instant,
    labels: Iterable[Entry],
    *,
    item: str = "",
    by: str = "",
    unit: str = "",
) -> list[Remark]:
    """Late entries, corrections, confirmations and adopted rules of the period (of one cook, or
    of all): what happened in it, and what was written in it of the time before. ``labels`` are
    those of the period. Asked for one ``item`` or ``unit``, what is about no food and no unit is
    told as well.
    """
    site = kitchen.site
    entries = journal_entries.written(conn, site, _SAID, since, until)
    entries += journal_entries.of_kinds(
        conn, site, list(ev.KINDS), since=since, until=until, written_since=until
    )
    entries += labels
    entries += _taken_back(conn, site, since, until)
    found = []
    for entry in {each.number: each for each in entries}.values():
        what = _what(entry, kitchen)
        if not what or by.upper() not in ("", entry.by):
            continue
        if (item or unit) and not _about(kitchen, conn, entry.subject, item, unit):
            continue
        found.append(
            Remark(
                entry.number, entry.at, entry.recorded_at, entry.by, entry.subject, what,
                _says(conn, site, fact_of(entry)),
            )
        )  # fmt: skip
    return sorted(found, key=lambda each: each.number)


def _says(conn: Connection, site: str, fact: ev.Fact) -> str:
    """A fact in words; of one about another entry, what that one had said."""
    about = getattr(fact, "entry", None) if isinstance(fact, _ABOUT_ANOTHER) else None
    of = journal_entries.numbered(conn, site, about) if about is not None else None
    return f"{tell(fact)} (it said: {tell(fact_of(of))})" if of is not None else tell(fact)


def _taken_back(conn: Connection, site: str, since: Instant, until: Instant) -> list[Entry]:
    """The ways back to a backup, whenever they were, that lost entries of the period or may have:
    what is missing there is nowhere else.
    """
    found = []
    for entry in journal_entries.of_kinds(conn, site, ["restored"]):
        fact = fact_of(entry)
        if isinstance(fact, ev.Restored):
            first, last = fact.lost_from, fact.lost_to
            if fact.unknown:
                before = journal_entries.numbered(conn, site, entry.number - 1)
                first, last = before.recorded_at if before else entry.at, entry.at
            if first is not None and last is not None and first < until and last >= since:
                found.append(entry)
    return found


def _about(kitchen: Kitchen, conn: Connection, subject: str, item: str, unit: str) -> bool:
    """Whether ``subject`` is of that item and stands (or stood last) in that unit, where asked;
    also where it is neither food nor a unit.
    """
    if subject in kitchen.units:
        return unit in ("", subject)
    row = on_hand.find(conn, kitchen.site, subject)
    rows = [row] if row is not None else on_hand.of_batch(conn, kitchen.site, subject)
    if not rows:
        return True
    named = item.lower() in rows[0].item_name.lower()
    return named and (not unit or any(row.unit == unit for row in rows))


def _what(entry: Entry, kitchen: Kitchen) -> str:
    """What an auditor calls it; empty: nothing to look at."""
    if entry.kind in _SAID:
        return _SAID[entry.kind]
    fact = fact_of(entry) if entry.kind == "labelled" else None
    if isinstance(fact, ev.Labelled) and fact.copy and fact.state != "seen":
        return "reprint"
    if entry.recorded_at == entry.at:
        return ""
    late = local_date(entry.recorded_at, kitchen.where) > local_date(entry.at, kitchen.where)
    return "late entry" if late else ""


def rules_in_force(
    kitchen: Kitchen, conn: Connection, since: Instant, until: Instant
) -> list[RulesInForce]:
    """The stacks that were in force in the period, in order."""
    adopted = journal_entries.of_kinds(conn, kitchen.site, ["stack"], until=until)
    before = [entry for entry in adopted if entry.recorded_at < since]
    wanted = [*before[-1:], *(entry for entry in adopted if entry.recorded_at >= since)]
    found = []
    for entry in wanted:
        fact = fact_of(entry)
        if isinstance(fact, ev.StackAdopted):
            stack = kitchen.stack_of(conn, fact)
            titles = tuple(book.title for book in stack.books)
            found.append(
                RulesInForce(
                    entry.number, entry.at, entry.by, titles, tuple(looser(stack)), fact.ruling,
                    entry.recorded_at < since,
                )
            )  # fmt: skip
    return found


def looser(stack: Stack) -> list[str]:
    """What ``stack`` counts more loosely than the strict reading."""
    said = {
        "freeze_day": "the day of freezing does not count",
        "thaw_day": "the day of thawing does not count",
        "day_end": "a day is 24 hours, and does not end at midnight",
    }
    strict = ev.Conventions()
    return [
        says
        for name, says in said.items()
        if getattr(stack.conventions, name) != getattr(strict, name)
    ]
