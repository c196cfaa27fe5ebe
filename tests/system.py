"""Programs from outside Python that some tests use as an independent reader."""

import os
import shutil

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
    if path is not None:
        return path
    missing = f"the program {program} is not on the PATH (packages: .ci/debian-packages)"
    if os.environ.get(REQUIRE) == "1":
        pytest.fail(missing, pytrace=False)
    pytest.skip(missing)
