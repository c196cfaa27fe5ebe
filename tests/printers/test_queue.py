"""The queue route through a real print service to a real printer program, all on loopback."""

import os
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from holdlog.core.errors import Mistake
from holdlog.labels.escpos import escpos_bytes
from holdlog.labels.printer import Outcome, Printer, ask, send
from holdlog.labels.zpl import zpl_bytes
from tests.printers import machines
from tests.printers.machines import PaperPrinter, free_port, paper_printer, print_service
from tests.printers.pages import SIZE_MM, dots, labels, pages
from tests.system import need

pytestmark = pytest.mark.system


@pytest.fixture(scope="module")
def service() -> Iterator[str]:
    need("cupsd")
    need("lp")
    need("lpadmin")
    with print_service() as server:
        yield server


@pytest.fixture
def paper(service: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[PaperPrinter]:
    monkeypatch.setenv("CUPS_SERVER", service)
    with paper_printer() as printer:
        machines.queue(service, "label", printer)
        yield printer
        subprocess.run([need("lpadmin"), "-x", "label"], check=True, timeout=15)


def _printer(encoding: str = "pwg", name: str = "label", dpi: int = 203) -> Printer:
    return Printer("walk-in", "queue", name, encoding, "two-by-two", dpi)  # type: ignore[arg-type]


def _sent(
    printer: Printer, images: list[Image.Image], title: str = "Labels", patience: float = 15.0
) -> Outcome:
    return send(
        printer, images, SIZE_MM, title, tell=lambda _: None, pause=time.sleep, patience=patience
    )


@pytest.mark.parametrize("encoding", ["pwg", "pdf", "png"])
def test_every_dot_of_every_label_comes_out(paper: PaperPrinter, encoding: str) -> None:
    images = labels(3)
    outcome = _sent(_printer(encoding), images)
    assert (outcome.state, outcome.reason) == ("completed", "")
    assert outcome.job.isdecimal()
    arrived = [page for document in paper.printed() for page in pages(document)]
    assert dots(arrived) == dots(images)


def test_a_title_is_a_title_whatever_it_looks_like(paper: PaperPrinter) -> None:
    """Were it read as an option, two copies would come, or none."""
    for title in ("-n 2", "-o job-hold-until=indefinite", "Crème brûlée; rm -rf $HOME `x`"):
        images = labels(1)
        assert _sent(_printer(), images, title).state == "completed", title
        (document,) = paper.printed()
        assert dots(pages(document)) == dots(images)
    log = (paper.home / "printer.log").read_text("utf-8", "replace")
    assert log.count("Create-Job successful-ok") + log.count("Print-Job successful-ok") == 3


@pytest.mark.parametrize("encoding", ["zpl", "escpos"])
def test_a_printer_language_passes_through_untouched(
    service: str, monkeypatch: pytest.MonkeyPatch, encoding: str
) -> None:
    """Through a raw queue to a socket, as for a printer on port 9100."""
    from tests.printers.scripted import listening

    monkeypatch.setenv("CUPS_SERVER", service)
    got = bytearray()

    def take(line: socket.socket) -> None:
        while octets := line.recv(65_536):
            got.extend(octets)

    images = labels(2)
    with listening(take) as port:
        subprocess.run(
            [need("lpadmin"), "-p", "raw", "-E", "-v", f"socket://127.0.0.1:{port}"],
            check=True, capture_output=True, timeout=15,
        )  # fmt: skip
        outcome = _sent(_printer(encoding, "raw"), images)
        subprocess.run([need("lpadmin"), "-x", "raw"], check=True, timeout=15)
    assert outcome.state == "completed"
    assert bytes(got) == (
        zpl_bytes(images) if encoding == "zpl" else escpos_bytes(images, cut=True)
    )


def test_a_job_that_the_printer_aborts_is_not_done(paper: PaperPrinter) -> None:
    paper.behaves('echo "STATE: +media-empty-error" >&2; echo "ERROR: roll at its end" >&2; exit 1')
    outcome = _sent(_printer(), labels(1))
    # Now and then the service takes such a job for done; with the printer out of labels that is
    # not passed on as done.
    assert outcome.state in {"failed", "sent"}
    assert "out of labels" in outcome.reason


def test_a_job_that_waits_behind_a_stopped_queue_is_only_accepted(
    paper: PaperPrinter,
) -> None:
    subprocess.run([need("cupsdisable"), "label"], check=True, timeout=15)
    outcome = _sent(_printer(), labels(1), patience=1.0)
    assert outcome.state == "accepted"
    assert outcome.job.isdecimal()
    assert "paused" in outcome.reason
    assert paper.printed() == []


@pytest.mark.usefixtures("paper")
def test_a_queue_that_takes_no_jobs() -> None:
    subprocess.run([need("cupsreject"), "label"], check=True, timeout=15)
    outcome = _sent(_printer(), labels(1))
    assert outcome.state == "failed"
    assert "takes no jobs now" in outcome.reason


def test_no_such_queue_and_the_wrong_labels(paper: PaperPrinter) -> None:
    nowhere = _sent(_printer(name="freezer"), labels(1))
    assert nowhere.state == "failed"
    assert "no print queue named freezer" in nowhere.reason
    coarse = _sent(_printer(dpi=300), labels(1))
    assert coarse.state == "failed"
    assert "203 dpi" in coarse.reason
    assert paper.printed() == []


@pytest.mark.usefixtures("paper")
def test_asking_a_queue() -> None:
    condition = ask(_printer())
    assert condition.reachable
    assert condition.state == "idle"
    assert "pwg" in condition.encodings
    assert condition.resolutions == (203,)
    assert not ask(_printer(name="freezer")).reachable


def test_a_print_service_that_is_down(monkeypatch: pytest.MonkeyPatch) -> None:
    need("lp")
    monkeypatch.setenv("CUPS_SERVER", f"127.0.0.1:{free_port()}")
    outcome = _sent(_printer(), labels(1))
    assert outcome.state == "failed"
    assert "print service" in outcome.reason


def test_a_computer_without_print_queues(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(Mistake, match="lp is not on this computer"):
        _sent(_printer(), labels(1))


def test_lp_that_fails_is_quoted(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A play lp and lpstat: the words of a failing program reach the cook, cleaned."""
    for name, script in {
        "lp": "printf 'lp: Error - \\033[31mquota is\\nused up\\n' >&2; exit 1",
        "lpstat": "exit 1",
    }.items():
        (tmp_path / name).write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
        (tmp_path / name).chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    outcome = _sent(_printer(), labels(1))
    assert outcome.state == "failed"
    assert "\x1b" not in outcome.reason
