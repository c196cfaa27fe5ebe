"""Reads the file of a data logger: rows of a time and a temperature.

Every line is accounted for: it is set aside (what stands above the rows, blanks, a heading that
comes again), read, refused with a reason, or a repetition. What cannot be read with certainty is
refused. A refused row is a gap in the readings, and a gap is time of which nothing is known.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

from holdlog.core.moments import Instant, show_dated
from holdlog.core.temperature import Scale
from holdlog.kitchen.logger_columns import Told
from holdlog.kitchen.logger_dialect import Dialect, dialect, is_blank
from holdlog.kitchen.logger_order import Order, Sample, out_of_order
from holdlog.kitchen.logger_switch import switched
from holdlog.kitchen.logger_text import Lines, bad, cells, line_shown, read_lines
from holdlog.kitchen.logger_times import Times, day_first, split_moment
from holdlog.kitchen.logger_values import Values

__all__ = ["LoggerFile", "Refused", "Told", "read_logger"]

Tell = Callable[[int, int], None]
_TELL_EVERY = 20_000
_FAULTS_SHOWN = 5
_ROWS_COMPARED = 200


class Refused(NamedTuple):
    """A row that was not read: its line (from 1), the start of its text, and why (no stop)."""

    line: int
    text: str
    reason: str


@dataclass(frozen=True, slots=True)
class LoggerFile:
    """What a file says. ``samples``: instants (UTC ms, increasing) and hundredths on ``scale``.

    ``lines == aside + len(samples) + len(refused) + duplicates``, always. ``header`` holds the
    names of the columns, ``column`` the one that was read, ``notes`` sentences for the person.
    """

    samples: Sequence[Sample]
    scale: Scale
    refused: tuple[Refused, ...]
    duplicates: int
    lines: int
    aside: int
    header: tuple[str, ...]
    column: str
    notes: tuple[str, ...]


def read_logger(
    data: bytes, where: ZoneInfo, *, told: Told, tell: Tell | None = None
) -> LoggerFile:
    """Read the bytes of a logger's CSV file; times without a zone are those of ``where``.

    ``tell`` is called with the number of lines done and of all lines. Raises
    ``BadFile("bad-logger-file")``, with the lines it is about, if the file cannot be read at
    all or could be read in two ways; ``told`` settles the latter.
    """
    text = read_lines(data)
    form = dialect(text.lines, told)
    rows = _Rows(text.lines, form, where, told)
    rows.read(tell or _nobody)
    rows.doubt_the_end(text)
    if not told.one_scale and not form.named:
        rows.doubt_the_scale()
    if not rows.samples:
        few = [f"line {line}: {reason}" for line, _, reason in rows.refused[:_FAULTS_SHOWN]]
        raise bad("no row could be read", *few)
    return rows.result(text)


def _nobody(_done: int, _total: int) -> None:
    pass


def _instants(times: Times, form: Dialect, split: list[str]) -> tuple[Instant, ...] | str:
    """The instants that a row may have, or a reason."""
    if form.epoch:
        return times.epoch(split[form.day])
    if form.clock is None:
        return times.read(*split_moment(split[form.day]))
    return times.read(split[form.day], split[form.clock])


class _Rows:
    """The rows of one file on their way to samples; ``numbers`` holds the line of each sample."""

    def __init__(self, lines: list[str], form: Dialect, where: ZoneInfo, told: Told) -> None:
        self.lines = lines
        self.form = form
        self.where = where
        self.samples: list[Sample] = []
        self.numbers: list[int] = []
        self.refused: list[Refused] = []
        self.duplicates: list[int] = []
        self.aside = form.start
        self.backwards = False
        self.notes: list[str] = []
        self.values = Values(form.scale, told.decimal, named=form.named)
        self.order = Order(where)
        self._needed = max(form.day, form.clock or 0, form.value)
        # Where one cell holds day and clock: what nearly always stands between them.
        self._between = "T" if "T" in lines[form.start] else " "
        order = None if form.plain_days else day_first(self._days(), told.day_first)
        self.times = Times(
            where, form.fixed, day_first=order, two_figures=told.day_first is not None
        )

    def read(self, tell: Tell) -> None:
        """Go through all rows, in the order in which they were measured."""
        total, done = len(self.lines), self.form.start
        for number, line in self._in_order():
            done += 1
            if not done % _TELL_EVERY:
                tell(done, total)
            reason = self._row(number, line)
            if reason:
                self.refused.append(Refused(number, line_shown(line), reason))
        tell(total, total)

    def _row(self, number: int, line: str) -> str | None:
        """Deal with one line; the reason if it is refused."""
        if line == self.form.repeated or is_blank(line):
            self.aside += 1
            return None
        split = cells(line, self.form.delimiter)
        if split is None:
            return "too long, or its quotation marks do not match"
        if len(split) <= self._needed:
            return "it ends too early"
        if len(split) > self.form.width and any(map(str.strip, split[self.form.width :])):
            return "more cells than there are columns"
        at = self._at(number, split)
        return at if isinstance(at, str) else self._keep(number, at, split[self.form.value])

    def _keep(self, number: int, at: Instant, text: str) -> str | None:
        value = self.values.known.get(text)
        if value is None:
            read = self.values.read(text)
            if isinstance(read, str):
                return read
            value = read
        if at < self.order.last or (self.samples and at <= self.samples[-1][0]):
            reason = out_of_order(at, value, self.samples, self.order)
            if reason is None:
                self.duplicates.append(number)
            return reason
        self.samples.append((at, value))
        self.numbers.append(number)
        return None

    def _at(self, number: int, split: list[str]) -> Instant | str:
        form, times = self.form, self.times
        if form.clock is None:
            day, _, clock = split[form.day].partition(self._between)
        else:
            day, clock = split[form.day], split[form.clock]
        midnight, since = times.days.get(day), times.clocks.get(clock)
        if midnight is not None and since is not None:
            return self.order.follow(number, Instant(midnight + since))
        found = _instants(times, form, split)
        return found if isinstance(found, str) else self.order.place(number, found)

    def _days(self) -> dict[str, tuple[int, int]]:
        """The different texts of dates, with the first line and the number of lines of each."""
        found: dict[str, tuple[int, int]] = {}
        form = self.form
        for number in range(form.start, len(self.lines)):
            split = cells(self.lines[number], form.delimiter)
            if split is None or len(split) <= self._needed:
                continue
            day = split[form.day]
            if form.clock is None:
                day, _ = split_moment(day)
            first, count = found.get(day, (number + 1, 0))
            found[day] = (first, count + 1)
        return found

    def _in_order(self) -> Iterable[tuple[int, str]]:
        """The rows with the numbers of their lines; from the bottom if the newest is on top."""
        start = self.form.start
        numbered = range(start + 1, len(self.lines) + 1)
        self.backwards = self._newest_first()
        if not self.backwards:
            return zip(numbered, self.lines[start:], strict=True)
        self.notes.append("The newest row is on top; the file was read from the bottom.")
        return zip(reversed(numbered), reversed(self.lines[start:]), strict=True)

    def _newest_first(self) -> bool:
        trial = self.times.anew()
        instants = list(self._first_instants(trial))
        steps = [after - before for before, after in pairwise(instants)]
        return sum(step < 0 for step in steps) > sum(step > 0 for step in steps)

    def _first_instants(self, trial: Times) -> Iterator[int]:
        form = self.form
        for line in self.lines[form.start : form.start + _ROWS_COMPARED]:
            split = cells(line, form.delimiter)
            if split is None or len(split) <= self._needed:
                continue
            found = _instants(trial, form, split)
            if not isinstance(found, str):
                yield found[0]

    def doubt_the_end(self, text: Lines) -> None:
        """Refuse the last line if it has no end and its last figures may be missing."""
        number = len(text.lines)
        if text.whole or number not in self.numbers[:1] + self.numbers[-1:]:
            return
        if self._whole(text.lines[-1]):
            return
        where = self.numbers.index(number)
        del self.samples[where], self.numbers[where]
        self.refused.append(
            Refused(number, line_shown(text.lines[-1]), "the file ends within this line")
        )

    def _whole(self, line: str) -> bool:
        split = cells(line, self.form.delimiter) or []
        if len(split) > self._needed + 1 or line.rstrip().endswith('"'):
            return True
        if self._needed != self.form.value:
            return False
        # All readings have the same number of decimals, and this one has them all.
        cell, decimals = split[self.form.value].strip(), self.values.decimals
        all_alike = len(decimals) == 1 and 0 not in decimals and len(self.samples) > 1
        return all_alike or not cell[-1:].isdecimal()

    def doubt_the_scale(self) -> None:
        """Refuse everything from a jump that looks like a change of the logger's scale."""
        found = switched(self.samples)
        if found is None:
            return
        line, (at, _) = self.numbers[found], self.samples[found]
        reason = f"from line {line} on the readings look like those of the other scale"
        # What was measured later stands below, or above if the newest is on top.
        later = [n for n in self.duplicates if (n < line if self.backwards else n > line)]
        gone = self.numbers[found:] + later
        self.refused += [Refused(n, line_shown(self.lines[n - 1]), reason) for n in gone]
        del self.samples[found:], self.numbers[found:]
        self.duplicates = sorted(set(self.duplicates).difference(later))
        self.notes.append(
            f"At line {line} ({show_dated(Instant(at), self.where)}) the readings jump as if"
            " the logger had been set to the other scale; nothing measured since was read."
            " If it was so cold or so warm: --one-scale."
        )

    def result(self, text: Lines) -> LoggerFile:
        """Everything, with the refused rows by line."""
        form = self.form
        if self.values.rounded:
            self.notes.append("Readings with more than two decimals were rounded to hundredths.")
        name = form.heading[form.value] if form.value < len(form.heading) else ""
        return LoggerFile(
            samples=self.samples,
            scale=form.scale,
            refused=tuple(sorted(self.refused)),
            duplicates=len(self.duplicates),
            lines=len(text.lines),
            aside=self.aside,
            header=form.heading,
            column=name or str(form.value + 1),
            notes=(*text.notes, *self.notes, *self.order.notes),
        )
