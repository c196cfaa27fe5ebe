"""Rows of a logger's file that are no reading: lost probes, repeats, steps back, another scale."""

import pytest

from tests.kitchen.loggers import PLAIN, read, reasons, rows, utc


@pytest.mark.parametrize(
    ("scale", "cell"),
    [("F", cell) for cell in ("-196.6", "185", "185.00", "327.67", "999", "999.9", "-999", "9999")]
    + [("C", cell) for cell in ("-127", "-127.00", "85", "85.0", "327.67", "999", "-32768")]
    + [("C", cell) for cell in ("", " ", "Err", "ERROR", "---", "--.-", "OL", "NaN", "N/A", "inf")]
    + [("C", cell) for cell in ("null", "LO", "Hi", "no data", "Probe error 3", "#N/A", "*")],
)
def test_what_a_logger_writes_without_a_probe_is_never_a_reading(scale: str, cell: str) -> None:
    text = f"Time,Temp (°{scale})\n2026-06-13 14:30,4.0\n2026-06-13 14:35,{cell}\n"
    found = read(text + "2026-06-13 14:40,4.1\n")
    assert [value for _, value in found.samples] == [400, 410]
    assert reasons(found)[3].startswith("no reading")


def test_the_numbers_of_a_lost_probe_are_those_of_its_scale() -> None:
    """85 °F is a warm room, and 85 °C what a sensor shows when it starts up."""
    found = read(rows("2026-06-13 14:30,85.0", "2026-06-13 14:35,-127"))
    assert [value for _, value in found.samples] == [8500]
    assert reasons(found)[3] == "no probe of a kitchen shows that"


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("2026-06-13 14:35,700", "no probe of a kitchen"),
        ("2026-06-13 14:35,-81", "no probe of a kitchen"),
        ("2026-06-13 14:35,1e3", "not a temperature"),
        ("2026-06-13 14:35,38.", "not a temperature"),
        ("2026-06-13 14:35,0x26", "not a temperature"),
        ("2026-06-13 14:35,٣٨", "not a temperature"),
        ("2026-06-13 14:35,3\0", "not a temperature"),
        ("2026-06-13 14:35,3.9 °C", "in °C, but the file is read in °F"),
        ('2026-06-13 14:35,"39,2"', "the decimal sign here is '.', not ','"),
        ("2026-06-13 14:35", "it ends too early"),
        ("2026-06-13 14:35,39,2", "more cells than there are columns"),
        ('2026-06-13 14:35,"39', "quotation marks"),
        ("2026-06-13 14:35,39" + "9" * 5000, "too long"),
        ("2026-06-31 14:35,39", "not a date"),
        ("1970-01-01 00:00,39", "not a date"),
        ("2026-06-13 24:00,39", "not a time of day"),
        ("2026-06-13 14:60,39", "not a time of day"),
        ("2026-06-13 1435,39", "not a date"),
        ("2026-06-13 02:35 PM,39", "not written as in the rows above"),
        ("2026-06-13T18:35Z,39", "not written as in the rows above"),
        ("13/06/2026 14:35,39", "not written as in the rows above"),
        ("Battery low", "it ends too early"),
    ],
)
def test_a_row_that_is_not_right_is_refused_with_its_line(row: str, says: str) -> None:
    found = read(rows("2026-06-13 14:30,38.5", row) + "2026-06-13 14:40,40.0\n")
    assert [value for _, value in found.samples] == [3850, 4000]
    assert says in reasons(found)[3]
    assert found.refused[0].text.isprintable()
    assert len(found.refused[0].text) <= 80


def test_half_past_twelve_at_night_and_at_noon() -> None:
    found = read(rows("06/13/2026 12:30 AM,38", "06/13/2026 12:30 PM,39"))
    assert [at for at, _ in found.samples] == [utc("2026-06-13T04:30"), utc("2026-06-13T16:30")]
    wrong = read(rows("06/13/2026 1:30 PM,38", "06/13/2026 13:35 PM,39"))
    assert reasons(wrong) == {3: "not a time of day"}


def test_repeated_rows_are_counted_and_another_value_is_refused() -> None:
    text = PLAIN + "2026-06-13 14:35,39.25\n2026-06-13 14:35,39.250\n2026-06-13 14:35,39.3\n"
    # A file put together from two copies that overlap.
    found = read(text + PLAIN.partition("\n")[2] + "2026-06-13 14:30,41\n2026-06-13 14:40,40\n")
    assert [value for _, value in found.samples] == [3850, 3925, 4000]
    assert found.duplicates == 4
    assert reasons(found) == dict.fromkeys((6, 9), "another reading at the same moment")


