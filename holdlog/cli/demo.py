"""Three days of an invented kitchen, played through the same commands a cook types."""

import re
import shlex
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Annotated

import typer

ZONE = "America/New_York"


def demo(
    folder: Annotated[
        str, typer.Option("--folder", help="A folder for the journal and the labels.")
    ] = "demo-out",
) -> None:
    r"""Play three invented days at Tern & Tide: prep, the morning check, the bin, the audit.

    \b
    Example:
      holdlog demo --folder demo-out
    """
    from holdlog.bundled import folder as bundled
    from holdlog.cli.door import run
    from holdlog.cli.wiring import stage
    from holdlog.core.errors import Mistake
    from holdlog.core.toml_table import parse

    into = Path(folder)
    journal, labels = into / "kitchen.db", into / "labels"
    if journal.exists():
        raise Mistake(
            "demo-exists",
            f"{journal} is there already.",
            f"Look at it: holdlog --db {journal} due; or choose another --folder.",
        )
    into.mkdir(parents=True, exist_ok=True)
    file = bundled("shared") / "demo" / "three-days.toml"
    steps = parse(file.read_text(encoding="utf-8"), file.name).tables("step")
    first = _first_day()
    for step in steps:
        day = first + timedelta(days=step.whole("day"))
        clock_time = step.text("time")
        command = _filled(step.text("run"), journal, first)
        typer.echo(f"\n— {day:%A} {clock_time}  {step.text('says', '')}".rstrip())
        typer.echo(f"$ holdlog {command}")
        with stage(
            _instant(day, clock_time), seed=f"{day.isoformat()} {clock_time} {command[:40]}"
        ):
            code = run(["--db", str(journal), *_arguments(command, labels)])
        if code:
            raise typer.Exit(code)
    typer.echo("\n— Where everything is")
    typer.echo(f"Labels to look at:  {labels}/*/*.png (and one PDF for each print)")
    typer.echo(f"The morning list:   holdlog --db {journal} due")
    typer.echo(f"Why a date:         holdlog --db {journal} why CODE")
    typer.echo(f"The audit:          holdlog --db {journal} audit")
    typer.echo("All of it is invented. Your local health authority has the last word.")


def _first_day() -> date:
    """Two days ago, or three while today's ten past six is still to come there."""
    from zoneinfo import ZoneInfo

    from holdlog.cli.wiring import clock
    from holdlog.core.moments import to_local

    now = to_local(clock(), ZoneInfo(ZONE))
    early = (now.hour, now.minute) < (6, 30)
    return now.date() - timedelta(days=3 if early else 2)


def _instant(day: date, clock_time: str) -> int:
    from zoneinfo import ZoneInfo

    from holdlog.core.moments import from_local

    hour, minute = map(int, clock_time.split(":"))
    return from_local(datetime(day.year, day.month, day.day, hour, minute), ZoneInfo(ZONE))  # noqa: DTZ001


def _filled(command: str, journal: Path, first: date) -> str:
    """The command with its placeholders filled in."""

    def code(match: re.Match[str]) -> str:
        return _code(journal, match[1], int(match[2]))

    def day(match: re.Match[str]) -> str:
        return (first + timedelta(days=int(match[1]))).isoformat()

    def weekday(match: re.Match[str]) -> str:
        return f"{first + timedelta(days=int(match[1])):%a}"

    filled = re.sub(r"\{([^{}#]+) #(\d+)\}", code, command)
    return re.sub(r"\{weekday (\d+)\}", weekday, re.sub(r"\{day (\d+)\}", day, filled))


def _code(journal: Path, item: str, number: int) -> str:
    from holdlog.core.codes import show
    from holdlog.journal import on_hand
    from holdlog.journal.engine import open_database
    from holdlog.kitchen.kitchen import SITE

    base = open_database(journal, must_exist=True)
    try:
        with base.reading() as conn:
            rows = [row for row in on_hand.live(conn, SITE) if row.item_name == item]
    finally:
        base.close()
    newest = max(rows, key=lambda row: (row.made_at, row.number == number))
    return show(newest.code)


def _arguments(command: str, labels: Path) -> list[str]:
    """The command as a list, its labels sent to the demo's folder."""
    words = shlex.split(command)
    makes_labels = words[0] in ("prep", "receive", "open", "combine", "freeze", "thaw", "label")
    return [*words, "--to", str(labels)] if makes_labels else words
