"""Labels to a print queue of this computer, through ``lp``.

``lp`` knows where the print service is and how to get in. What becomes of the job is asked of
the print service itself, in IPP: ``lpstat`` shows a job that was aborted and one that was printed
in the same words. No shell is involved, and nothing that a person typed can become an option:
the queue's name is checked, the title is the value of ``-t``, and file names follow ``--``.
"""

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from holdlog.core.errors import Fault, Mistake
from holdlog.labels.escpos import escpos_bytes
from holdlog.labels.printer import Condition, Outcome, Printer
from holdlog.labels.routes.ipp_client import LIMITS, Address, Busy, Limits, NoAnswer
from holdlog.labels.routes.ipp_job import Job, and_why, standing
from holdlog.labels.routes.ipp_printer import Abilities, documents, fit, shape
from holdlog.labels.routes.ipp_route import condition, with_the_rest
from holdlog.labels.routes.printer_words import as_a_name, plain
from holdlog.labels.routes.waiting import LOOK, Patience
from holdlog.labels.zpl import zpl_bytes

if TYPE_CHECKING:
    from PIL import Image

_RAW = {"zpl", "escpos"}
_GIVEN = re.compile(r"request id is \S+-([0-9]+) \(")
_PORT, _LAST_PORT = 631, 65_535
_LONGEST = 60.0  # seconds for a program; lp hands a whole file over


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
    """See ``printer.send``. ``completed`` means that the print service is done with the job."""
    lp = _program("lp")
    try:
        to = _service(printer)
        able = _standing(to, printer, limits)
        files = _files(able, printer, images, size_mm, tell)
    except Fault as fault:
        return Outcome("failed", fault.line())
    if able is not None and not able.accepting:
        return Outcome("failed", and_why("the queue takes no jobs now", able.reasons))
    if able is not None and able.state == "stopped":
        tell(f"{and_why('The queue has stopped', able.reasons)}.")
    options = ["-o", "raw"] if printer.encoding in _RAW else ["-o", f"media={_media(size_mm)}"]
    command = [lp, "-d", printer.address, "-t", _title(title), *options]
    left, outcome, gone = Patience(pause, patience), Outcome("failed"), 0
    for octets, labels in files:
        job = Job(to, labels, gone, len(images), tell, left, limits, counts=False)
        outcome = _printed(job, command, octets)
        gone += labels
        if outcome.state != "completed":
            return with_the_rest(outcome, len(images) - gone)
    return outcome


def _printed(job: Job, command: Sequence[str], octets: bytes) -> Outcome:
    try:
        job.number = _handed_over(command, octets)
    except NoAnswer as fault:
        return Outcome("sent", fault.sentence)
    except Fault as fault:
        return Outcome("failed", fault.line())
    return job.followed({})


def ask(printer: Printer, limits: Limits = LIMITS) -> Condition:
    """See ``printer.ask``: what the print service says of the queue."""
    _program("lp")
    return condition(lambda: standing(_service(printer), limits))


def _program(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        raise Mistake(
            "no-print-service",
            f"The program {name} is not on this computer, so it has no print queues.",
            "Install a print service, or reach the printer by ipp or socket.",
        )
    return found


def _run(command: Sequence[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603  (a list, no shell)
        command,
        env={**os.environ, "LC_ALL": "C"},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        errors="replace",
        timeout=_LONGEST,
        check=False,
    )


# --- the print service -----------------------------------------------------------------------


def _service(printer: Printer) -> Address:
    """The queue, where the print service of this computer has it: ``lpstat -H`` says."""
    try:
        where = _run([_program("lpstat"), "-H"]).stdout.strip()
    except (OSError, subprocess.TimeoutExpired):
        where = ""
    path = f"/printers/{quote(printer.address, safe='')}"
    if where.startswith("/"):
        return Address("localhost", _PORT, path, door=where)
    host, colon, port = where.rpartition(":")
    if not colon or not re.fullmatch("[0-9]{1,5}", port) or int(port) > _LAST_PORT:
        host, port = where, str(_PORT)
    if not host:
        raise Fault("no-print-service", "the print service of this computer does not answer")
    return Address(host.strip("[]"), int(port), path)


def _standing(to: Address, printer: Printer, limits: Limits) -> Abilities | None:
    """What the service says of the queue; ``None`` where it talks to ``lp`` only."""
    try:
        return standing(to, limits)
    except NoAnswer as fault:
        raise Fault(
            "no-print-service", f"the print service of this computer: {fault.sentence}"
        ) from None
    except Busy:
        return None
    except Fault as fault:
        if fault.code == "printer-forgot":
            raise Fault(
                "no-queue",
                f"there is no print queue named {printer.address}",
                "lpstat -e lists those of this computer.",
            ) from None
        return None


# --- the job ---------------------------------------------------------------------------------


def _files(
    able: Abilities | None,
    printer: Printer,
    images: "Sequence[Image.Image]",
    size_mm: tuple[float, float],
    tell: Callable[[str], None],
) -> Iterable[tuple[bytes, int]]:
    """The files, each a job, with its number of labels.

    Several PNG files in one job would become several rasters in one stream, of which a printer
    may print the first only.
    """
    if printer.encoding == "zpl":
        return [(zpl_bytes(images), len(images))]
    if printer.encoding == "escpos":
        return [(escpos_bytes(images, cut=True), len(images))]
    # Without a word from the service the kitchen's own setting is all there is to go by.
    chosen = shape(able or Abilities.unknown(), printer.encoding)
    if able is not None:
        fit(able, chosen, printer.dpi, size_mm)
        if chosen.encoding != printer.encoding:
            tell(f"The queue does not take {printer.encoding}: it is sent {chosen.encoding}.")
    return documents(chosen, images, printer.dpi, size_mm)


def _media(size_mm: tuple[float, float]) -> str:
    return f"Custom.{size_mm[0]:.2f}x{size_mm[1]:.2f}mm"


def _title(title: str) -> str:
    name = as_a_name(title)
    return name.lstrip("- ") or "labels"


def _handed_over(command: Sequence[str], octets: bytes) -> int:
    """The number that the print service gave the job."""
    with tempfile.TemporaryDirectory(prefix="labels-") as folder:
        path = Path(folder) / "labels"
        path.write_bytes(octets)
        try:
            finished = _run([*command, "--", str(path)])
        except subprocess.TimeoutExpired:
            raise NoAnswer("after", f"lp did not come to an end: {LOOK}", _LONGEST) from None
        except OSError as error:
            raise Fault("printer-refuses", f"lp cannot be started ({error.strerror})") from None
    if finished.returncode:
        said = finished.stderr.strip().removeprefix("lp:").strip().removeprefix("Error -")
        raise Fault("printer-refuses", f"lp refuses: {plain(said) or 'it does not say why'}")
    found = _GIVEN.search(finished.stdout)
    if found is None:
        raise NoAnswer("after", f"lp gave the job no number: {LOOK}")
    return int(found.group(1))
