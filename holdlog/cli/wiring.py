"""What the commands share: the journal's place, the clock, the cook's name, the options."""

import os
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from holdlog.core.moments import Instant
    from holdlog.journal.engine import Database
    from holdlog.kitchen.kitchen import Kitchen

By = Annotated[
    str,
    typer.Option(
        "--by", envvar="HOLDLOG_BY", help="Your initials.", show_default=False, metavar="WHO"
    ),
]
Json = Annotated[bool, typer.Option("--json", help="The result as JSON.")]
OtherLot = Annotated[
    bool, typer.Option("--other-lot", help="Compared: it only looks like a recalled lot.")
]
At = Annotated[
    str,
    typer.Option(
        "--at", help='When it happened: "14:30", "yesterday 22:15", "2026-06-01 14:30". Else now.',
        show_default=False, metavar="WHEN",
    ),
]  # fmt: skip
Code = Annotated[str, typer.Argument(metavar="CODE", help="The container's code; scan or type it.")]
UnitName = Annotated[
    str, typer.Option("--unit", "-u", help="Into which unit.", show_default=False, metavar="UNIT")
]
ProbeName = Annotated[
    str,
    typer.Option(
        "--probe", envvar="HOLDLOG_PROBE", show_default=False, metavar="NAME",
        help="The thermometer it was read on.",
    ),
]  # fmt: skip
Languages = Annotated[
    list[str],
    typer.Option(
        "--language", "-l", show_default=False,
        help="Of the labels: en, es or fr. A second one is said beside the first.",
    ),
]  # fmt: skip

LONGEST_SITE = 40
# Another till writes for milliseconds; a cook waits for seconds, not minutes.
PATIENCE, LONGEST_PATIENCE = 5_000, 600_000

# What the demonstration stages instead of the world: a moment, and codes that repeat.
_staged: "list[tuple[Instant, Callable[[str], str]]]" = []


@contextmanager
def stage(now: int, seed: str) -> Iterator[None]:
    """Play a command at ``now`` (UTC milliseconds) with codes drawn from ``seed``."""
    from random import Random

    from holdlog.core.moments import Instant

    _staged.append((Instant(now), Random(seed).choice))  # noqa: S311  (a play, not a secret)
    try:
        yield
    finally:
        _staged.pop()


