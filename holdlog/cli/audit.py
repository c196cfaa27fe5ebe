"""The audit of a period: what was binned and what became of the rest, for people and programs."""

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.audit_records import records_of, told, write_csv
from holdlog.cli.show import at_told, count_of, emit, moment, say
from holdlog.cli.wiring import Json, kitchen

if TYPE_CHECKING:
    from collections.abc import Mapping
    from decimal import Decimal

    from holdlog.kitchen.audit import Audit
    from holdlog.kitchen.ended import Balance, Ended, Total
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.remarks import Labels
    from holdlog.reports.tables import Table

# A longer list is no longer read.
MOST_LISTED = 40


def audit(
    context: typer.Context,
    first: Annotated[
        str,
        typer.Option("--from", help="First day, 2026-06-01. Else the last 7.", show_default=False),
    ] = "",
    last: Annotated[
        str, typer.Option("--to", help="Last day. Else today.", show_default=False)
    ] = "",
    reason: Annotated[str, typer.Option("--reason", help="Only this.", show_default=False)] = "",
    item: Annotated[str, typer.Option("--item", help="Only this.", show_default=False)] = "",
    cook: Annotated[str, typer.Option("--cook", help="Only by this one.", show_default=False)] = "",
    unit: Annotated[
        str, typer.Option("--unit", "-u", help="Only there.", show_default=False, metavar="UNIT")
    ] = "",
    csv: Annotated[
        str,
        typer.Option(
            "--csv", help="Write the discards to a .csv file, or all of it to a folder.",
            show_default=False, metavar="WHERE",
        ),
    ] = "",
    json: Json = False,
) -> None:  # fmt: skip
    r"""What was discarded in a period, what was cooled, held and corrected, and whose rules held.

    The waste share is what was binned of all that ended, in the same measure. A list of more than
    40 is left to --json and --csv; its totals are shown.

    \b
    Examples:
      holdlog audit
      holdlog audit --from 2026-06-01 --to 2026-06-30 --item stock
      holdlog audit --from 2026-06-01 --csv audit-june
    """
    from datetime import timedelta

    from holdlog.core.moments import local_date, read_day
    from holdlog.kitchen.audit import audit as job
    from holdlog.kitchen.discard import reason_of

    shop = kitchen(context)
    with shop.db.reading() as conn:
        today = local_date(shop.moment(conn), shop.where)
    until = read_day(last) if last else today
    since = read_day(first) if first else until - timedelta(days=6)
    why = reason_of(reason) if reason else ""
    found = job(shop, since, until, reason=why, item=item, cook=cook, unit=unit)
    files = write_csv(shop, csv, _records(found, shop)) if csv else []
    if json:
        emit({**_audit_json(found, shop), **({"files": files} if files else {})})
    elif files:
        say([f"Written: {', '.join(files)}."])
    else:
        say(_audit_parts(found, shop, _only(reason, item, cook, unit)))


def _only(reason: str, item: str, cook: str, unit: str) -> str:
    """What was asked for alone, and what is of the whole kitchen all the same."""
    asked = (("reason", reason), ("item", item), ("cook", cook), ("unit", unit))
    only = ", ".join(f"{name} {value.strip()}" for name, value in asked if value.strip())
    if not only:
        return ""
    item, cook, unit = item.strip(), cook.strip(), unit.strip()
    whole = ["labels", "probes", "rules"]
    whole += [] if unit else ["units"]
    whole += ["moved dates"] if cook and not (item or unit) else []
    whole += [] if item or cook or unit else ["coolings", "holds", "corrections"]
    return f"Only {only}. Of the whole kitchen all the same: {', '.join(whole)}."


def _records(found: "Audit", shop: "Kitchen") -> dict[str, Any]:
    """All that the audit lists, each a list of records."""
    whole = _audit_json(found, shop)
    every = sorted((*whole["discards"], *whole["voided"]), key=lambda each: each["entry"])
    totals = [
        {"by": by, **each}
        for by in ("reason", "item", "cook", "unit")
        for each in whole[f"by_{by}"]
    ]
    return {
        "discards": every, "totals": totals, "remarks": whole["remarks"],
        "probe_checks": whole["probe_checks"], **records_of(found, shop),
    }  # fmt: skip


