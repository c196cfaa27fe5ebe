"""Corrections: entries that void another and say why. Nothing is ever overwritten."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from holdlog.core import events as ev
from holdlog.core.amounts import Amount
from holdlog.core.chain import Entry
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.lots import lot_key
from holdlog.core.moments import Instant, local_date
from holdlog.journal import entries as journal_entries
from holdlog.journal.codec import fact_of
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.caught_up import caught_up
from holdlog.kitchen.evidence import names_a_paper, paper
from holdlog.kitchen.items import check_allergens
from holdlog.kitchen.kitchen import Kitchen, Writing, touched
from holdlog.kitchen.lots import recalls_in_force
from holdlog.kitchen.probes import shaken
from holdlog.kitchen.recall import (
    lot_coming_in,
    recall_of_lot,
    refuse_before_filled,
    under_recall,
)
from holdlog.kitchen.records import Container, LiveRecords, Making, Reader
from holdlog.kitchen.standing import standing
from holdlog.kitchen.telling import tell

_NOT_FOOD = (
    ev.KitchenSetUp, ev.StackAdopted, ev.UnitAdded, ev.ItemAdded, ev.ProbeAdded,
    ev.PrinterAdded, ev.PrinterRemoved, ev.LabelWords, ev.PrintFailed,
    ev.RoundBegun, ev.RoundUnit, ev.RoundEnded, ev.FileImported,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Corrected:
    """What was corrected, by which entry, and the containers whose rows were folded again.

    ``pending``: until the person in charge confirms that entry, the stricter fact counts.
    ``near``: recalled lots that its corrected lot may be mistyped for.
    """

    says: str
    entry: int
    rows: tuple[ContainerRow, ...]
    pending: bool
    near: tuple[ev.Recalled, ...] = ()


def void(kitchen: Kitchen, by: str, number: int, why: str, evidence: str = "") -> Corrected:
    """Take back entry ``number``. Raises ``Mistake`` where that cannot be.

    On a later day the voiding of a fact that shortens a date waits (``pending``) until the
    person in charge confirms it: give ``evidence`` (the paper or logger) to confirm at once.
    A recall is lifted on evidence alone, at any time; so is what is under one taken out of it.
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
        if isinstance(fact, (ev.Voided, ev.Confirmed, ev.ReadingsImported, *_NOT_FOOD)):
            raise Mistake(
                "not-voidable",
                f"Entry {number} ({tell(fact)}) cannot be voided.",
                "Only what happened to food or to a label can; write the fact that is right.",
            )
        if _is_voided(write, entry):
            raise Mistake("is-voided", f"Entry {number} is void already.", "")
        if isinstance(fact, ev.Recalled) and not names_a_paper(evidence):
            raise _no_paper(fact.what)
        drafts: list[tuple[ev.Fact, Instant, str]] = [
            (ev.Voided(number, reason), write.recorded_at, entry.subject)
        ]
        # What was split, poured in or made of containers ended these: that is taken back, too.
        drafts += [
            (ev.Voided(twin.number, reason), write.recorded_at, twin.subject)
            for twin in _twins(write, entry, fact)
        ]
        subjects = [subject for _, _, subject in drafts]
        recalled = set() if names_a_paper(evidence) else _recalled(write, subjects)
        voids = write.append(*drafts)
        written = voids[0]
        if paper(evidence):
            # An excursion that a wrong reading had begun goes with it.
            named = voids if isinstance(fact, ev.UnitRead) else voids[:1]
            write.append(
                *(
                    (ev.Confirmed(each.number, evidence.strip()), write.recorded_at, each.subject)
                    for each in named
                )
            )
        # Of a check of a thermometer: what was read on it.
        subjects += shaken(write, entry.subject, written.number)
        rows = write.settle(*dict.fromkeys(subjects))
        # Put back on hand, or back where it stood: what it missed meanwhile is found.
        missed = caught_up(write, [row.code for row in rows if row.ended_at is None], entry.at)
        rows = [missed.get(row.code, row) for row in rows]
        # That none of a recalled lot was poured in, or came at all, sets food free as well.
        _refuse_freed(write, recalled, subjects)
        reader = Reader(LiveRecords(write.conn, kitchen.site), kitchen.where)
        still = any(each.entry.number == number for each in reader.standing(entry.subject))
        return Corrected(tell(fact), written.number, tuple(rows), still)


