"""A question to an IPP printer or print service, and following a job to its end.

RFC 8011, 4.2.5 (Get-Printer-Attributes) and 4.3.4 (Get-Job-Attributes). A print service speaks
the same language about its queues.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import count
from typing import TypeVar

from holdlog.core.errors import Fault
from holdlog.labels.printer import Outcome, State
from holdlog.labels.routes import ipp_message as ipp
from holdlog.labels.routes.ipp_client import Address, Busy, Limits, NoAnswer, post
from holdlog.labels.routes.ipp_printer import WANTED, Abilities, abilities
from holdlog.labels.routes.printer_words import in_words, plain, standstill
from holdlog.labels.routes.waiting import LOOK, STOPPED_ANSWERING, Patience

# Status: RFC 8011, appendix B. All below are successes of some kind.
_FIRST_ERROR = 0x0100
_NOT_FOUND, _BUSY = 0x0406, 0x0507
_STATUS = {
    0x0401: "it refuses this computer",
    0x0402: "it asks for a password; use a print queue",
    0x0403: "it refuses this computer",
    0x0404: "it cannot do that now",
    0x0406: "there is no printer or job under this address",
    0x0407: "there is no printer or job under this address any more",
    0x0408: "the job is too large for it",
    0x040A: "it does not take this kind of file",
    0x040B: "it does not take jobs of this kind",
    0x040E: "it does not take jobs of this kind",
    0x0411: "it cannot read the labels",
    0x0500: "something inside it failed",
    0x0501: "it does not know how to do that",
    0x0502: "it is out of service",
    0x0503: "it speaks another version of IPP",
    0x0504: "something is wrong with the machine",
    0x0505: "it has a passing trouble; try again",
    0x0506: "it takes no jobs now",
    0x0508: "the job was cancelled",
}
_PENDING, _CANCELED, _COMPLETED = {3, 4, 5, 6}, 7, 9  # job-state: RFC 8011, 5.3.7
_JOB_WANTED = (
    "job-impressions-completed",
    "job-media-sheets-completed",
    "job-printer-state-message",
    "job-printer-state-reasons",
    "job-state",
    "job-state-message",
    "job-state-reasons",
)
_MOST_MISSES = 4  # questions about a job in a row that nobody answers
_numbers = count(1)
Answered = TypeVar("Answered")

# --- questions -------------------------------------------------------------------------------


def asked(
    to: Address,
    operation: int,
    given: Sequence[ipp.Given],
    limits: Limits,
    *,
    job: bytes = b"",
    document: bytes = b"",
) -> ipp.Answer:
    """A question and its answer. ``Busy`` and ``Fault`` carry the printer's refusal in words."""
    number = next(_numbers) % 0x7FFF_FFFF + 1
    answer = ipp.answer(
        post(to, ipp.question(operation, number, to.uri, given, job), document, limits)
    )
    if answer.number != number:
        raise Fault("printer-answer", "the printer answered another question")
    if answer.status == _BUSY:
        raise Busy("printer-busy", "the printer is busy")
    if answer.status >= _FIRST_ERROR:
        words = _STATUS.get(answer.status, f"IPP status {answer.status:#06x}")
        texts = answer.first(ipp.OPERATION).get("status-message", ())
        own = tuple(plain(text) for text in texts if isinstance(text, str) and text.strip())
        code = "printer-forgot" if answer.status == _NOT_FOUND else "printer-refuses"
        raise Fault(code, and_why("the printer refuses", (words, *own)))
    return answer


def standing(to: Address, limits: Limits) -> Abilities:
    """What the printer says of itself."""
    given = [
        ("requesting-user-name", ipp.NAME, ["holdlog"]),
        ("requested-attributes", ipp.KEYWORD, WANTED),
    ]
    said = asked(to, ipp.GET_PRINTER_ATTRIBUTES, given, limits).first(ipp.PRINTER)
    return abilities(said)


def patiently(
    call: Callable[[], Answered], left: Patience, tell: Callable[[str], None]
) -> Answered:
    """Call until the printer is not busy, or patience is over."""
    told = False
    while True:
        try:
            answered = call()
        except Busy:
            if not told:
                tell("The printer is busy, waiting.")
                told = True
            if not left.wait():
                raise Fault("printer-busy", "the printer is still busy, nothing was sent") from None
        else:
            left.news()
            return answered


# --- what becomes of a job -------------------------------------------------------------------


