"""Files of loggers, items and stock that somebody broke, or made to harm."""

import csv
import io
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.errors import BadFile
from holdlog.kitchen import import_inventory, import_items
from holdlog.kitchen.logger_file import LoggerFile, Told, read_logger
from holdlog.kitchen.logger_text import MAX_BYTES, MAX_LINE, MAX_LINES
from holdlog.kitchen.rows_in import MAX_ROWS, RowIn, read_rows
from tests.fuzz.hostile import UNSEEN, attempt, clear, damaged, evil, searched, texts

NEW_YORK = ZoneInfo("America/New_York")
TOLD = (
    Told(),
    Told(scale="F", day_first=True),
    Told(scale="C", day_first=False, utc=True, one_scale=True),
    Told(column="2", time_column="1"),
    Told(column="9" * 5000),
    Told(column="\x1b[2J", time_column="\u0663", decimal=","),
)

# ---- loggers ---------------------------------------------------------------------------------

_CLOCKS = ("%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M", "%m/%d/%y %I:%M %p", "%Y-%m-%dT%H:%M:%SZ",
           "%Y-%m-%dT%H:%M:%S+14:00", "%d-%b-%Y %H:%M", "%B %d, %Y %H:%M", "%s")  # fmt: skip
_HEADS = ("Time{}Temp °F", "#{}Time{}Temp (C)", "time{}reading", "Zeit{}Temp °C{}%RH", "", "=1{}2")
_STARTS = (datetime(2026, 6, 1), datetime(2026, 11, 1), datetime(2026, 3, 8), datetime(2000, 1, 1),
           datetime(2099, 12, 31, 23, 50))  # fmt: skip


