"""What a printer, or something that took its address, may answer: RFC 8010 and RFC 9112, broken."""

import struct
import tracemalloc
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.errors import Fault
from holdlog.labels.routes import ipp_message as ipp
from holdlog.labels.routes import queue_route, socket_route
from holdlog.labels.routes.ipp_client import Address, Limits, post
from holdlog.labels.routes.ipp_printer import WANTED, abilities, fit, in_a_row, shape, usable
from holdlog.labels.routes.printer_words import in_words, plain
from tests.fuzz.hostile import UNSEEN, attempt, clear, damaged, evil, searched, texts
from tests.printers.scripted import listening, request

LIMITS = Limits(connect=2, silence=2, answer=4)
_TAGS = (0x00, 0x10, 0x13, 0x21, 0x22, 0x23, 0x30, 0x31, 0x32, 0x33, 0x34, 0x35, 0x36, 0x37, 0x41,
         0x44, 0x48, 0x49, 0x4A, 0x7F, 0xFF)  # fmt: skip
_NUMBERS = st.integers(-(2**31), 2**31 - 1).map(lambda n: struct.pack(">i", n))
_MEDIA = st.sampled_from(
    ["oe_x_2x2in", "custom_min_1x1mm", "custom_max_9x9mm", "custom_min_infx1mm", "x_nanxnanmm",
     "x_1e400x1mm", "x_1_0x1_0mm", "_xmm", "x_-1x-1in", "image/pwg-raster", "application/pdf",
     "black_1", "none", "media-size", "media-empty-error"]
)  # fmt: skip
_contents = st.one_of(
    st.binary(max_size=12), _NUMBERS, st.tuples(_NUMBERS, _NUMBERS).map(b"".join),
    st.tuples(_NUMBERS, _NUMBERS, st.binary(min_size=1, max_size=1)).map(b"".join),
    texts.map(lambda text: text.encode("utf-8", "replace")), evil.map(str.encode),
    _MEDIA.map(str.encode), st.sampled_from([b"\x00", b"\x01", b"\xff" * 300]),
)  # fmt: skip


@st.composite
def values(draw: st.DrawFn, name: str = "") -> bytes:
    """One value of any kind, perhaps a collection in a collection."""
    tag, content = draw(st.sampled_from(_TAGS)), draw(_contents)
    if tag != ipp.COLLECTION:
        return ipp._tagged(tag, name, content)
    out = ipp._tagged(tag, name, b"")
    for member in draw(st.lists(st.sampled_from(["media-size", "x-dimension", "y-dimension", ""]),
                                max_size=3)):  # fmt: skip
        out += ipp._tagged(ipp.MEMBER, "", member.encode()) + draw(values())
    return out + ipp._tagged(ipp.END_COLLECTION, "", b"") if draw(st.integers(0, 9)) else out


@st.composite
def answers(draw: st.DrawFn) -> bytes:
    """An answer in which every attribute that we ask for may hold anything."""
    out = struct.pack(">BBHIB", 2, 0, 0, 1, ipp.PRINTER)
    for name in draw(st.lists(st.sampled_from(WANTED), max_size=6)):
        out += draw(values(name))
        for _ in range(draw(st.integers(0, 2))):
            out += draw(values())
    return out + b"\x03"


def understood(octets: bytes) -> None:
    read = attempt(lambda: ipp.answer(octets))
    if read is None:
        return
    able = abilities(read.first(ipp.PRINTER))
    said = [in_a_row(able.sizes), in_a_row(able.loaded), *able.reasons, able.state]
    assert not any(UNSEEN.search(each) for each in said), said
    assert all(0 < size.across[0] <= size.across[1] for size in able.sizes)
    usable(able)
    chosen = attempt(lambda: shape(able, "pwg"))
    if chosen is not None:
        attempt(lambda: fit(able, chosen, 203, (50.8, 50.8)))


@given(answers(), st.data())
@searched(200)
def test_any_answer_is_understood_or_refused_with_a_clear_line(
    octets: bytes, data: st.DataObject
) -> None:
    understood(octets)
    understood(data.draw(damaged(octets)))


