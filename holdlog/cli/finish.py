"""The end of a job that makes containers: their labels, and what the cook is told."""

from typing import TYPE_CHECKING, Any

import typer

from holdlog.cli.show import emit, note, printed_json, row_json, row_line, say
from holdlog.cli.wiring import labels_folder, resolution

if TYPE_CHECKING:
    from holdlog.journal.on_hand import ContainerRow
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.label import Printed
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

    resolution(dpi)
    recorded = record(shop, by, batch)
    finish(
        context, shop, by, list(recorded.rows), to, dpi, tape=tape, json=json,
        headline=_headline(batch, recorded),
    )  # fmt: skip


def _headline(batch: "Batch", recorded: "Recorded") -> str:
    count = len(recorded.rows)
    tubs = f"{count} container{'' if count == 1 else 's'}"
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
    from holdlog.core.errors import HoldlogError
    from holdlog.kitchen.label import moved, print_labels, ready
    from holdlog.kitchen.label import tape as tape_lines

    printed: Printed | None = None
    failed: HoldlogError | None = None
    if not tape:
        try:
            printed = print_labels(
                shop, by, [row.code for row in rows], labels_folder(context, to),
                dpi=resolution(dpi),
            )  # fmt: skip
        except HoldlogError as error:
            failed = error
    if json:
        data: dict[str, Any] = {
            "containers": [row_json(row, shop) for row in rows],
            "printed": printed_json(printed, shop),
        }
        if failed is not None:
            data["error"] = {"code": failed.code, "says": failed.sentence, "hint": failed.hint}
        emit(data)
    else:
        lines = [headline, *(row_line(row, shop) for row in rows)]
        lines += _beside(rows)
        if printed is None:
            lines.append("Write on tape:")
            with shop.db.reading() as conn:
                for row in rows:
                    told = tape_lines(shop, ready(shop, conn, row.code))
                    lines += ["", *(f"    {text}" for text in told)]
        else:
            lines += [moved(shop, each) for each in printed.labels if moved(shop, each)]
            lines.append(f"Labels: {printed.files[-1]}")
            lines += [f"Look at the label: {warning}" for warning in printed.warnings]
        say(lines)
    if failed is not None:
        note(failed.line())
        raise typer.Exit(failed.exit_code)


def _beside(rows: "list[ContainerRow]") -> list[str]:
    """What the cook is told beside the dates, once for all containers."""
    words = {
        "no-limit-known": "No rule here sets a limit: the person in charge decides. Set one for "
        "the item with: holdlog item add … --house-days N",
        "assess": "Treated as TCS until a product assessment says otherwise.",
        "from-memory": "A rule that binds was not seen in its text: check it with the authority.",
    }
    found = dict.fromkeys(word for row in rows for word in row.cautions if word in words)
    lines = [f"Caution: {words[word]}" for word in found]
    if rows and rows[0].cite:
        lines.append(f"By {rows[0].cite}: {rows[0].says}")
    return lines
