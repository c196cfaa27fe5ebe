"""Printers that misbehave on purpose: a socket that answers what a test wants."""

import socket
import struct
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from holdlog.labels.routes import ipp_message as ipp

Answers = Callable[[socket.socket, int, bytes], None]
"""Gets the connection, the operation and the whole request."""


@contextmanager
def listening(serve: Callable[[socket.socket], None]) -> Iterator[int]:
    """A port where each connection is given to ``serve`` in turn; it is closed afterwards."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(10)

        def run() -> None:
            with suppress(OSError):
                while True:
                    line, _ = server.accept()
                    with line, suppress(OSError):
                        line.settimeout(10)
                        serve(line)

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        try:
            yield server.getsockname()[1]
        finally:
            with suppress(OSError):
                server.shutdown(socket.SHUT_RDWR)
            thread.join(5)


def request(line: socket.socket) -> bytes:
    """The body of one HTTP request."""
    octets = b""
    while b"\r\n\r\n" not in octets:
        octets += _more(line)
    head, _, body = octets.partition(b"\r\n\r\n")
    length = next(
        int(field.split(b":")[1])
        for field in head.split(b"\r\n")
        if field.lower().startswith(b"content-length:")
    )
    while len(body) < length:
        body += _more(line)
    return body


def _more(line: socket.socket) -> bytes:
    octets = line.recv(65_536)
    if not octets:
        raise ConnectionError
    return octets


@contextmanager
def ipp_printer(answers: Answers) -> Iterator[tuple[str, list[int]]]:
    """Its address, and the operations that were asked of it, in order."""
    asked: list[int] = []

    def serve(line: socket.socket) -> None:
        body = request(line)
        operation = int.from_bytes(body[2:4], "big")
        asked.append(operation)
        answers(line, operation, body)

    with listening(serve) as port:
        yield f"ipp://127.0.0.1:{port}/ipp/print", asked


def http(body: bytes, status: str = "200 OK", kind: str = "application/ipp") -> bytes:
    head = f"HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {len(body)}\r\n\r\n"
    return head.encode() + body


def says(asked: bytes, *groups: tuple[int, bytes], status: int = 0) -> bytes:
    """An IPP answer to the request ``asked``: groups of attributes already made up."""
    out = struct.pack(">BBH", 2, 0, status) + asked[4:8] + bytes([ipp.OPERATION])
    out += ipp.attribute("attributes-charset", ipp.CHARSET, ["utf-8"])
    out += ipp.attribute("attributes-natural-language", ipp.LANGUAGE, ["en"])
    for tag, attributes in groups:
        out += bytes([tag]) + attributes
    return http(out + bytes([ipp.END]))


def able(reasons: str = "none", state: int = 3) -> tuple[int, bytes]:
    """The description of a printer that takes black raster and says little else."""
    return ipp.PRINTER, (
        ipp.attribute("printer-state", ipp.ENUM, [state])
        + ipp.attribute("printer-state-reasons", ipp.KEYWORD, [reasons])
        + ipp.attribute("document-format-supported", ipp.MIME, ["image/pwg-raster"])
        + ipp.attribute("pwg-raster-document-type-supported", ipp.KEYWORD, ["black_1"])
    )


def job(state: int, *reasons: str, printed: int = 0, message: str = "") -> tuple[int, bytes]:
    """Job 7 in ``state``."""
    return ipp.JOB, (
        ipp.attribute("job-id", ipp.INTEGER, [7])
        + ipp.attribute("job-state", ipp.ENUM, [state])
        + ipp.attribute("job-state-reasons", ipp.KEYWORD, list(reasons) or ["none"])
        + ipp.attribute("job-impressions-completed", ipp.INTEGER, [printed])
        + (ipp.attribute("job-state-message", ipp.TEXT, [message]) if message else b"")
    )
