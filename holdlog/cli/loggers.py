"""The file of a unit's logger, read in."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.show import at_told, count_of, emit, row_json, rows_told, say
from holdlog.cli.units import NAMED, UnitArg
from holdlog.cli.wiring import By, Json, kitchen, spare

if TYPE_CHECKING:
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.logger_file import Told
    from holdlog.kitchen.logger_import import Imported
    from holdlog.reports.tables import Table

# Refused rows that a screen names; --json and --refused name all.
REFUSED_SHOWN = 10


def import_(
    context: typer.Context,
    unit: UnitArg,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The logger's CSV file.")],
    scale: Annotated[
        str, typer.Option("--scale", help="F or C, if the file does not say.", show_default=False)
    ] = "",
    day_first: Annotated[
        bool, typer.Option("--day-first", help="03/04 is the 3rd of April.")
    ] = False,
    month_first: Annotated[
        bool, typer.Option("--month-first", help="03/04 is the 4th of March.")
    ] = False,
    utc: Annotated[bool, typer.Option("--utc", help="Its times are UTC.")] = False,
    column: Annotated[
        str,
        typer.Option(
            "--column", help="The temperature: its heading or number.", show_default=False
        ),
    ] = "",
    time_column: Annotated[
        str,
        typer.Option("--time-column", help="The times: heading or number.", show_default=False),
    ] = "",
    decimal: Annotated[
        str, typer.Option("--decimal", help='"," or "." in its figures.', show_default=False)
    ] = "",
    one_scale: Annotated[
        bool, typer.Option("--one-scale", help="A jump like that from °F to °C did happen.")
    ] = False,
    refused: Annotated[
        str,
        typer.Option(
            "--refused",
            help="Write all refused rows to this file.",
            show_default=False,
            metavar="FILE",
        ),
    ] = "",
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what would come of it.")
    ] = False,
    by: By = "",
    json: Json = False,
) -> None:
    r"""Read a logger's file for a unit, and hold what stood there beyond the limit.

    The same file again changes nothing. What cannot be read with certainty is refused, with the
    number of its line; time without readings is unknown, and never good.

    \b
    Examples:
      holdlog unit import walk-in walk-in.csv --dry-run
      holdlog unit import walk-in walk-in.csv
    """
    from holdlog.core.errors import Mistake
    from holdlog.core.whole_files import read
    from holdlog.kitchen.logger_import import import_readings
    from holdlog.kitchen.logger_text import MAX_BYTES

    shop = kitchen(context)
    told = _told(scale, column, time_column, decimal, day_first=day_first,
                 month_first=month_first, utc=utc, one_scale=one_scale)  # fmt: skip
    data = read(file, "Give the path of a CSV file; a long one in parts, a year each.", MAX_BYTES)
    if refused and spare(shop, refused).exists() and Path(refused).samefile(file):
        raise Mistake("same-file", f"{refused} is what is read in.", "Name another: --refused.")
    done = import_readings(
        shop, by, shop.unit(unit), file.name, data, told, tell=_progress(), dry_run=dry_run
    )
    if json:
        emit(_imported_json(done, shop))
    else:
        say(_imported_parts(done, shop, refused))
    if refused:
        _write_refused(done, Path(refused))


def _told(
    scale: str, column: str, time_column: str, decimal: str, *,
    day_first: bool, month_first: bool, utc: bool, one_scale: bool,
) -> "Told":  # fmt: skip
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.logger_file import Told

    if day_first and month_first:
        raise Mistake("two-orders", "Both --day-first and --month-first?", "Say one of them.")
    wanted = scale.strip().upper()
    if wanted not in ("", "F", "C"):
        raise Mistake("bad-scale", f"{scale!r} is no scale.", "Say F or C.")
    if decimal not in ("", ",", "."):
        raise Mistake("bad-decimal", f"{decimal!r} is no decimal sign.", 'Say "," or ".".')
    return Told(
        scale="F" if wanted == "F" else "C" if wanted else None,
        day_first=True if day_first else False if month_first else None,
        column=column or None,
        time_column=time_column or None,
        utc=utc,
        decimal="," if decimal == "," else "." if decimal else None,
        one_scale=one_scale,
    )


def _progress() -> Any:
    """Says how far a long file is, on standard error, where there is a person to see it."""
    import sys

    def tell(done: int, total: int) -> None:
        if sys.stderr.isatty():
            end = "\n" if done == total else ""
            print(f"\rholdlog: line {done:,} of {total:,}", end=end, file=sys.stderr, flush=True)

    return tell


def _write_refused(done: "Imported", file: Path) -> None:
    from holdlog.core.csv_text import lines
    from holdlog.core.whole_files import writing_text

    again = "What is told above stands; reading it in again changes nothing: --refused FILE"
    with writing_text(file, again) as out:
        rows = ((each.line, each.reason, each.text) for each in done.found.refused)
        out.writelines(lines(("line", "reason", "text"), rows))


def _imported_parts(done: "Imported", shop: "Kitchen", refused: str) -> "list[Table | str]":
    from holdlog.cli.unit_words import course_told, limit_told
    from holdlog.core.moments import Instant

    found, put = done.found, done.put
    first, last = (at_told(Instant(found.samples[n][0]), shop) for n in (0, -1))
    count = count_of(len(found.samples), "reading")
    head = "Only tried, nothing is recorded. " if done.dry_run else ""
    parts: list[Table | str] = [
        f"{head}{done.unit.name}: {count} in °{found.scale} from {done.name}, {first} to {last}.",
        (
            f"  {found.lines} lines: {len(found.samples)} read, {len(found.refused)} refused, "
            f"{found.duplicates} repeated, {found.aside} set aside (headings, blanks)."
        ),
        f"  {put.added} new, {put.already} there already, {put.conflicting} at odds with what is "
        "there (the older stays)"
        + (
            f", first on {at_told(put.first_conflict, shop)}."
            if put.first_conflict is not None
            else "."
        ),
    ]
    if put.conflicting:
        parts.append(
            "  Which is right is not known: what either shows beyond the limit counts. Is it the "
            "file of another unit? A second logger in there is a unit of its own."
        )
    parts += [f"  {text}" for text in found.notes]
    shown = found.refused if not refused else ()
    parts += [f"  line {each.line}: {each.reason}: {each.text}" for each in shown[:REFUSED_SHOWN]]
    if len(shown) > REFUSED_SHOWN:
        parts.append(
            f"  and {len(shown) - REFUSED_SHOWN} more refused. All of them: --refused refused.csv"
        )
    if done.course is None:
        return [*parts, f"{done.unit.name}: {limit_told(done.limit, shop)}."]
    parts += [f"Limit: {limit_told(done.limit, shop)}."]
    parts += course_told(done.course, shop, done.unit.name)
    live = [row for row in done.rows if row.ended_at is None]
    gone = [row for row in done.rows if row.ended_at is not None]
    if live:
        parts += ["Stood there in that time:", *rows_told(live[:NAMED], shop)]
        parts += [f"  and {len(live) - NAMED} more (--json)"] if len(live) > NAMED else []
    if gone:
        count = count_of(len(gone), "container")
        parts.append(
            f"{count} that stood there in that time gone: holdlog unit excursions "
            f'"{done.unit.name}"'
        )
    if live:
        parts.append("To keep one: holdlog settle CODE --keep. To bin it: holdlog discard CODE")
    return parts


def _imported_json(done: "Imported", shop: "Kitchen") -> dict[str, Any]:
    from holdlog.cli.show import moment
    from holdlog.cli.unit_words import course_json, limit_json
    from holdlog.core.moments import Instant

    found, put = done.found, done.put
    return {
        "unit": done.unit.name,
        "file": done.name,
        "entry": None if done.dry_run else done.entry,
        "dry_run": done.dry_run,
        "scale": found.scale,
        "column": found.column,
        "first": moment(Instant(found.samples[0][0]), shop),
        "last": moment(Instant(found.samples[-1][0]), shop),
        "lines": found.lines,
        "aside": found.aside,
        "read": len(found.samples),
        "repeated": found.duplicates,
        "refused": [
            {"line": each.line, "reason": each.reason, "text": each.text} for each in found.refused
        ],
        "notes": list(found.notes),
        "added": put.added,
        "already": put.already,
        "conflicting": put.conflicting,
        "first_conflict": moment(put.first_conflict, shop),
        "limit": limit_json(done.limit),
        "beyond": course_json(done.course, shop) if done.course is not None else None,
        "excursions": done.excursions,
        "replaced": done.replaced,
        "containers": [row_json(row, shop) for row in done.rows],
    }
