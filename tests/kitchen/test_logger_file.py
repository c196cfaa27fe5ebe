"""Files of data loggers: each way of writing them, and what can be read in two ways.

Expected instants are written out in UTC.
"""

import codecs
from typing import Any

import pytest

from tests.kitchen.loggers import MADRID, PLAIN, TWO, read, refusal, rows, utc

DIALECTS: dict[str, tuple[str | bytes, dict[str, Any]]] = {
    "commas": (PLAIN, {}),
    "carriage returns": (PLAIN.replace("\n", "\r\n"), {}),
    "carriage returns alone": (PLAIN.replace("\n", "\r"), {}),
    "semicolons, decimal comma": (
        rows("2026-06-13 14:30;38,5", "2026-06-13 14:35;39,25", "Time;Temp °F"),
        {},
    ),
    "decimal comma, but whole first": (
        rows("2026-06-13 14:30;38,50", "2026-06-13 14:35;39,25", "Time;Temp °F"),
        {"decimal": ","},
    ),
    "quoted decimal comma": (rows('2026-06-13 14:30,"38,5"', '2026-06-13 14:35,"39,25"'), {}),
    "tabs": (PLAIN.replace(",", "\t"), {}),
    "bars": (PLAIN.replace(",", "|"), {}),
    "blanks around": (rows(" 2026-06-13 14:30 , 38.5 ", " 2026-06-13 14:35 , 39.25 "), {}),
    "mark of UTF-8": (codecs.BOM_UTF8 + PLAIN.encode(), {}),
    "UTF-16 LE": (codecs.BOM_UTF16_LE + PLAIN.encode("utf-16-le"), {}),
    "UTF-16 BE": (codecs.BOM_UTF16_BE + PLAIN.encode("utf-16-be"), {}),
    "UTF-16 LE without its mark": (PLAIN.encode("utf-16-le"), {}),
    "Latin-1": (PLAIN.encode("latin-1"), {}),
    "one sign for the degree": (PLAIN.replace("°F", "℉"), {}),
    "preamble": (
        "Serial,0042\nStart,2026-06-13 14:30\nHigh alarm,41 °C\nInterval,5 min\n\n" + PLAIN,
        {},
    ),
    "preamble that says the unit": (
        "Serial: 0042\nTemperature unit: °F\n" + PLAIN.replace(" (°F)", ""),
        {},
    ),
    "a line of units": (
        rows("2026-06-13 14:30,38.5", "2026-06-13 14:35,39.25", "Time,Probe\n,°F"),
        {},
    ),
    "no heading": (PLAIN.partition("\n")[2], {"scale": "F"}),
    "the scale was told": (PLAIN.replace(" (°F)", ""), {"scale": "F"}),
    "scale in the cells": (
        rows("2026-06-13 14:30,38.5 °F", "2026-06-13 14:35,39.25°F", "Time,Reading"),
        {},
    ),
    "scale in the cells, a letter": (
        rows("2026-06-13 14:30,38.5F", "2026-06-13 14:35,39.25 F", "Time,Reading"),
        {},
    ),
    "date and time apart": (
        rows("2026-06-13,14:30:00,38.5", "2026-06-13,14:35:00,39.25", "Date,Time,Temperature F"),
        {},
    ),
    "a clock that ran stands first": (
        rows(
            "00:00:00,2026-06-13,14:30:00,38.5",
            "00:05:00,2026-06-13,14:35:00,39.25",
            "Elapsed,Date,Time,Temp F",
        ),
        {},
    ),
    "ISO 8601, Z": (rows("2026-06-13T18:30:00Z,38.5", "2026-06-13T18:35:00Z,39.25"), {}),
    "ISO 8601, offset": (
        rows("2026-06-13T14:30:00-04:00,38.5", "2026-06-13T20:35:00+02:00,39.25"),
        {},
    ),
    "zone in the heading": (
        rows("2026-06-13 13:30,38.5", "2026-06-13 13:35,39.25", '"Date Time, GMT-05:00",Temp (°F)'),
        {},
    ),
    "UTC in the heading": (
        rows("2026-06-13 18:30,38.5", "2026-06-13 18:35,39.25", "Time (UTC),Temp (°F)"),
        {},
    ),
    "local and UTC": (
        rows(
            "2026-06-13 10:30,2026-06-13 18:30,38.5",
            "2026-06-13 10:35,2026-06-13 18:35,39.25",
            "Local,UTC,Temp (°F)",
        ),
        {},
    ),
    "UTC was told": (rows("2026-06-13 18:30,38.5", "2026-06-13 18:35,39.25"), {"utc": True}),
    "day first": (rows("13/06/2026 14:30,38.5", "13/06/2026 14:35,39.25"), {}),
    "day first, dots": (
        rows("13.06.2026 14:30:00;38,5", "13.06.2026 14:35:00;39,25", "Zeit;Temp °F"),
        {},
    ),
    "month first": (rows("06/13/2026 14:30,38.5", "6/13/2026 14:35,39.25"), {}),
    "month by name": (rows("13-Jun-2026 14:30,38.5", "13 June 2026 14:35,39.25"), {}),
    "month by name first": (rows('"Jun 13, 2026 14:30",38.5', '"Jun 13, 2026 14:35",39.25'), {}),
    "two figures for the year, told": (
        rows("06/13/26 14:30,38.5", "06/13/26 14:35,39.25"),
        {"day_first": False},
    ),
    "12-hour clock": (rows("06/13/2026 2:30 PM,38.5", "06/13/2026 02:35:00 pm,39.25"), {}),
    "seconds since 1970": (rows("1781375400,38.5", "1781375700,39.25", "Epoch,Temp (°F)"), {}),
    "milliseconds since 1970": (
        rows("1781375400000,38.5", "1781375700000,39.25", "Epoch,Temp (°F)"),
        {},
    ),
    "index": (rows("1,2026-06-13 14:30,38.5", "2,2026-06-13 14:35,39.25", "#,Time,Temp (°F)"), {}),
    "index without a heading": (
        "1,2026-06-13 14:30,38.5\n2,2026-06-13 14:35,39.25\n",
        {"scale": "F"},
    ),
    "humidity beside it": (
        rows(
            "2026-06-13 14:30,38.5,61,26.0",
            "2026-06-13 14:35,39.25,62,27.1",
            "Time,Temp (°F),RH (%),Dew point (°F)",
        ),
        {},
    ),
    "a channel by its name": (
        rows(
            "2026-06-13 14:30,70.1,38.5", "2026-06-13 14:35,70.2,39.25", "Time,Room (°F),Probe (°F)"
        ),
        {"column": "probe"},
    ),
    "a channel by its number": (
        rows(
            "2026-06-13 14:30,70.1,38.5", "2026-06-13 14:35,70.2,39.25", "Time,Ch 1 (°F),Ch 2 (°F)"
        ),
        {"column": "3"},
    ),
    "an empty cell at the end": (rows("2026-06-13 14:30,38.5,", "2026-06-13 14:35,39.25,"), {}),
    "the newest on top": (rows("2026-06-13 14:35,39.25", "2026-06-13 14:30,38.5"), {}),
    "blank lines and a second heading": (
        PLAIN.replace("2026-06-13 14:35", "\n,\nTime,Temp (°F)\n2026-06-13 14:35"),
        {},
    ),
    "no end of the last line": (
        PLAIN.replace("39.25", "39.25,ok").replace("F)", "F),Note")[:-1],
        {},
    ),
}


