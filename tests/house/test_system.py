"""A program that is missing is a visible skip on a person's machine and a failure in CI."""

import pytest

from tests.system import REQUIRE, need

ABSENT = "holdlog-no-such-program"


def test_a_program_that_is_there_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(REQUIRE, "1")
    program = "sh"
    assert need(program).endswith("/sh")


def test_a_missing_program_skips_the_test(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(REQUIRE, raising=False)
    with pytest.raises(pytest.skip.Exception, match=ABSENT):
        need(ABSENT)


def test_a_missing_program_fails_the_test_where_it_is_required(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv(REQUIRE, "1")
    with pytest.raises(pytest.fail.Exception, match=ABSENT):
        need(ABSENT)
