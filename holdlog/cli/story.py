"""How `why` answers: the verdict, the rules behind the date, and what happened, in sentences."""

from typing import TYPE_CHECKING, Any

from holdlog.cli.cooling_words import stages
from holdlog.cli.show import WORDS, count_of, in_words, limit, moment, row_json
from holdlog.core.codes import show
from holdlog.core.moments import show_day, show_moment
from holdlog.reports.tables import Table

if TYPE_CHECKING:
    from holdlog.core.events import Conventions
    from holdlog.core.moments import Instant
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.why import Why
    from holdlog.rules.holding import Finding


def why_parts(found: "Why", shop: "Kitchen") -> "list[Table | str]":
    """The answer for people."""
    row, held = found.row, found.holding
    facts = [row.item_name, show(row.code), row.amount, f"{row.number} of {row.count}", row.unit]
    parts: list[Table | str] = [", ".join(filter(None, facts)), standing(found, shop)]
    if found.seen is not None:
        walk, scan = found.seen
        when = show_moment(scan.at, shop.where)
        parts.append(f"Last seen in the {scan.unit}, {when} by {scan.by} (round {walk}).")
    if held.best_by is not None and row.ended_at is None:
        parts.append(f"At its best until {show_day(held.best_by)} (quality only).")
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
        return f"Gone: {row.ended_as} on {show_moment(row.ended_at, shop.where)}."
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
    date = _day_or_hour(each.limit, shop)
    return f"{date} by {says}" if each.binds else f"Also {date} by {says}"


def _day_or_hour(at: "Instant", shop: "Kitchen") -> str:
    from holdlog.core.moments import end_of_day, local_date

    day = local_date(at, shop.where)
    return show_day(day) if at == end_of_day(day, shop.where) else show_moment(at, shop.where)


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
    def what(says: str, late: bool, voided: bool, doubted: bool, recorded: "Instant") -> str:
        marks = ["VOID"] if voided else []
        marks += ["probe in doubt"] if doubted and not voided else []
        if late:
            marks.append(f"late, written {show_moment(recorded, shop.where)}")
        return f"{says} [{'; '.join(marks)}]" if marks else says

    return tuple(
        (
            str(each.number), show_moment(each.at, shop.where), each.by,
            what(each.says, each.late, each.voided, each.doubted, each.recorded_at),
        )
        for each in found.story
    )  # fmt: skip


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
