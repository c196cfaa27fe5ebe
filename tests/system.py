"""Programs from outside Python that some tests use as an independent reader."""

import json
import os
import shutil
from pathlib import Path
from typing import NoReturn

import pytest

REQUIRE = "HOLDLOG_REQUIRE_SYSTEM_TESTS"


def need(program: str) -> str:
    """The path of ``program``, or the end of the calling test.

    On a person's machine a missing program skips the test, visibly. Where the environment says
    ``HOLDLOG_REQUIRE_SYSTEM_TESTS=1``, as ``.ci/run`` does after it has installed
    ``.ci/debian-packages``, it fails the test: a check that silently stopped running is worse
    than a red one.
    """
    path = shutil.which(program)
    if path is None:
        end(f"the program {program} is not on the PATH (packages: .ci/debian-packages)")
    return path


def need_npm(folder: Path) -> None:
    """Go on if ``npm ci`` has been run in ``folder``, or end the calling test as ``need`` does.

    Everything that ``package-lock.json`` names has to be there in the version it names: what was
    installed before the file changed is as good as missing.
    """
    lock = json.loads((folder / "package-lock.json").read_text(encoding="utf-8"))
    for place, wanted in lock["packages"].items():
        about = folder / place / "package.json"
        if place and (
            not about.is_file()
            or json.loads(about.read_text(encoding="utf-8"))["version"] != wanted["version"]
        ):
            end(f"{place} {wanted['version']} is missing (run: npm ci --prefix {folder})")


def end(missing: str) -> NoReturn:
    """End the calling test: it is skipped, or fails where every program is required."""
    if os.environ.get(REQUIRE) == "1":
        pytest.fail(missing, pytrace=False)
    pytest.skip(missing)
