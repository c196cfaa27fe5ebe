"""Corrections: entries that void another and say why. Nothing is ever overwritten."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal.codec import fact_of
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.items import check_allergens
from holdlog.kitchen.kitchen import Kitchen, Writing
from holdlog.kitchen.records import LiveRecords, Making, Reader, standing
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
        if isinstance(fact, ev.Labelled):
            raise Mistake(
                "not-voidable",
                f"Entry {number} ({tell(fact)}) cannot be voided: the label may be on the tub.",
                f"Make a new one, and take the old one off: holdlog label {show(entry.subject)}",
            )
        if isinstance(fact, (ev.Voided, ev.Confirmed, *_NOT_FOOD)):
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
        # What was split, poured in or made of containers ended these: that is taken back, too.
        drafts += [
            (ev.Voided(twin.number, reason), write.recorded_at, twin.subject)
            for twin in _twins(write, entry, fact)
        ]
        written = write.append(*drafts)[0]
        if evidence.strip():
            confirmed = ev.Confirmed(written.number, evidence.strip())
            write.append((confirmed, write.recorded_at, entry.subject))
        rows = write.settle(*dict.fromkeys(subject for _, _, subject in drafts))
        reader = Reader(LiveRecords(write.conn, kitchen.site), kitchen.where)
        still = any(each.entry.number == number for each in reader.standing(entry.subject))
        return Corrected(tell(fact), tuple(rows), still)


def confirm(kitchen: Kitchen, by: str, number: int, evidence: str) -> Corrected:
    """The person in charge confirms a late entry and names the paper or logger it rests on."""
    named = _said(evidence, "On what does it rest?", '--evidence "cooling sheet 12, MK"')
    with kitchen.writing(by) as write:
        entry = _numbered(write, number)
        fact = fact_of(entry)
        if isinstance(fact, (ev.Confirmed, *_NOT_FOOD)):
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
    """A change of the allergens of a batch; those of what went into it stay."""
    known = check_allergens(names)

    def change(fact: ev.Fact) -> ev.Fact:
        if isinstance(fact, Making) and fact.food is not None:
            return replace(fact, food=replace(fact.food, allergens=known))
        return fact

    return change


def unchanged(fact: ev.Fact) -> ev.Fact:
    """The same facts (only the time is wrong)."""
    return fact


def _twins(write: Writing, entry: Entry, fact: ev.Fact) -> list[Entry]:
    """The entries, written in the same breath, that ended what ``fact`` used up."""
    match fact:
        case ev.Split():
            ended = [entry.subject]
        case ev.ToppedUp(poured_in=code):
            ended = [code]
        case ev.Prepared(made_from=codes):
            ended = list(codes)
        case _:
            return []
    found = []
    for code in ended:
        about = journal_entries.of_subjects(write.conn, write.kitchen.site, [code])
        counts = {each.entry.number for each in standing(about, write.kitchen.where)}
        found += [
            each
            for each in about
            if each.number in counts and _is_twin(fact_of(each), fact, entry.subject)
        ]
    return found


def _is_twin(ended: ev.Fact, fact: ev.Fact, subject: str) -> bool:
    if not isinstance(ended, ev.Used):
        return False
    if isinstance(fact, ev.Split):
        return ended.ended_as == "split"
    return ended.into == subject


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
