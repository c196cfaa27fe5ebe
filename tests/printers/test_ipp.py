"""The IPP route against a real printer program on loopback."""

import threading
import time
from collections.abc import Iterator

import pypdfium2  # type: ignore[import-untyped]
import pytest
from PIL import Image

from holdlog.labels.printer import Outcome, Printer, ask, send
from tests.printers.machines import PaperPrinter, free_port, paper_printer
from tests.printers.pages import SIZE_MM, dots, labels, pages
from tests.system import need

pytestmark = pytest.mark.system

GREY_ONLY = {"pwg-raster-document-type-supported": 'keyword "sgray_8"'}
PDF_AND_PNG = {"document-format-supported": 'mimeMediaType "image/png","application/pdf"'}
PNG_ONLY = {"document-format-supported": 'mimeMediaType "image/png","image/pwg-raster"',
            "pwg-raster-document-type-supported": 'keyword "srgb_8"'}  # fmt: skip
NONE_OF_OURS = {"document-format-supported": 'mimeMediaType "application/postscript"'}


@pytest.fixture
def paper() -> Iterator[PaperPrinter]:
    need("ippeveprinter")
    need("dbus-daemon")
    with paper_printer() as printer:
        yield printer


def _printer(paper: PaperPrinter, encoding: str = "pwg", dpi: int = 203) -> Printer:
    return Printer("walk-in", "ipp", paper.address, encoding, "two-by-two", dpi)  # type: ignore[arg-type]


def _sent(
    printer: Printer,
    images: list[Image.Image],
    said: list[str] | None = None,
    size_mm: tuple[float, float] = SIZE_MM,
    patience: float = 10.0,
) -> Outcome:
    told = [] if said is None else said
    return send(
        printer, images, size_mm, "Labels", tell=told.append, pause=time.sleep, patience=patience
    )


def test_every_dot_of_every_label_arrives(paper: PaperPrinter) -> None:
    images = labels(3)
    outcome = _sent(_printer(paper), images)
    assert (outcome.state, outcome.reason) == ("completed", "")
    assert outcome.job.isdecimal()
    (document,) = paper.printed()
    assert dots(pages(document)) == dots(images)


def test_a_printer_without_black_gets_the_same_dots_in_grey() -> None:
    images = labels(2)
    with paper_printer(GREY_ONLY) as paper:
        assert _sent(_printer(paper), images).state == "completed"
        (document,) = paper.printed()
    assert dots(pages(document)) == dots(images)


def test_a_printer_without_raster_gets_pdf_and_the_cook_is_told() -> None:
    said: list[str] = []
    images = labels(2)
    with paper_printer(PDF_AND_PNG) as paper:
        assert _sent(_printer(paper), images, said).state == "completed"
        (document,) = paper.printed()
    assert any("sent pdf" in line for line in said)
    with pypdfium2.PdfDocument(document) as pdf:
        assert len(pdf) == 2
        assert pdf[0].get_size() == pytest.approx((144, 144), abs=0.01)  # 2 in of 72 points


def test_a_printer_that_takes_only_png_gets_one_job_a_label() -> None:
    images = labels(3)
    with paper_printer(PNG_ONLY) as paper:
        outcome = _sent(_printer(paper), images)
        documents = paper.printed()
    assert outcome.state == "completed"
    assert [document[:4] for document in documents] == [b"\x89PNG"] * 3
    from io import BytesIO

    assert dots([Image.open(BytesIO(document)) for document in documents]) == dots(images)


def test_a_printer_that_takes_nothing_of_ours_gets_nothing() -> None:
    with paper_printer(NONE_OF_OURS) as paper:
        outcome = _sent(_printer(paper), labels(1))
        assert paper.printed() == []
    assert outcome.state == "failed"
    assert "application/postscript" in outcome.reason


def test_labels_drawn_for_another_resolution_are_not_sent(paper: PaperPrinter) -> None:
    outcome = _sent(_printer(paper, dpi=300), labels(1))
    assert outcome.state == "failed"
    assert "203 dpi" in outcome.reason
    assert "300 dpi" in outcome.reason
    assert paper.printed() == []


@pytest.mark.parametrize(
    ("size_mm", "words"),
    [
        ((62.0, 40.0), "the printer has 50.8 × 50.8 mm loaded, the labels are 62 × 40 mm"),
        ((210.0, 297.0), "takes no labels of 210 × 297 mm"),
    ],
)
def test_labels_for_other_stock_are_not_sent(
    paper: PaperPrinter, size_mm: tuple[float, float], words: str
) -> None:
    outcome = _sent(_printer(paper), labels(1), size_mm=size_mm)
    assert outcome.state == "failed"
    assert words in outcome.reason
    assert paper.printed() == []


