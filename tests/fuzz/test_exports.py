"""Whatever a kitchen calls its food: no file that holdlog writes runs it, no screen obeys it.

Which beginnings a spreadsheet takes for a formula, and that separators make new ones: OWASP, "CSV
Injection". What a terminal obeys: ECMA-48 (C0, C1). What changes the order of letters: UAX #9.
"""

import csv
import io
import json
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from holdlog.cli import audit_records, door, importing, loggers, registers, show
from holdlog.core.csv_text import MARK, lines, neutral, restored
from holdlog.core.errors import Mistake
from holdlog.core.visible import escaped, one_line, quoted, visible
from holdlog.kitchen import import_inventory, import_items
from holdlog.kitchen.logger_file import Refused
from holdlog.reports.calendar_file import CalendarEvent, calendar, gone_since
from holdlog.reports.tables import Table
from tests.fuzz.hostile import EVIL, UNSEEN, damaged, evil, searched, texts

STARTS = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
_formulas = st.builds(
    "{}{}{}".format, st.sampled_from(["", "'", "x;", "\t", "a\n", ";;", "'\";", "x; "]),
    st.sampled_from([*STARTS, "'=", "''@"]), st.sampled_from(["1+1", "cmd|' /C calc'!A0", ";=2"]),
)  # fmt: skip
names = st.one_of(texts, _formulas).filter(lambda text: "\0" not in text).map(
    lambda text: text.encode("utf-8", "replace").decode())  # fmt: skip


def cells(text: str, mark: str) -> list[str]:
    """The cells that a spreadsheet makes of a file where ``mark`` stands between cells."""
    reader = csv.reader(io.StringIO(text.removeprefix(MARK), newline=""), delimiter=mark)
    return [cell for row in reader for cell in row]


def harmless(text: str) -> None:
    """No cell is a formula: to spreadsheets that part cells at commas (as the file does), or, as
    in much of Europe, at semicolons, or at tabs.
    """
    for mark in ",;\t":
        for cell in cells(text, mark):
            # What comes before it is the end of a row of the file, as this reader takes it.
            start = cell if mark == "," else cell.lstrip("\t\r\n")
            assert not start.startswith(STARTS) or is_number(start), (mark, cell)


def is_number(cell: str) -> bool:
    return cell.removeprefix("-").replace(".", "", 1).isdecimal()


@given(names)
@example("x;=1+1")
@example("\t=1")
@example("a\n@b")
@searched(300)
def test_no_text_in_a_cell_becomes_a_formula_wherever_cells_are_parted(name: str) -> None:
    harmless("".join(lines((name, "b"), [("a", name), (name, "b"), ("a", name)])))
    assert restored(neutral(name)) == name


# Everything that writes CSV, each with a name that somebody chose in every place that takes text.


def of_a_register(name: str, folder: Path) -> str:
    class Wanted:
        name = "x"
        heads = ("item", "why")
        keys = ("item", "why")

    out = folder / "register.csv"
    registers._write(Wanted(), iter([(name, name)]), str(out), replace=True)  # type: ignore[arg-type]
    return out.read_text(encoding="utf-8")


def of_the_audit(name: str, folder: Path) -> str:
    heads = audit_records.HEADS
    rows: dict[str, Any] = {
        kind: [{head: {name: name} if head.startswith("by") else name for head in heads[kind]}]
        for kind in heads
    }

    class Shop:
        db = type("Db", (), {"path": None})

    written = audit_records.write_csv(Shop(), str(folder), rows)  # type: ignore[arg-type]
    assert len(written) == len(heads)
    return "".join(Path(file).read_text(encoding="utf-8").lstrip(MARK) for file in written)


def of_refused_rows(name: str, folder: Path) -> str:
    class Found:
        refused = (Refused(1, name, name),)

    class Done:
        found = Found()

    out = folder / "refused.csv"
    loggers._write_refused(Done(), out)  # type: ignore[arg-type]
    return out.read_text(encoding="utf-8")


WRITERS = {
    "register": of_a_register, "audit": of_the_audit, "refused rows": of_refused_rows,
}  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("csv")


