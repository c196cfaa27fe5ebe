"""The registers that are told by entries: labels, cooling, readings, holds, probes, rules,
corrections.

Each entry is a row, by when it happened; the period asks for that, too, and not for when it was
written. A late entry and a voided one say so.
"""

from collections.abc import Iterable, Iterator
from heapq import merge

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.moments import Instant, local_date
from holdlog.journal import entries as journal_entries
from holdlog.journal import kinship, readings
from holdlog.journal.codec import fact_of
from holdlog.kitchen.doubts import PROBE
from holdlog.kitchen.registers import Asked, Register, Row, degree_cells
from holdlog.kitchen.standing import standing
from holdlog.kitchen.telling import tell
from holdlog.kitchen.units import degrees

_FOOD_READ = ("reading", "hot-held", "chilled", "received")


def _of_kinds(asked: Asked, *kinds: str) -> list[tuple[Entry, ev.Fact]]:
    found = journal_entries.of_kinds(
        asked.conn, asked.kitchen.site, kinds, since=asked.since, until=asked.until
    )
    found.sort(key=lambda entry: (entry.at, entry.number))
    return [(entry, fact_of(entry)) for entry in found]


def _voided(asked: Asked) -> dict[int, str]:
    """Why each entry was taken back that counts no more; one that waits for the person in charge
    counts.
    """
    conn, site = asked.conn, asked.kitchen.site
    voids = journal_entries.of_kinds(conn, site, ["voided"])
    whys = {fact.entry: fact.why for each in voids if isinstance(fact := fact_of(each), ev.Voided)}
    about: dict[str, list[Entry]] = {}
    for entry in journal_entries.of_subjects(conn, site, {each.subject for each in voids}):
        about.setdefault(entry.subject, []).append(entry)
    stand = {
        each.entry.number
        for entries in about.values()
        for each in standing(entries, asked.kitchen.where)
    }
    return {number: why for number, why in whys.items() if number not in stand}


def _names(asked: Asked, subjects: Iterable[str]) -> dict[str, str]:
    """The item of each subject that is a container or a batch."""
    wanted = list(subjects)
    rows = kinship.containers(asked.conn, asked.kitchen.site, wanted)
    batches = kinship.batches(asked.conn, asked.kitchen.site, wanted)
    return {name: row.item_name for name, row in rows.items()} | {
        name: row.item_name for name, row in batches.items()
    }


def _late(asked: Asked, entry: Entry) -> bool:
    where = asked.kitchen.where
    return local_date(entry.recorded_at, where) > local_date(entry.at, where)


def _labels(asked: Asked) -> Iterator[Row]:
    found = _of_kinds(asked, "labelled", "print-failed")
    names, voided = _names(asked, {entry.subject for entry, _ in found}), _voided(asked)
    for entry, fact in found:
        start = entry.number, asked.iso(entry.at), entry.subject, names.get(entry.subject, "")
        end = entry.by, voided.get(entry.number, "")
        if isinstance(fact, ev.Labelled):
            what = "seen" if fact.state == "seen" else "made"
            yield (
                *start, what, fact.purpose, fact.template, asked.iso(fact.use_by), fact.copy,
                fact.printer, fact.state, "", *end,
            )  # fmt: skip
        elif isinstance(fact, ev.PrintFailed):
            yield (
                *start, "failed", fact.purpose, fact.template, "", None, fact.printer, "",
                fact.reason, *end,
            )  # fmt: skip


def _cooling(asked: Asked) -> Iterator[Row]:
    found = _of_kinds(asked, "off-heat", "cooling-in", "cooling")
    names, voided = _names(asked, {entry.subject for entry, _ in found}), _voided(asked)
    for entry, fact in found:
        read = fact.temperature if isinstance(fact, ev.Cooling) else None
        around = fact.surroundings if isinstance(fact, ev.CoolingIn) else None
        yield (
            entry.number, asked.iso(entry.at), entry.subject, names.get(entry.subject, ""),
            entry.kind, *degree_cells(read), *degree_cells(around), getattr(fact, "method", ""),
            getattr(fact, "probe", ""), entry.by, _late(asked, entry),
            voided.get(entry.number, ""),
        )  # fmt: skip


def _readings(asked: Asked) -> Iterator[Row]:
    """By people and by loggers, in one order. The loggers' are read a few at a time."""
    site = asked.kitchen.site
    by_logger = [
        _of_logger(asked, unit, readings.between(asked.conn, site, unit, asked.since, asked.until))
        for unit in readings.units(asked.conn, site)
    ]
    for _, row in merge(_by_hand(asked), *by_logger, key=lambda pair: pair[0]):
        yield row


def _of_logger(
    asked: Asked, unit: str, rows: Iterable[readings.Reading]
) -> Iterator[tuple[Instant, Row]]:
    for each in rows:
        read = degree_cells(degrees(each.hundredths, each.scale))
        yield (
            each.at,
            (each.entry, asked.iso(each.at), unit, "", "logger", *read, "", "", False, ""),
        )


