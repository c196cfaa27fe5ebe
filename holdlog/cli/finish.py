"""The end of a job that makes containers: their labels, and what the cook is told."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import typer

from holdlog.cli.show import count_of, emit, note, printed_json, row_json, rows_told, say
from holdlog.cli.wiring import labels_folder
from holdlog.core.codes import show

if TYPE_CHECKING:
    from pathlib import Path

    from holdlog.core.errors import HoldlogError
    from holdlog.journal.on_hand import ContainerRow
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.label import Printed, Ready
    from holdlog.kitchen.prep import Batch, Recorded


def record_and_finish(
    context: typer.Context,
    shop: "Kitchen",
    by: str,
    batch: "Batch",
    to: str,
    dpi: int,
    *,
    tape: bool,
    json: bool,
) -> None:
    """Record a batch, then make its labels and show what was done."""
    from holdlog.kitchen.prep import record

    recorded = record(shop, by, batch)
    finish(
        context, shop, by, list(recorded.rows), to, dpi, tape=tape, json=json,
        headline=_headline(batch, recorded),
    )  # fmt: skip


def _headline(batch: "Batch", recorded: "Recorded") -> str:
    tubs = count_of(len(recorded.rows), "container")
    amount = f", {batch.amount}" if batch.amount else ""
    return f"{recorded.batch}: {batch.item.name}{amount}, {tubs} {batch.kind}."


def finish(
    context: typer.Context,
    shop: "Kitchen",
    by: str,
    rows: "list[ContainerRow]",
    to: str,
    dpi: int,
    *,
    tape: bool,
    json: bool,
    headline: str,
) -> None:
    """Make the labels of ``rows`` and show what was done. The rows are recorded already: a
    label that cannot be made leaves them as they are, and says what to write on tape.
    """
    from holdlog.kitchen.label import moved
    from holdlog.kitchen.label import tape as tape_lines

    codes = [row.code for row in rows]
    folder = None if tape else labels_folder(context, to)
    printed, by_hand, failed = _labels(shop, by, codes, folder, dpi)
    rows = _as_labelled(shop, rows)
    if json:
        data: dict[str, Any] = {
            "containers": [row_json(row, shop) for row in rows],
            "printed": printed_json(printed, shop),
            "tape": [tape_lines(shop, each) for each in by_hand],
        }
        if failed is not None:
            data["error"] = {"code": failed.code, "says": failed.sentence, "hint": failed.hint}
        emit(data)
    else:
        lines = [headline, *rows_told(rows, shop), *_beside(rows)]
        if by_hand:
            lines += _cooling(by_hand)
            lines += [moved(shop, each) for each in by_hand if moved(shop, each)]
            lines.append("Write on tape:" if len(by_hand) == 1 else "Write on tape, one each:")
            for each in by_hand:
                lines += ["", *(f"    {text}" for text in tape_lines(shop, each))]
        if printed is not None:
            lines += _cooling(printed.labels)
            lines += [moved(shop, each) for each in printed.labels if moved(shop, each)]
            lines.append(f"Labels: {printed.files[-1]}")
            lines += [f"Look at the label: {warning}" for warning in printed.warnings]
        say(lines)
    if failed is not None:
        note(failed.line())
        raise typer.Exit(failed.exit_code)


def _as_labelled(shop: "Kitchen", rows: "list[ContainerRow]") -> "list[ContainerRow]":
    """The rows once more: a fresh label frees a date that an old one had bound."""
    from holdlog.journal import on_hand

    with shop.db.reading() as conn:
        return [on_hand.find(conn, shop.site, row.code) or row for row in rows]


def _labels(
    shop: "Kitchen", by: str, codes: list[str], folder: "Path | None", dpi: int
) -> "tuple[Printed | None, Sequence[Ready], HoldlogError | None]":
    """The labels as files; or, where there is no printer or that fails, to write by hand."""
    from holdlog.core.errors import HoldlogError
    from holdlog.kitchen.label import print_labels, write_by_hand

    failed: HoldlogError | None = None
    if folder is not None:
        try:
            return print_labels(shop, by, codes, folder, dpi=dpi), (), None
        except KeyboardInterrupt:
            return None, (), _stopped(codes[0])
        except HoldlogError as error:
            failed = error
    try:
        return None, write_by_hand(shop, by, codes), failed
    except HoldlogError as error:
        return None, (), failed or error


def _stopped(code: str) -> "HoldlogError":
    from holdlog.core.errors import Fault

    return Fault(
        "stopped",
        "Stopped before the label was made; what is shown above is recorded.",
        f"Make the label with: holdlog label {show(code)}",
    )


def _cooling(labels: "Sequence[Ready]") -> list[str]:
    """When the next readings are due, for a batch that is still cooling."""
    cooling = next((each.label for each in labels if each.label.purpose == "cooling"), None)
    if cooling is None:
        return []
    times = cooling.cooling_deadlines or ("",) * len(cooling.cooling_limits)
    wanted = " and ".join(
        f"{limit} {by}".rstrip() for limit, by in zip(cooling.cooling_limits, times, strict=True)
    )
    return [f"Read it: {wanted}.", f"Log each: holdlog cool {show(cooling.code)} READING"]


def _beside(rows: "list[ContainerRow]") -> list[str]:
    """What the cook is told beside the dates, once for all containers."""
    words = {
        "no-limit-known": "No rule here sets a limit: the person in charge decides. Next time say "
        "--house-days N, or say it once for the item: holdlog item add NAME --house-days N",
        "assess": "Treated as TCS until a product assessment says otherwise.",
        "from-memory": "A rule that binds was not seen in its text: check it with the authority.",
    }
    found = dict.fromkeys(word for row in rows for word in row.cautions if word in words)
    lines = [f"Caution: {words[word]}" for word in found]
    if rows and rows[0].cite:
        lines.append(f"By {rows[0].cite}: {rows[0].says}")
    return lines
