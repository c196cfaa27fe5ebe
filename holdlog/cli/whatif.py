"""Working a date out without recording anything."""

from pathlib import Path
from typing import Annotated

import typer

from holdlog.cli.show import WORDS, emit, in_words
from holdlog.cli.wiring import Json


def add_to(app: typer.Typer) -> None:
    """Add this command."""
    app.command()(whatif)


def whatif(
    file: Annotated[str, typer.Argument(metavar="FILE", help="A scenario (TOML); - reads it in.")],
    check: Annotated[
        bool, typer.Option("--check", help="Leave with 1 if an [expect] table does not hold.")
    ] = False,
    json: Json = False,
) -> None:
    r"""Work out the dates of a scenario. Nothing is recorded, no kitchen is needed.

    \b
    Examples:
      holdlog whatif soup.toml
      holdlog whatif soup.toml --json --check
    """
    from holdlog.bundled import folder
    from holdlog.core.errors import BadFile
    from holdlog.rules import scenario

    shelf = folder("shared")
    name = Path(file).name

    def find(kind: str, wanted: str) -> tuple[str, str]:
        path = shelf / kind / f"{wanted}.toml"
        if kind == "rulebooks" and ("/" in wanted or wanted.endswith(".toml")):
            path = Path(file).parent / wanted
        if not path.is_file():
            known = ", ".join(sorted(each.stem for each in (shelf / kind).glob("*.toml")))
            what = "rulebook" if kind == "rulebooks" else "category"
            raise BadFile("bad-scenario", (f"there is no {what} {wanted!r} (known: {known})",))
        return _text(path), path.name

    text = typer.get_text_stream("stdin").read() if file == "-" else _text(Path(file))
    found = scenario.read(
        text, name, lambda book: find("rulebooks", book), lambda kind: find("categories", kind)
    )
    result = scenario.answer(found)
    unmet = scenario.unmet(found, result) if check else []
    if json:
        emit(result)
    else:
        for batch, held in result["batches"].items():
            _tell(batch, found.histories[batch].food.item, held)
        typer.echo(f"As of {result['at']}, by {', '.join(result['rulebooks'])}.")
    for line in unmet:
        typer.echo(line, err=True)
    if unmet:
        raise typer.Exit(1)


def _text(path: Path) -> str:
    from holdlog.core.errors import BadFile

    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise BadFile("no-file", (f"{path}: {error.strerror or error}",)) from error
    except UnicodeDecodeError as error:
        raise BadFile("bad-file", (f"{path}: not a text in UTF-8",)) from error


def _tell(name: str, item: str, held: dict[str, object]) -> None:
    """One batch in words: the verdict, the date, and the rule that binds."""
    from typing import Any, cast

    found = cast("dict[str, Any]", held)
    title = name if name == item else f"{name} ({item})"
    date = ""
    if found["state"] == "frozen":
        left = found["days_left_once_thawed"]
        date = "frozen" if left is None else f"frozen, {left} days left once thawed"
    elif found["use_by"]:
        day = f", day {found['day']} of {found['of']}" if found["day"] is not None else ""
        date = f"use by {found['use_by']}{day}"
    else:
        date = "no limit"
    typer.echo(f"{title}: {WORDS[found['verdict']]}, {date}")
    for each in found["basis"]:
        mark = "*" if each["binds"] else "-"
        when = f" [{each['limit']}]" if each["limit"] else ""
        typer.echo(f"  {mark} {each['cite']}{when}: {each['says']}")
    for caution in found["cautions"]:
        typer.echo(f"  ! {in_words(caution)}")
