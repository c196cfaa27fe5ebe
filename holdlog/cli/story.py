"""How `why` answers: the verdict, the rules behind the date, and what happened, in sentences."""

from typing import TYPE_CHECKING, Any

from holdlog.cli.cooling_words import stages
from holdlog.cli.show import (
    WORDS,
    at_told,
    count_of,
    in_words,
    limit,
    moment,
    moment_told,
    row_json,
)
from holdlog.core.codes import show
from holdlog.core.moments import local_date, show_day
from holdlog.reports.tables import Table

if TYPE_CHECKING:
    from holdlog.core.events import Conventions
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.why import Happened, Why
    from holdlog.rules.holding import Finding


def why_parts(found: "Why", shop: "Kitchen") -> "list[Table | str]":
    """The answer for people."""
    row, held = found.row, found.holding
    facts = [row.item_name, show(row.code), row.amount, f"{row.number} of {row.count}", row.unit]
    parts: list[Table | str] = [", ".join(filter(None, facts)), standing(found, shop)]
    if found.seen is not None:
        walk, scan = found.seen
        when = at_told(scan.at, shop)
        parts.append(f"Last seen in the {scan.unit}, {when} by {scan.by} (round {walk}).")
    if held.best_by is not None and row.ended_at is None:
        best = show_day(held.best_by, local_date(shop.now(), shop.where))
        parts.append(f"At its best until {best} (quality only).")
    if found.allergens:
        parts.append(f"Contains {', '.join(found.allergens)}.")
    if found.made_from:
        parts.append(f"Made from {'; '.join(found.made_from)}.")
    parts += ["", *_reasons(held.basis, shop)]
    if found.cooling is not None and found.cooling.record.grounds:
        parts += ["", "Cooling", *(f"  {line}" for line in stages(found.cooling, shop))]
    cautions = [in_words(text) for text in held.cautions if "last word" not in text]
    if cautions:
        parts += ["", "Cautions", *(f"  {text}" for text in cautions)]
    heads = ("entry", "when", "who", "what")
    return [
        *parts,
        "",
        Table("What happened", heads, _happened(found, shop)),
        "",
        counting(held.conventions),
        f"{' + '.join(found.rulebooks)}. {found.defer}",
    ]


def standing(found: "Why", shop: "Kitchen") -> str:
    """Where the container stands now, in one sentence or two."""
    row, held = found.row, found.holding
    if row.ended_at is not None:
        return f"Gone: {row.ended_as} on {at_told(row.ended_at, shop)}."
    if row.state == "frozen":
        left = held.days_left_once_thawed
        days = f", {count_of(left, 'day')} left once thawed" if left is not None else ""
        date = f"frozen{days}"
    else:
        date = limit(row, shop)
        date = f"use by {date}" if row.use_by is not None else date
    day = f"; today is day {held.day} of {held.of}" if held.day is not None else ""
    said = f" {held.reason}" if held.reason else ""
    return f"{WORDS[held.verdict]}: {date}{day}.{said}"


def _reasons(basis: "tuple[Finding, ...]", shop: "Kitchen") -> list[str]:
    """The findings under their heading: what binds first, the rest beside it."""
    ordered = sorted(basis, key=lambda each: not each.binds)
    dated = any(each.limit is not None for each in ordered)
    lines = [_reason(each, shop) for each in ordered]
    if lines:
        lines[0] = lines[0].removeprefix("Also ")  # beside nothing
    return ["Why this date" if dated else "Why no date", *(f"  {line}" for line in lines)]


def _reason(each: "Finding", shop: "Kitchen") -> str:
    seen = "" if each.source.seen == "text" else f" [seen: {each.source.seen}]"
    says = f"{each.source.cite}: {each.source.says}{seen}"
    if each.limit is None:
        return f"Also {says}"
    date = moment_told(each.limit, shop)
    return f"{date} by {says}" if each.binds else f"Also {date} by {says}"


def counting(conventions: "Conventions") -> str:
    """How days count under ``conventions``, in one sentence."""
    freeze, thaw = (
        word.replace("-", " ") for word in (conventions.freeze_day, conventions.thaw_day)
    )
    ends = "at midnight" if conventions.day_end == "calendar" else "24 hours after it began"
    return (
        f"How days count here: the day of freezing {freeze}, the day of thawing {thaw}; "
        f"a day ends {ends}."
    )


def _happened(found: "Why", shop: "Kitchen") -> tuple[tuple[str, ...], ...]:
    def what(each: "Happened") -> str:
        marks = ["VOID"] if each.voided else []
        if each.disputed:
            marks.append("taken back later: counts until the person in charge confirms that")
        marks += ["probe in doubt"] if each.doubted and not each.voided else []
        if each.late:
            marks.append(f"late, written {at_told(each.recorded_at, shop)}")
        return f"{each.says} [{'; '.join(marks)}]" if marks else each.says

    return tuple(
        (str(each.number), at_told(each.at, shop), each.by, what(each)) for each in found.story
    )


def why_json(found: "Why", shop: "Kitchen") -> dict[str, Any]:
    """The answer for programs."""
    from holdlog.rules.holding import as_json

    return {
        **row_json(found.row, shop),
        "holding": as_json(found.holding, shop.where),
        "allergens": list(found.allergens),
        "made_from": list(found.made_from),
        "story": [
            {
                "entry": each.number,
                "at": moment(each.at, shop),
                "recorded_at": moment(each.recorded_at, shop),
                "by": each.by,
                "says": each.says,
                "late": each.late,
                "voided": each.voided,
                "disputed": each.disputed,
                "doubted": each.doubted,
            }
            for each in found.story
        ],
        "rulebooks": list(found.rulebooks),
        "last_seen": _seen_json(found, shop),
    }


def _seen_json(found: "Why", shop: "Kitchen") -> dict[str, Any] | None:
    if found.seen is None:
        return None
    walk, scan = found.seen
    return {"round": walk, "unit": scan.unit, "at": moment(scan.at, shop), "by": scan.by}
