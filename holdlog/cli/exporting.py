"""The journal as a file that anybody can check: export and verify."""

from pathlib import Path
from typing import Annotated

import typer

from holdlog.cli.heads import Heads, HeadsFile, head_says, heads_given, heads_json, typed_right
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

    Any program with SHA-256 can check it (docs/export.md). Keep the head on paper: without one
    nobody can tell whether the end was cut off (docs/proof.md).

    \b
    Example:
      holdlog export --to journal.jsonl
    """
    from holdlog.core.chain import WHOLE, show_head
    from holdlog.kitchen.export import export as job

    shop = kitchen(context)
    done = job(
        shop, spare(shop, str(to)), replace=replace, told=lambda count: note(f"{count:,} entries …")
    )
    if json:
        emit({"file": str(done.file), "entries": done.count, "head": done.head})
    else:
        say([f"{done.count:,} entries in {done.file}.",
             f"Journal head, for paper: {show_head(done.count, done.head, WHOLE)}"])  # fmt: skip


def verify(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="What holdlog export has written.")],
    head: Heads = [],  # noqa: B006
    heads: HeadsFile = "",
    json: Json = False,
) -> None:
    r"""Check an exported journal by its hashes alone. Leaves with 1 where it is not whole, or
    where a head that was kept is not of it.

    \b
    Examples:
      holdlog verify journal.jsonl
      holdlog verify journal.jsonl --head "1204 9f3a1c22"
    """
    from holdlog.core.chain import show_head
    from holdlog.core.errors import Mistake
    from holdlog.core.files import open_file
    from holdlog.core.journal_lines import LONGEST_LINE
    from holdlog.core.journal_lines import verify as job
    from holdlog.core.whole_files import why

    kept = heads_given(head, heads)
    try:
        opened = open_file(file)
    except OSError as error:
        raise Mistake(
            "no-file",
            f"{file} cannot be read: {why(error, file)}.",
            "holdlog export --to FILE makes one.",
        ) from error
    with opened as lines:
        found = job(iter(lambda: lines.readline(LONGEST_LINE + 1), b""), kept)
    if json:
        emit({"whole": not found.fault, "entries": found.count, "site": found.site,
              "head": found.head, "head_compared": bool(kept), "heads": heads_json(found.compared),
              "fault": found.fault or None})  # fmt: skip
    else:
        whole = f"Whole: {found.count:,} entries of {found.site}, head "
        says = [head_says(each) for each in found.compared] or [
            "Whether entries after it were cut off, only a head from paper tells: --head."
        ]
        say([f"NOT WHOLE. {found.fault}"] if found.fault else
            [whole + f"{show_head(found.count, found.head)}."])  # fmt: skip
        say(says if found.compared or not found.fault else [])
        say(typed_right(found.compared))
    if not found.good:
        raise typer.Exit(1)
