"""What every test shares: how hypothesis searches, and a clean environment."""

import os
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from tests.postgres import Server

# The same examples on every run of CI, so that a red run can be run again; no deadline, since
# a busy machine is not a fault of the program.
settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
# On a person's machine the search goes on where it left off, and may find something new.
settings.register_profile("local", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "local")


@pytest.fixture(scope="session", autouse=True)
def _nobody_elses_settings() -> Iterator[None]:
    """No test sees the kitchen that the person at this machine works with."""
    kept = ("HOLDLOG_REQUIRE_", "HOLDLOG_TEST_")
    with pytest.MonkeyPatch.context() as patch:
        for name in list(os.environ):
            if name.startswith("HOLDLOG_") and not name.startswith(kept):
                patch.delenv(name)
        yield


@pytest.fixture(scope="session")
def postgres() -> Iterator["Server"]:
    """One PostgreSQL server for all tests of a process that ask for it. It syncs as a real one
    does (``doctor`` would tell if it did not) and lies in memory, where that costs nothing. What
    kills a server starts one of its own: ``tests.postgres.running``.
    """
    from tests.postgres import in_memory, running

    with running(in_memory()) as server:
        yield server
