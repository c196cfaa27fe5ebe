"""One byte of a journal is changed behind its back, some thousand times over.

Each change is either found, or shown to be harmless by a dump of every table made with SQLite
alone. What is neither is silent, and wrong.
"""

import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

from holdlog.core.errors import HoldlogError
from holdlog.journal import checks
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Connection, open_database
from holdlog.kitchen import doctor, due
from holdlog.kitchen.kitchen import SITE, Kitchen, open_kitchen
from tests.torture.clock import real_clock
from tests.torture.outcome import Outcome
from tests.torture.seeds import dice
from tests.torture.station import template

FLIPS = {"short": 400, "long": 5000}
JOBS = 60
# A spoilt check has so many flips to let one through; a few are enough.
TRIES = 400

_UNCLEAR = "no list, for no clear reason:"

_FIGURES = ("detected", "harmless", "silent", "crash", "detected, list unclear")

Head = tuple[int, str, int]
# What was found ("" for nothing); "crash: …" for what is not a line of the program's own.
Look = Callable[[Path, Head], str]


def run(short: bool, scratch: Path) -> Iterator[Outcome]:
    """The doctor and a head kept elsewhere; then three ways to look that are not enough."""
    seed, luck = dice()
    path = scratch / "journal.db"
    template(path, jobs=JOBS)
    yield _flipped(path, "flips", FLIPS["short" if short else "long"], luck, everything, seed)
    for name, look in (
        ("integrity_check alone", _integrity_alone),
        ("no chain", _no_chain),
        ("chain alone", _chain_alone),
    ):
        yield _flipped(path, f"flips, {name}", TRIES, luck, look)


def _flipped(
    path: Path, name: str, times: int, luck: Random, look: Look, seed: int | None = None
) -> Outcome:
    data, wanted = path.read_bytes(), dump(path)
    head = _head(path)
    assert wanted is not None
    wrong = [f"found in a whole journal: {said}"] if (said := look(path, head)) else []
    count: Counter[str] = Counter()
    for _ in range(times):
        place, byte = luck.randrange(len(data)), luck.randrange(256)
        if luck.random() < 0.5:
            byte = data[place] ^ (1 << luck.randrange(8))
        if byte == data[place]:
            continue
        became, said = _one(path, data, place, byte, (look, wanted, head))
        count[became] += 1
        count["detected, list unclear"] += _UNCLEAR in said
        if became in ("silent", "crash"):
            wrong.append(f"{became}: byte {place} {data[place]:#04x} -> {byte:#04x} {said}".strip())
        # Of a spoilt check one flip that it did not see is enough.
        if seed is None and wrong:
            break
    figures: dict[str, int | float | str] = {
        "flips": sum(count[each] for each in _FIGURES[:4]),
        **{each: count[each] for each in _FIGURES},
    }
    if seed is not None:
        figures |= {"bytes": len(data), "seed": seed}
    return Outcome(name, figures, wrong, control=seed is None)


def _one(
    path: Path, data: bytes, place: int, byte: int, known: tuple[Look, "Dump", Head]
) -> tuple[str, str]:
    look, wanted, head = known
    flipped = path.with_name("flipped.db")
    for old in flipped.parent.glob("flipped.db*"):
        old.unlink()
    flipped.write_bytes(data[:place] + bytes([byte]) + data[place + 1 :])
    said = look(flipped, head)
    if said.startswith("crash"):
        return "crash", said
    if said:
        return "detected", said
    return ("harmless", "") if dump(flipped) == wanted else ("silent", "")


def everything(path: Path, head: Head) -> str:
    """What a person would be told who asks the doctor, with the head on paper beside it."""
    try:
        db = open_database(path, must_exist=True)
        try:
            kitchen = open_kitchen(db, real_clock, Random(1).choice)
            said = [finding.says for finding in doctor.examine(kitchen) if not finding.ok]
            with db.reading() as conn:
                if journal_entries.head(conn, SITE) != head:
                    said.append("another head")
            return "; ".join([*said, *_list(kitchen, found=bool(said))])
        finally:
            db.close()
    except HoldlogError as error:
        line = error.line()
        return line if line and "\n" not in line else f"crash: not one line: {line!r}"
    # A stack trace is what a person must never see, whatever brought it about.
    except Exception as error:  # noqa: BLE001
        return f"crash: {type(error).__name__}: {error}"


def _list(kitchen: Kitchen, *, found: bool) -> list[str]:
    """The morning list has to come, or to say in a line why not; where the doctor has found the
    damage it may end with whatever it stumbled over, which the door then calls a fault.
    """
    try:
        due.due(kitchen)
    except HoldlogError as error:
        return [error.line()]
    except Exception as error:
        if not found:
            raise
        return [f"{_UNCLEAR} {type(error).__name__}"]
    return []


def _no_chain(path: Path, _: Head) -> str:
    with patch.object(checks, "first_fault", lambda _: None):
        try:
            head = _head(path)
        # Whatever keeps the head from being read has been noticed.
        except Exception as error:  # noqa: BLE001
            return f"not read: {type(error).__name__}"
        return everything(path, head).replace("crash", "noticed")


def _chain_alone(path: Path, _: Head) -> str:
    return _alone(path, lambda conn: checks.chain_whole(conn, SITE))


def _integrity_alone(path: Path, _: Head) -> str:
    return _alone(path, checks.database_sound)


def _alone(path: Path, ask: Callable[[Connection], checks.Finding]) -> str:
    db = open_database(path, must_exist=True)
    try:
        with db.reading() as conn:
            found = ask(conn)
    # Whatever keeps it from being asked has been noticed.
    except Exception as error:  # noqa: BLE001
        return f"not read: {type(error).__name__}"
    finally:
        db.close()
    return "" if found.ok else found.says


def _head(path: Path) -> Head:
    db = open_database(path, must_exist=True)
    try:
        with db.reading() as conn:
            return journal_entries.head(conn, SITE)
    finally:
        db.close()


Dump = dict[str, Sequence[Any]]


def dump(path: Path) -> Dump | None:
    """Every row of every table as SQLite gives it, without our code; None if it cannot be read."""
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as conn:
            conn.text_factory = bytes
            made = conn.execute("SELECT type, name, tbl_name, sql FROM sqlite_master").fetchall()
            # Blanks in a definition mean nothing.
            found: Dump = {
                "": sorted(
                    ((*each, b"".join((sql or b"").split())) for *each, sql in made), key=repr
                )
            }
            for kind, name, _, _ in made:
                if kind == b"table":
                    # Each table by itself, not by an index that may say something else.
                    rows = conn.execute(f'SELECT * FROM "{name.decode()}" NOT INDEXED').fetchall()
                    found[name.decode()] = sorted(rows, key=repr)
            return found
    except (sqlite3.Error, UnicodeDecodeError):
        return None
