"""Facts in plain sentences, for the cook who asks why and for the audit."""

from collections.abc import Callable
from pathlib import PurePath
from typing import Any

from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.moments import Instant, iso, show_dated_day, zone
from holdlog.kitchen.discard import REASONS
from holdlog.kitchen.doubts import called


def _with(text: str, value: object) -> str:
    return f"{text} {value}" if value not in (None, "") else ""


def _on(
    fact: ev.Received | ev.Cooling | ev.Chilled | ev.Reading | ev.Reheated | ev.HotHeld | ev.Out
    | ev.UnitRead,
) -> str:  # fmt: skip
    return f" on {called(fact.probe)}" if fact.probe else ""


def _maker(fact: ev.Received | ev.Opened) -> str:
    parts = []
    if fact.lot:
        parts.append(f"lot {fact.lot}")
    if fact.maker_use_by:
        parts.append(f"maker's date {show_dated_day(fact.maker_use_by)}, for {fact.maker_date_for}")
    return ", ".join(parts)


def _prepared(fact: ev.Prepared) -> str:
    text = "prepared"
    if fact.made_from:
        text += " from " + ", ".join(show(code) for code in fact.made_from)
    return text + _with(",", fact.amount) + _with(", into the", fact.unit)


_HOW_FAR = {
    "rendered": "made",
    "sent": "sent to {}, not seen to come out",
    "accepted": "taken by {}, not seen to come out",
    "completed": "printed by {}",
    "seen": "of {} in hand: it did come out",
}


def _labelled(fact: ev.Labelled) -> str:
    how = "written on tape" if fact.template == "tape" else _HOW_FAR[fact.state]
    what = "discard tag" if fact.purpose == "discard" else "label"
    purpose = "" if fact.purpose == "discard" else f" ({fact.purpose})"
    copy = f", copy {fact.copy}" if fact.copy else ""
    return f"{what} {how.format(fact.printer or 'a file')}{purpose}{copy}"


def _print_failed(fact: ev.PrintFailed) -> str:
    where = f" by {fact.printer}" if fact.printer else ""
    return f"label not printed{where} ({fact.purpose})" + _with(":", fact.reason)


def _printer(fact: ev.PrinterAdded) -> str:
    usual = ", the kitchen's own" if fact.default else ""
    return f"printer: {fact.encoding} by {fact.route} to {fact.address}, {fact.template}{usual}"


def _restored(fact: ev.Restored) -> str:
    text = f"went back to the backup {PurePath(fact.file).name}, entry {fact.entries}: "
    if fact.unknown:
        text += "nobody can tell what was written after it"
    elif fact.lost_from is None or fact.lost_to is None:
        text += "nothing was lost"
    else:
        last = fact.same + fact.lost
        which = f"entry {last}" if fact.lost == 1 else f"entries {fact.same + 1} to {last}"
        first, until = (iso(Instant(at), zone("UTC")) for at in (fact.lost_from, fact.lost_to))
        text += f"{which} of before lost, written {_short(first)} to {_short(until)} UTC"
    return text + _with("; what was there is kept as", PurePath(fact.aside).name)


def _short(moment: str) -> str:
    return moment[:16].replace("T", " ")


def _reheated(fact: ev.Reheated) -> str:
    held = f" for {fact.held_seconds} s" if fact.held_seconds is not None else ""
    took = f", in {fact.took_minutes} min" if fact.took_minutes is not None else ""
    return "reheated" + _with(" to", fact.temperature) + held + took + _on(fact)


def _used(fact: ev.Used) -> str:
    into = fact.into if fact.into.startswith("B") and len(fact.into) != len("H7K39QX2") else (
        show(fact.into) if fact.into else ""
    )  # fmt: skip
    whole = fact.ended_as + _with("", into) + _with(",", fact.amount)
    return f"{fact.amount} {fact.ended_as}, the rest stays" if fact.part else whole


def _discarded(fact: ev.Discarded) -> str:
    return (
        f"{'part ' if fact.part else ''}discarded: {REASONS.get(fact.reason, fact.reason)}"
        + _with(",", fact.amount)
        + _with(", worth", fact.cost)
        + (f" ({fact.note})" if fact.note else "")
    )


def _excursion(fact: ev.Excursion) -> str:
    where = f"the {fact.unit}" if fact.unit else "its unit"
    known = f", {_minutes(fact.seconds)} known" if fact.seconds else ""
    unknown = f", {_minutes(fact.unknown_seconds)} without readings" if fact.unknown_seconds else ""
    return f"{where} was beyond its limit{_with(', up to', fact.peak)}{known}{unknown}"


def _seen(fact: ev.RoundSeen) -> str:
    called = fact.code if fact.answer == "unknown" else show(fact.code)
    shelf = f", shelf {fact.shelf}" if fact.shelf is not None else ""
    how = "seen by eye" if fact.by_eye else "seen"
    return f"{called} {how} in the {fact.unit}{shelf}: {fact.answer}"


