"""``make torture``: everything that can be done to a journal, and what it lost.

    make torture                          the long form: hours
    make torture ARGS=--short             what CI runs: minutes
    make torture ARGS="--only kills"      one of them

Each torture is a module here with ``run(short, scratch)``, which gives one ``Outcome`` after the
other. It fails as a whole if a torture found something wrong, or if a control build passed.
"""

import argparse
import shutil
import sys
import tempfile
import time
from importlib import import_module
from pathlib import Path

from tests.torture.outcome import Outcome

TORTURES = (
    "kills",
    "writers",
    "flips",
    "backups",
    "postgres_kills",
    "postgres_cuts",
    "power",
    "nth_write",
    "full_disk",
    "clocks",
)


def main() -> int:
    """Run the tortures that were asked for; 1 if one is not as it should be."""
    parser = argparse.ArgumentParser(prog="make torture", description=__doc__)
    parser.add_argument("--short", action="store_true", help="the form that CI runs")
    parser.add_argument("--only", action="append", choices=TORTURES, help="only this one")
    chosen = parser.parse_args()
    bad = 0
    for name in chosen.only or TORTURES:
        began = time.monotonic()
        scratch = Path(tempfile.mkdtemp(prefix=f"torture-{name}-"))
        try:
            for outcome in import_module(f"tests.torture.{name}").run(chosen.short, scratch):
                bad += not outcome.as_it_should_be
                print(_line(outcome), flush=True)
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
        print(f"   {name}: {time.monotonic() - began:.0f} s", flush=True)
    print("every torture is as it should be" if not bad else f"{bad} not as they should be")
    return 1 if bad else 0


def _line(outcome: Outcome) -> str:
    sign = "ok " if outcome.as_it_should_be else "BAD"
    figures = ", ".join(f"{name} {value}" for name, value in outcome.figures.items())
    said = "; ".join(outcome.wrong[:3])
    if outcome.control:
        said = f"control, caught: {said}" if said else "control, NOT caught"
    return f"{sign} {outcome.name}: {figures}" + (f" ({said})" if said else "")


if __name__ == "__main__":
    sys.exit(main())
