"""One small tree of errors. Each carries a code, a sentence for a person and a hint.

The doors (cli, web) turn them into exit codes or pages in one place; nobody else prints them.
"""


class HoldlogError(Exception):
    """Something went wrong that a person can be told in one line.

    ``code`` is a stable word for programs, ``sentence`` says what was wrong and where,
    ``hint`` says what to do about it (may be empty).
    """

    exit_code = 1

    def __init__(self, code: str, sentence: str, hint: str = "") -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence
        self.hint = hint

    def line(self) -> str:
        """The one line shown to the user."""
        stop = "" if not self.hint or self.sentence.endswith((".", "?", "!", ":")) else "."
        return f"{self.sentence}{stop} {self.hint}".strip()


class Mistake(HoldlogError):
    """The user asked for something that cannot be: exit 2, nothing was written."""

    exit_code = 2


class Fault(HoldlogError):
    """The surroundings failed (disk, lock, damaged file): exit 1, nothing was half-written."""

    exit_code = 1


class BadFile(Mistake):
    """A file handed in is wrong. ``faults`` holds every fault found, not only the first."""

    def __init__(self, code: str, faults: tuple[str, ...], hint: str = "") -> None:
        super().__init__(code, "; ".join(faults), hint)
        self.faults = faults