def confirm(kitchen: Kitchen, by: str, number: int, evidence: str) -> Corrected:
    """The person in charge confirms a late entry and names the paper or logger it rests on."""
    named = _said(evidence, "On what does it rest?", '--evidence "cooling sheet 12, MK"')
    paper(named)
    with kitchen.writing(by) as write:
        entry = _numbered(write, number)
        fact = fact_of(entry)
        if isinstance(fact, (ev.Confirmed, *_NOT_FOOD)):
            raise Mistake("not-confirmable", f"Entry {number} ({tell(fact)}) needs no confirming.")
        confirmed = ev.Confirmed(number, named), write.recorded_at, entry.subject
        (written,) = write.append(confirmed)
        rows = write.settle(entry.subject, *shaken(write, entry.subject, written.number))
        return Corrected(tell(fact), written.number, tuple(rows), pending=False)


def correct_making(
    kitchen: Kitchen,
    by: str,
    typed: str,
    change: Callable[[ev.Fact], ev.Fact],
    at: Instant | None,
    why: str,
    evidence: str = "",
    *,
    lot_compared: bool = False,
) -> Corrected:
    """Void how a batch was made and write it anew: another time (``at``), or other facts.

    On a later day a later time waits for the person in charge: until then the earlier counts.
    A lot is given up only on ``evidence`` then, and at any time where it is recalled. Another lot
    that looks like a recalled one is taken only where somebody has compared them.
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
        right = change(making.fact)
        if moment < making.entry.at:
            _refuse_before_its_parts(write, reader, row.batch, right, moment)
        if not names_a_paper(evidence):
            _refuse_lot_given_up(write, row.batch, making.fact, right)
        lot = getattr(right, "lot", "")
        near: tuple[ev.Recalled, ...] = ()
        if lot != getattr(making.fact, "lot", ""):
            _, near = lot_coming_in(write.kitchen, write.conn, lot, compared=lot_compared)
        recalled = set() if names_a_paper(evidence) else _recalled(write, [row.batch])
        voided, _ = write.append(
            (ev.Voided(number, reason), write.recorded_at, row.batch),
            (right, moment, row.batch),
        )
        if paper(evidence):
            confirmed = ev.Confirmed(voided.number, evidence.strip())
            write.append((confirmed, write.recorded_at, row.batch))
        rows = write.settle(row.batch)
        # Made earlier than was thought, it stood there while the unit was too warm.
        missed = caught_up(write, [each.code for each in rows], moment)
        rows = [missed.get(each.code, each) for each in rows]
        # Made before something recalled was poured into what it is of, it would hold none of it.
        _refuse_freed(write, recalled, [row.batch])
        after = Reader(LiveRecords(write.conn, kitchen.site), kitchen.where)
        still = any(each.entry.number == number for each in after.standing(row.batch))
        return Corrected(tell(making.fact), voided.number, tuple(rows), still, near)


def with_allergens(names: tuple[str, ...]) -> Callable[[ev.Fact], ev.Fact]:
    """A change of the allergens of a batch; those of what went into it stay."""
    known = check_allergens(names)

    def change(fact: ev.Fact) -> ev.Fact:
        if isinstance(fact, Making) and fact.food is not None:
            return replace(fact, food=replace(fact.food, allergens=known))
        return fact

    return change


def with_lot(lot: str) -> Callable[[ev.Fact], ev.Fact]:
    """A change of the maker's lot. Raises ``Mistake("not-received")`` for what was made here."""

    def change(fact: ev.Fact) -> ev.Fact:
        if isinstance(fact, ev.Received | ev.Opened):
            return replace(fact, lot=lot.strip())
        raise Mistake(
            "not-received",
            "It was made here, so it has no maker's lot.",
            "Correct the lot of what went into it: holdlog trace CODE names that.",
        )

    return change