def _minutes(seconds: int) -> str:
    return f"{-(-seconds // 60)} min"


_TELL: dict[type[Any], Callable[[Any], str]] = {
    ev.KitchenSetUp: lambda f: f"kitchen set up: {f.name}, {f.zone}",
    ev.StackAdopted: lambda f: (
        "rules adopted: "
        + ", ".join(book.id for book in f.books if book.role != "category")
        + (f"; ruling: {f.ruling}" if f.ruling else "")
    ),
    ev.UnitAdded: lambda f: f"unit added ({f.sort})",
    ev.ItemAdded: lambda f: f"item: {f.name} ({f.category})" + _with(", costs", f.cost),
    ev.PrinterAdded: _printer,
    ev.PrinterRemoved: lambda _: "printer removed",
    ev.LabelWords: lambda f: "labels in " + ", ".join(f.languages),
    ev.Prepared: _prepared,
    ev.Received: lambda f: (
        "received unopened" + _with(",", _maker(f)) + _with(", at", f.temperature) + _on(f)
    ),
    ev.Opened: lambda f: "opened" + _with(",", _maker(f)),
    ev.OffHeat: lambda _: "off the heat, hot",
    ev.CoolingIn: lambda f: "cooling" + _with(":", f.method) + _with(", in", f.surroundings),
    ev.Cooling: lambda f: f"{f.temperature} while cooling" + _on(f),
    ev.Chilled: lambda f: "into the cold" + _with(", at", f.temperature) + _on(f),
    ev.Reading: lambda f: f"{f.temperature} where it is held" + _on(f),
    ev.Frozen: lambda f: "frozen" + _with(", into the", f.unit),
    ev.Thawed: lambda f: (
        "thawed" + (f" ({f.method})" if f.method else "") + _with(", into the", f.unit)
    ),
    ev.Moved: lambda f: f"moved to the {f.unit}",
    ev.Reheated: _reheated,
    ev.HotHeld: lambda f: "held hot" + _with(", at", f.temperature) + _on(f),
    ev.Out: lambda f: (
        f"out of temperature control ({f.plan})" + _with(", at", f.temperature) + _on(f)
    ),
    ev.Packed: lambda f: f"packed with the oxygen reduced ({f.how or 'vacuum'})",
    ev.Excursion: _excursion,
    ev.Split: lambda f: "split into " + ", ".join(show(code) for code in f.into),
    ev.ToppedUp: lambda f: f"{show(f.poured_in)} poured in",
    ev.Used: _used,
    ev.Discarded: _discarded,
    ev.Labelled: _labelled,
    ev.PrintFailed: _print_failed,
    ev.RoundBegun: lambda f: "round begun: " + ", ".join(f.units),
    ev.RoundUnit: lambda f: f"came to the {f.unit}" + ("" if f.read else ", temperature not read"),
    ev.RoundSeen: _seen,
    ev.RoundFound: lambda f: (
        f"no label: {f.what}, in the {f.unit}, discarded" + _with(",", f.amount)
    ),
    ev.RoundNoted: lambda f: f"{show(f.code) if f.code else f.unit}: {f.note}",
    ev.RoundEnded: lambda f: (
        f"round ended: {f.seen} seen, {len(f.not_seen)} not seen" + _with(", signed", f.in_charge)
    ),
    ev.Recalled: lambda f: f"recalled ({f.what}): {f.why}",
    ev.FileImported: lambda f: f"{f.rows} rows of {f.what} read from {f.file}",
    ev.BackedUp: lambda f: f"backed up: {f.entries} entries in {f.file}",
    ev.Restored: _restored,
    ev.ClockFoundRight: lambda f: (
        f"clock found right, {f.days} day{'' if f.days == 1 else 's'} after the entry before"
    ),
    ev.Voided: lambda f: f"entry {f.entry} voided: {f.why}",
    ev.Confirmed: lambda f: f"entry {f.entry} confirmed: {f.evidence}",
    ev.Settled: lambda f: f"kept after entry {f.entry}: {f.why} ({f.evidence})",
    ev.UnitRead: lambda f: f"read {f.temperature}" + _on(f),
    ev.ReadingsImported: lambda f: (
        f"readings from {f.file}: {f.added} added, {f.already} there already, "
        f"{f.conflicting} conflicting, {f.refused} refused, {f.repeated} repeated"
    ),
    ev.ProbeAdded: lambda f: f"probe added ({' and '.join(f'°{each}' for each in f.scale)})",
    ev.ProbeChecked: lambda f: (
        f"probe checked in {'ice' if f.method == 'ice' else 'boiling water'}: {f.temperature}, "
        f"expected {f.expected}, {'good' if f.passed else 'OUT OF TOLERANCE'}"
    ),
}


def tell(fact: ev.Fact) -> str:
    """What happened, in a few words."""
    return _TELL[type(fact)](fact)
