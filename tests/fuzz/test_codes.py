"""What a scanner reads off a spoilt label, another label, or one made to harm."""

from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from holdlog.core.codes import (
    ALPHABET,
    LETTERS,
    is_code,
    looks_like_a_code,
    near,
    new_code,
    read_code,
)
from tests.fuzz.hostile import attempt, evil, searched, texts

_bodies = st.builds(
    str.__add__, st.sampled_from(LETTERS), st.text(ALPHABET, min_size=6, max_size=6)
)


def _whole(body: str) -> str:
    # python-stdnum's general ISO 7064 hybrid system, with our alphabet of 30.
    return body + mod_37_36.calc_check_digit(body, alphabet=ALPHABET)


codes = _bodies.map(_whole)
_around = st.one_of(
    texts, evil, st.sampled_from(["]C1", "]Q3", "-", " ", "http://x/", "ß", "\u017f", "\ufb01"])
)


_scans = st.one_of(texts, codes, st.builds("{}{}{}".format, _around, codes, _around))


@given(_scans, st.lists(codes, max_size=5))
@searched(300)
def test_a_scan_is_a_code_that_checks_or_is_refused_with_a_clear_line(
    scanned: str, live: list[str]
) -> None:
    code = attempt(lambda: read_code(scanned, live))
    looks_like_a_code(scanned)
    assert set(near(scanned, live)) <= set(live)
    if code is not None:
        assert is_code(code)
        assert mod_37_36.is_valid(code, alphabet=ALPHABET)
        assert code == "".join(sign for sign in scanned.upper() if sign.isalnum())


@given(codes, st.data())
@searched(100)
def test_one_wrong_sign_never_gives_another_container(code: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(code) - 1))
    sign = data.draw(st.sampled_from(ALPHABET))
    wrong = code[:place] + sign + code[place + 1 :]
    assert wrong == code or attempt(lambda: read_code(wrong, [code])) is None


def test_a_code_drawn_is_a_code() -> None:
    assert is_code(new_code(lambda letters: letters[-1]))