def test_a_step_back_is_refused_and_names_the_row_before() -> None:
    found = read(rows("2026-06-13 14:30,38", "2026-06-13 13:30,39") + "2026-06-13 14:35,40\n")
    assert [value for _, value in found.samples] == [3800, 4000]
    assert reasons(found) == {3: "earlier than line 2 (Sat 13 June 2026 14:30)"}


def test_an_hour_back_on_any_other_night_is_a_defect() -> None:
    first = rows("2026-06-13 01:50,38", "2026-06-13 01:55,38")
    found = read(first + "2026-06-13 01:00,39\n")
    assert reasons(found)[4].startswith("earlier than line 3")


@pytest.mark.parametrize(
    ("cell", "hundredths"),
    [("38.505", 3851), ("38.504", 3851), ("38.514", 3851),
     ("41.0004", 4101), ("134.9999", 13499), ("-0.004", -1),
     ("40.996", 4099), ("3.9375", 394), ("41.000", 4100), ("−18.125", -1813), ("+4.5", 450),
     ("0.0625", 6)],
)  # fmt: skip
def test_more_decimals_never_round_onto_a_limit(cell: str, hundredths: int) -> None:
    """A trace above 41 °F stays above it; limits are printed in degrees and tenths."""
    found = read(rows(f"2026-06-13 14:30,{cell}", "2026-06-13 14:35,4"))
    assert found.samples[0][1] == hundredths


# ---- a scale that was changed ----------------------------------------------------------------


def series(*values: float, heading: str = "Time,Temp (°F)", unit: str = "") -> str:
    lines = [f"2026-06-13 14:{n:02},{value:.1f}{unit}" for n, value in enumerate(values)]
    return "\n".join([heading, *lines, ""])


@pytest.mark.parametrize(
    ("values", "line"),
    [
        ((38, 38.2, 38.4, 3.6, 3.5, 3.5), 5),
        ((38, 3.4, 3.4, 3.3, 3.3, 3.2), 3),
        ((3.3, 3.4, 38.1, 38, 38.1, 38.3), 4),
        ((-2, -1.5, -18.7, -18.5, -18.8), 4),
        ((140, 140.4, 60.1, 60), 4),
        ((38, 38, 38, 3.3), 5),
    ],
)
def test_from_a_change_of_scale_on_nothing_is_read(values: tuple[float, ...], line: int) -> None:
    text = series(*values)
    last = text.splitlines()[-1]
    found = read(text + last + "\n")
    assert len(found.samples) == line - 2
    assert list(reasons(found)) == list(range(line, len(values) + 3))
    assert set(reasons(found).values()) == {
        f"from line {line} on the readings look like those of the other scale"
    }
    assert f"At line {line} (Sat 13 June" in found.notes[0]
    assert len(read(text, one_scale=True).samples) == len(values)


def test_in_a_file_from_the_bottom_later_readings_are_those_above() -> None:
    heading, *lines = series(38, 38.2, 38.4, 3.6, 3.5, 3.5).splitlines()
    top, bottom = lines[-1], lines[0]
    found = read("\n".join([heading, top, *reversed(lines), bottom, ""]))
    assert [value for _, value in found.samples] == [3800, 3820, 3840]
    assert sorted(reasons(found)) == [2, 3, 4, 5]
    assert found.duplicates == 1


def test_a_defrost_a_door_and_a_hot_load_are_no_change_of_scale() -> None:
    for values in (
        (-18, -17.5, 0, -4, -9, -14, -18),  # looks like °F for one row
        (38, 41, 47, 52, 45, 40),
        (38, 3.2, 37.5, 38, 38),
        (39, 80, 135, 140),
        (-40, -40, -39),
    ):
        assert read(series(*values)).refused == ()


def test_cells_that_name_their_scale_are_taken_at_their_word() -> None:
    cells = ("38.1 °F", "3.4 °F", "3.5 °C", "38.2")
    lines = [f"2026-06-13 14:0{n},{cell}\n" for n, cell in enumerate(cells)]
    text = "Time,Reading\n" + "".join(lines)
    found = read(text)
    assert [value for _, value in found.samples] == [3810, 340]
    assert reasons(found) == {
        4: "in °C, but the file is read in °F",
        5: "it does not name its scale as the other rows do",
    }
    assert [value for _, value in read(text, scale="C").samples] == [350]
