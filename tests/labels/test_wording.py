"""What a label says: the words for every purpose, and dates that cannot be misread."""

import re
import tomllib
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.labels.label import Label
from holdlog.labels.layout import TextMark, lay_out
from holdlog.labels.template import Template
from tests.labels.samples import CODE, RESOLUTIONS, a_label, every_face


def read(template: Template, label: Label, dpi: int = 203) -> str:
    """All text of the label, line by line, with plain spaces."""
    lines = [
        mark.text for mark in lay_out(template, dpi, label).marks if isinstance(mark, TextMark)
    ]
    return "\n".join(lines).replace("\N{NO-BREAK SPACE}", " ")


EXPECTED = {
    "prepared": ["white bean, cooked", "USE BY", "SUN 7 JUN", "2026", "Made Mon 1 Jun 15:00 · CK"],
    "opened": ["OPENED · USE BY", "SUN 7 JUN", "Opened Mon 1 Jun 15:00 · CK"],
    "received": ["RECEIVED · USE BY", "SUN 7 JUN", "Received Mon 1 Jun 15:00 · CK"],
    "thawed": ["THAWED · USE BY", "SUN 7 JUN", "Thawed Thu 4 Jun", "frozen Tue 2 Jun 2026"],
    "far": ["WED 27 SEP 2028"],
    "timed": ["USE BY", "19:00 MON 1 JUN", "2026", "Made Mon 1 Jun 15:00 · CK"],
    "unknown": ["NO LIMIT KNOWN", "ask the person in charge"],
    "no-date-needed": ["NO DATE NEEDED", "not TCS: no safety limit", "Made Mon 1 Jun 2026 15:00"],
    "best-by": ["NOT TCS · BEST BY", "SUN 21 JUN", "2026", "Made Mon 1 Jun 15:00 · CK"],
    "cooling": [
        "COOLING", "do not", "70 °F by 17:00, at:", "41 °F by 21:00, at:", "then use by SUN 7 JUN",
    ],
    "cooling-bare": ["COOLING", "1st reading:", "2nd reading:", "then: no limit known, ask"],
    "frozen": [
        "FROZEN", "3 days left", "once thawed", "thawed on", "use by", "Frozen Tue 2 Jun 2026",
    ],
    "stop": ["DO NOT USE", "FROZEN · no days left"],
    "hour": ["USE OR", "DISCARD BY", "19:00", "MON 1 JUN", "Made Mon 1 Jun 2026 15:00"],
    "hot": ["HOT HOLD", "keep at 135 °F or above", "hot box"],
    "hot-till": ["HOT HOLD", "keep at 135 °F", "or above", "use or discard by", "22:30 MON 1 JUN"],
    "pack": ["PACKED · USE BY", "TUE 30 JUN", "2026", "Packed Mon 1 Jun 2026 15:20"],
    "pack-hours": ["PACKED · USE BY", "15:20 WED 3 JUN", "Packed Mon 1 Jun 2026 15:20"],
    "hold": ["ON HOLD", "do not use yet", "reason: no reading since 06:00;"],
}  # fmt: skip


@pytest.mark.parametrize("name", EXPECTED)
def test_each_label_says_what_its_purpose_needs(two_by_two: Template, name: str) -> None:
    text = read(two_by_two, every_face()[name])
    everywhere = ["ALLERGENS", f"{CODE[:4]}-{CODE[4:]}", "3 of 4", "FDA Food Code 2022"]
    for words in EXPECTED[name] + everywhere:
        assert words in text


def test_a_discard_tag_says_what_why_when_who_and_how_much(two_by_two: Template) -> None:
    text = read(two_by_two, every_face()["discard"])
    for words in (
        "duck leg confit", "DISCARD", "DO NOT USE", "reason: 57 °F for five hours",
        "Set aside Wed 3 Jun 08:40 · CK", "made Mon 1 Jun 2026 15:00", "2 l", "H7K3-9QX7",
    ):  # fmt: skip
        assert words in text


@pytest.mark.parametrize(
    ("name", "state"),
    [
        ("twin", "USE BY\n2026\nSUN 7 JUN"),
        ("twin-timed", "19:00 MON 1 JUN"),
        ("twin-hour", "USE OR DISCARD BY\n19:00\nMON 1 JUN"),
        ("twin-cooling", "COOLING\ndo not serve"),
        ("twin-frozen", "FROZEN\n3 days left once thawed"),
    ],
)
def test_a_twin_says_what_its_lid_says_and_where_that_is(
    two_by_two: Template, name: str, state: str
) -> None:
    text = read(two_by_two, every_face()[name])
    assert state in text
    assert "Full label on the lid" in text
    assert "H7K3-9QX7" in text


def test_what_is_on_hold_shows_no_date_at_all_whatever_it_was_made_for(
    two_by_two: Template,
) -> None:
    for label in every_face().values():
        if label.purpose != "discard" and label.days_left != 0 and not label.twin:
            text = read(two_by_two, replace(label, held="thermometer in doubt"))
            assert "ON HOLD" in text
            assert not re.search(r"USE BY|BEST BY|7 JUN", text)


def test_an_hour_under_time_control_at_midnight_is_said_as_the_minute_before(
    two_by_two: Template,
) -> None:
    text = read(two_by_two, a_label("time-control", use_by=datetime(2026, 6, 2)))
    assert "23:59" in text
    assert "MON 1 JUN" in text
    assert "00:00" not in text


