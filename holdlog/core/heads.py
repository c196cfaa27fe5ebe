"""Heads of the journal that were kept elsewhere, and what they show when they are held against it.

A head is the number and the hash of the last entry at some moment. It stands on labels, on round
sheets and in the inspector's file. A journal that still has this hash at this number has every
entry up to it as it was then (docs/proof.md); a chain that was cut, or hashed anew, has not.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from holdlog.core.chain import SHORT, WHOLE, Entry, show_head
from holdlog.core.errors import BadFile, Mistake
from holdlog.core.moments import Instant
from holdlog.core.visible import quoted

# As it is printed, with or without the words before it and what stands for the rest of the hash.
_HEAD = re.compile(
    r"(?:journal(?: +head)?[: ]+)?(?:#? ?([0-9]{1,15})[ :]+)?"
    rf"([0-9a-f]{{{SHORT},{WHOLE}}})(?:…|\.\.\.)?",
    re.IGNORECASE,
)
_PRINTED = (
    f"It is printed like this: #1204 9f3a1c22. At least {SHORT} signs of the hash are wanted, "
    "0 to 9 and a to f; with fewer it shows nothing."
)


@dataclass(frozen=True, slots=True)
class KeptHead:
    """A head from paper: the entry's number (0: not said), and its hash or how that begins."""

    number: int
    signs: str

    @property
    def shown(self) -> str:
        """As it was given, in the form in which it is printed."""
        return show_head(self.number, self.signs, WHOLE) if self.number else self.signs

    def fits(self, entry: Entry) -> bool:
        """Whether it was the head when ``entry`` was the last."""
        return self.number in (0, entry.number) and entry.hash.startswith(self.signs)


@dataclass(frozen=True, slots=True)
class Compared:
    """A kept head beside a journal. ``entry``: the one it is the hash of, None where there is
    none; ``instead``: the hash that its entry has; ``count``: how many entries hold together;
    ``broken``: the chain does not go on after them.
    """

    kept: KeptHead
    entry: Entry | None
    instead: str
    count: int
    broken: bool

    @property
    def ok(self) -> bool:
        """Whether the journal up to it is the one this head was taken from."""
        return self.entry is not None


@dataclass(slots=True)
class Comparison:
    """Kept heads while the entries of a journal go by: ``see`` each that fits its chain."""

    heads: Sequence[KeptHead]
    count: int = 0
    _by_number: dict[int, list[KeptHead]] = field(default_factory=dict)
    _found: dict[KeptHead, Entry] = field(default_factory=dict)
    _instead: dict[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for kept in self.heads:
            self._by_number.setdefault(kept.number, []).append(kept)

    def see(self, entry: Entry) -> None:
        """The next entry; the caller has checked its hash and that it follows the one before."""
        self.count = entry.number
        asked = self._by_number.get(entry.number, [])
        if asked:
            self._instead[entry.number] = entry.hash
        for kept in (*asked, *self._by_number.get(0, ())):
            if kept.fits(entry):
                self._found.setdefault(kept, entry)

    def results(self, *, broken: bool) -> tuple[Compared, ...]:
        """What each head shows. ``broken``: the chain did not hold after the last entry seen."""
        return tuple(
            Compared(
                kept, self._found.get(kept), self._instead.get(kept.number, ""), self.count, broken
            )
            for kept in self.heads
        )


def read_head(text: str) -> KeptHead:
    """``#1204 9f3a1c22``, ``1204 9f3a…`` or a hash alone. Raises ``Mistake("bad-head")``."""
    found = _HEAD.fullmatch(" ".join(text.split()))
    if found is None or (found[1] and not int(found[1])):
        raise Mistake("bad-head", f"{quoted(text)} is no head of a journal.", _PRINTED)
    return KeptHead(int(found[1] or 0), found[2].lower())


def read_heads(name: str, lines: Iterable[str]) -> list[KeptHead]:
    """A head a line; empty lines do not count. Raises ``BadFile("bad-head")`` naming every line
    that is none, ``Mistake("no-head")`` where there is none at all.
    """
    heads, faults = [], []
    for number, line in enumerate(lines, 1):
        try:
            heads += [read_head(line)] if line.strip() else []
        except Mistake as mistake:
            faults.append(f"{name}: line {number}: {mistake.sentence}")
    if faults:
        raise BadFile("bad-head", tuple(faults), _PRINTED)
    if not heads:
        raise Mistake("no-head", f"{name} holds no head.", _PRINTED)
    return heads


def head_told(each: Compared, when: Callable[[Instant], str]) -> str:
    """What a head shows, in a sentence. ``when`` says a moment."""
    if each.entry is not None:
        return (
            f"{each.kept.shown}: unchanged up to entry {each.entry.number} "
            f"(written {when(each.entry.recorded_at)})."
        )
    if each.instead:
        says = f"entry {each.kept.number} has another hash ({each.instead[:SHORT]})"
    elif each.broken:
        return (
            f"{each.kept.shown}: not comparable: the chain is broken after entry {each.count}, "
            "before it."
        )
    elif each.kept.number:
        says = f"there are only {each.count} entries"
    else:
        says = f"none of its {each.count} entries has this hash"
    return f"{each.kept.shown}: NOT the journal this was printed from: {says}."
