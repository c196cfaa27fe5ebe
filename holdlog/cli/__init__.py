"""The command line: parse, call one job, show. No rule and no SQL here."""

import sys


def main() -> None:
    """Run ``holdlog`` and leave with its exit code: 0 done, 1 fault, 2 user's mistake."""
    from holdlog.cli.door import run

    sys.exit(run(sys.argv[1:]))
