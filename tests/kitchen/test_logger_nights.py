"""Loggers on local time, through the nights on which clocks change.

Expected instants are written by ``datetime`` and ``zoneinfo``, the other way round than the
reader's. The nights are those of the IANA zone database: America/New_York 2026-03-08 and
2026-11-01 at 02:00, Europe/Madrid 2026-03-29 at 02:00 and 2026-10-25 at 03:00.
"""

from collections.abc import Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from tests.kitchen.loggers import MADRID, NEW_YORK, read, reasons, utc


def written(instants: Sequence[int], where: ZoneInfo, heading: str = "Time,Temp (°F)") -> str:
    """What a logger on local time writes: 38.00, 38.01 …, one reading an instant."""
    lines = [heading]
    for number, at in enumerate(instants):
        wall = datetime.fromtimestamp(at / 1000, UTC).astimezone(where)
        lines.append(f"{wall:%Y-%m-%d %H:%M:%S},{38 + number % 500 / 100:.2f}")
    return "\n".join([*lines, ""])


NIGHTS = [
    (NEW_YORK, "2026-03-08T03:00"),
    (NEW_YORK, "2026-11-01T03:00"),
    (MADRID, "2026-03-28T22:00"),
    (MADRID, "2026-10-24T22:00"),
]


@pytest.mark.parametrize("minutes", [1, 5, 7, 15, 30, 45, 50, 60, 120, 360])
@pytest.mark.parametrize(("where", "start"), NIGHTS)
def test_a_night_of_changeover_is_read_as_it_passed(
    where: ZoneInfo, start: str, minutes: int
) -> None:
    first = utc(start)
    instants = list(range(first, first + 14 * 3_600_000, minutes * 60_000))
    found = read(written(instants, where), where)
    assert [at for at, _ in found.samples] == instants
    assert (found.refused, found.notes) == ((), ())


@pytest.mark.parametrize(("where", "start"), NIGHTS)
def test_and_from_the_bottom_if_the_newest_is_on_top(where: ZoneInfo, start: str) -> None:
    instants = list(range(utc(start), utc(start) + 14 * 3_600_000, 300_000))
    heading, *lines = written(instants, where).splitlines()
    found = read("\n".join([heading, *reversed(lines), ""]), where)
    assert [at for at, _ in found.samples] == instants
    assert found.notes == ("The newest row is on top; the file was read from the bottom.",)


def test_the_repeated_hour_written_out() -> None:
    """New York, 1 November 2026: 01:30 is 05:30 UTC, and an hour later 06:30 UTC."""
    text = "".join(f"2026-11-01 {clock},38\n" for clock in ("00:30", "01:30", "01:30", "02:30"))
    found = read("Time,Temp (°F)\n" + text)
    hours = ("04:30", "05:30", "06:30", "07:30")
    assert [at for at, _ in found.samples] == [utc(f"2026-11-01T{hour}") for hour in hours]


def test_a_row_repeated_in_the_repeated_hour_is_not_taken_for_its_second_pass() -> None:
    clocks = ("00:55", "01:00", "01:00", "01:05", "01:05")
    found = read("Time,Temp (°F)\n" + "".join(f"2026-11-01 {clock},38\n" for clock in clocks))
    assert [at for at, _ in found.samples] == [
        utc(f"2026-11-01T{hour}") for hour in ("04:55", "05:00", "05:05")
    ]
    assert found.duplicates == 2


def test_another_step_back_in_that_hour_makes_the_rest_of_it_unclear() -> None:
    clocks = ("01:30", "01:35", "01:40", "01:30", "01:35", "01:50", "02:00")
    found = read("Time,Temp (°F)\n" + "".join(f"2026-11-01 {clock},38\n" for clock in clocks))
    assert [at for at, _ in found.samples] == [
        utc(f"2026-11-01T{hour}") for hour in ("05:30", "05:35", "05:40", "07:00")
    ]
    assert "not by an hour (line 4)" in reasons(found)[5]
    assert all("cannot be told" in reasons(found)[line] for line in (6, 7))


def test_a_time_that_never_was_is_refused() -> None:
    clocks = ("01:30", "02:00", "02:30", "03:00")
    found = read("Time,Temp (°F)\n" + "".join(f"2026-03-08 {clock},38\n" for clock in clocks))
    assert [at for at, _ in found.samples] == [utc("2026-03-08T06:30"), utc("2026-03-08T07:00")]
    assert all("never was" in reasons(found)[line] for line in (3, 4))
    madrid = read("Time,Temp (°F)\n2026-03-29 01:59,38\n2026-03-29 02:59,38\n", MADRID)
    assert "never was" in reasons(madrid)[3]


def test_a_logger_whose_clock_was_not_put_back_is_told() -> None:
    lines = [f"2026-11-01 {n // 12:02}:{n % 12 * 5:02},38\n" for n in range(40)]
    (note,) = read("Time,Temp (°F)\n" + "".join(lines)).notes
    assert note.startswith(
        "On Sun 1 November 2026 clocks were put back, but the rows show that hour once"
    )


def test_utc_has_no_such_nights() -> None:
    lines = [
        f"2026-{day} {n // 12:02}:{n % 12 * 5:02},38\n"
        for day in ("03-08", "11-01")
        for n in range(288)
    ]
    found = read("Time,Temp (°F)\n" + "".join(lines), utc=True)
    assert len(found.samples) == 576
    assert found.samples[24][0] == utc("2026-03-08T02:00")
