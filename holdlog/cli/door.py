"""The one place where errors become a line and an exit code."""

import contextlib
import os
import sys

from holdlog.core.errors import HoldlogError


def run(arguments: list[str]) -> int:  # noqa: PLR0911  (a line for each way to leave)
    """Run the program with ``arguments``; what to leave with: 0, 1 (fault) or 2 (mistake)."""
    import click

    from holdlog.cli.app import command

    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without ° must not end a job
    try:
        result = command()(args=arguments, prog_name="holdlog", standalone_mode=False)
    except HoldlogError as error:
        _tell(error, as_json="--json" in arguments)
        return error.exit_code
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.Abort:
        print("holdlog: stopped; nothing was written.", file=sys.stderr)
        return 2
    except click.ClickException as error:
        context = getattr(error, "ctx", None)
        where = f" See: {context.command_path} --help" if context else ""
        print(f"holdlog: {error.format_message()}{where}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        # The reader (head, a pager) has seen enough; nothing is wrong, and nothing more is said.
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        print(f"holdlog: {error.strerror or error}: {error.filename or ''}", file=sys.stderr)
        return 1
    return result if isinstance(result, int) else 0


def _tell(error: HoldlogError, *, as_json: bool) -> None:
    if as_json:
        import json

        told = {"code": error.code, "says": error.sentence, "hint": error.hint}
        print(json.dumps({"error": told}, ensure_ascii=False))
    print(f"holdlog: {error.line()}", file=sys.stderr)