def test_a_long_job_says_how_far_it_is(paper: PaperPrinter) -> None:
    paper.behaves(
        'for n in 1 2 3; do echo "ATTR: job-impressions-completed=$n" >&2; sleep 0.4; done'
    )
    said: list[str] = []
    outcome = _sent(_printer(paper), labels(4), said)
    assert "2 of 4 printed, says the printer." in said
    # It says it is done and counts one short: that is passed on, not smoothed over.
    assert (outcome.state, outcome.printed) == ("completed", 3)
    assert "3 of 4" in outcome.reason


def test_a_printer_that_runs_out_of_labels_says_so(paper: PaperPrinter) -> None:
    paper.behaves(
        'echo "STATE: +media-empty-error" >&2; echo "ERROR: roll is at its end" >&2; exit 1'
    )
    outcome = _sent(_printer(paper), labels(1))
    assert outcome.state == "failed"
    assert "out of labels" in outcome.reason
    assert "roll is at its end" in outcome.reason


def test_a_printer_without_labels_keeps_the_job_and_says_why(paper: PaperPrinter) -> None:
    paper.behaves('echo "STATE: +media-empty-error" >&2; sleep 4')
    said: list[str] = []
    outcome = _sent(_printer(paper), labels(1), said, patience=1.0)
    assert outcome.state == "accepted"
    assert outcome.job.isdecimal()
    assert "out of labels" in outcome.reason
    assert "The printer says: out of labels." in said


def test_two_cooks_at_once_both_get_their_labels(paper: PaperPrinter) -> None:
    """The printer takes one job at a time and answers the other with "busy" (0x0507).

    The second starts when the first is being printed: two jobs in the same instant now and then
    make the test printer itself stop answering.
    """
    paper.behaves("sleep 0.7")
    printer, images, said = _printer(paper), labels(2), list[str]()
    printing = threading.Event()
    first: list[Outcome] = []

    def pause(seconds: float) -> None:
        printing.set()
        time.sleep(seconds)

    def print_first() -> None:
        first.append(
            send(printer, images[:1], SIZE_MM, "x", tell=said.append, pause=pause, patience=10)
        )

    thread = threading.Thread(target=print_first)
    thread.start()
    assert printing.wait(10)
    second = _sent(printer, images[1:], said)
    thread.join(30)
    assert [outcome.state for outcome in (*first, second)] == ["completed"] * 2, (first, second)
    assert said == ["The printer is busy, waiting."]
    arrived = [page for document in paper.printed() for page in pages(document)]
    assert dots(arrived) == dots(images)


def test_a_printer_that_dies_over_a_job_is_not_taken_for_done(paper: PaperPrinter) -> None:
    paper.behaves("sleep 5")
    pauses: list[float] = []

    def pull_the_plug(seconds: float) -> None:
        if not pauses:
            paper.process.kill()
            paper.process.wait(5)
        pauses.append(seconds)

    outcome = send(
        _printer(paper), labels(1), SIZE_MM, "Labels", tell=print, pause=pull_the_plug, patience=60
    )
    assert (outcome.state, outcome.printed) == ("sent", None)
    assert "look whether the labels came out" in outcome.reason
    assert sum(pauses) < 10


def test_a_printer_that_is_off_is_named() -> None:
    printer = Printer("bar", "ipp", f"ipp://127.0.0.1:{free_port()}/", "pwg", "two-by-two", 203)
    outcome = _sent(printer, labels(1))
    assert outcome.state == "failed"
    assert "refuses: is the printer on" in outcome.reason
    condition = ask(printer)
    assert not condition.reachable
    assert "is the printer on" in condition.reasons[0]


def test_asking_shows_what_the_printer_can_do(paper: PaperPrinter) -> None:
    condition = ask(_printer(paper))
    assert condition.reachable
    assert (condition.state, condition.reasons) == ("idle", ())
    assert (condition.encodings, condition.resolutions) == (("pwg",), (203,))
    assert condition.media == ("50.8 × 50.8 mm", "62 × 40 mm", "15–104 × 15–300 mm")


def test_a_path_without_a_printer(paper: PaperPrinter) -> None:
    nowhere = Printer(
        "x", "ipp", paper.address.replace("/ipp/print", "/no/printer"), "pwg", "two-by-two", 203
    )
    outcome = _sent(nowhere, labels(1))
    assert outcome.state == "failed"
    assert "no printer" in outcome.reason
