"""Corrections: entries that void another and say why. Nothing is ever overwritten."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal.codec import fact_of
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.kitchen import Kitchen, Writing
from holdlog.kitchen.records import LiveRecords, Making, Reader
from holdlog.kitchen.telling import tell

_NOT_FOOD = (ev.KitchenSetUp, ev.StackAdopted, ev.UnitAdded, ev.ItemAdded)


@dataclass(frozen=True, slots=True)
class Corrected:
    """What was corrected, and the containers whose rows were folded again."""

    says: str
    rows: tuple[ContainerRow, ...]
    pending: bool


def void(kitchen: Kitchen, by: str, number: int, why: str, evidence: str = "") -> Corrected:
    """Take back entry ``number``. Raises ``Mistake`` where that cannot be.

    On a later day the voiding of a fact that shortens a date waits (``pending``) until the
    person in charge confirms it: give ``evidence`` (the paper or logger) to confirm at once.
    """
    reason = _said(why, "Why was it wrong?", '--why "…"')
    with kitchen.writing(by) as write:
        entry = _numbered(write, number)
        fact = fact_of(entry)
        if isinstance(fact, ev.Voided | ev.Confirmed | _NOT_FOOD):
            raise Mistake(
                "not-voidable",
                f"Entry {number} ({tell(fact)}) cannot be voided.",
                "Only what happened to food or to a label can; write the fact that is right.",
            )
        if _is_voided(write, entry):
            raise Mistake("is-voided", f"Entry {number} is void already.", "")
        drafts: list[tuple[ev.Fact, Instant, str]] = [
            (ev.Voided(number, reason), write.recorded_at, entry.subject)
        ]
        # A container that was poured away, split or made into something has a twin fact there.
        (written,) = write.append(*drafts)
        if evidence.strip():
            confirmed = ev.Confirmed(written.number, evidence.strip())
            write.append((confirmed, write.recorded_at, entry.subject))
        rows = write.settle(entry.subject)
        reader = Reader(LiveRecords(write.conn, kitchen.site), kitchen.where)
        still = any(each.entry.number == number for each in reader.standing(entry.subject))
        return Corrected(tell(fact), tuple(rows), still)


def confirm(kitchen: Kitchen, by: str, number: int, evidence: str) -> Corrected:
    """The person in charge confirms a late entry and names the paper or logger it rests on."""
    named = _said(evidence, "On what does it rest?", '--evidence "cooling sheet 12, MK"')
    with kitchen.writing(by) as write:
        entry = _numbered(write, number)
        fact = fact_of(entry)
        if isinstance(fact, ev.Confirmed | _NOT_FOOD):
            raise Mistake("not-confirmable", f"Entry {number} ({tell(fact)}) needs no confirming.")
        write.append((ev.Confirmed(number, named), write.recorded_at, entry.subject))
        return Corrected(tell(fact), tuple(write.settle(entry.subject)), pending=False)


def correct_making(
    kitchen: Kitchen,
    by: str,
    typed: str,
    change: Callable[[ev.Fact], ev.Fact],
    at: Instant | None,
    why: str,
    evidence: str = "",
) -> Corrected:
    """Void how a batch was made and write it anew: another time (``at``), or other facts.

    On a later day a later time waits for the person in charge: until then the earlier counts.
    """
    reason = _said(why, "Why was it wrong?", '--why "…"')
    with kitchen.writing(by) as write:
        row = write.find(typed)
        reader = Reader(LiveRecords(write.conn, kitchen.site), kitchen.where)
        making = reader.container(row.code).making
        if making is None or not isinstance(making.fact, Making):
            raise Mistake("no-batch", f"Batch {row.batch} is void.", "Record it anew.")
        number = making.entry.number
        moment = making.entry.at if at is None else at
        voided, _ = write.append(
            (ev.Voided(number, reason), write.recorded_at, row.batch),
            (change(making.fact), moment, row.batch),
        )
        if evidence.strip():
            confirmed = ev.Confirmed(voided.number, evidence.strip())
            write.append((confirmed, write.recorded_at, row.batch))
        rows = write.settle(row.batch)
        after = Reader(LiveRecords(write.conn, kitchen.site), kitchen.where)
        still = any(each.entry.number == number for each in after.standing(row.batch))
        return Corrected(tell(making.fact), tuple(rows), still)


def with_allergens(names: tuple[str, ...]) -> Callable[[ev.Fact], ev.Fact]:
    """A change of the allergens of a batch."""

    def change(fact: ev.Fact) -> ev.Fact:
        if isinstance(fact, Making) and fact.food is not None:
            return replace(fact, food=replace(fact.food, allergens=names))
        return fact

    return change


def unchanged(fact: ev.Fact) -> ev.Fact:
    """The same facts (only the time is wrong)."""
    return fact


def _said(text: str, question: str, how: str) -> str:
    if not text.strip():
        raise Mistake("no-reason", question, f"Say it: {how}.")
    return text.strip()


def _numbered(write: Writing, number: int) -> Entry:
    entry = journal_entries.numbered(write.conn, write.kitchen.site, number)
    if entry is None:
        raise Mistake(
            "no-entry", f"There is no entry {number}.", "holdlog why CODE shows their numbers."
        )
    return entry


def _is_voided(write: Writing, entry: Entry) -> bool:
    about = journal_entries.of_subjects(write.conn, write.kitchen.site, [entry.subject])
    facts = (fact_of(each) for each in about)
    return any(isinstance(fact, ev.Voided) and fact.entry == entry.number for fact in facts)
