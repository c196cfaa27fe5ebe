"""The template that comes with the program, loaded once."""

import pytest

from holdlog.labels.template import Template, load
from tests.labels.samples import TEMPLATE


@pytest.fixture(scope="session")
def two_by_two() -> Template:
    return load(TEMPLATE)
