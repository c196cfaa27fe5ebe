"""Reading files in: items, and the opening inventory. All rows, or none."""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.show import count_of, emit, looks_recalled, row_json, rows_told, say
from holdlog.cli.wiring import By, Json, kitchen

if TYPE_CHECKING:
    from holdlog.kitchen.import_in import Imported
    from holdlog.kitchen.import_inventory import StockIn
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.reports.tables import Table

File = Annotated[
    str, typer.Argument(metavar="FILE", help="The file; - is what is piped in.", show_default=False)
]
Yes = Annotated[bool, typer.Option("--yes", help="Record it. Else it only looks.")]
DryRun = Annotated[bool, typer.Option("--dry-run", help="Only look (as without --yes).")]
Example = Annotated[bool, typer.Option("--example", help="Print a file to begin with.")]
FAULTS_SHOWN = 50


def import_items(
    context: typer.Context,
    file: File = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    example: Example = False,
    by: By = "",
    json: Json = False,
) -> None:
    r"""Read items in from a file, as holdlog register items writes it.

    It looks first and records nothing; --yes records all rows, or none where one is wrong.
    Several allergens stand in one cell with | between them.

    \b
    Examples:
      holdlog import items --example
      holdlog import items items.csv
      holdlog import items items.csv --yes --by JR
    """
    from holdlog.kitchen.import_items import COLUMNS, EXAMPLE
    from holdlog.kitchen.import_items import import_items as job

    if example:
        _print_example(COLUMNS, EXAMPLE)
        return
    name, data = _given(file)
    shop = kitchen(context)
    done = job(shop, by, name, data, yes=yes and not dry_run)
    _tell(
        done, "items", json=json,
        as_json=lambda made: {"item": made.fact.name, "what": made.what},
        lines=lambda made: [f"{made.fact.name} ({made.fact.category}): {made.what}"],
    )  # fmt: skip


def import_inventory(
    context: typer.Context,
    file: File = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    example: Example = False,
    by: By = "",
    json: Json = False,
) -> None:
    r"""Read in what stands in the kitchen already: the opening inventory.

    It looks first and records nothing; --yes records all rows, or none where one is wrong. Food
    whose day of making or opening nobody knows is left out, and binned. Days in the freezer
    before today count only where the row names the evidence they rest on.

    A lot that looks like a recalled one is refused until somebody has compared them: is it
    another, the column other lot says yes. Of the very lot that is recalled, all goes on hold.

    \b
    Examples:
      holdlog import inventory --example
      holdlog import inventory inventory.csv
      holdlog import inventory inventory.csv --yes --by JR
    """
    from holdlog.kitchen.import_inventory import COLUMNS, EXAMPLE
    from holdlog.kitchen.import_inventory import import_inventory as job

    if example:
        _print_example(COLUMNS, EXAMPLE)
        return
    name, data = _given(file)
    shop = kitchen(context)
    done = job(shop, by, name, data, yes=yes and not dry_run)
    _tell(
        done, "inventory", json=json,
        as_json=lambda made: {
            "containers": [row_json(row, shop) for row in made.rows],
            "looks_like_recalled": [each.what for each in made.near],
        },
        lines=lambda made: _stock_told(made, shop),
    )  # fmt: skip


def _stock_told(made: "StockIn", shop: "Kitchen") -> list[str]:
    now = shop.now()
    past = any(row.use_by is not None and row.use_by < now for row in made.rows)
    spent = any(row.state == "frozen" and row.days_left == 0 for row in made.rows)
    says = ["PAST ITS DATE, discard:"] if past or spent else []
    says += ["ON HOLD, do not serve:"] if any(row.verdict == "hold" for row in made.rows) else []
    says += [looks_recalled(each, made.lot) for each in made.near]
    return [*says, *rows_told(made.rows, shop)]


def _given(file: str) -> tuple[str, bytes]:
    from holdlog.core.errors import Mistake
    from holdlog.core.files import is_there
    from holdlog.core.whole_files import read
    from holdlog.kitchen.rows_in import MAX_BYTES

    if not file:
        raise Mistake("no-file", "Which file?", "Name it; to begin with one: --example.")
    if file == "-":
        return "standard input", sys.stdin.buffer.read(MAX_BYTES + 1)
    path = Path(file)
    if not is_there(path):
        raise Mistake("no-file", f"There is no file {file}.", "To begin with one: --example.")
    return path.name, read(path, most=MAX_BYTES)


def _print_example(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    from holdlog.core.csv_text import MARK, lines

    for line in lines(columns, rows):
        print(line.removeprefix(MARK).removesuffix("\r\n"))


def _tell(
    done: "Imported[Any]",
    what: str,
    *,
    json: bool,
    as_json: Callable[[Any], dict[str, Any]],
    lines: Callable[[Any], list[str]],
) -> None:
    """What each row came to, and every fault; with a fault it leaves with 2."""
    from holdlog.core.errors import Mistake

    if json:
        emit(
            {
                "file": done.file,
                "recorded": done.recorded,
                "rows": [{"row": number, **as_json(made)} for number, made in done.rows],
                "faults": [
                    {
                        "row": each.row,
                        "column": each.column or None,
                        "says": " ".join(filter(None, (each.says, each.hint))),
                    }
                    for each in done.faults
                ],
                "earlier": list(done.earlier),
            }
        )
        if done.faults:
            raise typer.Exit(2)
        return
    parts: list[Table | str] = []
    if not done.faults:
        for number, made in done.rows:
            parts += [f"row {number}:", *(f"  {line.strip()}" for line in lines(made))]
        rows = count_of(len(done.rows), "row")
        parts.append("")
        if done.recorded:
            parts.append(f"{rows} of {done.file} recorded.")
            if what == "inventory":
                parts.append("Their labels: holdlog label --waiting")
        else:
            if what == "inventory":
                # The same tub twice is food that nobody has.
                parts += [f"Read in before: {each}. Is any row in both?" for each in done.earlier]
            parts.append(f"{rows} of {done.file} can be recorded; NOTHING IS RECORDED YET: --yes")
        say(parts)
        return
    told: set[str] = set()
    for each in done.faults[:FAULTS_SHOWN]:
        # A list of all units or categories is read once.
        parts.append(f"{each.where}: {each.says}" if each.hint in told else str(each))
        told.add(each.hint)
    if len(done.faults) > FAULTS_SHOWN:
        parts.append(f"and {len(done.faults) - FAULTS_SHOWN} more (--json names all)")
    say(parts)
    raise Mistake(
        "bad-rows",
        f"{done.file} has {count_of(len(done.faults), 'fault')}: nothing was recorded.",
        "Put them right, and read it in again.",
    )
