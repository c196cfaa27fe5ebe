"""All benches, one after the other: ``python -m benchmarks``, or ``python -m benchmarks start``."""

import importlib
import sys
from pathlib import Path


def main() -> None:
    """Run the benches named on the command line, or all of them."""
    known = sorted(
        path.stem for path in Path(__file__).parent.glob("*.py") if not path.stem.startswith("_")
    )
    wanted = sys.argv[1:] or known
    for name in wanted:
        if name not in known:
            sys.exit(f"No bench {name!r}. Known: {', '.join(known)}.")
        print(f"\n== {name}")
        importlib.import_module(f"benchmarks.{name}").main()


if __name__ == "__main__":
    main()
