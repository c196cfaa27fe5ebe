"""Printers that are busy, silent, lying or none: the IPP route ends, and says what it knows."""

import socket
import struct
import time
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.errors import Fault
from holdlog.labels.printer import Outcome, Printer
from holdlog.labels.routes import ipp_message as ipp
from holdlog.labels.routes import ipp_route
from holdlog.labels.routes.ipp_client import Limits, address
from holdlog.labels.routes.ipp_job import Job
from holdlog.labels.routes.waiting import Patience
from tests.printers.pages import SIZE_MM, labels
from tests.printers.scripted import Answers, able, http, ipp_printer, job, listening, request, says

SHORT = Limits(connect=1.0, silence=0.3, answer=0.6)
BUSY = 0x0507  # server-error-busy: RFC 8011, appendix B


class Diary:
    """What was told, and how long was waited."""

    def __init__(self) -> None:
        self.told: list[str] = []
        self.waited = 0.0
        self.pauses = 0

    def pause(self, seconds: float) -> None:
        assert seconds > 0
        self.waited += seconds
        self.pauses += 1


def _sent(where: str, diary: Diary, patience: float = 20.0, count: int = 3) -> Outcome:
    printer = Printer("walk-in", "ipp", where, "pwg", "two-by-two", 203)
    return ipp_route.send(
        printer, labels(count), SIZE_MM, "x", diary.told.append, diary.pause, patience, SHORT
    )


def _against(answers: Answers, patience: float = 20.0) -> tuple[Outcome, list[int], Diary]:
    diary = Diary()
    with ipp_printer(answers) as (where, asked):
        return _sent(where, diary, patience), asked, diary


def _plain(line: socket.socket, operation: int, body: bytes) -> None:
    """A printer without faults."""
    described = operation == ipp.GET_PRINTER_ATTRIBUTES
    line.sendall(says(body, able() if described else job(9)))


# --- busy ------------------------------------------------------------------------------------


def test_a_busy_printer_gets_the_job_once_it_has_time() -> None:
    refusals = 3

    def answers(line: socket.socket, operation: int, body: bytes) -> None:
        nonlocal refusals
        if operation == ipp.PRINT_JOB and refusals:
            refusals -= 1
            line.sendall(says(body, status=BUSY))
        else:
            _plain(line, operation, body)

    outcome, asked, diary = _against(answers)
    assert outcome == Outcome("completed", "", "7")
    assert asked.count(ipp.PRINT_JOB) == 4
    assert diary.told == ["The printer is busy, waiting."]


@pytest.mark.parametrize("by", ["ipp", "http"])
def test_a_printer_that_stays_busy_is_given_up_when_patience_is_over(by: str) -> None:
    def answers(line: socket.socket, operation: int, body: bytes) -> None:
        if operation == ipp.PRINT_JOB:
            busy = http(b"", "503 Service Unavailable")
            line.sendall(busy if by == "http" else says(body, status=BUSY))
        else:
            _plain(line, operation, body)

    outcome, asked, diary = _against(answers, patience=20)
    assert outcome.state == "failed"
    assert "still busy" in outcome.reason
    assert diary.waited == pytest.approx(20)
    assert asked.count(ipp.PRINT_JOB) == diary.pauses + 1 < 25


# --- what became of the job is not known -----------------------------------------------------


@pytest.mark.parametrize("ending", ["hangs up", "falls silent", "babbles", "html"])
def test_labels_that_went_out_without_an_answer_are_sent_and_never_sent_again(ending: str) -> None:
    def answers(line: socket.socket, operation: int, body: bytes) -> None:
        if operation != ipp.PRINT_JOB:
            _plain(line, operation, body)
        elif ending == "falls silent":
            line.recv(1)  # until the other side gives up
        elif ending == "babbles":
            line.sendall(http(b"\x02\x00\x00"))
        elif ending == "html":
            line.sendall(http(b"<p>hello", kind="text/html"))

    outcome, asked, _ = _against(answers, patience=0.5)
    assert outcome.state == "sent"
    assert "look whether the labels came out" in outcome.reason
    assert asked.count(ipp.PRINT_JOB) == 1


