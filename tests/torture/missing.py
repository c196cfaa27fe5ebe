"""What a torture says where this machine cannot do it."""

import os

from tests.system import REQUIRE
from tests.torture.outcome import Outcome


def not_here(name: str, lacks: str) -> Outcome:
    """Wrong where every system test is required, a figure that is seen elsewhere."""
    required = os.environ.get(REQUIRE) == "1"
    return Outcome(name, {"not possible here": lacks}, [lacks] if required else [])
