"""Code 128 and QR before any dots: what is drawn is what was meant, or nothing is drawn."""

from typing import Any

import pytest
import segno
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


def made_by_segno(text: str, mode: str | None = None) -> tuple[str, ...]:
    made = segno.make_qr(text, version=1, error="q", mask=3, boost_error=False, mode=mode)
    return tuple("".join("1" if module & 1 else "0" for module in row) for row in made.matrix)


@given(some_codes)
def test_the_qr_of_every_container_code_is_the_one_that_segno_makes(code: str) -> None:
    assert symbols.qr(code) == made_by_segno(code)


# ISO/IEC 18004, table 5: the 45 signs of the alphanumeric mode.
@given(st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:", min_size=1, max_size=16))
def test_the_qr_of_any_other_text_is_the_one_that_segno_makes(text: str) -> None:
    assert symbols.qr(text) == made_by_segno(text)


@given(st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:", min_size=7, max_size=7))
def test_eight_signs_of_any_kind_make_the_qr_that_segno_makes(rest: str) -> None:
    assert symbols.qr("Z" + rest) == made_by_segno("Z" + rest)


def test_every_pair_of_signs_at_every_place_makes_the_qr_that_segno_makes() -> None:
    pairs = [first + second for first in codes.ALPHABET for second in codes.ALPHABET]
    for n in range(len(pairs)):
        first = codes.LETTERS[n // 30 % 22] + codes.ALPHABET[n % 30]
        # 7, 11 and 13 have no divisor in common with 900: each place meets every pair once.
        others = [pairs[(n * step + step) % 900] for step in (7, 11, 13)]
        code = first + "".join(others)
        assert symbols.qr(code) == made_by_segno(code)


def test_a_text_too_long_for_the_qr_is_refused() -> None:
    with pytest.raises(Fault, match="No QR symbol"):
        symbols.qr("A" * 17)


def test_bars_refuse_what_code_128_cannot_hold() -> None:
    with pytest.raises(Fault, match="No barcode can hold"):
        symbols.bars("crème")