def test_a_printer_that_forgets_the_job() -> None:
    def answers(line: socket.socket, operation: int, body: bytes) -> None:
        if operation == ipp.PRINT_JOB:
            line.sendall(says(body, job(5)))
        elif operation == ipp.GET_JOB_ATTRIBUTES:
            line.sendall(says(body, status=0x0406))
        else:
            _plain(line, operation, body)

    outcome, _, _ = _against(answers)
    assert (outcome.state, outcome.job) == ("sent", "7")
    assert "does not know the job any more" in outcome.reason


def test_a_job_that_never_ends_is_accepted_when_patience_is_over() -> None:
    def answers(line: socket.socket, operation: int, body: bytes) -> None:
        described = operation == ipp.GET_PRINTER_ATTRIBUTES
        line.sendall(says(body, able("cover-open-error", 5) if described else job(6, printed=1)))

    outcome, _, diary = _against(answers)
    assert outcome == Outcome("accepted", "the cover is open", "7", 1)
    assert diary.waited == pytest.approx(20)
    assert "1 of 3 printed, says the printer." in diary.told


@pytest.mark.parametrize("counts", [True, False])
def test_a_job_done_by_a_printer_without_labels(counts: bool) -> None:
    """A printer may have used its last label; a print service may not know what it says."""

    def answers(line: socket.socket, _: int, body: bytes) -> None:
        line.sendall(says(body, able("media-empty-report")))

    diary = Diary()
    with ipp_printer(answers) as (where, _):
        left = Patience(diary.pause, 5)
        followed = Job(
            address(where), 1, 0, 1, diary.told.append, left, SHORT, counts=counts, number=7
        ).followed({"job-state": (9,)})
    assert followed.state == ("completed" if counts else "sent")
    assert "out of labels" in followed.reason


def test_labels_that_keep_coming_renew_patience_but_not_for_ever() -> None:
    """A count that only ever grows cannot keep a cook at the terminal: there are three labels."""
    count = 0

    def answers(line: socket.socket, operation: int, body: bytes) -> None:
        nonlocal count
        count += 1
        described = operation == ipp.GET_PRINTER_ATTRIBUTES
        line.sendall(says(body, able() if described else job(5, printed=count)))

    outcome, _, diary = _against(answers, patience=5)
    assert outcome.state == "accepted"
    assert diary.waited < 5 * 4 + 1


def test_the_printers_own_words_come_without_control_characters() -> None:
    def answers(line: socket.socket, operation: int, body: bytes) -> None:
        described = operation == ipp.GET_PRINTER_ATTRIBUTES
        message = "head\x1b[2J too\r\nhot" + "!" * 500
        line.sendall(says(body, able() if described else job(8, message=message)))

    outcome, _, _ = _against(answers)
    assert outcome.state == "failed"
    assert outcome.reason.startswith("head [2J too hot!")
    assert outcome.reason.isprintable()
    assert len(outcome.reason) < 300


# --- no printer ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("octets", "words"),
    [
        (http(b"<html>", kind="text/html"), "no printer: it answers with text/html"),
        (http(b"", "404 Not Found"), "no printer under this path"),
        (http(b"", "401 Unauthorized"), "asks for a password"),
        (http(b"", "426 Upgrade Required"), "ipps://"),
        (http(b"", "302 Found"), "HTTP status 302"),
        (http(b"\x00" * 2_000_000), "too long"),
        (http(b""), "breaks off"),
        (b"SSH-2.0-x\r\n", "does not speak HTTP"),
        (b"HTTP/1.1 200 OK\r\n" + b"a: b\r\n" * 500 + b"\r\n", "does not speak HTTP"),
        (http(b"\x02\x00" * 50).replace(b"100", b"999"), "cannot be read"),
        (b"", "closed the connection"),
    ],
    ids=range(11),
)
def test_something_that_is_no_printer_is_told_as_such(octets: bytes, words: str) -> None:
    outcome, asked, _ = _against(lambda line, _, __: line.sendall(octets))
    assert outcome.state == "failed"
    assert words in outcome.reason
    assert asked == [ipp.GET_PRINTER_ATTRIBUTES]


def test_one_that_accepts_and_hangs_is_given_up() -> None:
    def hang(line: socket.socket, _: int, __: bytes) -> None:
        line.recv(1)

    outcome, _, _ = _against(hang)
    assert outcome.state == "failed"
    assert "did not answer" in outcome.reason


