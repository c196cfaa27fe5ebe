"""What a station was told is kept, held outside of the station and of its journal.

A station writes one line a call, as a kill leaves a whole line or none of it that counts; whoever
started it reads them when it is dead.
"""

import os
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """An entry that a station was told of: its number and the hash it had."""

    number: int
    hash: str


@dataclass(slots=True)
class Told:
    """Everything a station said. ``refused`` are a cook's refusals, which are as they should be.

    ``turned_away`` holds the seconds that each job waited in vain for the journal, ``faults`` the
    lines of other faults, ``crashes`` what came without a line of the program's own. ``inside``:
    it was in the middle of an entry when it fell silent or failed. ``done``: it came to its end by
    itself. ``longest``: its longest job, in seconds.

    Of a job that failed: ``denied`` are the entries of which it was told that they were not
    written, ``unknown`` those of which it was told that nobody knows. ``in_commit``: the
    transaction was being committed when it fell silent or failed.
    """

    acknowledged: list[Acknowledged] = field(default_factory=list)
    denied: list[Acknowledged] = field(default_factory=list)
    unknown: list[Acknowledged] = field(default_factory=list)
    turned_away: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    crashes: list[str] = field(default_factory=list)
    refused: int = 0
    jobs: int = 0
    longest: float = 0
    ready: bool = False
    inside: bool = False
    in_commit: bool = False
    done: bool = False


# What is said of an entry, and where it is kept.
_OF_ENTRIES = {"kept": "acknowledged", "denied": "denied", "unknown": "unknown"}


class Pen:
    """The station's side: every line is handed to the system before the call returns."""

    def __init__(self, path: Path) -> None:
        self._handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)

    def line(self, word: str, *cells: object) -> None:
        """Write one line: a word and what belongs to it."""
        text = " ".join([word, *(str(cell).replace("\n", " ") for cell in cells)])
        os.write(self._handle, f"{text}\n".encode())

    def acknowledge(self, entries: Iterable[Acknowledged]) -> None:
        """Say that these are kept."""
        self.tell("kept", entries)

    def tell(self, word: str, entries: Iterable[Acknowledged]) -> None:
        """Say of these that they are ``kept``, ``denied`` or ``unknown``."""
        for each in entries:
            self.line(word, each.number, each.hash)


def read(path: Path) -> Told:
    """What is in the ledger at ``path``; nothing, if it was never begun."""
    told = Told()
    if not path.exists():
        return told
    # What stands after the last line end was cut off in the middle.
    for line in path.read_text(encoding="utf-8").split("\n")[:-1]:
        word, _, rest = line.partition(" ")
        if word in _OF_ENTRIES:
            number, digest = rest.split()
            getattr(told, _OF_ENTRIES[word]).append(Acknowledged(int(number), digest))
        else:
            _take(told, word, rest)
    return told


def last_word(path: Path) -> str:
    """The first word of the last whole line in the ledger, cheaply; empty, if there is none."""
    try:
        with path.open("rb") as file:
            file.seek(max(0, path.stat().st_size - 400))
            lines = file.read().split(b"\n")
    except FileNotFoundError:
        return ""
    return lines[-2].partition(b" ")[0].decode() if len(lines) > 1 else ""


def _take(told: Told, word: str, rest: str) -> None:
    match word:
        case "writing":
            told.inside = True
        case "committing" | "committed":
            told.in_commit = word == "committing"
        case "job":
            told.inside = False
            told.jobs += 1
            told.longest = max(told.longest, float(rest))
        case "refused":
            told.inside = False
            told.refused += 1
        case "turned-away":
            told.inside = False
            told.turned_away.append(float(rest))
        case "fault":
            told.faults.append(rest)
        case "crash":
            told.crashes.append(rest)
        case "ready":
            told.ready = True
        case "done":
            told.done = True
        case _:
            raise ValueError(f"{word} is no word of the ledger")
