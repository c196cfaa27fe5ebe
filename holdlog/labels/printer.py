"""A printer of the house: how it is reached, what it is sent, and what it said.

Four routes. ``folder`` takes files and is nobody's machine; ``ipp`` speaks to a printer that
reports back; ``queue`` hands over to the print service of this computer; ``socket`` pours a
printer language into port 9100 and learns little. What became of a job is never guessed: the
states are kept apart, and "sent" is not "printed".
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from holdlog.core.errors import Mistake
from holdlog.labels.layout import LEAST_DPI, MOST_DPI

if TYPE_CHECKING:
    from PIL import Image

Route = Literal["folder", "ipp", "queue", "socket"]
Encoding = Literal["png", "pdf", "pwg", "zpl", "escpos"]
State = Literal["rendered", "sent", "accepted", "completed", "failed"]

ENCODINGS: dict[str, tuple[Encoding, ...]] = {
    "folder": ("png", "pdf"),
    "ipp": ("pwg", "pdf", "png"),
    "queue": ("pwg", "pdf", "png", "zpl", "escpos"),
    "socket": ("zpl", "escpos"),
}
"""What each route can carry, the best first."""

# A queue's name may hold anything printable but these; a leading dash would be an option of lp.
_QUEUE = re.compile(r"(?!-)[^\s/\\?'\"#\x00-\x20\x7f]{1,127}")
_MOST_ADDRESS = 1023  # octets of a URI in IPP: RFC 8011, 5.1.6


@dataclass(frozen=True, slots=True)
class Printer:
    """One printer as the kitchen set it up.

    ``address`` is a folder's path, ``ipp://host[:port]/path`` (or ``ipps://``, see
    ``ipp_client``), a queue's name, or ``host[:port]`` (9100). ``dpi`` is the printer's own
    resolution, dots per inch, 203 to 1200.
    """

    name: str
    route: Route
    address: str
    encoding: Encoding
    template: str
    dpi: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a job, as far as the printer said.

    ``sent``: handed over, and no word of what became of it. ``accepted``: the printer gave it a
    number and had not finished when patience was over. ``completed`` and ``failed`` are the
    printer's words, or nothing was sent. ``reason`` is for a person, ``job`` the printer's
    number, ``printed`` the labels that it counted, where it counts. ``silent``: it is of those
    that never say what becomes of a job, so that no word of it is no sign of trouble.
    """

    state: State
    reason: str = ""
    job: str = ""
    printed: int | None = None
    silent: bool = False


@dataclass(frozen=True, slots=True)
class Condition:
    """How a printer stands, for ``printer test``.

    ``state`` and ``reasons`` are words; ``encodings`` what it takes of ours, best first (empty:
    it does not say); ``resolutions`` in dots per inch; ``media`` in words, what is loaded first.
    """

    reachable: bool
    state: str
    reasons: tuple[str, ...]
    encodings: tuple[str, ...]
    resolutions: tuple[int, ...]
    media: tuple[str, ...]


def check(printer: Printer) -> None:
    """Refuse a printer that cannot work, with a ``Mistake``. Touches no network and no disk."""
    known = ENCODINGS.get(printer.route)
    if known is None:
        raise _wrong(printer, f"no route {printer.route!r}", f"Use {', '.join(ENCODINGS)}.")
    if printer.encoding not in known:
        raise _wrong(
            printer,
            f"the route {printer.route} does not carry {printer.encoding!r}",
            f"It carries {', '.join(known)}.",
        )
    if not LEAST_DPI <= printer.dpi <= MOST_DPI:
        raise _wrong(printer, f"{printer.dpi} dpi", f"Give {LEAST_DPI} to {MOST_DPI}.")
    if not printer.address or not printer.address.isprintable():
        raise _wrong(printer, "it has no address, or one with signs that do not print", "")
    if len(printer.address.encode()) > _MOST_ADDRESS:
        raise _wrong(printer, "its address is too long", "")
    if printer.route == "queue" and not _QUEUE.fullmatch(printer.address):
        raise _wrong(
            printer,
            f"{printer.address!r} is no name of a print queue",
            "lpstat -e lists those of this computer.",
        )
    if printer.route == "ipp":
        from holdlog.labels.routes import ipp_client  # noqa: PLC0415

        ipp_client.address(printer.address)
    elif printer.route == "socket":
        from holdlog.labels.routes import socket_route  # noqa: PLC0415

        socket_route.host_and_port(printer.address)


def send(
    printer: Printer,
    images: "Sequence[Image.Image]",
    size_mm: tuple[float, float],
    title: str,
    *,
    tell: Callable[[str], None],
    pause: Callable[[float], None],
    patience: float = 60.0,
) -> Outcome:
    """Print ``images``, one a label, and stay until the printer is done or patience is over.

    ``size_mm`` is across and along the feed, as the images lie. ``tell`` gets a sentence whenever
    there is news; ``pause`` waits so many seconds. ``patience`` is how many seconds without news
    are borne: a label that comes out is news. Trouble with the printer is an ``Outcome``, not an
    error; a ``Mistake`` is raised for a printer that ``check`` refuses, a route that is a folder,
    a computer that lacks the programs of a print service, and no images at all.
    """
    check(printer)
    if not images:
        raise Mistake("no-labels", "There is no label to print.")
    if printer.route == "ipp":
        from holdlog.labels.routes import ipp_route  # noqa: PLC0415

        return ipp_route.send(printer, images, size_mm, title, tell, pause, patience)
    if printer.route == "queue":
        from holdlog.labels.routes import queue_route  # noqa: PLC0415

        return queue_route.send(printer, images, size_mm, title, tell, pause, patience)
    if printer.route == "socket":
        from holdlog.labels.routes import socket_route  # noqa: PLC0415

        return socket_route.send(printer, images, tell, patience)
    raise _wrong(printer, "it is a folder", "Files are written there, nothing is sent.")


def ask(printer: Printer) -> Condition:
    """How the printer stands. Answers within some seconds; trouble is part of the answer."""
    check(printer)
    if printer.route == "ipp":
        from holdlog.labels.routes import ipp_route  # noqa: PLC0415

        return ipp_route.ask(printer)
    if printer.route == "queue":
        from holdlog.labels.routes import queue_route  # noqa: PLC0415

        return queue_route.ask(printer)
    if printer.route == "socket":
        from holdlog.labels.routes import socket_route  # noqa: PLC0415

        return socket_route.ask(printer)
    if Path(printer.address).is_dir():
        return Condition(True, "there", (), ENCODINGS["folder"], (), ())  # noqa: FBT003
    return unreachable(f"there is no folder {printer.address}")


def unreachable(reason: str) -> Condition:
    """The condition of a printer that could not be asked."""
    return Condition(False, "unknown", (reason,), (), (), ())  # noqa: FBT003


def _wrong(printer: Printer, what: str, hint: str) -> Mistake:
    return Mistake("bad-printer", f"Printer {printer.name!r}: {what}.", hint)
