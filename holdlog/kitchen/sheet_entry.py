"""What a cook ticked on a round sheet, entered afterwards: all of it, or nothing.

The sheet becomes a round like any other. Everything is done by the jobs of every day inside one
transaction, which can also be played without being kept.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from holdlog.core import events as ev
from holdlog.core.amounts import read_named
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.core.temperature import Temperature, read_temperature
from holdlog.journal import on_hand
from holdlog.journal.engine import Connection, Database
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen import round as rounds
from holdlog.kitchen.discard import discard, reason_of
from holdlog.kitchen.handle import ENDS, end
from holdlog.kitchen.kitchen import Kitchen, Unit
from holdlog.kitchen.round_end import Outcome
from holdlog.kitchen.round_end import end as end_round
from holdlog.kitchen.round_sheet import on_sheet, sheet_number
from holdlog.kitchen.unit_read import read_unit

LAST = 4  # signs of a code that are typed
WORDS = ("sheet", "read", "bin", "seen", "rest", "missing", "found")
GRAMMAR = (
    "sheet 1234-AB12 · read walk-in 39F · bin 9QX2 K3FA date · used 9QX2 · sold … · "
    "staff-meal … · donated … · missing 9QX2 · seen 9QX2 · rest walk-in · found walk-in rice 500g"
)


@dataclass(frozen=True, slots=True)
class Ticked:
    """One line of what was ticked: the word, and what it is about."""

    word: str
    line: int
    codes: tuple[str, ...] = ()
    unit: Unit | None = None
    text: str = ""
    temperature: Temperature | None = None


@dataclass(frozen=True, slots=True)
class Entered:
    """What was (or would be) recorded, in words of each line, and the round it came to."""

    says: tuple[str, ...]
    outcome: Outcome


class _Undone(Exception):
    """Nothing went wrong: it was a rehearsal, and the transaction is not to be kept."""


def _undo_unless(keep: bool) -> None:
    if not keep:
        raise _Undone


class _Inside(Database):
    """A transaction that is open already, to jobs that would begin their own."""

    def __init__(self, db: Database, conn: Connection) -> None:
        super().__init__(db.engine, db.name, db.path, 0)
        self._conn = conn

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """The one transaction."""
        yield self._conn

    @contextmanager
    def appending(self, site: str = "") -> Iterator[Connection]:  # noqa: ARG002
        """The one transaction, which has its turn."""
        yield self._conn


def enter(
    kitchen: Kitchen,
    by: str,
    lines: Sequence[str],
    at: Instant,
    in_charge: str = "",
    *,
    keep: bool,
) -> Entered:
    """Record what ``lines`` say of a sheet that was walked ``at`` that moment; with ``keep``
    false nothing stays, and what comes back is what would be.

    Raises ``Mistake`` naming the line: then nothing was recorded.
    """
    found: Entered | None = None
    try:
        with kitchen.writing(by) as write:
            # With a memory of its own: what is rehearsed is not known afterwards.
            inside = replace(
                write.kitchen, db=_Inside(kitchen.db, write.conn), known=dict(kitchen.known)
            )
            ticked = _read(inside, write.conn, lines)
            found = _record(inside, write.conn, by, ticked, at, in_charge)
            _undo_unless(keep)
    except _Undone:
        pass
    assert found is not None  # noqa: S101  (else an exception was on its way)
    return found


# ---- reading the lines -----------------------------------------------------------------------


def _read(kitchen: Kitchen, conn: Connection, lines: Sequence[str]) -> list[Ticked]:
    live = on_hand.live(conn, kitchen.site)
    found = []
    for number, text in enumerate(lines, 1):
        words = text.split("#")[0].split()
        if words:
            with _in_line(number, text):
                found.append(_ticked(kitchen, live, number, words))
    if not any(each.word != "sheet" for each in found):
        raise Mistake("no-ticks", "Nothing was entered.", f"Lines: {GRAMMAR}")
    named: dict[str, int] = {}
    for each in found:
        for code in each.codes:
            if code in named:
                raise Mistake(
                    "twice",
                    f"Lines {named[code]} and {each.line} are both about {show(code)}.",
                    "A row has one tick.",
                )
            named[code] = each.line
    return found


@contextmanager
def _in_line(number: int, text: str) -> Iterator[None]:
    try:
        yield
    except Mistake as mistake:
        said = f"Line {number}, {text.strip()!r}: {mistake.sentence}"
        raise Mistake(mistake.code, said, mistake.hint) from mistake


def _ticked(
    kitchen: Kitchen, live: Sequence[ContainerRow], number: int, words: list[str]
) -> Ticked:
    word, rest = words[0].lower(), words[1:]
    ends = [each.replace(" ", "-") for each in ENDS]
    if word not in (*WORDS, *ends):
        raise Mistake("no-word", f"{words[0]!r} begins no line.", f"Lines: {GRAMMAR}")
    if not rest:
        raise Mistake("no-word", f"{word} what?", f"Lines: {GRAMMAR}")
    if word == "sheet":
        return Ticked(word, number, text=rest[0])
    if word in ("read", "rest", "found"):
        unit, more = _unit(kitchen, rest)
        text = " ".join(more)
        if word == "read":
            return Ticked(word, number, unit=unit, temperature=read_temperature(text))
        if word == "found" and not text:
            raise Mistake("no-name", "What was found?", "Say what it looked like: cooked rice.")
        if word == "rest" and text:
            raise Mistake("no-unit", f"{' '.join(rest)!r} is no unit.", "One unit a line.")
        return Ticked(word, number, unit=unit, text=text)
    if word != "bin":
        return Ticked(word, number, tuple(_code(live, typed) for typed in rest))
    return _bin(live, number, rest)


def _bin(live: Sequence[ContainerRow], number: int, rest: list[str]) -> Ticked:
    """``9QX2 K3FA date``; after "other" or any reason a note may follow."""
    for place, word in enumerate(rest):
        if not place or not _is_reason(word):
            continue
        if any(row.code.endswith(word.upper()) for row in live):
            raise Mistake(
                "two-meanings",
                f"{word!r} is a reason, and a code on hand ends in it.",
                "Type that code whole.",
            )
        codes = tuple(_code(live, typed) for typed in rest[:place])
        return Ticked("bin", number, codes, text=" ".join(rest[place:]))
    raise Mistake("no-reason", "Why was it binned?", "Say it after the codes: bin 9QX2 date")


def _is_reason(word: str) -> bool:
    try:
        reason_of(word)
    except Mistake:
        return False
    return True


def _unit(kitchen: Kitchen, words: list[str]) -> tuple[Unit, list[str]]:
    """The unit that the first words name, the longest that do, and what follows."""
    for count in range(len(words), 0, -1):
        try:
            return kitchen.unit(" ".join(words[:count])), words[count:]
        except Mistake:
            continue
    return kitchen.unit(words[0]), []


def _code(live: Sequence[ContainerRow], typed: str) -> str:
    """The code on hand that ends in what was typed."""
    tidy = "".join(sign for sign in typed.upper() if sign.isalnum())
    if len(tidy) < LAST:
        raise Mistake(
            "bad-code",
            f"{typed!r} is too short for a code.",
            "Type the last four signs, printed large; the number of a row will not do.",
        )
    fits = [row for row in live if row.code.endswith(tidy)]
    if len(fits) == 1:
        return fits[0].code
    if fits:
        names = " or ".join(show(row.code) for row in fits)
        raise Mistake("two-codes", f"{typed!r} could be {names}.", "Type the whole code.")
    raise Mistake(
        "unknown-code",
        f"Nothing on hand has a code that ends in {typed!r}.",
        "It may be gone since the sheet was printed: holdlog why CODE.",
    )


# ---- recording -------------------------------------------------------------------------------


def _record(
    kitchen: Kitchen,
    conn: Connection,
    by: str,
    ticked: Sequence[Ticked],
    at: Instant,
    in_charge: str,
) -> Entered:
    live = {row.code: row for row in on_hand.live(conn, kitchen.site)}
    rest = _rest(kitchen, conn, ticked, live)
    units = _units(kitchen, ticked, live)
    walk = rounds.begin(kitchen, by, units)
    says: list[str] = []
    reads = _temperatures(kitchen, by, ticked, at, says)
    for unit in units:
        rounds.come_to(kitchen, by, walk, unit, reads.get(unit.name))
    seen = [code for each in ticked if each.word in ("seen", "bin") for code in each.codes]
    for code in (*seen, *rest):
        place = kitchen.units.get(live[code].unit)
        if place is not None:
            rounds.see(kitchen, by, walk, place, code, by_eye=True)
    for each in ticked:
        with _in_line(each.line, each.word):
            says += _done(kitchen, by, walk, each, at, live)
    if rest:
        says.append(f"seen, the rest: {len(rest)}")
    return Entered(tuple(says), end_round(kitchen, by, walk, in_charge))


def _rest(
    kitchen: Kitchen, conn: Connection, ticked: Sequence[Ticked], live: dict[str, ContainerRow]
) -> list[str]:
    """What stands in the units of the "rest" lines, was on the sheet, and is on no other line."""
    units = [each.unit.name for each in ticked if each.word == "rest" and each.unit]
    if not units:
        return []
    marks = [each for each in ticked if each.word == "sheet"]
    if len(marks) != 1:
        raise Mistake(
            "no-sheet",
            "Of which sheet was the rest seen?",
            "Begin with its mark, from the foot of a page: sheet 1234-AB12",
        )
    number = sheet_number(kitchen, conn, marks[0].text)
    named = {code for each in ticked for code in each.codes}
    return [
        row.code
        for row in live.values()
        if row.unit in units and row.code not in named and on_sheet(kitchen, conn, row, number)
    ]


def _units(kitchen: Kitchen, ticked: Sequence[Ticked], live: dict[str, ContainerRow]) -> list[Unit]:
    """The units walked: those named, and those of the containers named."""
    names = {each.unit.name for each in ticked if each.unit is not None}
    names |= {live[code].unit for each in ticked for code in each.codes}
    units = [unit for name, unit in kitchen.units.items() if name in names]
    if not units:
        raise Mistake(
            "no-unit",
            "None of these stands in a unit, so no unit was walked.",
            "One by one: holdlog discard CODE, holdlog use CODE.",
        )
    return units


def _temperatures(
    kitchen: Kitchen, by: str, ticked: Sequence[Ticked], at: Instant, says: list[str]
) -> dict[str, int]:
    """The readings of units, by unit the number of the entry."""
    reads = {}
    for each in ticked:
        if each.word == "read" and each.unit is not None and each.temperature is not None:
            with _in_line(each.line, f"read {each.unit.name}"):
                done = read_unit(kitchen, by, each.unit, at, each.temperature)
            reads[each.unit.name] = done.reading.entry
            beyond = done.good is False
            held = f": BEYOND ITS LIMIT, {len(done.rows)} on hold" if beyond else ""
            says.append(f"{each.unit.name} reads {each.temperature}{held}")
    return reads


def _done(
    kitchen: Kitchen,
    by: str,
    walk: rounds.Round,
    each: Ticked,
    at: Instant,
    live: dict[str, ContainerRow],
) -> list[str]:
    """Do what a line says; what it came to, a container a line."""
    told = [f"{show(code)} {live[code].item_name}" for code in each.codes]
    if each.word == "found" and each.unit is not None:
        what, amount = read_named(each.text)
        rounds.found(kitchen, by, walk, each.unit, what, amount, at)
        much = f", {amount}" if amount is not None else ""
        return [f"without a label, binned: {what}{much}, {each.unit.name}"]
    if each.word == "bin":
        reason, _, note = each.text.partition(" ")
        for code in each.codes:
            discard(kitchen, by, code, at, reason, note=note)
        return [f"binned ({reason_of(reason)}): {name}" for name in told]
    how: ev.EndedAs | None = next(
        (word for word in ENDS if word.replace(" ", "-") == each.word), None
    )
    if how is None:
        words = {"missing": "not there, stays on record as not seen", "seen": "seen"}
        return [f"{words[each.word]}: {name}" for name in told] if each.word in words else []
    for code in each.codes:
        end(kitchen, by, code, at, how, None)
    return [f"{how}: {name}" for name in told]
