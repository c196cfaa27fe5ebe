"""The bin: discard, and the audit of what was discarded."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.show import count_of, emit, moment, row_json, say
from holdlog.cli.wiring import At, By, Code, Json, asks, kitchen
from holdlog.cli.wiring import moment as read_when

if TYPE_CHECKING:
    from holdlog.kitchen.audit import Audit, Total
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.reports.tables import Table


def discard(
    context: typer.Context,
    code: Code,
    reason: Annotated[
        str,
        typer.Option(
            "--reason",
            "-r",
            help="date, cooling, warm, no-label, off, dropped, over-made, other.",
            show_default=False,
        ),
    ] = "",
    amount: Annotated[
        str,
        typer.Option("--amount", help="How much: 1.5kg. Else what was in it.", show_default=False),
    ] = "",
    note: Annotated[str, typer.Option("--note", help="In a few words.", show_default=False)] = "",
    at: At = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Record that a container was binned.

    \b
    Examples:
      holdlog discard H7K3-9QX2 -r date --by MK
      holdlog discard H7K3-9QX2 -r other --amount 500g --note "lid was off"
    """
    from holdlog.core.amounts import read_amount
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.discard import REASONS
    from holdlog.kitchen.discard import discard as job

    if not reason:
        known = ", ".join(f"{word} ({says})" for word, says in REASONS.items())
        if not asks():
            raise Mistake("no-reason", "Why is it binned?", f"Say -r with one of: {known}.")
        reason = typer.prompt(f"Why? {known}", default="date")
    shop = kitchen(context)
    done = job(
        shop, by, code, read_when(shop, at), reason, read_amount(amount) if amount else None, note
    )
    if json:
        emit({**row_json(done.row, shop), "discarded": str(done.amount or ""), "why": done.reason})
    else:
        much = f", {done.amount}" if done.amount else ", amount not known"
        say([f"Binned: {done.row.item_name}{much} ({REASONS[done.reason]})."])


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
    json: Json = False,
) -> None:
    r"""What was discarded in a period: each one, and totals by reason, item and cook.

    \b
    Examples:
      holdlog audit
      holdlog audit --from 2026-06-01 --to 2026-06-30 --item stock
    """
    from datetime import timedelta

    from holdlog.core.moments import local_date, read_day
    from holdlog.kitchen.audit import audit as job
    from holdlog.kitchen.discard import reason_of

    shop = kitchen(context)
    today = local_date(shop.now(), shop.where)
    until = read_day(last) if last else today
    since = read_day(first) if first else until - timedelta(days=6)
    only = reason_of(reason) if reason else ""
    found = job(shop, since, until, reason=only, item=item, cook=cook)
    if json:
        emit(_audit_json(found, shop))
    else:
        say(_audit_parts(found, shop))


def _sums(total: "Total") -> str:
    from holdlog.core.amounts import show_total

    parts = [show_total(key, base) for key, base in sorted(total.sums.items())]
    if total.unknown:
        parts.append(f"{total.unknown} of unknown amount")
    return ", ".join(parts)


def _audit_parts(found: "Audit", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.core.codes import show
    from holdlog.core.moments import show_day, show_moment
    from holdlog.kitchen.discard import REASONS
    from holdlog.reports.tables import Table

    period = (
        f"{show_day(found.first)} {found.first.year} to {show_day(found.last)} {found.last.year}"
    )
    parts: list[Table | str] = [f"{shop.name} · discarded, {period}"]
    if not found.discards:
        parts.append("Nothing was discarded in these days.")
    else:
        rows = tuple(
            (
                show_moment(each.at, shop.where), show(each.code), each.item,
                str(each.amount or "?"), REASONS.get(each.reason, each.reason), each.by,
                ", ".join(filter(None, (each.note, "late entry" if each.late else ""))),
            )
            for each in found.discards
        )  # fmt: skip
        heads = ("when", "code", "item", "amount", "why", "who", "")
        parts += ["", Table("", heads, rows)]
        parts += _totals(found)
        tubs = count_of(found.overall.containers, "container")
        parts += ["", f"In all {tubs}: {_sums(found.overall)}."]
    ends = ", ".join(f"{count} {name}" for name, count in found.ended if count)
    parts.append(f"Containers that ended: {ends or 'none'}.")
    if found.remarks:
        lines = tuple(
            (str(each.number), show_moment(each.at, shop.where), each.by, each.what, each.says,
             f"written {show_moment(each.recorded_at, shop.where)}")
            for each in found.remarks
        )  # fmt: skip
        parts += [
            "",
            Table(
                "Late entries, corrections, changed rules, reprints",
                ("entry", "when", "who", "", "what", ""),
                lines,
            ),
        ]
    parts += [
        "",
        f"Rules: {' + '.join(found.rulebooks)}.",
        f"Journal: {found.entries} entries, head {found.head[:16]} (keep it on paper).",
    ]
    return parts


def _totals(found: "Audit") -> "list[Table | str]":
    from holdlog.reports.tables import Table

    parts: list[Table | str] = []
    for name, totals in (
        ("reason", found.by_reason), ("item", found.by_item), ("cook", found.by_cook)
    ):  # fmt: skip
        lines = tuple((each.name, str(each.containers), _sums(each)) for each in totals)
        parts += ["", Table(f"By {name}", (name, "containers", "amount"), lines)]
    return parts


def _audit_json(found: "Audit", shop: "Kitchen") -> dict[str, Any]:
    def totals(lines: "tuple[Total, ...]") -> list[dict[str, Any]]:
        return [
            {
                "name": each.name,
                "containers": each.containers,
                "sums": {key: str(base) for key, base in each.sums.items()},
                "unknown": each.unknown,
            }
            for each in lines
        ]

    return {
        "from": found.first.isoformat(),
        "to": found.last.isoformat(),
        "discards": [
            {
                "entry": each.number,
                "at": moment(each.at, shop),
                "code": each.code,
                "item": each.item,
                "reason": each.reason,
                "amount": str(each.amount) if each.amount else None,
                "by": each.by,
                "note": each.note,
                "late": each.late,
            }
            for each in found.discards
        ],
        "by_reason": totals(found.by_reason),
        "by_item": totals(found.by_item),
        "by_cook": totals(found.by_cook),
        "overall": totals((found.overall,))[0],
        "ended": dict(found.ended),
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
        "rulebooks": list(found.rulebooks),
        "entries": found.entries,
        "head": found.head,
    }
