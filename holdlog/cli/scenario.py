"""The job of ``holdlog whatif``: read a scenario, fold it, show it.

Other programs call this a thousand times, so it loads neither the parser nor the journal: the
plain form ``whatif FILE [--json] [--check]`` is understood here, anything else goes to Typer.
"""

import sys
from datetime import datetime
from pathlib import Path
from typing import Any

from holdlog.core.errors import BadFile
from holdlog.core.visible import quoted, visible

PLAIN_OPTIONS = {"--json", "--check"}


def plain_form(arguments: list[str]) -> tuple[str, bool, bool] | None:
    """File, ``check`` and ``json`` of a plain ``whatif FILE …``; None for any other form."""
    if arguments[:1] != ["whatif"]:
        return None
    files = [word for word in arguments[1:] if word not in PLAIN_OPTIONS]
    if len(files) != 1 or (files[0].startswith("-") and files[0] != "-"):
        return None
    return files[0], "--check" in arguments, "--json" in arguments


def run(file: str, *, check: bool, json: bool) -> int:
    """Work out the scenario in ``file`` (``-``: standard input) and show it. 1: an expectation
    does not hold. Raises ``BadFile`` naming file, table and key.
    """
    from holdlog.cli.show import columns, emit
    from holdlog.rules import scenario

    text, name = _text_in(file)
    found = scenario.read(
        text,
        name,
        lambda book: _find("rulebooks", book, file),
        lambda kind: _find("categories", kind, file),
    )
    result = scenario.answer(found)
    unmet = scenario.unmet(found, result) if check else []
    if json:
        emit(result)
    else:
        from holdlog.reports.wrapping import prose

        items = {batch: history.food.item for batch, history in found.histories.items()}
        wide = columns()
        for line in in_words(result, items, scenario.coolings_told(found)):
            for part in prose(visible(line), wide):
                print(part)
    for line in unmet:
        print(f"holdlog: {visible(line)}", file=sys.stderr)
    return 1 if unmet else 0


def _text_in(file: str) -> tuple[str, str]:
    from holdlog.core import files
    from holdlog.core.toml_table import MAX_BYTES

    if file != "-":
        return _text(Path(file)), Path(file).name
    try:
        return files.text_of(files.read_input(MAX_BYTES, sys.stdin.buffer)), "standard input"
    except UnicodeDecodeError as error:
        raise BadFile("bad-file", ("standard input: not a text in UTF-8",)) from error


def _text(path: Path) -> str:
    from holdlog.core import files
    from holdlog.core.toml_table import MAX_BYTES

    try:
        return files.read_text(path, MAX_BYTES)
    except OSError as error:
        raise BadFile("no-file", (f"{path}: {error.strerror or error}",)) from error
    except (UnicodeDecodeError, ValueError) as error:
        raise BadFile("bad-file", (f"{path}: not a text in UTF-8",)) from error


def _find(kind: str, wanted: str, file: str) -> tuple[str, str]:
    """A rulebook (an id, or a path beside the scenario) or a category: its text and file name."""
    from holdlog.bundled import folder
    from holdlog.core import files

    path = folder("shared") / kind / f"{wanted}.toml"
    if kind == "rulebooks" and ("/" in wanted or wanted.endswith(".toml")):
        path = Path(file).parent / wanted
    if not files.is_file(path):
        known = ", ".join(sorted(each.stem for each in (folder("shared") / kind).glob("*.toml")))
        what = "rulebook" if kind == "rulebooks" else "category"
        raise BadFile("bad-scenario", (f"there is no {what} {quoted(wanted)} (known: {known})",))
    return _text(path), path.name


# ---- in words --------------------------------------------------------------------------------


def in_words(
    result: dict[str, Any], items: dict[str, str], ahead: dict[str, list[str]]
) -> list[str]:
    """The result of a scenario in lines for people: for each batch the verdict and the date, what
    is ``ahead`` of it while it cools, the rules they stand on, and the cautions; at the end the
    moment and the rulebooks.
    """
    from holdlog.cli.show import in_words as caution_in_words

    lines: list[str] = []
    for name, held in result["batches"].items():
        item = items[name]
        title = name if name == item else f"{name} ({item})"
        lines.append(f"{title}: {_standing(held)}.")
        lines += [f"  {line}" for line in ahead.get(name, ())]
        lines += [f"  {line}" for line in _reasons(held)]
        lines += [f"  Caution: {caution_in_words(caution)}" for caution in held["cautions"]]
        lines.append("")
    return [*lines, f"As of {when(result['at'])}, by {' + '.join(result['rulebooks'])}."]


def _standing(held: dict[str, Any]) -> str:
    from holdlog.cli.show import WORDS, count_of

    parts = [WORDS[held["verdict"]]]
    if held["state"] == "gone":
        parts.append("gone")
    elif held["state"] == "frozen":
        left = held["days_left_once_thawed"]
        parts.append("frozen")
        if left is not None:
            parts.append(f"{count_of(left, 'day')} left once thawed")
    elif held["use_by"]:
        parts.append(f"use by {when(held['use_by'])}")
        if held["day"] is not None:
            parts.append(f"day {held['day']} of {held['of']}")
    else:
        parts.append("no limit" if held["tcs"] == "not-tcs" else "no date")
    if held["cooling"] is not None:
        stages = (("first", "first limit"), ("whole", "last limit"))
        told = [f"{name} {held['cooling'][key]}" for key, name in stages if held["cooling"][key]]
        parts.append("cooling: " + " and ".join(told))
    if held["best_by"]:
        from holdlog.core.moments import show_dated_day

        best = datetime.fromisoformat(held["best_by"]).date()
        parts.append(f"at its best until {show_dated_day(best)}")
    return ", ".join(parts)


def _reasons(held: dict[str, Any]) -> list[str]:
    """The findings, the one that binds first."""
    lines = []
    for each in sorted(held["basis"], key=lambda each: not each["binds"]):
        also = "" if each["binds"] else "Also "
        limit = f"{when(each['limit'])} by " if each["limit"] else ""
        seen = "" if each["seen"] == "text" else f" [seen: {each['seen']}]"
        lines.append(f"{also}{limit}{each['cite']}: {each['says']}{seen}")
    return lines


def when(text: str) -> str:
    """A moment of the contract for people: ``Sun 7 June 2026``, with the hour where it is one."""
    from holdlog.core.moments import show_dated_day

    moment = datetime.fromisoformat(text)
    day = show_dated_day(moment.date())
    return day if f"{moment:%H:%M:%S}" == "23:59:59" else f"{day} {moment:%H:%M}"