def _audit_parts(found: "Audit", shop: "Kitchen", only: str) -> "list[Table | str]":
    from holdlog.core.chain import show_head
    from holdlog.core.moments import show_dated_day
    from holdlog.reports.tables import Table

    days = [show_dated_day(each) for each in (found.first, found.last)]
    period = " to ".join(dict.fromkeys(days))
    parts: list[Table | str] = [f"{shop.name} · discarded, {period}"]
    parts += [only] if only else []
    if found.discards or found.voided:
        parts += _listed(found, shop)
    if not found.discards:
        parts.append("Nothing was discarded in these days.")
    else:
        parts += [*_totals(found), "", _in_all(found)]
    parts += _became(found)
    ends = ", ".join(f"{count} {name}" for name, count in found.ended if count)
    parts.append(f"Containers that ended: {ends or 'none'}.")
    parts.append(_labels_told(found.labels))
    if found.remarks:
        lines = tuple(
            (str(each.number), at_told(each.at, shop), each.by, each.what, each.says,
             f"written {at_told(each.recorded_at, shop)}")
            for each in found.remarks
        )  # fmt: skip
        parts += [
            "",
            Table(
                "Late entries, corrections, changed rules, reprints, failed prints",
                ("entry", "when", "who", "", "what", ""),
                lines,
            ),
        ]
    parts += [*_probe_checks(found, shop), *told(found, shop)]
    parts += [
        "",
        f"Rules now: {' + '.join(found.rulebooks)}.",
        f"Journal head: {show_head(found.entries, found.head)} (keep it on paper).",
    ]
    return parts


