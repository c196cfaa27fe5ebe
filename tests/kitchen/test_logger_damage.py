"""Files of loggers written by Python's csv module and read back, whole, damaged and cut off."""

import csv
import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.errors import BadFile
from holdlog.kitchen.logger_file import Told, read_logger
from tests.kitchen.loggers import NEW_YORK, PLAIN, TWO, attempt, read, refusal, rows, utc

Samples = list[tuple[int, int]]
Writer = Callable[[Samples], bytes]


def by_csv(
    times: Callable[[datetime], list[str]],
    heading: list[str],
    *,
    number: Callable[[int], str] = lambda value: f"{value / 100:.2f}",
    code: str = "utf-8",
    **how: Any,
) -> Writer:
    """A logger that writes with Python's csv module."""

    def write(samples: Samples) -> bytes:
        out = io.StringIO()
        writer = csv.writer(out, **how)
        writer.writerow(heading)
        for at, value in samples:
            wall = datetime.fromtimestamp(at / 1000, UTC).astimezone(NEW_YORK)
            writer.writerow([*times(wall), number(value)])
        return out.getvalue().encode(code)

    return write


def comma(value: int) -> str:
    return f"{value / 100:.2f}".replace(".", ",")


WRITERS: dict[str, tuple[Writer, dict[str, Any]]] = {
    "plain": (by_csv(lambda t: [f"{t:%Y-%m-%d %H:%M:%S}"], ["Time", "Temp °F"]), {}),
    "all quoted": (
        by_csv(lambda t: [f"{t:%Y-%m-%d %H:%M}"], ["Time", "Temp °F"], quoting=csv.QUOTE_ALL), {}
    ),
    "semicolons": (
        by_csv(lambda t: [f"{t:%d.%m.%Y %H:%M:%S}"], ["Zeit", "Temp °F"],
               number=comma, delimiter=";"),
        {"day_first": True},
    ),
    "commas between commas": (
        by_csv(lambda t: [f"{t:%Y-%m-%d}", f"{t:%H:%M}"], ["Date", "Time", "Temp °F"],
               number=comma), {}
    ),
    "tabs in UTF-16": (
        by_csv(lambda t: [f"{t:%m/%d/%Y}", f"{t:%I:%M:%S %p}"], ["Date", "Time", "Temp °F"],
               code="utf-16", delimiter="\t"),
        {"day_first": False},
    ),
    "Latin-1": (
        by_csv(lambda t: [f"{t:%d-%b-%Y %H:%M}"], ["Time", "Temp °F"], code="latin-1"), {}
    ),
    "ISO": (by_csv(lambda t: [t.isoformat()], ["Time", "Temp °F"]), {}),
    "UTC": (by_csv(lambda t: [f"{t.astimezone(UTC):%Y-%m-%dT%H:%M:%S}Z"], ["Time", "Temp °F"]), {}),
    "epoch": (by_csv(lambda t: [f"{t.timestamp():.0f}"], ["Epoch", "Temp °F"]), {}),
    "unit in the cell": (
        by_csv(lambda t: [f"{t:%Y-%m-%d %H:%M}"], ["Time", "Reading"],
               number=lambda value: f"{value / 100:.2f} °F"), {}
    ),
    "two figures": (
        by_csv(lambda t: [f"{t:%m/%d/%y %I:%M %p}"], ["Time", "Temp (F)"]), {"day_first": False}
    ),
}  # fmt: skip


@st.composite
def logs(draw: st.DrawFn, *, calm: bool = False) -> Samples:
    """Readings of a unit at a steady interval, through the night of a changeover if not calm."""
    start = datetime(2026, 6, 13, tzinfo=UTC)
    if not calm:
        night = draw(st.sampled_from(["2026-03-08", "2026-11-01", "2026-06-13"]))
        start = datetime.fromisoformat(night + "T00:00:00+00:00")
    start += timedelta(minutes=draw(st.integers(0, 5 * 60 - 1)))
    step = draw(st.sampled_from([1, 2, 5, 10, 15, 30, 60])) * 60_000
    values = draw(st.lists(st.integers(3000, 6000), min_size=3, max_size=40))
    first = int(start.timestamp()) * 1000
    return [(first + step * n, value) for n, value in enumerate(values)]


@pytest.mark.parametrize("name", WRITERS)
@given(samples=logs())
def test_every_value_is_read_as_it_was_written(name: str, samples: Samples) -> None:
    write, told = WRITERS[name]
    found = read(write(samples), **told)
    assert list(found.samples) == samples
    assert (found.refused, found.duplicates) == ((), 0)


@pytest.mark.parametrize("name", WRITERS)
@given(samples=logs(calm=True), data=st.data())
def test_a_damaged_file_gives_no_value_that_was_not_written(
    name: str, samples: Samples, data: st.DataObject
) -> None:
    write, told = WRITERS[name]
    code = "utf-16" if "16" in name else "latin-1" if "Latin" in name else "utf-8"
    lines = write(samples).decode(code).splitlines()
    places = st.integers(1, len(lines) - 1)
    for _ in range(data.draw(st.integers(1, 4))):
        place, other = data.draw(places), data.draw(places)
        match data.draw(st.sampled_from(["swap", "again", "lost", "junk", "cut", "zero"])):
            case "swap":
                lines[place], lines[other] = lines[other], lines[place]
            case "again":
                lines.insert(place, lines[other])
            case "lost" if len(lines) > 3:
                del lines[place]
            case "junk":
                lines.insert(place, data.draw(st.text('abc019 ,;"\t:/-°.', max_size=30)))
            case "cut":
                # Within the time: a shorter value would be another value.
                lines[place] = lines[place][: data.draw(st.integers(0, 9))]
            case _:
                lines[place] = "\0" + lines[place]
        places = st.integers(1, len(lines) - 1)
    found = attempt("\r\n".join([*lines, ""]).encode(code), told)
    if isinstance(found, BadFile):
        assert found.code == "bad-logger-file"
    else:
        assert set(found.samples) <= set(samples)


