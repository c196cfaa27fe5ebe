"""The inspector's file in words: the cover and its registers, as plain data to be drawn."""

from datetime import date

from holdlog.core.amounts import show_total
from holdlog.core.chain import WHOLE, show_head
from holdlog.core.codes import show
from holdlog.core.costs import show_money
from holdlog.core.moments import Instant, show_dated, show_dated_day, show_length, show_moment
from holdlog.kitchen.compliance import WORST, BatchCooling, UnitPast, count_coolings
from holdlog.kitchen.cooling_plot import cooling_plot, scale_of
from holdlog.kitchen.discard import REASONS
from holdlog.kitchen.ended import Ended, Total, show_waste
from holdlog.kitchen.inspection import OTHER_PLOTS, BindingRule, Inspection
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.remarks import looser
from holdlog.kitchen.unit_plot import plot_of_course
from holdlog.reports.inspector_file import InspectorFile, Section
from holdlog.reports.plots import Plot

STANDS = {
    "missed": "MISSED", "unproven": "UNPROVEN", "running": "still cooling",
    "no-clock": "no clock in the rules", "met": "met", "not-logged": "not logged",
}  # fmt: skip
_PROVES = (
    (
        "Every entry of the journal carries the SHA-256 of the one before it, and the database "
        "refuses to change or delete an entry. Whoever has the head hash above from another day "
        "can check that nothing up to it was edited, taken out or put in. What was wrong is "
        "voided by a later entry that says why, and both can be read here."
    ),
    (
        "It does not show who held the keyboard or the thermometer, whether what was typed was "
        "true, or whether something was never typed at all. Whoever can write to the file of the "
        "journal could cut its end off, or write it anew with new hashes: only a head kept from "
        "before shows that, and only of the entries up to it. An entry written on a later day than "
        "it tells of is marked as late."
    ),
)
_LAST_WORD = (
    "holdlog is no authority. The dates and verdicts here were worked out from what was recorded "
    "and from the rules named here. The local health authority has the last word."
)


def file_of(kitchen: Kitchen, found: Inspection) -> InspectorFile:
    """The file about the period."""
    audit = found.audit
    first, last = _day(audit.first), _day(audit.last)
    period = first if first == last else f"{first} to {last}"
    return InspectorFile(
        title="Holding and discard record, for the inspector",
        kitchen=kitchen.name,
        period=period,
        cover=_cover(kitchen, found),
        sections=(
            _rules(kitchen, found), _discards(kitchen, found), _holds(kitchen, found),
            _coolings(kitchen, found), _units(kitchen, found), _probes(kitchen, found),
            _corrections(kitchen, found), _labels(kitchen, found), _moved(kitchen, found),
        ),
        foot=f"Journal head {show_head(audit.entries, audit.head, WHOLE)}",
    )  # fmt: skip


def _day(day: date) -> str:
    return show_dated_day(day)


def _when(at: Instant, kitchen: Kitchen) -> str:
    return show_dated(at, kitchen.where)


def _container(code: str) -> str:
    return show(code) if code else "no label"


# ---- the cover and the rules -----------------------------------------------------------------


def _cover(kitchen: Kitchen, found: Inspection) -> tuple[tuple[str, tuple[str, ...]], ...]:
    audit, stack = found.audit, found.stack
    roles = {"adopted": "Adopted", "amendment": "Amended by", "house": "House rules"}
    books = [f"{roles[book.role]}: {_book(book.title, book.edition)}." for book in stack.books]
    cites = dict.fromkeys(each.rule.source.cite for each in found.binding)
    loose, ruling = looser(stack), found.ruling
    counting = (
        f"Looser than the strict reading: {'; '.join(loose)}. "
        f"{f'Ruled by: {ruling}.' if ruling else 'The books themselves settle it so.'}"
        if loose
        else "Partial days are counted strictly: the days of freezing and thawing both count, and "
        "a day ends at midnight."
    )
    kept = [f"{each.rule.source.cite}: {each.rule.source.says}" for each in found.records] or [
        "The adopted rules name no time for which these records are to be kept."
    ]
    counts = count_coolings(audit.coolings)
    told = ", ".join(f"{counts[word]} {STANDS[word].lower()}" for word in WORST if counts[word])
    cost = _costs(audit.overall)
    summary = (
        f"{_many(audit.overall.discards, 'discard')}{f', {cost}' if cost else ''}; "
        f"{_many(len(audit.holds), 'hold')}; coolings of batches made: {told or 'none'}; "
        f"{_many(sum(len(each.beyond) for each in audit.units), 'unit reading')} by hand beyond "
        f"the limit; {_many(len(audit.probes), 'probe check')}; "
        f"{_many(len(audit.remarks), 'remark')} on late entries, corrections, labels and rules."
    )
    journal = (
        f"Its head is {show_head(audit.entries, audit.head, WHOLE)}. This file was made "
        f"{_when(found.at, kitchen)}, by the clocks of {kitchen.where.key}."
    )
    return (
        ("In this period", (summary,)),
        ("The rules in force now", (*books, f"Sections in force: {'; '.join(cites)}.", counting)),
        ("The journal", (journal,)),
        ("What this shows and what it does not", (*_PROVES, _LAST_WORD)),
        ("How long records are kept", (*kept, "holdlog itself deletes nothing.")),
    )