@pytest.mark.parametrize("writer", WRITERS)
@given(name=names)
@example(name="=cmd|' /C calc'!A0")
@searched(40)
def test_every_file_for_spreadsheets_is_harmless(writer: str, name: str, folder: Path) -> None:
    with redirect_stdout(io.StringIO()):
        harmless(WRITERS[writer](name, folder))


def test_the_examples_to_begin_with_are_harmless() -> None:
    out = io.StringIO()
    with redirect_stdout(out):
        importing._print_example(import_items.COLUMNS, import_items.EXAMPLE)
        importing._print_example(import_inventory.COLUMNS, import_inventory.EXAMPLE)
    harmless(out.getvalue())


def test_nothing_else_writes_csv() -> None:
    """A new writer of CSV belongs in ``WRITERS`` above."""
    found = {
        path.name
        for path in (Path(show.__file__).parents[1]).rglob("*.py")
        if "csv.writer" in (text := path.read_text(encoding="utf-8")) or "DictWriter" in text
        or ("csv_text import" in text and " lines" in text)
    }  # fmt: skip
    assert found == {
        "csv_text.py", "registers.py", "audit_records.py", "loggers.py", "importing.py"
    }  # fmt: skip


# ---- screens ---------------------------------------------------------------------------------

anything = st.one_of(names, evil, st.text(st.characters()), st.just("\ud800"))


def _lines(text: str) -> Iterator[str]:
    yield from text.split("\n")


@given(anything)
@searched(200)
def test_what_is_said_holds_nothing_that_a_terminal_obeys(name: str) -> None:
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        show.say([f"  {name}", Table(name, ("item", name), ((name, name),))])
        show.note(name)
        door._tell(Mistake("bad", name, name), as_json=False)
    for text in (*_lines(out.getvalue()), *_lines(err.getvalue())):
        assert not UNSEEN.search(text), repr(text)
    said = err.getvalue().splitlines()
    assert len(said) == 2
    assert all(line.startswith("holdlog: ") for line in said)


@given(anything)
@searched(100)
def test_json_is_the_same_data_without_what_a_terminal_obeys(name: str) -> None:
    out = io.StringIO()
    with redirect_stdout(out):
        show.emit({"name": name, name: 1})
    assert not UNSEEN.search(out.getvalue().replace("\n", ""))
    assert json.loads(out.getvalue()) == {"name": name, name: 1}


@given(anything)
@searched(100)
def test_text_is_made_visible_on_one_line_and_stays_so(name: str) -> None:
    for made in (visible(name), one_line(name), quoted(name)):
        assert not UNSEEN.search(made)
        assert visible(made) == made
    assert len(visible(name)) == len(name)
    assert not UNSEEN.search(visible(name, lines=True).replace("\n", ""))
    assert len(one_line(name, 10)) <= 10
    assert len(quoted(name * 100)) < 700
    assert escaped(visible(name)) == visible(name)


@pytest.mark.parametrize(
    "text", ["crème brûlée", "شاورما", "👨\u200d🍳", "שניצל\u200f", "\uff13 × 2 °C"]
)
def test_names_in_every_language_are_said_as_they_are(text: str) -> None:
    assert visible(text) == text


def test_every_evil_sign_of_these_tests_is_seen_or_harmless() -> None:
    assert sum(bool(UNSEEN.search(sign)) for sign in EVIL) >= 10


# ---- calendars -------------------------------------------------------------------------------

_DAY = date(2026, 6, 5)


@given(names, st.data())
@searched(40)
def test_a_calendar_that_was_spoilt_told_nothing_and_stops_nothing(
    name: str, data: st.DataObject
) -> None:
    from datetime import UTC, datetime

    event = CalendarEvent("x@holdlog", _DAY, name, name)
    made = calendar(name, [event], made_at=datetime(2026, 6, 1, tzinfo=UTC), sequence=3)
    assert [each.id for each in gone_since(made, [], [_DAY])] == ["x@holdlog"]
    for each in gone_since(data.draw(damaged(made)), [], [_DAY]):
        assert each.day == _DAY
        assert each.cancelled
