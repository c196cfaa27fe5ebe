"""A program that is missing is a visible skip on a person's machine and a failure in CI."""

import json
from pathlib import Path

import pytest

from tests.system import REQUIRE, need, need_npm

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


@pytest.fixture
def installed(tmp_path: Path) -> Path:
    """A folder in which ``npm ci`` has been run."""
    lock = {"packages": {"": {"name": "x"}, "node_modules/reader": {"version": "1.2.3"}}}
    (tmp_path / "package-lock.json").write_text(json.dumps(lock), encoding="utf-8")
    (tmp_path / "node_modules" / "reader").mkdir(parents=True)
    about = tmp_path / "node_modules" / "reader" / "package.json"
    about.write_text('{"version": "1.2.3"}', encoding="utf-8")
    return tmp_path


def test_what_npm_has_installed_is_found(installed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(REQUIRE, "1")
    need_npm(installed)


def test_what_npm_has_not_installed_skips_or_fails_the_test(
    installed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (installed / "node_modules" / "reader" / "package.json").unlink()
    monkeypatch.delenv(REQUIRE, raising=False)
    with pytest.raises(pytest.skip.Exception, match=r"node_modules/reader 1\.2\.3 is missing"):
        need_npm(installed)
    monkeypatch.setenv(REQUIRE, "1")
    with pytest.raises(pytest.fail.Exception, match="npm ci"):
        need_npm(installed)


def test_an_older_version_than_the_lock_names_is_missing(
    installed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    about = installed / "node_modules" / "reader" / "package.json"
    about.write_text('{"version": "1.2.2"}', encoding="utf-8")
    monkeypatch.setenv(REQUIRE, "1")
    with pytest.raises(pytest.fail.Exception, match=r"reader 1\.2\.3 is missing"):
        need_npm(installed)
