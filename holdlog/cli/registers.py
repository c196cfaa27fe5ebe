"""Registers: what the journal knows as rows, for spreadsheets and inspectors."""

import sys
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.show import emit, note, say, tell_beside
from holdlog.cli.wiring import Json, kitchen, spare

if TYPE_CHECKING:
    from collections.abc import Iterable

    from holdlog.core.csv_text import Cell
    from holdlog.kitchen.registers import Register

EVERY = 50_000


def register(
    context: typer.Context,
    name: Annotated[
        str, typer.Argument(metavar="NAME", help="Which; none: their names.", show_default=False)
    ] = "",
    csv: Annotated[
        str,
        typer.Option(
            "--csv", metavar="FILE", help="Into this file; - is the screen.", show_default=False
        ),
    ] = "",
    first: Annotated[
        str, typer.Option("--from", help="First day, 2026-06-01.", show_default=False)
    ] = "",
    last: Annotated[str, typer.Option("--to", help="Last day.", show_default=False)] = "",
    replace: Annotated[bool, typer.Option("--replace", help="Even if the file is there.")] = False,
    json: Json = False,
) -> None:
    r"""The registers: what was binned, read, held, labelled and corrected, row by row.

    CSV opens in a spreadsheet; text that it would run as a formula gets an apostrophe in front
    (docs/export.md).

    \b
    Examples:
      holdlog register
      holdlog register discards --from 2026-06-01 --to 2026-06-30 --csv discards.csv
      holdlog register on-hand --json
    """
    from holdlog.core.errors import Mistake
    from holdlog.core.moments import read_day
    from holdlog.kitchen.registers import Asked, find, registers, span
    from holdlog.reports.tables import Table

    if not name:
        known = [{"name": each.name, "says": each.says} for each in registers().values()]
        if json:
            emit(known)
        else:
            rows = tuple((each["name"], each["says"]) for each in known)
            say([Table("", ("register", "what it holds"), rows)])
        return
    wanted = find(name)
    if wanted.now and (first or last):
        raise Mistake("no-period", f"{wanted.name} is of now.", "Leave --from and --to out.")
    if bool(csv) == json:
        raise Mistake(
            "csv-or-json", "In which form?", "Say --csv FILE (- is the screen) or --json."
        )
    shop = kitchen(context)
    since, until = span(shop, read_day(first) if first else None, read_day(last) if last else None)
    with shop.db.reading() as conn:
        asked = Asked(shop, conn, shop.moment(conn), since, until)
        if json:
            emit([dict(zip(wanted.keys, row, strict=True)) for row in wanted.rows(asked)])
        else:
            spare(shop, csv)
            _write(wanted, wanted.rows(asked), csv, replace=replace)


def _write(
    wanted: "Register", rows: "Iterable[tuple[Cell, ...]]", csv: str, *, replace: bool
) -> None:
    from holdlog.core.csv_text import lines
    from holdlog.core.errors import Mistake
    from holdlog.core.visible import visible
    from holdlog.core.whole_files import writing_text

    to_screen = csv == "-"
    file = Path(csv)
    if not to_screen and file.exists() and not replace:
        raise Mistake("file-exists", f"{file} is there already.", "Name another, or --replace.")
    count = -1  # the heads are no row
    out: Any
    hint = "Name a file in a folder that you may write to: --csv."
    tell_beside()
    with nullcontext(sys.stdout) if to_screen else writing_text(file, hint) as out:
        for count, line in enumerate(lines(wanted.heads, rows)):
            out.write(visible(line, lines=True) if to_screen and sys.stdout.isatty() else line)
            if not to_screen and count and count % EVERY == 0:
                note(f"{count:,} rows …")
    if not to_screen:
        say([f"{count:,} row{'' if count == 1 else 's'} of {wanted.name} in {file}."])
