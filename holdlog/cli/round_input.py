"""What a cook or a scanner types in a round: one line at a time, and none is lost.

Lines are read as they come, from a terminal or a pipe; a scanner ends each code with Enter. A
code that comes where something else was asked is never taken for the answer: it is kept, and is
the next line.
"""

import re
import sys
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field

from holdlog.cli.show import columns
from holdlog.core.amounts import read_amount
from holdlog.core.codes import is_code, looks_like_a_code
from holdlog.core.errors import Mistake
from holdlog.core.visible import quoted, visible
from holdlog.reports.wrapping import wrap

# Between two rings of the bell, in seconds; a line that comes meanwhile is not kept waiting.
PAUSE = 0.2
SHORTEST_WORD = 2
# A code as it is written or scanned: eight signs, at most parted in the middle. "500 grams" and
# "2 lids off" have eight signs too.
_WRITTEN = re.compile(r"[^A-Za-z0-9]*[A-Za-z0-9]{4}[\s-]?[A-Za-z0-9]{4}[^A-Za-z0-9]*")
# What some scanners put before a code to say which kind of bars it was (ISO/IEC 15424).
_KIND_OF_BARS = re.compile(r"\][A-Za-z][0-9A-Za-z]")


@dataclass(slots=True)
class Input:
    """The lines to come. ``over`` once there are none."""

    over: bool = False
    _kept: deque[str] = field(default_factory=deque)

    def line(self, prompt: str = "") -> str | None:
        """The next line without its end; None when there are no more."""
        if self._kept:
            return self._kept.popleft()
        # What was typed ahead stands on the screen already: no prompt between it and its answer.
        if prompt and sys.stdin.isatty() and not _typed_within(0):
            print(prompt, end="", flush=True)
        else:
            sys.stdout.flush()
        text = "" if self.over else sys.stdin.readline()
        if not text:
            self.over = True
            return None
        return _without_kind(text.strip())

    @property
    def kept(self) -> bool:
        """Whether a code waits that came where something else was asked."""
        return bool(self._kept)

    def keep(self, text: str) -> None:
        """Read ``text`` again as the next line."""
        self._kept.appendleft(text)

    def ask(self, question: str) -> str | None:
        """The answer to a question; None when a code came in its place, or nothing more."""
        end = "" if sys.stdin.isatty() else "\n"
        print(f"{question} ", end=end, flush=True)
        text = self.line()
        if text is not None and is_a_scan(text):
            self._kept.appendleft(text)
            print("  A code came in place of an answer; nothing was done.")
            return None
        return text

    def pick(
        self, question: str, options: Sequence[str], first: str = "", words: Sequence[str] = ()
    ) -> int | None:
        """Which of ``options`` is meant, by its number or a beginning of two letters: one letter
        may be a key. None: left (Enter, a code, or nothing more to read).

        ``first`` is an answer that was given with the key already; ``words`` are shorter names
        of the options.
        """
        asked = "\n".join(_wrapped(question, options, columns()))
        said: str | None = first
        while True:
            said = said or self.ask(asked)
            if not said:
                return None
            for names in (words, options):
                fits = _fitting(said.lower(), names)
                if len(fits) == 1:
                    return fits[0]
            print(f"  {quoted(said)} is none of these.")
            said = None

    def yes(self, question: str) -> bool:
        """Whether the answer begins with y."""
        return (self.ask(f"{question} (y, or Enter for no)") or "").lower().startswith("y")


def is_a_scan(text: str) -> bool:
    """Whether what was answered to a question is a code that was scanned in its place."""
    if not looks_like_a_code(text) or not _WRITTEN.fullmatch(text):
        return False
    try:
        read_amount(text)
    except Mistake:
        return True
    return False


def _without_kind(text: str) -> str:
    kind = _KIND_OF_BARS.match(text)
    rest = "".join(ch for ch in text[kind.end() :].upper() if ch.isalnum()) if kind else ""
    return rest if is_code(rest) else text


def _wrapped(question: str, options: Sequence[str], wide: int) -> list[str]:
    """A question and its numbered answers, none of them broken over two lines."""
    numbered = [f"{n} {visible(each)}" for n, each in enumerate(options, 1)]
    # To the wrapping, a NUL is a blank at which no line ends.
    words = [each.replace(" ", "\0") for each in (*numbered, "(Enter: leave it)")]
    return wrap(f"{visible(question)} {', '.join(words[:-1])} {words[-1]}", wide - 1, rest="  ")


def _fitting(said: str, options: Sequence[str]) -> list[int]:
    if said.isascii() and said.isdigit():
        return [n for n in range(len(options)) if said == str(n + 1)]
    if len(said) < SHORTEST_WORD:
        return []
    return [n for n, each in enumerate(options) if each.lower().startswith(said)]


def ring(times: int) -> None:
    """Ring the terminal's bell, where there is one."""
    if not sys.stdout.isatty():
        return
    for number in range(times):
        if number:
            _typed_within(PAUSE)
        print("\a", end="", flush=True)


def _typed_within(seconds: float) -> bool:
    """Whether a line has been typed, or is within so many seconds."""
    import select
    import time

    try:
        return bool(select.select([sys.stdin], [], [], seconds)[0])
    except (OSError, ValueError):  # a system whose terminals cannot be waited for
        time.sleep(seconds)
        return False
