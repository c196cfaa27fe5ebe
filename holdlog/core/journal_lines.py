"""The journal as lines of text: one entry a line, so that any other program can check the chain.

A line is a JSON object with the twelve parts of an entry; ``body`` is a string that holds the
exact stored text, which is what the hash is over. How to verify one is in docs/export.md.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields

from holdlog.core.chain import FIRST, Entry, link
from holdlog.core.heads import Compared, Comparison, KeptHead
from holdlog.core.moments import Instant
from holdlog.core.visible import quoted

# An entry is short; a longer line is no entry, and is not read into memory.
LONGEST_LINE = 4_000_000
_LARGEST = 2**63  # as databases keep them
_NUMBERS = ("number", "version", "at", "recorded_at")
_NAMES = tuple(field.name for field in fields(Entry))
_WRITE = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


@dataclass(frozen=True, slots=True)
class Verified:
    """What a file of lines proves: ``fault`` empty where the chain is whole from its first entry
    to ``head``. Whether entries after ``head`` were cut off, or all of it was hashed anew, only
    heads kept elsewhere tell: ``compared`` is what those that were given show.
    """

    count: int
    site: str
    head: str
    fault: str = ""
    compared: tuple[Compared, ...] = ()

    @property
    def good(self) -> bool:
        """Whether the chain is whole and every head that was given is of it."""
        return not self.fault and all(each.ok for each in self.compared)


def line_of(entry: Entry) -> str:
    """An entry as a line, with its line feed."""
    return _WRITE({name: getattr(entry, name) for name in _NAMES}) + "\n"


def entry_of(line: bytes) -> Entry:
    """The entry of a line. Raises ``ValueError`` saying what is wrong with it."""
    try:
        found = json.loads(line.decode("utf-8", "strict"), object_pairs_hook=_once)
    except UnicodeDecodeError as error:
        raise ValueError("is not UTF-8") from error
    except (json.JSONDecodeError, RecursionError) as error:
        raise ValueError("is not JSON") from error
    except ValueError as error:
        raise ValueError("says a key twice, or a number that no entry has") from error
    if not isinstance(found, dict) or sorted(found) != sorted(_NAMES):
        raise ValueError("is not an entry of a journal")
    for name in _NAMES:
        if type(found[name]) is not (int if name in _NUMBERS else str):
            raise ValueError(f"has no right {name}")
        if name in _NUMBERS and not -_LARGEST <= found[name] < _LARGEST:
            raise ValueError(f"has no right {name}")
    try:
        "".join(value for value in found.values() if isinstance(value, str)).encode()
    except UnicodeEncodeError as error:
        raise ValueError("holds half a character") from error
    found["at"], found["recorded_at"] = Instant(found["at"]), Instant(found["recorded_at"])
    return Entry(**found)


def verify(lines: Iterable[bytes], heads: Sequence[KeptHead] = ()) -> Verified:
    """Check lines with SHA-256 alone, one at a time, and hold ``heads`` against them."""
    previous, count, site, fault = FIRST, 0, "", ""
    comparison = Comparison(heads)
    for number, entry in enumerate(_entries(lines), 1):
        if isinstance(entry, str):
            fault = f"Line {number} {entry}."
            break
        site = site or entry.site
        if wrong := _fault(entry, number, site, previous):
            fault = f"Line {number} {wrong}."
            break
        comparison.see(entry)
        previous, count = entry.hash, number
    if not count and not fault:
        fault = "The file holds no entry."
    return Verified(count, site, previous, fault, comparison.results(broken=bool(fault)))


def _entries(lines: Iterable[bytes]) -> Iterator[Entry | str]:
    for line in lines:
        if len(line) > LONGEST_LINE:
            yield "is too long for an entry"
        elif not line.endswith(b"\n"):
            yield "does not end: the file was cut in the middle of it"
        else:
            try:
                yield entry_of(line)
            except ValueError as error:
                yield str(error)


def _fault(entry: Entry, number: int, site: str, previous: str) -> str:
    if entry.site != site:
        return f"is of another site ({quoted(entry.site)})"
    if entry.number != number:
        return f"is entry {entry.number}: one is missing, or they are out of order"
    if entry.previous != previous:
        return "does not follow the entry before it"
    if link(entry) != entry.hash:
        return f"was changed after entry {number} was written"
    return ""


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("says a key twice")
    return found
