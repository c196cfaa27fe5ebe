"""Labels poured into port 9100. The best that can be said afterwards is "sent".

A printer that understands ZPL is asked first how it stands (~HS: the ZPL II programming guide,
"Host Status Return"), and labels are kept back where it says that it cannot print them. Many
printers do not answer that, some least of all when they are out of labels; silence is not held
against them.
"""

import re
import socket
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from holdlog.core.errors import Fault, Mistake
from holdlog.labels.escpos import escpos_bytes
from holdlog.labels.printer import Condition, Outcome, Printer, unreachable
from holdlog.labels.routes.ipp_client import LIMITS, Limits, no_line
from holdlog.labels.routes.waiting import LOOK
from holdlog.labels.zpl import zpl_bytes

if TYPE_CHECKING:
    from PIL import Image

_PORT = 9100
_PIECE = 4096  # octets; each has its own time to be taken
_TOLD = 1 << 20  # octets between two words about the progress
_HOW_ARE_YOU = b"~HS\r\n"
_STATUS_WAIT = 1.5  # seconds for the answer, which comes at once or not at all
_LINES = 3
_MOST_STATUS, _MOST_PIECES = 1024, 8  # octets at a time, and times; the lines have about 90
_STATUS_LINE = re.compile(rb"\x02([0-9A-Za-z,]{1,80})\x03")
# Position of a flag in each of the first two lines, and what it means when it is 1.
_FLAGS = (
    {1: "out of labels", 2: "paused", 9: "its settings are lost", 10: "too cold", 11: "too hot"},
    {2: "the head is open", 3: "out of ribbon"},
)
_LENGTHS = (12, 11)  # values of these lines


def host_and_port(text: str) -> tuple[str, int]:
    """Read ``host``, ``host:port``, ``[v6]`` or ``[v6]:port``; ``Mistake`` for anything else."""
    found = re.fullmatch(r"(?:\[([0-9A-Fa-f:.%\w]+)\]|([\w.-]+))(?::([0-9]{1,5}))?", text)
    port = int(found.group(3) or _PORT) if found else 0
    if found is None or not 0 < port < 65_536:  # noqa: PLR2004
        raise Mistake(
            "bad-printer-address",
            f"{text!r} is no printer: give host or host:port.",
            "As 10.0.0.7, or 10.0.0.7:9100.",
        )
    return found.group(1) or found.group(2), port


def send(
    printer: Printer,
    images: "Sequence[Image.Image]",
    tell: Callable[[str], None],
    patience: float,
    limits: Limits = LIMITS,
) -> Outcome:
    """See ``printer.send``; ``patience`` is how long the printer may refuse to take more."""
    document = zpl_bytes(images) if printer.encoding == "zpl" else escpos_bytes(images, cut=True)
    try:
        line = _connected(printer, limits)
    except Fault as fault:
        return Outcome("failed", fault.line())
    with line:
        if printer.encoding == "zpl":
            trouble = _status(line)
            if trouble:
                return Outcome("failed", f"{', '.join(trouble)}; nothing was sent")
        line.settimeout(max(limits.silence, patience))
        gone = 0
        try:
            for gone in range(0, len(document), _PIECE):
                line.sendall(document[gone : gone + _PIECE])
                if gone and gone // _TOLD != (gone - _PIECE) // _TOLD:
                    tell(f"{gone * 100 // len(document)} % of the labels are sent.")
            line.shutdown(socket.SHUT_WR)
        except OSError as error:
            why = "took no more" if isinstance(error, TimeoutError) else "broke off"
            percent = gone * 100 // len(document)
            return Outcome("failed", f"the printer {why} when {percent} % was sent: {LOOK}")
        return _farewell(line)


def _farewell(line: socket.socket) -> Outcome:
    """Wait a little for the printer to hang up: a reset now means that it did not take all."""
    line.settimeout(0.5)
    try:
        line.recv(_MOST_STATUS)
    except TimeoutError:
        pass  # it keeps the line open, as many do
    except OSError:
        return Outcome("sent", f"the printer hung up: {LOOK}")
    return Outcome("sent", "this printer does not report back", silent=True)


def ask(printer: Printer, limits: Limits = LIMITS) -> Condition:
    """See ``printer.ask``: a connection, and for ZPL the printer's own flags if it tells."""
    try:
        line = _connected(printer, limits)
    except Fault as fault:
        return unreachable(fault.line())
    with line:
        trouble = _status(line) if printer.encoding == "zpl" else None
    state = "unknown" if trouble is None else "stopped" if trouble else "ready"
    return Condition(True, state, trouble or (), (printer.encoding,), (), ())  # noqa: FBT003


def _connected(printer: Printer, limits: Limits) -> socket.socket:
    host, port = host_and_port(printer.address)
    try:
        return socket.create_connection((host, port), limits.connect)
    except (OSError, UnicodeError) as error:
        raise Fault("no-printer", no_line(host, port, error)) from None


def _status(line: socket.socket) -> tuple[str, ...] | None:
    """What keeps the printer from printing, by its answer to ~HS; ``None``: no such answer."""
    line.settimeout(_STATUS_WAIT)
    octets = b""
    try:
        line.sendall(_HOW_ARE_YOU)
        for _ in range(_MOST_PIECES):
            more = line.recv(_MOST_STATUS)
            octets += more
            if not more or octets.count(b"\x03") >= _LINES:
                break
    except OSError:
        pass  # what came until then counts
    return flags(octets)


def flags(octets: bytes) -> tuple[str, ...] | None:
    """The troubles in an answer to ~HS; ``None`` where it is not one."""
    lines = [found.split(b",") for found in _STATUS_LINE.findall(octets)[:2]]
    if tuple(map(len, lines)) != _LENGTHS:
        return None
    return tuple(
        words
        for values, meanings in zip(lines, _FLAGS, strict=True)
        for position, words in meanings.items()
        if values[position] == b"1"
    )
