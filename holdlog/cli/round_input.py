"""What a cook or a scanner types in a round: one line at a time, and none is lost.

Lines are read as they come, from a terminal or a pipe; a scanner ends each code with Enter. A
code that comes where something else was asked is never taken for the answer: it is kept, and is
the next line.
"""

import sys
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field

from holdlog.cli.show import columns
from holdlog.core.codes import looks_like_a_code
from holdlog.reports.wrapping import wrap

# Between two rings of the bell, in seconds; a line that comes meanwhile is not kept waiting.
PAUSE = 0.2
SHORTEST_WORD = 2


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
        return text.strip()

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
        if text is not None and looks_like_a_code(text):
            self._kept.appendleft(text)
            print("  A code came in place of an answer; nothing was done.")
            return None
        return text

    def pick(self, question: str, options: Sequence[str], first: str = "") -> int | None:
        """Which of ``options`` is meant, by its number or a beginning of two letters: one letter
        may be a key. None: left (Enter, a code, or nothing more to read).

        ``first`` is an answer that was given with the key already.
        """
        asked = "\n".join(_wrapped(question, options, columns()))
        said: str | None = first
        while True:
            said = said or self.ask(asked)
            if not said:
                return None
            fits = _fitting(said.lower(), options)
            if len(fits) == 1:
                return fits[0]
            print(f"  {said!r} is none of these.")
            said = None

    def yes(self, question: str) -> bool:
        """Whether the answer begins with y."""
        return (self.ask(f"{question} (y, or Enter for no)") or "").lower().startswith("y")


def _wrapped(question: str, options: Sequence[str], wide: int) -> list[str]:
    """A question and its numbered answers, none of them broken over two lines."""
    numbered = [f"{n} {each}" for n, each in enumerate(options, 1)]
    # To the wrapping, a NUL is a blank at which no line ends.
    words = [each.replace(" ", "\0") for each in (*numbered, "(Enter: leave it)")]
    return wrap(f"{question} {', '.join(words[:-1])} {words[-1]}", wide - 1, rest="  ")


def _fitting(said: str, options: Sequence[str]) -> list[int]:
    if said.isascii() and said.isdigit():
        return [int(said) - 1] if 1 <= int(said) <= len(options) else []
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