@st.composite
def logs(draw: st.DrawFn) -> bytes:
    """A logger's file: nearly right, in any of the forms that there are."""
    mark = draw(st.sampled_from(",;\t|"))
    how, start = draw(st.sampled_from(_CLOCKS)), draw(st.sampled_from(_STARTS))
    step = draw(st.sampled_from([0, 1, 15, 60, 90, -5]))
    cell = st.one_of(
        st.integers(-30, 60).map(lambda n: f"{n / 2:.1f}"),
        st.sampled_from(
            ["3,5", "--", "327.67", "85.0", "41 °F", "\u0663.\u0665", "1e5", "=1", "9" * 400]
        ),
    )
    lines = [draw(st.sampled_from(_HEADS)).replace("{}", mark)]
    for n, value in enumerate(draw(st.lists(cell, max_size=12))):
        lines.append(f"{start + timedelta(minutes=n * step):{how}}{mark}{value}")
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    return end.join(lines).encode(draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-8"])))


@given(st.data(), st.sampled_from(TOLD))
@searched(250)
def test_a_loggers_file_is_accounted_for_line_by_line_or_refused_with_a_clear_line(
    data: st.DataObject, told: Told
) -> None:
    content = data.draw(logs())
    content = data.draw(st.one_of(st.just(content), damaged(content), st.binary(max_size=300)))
    found = attempt(lambda: read_logger(content, NEW_YORK, told=told))
    if found is not None:
        _sound(found)


def _sound(found: LoggerFile) -> None:
    counted = found.aside + len(found.samples) + len(found.refused) + found.duplicates
    assert found.lines == counted
    instants = [at for at, _ in found.samples]
    assert instants == sorted(set(instants))
    assert all(-8_000 <= value <= 60_000 for _, value in found.samples)
    assert not any(UNSEEN.search(each.text + each.reason) for each in found.refused)


ROW = b"2026-06-01 12:00:00,38.5\n"


@pytest.mark.parametrize(
    "data",
    [
        b"", b"\n", b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b"\xff\xfe\0", b"\x00\xd8" * 9,
        b"PK\x03\x04",
        b'"' * 100_000, b",\n" * 100_000, b"1" * 1_000_000, b"," * 1_000_000,
        b"Time,Temp \xb0F\n" + b"," * MAX_LINE + b"\n" + b"x" * 300_000,
        b"Time,T F\n" + b"2026-06-01 12:00:00,38.5" + b"," * 1_000_000,
        b"\r" * 500_000, b"-" * 3_000, (b"-." * 900 + b"\n") * 500, b"no data" + b" " * 1_990,
    ],
    ids=lambda data: f"{data[:12]!r}, {len(data)}",
)  # fmt: skip
def test_no_shape_of_a_file_is_too_much(data: bytes) -> None:
    with pytest.raises(BadFile) as caught:
        read_logger(data, NEW_YORK, told=Told(scale="F"))
    clear(caught.value)


@pytest.mark.parametrize(
    "data",
    [bytes(MAX_BYTES + 1), b"\n" * (MAX_LINES + 2)],
    ids=["octets", "lines"],
)
def test_a_file_larger_than_any_logger_writes_is_refused_with_what_to_do(data: bytes) -> None:
    with pytest.raises(BadFile, match="more than any logger writes") as caught:
        read_logger(data, NEW_YORK, told=Told())
    assert "parts" in caught.value.hint


# ---- rows that somebody filled in ------------------------------------------------------------

KNOWN = {
    "items": (import_items.COLUMNS, ("name", "category"), import_items.EXAMPLE),
    "inventory": (import_inventory.COLUMNS, ("item", "unit"), import_inventory.EXAMPLE),
}


@st.composite
def sheets(draw: st.DrawFn, what: str) -> bytes:
    """A filled-in file with heads and cells that are nearly right."""
    columns, _, example = KNOWN[what]
    heads = list(columns)
    rows: list[list[str]] = [list(row) for row in example]
    for _ in range(draw(st.integers(0, 3))):
        row = draw(st.sampled_from([heads, *rows]))
        place = draw(st.integers(0, len(row) - 1))
        row[place] = draw(st.one_of(texts, evil, st.sampled_from(columns)))
    if draw(st.booleans()):
        heads.append(draw(st.sampled_from(["", " ", *columns])))
    out = io.StringIO()
    csv.writer(out, delimiter=draw(st.sampled_from(",;\t"))).writerows([heads, *rows])
    return out.getvalue().encode("utf-8", "replace")


@pytest.mark.parametrize("what", KNOWN)
@given(data=st.data())
@searched(120)
def test_rows_are_read_or_refused_with_a_clear_line(what: str, data: st.DataObject) -> None:
    columns, needed, _ = KNOWN[what]
    content = data.draw(sheets(what))
    content = data.draw(st.one_of(st.just(content), damaged(content), st.binary(max_size=99)))
    rows: list[RowIn] | None = attempt(lambda: read_rows(content, columns, needed))
    for row in rows or ():
        assert set(row.cells) <= set(columns)
        assert row.faults or not any(UNSEEN.search(text) for text in row.cells.values())
        if what == "items":
            import_items._item(row)
        for fault in row.faults:
            assert not UNSEEN.search(str(fault)), fault
            assert len(str(fault)) < 2_000


@pytest.mark.parametrize(
    "data",
    [
        b"name,category\n" + b"a,stock\n" * (MAX_ROWS + 1),
        b"name,category\n" + b"," * 4_000_000,
        b'name,category\n"' + b"a" * 4_000_000,
        b"," * 4_000_000,
        b"name," * 800_000,
        b"x," * 1_000_000 + b"\n",
        b"\n" * 4_000_000,
        b"name\0,category\na,b\n",
        "name,category\n".encode("utf-16"),
    ],
    ids=["rows", "cells", "quotation", "no heads", "one head", "heads", "blank", "nul", "utf-16"],
)
def test_rows_without_end_are_refused_with_one_line(data: bytes) -> None:
    with pytest.raises(BadFile) as caught:
        read_rows(data, *KNOWN["items"][:2])
    clear(caught.value)
