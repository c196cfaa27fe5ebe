"""Port 9100, played by sockets on loopback."""

import socket

import pytest

from holdlog.labels.escpos import escpos_bytes
from holdlog.labels.printer import Outcome, Printer, ask, send
from holdlog.labels.routes.ipp_client import Limits
from holdlog.labels.routes.socket_route import flags
from holdlog.labels.routes.socket_route import send as send_by_socket
from holdlog.labels.zpl import zpl_bytes
from tests.printers.machines import free_port
from tests.printers.pages import SIZE_MM, labels
from tests.printers.scripted import listening

# The three strings of ~HS as the ZPL II programming guide lays them out; the values are invented.
READY = (
    b"\x02030,0,0,0406,000,0,0,0,000,0,0,0\x03\r\n"
    b"\x02000,0,0,0,0,2,6,0,00000000,1,000\x03\r\n"
    b"\x021234,0\x03\r\n"
)
OUT = READY.replace(b"030,0,0", b"030,1,0")
PAUSED = READY.replace(b"030,0,0", b"030,0,1")
OPEN_NO_RIBBON = READY.replace(b"\x02000,0,0,0", b"\x02000,0,1,1")


def _printer(port: int, encoding: str = "escpos") -> Printer:
    return Printer("pass", "socket", f"127.0.0.1:{port}", encoding, "two-by-two", 203)  # type: ignore[arg-type]


def _sent(printer: Printer, count: int = 2) -> Outcome:
    return send(
        printer, labels(count), SIZE_MM, "x", tell=lambda _: None, pause=lambda _: None, patience=5
    )


def test_receipt_paper_gets_exactly_the_labels_and_the_end() -> None:
    got = bytearray()

    def take(line: socket.socket) -> None:
        while octets := line.recv(65_536):  # ends only when the sender says so
            got.extend(octets)

    with listening(take) as port:
        outcome = _sent(_printer(port))
    assert outcome.state == "sent"
    assert bytes(got) == escpos_bytes(labels(2), cut=True)


@pytest.mark.parametrize("status", [READY, b"", b"what?"], ids=["ready", "silent", "babbling"])
def test_a_zpl_printer_is_asked_first_and_then_gets_exactly_the_labels(status: bytes) -> None:
    got = bytearray()

    def take(line: socket.socket) -> None:
        while octets := line.recv(65_536):
            got.extend(octets)
            if octets == b"~HS\r\n":
                line.sendall(status)

    with listening(take) as port:
        outcome = _sent(_printer(port, "zpl"))
    assert outcome.state == "sent"
    assert bytes(got) == b"~HS\r\n" + zpl_bytes(labels(2))


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (OUT, "out of labels"),
        (PAUSED, "paused"),
        (OPEN_NO_RIBBON, "the head is open, out of ribbon"),
    ],
    ids=["out", "paused", "open"],
)
def test_labels_are_kept_back_from_a_printer_that_cannot_print(status: bytes, words: str) -> None:
    got = bytearray()

    def take(line: socket.socket) -> None:
        while octets := line.recv(65_536):
            got.extend(octets)
            line.sendall(status)

    with listening(take) as port:
        outcome = _sent(_printer(port, "zpl"))
        condition = ask(_printer(port, "zpl"))
    assert outcome == Outcome("failed", f"{words}; nothing was sent")
    assert bytes(got) == b"~HS\r\n" * 2
    assert condition.state == "stopped"
    assert ", ".join(condition.reasons) == words


@pytest.mark.parametrize("cut", range(0, len(READY), 7))
def test_half_an_answer_is_no_answer(cut: int) -> None:
    """Until both lines with flags are whole, nothing is concluded."""
    both = READY.index(b"\x03", READY.index(b"\x03") + 1) + 1
    assert flags(READY[:cut]) == (() if cut >= both else None)


def test_a_port_where_nobody_is() -> None:
    outcome = _sent(_printer(free_port()))
    assert outcome.state == "failed"
    assert "is the printer on" in outcome.reason
    assert not ask(_printer(free_port())).reachable


def test_a_printer_that_takes_no_more_is_given_up() -> None:
    """It accepts and never reads; the buffers of two sockets fill, and then nothing moves."""
    with socket.socket() as server:
        server.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        server.bind(("127.0.0.1", 0))
        server.listen(1)
        outcome = send_by_socket(
            _printer(server.getsockname()[1]),
            labels(300),
            lambda _: None,
            0.3,
            Limits(connect=1, silence=0.3, answer=1),
        )
    assert outcome.state == "failed"
    assert "took no more" in outcome.reason
    assert "look whether the labels came out" in outcome.reason


def test_a_printer_that_hangs_up_half_way() -> None:
    def take(line: socket.socket) -> None:
        line.recv(1000)  # and closes with octets unread: a reset

    with listening(take) as port:
        outcome = _sent(_printer(port), 300)
    assert outcome.state in {"failed", "sent"}
    assert "look whether the labels came out" in outcome.reason
