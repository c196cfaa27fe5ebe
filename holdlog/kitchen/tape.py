"""What a cook writes on tape where no label comes out of a printer."""

from datetime import datetime

from holdlog.core.codes import show
from holdlog.core.moments import local_date, show_day
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.label import TAG, Ready
from holdlog.labels.label import Label

TAPE = "tape"
"""The template of a label that was written by hand, as the journal has it."""


def tape(kitchen: Kitchen, each: Ready) -> list[str]:
    """What to write on tape when there is no printer, code included."""
    label = each.label
    if label.purpose == TAG:
        return [
            f"DISCARD - {label.item.upper()}", each.holding.reason,
            f"{show(label.code)}  {label.number} of {label.count}",
        ]  # fmt: skip
    lines = [label.item.upper(), *_warnings(each)]
    verb = {"opened": "opened", "received": "received"}.get(label.purpose, "made")
    lines.append(f"{verb} {show_day(label.started.date())} {label.started:%H:%M}  {label.by}")
    if label.packed is not None:
        lines.append(f"packed {show_day(label.packed.date())} {label.packed:%H:%M}")
        if label.pack_rule is not None:
            lines += [
                f"KEEP AT {label.pack_rule.limit} OR BELOW",
                f"DISCARD UNLESS SERVED WITHIN {label.pack_rule.days} DAYS OF PACKING",
            ]
    if label.held:
        pass  # ON HOLD bears no date: nobody is to serve by it
    elif each.use_by is not None:
        shown = label.use_by
        hour = f" {shown:%H:%M}" if isinstance(shown, datetime) else ""
        day = show_day(local_date(each.use_by, kitchen.where), label.started.date())
        lines.append(f"USE BY {day.upper()}{hour}")
        if label.purpose == "cooling":
            lines[-1] = f"then {lines[-1]}"
    elif label.purpose != "frozen":
        lines.append(_undated(label))
    if label.allergens:
        lines.append("CONTAINS " + ", ".join(label.allergens))
    lines.append(f"{show(label.code)}  {label.number} of {label.count}")
    return lines


def _undated(label: Label) -> str:
    if label.limit_needed:
        return "NO LIMIT KNOWN - ask the person in charge"
    if label.best_by is None:
        return "NO DATE NEEDED - not TCS"
    return f"not TCS - BEST BY {show_day(label.best_by, label.started.date()).upper()}"


def _warnings(each: Ready) -> list[str]:
    """What must be read before the date is."""
    label, verdict = each.label, each.holding.verdict
    lines = []
    if label.purpose == "frozen":
        left = label.days_left
        days = f", {left} day{'' if left == 1 else 's'} left once thawed" if left else ""
        lines.append("FROZEN" + days)
        if left == 0:
            lines.append("DO NOT USE - no days left")
    if label.purpose == "cooling":
        lines.append("COOLING - DO NOT SERVE")
        times = label.cooling_deadlines or ("",) * len(label.cooling_limits)
        lines += [
            f"{limit} at ____" + (f" by {by}" if by else "")
            for limit, by in zip(label.cooling_limits, times, strict=True)
        ]
    elif verdict in ("discard", "refuse", "hold", "reheat"):
        lines.append(f"DO NOT SERVE - {each.holding.reason}")
    return list(dict.fromkeys(lines))
