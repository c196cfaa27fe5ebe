"""ipps://: a printer's certificate is checked, or is exactly the one in the address."""

import hashlib
import socket
import ssl
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from holdlog.labels.printer import Outcome, Printer, send
from holdlog.labels.routes import ipp_message as ipp
from tests.printers.pages import SIZE_MM, labels
from tests.printers.scripted import able, job, listening, request, says
from tests.system import need

pytestmark = pytest.mark.system


@pytest.fixture(scope="module")
def vouching_for_itself(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A certificate with its key, as a printer makes it for itself, and its fingerprint."""
    folder = tmp_path_factory.mktemp("keys")
    both = folder / "both.pem"
    subprocess.run(
        [
            need("openssl"), "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
            "-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1",
            "-keyout", str(folder / "key"), "-out", str(folder / "certificate"),
        ],
        check=True, capture_output=True, timeout=60,
    )  # fmt: skip
    certificate = (folder / "certificate").read_text("ascii")
    both.write_text(certificate + (folder / "key").read_text("ascii"), "ascii")
    return both, hashlib.sha256(ssl.PEM_cert_to_DER_cert(certificate)).hexdigest()


@contextmanager
def _printer(certificate: Path) -> Iterator[tuple[int, list[int]]]:
    """A printer that speaks TLS: its port, and the operations that it was asked."""
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(certificate)
    asked: list[int] = []

    def serve(line: socket.socket) -> None:
        with context.wrap_socket(line, server_side=True) as secured:
            body = request(secured)
            asked.append(int.from_bytes(body[2:4], "big"))
            secured.sendall(says(body, able() if asked[-1] != ipp.PRINT_JOB else job(9)))

    with listening(serve) as port:
        yield port, asked


def _sent(address: str) -> Outcome:
    printer = Printer("office", "ipp", address, "pwg", "two-by-two", 203)
    return send(
        printer, labels(1), SIZE_MM, "x", tell=lambda _: None, pause=lambda _: None, patience=5
    )


def test_a_certificate_that_vouches_for_itself_is_refused_and_shown(
    vouching_for_itself: tuple[Path, str],
) -> None:
    certificate, fingerprint = vouching_for_itself
    with _printer(certificate) as (port, asked):
        outcome = _sent(f"ipps://127.0.0.1:{port}/ipp/print")
    assert outcome.state == "failed"
    assert f"sha256={fingerprint}" in outcome.reason
    assert asked == []


def test_the_certificate_in_the_address_is_the_one_that_is_trusted(
    vouching_for_itself: tuple[Path, str],
) -> None:
    certificate, fingerprint = vouching_for_itself
    with _printer(certificate) as (port, asked):
        outcome = _sent(f"ipps://127.0.0.1:{port}/ipp/print#sha256={fingerprint}")
    assert outcome == Outcome("completed", "", "7")
    assert asked[:2] == [ipp.GET_PRINTER_ATTRIBUTES, ipp.PRINT_JOB]


def test_another_certificate_than_that_in_the_address_gets_nothing(
    vouching_for_itself: tuple[Path, str],
) -> None:
    certificate, fingerprint = vouching_for_itself
    with _printer(certificate) as (port, asked):
        outcome = _sent(f"ipps://127.0.0.1:{port}/ipp/print#sha256={'0' * 64}")
    assert outcome.state == "failed"
    assert fingerprint in outcome.reason
    assert asked == []


def test_a_printer_without_encryption_is_not_spoken_to_in_the_clear() -> None:
    got = bytearray()

    def serve(line: socket.socket) -> None:
        got.extend(line.recv(1000))
        line.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n")

    with listening(serve) as port:
        outcome = _sent(f"ipps://127.0.0.1:{port}/ipp/print")
    assert outcome.state == "failed"
    assert "no encrypted connection" in outcome.reason
    assert b"POST" not in got