def clock() -> "Instant":
    """The time now."""
    import time

    from holdlog.core.moments import Instant

    return _staged[-1][0] if _staged else Instant(time.time_ns() // 1_000_000)


def draw(characters: str) -> str:
    """One character at random."""
    import secrets

    return _staged[-1][1](characters) if _staged else secrets.choice(characters)


def place(context: typer.Context) -> str:
    """Where the journal is: --db, HOLDLOG_DB, or the folder for a user's data."""
    return _chosen(context) or _own_place()


def _chosen(context: typer.Context) -> str:
    chosen: str = (context.find_root().obj or {}).get("db", "")
    return chosen


def _own_place() -> str:
    base = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return str(Path(base) / "holdlog" / "kitchen.db")


def site(context: typer.Context) -> str:
    """Which kitchen of the journal: --site, HOLDLOG_SITE, or the one that needs no name."""
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.kitchen import SITE

    said: str = (context.find_root().obj or {}).get("site", "")
    if not said:
        return SITE
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", said) or len(said) > LONGEST_SITE:
        raise Mistake(
            "bad-site",
            "That is no name of a site.",
            f"Small letters, figures and hyphens, up to {LONGEST_SITE}: boat-shed.",
        )
    return said


def database(context: typer.Context, *, must_exist: bool = True) -> "Database":
    """The journal's database."""
    from holdlog.journal.engine import open_database

    where = place(context)
    if not must_exist and not _chosen(context):
        # Only our own folder is made: a path that was typed may lack its disk.
        Path(where).parent.mkdir(parents=True, exist_ok=True)
    return open_database(where, must_exist=must_exist, wait_ms=_patience())


def _patience() -> int:
    """How long to wait for another program that is writing, in milliseconds."""
    from holdlog.core.errors import Mistake
    from holdlog.core.visible import quoted

    said = os.environ.get("HOLDLOG_WAIT_MS", "")
    if not said:
        return PATIENCE
    figures = len(str(LONGEST_PATIENCE))
    if not (re.fullmatch(f"[0-9]{{1,{figures}}}", said) and int(said) <= LONGEST_PATIENCE):
        raise Mistake(
            "bad-wait",
            f"HOLDLOG_WAIT_MS is {quoted(said)}.",
            f"It is a number of milliseconds up to {LONGEST_PATIENCE}.",
        )
    return int(said)


def kitchen(context: typer.Context) -> "Kitchen":
    """The kitchen of the journal. By a clock that cannot be right its lists are shown with a line
    that says so; after days without an entry every result has one that says what day it takes.
    """
    from holdlog.cli.show import beside
    from holdlog.kitchen.clocks import remark
    from holdlog.kitchen.kitchen import open_kitchen

    shop = open_kitchen(
        database(context),
        clock,
        draw,
        site=site(context),
        station=os.environ.get("HOLDLOG_STATION", ""),
    )
    beside(remark(shop.apart, shop.where))
    return shop


def spare(shop: "Kitchen", file: str) -> Path:
    """The path of a file to write. Raises ``Mistake``: the journal is never written over."""
    from holdlog.core.errors import Mistake

    wanted, journal = Path(file), shop.db.path
    if journal is not None and _is_part_of(wanted, journal):
        raise Mistake("the-journal", f"{file} is the journal itself.", "Name another file.")
    return wanted


def _is_part_of(wanted: Path, journal: Path) -> bool:
    """Whether ``wanted`` is the journal's file, or one that SQLite keeps beside it."""
    own = [Path(f"{journal}{end}") for end in ("", "-journal", "-wal", "-shm")]
    return any(wanted.exists() and each.exists() and wanted.samefile(each) for each in own)


def save(context: typer.Context, file: str, content: bytes, hint: str = "") -> None:
    """Make ``content`` the file: all of it, or the file is left as it was. Raises ``Mistake`` for
    the journal itself, ``Fault("no-file")``.
    """
    from holdlog.core import whole_files
    from holdlog.core.errors import Mistake

    where = place(context).removeprefix("sqlite:///")
    if "://" not in where and _is_part_of(Path(file), Path(where)):
        raise Mistake("the-journal", f"{file} is the journal itself.", "Name another file.")
    whole_files.write(Path(file), content, hint or whole_files.ELSEWHERE)


def typed(file: str, holds: str) -> str:
    """A text that a person names: a file, or - for standard input. ``holds`` tells what such a
    text is made of. Raises what ``whole_files.read_text`` does.
    """
    from holdlog.core import whole_files
    from holdlog.core.errors import BadFile

    if file != "-":
        return whole_files.read_text(Path(file), holds, "Name a file, or - for standard input.")
    try:
        return sys.stdin.read()
    except UnicodeDecodeError as error:
        raise BadFile("bad-file", (f"standard input is not text: {holds}.",)) from error


def moment(shop: "Kitchen", text: str) -> "Instant":
    """The moment meant by ``text``; empty: now. Raises ``Fault("clock-back")``: what somebody
    types is reckoned from today, and nobody knows which day that is.
    """
    from holdlog.core.moments import read_moment

    if text and shop.apart.behind:
        with shop.db.reading() as conn:
            shop.dating(conn)
    now = shop.now()
    return read_moment(text, now, shop.where) if text else now


def asks() -> bool:
    """Whether there is a person to ask."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def who(by: str) -> str:
    """The initials of the cook, asked for where there is a person to ask. Raises ``Mistake``."""
    if not by.strip() and asks():
        by = str(typer.prompt("Your initials"))
    if not by.strip():
        from holdlog.core.errors import Mistake

        raise Mistake(
            "no-name", "Who is writing?", "Say --by with your initials, or set HOLDLOG_BY."
        )
    return by


def labels_folder(context: typer.Context, chosen: str) -> Path:
    """Where labels go: as said, else a folder beside the journal."""
    if chosen:
        return Path(chosen)
    where = place(context)
    return (Path.cwd() if "://" in where else Path(where).resolve().parent) / "labels"
