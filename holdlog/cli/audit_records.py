"""What an audit found beside the food, as records for programs and spreadsheets, and in words."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from holdlog.cli.show import at_told, count_of, moment

if TYPE_CHECKING:
    from holdlog.kitchen.audit import Audit
    from holdlog.kitchen.compliance import UnitPast
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.reports.tables import Table

Records = list[dict[str, Any]]
# A longer list is no longer read; what is wrong comes first.
MOST_LISTED = 40

# The columns of each file, also where it has no rows.
_UNIT_HEADS = ("unit", "limit", "read_by_hand", "by_hand_beyond", "by_hand_not_judged",
               "containers_struck")  # fmt: skip
HEADS: dict[str, tuple[str, ...]] = {
    "discards": ("entry", "at", "code", "item", "unit", "reason", "amount", "cost", "part", "by",
                 "note", "late", "voided"),
    "totals": ("by", "name", "containers", "discards", "sums", "unknown", "cost", "unpriced"),
    "remarks": ("entry", "at", "recorded_at", "by", "subject", "what", "says"),
    "probe_checks": ("entry", "at", "by", "probe", "passed", "says"),
    "coolings": ("batch", "item", "made_at", "by", "stands", "readings"),
    "units": (
        *_UNIT_HEADS, "logger_readings_f", "seconds_beyond_f", "unknown_seconds_f",
        "logger_readings_c", "seconds_beyond_c", "unknown_seconds_c",
    ),
    "holds": ("at", "code", "item", "by", "because", "verdict", "outcome", "why", "settled_by",
              "ended_at"),
    "moved_dates": ("adopted", "at", "code", "item", "use_by_was", "use_by_now",
                    "days_once_thawed_was", "days_once_thawed_now", "verdict_was", "verdict_now"),
    "rules": ("entry", "at", "by", "books", "looser", "ruling"),
}  # fmt: skip


def records_of(found: "Audit", shop: "Kitchen") -> dict[str, Records]:
    """Coolings, units, holds, moved dates and rules of the period, each a list of flat records."""
    return {
        "coolings": [
            {
                "batch": each.batch, "item": each.item, "made_at": moment(each.at, shop),
                "by": each.by, "stands": each.stands,
                "readings": len(each.logged.record.readings) if each.logged else 0,
            }
            for each in found.coolings
        ],
        "units": [_unit(each, shop) for each in found.units],
        "holds": [
            {
                "at": moment(each.at, shop), "code": each.row.code, "item": each.row.item_name,
                "by": each.by, "because": each.because, "verdict": each.verdict,
                "outcome": each.outcome, "why": each.why or None,
                "settled_by": each.settled_by or None, "ended_at": moment(each.ended_at, shop),
            }
            for each in found.holds
        ],
        "moved_dates": [
            {
                "adopted": each.adopted, "at": moment(each.at, shop), "code": each.row.code,
                "item": each.row.item_name, "use_by_was": moment(each.was, shop),
                "use_by_now": moment(each.now, shop), "days_once_thawed_was": each.left_was,
                "days_once_thawed_now": each.left_now, "verdict_was": each.verdict_was,
                "verdict_now": each.verdict_now,
            }
            for each in found.moved
        ],
        "rules": [
            {
                "entry": each.number, "at": moment(each.at, shop), "by": each.by,
                "books": " + ".join(each.titles), "looser": "; ".join(each.looser) or None,
                "ruling": each.ruling or None,
            }
            for each in found.rules
        ],
    }  # fmt: skip


def _unit(each: "UnitPast", shop: "Kitchen") -> dict[str, Any]:
    by_scale = {shown.scale: shown for shown in each.courses}
    record: dict[str, Any] = {
        "unit": each.unit.name,
        "limit": each.limit.show(shop.scale) if each.limit is not None else None,
        "read_by_hand": len(each.by_hand),
        "by_hand_beyond": len(each.beyond),
        "by_hand_not_judged": each.unjudged,
        "containers_struck": each.struck,
    }
    for scale in ("F", "C"):
        shown = by_scale.get(scale)
        total = shown.total if shown is not None else None
        record |= {
            f"logger_readings_{scale.lower()}": len(shown.samples) if shown is not None else 0,
            f"seconds_beyond_{scale.lower()}": -(-total.total // 1000) if total else None,
            f"unknown_seconds_{scale.lower()}": -(-total.unknown // 1000) if total else None,
        }
    return record


def write_csv(shop: "Kitchen", to: str, records: Mapping[str, Records]) -> list[str]:
    """Write the discards to the file ``to``, or every list to a file of its own in the folder
    ``to``; the files. Text that a spreadsheet would run is made harmless.

    Raises ``Fault("no-file")``, ``Mistake`` for the journal itself.
    """
    from holdlog.cli.wiring import spare
    from holdlog.core.csv_text import lines
    from holdlog.core.errors import Fault
    from holdlog.core.whole_files import why, writing_text

    hint = "Name a file that ends with .csv, or a folder: --csv."
    one = Path(to).suffix.lower() == ".csv"
    wanted = {Path(to): records["discards"]} if one else {
        Path(to) / f"{name.replace('_', '-')}.csv": rows for name, rows in records.items()
    }  # fmt: skip
    try:
        if not one:
            Path(to).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        says = f"{to} could not be written: {why(error, Path(to))}."
        raise Fault("no-file", says, hint) from error
    for path, rows in wanted.items():
        heads = HEADS["discards" if one else path.stem.replace("-", "_")]
        cells = ([_cell(row[head]) for head in heads] for row in rows)
        with writing_text(spare(shop, str(path)), hint) as file:
            file.writelines(lines(heads, cells))
    return [str(path) for path in wanted]


def _cell(value: Any) -> str | int | Decimal | bool | None:
    if value is None or isinstance(value, str | int | Decimal | bool):
        return value
    return "; ".join(f"{key} {each}" for key, each in value.items())


# ---- in words --------------------------------------------------------------------------------


def told(found: "Audit", shop: "Kitchen") -> "list[Table | str]":
    """Coolings, units, holds, moved dates and looser conventions for people."""
    return [
        *_coolings(found, shop), *_units(found, shop), *_holds(found, shop),
        *_moved(found, shop), *_looser(found),
    ]  # fmt: skip


def _table(
    title: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]
) -> "list[Table | str]":
    from holdlog.reports.tables import Table

    if not rows:
        return []
    more = len(rows) - MOST_LISTED
    rest = [f"  and {more} more: --json or --csv has them all."] if more > 0 else []
    return ["", Table(title, heads, tuple(rows[:MOST_LISTED])), *rest]


def _coolings(found: "Audit", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.kitchen.compliance import WORST, count_coolings
    from holdlog.kitchen.inspection_words import STANDS

    if not found.coolings:
        return []
    counts = count_coolings(found.coolings)
    said = ", ".join(f"{counts[word]} {STANDS[word]}" for word in WORST if counts[word])
    rows = [
        (each.batch, at_told(each.at, shop), each.item, each.by, STANDS[each.stands])
        for each in found.coolings
        if each.stands in ("missed", "unproven")
    ]
    heads = ("batch", "made", "item", "who", "")
    table = _table("Coolings missed or unproven", heads, rows)
    return ["", f"Coolings of batches made: {said}.", *table]


def _units(found: "Audit", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.core.moments import show_length

    rows = []
    for each in found.units:
        if each.limit is None or not (each.by_hand or each.courses):
            continue
        hand = f"{len(each.by_hand)}, {len(each.beyond)} beyond" if each.by_hand else "-"
        logger = [
            f"beyond {show_length(shown.total.total)}, unknown {show_length(shown.total.unknown)}"
            for shown in each.courses
        ]
        rows.append((each.unit.name, each.limit.show(shop.scale), hand, "\n".join(logger) or "-"))
    return _table("Units", ("unit", "limit", "read by hand", "by its logger"), rows)


def _holds(found: "Audit", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.core.codes import show

    rows = [
        (
            at_told(each.at, shop), show(each.row.code), each.row.item_name,
            each.because,
            each.outcome + (f": {each.why}" if each.why else "")
            + (f" ({each.settled_by})" if each.settled_by else ""),
        )
        for each in found.holds
    ]  # fmt: skip
    heads = ("when", "code", "item", "because", "what became of it")
    return _table("Holds, and how they were settled", heads, rows)


def _moved(found: "Audit", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.cli.show import moment_told
    from holdlog.core.codes import show

    def limit(at: Any, left: int | None) -> str:
        if left is not None:
            return f"{count_of(left, 'day')} once thawed"
        return moment_told(at, shop) if at is not None else "no date"

    rows = [
        (
            show(each.row.code), each.row.item_name, limit(each.was, each.left_was),
            limit(each.now, each.left_now), f"entry {each.adopted}",
        )
        for each in found.moved
    ]  # fmt: skip
    return _table("Dates moved by changed rules", ("code", "item", "before", "after", ""), rows)


def _looser(found: "Audit") -> list[str]:
    lines = []
    for each in found.rules:
        if each.looser:
            ruled = f"ruled by {each.ruling}" if each.ruling else "the books settle it so"
            said = "; ".join(each.looser)
            lines.append(f"Looser than the strict reading (entry {each.number}): {said}; {ruled}.")
    return ["", *lines] if lines else []