def _refuse_lot_given_up(write: Writing, batch: str, old: ev.Fact, new: ev.Fact) -> None:
    """Food of a recalled lot is not freed by typing another: who says so names the paper."""
    lot, right = getattr(old, "lot", ""), getattr(new, "lot", "")
    if not lot or lot_key(lot) == lot_key(right):
        return
    where = write.kitchen.where
    recalled = recall_of_lot(write.kitchen, write.conn, lot)
    # By when it was first said: to correct something else today does not make it today's.
    about = journal_entries.of_subjects(write.conn, write.kitchen.site, [batch])
    said = (each for each in about if lot_key(getattr(fact_of(each), "lot", "")) == lot_key(lot))
    first = min(each.recorded_at for each in said)
    if recalled or local_date(write.recorded_at, where) > local_date(first, where):
        why = f"lot {lot} is recalled" if recalled else "it was written on an earlier day"
        raise Mistake(
            "no-evidence",
            f"On what does it rest that it is lot {right}? {why[0].upper()}{why[1:]}.",
            'The person in charge names the paper: --evidence "delivery note 4711".',
        )


def _refuse_before_its_parts(
    write: Writing, reader: Reader, batch: str, right: ev.Fact, at: Instant
) -> None:
    """A tub that went into it whole took along all that had been poured in."""
    for code in right.made_from if isinstance(right, ev.Prepared) else ():
        part = reader.container(code)
        if part.end is not None and getattr(part.end.fact, "into", "") == batch:
            refuse_before_filled(write, part, at)


def with_amount(amount: Amount) -> Callable[[ev.Fact], ev.Fact]:
    """A change of how much a batch was in all."""

    def change(fact: ev.Fact) -> ev.Fact:
        return replace(fact, amount=amount) if isinstance(fact, Making) else fact

    return change


def unchanged(fact: ev.Fact) -> ev.Fact:
    """The same facts (only the time is wrong)."""
    return fact


def _twins(write: Writing, entry: Entry, fact: ev.Fact) -> list[Entry]:
    """The entries, written in the same breath, that ended what ``fact`` used up; of the reading
    of a unit, the excursions that it began.
    """
    match fact:
        case ev.UnitRead():
            return _begun_by(write, entry)
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


def _begun_by(write: Writing, entry: Entry) -> list[Entry]:
    """The excursions that were worked out from a reading of a unit and still stand."""
    about = journal_entries.of_kinds(write.conn, write.kitchen.site, ["excursion"])
    found = [
        each
        for each in about
        if isinstance(fact := fact_of(each), ev.Excursion) and fact.source == entry.number
    ]
    reader = Reader(LiveRecords(write.conn, write.kitchen.site), write.kitchen.where)
    codes = {each.subject for each in found}
    stand = {each.entry.number for code in codes for each in reader.standing(code)}
    return [each for each in found if each.number in stand]


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


def _no_paper(what: str) -> Mistake:
    return Mistake(
        "no-evidence",
        f"On what does it rest that {what} is no longer recalled? It stays on hold.",
        'The person in charge names the paper: --evidence "maker\'s letter of 4 June".',
    )


def _recalled(write: Writing, subjects: Sequence[str]) -> set[str]:
    """The codes of what is under a recall, among all that the entries about ``subjects`` touch.
    What was taken back altogether is not among them: it stands in the kitchen, and no list has it.
    """
    if not recalls_in_force(write.kitchen, write.conn):
        return set()
    codes, _ = touched(write.conn, write.kitchen.site, subjects)
    reader = Reader(LiveRecords(write.conn, write.kitchen.site), write.kitchen.where)
    found = (reader.container(code) for code in codes)
    return {each.code for each in found if not _is_taken_back(each) and under_recall(each.history)}


def _is_taken_back(container: Container) -> bool:
    """Whether it is gone since its making or the split was voided, and not because it ended."""
    gone = container.making is None or container.unsplit is not None
    return gone and container.end is None


def _refuse_freed(write: Writing, recalled: set[str], subjects: Sequence[str]) -> None:
    """Of the codes that were under a recall before, each has to be so still."""
    for code in sorted(recalled - _recalled(write, subjects) if recalled else ()):
        raise _no_paper(show(code))


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
