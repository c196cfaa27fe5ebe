"""The dice of a torture: thrown anew each time, and told, so that a bad run can be run again."""

import os
import secrets
from random import Random

VARIABLE = "HOLDLOG_TEST_SEED"


def dice() -> tuple[int, Random]:
    """The seed (that of the variable, if it is set) and the dice. The moments at which a process
    is killed do not depend on them alone.
    """
    seed = int(os.environ.get(VARIABLE) or secrets.randbelow(1_000_000))
    return seed, Random(seed)
