"""One question to a printer and its answer: IPP over HTTP, RFC 8010, 4.

Every wait has an end. A printer that is silent for ``Limits.silence`` seconds, or takes longer
than ``Limits.answer`` for a whole answer however it drips, is given up.

``ipps://`` encrypts, and checks the certificate like a browser does. Most printers vouch for
themselves only, which proves nothing, so such a certificate is refused with its fingerprint in
the message; whoever has compared it with the printer's own page appends it to the address,
``ipps://host/ipp/print#sha256=…``, and from then on exactly that certificate is asked for.
``ipp://`` is not encrypted: labels hold no secrets, and most label printers know nothing else.
"""

import hashlib
import http.client
import io
import re
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal
from urllib.parse import urlsplit

from holdlog.core.errors import Fault, Mistake
from holdlog.labels.routes.ipp_message import MOST_OCTETS
from holdlog.labels.routes.printer_words import plain

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

_PORT = 631
_CHUNKED = 8  # times as many octets as an answer has, where it comes in the smallest of chunks
_PIECE = 16_384  # octets handed over at a time; each has its own time to be taken
_PIN = re.compile(r"sha256=([0-9a-f]{64})")
_EXAMPLE = "Give ipp://host[:port]/path, as ipp://10.0.0.7/ipp/print."


@dataclass(frozen=True, slots=True)
class Address:
    """Where a printer is.

    ``pin`` is the SHA-256 of its certificate, in hex, or empty; ``door`` the path of the socket
    of a print service on this computer, or empty.
    """

    host: str
    port: int
    path: str
    secure: bool = False
    pin: str = ""
    door: str = ""

    @property
    def uri(self) -> str:
        """The printer's URI, as it stands in every request."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'ipps' if self.secure else 'ipp'}://{host}:{self.port}{self.path}"


@dataclass(frozen=True, slots=True)
class Limits:
    """Seconds until a connection stands, without a sign of life, and for a whole answer."""

    connect: float = 5.0
    silence: float = 10.0
    answer: float = 30.0


LIMITS = Limits()
Stage = Literal["before", "during", "after"]


class NoAnswer(Fault):
    """Nothing came back. ``stage``: before anything, while, or after the request was sent.

    ``seconds`` is how long was waited for it, as far as a limit ran out.
    """

    def __init__(self, stage: Stage, sentence: str, seconds: float = 0.0) -> None:
        super().__init__("no-printer", sentence)
        self.stage = stage
        self.seconds = seconds


class Busy(Fault):
    """The printer has no time now and may have later."""


def address(text: str) -> Address:
    """Read ``ipp://`` or ``ipps://``; ``Mistake`` says what is wrong with it."""
    try:
        parts = urlsplit(text)
        port = parts.port
    except ValueError:
        raise _bad(text, "that is no address") from None
    if parts.scheme not in {"ipp", "ipps"}:
        raise _bad(text, "an address here begins with ipp:// or ipps://")
    if "@" in parts.netloc:
        raise _bad(text, "holdlog does not log in to printers: leave out name and password")
    if not parts.hostname or not re.fullmatch(r"[\w.%:-]+", parts.hostname) or port == 0:
        raise _bad(text, "it names no host")
    if parts.query or not re.fullmatch(r"[!-~]*", parts.path):
        raise _bad(text, "its path holds signs that no printer's path has")
    pin = _PIN.fullmatch(parts.fragment.lower().replace(":", ""))
    if parts.fragment and (pin is None or parts.scheme == "ipp"):
        raise _bad(text, "after # only sha256= and 64 hex digits may follow, and only in ipps://")
    return Address(
        parts.hostname,
        port or _PORT,
        parts.path or "/",
        parts.scheme == "ipps",
        pin.group(1) if pin else "",
    )


def _bad(text: str, why: str) -> Mistake:
    return Mistake("bad-printer-address", f"{text!r} is no printer: {why}.", _EXAMPLE)


def post(to: Address, message: bytes, document: bytes = b"", limits: Limits = LIMITS) -> bytes:
    """Send a request with its document; the octets of the answer.

    ``Busy`` for a printer that says so in HTTP, ``NoAnswer`` where the line is dead, ``Fault``
    for everything that is an answer but not a printer's.
    """
    line = _connected(to, limits)
    connection = http.client.HTTPConnection(to.host, to.port)
    connection.sock = line
    try:
        lost = _sent(connection, to, message + document)
        with _no_longer_than(limits.answer, line):
            return _received(connection, lost, limits)
    finally:
        connection.close()
        line.close()


def _connected(to: Address, limits: Limits) -> socket.socket:
    try:
        line = _by_the_door(to.door, limits) if to.door else _by_the_net(to, limits)
    except (OSError, UnicodeError) as error:
        raise NoAnswer("before", no_line(to.host, to.port, error), limits.connect) from None
    line.settimeout(limits.silence)
    if not to.secure:
        return line
    try:
        with _no_longer_than(limits.answer, line):
            return _secured(line, to)
    except ssl.SSLCertVerificationError as error:
        line.close()
        raise Fault("printer-certificate", _untrusted(to, error, limits)) from None
    except (OSError, ValueError) as error:
        line.close()
        raise Fault(
            "printer-certificate", f"no encrypted connection to {to.host}: {_said(error)}"
        ) from None


def _by_the_net(to: Address, limits: Limits) -> socket.socket:
    return socket.create_connection((to.host, to.port), limits.connect)


def _by_the_door(path: str, limits: Limits) -> socket.socket:
    line = socket.socket(socket.AF_UNIX)
    try:
        line.settimeout(limits.connect)
        line.connect(path)
    except OSError:
        line.close()
        raise
    return line