@pytest.mark.parametrize("name", WRITERS)
def test_a_file_cut_off_anywhere_gives_no_value_that_was_not_written(name: str) -> None:
    start = utc("2026-06-13T18:30")
    samples = [(start + 300_000 * n, 3875 + 111 * n) for n in range(6)]
    write, told = WRITERS[name]
    whole = write(samples)
    most = 0
    for length in range(len(whole)):
        found = attempt(whole[:length], told)
        if isinstance(found, BadFile):
            continue
        assert set(found.samples) <= set(samples), length
        most = max(most, len(found.samples))
    assert most >= 5


@pytest.mark.parametrize(
    "text",
    [
        rows("2026-06-13 14:25,38.25", "2026-06-13 14:30,38.5") + "2026-06-13 14:35,38.75\n",
        rows("38.25,2026-06-13 14:25:00", "38.25,2026-06-13 14:30:30", "Temp (°F),Time")
        + "38.25,2026-06-13 14:35:30\n",
        rows("38.25,06/13/2026 02:25 PM", "38.25,06/13/2026 02:30 PM", "Temp (°F),Time")
        + "38.25,06/13/2026 02:35 PM\n",
    ],
)
def test_a_last_line_without_its_end_is_believed_only_if_it_is_whole(text: str) -> None:
    assert len(read(text).samples) == 3
    for cut in range(1, 6):
        found = read(text[:-cut])
        assert len(found.samples) == 2
        assert found.refused[0].line == 4


NOISE = st.lists(
    st.sampled_from(
        ["2026-06-13 14:30", "06/13/26", "1:30 PM", "Temp (°F)", "38,5", "-196.6", ",", ";", "\t",
         "\n", "\r", '"', "\0", "°C", "Z", "1781375400", "UTC", "\ufeff", "é", "-", "#", " "]
    ),
    max_size=60,
)  # fmt: skip
ENCODINGS = st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "latin-1", "utf-32"])
TOLDS: st.SearchStrategy[dict[str, Any]] = st.builds(
    dict,
    scale=st.sampled_from(["F", "C", None]),
    day_first=st.sampled_from([True, False, None]),
    column=st.sampled_from([None, "1", "2", "temp", ""]),
    time_column=st.sampled_from([None, "1", "time"]),
    utc=st.booleans(),
    decimal=st.sampled_from([".", ",", None]),
)


@given(
    data=st.one_of(
        st.binary(max_size=300),
        st.builds(lambda parts, code: "".join(parts).encode(code, "replace"), NOISE, ENCODINGS),
    ),
    told=TOLDS,
)
def test_no_bytes_at_all_make_it_fall_over(data: bytes, told: dict[str, Any]) -> None:
    found = attempt(data, told)
    if isinstance(found, BadFile):
        assert found.code == "bad-logger-file"
        assert found.line()
    else:
        assert found.samples


@pytest.mark.parametrize(
    "data",
    [
        b"," * 1_000_000,
        b"x" * 5_000_000,
        b'"' * 1_000_000,
        (PLAIN + "," * 1_000_000 + "\n").encode(),
        (PLAIN + "2026-06-13 14:40," + "9" * 3_000_000 + "\n").encode(),
        PLAIN.encode() + b"\0" * 1_000_000,
        ("a," * 900 + "\n").encode() * 1000,
        b"\n" * 1_000_000 + PLAIN.encode(),
        PLAIN.encode() + b"\n" * 1_000_000,
        PLAIN.encode() + b"\r\r\n\n" * 1000,
    ],
)
def test_hostile_files_are_refused_or_read_and_accounted_for(data: bytes) -> None:
    found = attempt(data, {})
    if isinstance(found, BadFile):
        assert all(len(fault) < 200 for fault in found.faults)
    else:
        assert list(found.samples) == TWO


def test_files_larger_than_any_logger_writes_are_refused_before_they_are_read() -> None:
    assert "1,200,001 lines" in refusal(b"\n" * 1_200_001)
    assert "bytes" in refusal(b"0" * (96 * 1024 * 1024 + 1))


def test_progress_is_told_and_ends_at_the_last_line() -> None:
    told: list[tuple[int, int]] = []
    instants = range(utc("2026-06-01T00:00"), utc("2026-06-01T00:00") + 45_000 * 60_000, 60_000)
    data = WRITERS["plain"][0]([(at, 3850) for at in instants])
    read_logger(data, NEW_YORK, told=Told(), tell=lambda *pair: told.append(pair))
    assert [done for done, _ in told] == [20_000, 40_000, 45_001]
    assert {total for _, total in told} == {45_001}