def test_a_label_that_must_not_be_used_shows_no_use_by(two_by_two: Template) -> None:
    for name in ("stop", "unknown", "no-date-needed", "frozen", "discard", "hold"):
        assert not re.search(r"USE BY|JUN\b", read(two_by_two, every_face()[name]))
    label = a_label("thawed", days_left=0)
    assert "DO NOT USE" in read(two_by_two, label)
    assert "7 JUN" not in read(two_by_two, label)


def test_one_day_left_is_not_days(two_by_two: Template) -> None:
    text = read(two_by_two, a_label("frozen", use_by=None, days_left=1))
    assert "1 day left" in text
    assert "1 days" not in text


def test_frozen_with_no_count_says_whom_to_ask(two_by_two: Template) -> None:
    text = read(two_by_two, a_label("frozen", use_by=None)).replace("\n", " ")
    assert "days left not known: ask" in text


def test_food_that_needs_no_limit_is_not_called_unknown(two_by_two: Template) -> None:
    for changes in ({}, {"purpose": "cooling"}, {"purpose": "frozen"}):
        plain = {"purpose": "prepared", "use_by": None, "limit_needed": False}
        text = read(two_by_two, a_label(**(plain | changes))).replace("\n", " ")
        assert "known" not in text
        assert "ask" not in text


@pytest.mark.parametrize("purpose", ["prepared", "opened", "received", "thawed"])
def test_a_quality_date_never_stands_where_safety_decides(
    two_by_two: Template, purpose: str
) -> None:
    best = date(2026, 6, 21)
    needed = read(two_by_two, a_label(purpose, use_by=None, best_by=best))
    assert "NO LIMIT KNOWN" in needed
    limited = read(two_by_two, a_label(purpose, limit_needed=False, best_by=best))
    assert "USE BY" in limited
    assert "SUN 7 JUN" in limited
    for text in (needed, limited):
        assert "21 JUN" not in text
        assert "BEST" not in text


BOOKS = Path(__file__).resolve().parents[2] / "shared" / "rulebooks"
ADOPTED = [
    data["title"]
    for data in (tomllib.loads(file.read_text(encoding="utf-8")) for file in BOOKS.glob("*.toml"))
    if data["role"] == "adopted"
]


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("book", ADOPTED)
def test_the_book_is_named_whole_and_who_decides(two_by_two: Template, book: str, dpi: int) -> None:
    """Half a name names no book; the sentence beside it gives way first, and is never lost."""
    label = a_label(stands_on=book)
    text = read(two_by_two, label, dpi).replace("\n", " ")
    assert book in text
    assert re.search(r"[Aa]uthority (has the last word|decides)\.", text)
    assert lay_out(two_by_two, dpi, label).warnings == ()


def test_a_copy_says_so_and_an_original_does_not(two_by_two: Template) -> None:
    assert "COPY 2 · 3 of 4" in read(two_by_two, a_label(reprint=2))
    assert "COPY" not in read(two_by_two, a_label())


def test_a_list_of_allergens_that_nobody_made_is_not_silence(two_by_two: Template) -> None:
    assert "ALLERGENS none listed" in read(two_by_two, a_label(allergens=()))


def test_limits_without_deadlines_leave_room_for_the_time(two_by_two: Template) -> None:
    text = read(two_by_two, a_label("cooling", cooling_limits=("5 °C",)))
    assert "5 °C at:" in text


@pytest.mark.parametrize(
    ("limit", "shown"),
    [
        (datetime(2026, 6, 8, 0, 0), "SUN 7 JUN"),
        (datetime(2026, 6, 8, 0, 0, 59), "SUN 7 JUN"),
        (datetime(2026, 6, 7, 23, 59, 59), "SUN 7 JUN"),
        (datetime(2026, 6, 8, 0, 1), "00:01 MON 8 JUN"),
        (datetime(2026, 6, 7, 9, 5, 59), "09:05 SUN 7 JUN"),
        (datetime(2026, 6, 7, 9, 5, tzinfo=timezone(timedelta(hours=-5))), "09:05 SUN 7 JUN"),
    ],
)
def test_an_hour_limit_is_never_shown_later_and_never_as_midnight(
    two_by_two: Template, limit: datetime, shown: str
) -> None:
    text = read(two_by_two, a_label(use_by=limit))
    assert shown in text
    assert "00:00" not in text


def test_food_made_at_midnight_shows_the_day_alone(two_by_two: Template) -> None:
    text = read(two_by_two, a_label(started=datetime(2026, 6, 1)))
    assert "Made Mon 1 Jun · CK" in text
    assert "00:00" not in text


@given(st.dates(date(2024, 1, 1), date(2040, 12, 31)), st.integers(0, 170))
def test_every_date_has_its_weekday_and_the_name_of_its_month(
    two_by_two: Template, made: date, days: int
) -> None:
    use_by = made + timedelta(days=days)
    started = datetime(made.year, made.month, made.day, 8, 30)
    text = read(two_by_two, a_label(started=started, use_by=use_by))
    # strftime in the C locale is the independent source of the names.
    assert f"{use_by:%a} {use_by.day} {use_by:%b}".upper() in text
    assert f"Made {made:%a} {made.day} {made:%b} 08:30" in text
    assert str(use_by.year) in text
    assert not re.search(r"\d[/.-]\d", text.replace(f"{CODE[:4]}-{CODE[4:]}", ""))


def test_words_in_capitals_do_not_come_from_upper() -> None:
    # Turkish has two kinds of i; capitals made by rule would be wrong words in some languages.
    import inspect

    from holdlog.labels import content, words

    assert ".upper()" not in inspect.getsource(content)
    assert ".upper()" not in inspect.getsource(words).replace("``.upper()``", "")
