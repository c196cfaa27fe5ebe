"""What the kitchen may set up, and the words for what printers say."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.errors import Mistake
from holdlog.labels.printer import Printer, ask, check, send
from holdlog.labels.routes.ipp_client import address
from holdlog.labels.routes.printer_words import in_words, plain
from holdlog.labels.routes.socket_route import host_and_port
from tests.printers.pages import SIZE_MM, labels


def _printer(route: str, address: str, encoding: str, dpi: int = 203) -> Printer:
    return Printer("walk-in", route, address, encoding, "two-by-two", dpi)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "printer",
    [
        _printer("folder", "labels out/today", "pdf"),
        _printer("ipp", "ipp://10.0.0.7/ipp/print", "pwg"),
        _printer("ipp", "ipps://printer.local:443/ipp/print#sha256=" + "aB" * 32, "pdf"),
        _printer("ipp", "ipp://[fe80::1]:8631/", "png", 300),
        _printer("queue", "Walk_in-2", "zpl"),
        _printer("socket", "10.0.0.9", "zpl"),
        _printer("socket", "[::1]:9101", "escpos"),
    ],
    ids=lambda printer: printer.address,
)
def test_a_sound_printer_passes(printer: Printer) -> None:
    check(printer)


@pytest.mark.parametrize(
    ("printer", "words"),
    [
        (_printer("fax", "x", "png"), "no route 'fax'"),
        (_printer("folder", "x", "pwg"), "It carries png, pdf"),
        (_printer("ipp", "ipp://x/", "zpl"), "does not carry 'zpl'"),
        (_printer("socket", "x", "pdf"), "It carries zpl, escpos"),
        (_printer("queue", "x", "jpeg"), "does not carry 'jpeg'"),
        (_printer("folder", "", "png"), "no address"),
        (_printer("queue", "-h", "pwg"), "no name of a print queue"),
        (_printer("queue", "a b", "pwg"), "no name of a print queue"),
        (_printer("queue", "label/../x", "pwg"), "no name of a print queue"),
        (_printer("queue", "label\n", "pwg"), "signs that do not print"),
        (_printer("ipp", "http://x/", "pwg"), "begins with ipp://"),
        (_printer("ipp", "10.0.0.7", "pwg"), "begins with ipp://"),
        (_printer("ipp", "ipp:///ipp", "pwg"), "names no host"),
        (_printer("ipp", "ipp://x:99999/", "pwg"), "no address"),
        (_printer("ipp", "ipp://chef:secret@x/", "pwg"), "does not log in"),
        (_printer("ipp", "ipp://x/a b", "pwg"), "its path"),
        (_printer("ipp", "ipp://x/#sha256=" + "a" * 64, "pwg"), "only in ipps://"),
        (_printer("ipp", "ipps://x/#md5=1", "pwg"), "64 hex digits"),
        (_printer("socket", "x:0", "zpl"), "give host or host:port"),
        (_printer("socket", "x:70000", "zpl"), "give host or host:port"),
        (_printer("socket", "http://x", "zpl"), "give host or host:port"),
        (_printer("socket", "x", "zpl", 100), "100 dpi"),
    ],
    ids=range(22),
)
def test_a_printer_that_cannot_work_is_refused_in_one_line(printer: Printer, words: str) -> None:
    with pytest.raises(Mistake) as refused:
        check(printer)
    assert words in refused.value.line()
    assert "\n" not in refused.value.line()


@given(st.text(max_size=60))
def test_any_text_is_an_address_or_a_clean_mistake(text: str) -> None:
    for read in (address, host_and_port):
        for given_text in (text, f"ipp://{text}", f"ipps://x/{text}"):
            with suppress(Mistake):
                read(given_text)


def test_ports_that_are_not_given() -> None:
    assert host_and_port("10.0.0.7") == ("10.0.0.7", 9100)  # the customary port; RFC 3806, 2.1
    assert address("ipp://x/ipp").uri == "ipp://x:631/ipp"  # RFC 8010, 4.2


def test_a_folder_takes_files_and_is_not_sent_to(tmp_path: object) -> None:
    printer = _printer("folder", str(tmp_path), "png")
    assert ask(printer).reachable
    assert not ask(_printer("folder", f"{tmp_path}/gone", "png")).reachable
    with pytest.raises(Mistake, match="folder"):
        send(printer, labels(1), SIZE_MM, "x", tell=print, pause=print)
    with pytest.raises(Mistake, match="no label"):
        send(_printer("socket", "x", "zpl"), [], SIZE_MM, "x", tell=print, pause=print)


@pytest.mark.parametrize(
    ("keywords", "words"),
    [
        # RFC 8011, 5.4.12: a keyword may end in how bad it is.
        (["media-empty"], ("out of labels",)),
        (["media-empty-error", "media-empty-report"], ("out of labels",)),
        (["cover-open-warning", "paused"], ("the cover is open", "paused")),
        (["media-empty-roll-2-error"], ("out of labels",)),
        (["none"], ()),
        (["job-completed-successfully"], ()),
        (["x-head-worn"], ("x-head-worn",)),
        (["x\x1b[31m"], ("x [31m",)),
    ],
)
def test_keywords_become_words(keywords: list[str], words: tuple[str, ...]) -> None:
    assert in_words(keywords) == words


@given(st.text())
def test_a_printers_text_is_one_short_line_that_prints(text: str) -> None:
    assert plain(text).isprintable()
    assert len(plain(text)) <= 200
