"""The round: one walk through the units, each container scanned and answered at once.

Every scan is an entry of its own before it is answered, so that nothing acknowledged is lost:
a round is gone on with where it stood, on this machine or another, by one cook or several.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from holdlog.core import events as ev
from holdlog.core.amounts import Amount
from holdlog.core.chain import Entry
from holdlog.core.codes import near, read_code
from holdlog.core.errors import Mistake
from holdlog.core.moments import MINUTE, Instant, show_moment
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen import correct
from holdlog.kitchen.due import Line
from holdlog.kitchen.due import line as judged
from holdlog.kitchen.kitchen import Kitchen, Unit, Writing
from holdlog.kitchen.reconcile import Scan
from holdlog.kitchen.telling import tell

SUBJECT = "round "
# Longer than any code; what is longer is no scan but a file or a cat.
LONGEST = 60
# Who scanned so lately may be among the shelves still. Common practice, no source.
LATELY = 15 * MINUTE
# What can be taken back in a round: what was done, not what was seen.
_DONE = (
    ev.Discarded, ev.Used, ev.Moved, ev.Frozen, ev.RoundFound, ev.RoundNoted, ev.UnitRead,
)  # fmt: skip


@dataclass(slots=True)
class Round:
    """One round as the journal has it, up to entry ``last``. ``catch_up`` reads on.

    ``came_to`` holds the units that were begun: who came there last, and the entry of the
    temperature that was read there (None: not read); ``reads`` the entries of all that was read.
    """

    id: str
    number: int
    units: tuple[str, ...]
    at: Instant
    by: str
    last: int
    came_to: dict[str, tuple[str, int | None]] = field(default_factory=dict)
    reads: dict[str, list[int]] = field(default_factory=dict)
    scans: list[Scan] = field(default_factory=list)
    latest: dict[str, Scan] = field(default_factory=dict)
    found: list[tuple[Entry, ev.RoundFound]] = field(default_factory=list)
    notes: list[tuple[Entry, ev.RoundNoted]] = field(default_factory=list)
    end: tuple[Entry, ev.RoundEnded] | None = None
    place: dict[str, str] = field(default_factory=dict)
    seen_at: dict[str, Instant] = field(default_factory=dict)

    @property
    def subject(self) -> str:
        """Under which its entries stand."""
        return SUBJECT + self.id

    @property
    def cooks(self) -> list[str]:
        """Who has walked it."""
        return list(dict.fromkeys([self.by, *(each.by for each in self.scans)]))

    def still_walking(self, by: str, at: Instant) -> list[tuple[str, str, Instant]]:
        """The other cooks who came to a unit or scanned in the last ``LATELY`` before ``at``:
        who, in which unit, and when last. Call ``catch_up`` first.
        """
        return [
            (cook, self.place[cook], last)
            for cook, last in self.seen_at.items()
            if cook != by.strip().upper() and last > at - LATELY
        ]

    def catch_up(self, conn: Connection, site: str) -> None:
        """Take in what was written since, by whomever."""
        for entry in journal_entries.about_since(conn, site, self.subject, self.last):
            self.last = entry.number
            self._take(entry, fact_of(entry))

    def _take(self, entry: Entry, fact: ev.Fact) -> None:
        match fact:
            case ev.RoundUnit(unit=unit, read=read):
                known = self.came_to.get(unit, ("", None))[1]
                self.came_to[unit] = entry.by, read if read is not None else known
                self.place[entry.by] = unit
                self.seen_at[entry.by] = Instant(entry.at)
                if read is not None:
                    self.reads.setdefault(unit, []).append(read)
            case ev.RoundSeen():
                scan = Scan(
                    entry.number, Instant(entry.at), entry.by, fact.code, fact.unit,
                    fact.answer, fact.shelf, fact.by_eye,
                )  # fmt: skip
                self.scans.append(scan)
                if scan.answer != "unknown":
                    self.latest[scan.code] = scan
                self.place[entry.by] = fact.unit
                self.seen_at[entry.by] = Instant(entry.at)
            case ev.RoundFound():
                self.found.append((entry, fact))
            case ev.RoundNoted():
                self.notes.append((entry, fact))
            case ev.RoundEnded():
                self.end = entry, fact
            case ev.Voided(entry=number):
                self._drop(number)
            case _:
                pass

    def _drop(self, number: int) -> None:
        self.found = [each for each in self.found if each[0].number != number]
        self.notes = [each for each in self.notes if each[0].number != number]
        if any(scan.entry == number for scan in self.scans):
            self.scans = [scan for scan in self.scans if scan.entry != number]
            self.latest = {s.code: s for s in self.scans if s.answer != "unknown"}


@dataclass(frozen=True, slots=True)
class Answer:
    """What a scan is answered. ``line`` is how the container stands (None: gone or unknown).

    ``near`` are codes on hand one keystroke away from an unknown one, and ``mistyped`` says that
    it cannot be a code. ``before`` is the scan that saw it first, if one did.
    """

    word: ev.RoundAnswer
    typed: str
    row: ContainerRow | None = None
    line: Line | None = None
    near: tuple[str, ...] = ()
    mistyped: bool = False
    before: Scan | None = None

    @property
    def label_misleads(self) -> bool:
        """Whether its label says a later date than it may be kept."""
        row = self.row
        return (
            row is not None and row.ended_at is None
            and row.printed_use_by is not None and row.use_by is not None
            and row.use_by < row.printed_use_by
        )  # fmt: skip


# ---- beginning -------------------------------------------------------------------------------


def begin(kitchen: Kitchen, by: str, units: Sequence[Unit]) -> Round:
    """Begin a round through ``units`` (none: all, in the order of the walk)."""
    chosen = sorted(units or kitchen.units.values(), key=lambda unit: unit.order)
    names = tuple(dict.fromkeys(unit.name for unit in chosen))
    if not names:
        raise Mistake("no-unit", "This kitchen has no unit to walk.", "Add one: holdlog unit add")
    with kitchen.writing(by) as write:
        before = journal_entries.of_kinds(write.conn, kitchen.site, ["round"])
        fresh = f"R{len(before) + 1}"
        (entry,) = write.append((ev.RoundBegun(names), write.recorded_at, SUBJECT + fresh))
    return _of(entry, names)


def _of(entry: Entry, units: tuple[str, ...]) -> Round:
    return Round(
        entry.subject.removeprefix(SUBJECT), entry.number, units, Instant(entry.at), entry.by,
        entry.number,
    )  # fmt: skip


def rounds(kitchen: Kitchen, conn: Connection) -> list[Round]:
    """All rounds, the newest first; of each only how it began and ended."""
    found: dict[str, Round] = {}
    for entry in journal_entries.of_kinds(conn, kitchen.site, ["round", "round-ended"]):
        match fact_of(entry):
            case ev.RoundBegun(units=units):
                found[entry.subject] = _of(entry, units)
            case ev.RoundEnded() as fact:
                found[entry.subject].end = entry, fact
            case _:
                pass
    return list(reversed(found.values()))


def open_rounds(kitchen: Kitchen) -> list[Round]:
    """The rounds that were begun and not ended, the newest first."""
    with kitchen.db.reading() as conn:
        found = [each for each in rounds(kitchen, conn) if each.end is None]
        for each in found:
            each.catch_up(conn, kitchen.site)
    return found


def find(kitchen: Kitchen, typed: str = "") -> Round:
    """The round ``typed`` ("R12", "12"; empty: the newest), read in full."""
    wanted = typed.strip().upper()
    wanted = f"R{wanted}" if wanted.isdigit() else wanted
    with kitchen.db.reading() as conn:
        known = rounds(kitchen, conn)
        fits = [each for each in known if wanted in ("", each.id)]
        if not fits:
            newest = f"The newest is {known[0].id}." if known else "Begin one with: holdlog round"
            raise Mistake("no-round", f"There is no round {typed!r}.", newest)
        fits[0].end = None
        fits[0].catch_up(conn, kitchen.site)
    return fits[0]


# ---- walking ---------------------------------------------------------------------------------


def come_to(kitchen: Kitchen, by: str, walk: Round, unit: Unit, read: int | None = None) -> None:
    """The round comes to ``unit``; ``read`` is the entry of the temperature that was read."""
    _say(kitchen, by, walk, ev.RoundUnit(unit.name, read))


def note(kitchen: Kitchen, by: str, walk: Round, unit: Unit, text: str, code: str = "") -> None:
    """Something worth a note."""
    if not text.strip():
        raise Mistake("no-note", "What is to be noted?", "Say it in a few words.")
    _say(kitchen, by, walk, ev.RoundNoted(text.strip(), unit.name, code))


def found(
    kitchen: Kitchen,
    by: str,
    walk: Round,
    unit: Unit,
    what: str,
    amount: Amount | None = None,
    at: Instant | None = None,
) -> None:
    """Food without a label was found, and binned by rule: now, or ``at`` that moment."""
    if not what.strip():
        raise Mistake("no-name", "What was it?", "Say what it looked like: rice, a white sauce.")
    _say(kitchen, by, walk, ev.RoundFound(what.strip(), unit.name, amount), at)


def _say(kitchen: Kitchen, by: str, walk: Round, fact: ev.Fact, at: Instant | None = None) -> None:
    with kitchen.writing(by) as write:
        _append(write, walk, fact, at)


def _append(write: Writing, walk: Round, fact: ev.Fact, at: Instant | None = None) -> Entry:
    """Write ``fact`` into a round that is still open, after what others wrote into it.

    It is taken in with the next look at the round: until then it may not have been committed.
    """
    refuse_ended(write, walk)
    return write.append((fact, write.recorded_at if at is None else at, walk.subject))[0]


def refuse_ended(write: Writing, walk: Round) -> None:
    """Nothing is added to a round that was ended. Raises ``Mistake("round-ended")``."""
    walk.catch_up(write.conn, write.kitchen.site)
    if walk.end is not None:
        entry, _ = walk.end
        when = show_moment(Instant(entry.at), write.kitchen.where, write.recorded_at)
        raise Mistake(
            "round-ended",
            f"Round {walk.id} was ended by {entry.by}, {when}.",
            "What comes now belongs to a new one: holdlog round",
        )


def see(
    kitchen: Kitchen,
    by: str,
    walk: Round,
    unit: Unit,
    typed: str,
    *,
    shelf: int | None = None,
    by_eye: bool = False,
) -> Answer:
    """A scan in ``unit``: it is written down, and answered. Asks for one row by its code; only
    what is no container here is looked for among all codes on hand.
    """
    with kitchen.writing(by) as write:
        refuse_ended(write, walk)
        answer = _answer(write, walk, unit, typed)
        code = answer.row.code if answer.row is not None else answer.typed
        _append(write, walk, ev.RoundSeen(code, unit.name, answer.word, shelf, by_eye))
    return answer


def _answer(write: Writing, walk: Round, unit: Unit, typed: str) -> Answer:
    conn, site = write.conn, write.kitchen.site
    text = "".join(ch for ch in typed.strip() if ch.isprintable())[:LONGEST]
    try:
        code = read_code(text)
    except Mistake:
        tidy = "".join(ch for ch in text.upper() if ch.isalnum())
        close = near(tidy, on_hand.live_codes(conn, site))
        return Answer("unknown", text, near=tuple(close), mistyped=True)
    row = on_hand.find(conn, site, code)
    if row is None:
        return Answer("unknown", code, near=tuple(near(code, on_hand.live_codes(conn, site))))
    before = walk.latest.get(code)
    if row.ended_at is not None:
        return Answer("ended", code, row, before=before)
    line = judged(write.kitchen, conn, row, write.recorded_at)
    return Answer(_word(line, unit, before), code, line.row, line, before=before)


def _word(line: Line, unit: Unit, before: Scan | None) -> ev.RoundAnswer:
    """The worst that is to be told comes first; that it was seen before hides no danger."""
    if line.verdict in ("discard", "refuse"):
        return "bin"
    if line.verdict in ("hold", "reheat"):
        return "hold"
    if line.row.unit != unit.name:
        return "belongs"
    if line.no_limit:
        return "no-limit"
    if before is not None and before.unit == unit.name:
        return "again"
    return _plainly(line)


def _plainly(line: Line) -> ev.RoundAnswer:
    if line.row.state == "frozen":
        return "frozen"
    return "today" if line.verdict == "last-day" else "serve"


# ---- taking back -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Done:
    """Something that a cook did in a round, and can take back."""

    number: int
    subject: str
    says: str


def done_in(kitchen: Kitchen, conn: Connection, walk: Round, by: str = "") -> list[Done]:
    """What was done in the round and was not taken back, in order: with what was seen, with the
    units, and what was found. ``by``: by this cook at this station only.
    """
    walk.catch_up(conn, kitchen.site)
    who = by.strip().upper()
    until = walk.end[0].number if walk.end is not None else None
    about = journal_entries.of_subjects(
        conn, kitchen.site, [walk.subject, *walk.units, *walk.latest]
    )
    facts = [(entry, fact_of(entry)) for entry in about if entry.number > walk.number]
    gone = {fact.entry for _, fact in facts if isinstance(fact, ev.Voided)}
    return [
        Done(entry.number, entry.subject, tell(fact))
        for entry, fact in facts
        if isinstance(fact, _DONE) and entry.number not in gone
        and (until is None or entry.number < until)
        and (not who or (entry.by == who and entry.station == kitchen.station))
    ]  # fmt: skip


def last_done(kitchen: Kitchen, walk: Round, by: str) -> Done | None:
    """The last thing this cook did here in this round, if there is one to take back."""
    with kitchen.db.reading() as conn:
        return next(reversed(done_in(kitchen, conn, walk, by)), None)


def take_back(kitchen: Kitchen, by: str, walk: Round, last: Done) -> correct.Corrected:
    """Void what was done. It stays readable."""
    return correct.void(kitchen, by, last.number, f"taken back in round {walk.id}")
