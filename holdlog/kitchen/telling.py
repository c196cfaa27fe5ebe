"""Facts in plain sentences, for the cook who asks why and for the audit."""

from collections.abc import Callable
from typing import Any

from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.moments import show_day
from holdlog.kitchen.discard import REASONS


def _with(text: str, value: object) -> str:
    return f"{text} {value}" if value not in (None, "") else ""


def _maker(fact: ev.Received | ev.Opened) -> str:
    parts = []
    if fact.lot:
        parts.append(f"lot {fact.lot}")
    if fact.maker_use_by:
        parts.append(f"maker's date {show_day(fact.maker_use_by)}, for {fact.maker_date_for}")
    return ", ".join(parts)


def _prepared(fact: ev.Prepared) -> str:
    text = "prepared"
    if fact.made_from:
        text += " from " + ", ".join(show(code) for code in fact.made_from)
    return text + _with(",", fact.amount) + _with(", into the", fact.unit)


def _labelled(fact: ev.Labelled) -> str:
    how = "written on tape" if fact.template == "tape" else "made"
    return f"label {how} ({fact.purpose})" + (f", copy {fact.copy}" if fact.copy else "")


def _reheated(fact: ev.Reheated) -> str:
    held = f" for {fact.held_seconds} s" if fact.held_seconds is not None else ""
    return "reheated" + _with(" to", fact.temperature) + held


def _used(fact: ev.Used) -> str:
    into = fact.into if fact.into.startswith("B") and len(fact.into) != len("H7K39QX2") else (
        show(fact.into) if fact.into else ""
    )  # fmt: skip
    return fact.ended_as + _with("", into) + _with(",", fact.amount)


def _discarded(fact: ev.Discarded) -> str:
    return (
        f"discarded: {REASONS.get(fact.reason, fact.reason)}"
        + _with(",", fact.amount)
        + (f" ({fact.note})" if fact.note else "")
    )


_TELL: dict[type[Any], Callable[[Any], str]] = {
    ev.KitchenSetUp: lambda f: f"kitchen set up: {f.name}, {f.zone}",
    ev.StackAdopted: lambda f: (
        "rules adopted: "
        + ", ".join(book.id for book in f.books if book.role != "category")
        + (f"; ruling: {f.ruling}" if f.ruling else "")
    ),
    ev.UnitAdded: lambda f: f"unit added ({f.sort})",
    ev.ItemAdded: lambda f: f"item: {f.name} ({f.category})",
    ev.Prepared: _prepared,
    ev.Received: lambda f: (
        "received unopened" + _with(",", _maker(f)) + _with(", at", f.temperature)
    ),
    ev.Opened: lambda f: "opened" + _with(",", _maker(f)),
    ev.OffHeat: lambda _: "off the heat, hot",
    ev.CoolingIn: lambda f: "cooling" + _with(":", f.method) + _with(", in", f.surroundings),
    ev.Cooling: lambda f: f"{f.temperature} while cooling",
    ev.Chilled: lambda f: "into the cold" + _with(", at", f.temperature),
    ev.Reading: lambda f: f"{f.temperature} where it is held",
    ev.Frozen: lambda f: "frozen" + _with(", into the", f.unit),
    ev.Thawed: lambda f: (
        "thawed" + (f" ({f.method})" if f.method else "") + _with(", into the", f.unit)
    ),
    ev.Moved: lambda f: f"moved to the {f.unit}",
    ev.Reheated: _reheated,
    ev.HotHeld: lambda f: "held hot" + _with(", at", f.temperature),
    ev.Out: lambda f: f"out of temperature control ({f.plan})" + _with(", at", f.temperature),
    ev.Packed: lambda f: f"packed with the oxygen reduced ({f.how or 'vacuum'})",
    ev.Excursion: lambda _: "its unit was beyond its limit",
    ev.Split: lambda f: "split into " + ", ".join(show(code) for code in f.into),
    ev.ToppedUp: lambda f: f"{show(f.poured_in)} poured in",
    ev.Used: _used,
    ev.Discarded: _discarded,
    ev.Labelled: _labelled,
    ev.Voided: lambda f: f"entry {f.entry} voided: {f.why}",
    ev.Confirmed: lambda f: f"entry {f.entry} confirmed: {f.evidence}",
}


def tell(fact: ev.Fact) -> str:
    """What happened, in a few words."""
    return _TELL[type(fact)](fact)