def _secured(line: socket.socket, to: Address) -> ssl.SSLSocket:
    context = ssl.create_default_context()
    if to.pin:
        # Not a looser check but a stricter one: one certificate in the world is right.
        context.check_hostname = False
        context.verify_mode = ssl.CERT_NONE
    secured = context.wrap_socket(line, server_hostname=to.host)
    found = _fingerprint(secured)
    if to.pin and found != to.pin:
        secured.close()
        raise ssl.SSLError(f"its certificate is not the one in the address, but sha256={found}")
    return secured


def _fingerprint(line: ssl.SSLSocket) -> str:
    return hashlib.sha256(line.getpeercert(binary_form=True) or b"").hexdigest()


def _untrusted(to: Address, error: ssl.SSLCertVerificationError, limits: Limits) -> str:
    said = f"the certificate of {to.host} cannot be trusted ({plain(error.verify_message)})"
    context = ssl.create_default_context()
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    try:
        with (
            socket.create_connection((to.host, to.port), limits.connect) as line,
            context.wrap_socket(line, server_hostname=to.host) as secured,
        ):
            found = _fingerprint(secured)
    except (OSError, ValueError):
        return said
    return (
        f"{said}; its fingerprint is sha256={found}: where the printer's own page shows the same, "
        "append #sha256=… to its address"
    )


def _sent(connection: http.client.HTTPConnection, to: Address, body: bytes) -> NoAnswer | None:
    """Hand the request over. What broke, if it broke: the printer may yet have said why."""
    gone = 0
    try:
        connection.putrequest("POST", to.path, skip_accept_encoding=True)
        connection.putheader("Content-Type", "application/ipp")
        connection.putheader("Content-Length", str(len(body)))
        connection.endheaders()
        for gone in range(0, len(body), _PIECE):
            connection.send(body[gone : gone + _PIECE])
    except OSError as error:
        return NoAnswer(
            "during",
            f"the connection broke off when {gone * 100 // len(body)} % was sent "
            f"({_said(error)}): look whether some labels came out",
        )
    return None


def _received(
    connection: http.client.HTTPConnection, lost: NoAnswer | None, limits: Limits
) -> bytes:
    try:
        response = connection.getresponse()
        # A chunk of less than nothing is read to the end, and there may be none.
        response.fp = io.BufferedReader(_AtMost(response.fp, _CHUNKED * MOST_OCTETS))
        octets = response.read(MOST_OCTETS + 1)
    except TimeoutError:
        raise lost or NoAnswer("after", "the printer did not answer", limits.silence) from None
    except http.client.BadStatusLine as error:
        if isinstance(error, http.client.RemoteDisconnected):
            raise lost or NoAnswer("after", "the printer closed the connection") from None
        raise lost or _no_printer("it does not speak HTTP") from None
    except http.client.IncompleteRead:
        raise lost or NoAnswer("after", "the printer's answer broke off") from None
    except (OSError, ValueError) as error:
        raise lost or NoAnswer("after", f"the connection was lost ({_said(error)})") from None
    except http.client.HTTPException:
        raise lost or _no_printer("it does not speak HTTP") from None
    _judge(response)
    return octets


class _AtMost(io.RawIOBase):
    """So much of a stream, and no more."""

    def __init__(self, source: io.BufferedIOBase, most: int) -> None:
        self._source, self._left = source, most

    def readable(self) -> bool:
        return True

    def readinto(self, into: "WriteableBuffer") -> int:
        view = memoryview(into)
        octets = self._source.read1(min(len(view), self._left))
        view[: len(octets)] = octets
        self._left -= len(octets)
        return len(octets)

    def close(self) -> None:
        self._source.close()
        super().close()


_HTTP = {
    401: "it asks for a password, and holdlog does not log in to printers; use a print queue",
    403: "it refuses this computer",
    404: "there is no printer under this path",
    413: "the job is too large for it",
    426: "it wants an encrypted connection: ipps:// instead of ipp://",
}


def _judge(response: http.client.HTTPResponse) -> None:
    """Refuse what HTTP alone shows to be no answer of a printer."""
    if response.status == http.HTTPStatus.SERVICE_UNAVAILABLE:
        raise Busy("printer-busy", "the printer is busy")
    if response.status != http.HTTPStatus.OK:
        words = _HTTP.get(response.status, f"it answers with HTTP status {response.status}")
        raise Fault("printer-refuses", f"the printer does not take the request: {words}")
    kind = response.headers.get_content_type()
    if kind != "application/ipp":
        raise _no_printer(f"it answers with {plain(kind)}")


def _no_printer(why: str) -> Fault:
    return Fault("no-printer", f"something is there, but no printer: {why}")


def no_line(host: str, port: int, error: Exception) -> str:
    """Why no connection came about, in words."""
    where = f"{host} port {port}"
    if isinstance(error, socket.gaierror | UnicodeError):
        return f"there is no computer or printer named {host}"
    if isinstance(error, ConnectionRefusedError):
        return f"{where} refuses: is the printer on, and is it this port?"
    if isinstance(error, TimeoutError):
        return f"{where} does not answer: is the printer on?"
    return f"{where} cannot be reached ({_said(error)})"


def _said(error: Exception) -> str:
    if isinstance(error, TimeoutError):
        return "no sign of life"
    return plain(getattr(error, "strerror", None) or str(error) or type(error).__name__)


@contextmanager
def _no_longer_than(seconds: float, line: socket.socket) -> Iterator[None]:
    """Hang up after so many seconds: a limit on each read does not stop a printer that drips."""
    timer = threading.Timer(seconds, _hang_up, (line,))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def _hang_up(line: socket.socket) -> None:
    with suppress(OSError):
        # The plain socket's, also where it is encrypted: no farewell, and nothing to wait for.
        socket.socket.shutdown(line, socket.SHUT_RDWR)