def _book(title: str, edition: str) -> str:
    return f"{title} ({edition})" if edition and edition not in title else title


def _many(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _costs(total: Total) -> str:
    """What it cost, and of how many nobody knows; empty where no cost is known."""
    known = [show_money(currency, number) for currency, number in sorted(total.cost.items())]
    unknown = [f"{total.unpriced} of unknown cost"] if known and total.unpriced else []
    return ", ".join([*known, *unknown])


def _rules(kitchen: Kitchen, found: Inspection) -> Section:
    says = [] if found.audit.rules else ["No rules had been adopted by the end of this period."]
    for each in found.audit.rules:
        since = "In force when the period began, adopted" if each.before else "Adopted"
        loose = f" Looser than the strict reading: {'; '.join(each.looser)}." if each.looser else ""
        ruling = f" Ruling: {each.ruling}." if each.ruling else ""
        says.append(
            f"{since} {_when(each.at, kitchen)} by {each.by} (entry {each.number}): "
            f"{' + '.join(each.titles)}.{loose}{ruling}"
        )
    says.append(
        'Below are the rules in force now, in words of our own. "Seen" says how they were read: '
        "text is the authority's own; secondary, memory and inference are less than that."
    )
    rows = tuple(
        (each.book.title, each.rule.source.cite, each.rule.source.says, _seen(each))
        for each in found.binding
    )
    heads = ("book", "section", "what it says", "seen")
    return Section("Rules in force", tuple(says), heads, (22, 22, 66, 8), rows)


def _seen(each: BindingRule) -> str:
    return each.rule.source.seen


# ---- discards and holds ----------------------------------------------------------------------


def _discards(kitchen: Kitchen, found: Inspection) -> Section:
    audit = found.audit
    every = sorted((*audit.discards, *audit.voided), key=lambda each: (each.at, each.number))
    by_reason = ", ".join(f"{each.name}: {each.discards}" for each in audit.by_reason)
    sums = ", ".join(show_total(key, base) for key, base in sorted(audit.overall.sums.items()))
    unknown = audit.overall.unknown
    shares = show_waste(audit.balance)
    cost = _costs(audit.overall)
    says = [
        f"{_many(audit.overall.discards, 'discard')}: {sums or 'no amounts'}"
        f"{f', {unknown} of unknown amount' if unknown else ''}"
        f"{f'; cost {cost}' if cost else ''}. {by_reason}".rstrip(". ")
        + "."
    ]
    if shares:
        says.append(f"Binned of all that ended, of known amounts: {shares}.")
    heads = ("entry", "when", "code", "item", "amount", "reason", "unit", "who", "remarks")
    widths = (9, 20, 15, 26, 14, 18, 14, 7, 24)
    rows = tuple(_discard(each, kitchen) for each in every)
    return Section("Discards", tuple(says), heads, widths, rows)


def _discard(each: Ended, kitchen: Kitchen) -> tuple[str, ...]:
    remarks = (
        f"VOID, not counted: {each.voided}" if each.voided else "", "part" if each.part else "",
        "late entry" if each.late else "", each.note, str(each.cost or ""),
    )  # fmt: skip
    return (
        str(each.number), _when(each.at, kitchen), _container(each.code), each.item,
        str(each.amount or "unknown"), REASONS.get(each.reason, each.reason), each.unit, each.by,
        "; ".join(filter(None, remarks)),
    )  # fmt: skip


def _holds(kitchen: Kitchen, found: Inspection) -> Section:
    rows = []
    for each in found.audit.holds:
        outcome = each.outcome
        if each.outcome == "kept":
            outcome = f"kept: {each.why}" + (f" ({each.settled_by})" if each.settled_by else "")
        elif each.ended_at is not None:
            outcome = f"{outcome}, {_when(each.ended_at, kitchen)}"
        elif each.why:
            outcome += f": {each.why}"
        rows.append(
            (_when(each.at, kitchen), show(each.row.code), each.row.item_name, each.because,
             "hold" if each.verdict == "hold" else each.verdict.upper(), outcome)
        )  # fmt: skip
    says = (
        (
            "What a reading of the food, an excursion of its unit, a reheating or time out of "
            "control put on hold or out of use, and what was decided. Recalls stand among the "
            "corrections, coolings in the cooling log."
        ),
    )
    heads = ("when", "code", "item", "because", "then", "what became of it")
    return Section("Holds and settlements", says, heads, (20, 15, 26, 36, 11, 34), tuple(rows))


# ---- cooling ---------------------------------------------------------------------------------


def _coolings(kitchen: Kitchen, found: Inspection) -> Section:
    every = found.audit.coolings
    counts = count_coolings(every)
    told = ", ".join(f"{counts[word]} {STANDS[word]}" for word in WORST)
    plots = [
        cooling_plot(kitchen, each.logged) for each in found.plotted if each.logged is not None
    ]
    bad = sum(each.stands in ("missed", "unproven") for each in found.plotted)
    says = (
        (
            f"Batches made in the period of food that is hot when it is made, or whose cooling was "
            f'logged: {told}. "Met" is shown by the readings alone; "not logged" says nothing of '
            f"how it cooled, or whether it was served hot."
        ),
        (
            f"Plots: all {bad} missed or unproven, and {len(plots) - bad} of the others (at most "
            f"{OTHER_PLOTS}). Judged by the rules in force now."
        ),
    )
    heads = ("batch", "made", "item", "who", "verdict", "readings")
    rows = tuple(_cooling(each, kitchen) for each in every)
    return Section("Cooling log", says, heads, (9, 21, 28, 7, 17, 60), rows, tuple(plots))


def _cooling(each: BatchCooling, kitchen: Kitchen) -> tuple[str, ...]:
    log = each.logged
    readings = ""
    if log is not None:
        readings = "; ".join(
            f"{show_moment(one.at, kitchen.where, each.at)} {one.temperature or 'off the heat'}"
            for one in log.record.readings
        )
        grounds = ", ".join(
            f"{one.name} limit ({one.limit.show(scale_of(kitchen, log))}) {one.stage}"
            for one in log.record.grounds
        )
        readings = "\n".join(filter(None, (readings, grounds)))
    return (
        each.batch, _when(each.at, kitchen), each.item, each.by, STANDS[each.stands], readings
    )  # fmt: skip


# ---- units and probes ------------------------------------------------------------------------


def _units(kitchen: Kitchen, found: Inspection) -> Section:
    rows = []
    for each in found.audit.units:
        limit = "no limit"
        if each.limit is not None:
            limit = f"{each.limit.show(kitchen.scale)}, {each.limit.cite(kitchen.scale)}"
        rows.append(
            (each.unit.name, limit, _by_hand(each, kitchen), _by_logger(each), str(each.struck))
        )  # fmt: skip
    plots: list[Plot] = [
        plot_of_course(story, shown, kitchen, broken=True)
        for story in found.excursions
        for shown in story.courses
    ]
    says = (
        (
            "Known time beyond the limit, and time of which nothing is known, which is no good "
            "time. A reading by hand tells of its moment only. Judged by the rules in force now."
        ),
        (
            f"{_many(len(plots), 'plot')}: one for each time that a logger shows the unit beyond "
            "its limit, or may have been."
        ),
    )
    heads = ("unit", "limit", "read by hand", "by its logger", "containers struck")
    return Section("Units", says, heads, (20, 30, 40, 44, 14), tuple(rows), tuple(plots))


def _by_hand(each: UnitPast, kitchen: Kitchen) -> str:
    if not each.by_hand:
        return "never in this period"
    text = f"{_many(len(each.by_hand), 'reading')}, {len(each.beyond)} beyond the limit"
    text += f", {each.unjudged} not judged" if each.unjudged else ""
    beyond = (
        f"{_when(one.entry.at, kitchen)}: {getattr(one.fact, 'temperature', '')} ({one.entry.by})"
        for one in each.beyond
    )
    return "\n".join([text, *beyond])


def _by_logger(each: UnitPast) -> str:
    lines = []
    for shown in each.courses:
        total = shown.total
        worst = f"{(total.worst or 0) / 100:g} °{shown.scale}"
        lines.append(
            f"{_many(len(shown.samples), 'reading')} in °{shown.scale}: beyond for "
            f"{show_length(total.total)} in {_many(total.runs, 'time')}, worst reading {worst}; "
            f"unknown for {show_length(total.unknown)}"
        )
    return "\n".join(lines) or "no logger readings"


def _probes(kitchen: Kitchen, found: Inspection) -> Section:
    rows = tuple(
        (str(each.number), _when(each.at, kitchen), each.by, each.probe,
         "good" if each.passed else "OFF", each.says)
        for each in found.audit.probes
    )  # fmt: skip
    says = ("Checks of the thermometers, failed ones first.",)
    heads = ("entry", "when", "who", "probe", "", "what was seen")
    return Section("Probe checks", says, heads, (9, 24, 8, 18, 10, 70), rows)


# ---- corrections, labels, dates --------------------------------------------------------------

_LABELS = ("reprint", "print failed")


def _corrections(kitchen: Kitchen, found: Inspection) -> Section:
    says = (
        (
            "Entries written on a later day than they tell of, entries taken back, confirmations "
            "and settlements by the person in charge, recalls, and rules adopted."
        ),
    )
    return _remarks("Corrections and late entries", says, kitchen, found, labels=False)


def _labels(kitchen: Kitchen, found: Inspection) -> Section:
    made = found.audit.labels
    says = (
        (
            f"{_many(made.made, 'label')} made, {made.copies} of them copies and {made.tags} "
            f"discard tags; {made.unseen} sent and not known to have come out; {made.failed} not "
            "printed."
        ),
    )
    return _remarks("Labels reprinted or failed", says, kitchen, found, labels=True)


def _remarks(
    title: str, says: tuple[str, ...], kitchen: Kitchen, found: Inspection, *, labels: bool
) -> Section:
    rows = tuple(
        (str(each.number), _when(each.at, kitchen), _when(each.recorded_at, kitchen), each.by,
         _subject(each.subject), each.what, each.says)
        for each in found.audit.remarks
        if (each.what in _LABELS) == labels
    )  # fmt: skip
    heads = ("entry", "happened", "written", "who", "about", "", "what")
    return Section(title, says, heads, (10, 21, 21, 7, 20, 15, 46), rows)


def _subject(subject: str) -> str:
    plain = len(subject) == len("H7K39QX2") and subject.isalnum() and subject.isupper()
    return show(subject) if plain else subject


def _moved(kitchen: Kitchen, found: Inspection) -> Section:
    def limit(at: Instant | None, left: int | None) -> str:
        if left is not None:
            return f"{_many(left, 'day')} once thawed"
        return _when(at, kitchen) if at is not None else "no date"

    rows = tuple(
        (_when(each.at, kitchen), str(each.adopted), show(each.row.code), each.row.item_name,
         f"{limit(each.was, each.left_was)} ({each.verdict_was})",
         f"{limit(each.now, each.left_now)} ({each.verdict_now})")
        for each in found.audit.moved
    )  # fmt: skip
    says = (
        (
            "Containers on hand whose date or verdict other rules moved on the day they were "
            "adopted. An earlier date holds at once, a later one only on a new label."
        ),
    )
    heads = ("adopted", "entry", "code", "item", "date before", "date after")
    return Section("Dates moved by changed rules", says, heads, (22, 9, 15, 30, 32, 32), rows)
