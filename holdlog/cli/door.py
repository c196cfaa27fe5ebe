"""The one place where errors become a line and an exit code."""

import contextlib
import os
import signal
import sys
from types import FrameType
from typing import Any

from holdlog.core.errors import HoldlogError

# What a shell expects of a program that a signal has stopped: 128 and the signal's number.
STOPPED = 128 + signal.SIGINT


class Ended(KeyboardInterrupt):
    """The system, or another program, ends this one: what is under way is left as by Ctrl-C."""

    def __init__(self, number: int) -> None:
        super().__init__()
        self.exit_code = 128 + number


def run(arguments: list[str]) -> int:
    """Run the program with ``arguments``; what to leave with: 0, 1 (fault), 2 (mistake), or 128
    and the number of the signal that stopped it.
    """
    _stand_in_for_closed()
    _leave_in_order()
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without ° must not end a job
    try:
        code = _run(arguments)
        sys.stdout.flush()
    except KeyboardInterrupt as stopped:
        print("\nholdlog: stopped. What is recorded: holdlog on-hand", file=sys.stderr)
        return getattr(stopped, "exit_code", STOPPED)
    except BrokenPipeError:
        # The reader (head, a pager) has seen enough; nothing is wrong, and nothing more is said.
        _close_output()
        return 0
    except OSError as error:
        _close_output()
        where = f"{error.filename}: " if error.filename else ""
        says = f"holdlog: {where}{error.strerror or error}. What is recorded: holdlog on-hand"
        print(_one_line(says), file=sys.stderr)
        return 1
    except Exception as error:
        if os.environ.get("HOLDLOG_TRACE"):
            raise
        says = f"holdlog: a fault of the program itself ({type(error).__name__}: {error})."
        print(_one_line(f"{says} To report it, run again with HOLDLOG_TRACE=1."), file=sys.stderr)
        return 1
    return code


def _run(arguments: list[str]) -> int:
    from holdlog.cli import scenario

    plain = scenario.plain_form(arguments)
    if plain is None:
        return _run_command(arguments)
    file, check, as_json = plain
    try:
        return scenario.run(file, check=check, json=as_json)
    except HoldlogError as error:
        _tell(error, as_json=as_json)
        return error.exit_code


def _run_command(arguments: list[str]) -> int:
    import typer

    from holdlog.cli.app import program

    # Typer may carry its own copy of click; its error classes are found from one it exports.
    usage_error: Any = next(
        kind for kind in typer.BadParameter.__mro__ if kind.__name__ == "ClickException"
    )
    try:
        root = program()
        with root.make_context("holdlog", list(arguments)) as context:
            root.invoke(context)
    except HoldlogError as error:
        _tell(error, as_json="--json" in arguments)
        return error.exit_code
    except typer.Exit as leaving:
        return leaving.exit_code
    except typer.Abort as left:
        # Every question is asked before anything is written.
        print("\nholdlog: stopped at a question; nothing was recorded.", file=sys.stderr)
        # Ctrl-C, or a signal; the end of the input (Ctrl-D) is an answer that is missing.
        stopped = isinstance(left.__context__, KeyboardInterrupt)
        return getattr(left.__context__, "exit_code", STOPPED) if stopped else 2
    except usage_error as error:
        _tell_usage(error, as_json="--json" in arguments)
        return 2
    return 0


def _tell(error: HoldlogError, *, as_json: bool) -> None:
    if as_json:
        _emit(error.code, error.sentence, error.hint)
    print(f"holdlog: {_one_line(error.line())}", file=sys.stderr)


def _tell_usage(error: Any, *, as_json: bool) -> None:
    """What the command line itself got wrong: a sentence, and the help to look at."""
    says = _one_line(error.format_message()).replace("a valid int", "a whole number")
    says = says.replace("a valid integer", "a whole number")
    if not says.endswith((".", "?")):
        says += "."
    context = getattr(error, "ctx", None)
    hint = f"See: {context.command_path} --help" if context else ""
    if "unexpected extra argument" in says:
        hint = f'Write a name of several words in quotes: "chicken stock". {hint}'.rstrip()
    if as_json:
        _emit("usage", says, hint)
    print(f"holdlog: {says} {hint}".rstrip(), file=sys.stderr)


def _emit(code: str, says: str, hint: str) -> None:
    import json

    from holdlog.core.visible import escaped

    told = {"code": code, "says": says, "hint": hint}
    print(escaped(json.dumps({"error": told}, ensure_ascii=False)))


def _one_line(text: str) -> str:
    from holdlog.core.visible import one_line

    return one_line(text)


def _stand_in_for_closed() -> None:
    """A caller may close any of the three streams; there is nothing to read or nobody to tell."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115, PTH123


def _leave_in_order() -> None:
    """Have the signals that end a program leave it as Ctrl-C does. Who had them ignored (nohup)
    meant it.
    """

    def end(number: int, _: FrameType | None) -> None:
        raise Ended(number)

    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)  # Windows has no SIGHUP
        # Only the first thread may say so, and a run within a run has it said already.
        with contextlib.suppress(ValueError):
            if number is not None and signal.getsignal(number) == signal.SIG_DFL:
                signal.signal(number, end)


def _close_output() -> None:
    """Nothing more can be written; leave without a complaint from the interpreter."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