@pytest.mark.parametrize("name", DIALECTS)
def test_each_way_of_writing_gives_the_same_readings(name: str) -> None:
    text, told = DIALECTS[name]
    found = read(text, **told)
    assert list(found.samples) == TWO
    assert found.scale == "F"
    assert (found.refused, found.duplicates) == ((), 0)


def test_celsius_is_kept_as_celsius() -> None:
    found = read("Zeit;Temperatur [°C]\n13.06.2026 20:30;-18,0\n13.06.2026 20:35;3,5\n", MADRID)
    assert found.scale == "C"
    assert list(found.samples) == [(TWO[0][0], -1800), (TWO[1][0], 350)]


def test_the_column_that_was_read_is_named() -> None:
    found = read("Serial,7\nTime,Room temp (°F),Note\n2026-06-13 14:30,38.5,door\n")
    assert found.column == "Room temp (°F)"
    assert found.header == ("Time", "Room temp (°F)", "Note")
    assert found.aside == 2


@pytest.mark.parametrize(
    ("text", "told", "says"),
    [
        (rows("03/04/2026 14:30,38", "03/04/2026 14:35,39"), {}, "--day-first or --month-first"),
        # One row is no proof: it may be the damaged one.
        (rows("03/04/2026 14:30,38", "03/14/2026 14:35,39"), {}, "line 2: '03/04/2026' may be two"),
        (rows("13/04/2026 14:30,38", "04/13/2026 14:35,39"), {}, "day and month change places"),
        (rows("06/13/2026 14:30,38", "06/13/2026 14:35,39"), {"day_first": True}, "not the first"),
        (rows("06/13/26 14:30,38", "06/13/26 14:35,39"), {}, "line 2: the year of '06/13/26'"),
        (PLAIN.replace(" (°F)", ""), {}, "--scale F or --scale C"),
        (PLAIN.replace("(°F)", "(°F/°C)"), {}, "--scale F or --scale C"),
        ("High alarm 41 °F\n" + PLAIN.replace(" (°F)", ""), {}, "--scale F or --scale C"),
        # Channel C is a channel, not a scale.
        (PLAIN.replace("Temp (°F)", "Channel C"), {}, "--scale F or --scale C"),
        (PLAIN, {"scale": "C"}, "the file says °F, not °C"),
        (PLAIN.replace("38.5", "38.5 °C"), {}, "the heading says °F, the cell °C"),
        (
            rows("2026-06-13 14:30,38,39", "2026-06-13 14:35,38,39", "Time,Ch 1 (°F),Ch 2 (°F)"),
            {},
            "columns 2 'Ch 1 (°F)', 3 'Ch 2 (°F)'. Say which is the unit's: --column",
        ),
        (PLAIN, {"column": "probe"}, "no one column 'probe'; there are 1 'Time', 2 'Temp (°F)'"),
        (PLAIN, {"column": "1"}, "holds the times"),
        (
            rows("2026-06-13 14:30,2026-06-13 14:31,38", "2026-06-13 14:35,2026-06-13 14:36,39",
                 "Logged,Sent,Temp (°F)"),
            {},
            "columns 1 'Logged', 2 'Sent'. Say which counts: --time-column",
        ),
        (rows("2026-06-13 14:30,38,5", "2026-06-13 14:35,39,2"), {}, "more cells than the heading"),
        (rows("14:30,38.5", "14:35,39.2"), {}, "with the date of each"),
        ("", {}, "the file is empty"),
        ("\n\n  \n", {}, "the file is empty"),
        (b"\xff\xfe", {}, "the file is empty"),
        (b"\0" * 4000, {}, "the file is empty"),
        (b"PK\x03\x04rest", {}, "a spreadsheet or an archive"),
        (b"%PDF-1.7", {}, "a PDF"),
        ("Time,Temp (°F)\n", {}, "line 1: 'Time,Temp (°F)'"),
        (rows("2026-06-13 14:30,---", "2026-06-13 14:35,---"), {}, "no line is a reading"),
        (rows("2026-06-13 14:30,999.9", "2026-06-13 14:35,999.9"), {}, "line 2: no reading"),
    ],
)  # fmt: skip
def test_what_can_be_read_in_two_ways_or_in_none_is_refused(
    text: str | bytes, told: dict[str, Any], says: str
) -> None:
    assert says in refusal(text, **told)


def test_the_person_settles_what_the_file_leaves_open() -> None:
    text = rows("03/04/2026 14:30,38", "03/04/2026 14:35,39")
    assert read(text, day_first=True).samples[0][0] == utc("2026-04-03T18:30")
    # 4 March is before the clocks of New York go forward: UTC−5.
    assert read(text, day_first=False).samples[0][0] == utc("2026-03-04T19:30")
    several = rows(
        "2026-06-13 14:30,2026-06-13 14:31,38", "2026-06-13 14:35,2026-06-13 14:36,39",
        "Logged,Sent,Temp (°F)",
    )  # fmt: skip
    assert read(several, time_column="sent").samples[0][0] == utc("2026-06-13T18:31")