def test_one_that_drips_is_given_up() -> None:
    """Each octet comes in time; the whole answer never would."""

    def drip(line: socket.socket) -> None:
        request(line)
        line.sendall(b"HTTP/1.1 200 OK\r\n")
        for _ in range(200):
            line.sendall(b"x")
            time.sleep(0.05)

    with listening(drip) as port:
        outcome = _sent(f"ipp://127.0.0.1:{port}/", Diary())
    assert outcome.state == "failed"


def test_one_that_stops_reading_half_way() -> None:
    described = False

    def serve(line: socket.socket) -> None:
        nonlocal described
        if described:
            line.recv(2000)  # and closes with most of the labels unread
        else:
            described = True
            line.sendall(says(request(line), able()))

    with listening(serve) as port:
        outcome = _sent(f"ipp://127.0.0.1:{port}/", Diary(), count=300)
    assert outcome.state in {"failed", "sent"}
    assert "look whether" in outcome.reason


# --- octets ----------------------------------------------------------------------------------


def _read(octets: bytes) -> None:
    """Any other exception than ours fails the test."""
    with suppress(Fault):
        assert ipp.answer(octets).number == int.from_bytes(octets[4:8], "big")


@given(st.binary(max_size=400))
def test_any_octets_are_an_answer_or_a_clean_fault(octets: bytes) -> None:
    _read(octets)
    _read(b"\x02\x00\x00\x00\x00\x00\x00\x01\x04" + octets)


WHOLE = says(b"\0" * 8, able(), job(5, "job-printing", message="x")).partition(b"\r\n\r\n")[2]
NESTED = (
    WHOLE[:-1]
    + ipp.attribute("media-col-ready", ipp.COLLECTION, ipp.media_size(5080, 5080))
    + b"\x03"
)


@given(st.data())
def test_a_spoilt_answer_is_an_answer_or_a_clean_fault(data: st.DataObject) -> None:
    octets = bytearray(NESTED)
    for _ in range(data.draw(st.integers(1, 4))):
        octets[data.draw(st.integers(0, len(octets) - 1))] = data.draw(st.integers(0, 255))
    _read(bytes(octets[: data.draw(st.integers(0, len(octets)))]))


def test_a_whole_answer_is_read_whole() -> None:
    """The worked bytes of RFC 8010, 3.1: tag, name, value, each after its length."""
    read = ipp.answer(NESTED)
    assert read.first(ipp.PRINTER)["printer-state"] == [3]
    ready = read.first(ipp.JOB)["media-col-ready"][0]
    assert isinstance(ready, ipp.Collection)
    size = ready.members["media-size"][0]
    assert isinstance(size, ipp.Collection)
    assert size.members == {"x-dimension": [5080], "y-dimension": [5080]}


def test_kinds_of_values() -> None:
    """RFC 8010, 3.9: resolutions per inch (3) and per cm (4), ranges, texts with language."""

    def value(tag: int, octets: bytes) -> ipp.Value:
        head = struct.pack(">BBHIB", 2, 0, 0, 1, ipp.PRINTER)
        named = bytes([tag]) + b"\x00\x01a" + struct.pack(">H", len(octets)) + octets
        return ipp.answer(head + named + b"\x03").first(ipp.PRINTER)["a"][0]

    assert value(0x32, struct.pack(">iib", 203, 203, 3)) == ipp.Resolution(203, 203)
    assert value(0x32, struct.pack(">iib", 80, 80, 4)) == ipp.Resolution(203, 203)
    assert value(0x33, struct.pack(">ii", 1500, 10400)) == ipp.Range(1500, 10400)
    assert value(0x35, b"\x00\x02de\x00\x04leer") == "leer"
    assert value(0x22, b"\x01") is True
    assert value(0x13, b"") is None


def test_collections_within_collections_have_an_end() -> None:
    deep = b"\x4a\x00\x00\x00\x01a\x34\x00\x00\x00\x00" * 5000
    head = b"\x02\x00\x00\x00\x00\x00\x00\x01\x04\x34\x00\x01a\x00\x00"
    with pytest.raises(Fault, match="nested too deeply"):
        ipp.answer(head + deep)
