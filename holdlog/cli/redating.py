"""How a change of rules is shown: what moves, when it binds, and which labels to make again."""

from typing import TYPE_CHECKING, Any

from holdlog.cli.show import WORDS, count_of, moment, moment_told
from holdlog.cli.story import counting
from holdlog.core.codes import show
from holdlog.core.moments import Instant
from holdlog.reports.tables import Table

if TYPE_CHECKING:
    from holdlog.core.events import Labelled
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.redate import Move, Redating
    from holdlog.rules.holding import Holding
    from holdlog.rules.stack import Stack

LAST_WORD = "holdlog is no authority: your local health authority has the last word."


def redating_parts(found: "Redating", shop: "Kitchen", *, dry_run: bool) -> list[Table | str]:
    """A change of rules for people."""
    parts: list[Table | str] = []
    if dry_run:
        parts += ["Dry run: nothing is adopted, nothing is written."]
        parts.append(f"Now: {_titles(found.before)}. Then: {_titles(found.after)}.")
    else:
        parts.append(f"Adopted: {_titles(found.after)}.")
    parts.append(counting(found.after.conventions))
    if not found.moves:
        return [*parts, "Nothing is on hand, so no date moves.", LAST_WORD]
    earlier, later, same = (found.of(each) for each in ("earlier", "later", "unchanged"))
    judged = count_of(len(found.moves), "container")
    parts.append(
        f"{judged} judged: {len(earlier)} earlier or stopped, {len(later)} later, "
        f"{len(same)} unchanged."
    )
    parts += _group("Earlier: binds at once", earlier, shop)
    parts += _later(later, shop)
    parts += _labels(found.wrong_labels, shop)
    parts += ["", *(f"Caution: {caution}" for caution in found.after.cautions)]
    if dry_run:
        parts.append("To adopt it: the same without --dry-run.")
    return [*parts, LAST_WORD]


def _titles(stack: "Stack") -> str:
    return " + ".join(book.title for book in stack.books)


def _group(title: str, moves: "list[Move]", shop: "Kitchen") -> list[Table | str]:
    if not moves:
        return []
    rows = tuple(
        (show(each.row.code), each.row.item_name, each.row.unit, _date(each.now, shop),
         f"{_date(each.then, shop)}\n{_cite(each.then)}".rstrip())
        for each in moves
    )  # fmt: skip
    return ["", Table(title, ("code", "item", "unit", "now", "then"), rows)]


def _later(moves: "list[Move]", shop: "Kitchen") -> list[Table | str]:
    waiting = [each for each in moves if each.waits_for_label]
    at_once = [each for each in moves if not each.waits_for_label]
    parts = _group(
        "Later: at once, for no printed label says otherwise (what is on tape still does)",
        at_once,
        shop,
    )
    if waiting:
        rows = tuple(
            (show(each.row.code), each.row.item_name, each.row.unit, _date(each.then, shop),
             f"{_date(each.fresh, shop)}\n{_cite(each.fresh)}".rstrip())
            for each in waiting
        )  # fmt: skip
        heads = ("code", "item", "unit", "until then", "a new label says")
        parts += ["", Table("Later: only once it is labelled again", heads, rows)]
    return parts


def _labels(moves: "list[Move]", shop: "Kitchen") -> list[Table | str]:
    """The labels a change makes wrong: they promise more than the rules allow."""
    if not moves:
        return []
    rows = tuple(
        (show(each.row.code), each.row.item_name, each.row.unit, _label_says(each.label, shop),
         _date(each.then, shop), _what_to_do(each))
        for each in moves
    )  # fmt: skip
    heads = ("code", "item", "unit", "label says", "rules say", "")
    return ["", Table("Labels that become wrong", heads, rows)]


def _what_to_do(move: "Move") -> str:
    gone = move.then.verdict in ("discard", "refuse")
    return f"holdlog {'discard' if gone else 'label'} {show(move.row.code)}"


def _date(found: "Holding", shop: "Kitchen") -> str:
    word = f"{WORDS[found.verdict]}, " if found.fault or found.verdict == "discard" else ""
    if found.state == "frozen":
        left = found.days_left_once_thawed
        return f"{word}frozen" + (f", {count_of(left, 'day')} left" if left is not None else "")
    if found.use_by is None:
        return word + ("no limit" if found.tcs == "not-tcs" else "no limit known")
    return word + moment_told(found.use_by, shop)


def _cite(found: "Holding") -> str:
    return found.binding.source.cite if found.binding else ""


def _label_says(label: "Labelled | None", shop: "Kitchen") -> str:
    if label is None:
        return ""
    if label.use_by is None:
        return count_of(label.days_left, "day") + " left" if label.days_left is not None else ""
    return moment_told(Instant(label.use_by), shop)


# ---- for programs ----------------------------------------------------------------------------


def redating_json(
    found: "Redating", shop: "Kitchen", rulebooks: list[str], *, dry_run: bool
) -> dict[str, Any]:
    """A change of rules for programs."""
    return {
        "dry_run": dry_run,
        "rulebooks": rulebooks,
        "judged": len(found.moves),
        "earlier": [_move_json(each, shop) for each in found.of("earlier")],
        "later": [_move_json(each, shop) for each in found.of("later")],
        "unchanged": [each.row.code for each in found.of("unchanged")],
        "labels_wrong": [each.row.code for each in found.wrong_labels],
        "cautions": list(found.after.cautions),
    }


def _move_json(move: "Move", shop: "Kitchen") -> dict[str, Any]:
    label = move.label
    use_by = Instant(label.use_by) if label is not None and label.use_by is not None else None
    return {
        "code": move.row.code,
        "item": move.row.item_name,
        "unit": move.row.unit,
        "now": _held_json(move.now, shop),
        "then": _held_json(move.then, shop),
        "once_labelled": _held_json(move.fresh, shop),
        "label_says": {
            "use_by": moment(use_by, shop),
            "days_left": label.days_left,
        } if label is not None else None,
        "label_wrong": move.label_wrong,
    }  # fmt: skip


def _held_json(found: "Holding", shop: "Kitchen") -> dict[str, Any]:
    binding = found.binding
    return {
        "verdict": found.verdict,
        "use_by": moment(found.use_by, shop),
        "last_day": found.last_day.isoformat() if found.last_day else None,
        "days_left_once_thawed": found.days_left_once_thawed,
        "binds": binding.source.rule if binding else None,
        "cite": binding.source.cite if binding else None,
    }
