"""Code 128 and QR before any dots: what is drawn is what was meant, or nothing is drawn."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from zxingcpp import BarcodeFormat, create_barcode

from holdlog.core import codes
from holdlog.core.errors import Fault
from holdlog.labels import symbols

some_codes = st.text(codes.ALPHABET, min_size=6, max_size=6).flatmap(
    lambda rest: st.sampled_from(codes.LETTERS).map(
        lambda first: first + rest + codes.check_character(first + rest)
    )
)


@given(some_codes)
def test_every_container_code_reads_back_from_its_bars(code: str) -> None:
    assert symbols.read_bars(symbols.bars(code)) == code


@given(st.text("0123456789ABCXYZ", min_size=1, max_size=12))
def test_bars_are_right_or_refused_whatever_the_text(text: str) -> None:
    # python-barcode 0.16.1 gets codes wrong that start in set C with 99 (its issue 251).
    try:
        modules = symbols.bars(text)
    except Fault:
        assert text.startswith("99")
    else:
        assert symbols.read_bars(modules) == text


def test_a_code_whose_bars_would_scan_as_another_is_never_drawn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from barcode.codex import Code128

    wrong = Code128("123456").build()
    monkeypatch.setattr(Code128, "build", lambda _: wrong)
    with pytest.raises(Fault, match="99123456 would scan as 123456"):
        symbols.bars("99123456")


@given(st.text(codes.ALPHABET + "abc/", min_size=1, max_size=12))
def test_the_reader_understands_the_bars_of_another_encoder(text: str) -> None:
    # zxing-cpp's encoder is independent of python-barcode and uses sets A, B and C.
    made = create_barcode(text, BarcodeFormat.Code128)
    picture: Any = made.to_image(scale=1, add_quiet_zones=False)
    row = bytes(memoryview(picture))[: picture.shape[1]]
    assert symbols.read_bars("".join("1" if dot < 128 else "0" for dot in row)) == text


@given(some_codes, st.integers(0, 122))
def test_a_flipped_module_is_never_read_as_another_code(code: str, at: int) -> None:
    modules = symbols.bars(code)
    at %= len(modules)
    flipped = modules[:at] + ("0" if modules[at] == "1" else "1") + modules[at + 1 :]
    assert symbols.read_bars(flipped) in (None, code)


@given(some_codes)
def test_no_code_is_wider_than_the_width_that_templates_are_checked_for(code: str) -> None:
    assert len(symbols.bars(code)) <= symbols.bars_width(len(code))


def test_the_qr_is_the_smallest_one_with_its_three_finders() -> None:
    rows = symbols.qr("H7K39QX2")
    assert len(rows) == 21
    assert {len(row) for row in rows} == {21}
    finder = ("1111111", "1000001", "1011101", "1011101", "1011101", "1000001", "1111111")
    assert tuple(row[:7] for row in rows[:7]) == finder  # ISO/IEC 18004, 6.3.3
    assert tuple(row[-7:] for row in rows[:7]) == finder
    assert tuple(row[:7] for row in rows[-7:]) == finder


def test_a_text_too_long_for_the_qr_is_refused() -> None:
    with pytest.raises(Fault, match="No QR symbol"):
        symbols.qr("A" * 17)


def test_bars_refuse_what_code_128_cannot_hold() -> None:
    with pytest.raises(Fault, match="No barcode can hold"):
        symbols.bars("crème")
