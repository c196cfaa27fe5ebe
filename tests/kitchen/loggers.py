"""Reading a logger's file in a test, and what every reading of one must hold to."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from holdlog.core.errors import BadFile
from holdlog.kitchen.logger_file import LoggerFile, Told, read_logger

NEW_YORK, MADRID = ZoneInfo("America/New_York"), ZoneInfo("Europe/Madrid")


def read(text: str | bytes, where: ZoneInfo = NEW_YORK, **told: Any) -> LoggerFile:
    data = text.encode() if isinstance(text, str) else text
    found = read_logger(data, where, told=Told(**told))
    adds_up(found)
    return found


def adds_up(found: LoggerFile) -> None:
    """Every line is accounted for, and what was read is in order."""
    told = found.aside + len(found.samples) + len(found.refused) + found.duplicates
    assert told == found.lines
    instants = [at for at, _ in found.samples]
    assert instants == sorted(set(instants))
    assert len({line for line, _, _ in found.refused}) == len(found.refused)


def utc(text: str) -> int:
    return int(datetime.fromisoformat(text + "+00:00").timestamp()) * 1000


def refusal(text: str | bytes, **told: Any) -> str:
    with pytest.raises(BadFile) as caught:
        read(text, **told)
    assert caught.value.code == "bad-logger-file"
    return caught.value.line()


def attempt(data: bytes, told: dict[str, Any]) -> LoggerFile | BadFile:
    try:
        return read(data, **told)
    except BadFile as error:
        return error


def reasons(found: LoggerFile) -> dict[int, str]:
    return {line: reason for line, _, reason in found.refused}


# Two readings, at 14:30 and 14:35 in New York (UTC−4) on 13 June 2026: 38.5 and 39.25.
TWO = [(utc("2026-06-13T18:30"), 3850), (utc("2026-06-13T18:35"), 3925)]
PLAIN = "Time,Temp (°F)\n2026-06-13 14:30,38.5\n2026-06-13 14:35,39.25\n"


def rows(first: str, second: str, heading: str = "Time,Temp (°F)") -> str:
    return f"{heading}\n{first}\n{second}\n"