def _listed(found: "Audit", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.core.codes import show
    from holdlog.kitchen.discard import REASONS
    from holdlog.reports.tables import Table

    every = sorted((*found.discards, *found.voided), key=lambda each: (each.at, each.number))
    if len(every) > MOST_LISTED:
        return [f"{count_of(len(every), 'discard')}: ask for fewer days, or --json, to see each."]
    rows = tuple(
        (
            at_told(each.at, shop),
            show(each.code) if each.code else "no label", each.item,
            ", ".join(filter(None, (str(each.amount or "?"), str(each.cost or "")))),
            REASONS.get(each.reason, each.reason), each.by, _marks(each),
        )
        for each in every
    )  # fmt: skip
    return ["", Table("", ("when", "code", "item", "amount", "why", "who", ""), rows)]


def _marks(each: "Ended") -> str:
    void = f"VOID, not counted: {each.voided}" if each.voided else ""
    part, late = "part" if each.part else "", "late entry" if each.late else ""
    return ", ".join(filter(None, (void, part, each.note, late)))


def _sums(total: "Total") -> str:
    from holdlog.core.amounts import show_total

    parts = [show_total(key, base) for key, base in sorted(total.sums.items())]
    if total.unknown:
        parts.append(f"{total.unknown} of unknown amount")
    return ", ".join(parts)


def _costs(total: "Total") -> str:
    from holdlog.core.costs import show_money

    parts = [show_money(currency, number) for currency, number in sorted(total.cost.items())]
    if total.unpriced:
        parts.append(f"{total.unpriced} of unknown cost")
    return ", ".join(parts)


def _in_all(found: "Audit") -> str:
    tubs = count_of(found.overall.containers, "container")
    cost = f" Cost: {_costs(found.overall)}." if found.overall.cost else ""
    return f"In all {tubs}: {_sums(found.overall)}.{cost}"


def _totals(found: "Audit") -> "list[Table | str]":
    from holdlog.kitchen.ended import show_waste
    from holdlog.reports.tables import Table

    priced = bool(found.overall.cost)
    shares = {each.name: show_waste(each) for each in found.balances}
    parts: list[Table | str] = []
    for name, totals in (
        ("reason", found.by_reason), ("item", found.by_item), ("cook", found.by_cook),
        ("unit", found.by_unit),
    ):  # fmt: skip
        heads = (name, "containers", "amount", *(("cost",) if priced else ()))
        lines = tuple(
            (
                each.name or "-", str(each.containers), _sums(each),
                *((_costs(each),) if priced else ()),
                *((shares.get(each.name, ""),) if name == "item" else ()),
            )
            for each in totals
        )  # fmt: skip
        heads = (*heads, "wasted") if name == "item" else heads
        parts += ["", Table(f"By {name}", heads, lines)]
    return parts


def _became(found: "Audit") -> "list[Table | str]":
    from holdlog.core.amounts import show_total
    from holdlog.kitchen.ended import show_waste
    from holdlog.reports.tables import Table

    balance = found.balance
    if not balance.ended:
        return []
    rows = []
    for how in sorted({*balance.ended, *balance.unknown}):
        sums = [show_total(key, base) for key, base in sorted(balance.ended.get(how, {}).items())]
        if how in balance.unknown:
            sums.append(f"{balance.unknown[how]} of unknown amount")
        rows.append((how, ", ".join(sums)))
    return [
        "",
        Table("What became of what ended", ("", "amount"), tuple(rows)),
        f"Wasted, of known amounts: {show_waste(balance)}.",
        "",
    ]


def _labels_told(found: "Labels") -> str:
    counts = (
        (found.copies, "copies"), (found.tags, "discard tags"),
        (found.unseen, "not seen to come out"),
    )  # fmt: skip
    among = ", ".join(f"{count} {name}" for count, name in counts if count)
    failed = f"; {found.failed} not printed" if found.failed else ""
    return f"Labels: {found.made} made{f' ({among})' if among else ''}{failed}."


def _probe_checks(found: "Audit", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.reports.tables import Table

    if not found.probes:
        return []
    rows = tuple(
        (str(each.number), at_told(each.at, shop), each.by, each.probe, each.says)
        for each in found.probes
    )
    heads = ("entry", "when", "who", "probe", "what")
    return ["", Table("Checks of the probes, failed ones first", heads, rows)]


def _audit_json(found: "Audit", shop: "Kitchen") -> dict[str, Any]:
    return {
        "from": found.first.isoformat(),
        "to": found.last.isoformat(),
        "discards": [_ended_json(each, shop) for each in found.discards],
        "voided": [_ended_json(each, shop) for each in found.voided],
        "by_reason": [_total_json(each) for each in found.by_reason],
        "by_item": [_total_json(each) for each in found.by_item],
        "by_cook": [_total_json(each) for each in found.by_cook],
        "by_unit": [_total_json(each) for each in found.by_unit],
        "overall": _total_json(found.overall),
        "ended": dict(found.ended),
        "became": [_balance_json(each) for each in (*found.balances, found.balance)],
        "labels": asdict(found.labels),
        "remarks": [
            {
                "entry": each.number,
                "at": moment(each.at, shop),
                "recorded_at": moment(each.recorded_at, shop),
                "by": each.by,
                "subject": each.subject,
                "what": each.what,
                "says": each.says,
            }
            for each in found.remarks
        ],
        "probe_checks": [
            {
                "entry": each.number,
                "at": moment(each.at, shop),
                "by": each.by,
                "probe": each.probe,
                "passed": each.passed,
                "says": each.says,
            }
            for each in found.probes
        ],
        **records_of(found, shop),
        "rulebooks": list(found.rulebooks),
        "entries": found.entries,
        "head": found.head,
    }


def _ended_json(each: "Ended", shop: "Kitchen") -> dict[str, Any]:
    return {
        "entry": each.number,
        "at": moment(each.at, shop),
        "code": each.code or None,
        "item": each.item,
        "unit": each.unit,
        "reason": each.reason,
        "amount": str(each.amount) if each.amount else None,
        "cost": str(each.cost) if each.cost else None,
        "part": each.part,
        "by": each.by,
        "note": each.note,
        "late": each.late,
        "voided": each.voided or None,
    }


def _total_json(each: "Total") -> dict[str, Any]:
    return {
        "name": each.name,
        "containers": each.containers,
        "discards": each.discards,
        "sums": _numbers(each.sums),
        "unknown": each.unknown,
        "cost": {currency: str(number) for currency, number in each.cost.items()},
        "unpriced": each.unpriced,
    }


def _balance_json(each: "Balance") -> dict[str, Any]:
    return {
        "name": each.name,
        "ended": {how: _numbers(sums) for how, sums in each.ended.items()},
        "unknown": each.unknown,
        "waste": _numbers(each.waste),
    }


def _numbers(sums: "Mapping[str, Decimal]") -> dict[str, str]:
    return {key: f"{number.normalize():f}" for key, number in sums.items()}