@pytest.mark.parametrize(
    "octets",
    [
        b"", b"\x02", b"\xff" * 2_000_000, struct.pack(">BBHIB", 2, 0, 0, 1, 4) * 100_000,
        struct.pack(">BBHIB", 2, 0, 0, 1, 4) + ipp.attribute("a", 0x34, b"\x34\0\0\0\0" * 50_000),
        struct.pack(">BBHIB", 2, 0, 0, 1, 4) + ipp.attribute("a", 0x21, [1] * 100_000),
        struct.pack(">BBHIB", 2, 0, 0, 1, 4) + b"\x04" * 1_000_000,
        struct.pack(">BBHIB", 2, 0, 0, 1, 4)
        + b"".join(ipp.attribute(f"a{n}", 0x21, [1]) for n in range(50_000)),
    ],
    ids=["none", "one", "ones", "again", "deep", "values", "groups", "names"],
)  # fmt: skip
def test_an_answer_without_end_is_refused(octets: bytes) -> None:
    with pytest.raises(Fault) as caught:
        ipp.answer(octets)
    clear(caught.value)


@given(
    st.one_of(
        st.binary(max_size=200),
        damaged(
            b"\x02030,0,0,1245,000,0,0,0,000,0,0,0\x03\r\n\x02000,0,0,0,0,2,4,0,00000000,1,000\x03\r\n"
        ),
    )
)
@searched(100)
def test_flags_of_a_printer_are_known_words_or_none(octets: bytes) -> None:
    for word in socket_route.flags(octets) or ():
        assert word.isascii()
        assert word.isprintable()


@given(st.lists(texts, max_size=3))
@searched(100)
def test_what_a_printer_says_of_itself_is_shown_harmless(said: list[str]) -> None:
    assert not any(UNSEEN.search(each) for each in (*in_words(said), *map(plain, said)))


@pytest.mark.parametrize(
    "where",
    ["host:99999", "host:" + "9" * 5000, "host:\u0663", "host:", ":631", "[::1]:631", "a\x1bb:1"],
)
def test_an_odd_print_service_is_an_address_with_a_port(
    where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Finished:
        stdout = where

    monkeypatch.setattr(queue_route, "_program", lambda name: name)
    monkeypatch.setattr(queue_route, "_run", lambda _: Finished())

    class Queue:
        address = "label"

    found = attempt(lambda: queue_route._service(Queue()))  # type: ignore[arg-type]
    assert found is None or 0 < found.port < 65_536


# ---- over HTTP -------------------------------------------------------------------------------

_HEAD = b"HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\n"
_CHUNKED = _HEAD + b"Transfer-Encoding: chunked\r\n\r\n"
_PIECE = b"x" * 65_536


def _for_ever(first: bytes, piece: bytes = _PIECE) -> Callable[[Any], None]:
    def serve(line: Any) -> None:
        request(line)
        line.sendall(first)
        # As much as a test can wait for: it is hung up on long before.
        for _ in range(3_000_000_000 // len(piece)):
            line.sendall(piece)

    return serve


@pytest.mark.parametrize(
    "serve",
    [
        _for_ever(_CHUNKED + b"-1\r\n"), _for_ever(_CHUNKED + b"ffffffffffffffff\r\n"),
        _for_ever(_HEAD + b"Content-Length: -1\r\n\r\n"),
        _for_ever(_HEAD + b"Content-Length: 99999999999999999999\r\n\r\n"),
        _for_ever(_HEAD), _for_ever(_HEAD + b"X: "),
        _for_ever(b"HTTP/1.1 100 Continue\r\n\r\n" * 9),
    ],
    ids=["less than nothing", "huge chunk", "negative", "huge", "head", "one head", "continue"],
)  # fmt: skip
def test_an_answer_that_never_ends_takes_little_memory_and_is_refused(
    serve: Callable[[Any], None],
) -> None:
    with listening(serve) as port:
        tracemalloc.start()
        try:
            got = attempt(
                lambda: ipp.answer(post(Address("127.0.0.1", port, "/"), b"", b"", LIMITS))
            )
            _, most = tracemalloc.get_traced_memory()
        finally:
            tracemalloc.stop()
    assert got is None
    assert most < 40_000_000


def test_a_whole_answer_in_chunks_of_one_octet_is_read_whole() -> None:
    whole = struct.pack(">BBHIB", 2, 0, 0, 1, 4) + ipp.attribute(
        "printer-name", ipp.NAME, ["x"] * 999
    )
    whole += b"\x03"

    def serve(line: Any) -> None:
        request(line)
        chunks = b"".join(b"1\r\n%c\r\n" % octet for octet in whole)
        line.sendall(_CHUNKED + chunks + b"0\r\n\r\n")

    with listening(serve) as port:
        assert post(Address("127.0.0.1", port, "/"), b"", b"", LIMITS) == whole
