"""The journal as a file that anybody can check: export and verify."""

from pathlib import Path
from typing import Annotated

import typer

from holdlog.cli.show import emit, note, say
from holdlog.cli.wiring import Json, kitchen, spare


def export(
    context: typer.Context,
    to: Annotated[
        Path, typer.Option("--to", help="The file to write.", metavar="FILE", show_default=False)
    ],
    replace: Annotated[bool, typer.Option("--replace", help="Even if it is there.")] = False,
    json: Json = False,
) -> None:
    r"""Write the whole journal to a file, one entry a line.

    Any program with SHA-256 can check it (docs/export.md). Keep the head on paper: without it
    nobody can tell whether the end was cut off.

    \b
    Example:
      holdlog export --to journal.jsonl
    """
    from holdlog.kitchen.export import export as job

    shop = kitchen(context)
    done = job(
        shop, spare(shop, str(to)), replace=replace, told=lambda count: note(f"{count:,} entries …")
    )
    if json:
        emit({"file": str(done.file), "entries": done.count, "head": done.head})
    else:
        say([f"{done.count:,} entries in {done.file}.",
             f"Head, for paper: {done.head}"])  # fmt: skip


def verify(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="What holdlog export has written.")],
    head: Annotated[
        str,
        typer.Option(
            "--head", help="The head kept on paper: 8 characters or more.", show_default=False
        ),
    ] = "",
    json: Json = False,
) -> None:
    r"""Check an exported journal by its hashes alone. Leaves with 1 where it is not whole.

    \b
    Examples:
      holdlog verify journal.jsonl
      holdlog verify journal.jsonl --head 6ed798a0
    """
    from holdlog.core.errors import Mistake
    from holdlog.core.journal_lines import LONGEST_LINE, SHORTEST_HEAD
    from holdlog.core.journal_lines import verify as job

    said = head.strip().lower()
    if said and (len(said) < SHORTEST_HEAD or set(said) - set("0123456789abcdef")):
        raise Mistake(
            "bad-head", f"{head!r} is no head.", "It is 8 to 64 characters, 0 to 9 and a to f."
        )
    if not file.is_file():
        raise Mistake("no-file", f"There is no file {file}.", "holdlog export --to FILE makes one.")
    with file.open("rb") as lines:
        found = job(iter(lambda: lines.readline(LONGEST_LINE + 1), b""), said)
    if json:
        emit({"whole": not found.fault, "entries": found.count, "site": found.site,
              "head": found.head, "head_compared": found.compared,
              "fault": found.fault or None})  # fmt: skip
    elif found.fault:
        say([f"NOT WHOLE. {found.fault}"])
    else:
        say([f"Whole: {found.count:,} entries of {found.site}, head {found.head[:8]}.",
             "The head is the one given." if found.compared else
             "Whether entries after it were cut off, only a head from paper tells."])  # fmt: skip
    if found.fault:
        raise typer.Exit(1)