@dataclass(slots=True)
class Job:
    """One job of ``labels`` labels, of ``total`` in all; ``gone`` went with earlier jobs.

    ``counts`` is false for a print service: it counts one page for a file that it only passes on,
    and now and then takes a job for done that the printer gave up. Where it says so while the
    printer stands still, that is not believed.
    """

    to: Address
    labels: int
    gone: int
    total: int
    tell: Callable[[str], None]
    left: Patience
    limits: Limits
    counts: bool = True
    number: int = 0
    counted: int | None = None
    shown: tuple[str, ...] = ()

    def handed_over(self, hand_over: Callable[[], ipp.Answer]) -> Outcome:
        """Send it, and follow it to its end. Never sent twice unless it was refused as busy."""
        try:
            answer = patiently(hand_over, self.left, self.tell)
        except NoAnswer as fault:
            if fault.stage == "after":
                return self._outcome("sent", STOPPED_ANSWERING)
            return self._outcome("failed", fault.line())
        except Fault as fault:
            if fault.code in {"printer-answer", "no-printer"}:
                return self._outcome("sent", f"{fault.sentence}: {LOOK}")
            return self._outcome("failed", fault.line())
        said = answer.first(ipp.JOB)
        self.number = _number(said, "job-id") or 0
        if self.number <= 0:
            return self._outcome("sent", f"the printer gave the job no number: {LOOK}")
        if "media-col" in answer.first(ipp.UNSUPPORTED):
            self.tell("The printer does not heed the size of the labels.")
        return self.followed(said)

    def followed(self, said: ipp.Attributes) -> Outcome:
        """Ask after the job until it ends, patience is over, or nobody answers any more."""
        misses = 0
        while True:
            self._count(said)
            state = _number(said, "job-state")
            if state is not None and state not in _PENDING:
                return self._ended(state, said)
            reasons = self._printer_reasons(said)
            if reasons and reasons != self.shown:
                self.tell(f"The printer says: {', '.join(reasons)}.")
                self.shown = reasons
            if not self.left.wait():
                words = reasons or _job_words(said) or ("it still has the job",)
                return self._outcome("accepted", ", ".join(words))
            try:
                said = self._job()
                misses = 0
            except Busy:
                continue
            except NoAnswer as fault:
                misses += 1
                self.left.spend(fault.seconds)
                if misses >= _MOST_MISSES:
                    return self._outcome("sent", STOPPED_ANSWERING)
            except Fault as fault:
                why = fault.sentence
                if fault.code == "printer-forgot":
                    why = "the printer does not know the job any more"
                return self._outcome("sent", f"{why}: {LOOK}")

    def _job(self) -> ipp.Attributes:
        given: list[ipp.Given] = [
            ("job-id", ipp.INTEGER, [self.number]),
            ("requesting-user-name", ipp.NAME, ["holdlog"]),
            ("requested-attributes", ipp.KEYWORD, _JOB_WANTED),
        ]
        return asked(self.to, ipp.GET_JOB_ATTRIBUTES, given, self.limits).first(ipp.JOB)

    def _count(self, said: ipp.Attributes) -> None:
        """Take in how many labels the printer counts; a printer that only says 0 does not count."""
        found = _number(said, "job-impressions-completed")
        if not found:
            found = _number(said, "job-media-sheets-completed")
        if not self.counts or not found or found <= (self.counted or 0):
            return
        self.counted = min(found, self.labels)
        if found <= self.labels:
            self.left.news()
        if self.counted < self.labels:
            done = self.gone + self.counted
            self.tell(f"{done} of {self.total} printed, says the printer.")

    def _printer_reasons(self, said: ipp.Attributes) -> tuple[str, ...]:
        """Why the printer stands still, by the job or by the printer itself."""
        reasons = in_words(_texts(said, "job-printer-state-reasons"))
        if reasons:
            return reasons
        try:
            return standing(self.to, self.limits).reasons
        except Fault:
            return ()  # the next question about the job will tell

    def _ended(self, state: int, said: ipp.Attributes) -> Outcome:
        if state == _COMPLETED:
            keywords = _texts(said, "job-state-reasons")
            words = in_words(word for word in keywords if word.startswith("job-completed-with-"))
            if self.counted is not None and self.counted < self.labels:
                words = (f"it counts {self.counted} of {self.labels} labels: {LOOK}", *words)
            trouble = standstill(self._printer_reasons(said))
            if trouble and not self.counts:
                return self._outcome(
                    "sent", f"the print service is done, but says: {', '.join(trouble)}; {LOOK}"
                )
            words = (*words, *trouble)
            return self._outcome("completed", ", ".join(words))
        messages = _texts(said, "job-state-message") + _texts(said, "job-printer-state-message")
        words = (
            *(plain(message).rstrip(".") for message in messages if message.strip()),
            *self._printer_reasons(said),
        )
        default = "the job was cancelled" if state == _CANCELED else "the printer gave the job up"
        words = words or _job_words(said) or (default,)
        return self._outcome("failed", ", ".join(dict.fromkeys(words)))

    def _outcome(self, state: State, reason: str) -> Outcome:
        printed = None if self.counted is None else self.gone + self.counted
        return Outcome(state, reason, str(self.number or ""), printed)


def _job_words(said: ipp.Attributes) -> tuple[str, ...]:
    return in_words(_texts(said, "job-state-reasons"))


def _texts(said: ipp.Attributes, name: str) -> list[str]:
    return [value for value in said.get(name, ()) if isinstance(value, str)]


def _number(said: ipp.Attributes, name: str) -> int | None:
    value = next(iter(said.get(name, ())), None)
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def and_why(what: str, reasons: Sequence[str]) -> str:
    """A sentence with its reasons, each once, where there are any."""
    return f"{what}: {', '.join(dict.fromkeys(reasons))}" if reasons else what