def _by_hand(asked: Asked) -> Iterator[tuple[Instant, Row]]:
    found = _of_kinds(asked, "unit-read", *_FOOD_READ)
    names, voided = _names(asked, {entry.subject for entry, _ in found}), _voided(asked)
    for entry, fact in found:
        read = getattr(fact, "temperature", None)
        if read is not None:
            yield entry.at, (
                entry.number, asked.iso(entry.at), entry.subject, names.get(entry.subject, ""),
                entry.kind, *degree_cells(read), getattr(fact, "probe", ""), entry.by,
                _late(asked, entry), voided.get(entry.number, ""),
            )  # fmt: skip


def _holds(asked: Asked) -> Iterator[Row]:
    found = _of_kinds(asked, "excursion", "settled", "recalled")
    names, voided = _names(asked, {entry.subject for entry, _ in found}), _voided(asked)
    for entry, fact in found:
        known = fact if isinstance(fact, ev.Excursion) else None
        yield (
            entry.number, asked.iso(entry.at), entry.subject, names.get(entry.subject, ""),
            entry.kind, known.unit if known else "", *degree_cells(known.peak if known else None),
            known.seconds if known else None, known.unknown_seconds if known else None,
            fact.entry if isinstance(fact, ev.Settled) else None, getattr(fact, "why", ""),
            getattr(fact, "evidence", ""), entry.by, voided.get(entry.number, ""),
        )  # fmt: skip


def _probes(asked: Asked) -> Iterator[Row]:
    voided = _voided(asked)
    for entry, fact in _of_kinds(asked, "probe", "probe-checked"):
        checked = fact if isinstance(fact, ev.ProbeChecked) else None
        yield (
            entry.number, asked.iso(entry.at), entry.subject.removeprefix(PROBE),
            "checked" if checked else "added", checked.method if checked else "",
            *degree_cells(checked.temperature if checked else None),
            checked.expected.degrees if checked else None,
            "" if checked is None else ("yes" if checked.passed else "no"), entry.by,
            _late(asked, entry), voided.get(entry.number, ""),
        )  # fmt: skip


def _rules(asked: Asked) -> Iterator[Row]:
    for entry, fact in _of_kinds(asked, "stack"):
        if isinstance(fact, ev.StackAdopted):
            said = fact.conventions
            for book in fact.books:
                yield (
                    entry.number, asked.iso(entry.at), book.id, book.role, book.digest,
                    said.freeze_day if said else "", said.thaw_day if said else "",
                    said.day_end if said else "", fact.ruling, entry.by,
                )  # fmt: skip


def _corrections(asked: Asked) -> Iterator[Row]:
    """Entries that were voided or confirmed, and those that were written on a later day."""
    kinds = [kind for kind in ev.KINDS if kind not in ("voided", "confirmed")]
    found = _of_kinds(asked, *kinds)
    rows = [(entry, fact) for entry, fact in found if _late(asked, entry)]
    rows += _of_kinds(asked, "voided", "confirmed")
    rows.sort(key=lambda pair: (pair[0].at, pair[0].number))
    names, voided = _names(asked, {entry.subject for entry, _ in rows}), _voided(asked)
    for entry, fact in rows:
        what = entry.kind if isinstance(fact, ev.Voided | ev.Confirmed) else "late"
        yield (
            entry.number, asked.iso(entry.at), asked.iso(entry.recorded_at), what, entry.subject,
            names.get(entry.subject, ""), tell(fact), getattr(fact, "entry", None),
            getattr(fact, "why", "") or getattr(fact, "evidence", ""), entry.by,
            voided.get(entry.number, ""),
        )  # fmt: skip


LOGS = (
    Register(
        "labels", "labels made, and prints that failed",
        ("entry", "at", "code", "item", "what", "purpose", "template", "use by", "copy", "printer",
         "state", "reason", "by", "voided"), _labels,
    ),
    Register(
        "cooling", "readings while cooling, and where it cooled",
        ("entry", "at", "subject", "item", "what", "temperature", "scale (F or C)", "surroundings",
         "surroundings scale (F or C)", "method", "probe", "by", "late", "voided"), _cooling,
    ),
    Register(
        "readings", "temperatures of units and food, by people and by loggers",
        ("entry", "at", "subject", "item", "what", "temperature", "scale (F or C)", "probe", "by",
         "late", "voided"), _readings,
    ),
    Register(
        "holds", "excursions, recalls, and what was kept after them",
        ("entry", "at", "subject", "item", "what", "unit", "worst", "scale (F or C)",
         "known time (s)", "unknown time (s)", "of entry", "why", "evidence", "by", "voided"),
        _holds,
    ),
    Register(
        "probes", "thermometers and their checks",
        ("entry", "at", "probe", "what", "method", "temperature", "scale (F or C)", "expected",
         "passed", "by", "late", "voided"), _probes,
    ),
    Register(
        "rules", "which rulebooks were adopted, and the rulings",
        ("entry", "at", "book", "role", "sha-256", "freeze day", "thaw day", "day end", "ruling",
         "by"), _rules,
    ),
    Register(
        "corrections", "entries voided, confirmed, or written on a later day",
        ("entry", "at", "recorded at", "what", "subject", "item", "says", "of entry", "why", "by",
         "voided"), _corrections,
    ),
)  # fmt: skip
