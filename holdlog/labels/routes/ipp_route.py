"""Labels to a printer that reports back: hand over (RFC 8011, 4.2.1), then follow the job."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from holdlog.core.errors import Fault
from holdlog.labels.printer import Condition, Outcome, Printer, unreachable
from holdlog.labels.routes import ipp_message as ipp
from holdlog.labels.routes.ipp_client import LIMITS, Busy, Limits, address
from holdlog.labels.routes.ipp_job import Job, and_why, asked, patiently, standing
from holdlog.labels.routes.ipp_printer import Abilities, Shape, documents, fit, shape, usable
from holdlog.labels.routes.printer_words import as_a_name
from holdlog.labels.routes.waiting import Patience

if TYPE_CHECKING:
    from PIL import Image


def send(
    printer: Printer,
    images: "Sequence[Image.Image]",
    size_mm: tuple[float, float],
    title: str,
    tell: Callable[[str], None],
    pause: Callable[[float], None],
    patience: float,
    limits: Limits = LIMITS,
) -> Outcome:
    """See ``printer.send``. PNG goes as one job a label, and stops at the first that fails."""
    to = address(printer.address)
    left = Patience(pause, patience)
    # A printer out of labels stops taking octets as well: it is given as long as patience lasts.
    slow = Limits(limits.connect, max(limits.silence, patience), max(limits.answer, patience))
    try:
        able = patiently(lambda: standing(to, limits), left, tell)
        chosen = shape(able, printer.encoding)
        fit(able, chosen, printer.dpi, size_mm)
    except Fault as fault:
        return Outcome("failed", fault.line())
    if not able.accepting:
        return Outcome("failed", and_why("the printer takes no jobs now", able.reasons))
    if chosen.encoding != printer.encoding:
        tell(f"The printer does not take {printer.encoding}: it is sent {chosen.encoding}.")
    if able.state == "stopped":
        tell(f"{and_why('The printer has stopped', able.reasons)}.")
    given = _job_attributes(able, chosen, size_mm)
    outcome, gone = Outcome("failed"), 0
    for document, labels in documents(chosen, images, printer.dpi, size_mm):
        job = Job(to, labels, gone, len(images), tell, left, limits)
        handed = partial(
            asked, to, ipp.PRINT_JOB, _naming(chosen, title), slow, job=given, document=document
        )
        outcome = job.handed_over(handed)
        gone += labels
        if outcome.state != "completed":
            return with_the_rest(outcome, len(images) - gone)
    return outcome


def ask(printer: Printer, limits: Limits = LIMITS) -> Condition:
    """See ``printer.ask``."""
    return condition(lambda: standing(address(printer.address), limits))


def condition(asking: Callable[[], Abilities]) -> Condition:
    """What ``asking`` brings, as ``printer.ask`` tells it."""
    try:
        able = asking()
    except Busy:
        return Condition(True, "busy", (), (), (), ())  # noqa: FBT003
    except Fault as fault:
        return unreachable(fault.line())
    media = dict.fromkeys(size.words() for size in (*able.loaded, *able.sizes))
    return Condition(
        True,  # noqa: FBT003
        able.state,
        able.reasons if able.accepting else (*able.reasons, "it takes no jobs now"),
        usable(able),
        able.pwg_resolutions or able.resolutions,
        tuple(media),
    )


def _naming(chosen: Shape, title: str) -> list[ipp.Given]:
    name = as_a_name(title) or "labels"
    return [
        ("requesting-user-name", ipp.NAME, ["holdlog"]),
        ("job-name", ipp.NAME, [name]),
        ("document-format", ipp.MIME, [chosen.format]),
    ]


def _job_attributes(able: Abilities, chosen: Shape, size_mm: tuple[float, float]) -> bytes:
    given = b""
    if able.takes_size:
        across, along = (round(side * 100) for side in size_mm)
        given += ipp.attribute("media-col", ipp.COLLECTION, ipp.media_size(across, along))
    if able.unscaled and chosen.encoding != "pwg":
        given += ipp.attribute("print-scaling", ipp.KEYWORD, ["none"])
    return given


def with_the_rest(outcome: Outcome, rest: int) -> Outcome:
    """The outcome of a job after which ``rest`` labels are left that were not sent."""
    if not rest:
        return outcome
    return replace(
        outcome, reason=f"{outcome.reason}; the last {rest} labels were not sent".lstrip("; ")
    )
