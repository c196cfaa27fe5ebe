"""Container codes. Reference: python-stdnum's hybrid system of ISO/IEC 7064."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from holdlog.core import codes
from holdlog.core.codes import ALPHABET, LETTERS, check_character, is_code, near, read_code, show
from holdlog.core.errors import Mistake

BODIES = st.builds(
    lambda first, rest: first + rest,
    st.sampled_from(LETTERS),
    st.text(alphabet=ALPHABET, min_size=6, max_size=6),
)
CODES = BODIES.map(lambda body: body + check_character(body))


def test_the_alphabet_leaves_out_what_looks_alike() -> None:
    assert not set("01OIUL") & set(ALPHABET)
    assert len(ALPHABET) == len(set(ALPHABET)) == 30


@settings(max_examples=300)
@given(BODIES)
def test_the_check_character_is_that_of_the_reference(body: str) -> None:
    # The general hybrid system MOD M+1,M of ISO/IEC 7064, with M = 30 characters.
    assert check_character(body) == mod_37_36.calc_check_digit(body, alphabet=ALPHABET)


@settings(max_examples=100)
@given(CODES)
def test_every_single_wrong_character_is_caught(code: str) -> None:
    for place in range(len(code)):
        for other in ALPHABET:
            if other != code[place]:
                assert not is_code(code[:place] + other + code[place + 1 :])


@given(CODES)
def test_case_dashes_and_spaces_do_not_matter(code: str) -> None:
    for typed in (code, code.lower(), show(code), f" {code[:4]} {code[4:]} ", show(code).lower()):
        assert read_code(typed) == code


@given(CODES)
def test_every_code_looks_like_one(code: str) -> None:
    assert codes.looks_like_a_code(show(code))


def test_a_word_of_eight_letters_does_not_look_like_a_code() -> None:
    assert not codes.looks_like_a_code("marinade")
    assert codes.looks_like_a_code("H7K3-9QX9")
    assert not codes.looks_like_a_code("H7K3-9QX")


def test_new_codes_check() -> None:
    drawn = iter("H7K39QX")
    code = codes.new_code(lambda choices: next(ch for ch in drawn if ch in choices))
    assert code.startswith("H7K39QX")
    assert is_code(code)


@given(CODES, st.integers(0, 7), st.sampled_from(ALPHABET))
def test_a_slip_of_one_key_is_answered_with_the_live_code(
    code: str, place: int, other: str
) -> None:
    slips = {
        code[:place] + other + code[place + 1 :],
        code[:place] + code[place + 1 :],
        code[:place] + other + code[place:],
    }
    for typed in slips - {code}:
        if is_code(typed):
            continue
        with pytest.raises(Mistake) as caught:
            read_code(typed, [code, "AAAAAAAA"])
        assert show(code) in caught.value.hint
        assert show("AAAAAAAA") not in caught.value.hint or "AAAA" in code


def test_swapped_neighbours_are_near() -> None:
    code = "H7K39QX" + check_character("H7K39QX")
    assert near("7H" + code[2:], [code]) == [code]
    assert near(code, [code]) == []


def test_a_strange_code_says_what_to_do() -> None:
    with pytest.raises(Mistake, match="not a container code") as caught:
        read_code("hello")
    assert "label" in caught.value.hint
    assert caught.value.exit_code == 2
