"""The command line: parse, call one job, show. No rule and no SQL here."""

import sys


def main() -> None:
    """Run ``holdlog`` and leave with its exit code: 0 done, 1 fault, 2 user's mistake."""
    import gc

    # A command lives for a moment: looking for cycles while it loads costs more than it frees.
    gc.disable()
    try:
        from holdlog.cli.door import run

        code = run(sys.argv[1:])
    except KeyboardInterrupt:
        code = 130
    sys.exit(code)
