"""What nobody should type, and what somebody will: a label is a whole picture or one clear line."""

import tomllib
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from holdlog.core import codes
from holdlog.core.errors import BadFile, Mistake
from holdlog.labels import template
from holdlog.labels.faces import face
from holdlog.labels.label import Keep, Label, PackRule, Purpose
from holdlog.labels.layout import Layout, TextMark, lay_out
from holdlog.labels.raster import draw
from holdlog.labels.sheet import DPI, find, sheet_pdf
from holdlog.labels.template import Template
from holdlog.labels.words import loose, speak
from tests.labels.samples import TEMPLATE, a_label, scan

NAMES = [name for name in template.names() if not template.find(name).turned]

# Signs that have broken a program somewhere: ends of lines, nothing at all, marks of direction,
# joiners, accents of their own, digits of other scripts, pictures, signs of the highest planes.
NASTY = st.sampled_from(
    ["\n", "\x00", "\t", "\r\n", "\u2028", "\u200b", "\u200d", "\u200f", "\u202e", "\u2066",
     "\ufeff", "\u0301", "e\u0301\u0327\u0323", "\N{NO-BREAK SPACE}", "\u3000", "٣", "४",
     "🥚", "👩‍🍳",
     "\U0001f1eb\U0001f1f7", "\U000e0041", "\U0010fffd", "\ufffd", "\ufffe", "…", "·", "~", "{",
     "}", "\U0001d7df", "{count}", "%s", "\\",
     "ﷺ", "W" * 60, "i" * 200, " " * 50, "-" * 40, "é" * 80],
)  # fmt: skip
TEXT = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=40),
    st.lists(st.one_of(NASTY, st.text(max_size=12)), max_size=12).map("".join),
    st.integers(400, 500).map(lambda count: ("onion " * 100)[:count]),
    st.just(""),
)
MOMENT = st.datetimes(datetime(2026, 6, 1), datetime(2027, 6, 1))


@st.composite
def labels(draw_one: st.DrawFn) -> Label:
    """Any label, whatever its texts, with dates that can be."""
    started = draw_one(MOMENT)
    later = started + timedelta(hours=draw_one(st.integers(1, 9000)))
    count = draw_one(st.integers(1, 999))
    return Label(
        purpose=draw_one(st.sampled_from(get_args(Purpose))),
        item=draw_one(TEXT),
        code=draw_one(CODES),
        number=draw_one(st.integers(1, count)),
        count=count,
        started=started,
        use_by=draw_one(st.sampled_from([None, later, later.date()])),
        limit_needed=draw_one(st.booleans()),
        best_by=draw_one(st.sampled_from([None, later.date()])),
        days_left=draw_one(st.sampled_from([None, 0, 1, 3, 365])),
        frozen_on=draw_one(st.sampled_from([None, started.date()])),
        thawed_on=draw_one(st.sampled_from([None, later.date()])),
        amount=draw_one(TEXT),
        by=draw_one(TEXT),
        unit=draw_one(TEXT),
        keep_at=draw_one(st.one_of(st.just(Keep("41 °F", "below")), TEXT)),
        allergens=tuple(draw_one(st.lists(TEXT, max_size=15))),
        cautions=tuple(draw_one(st.lists(TEXT, max_size=4))),
        stands_on=draw_one(TEXT),
        reprint=draw_one(st.sampled_from([0, 1, 99])),
        packed=draw_one(st.sampled_from([None, started])),
        pack_rule=draw_one(st.sampled_from([None, PackRule("41 °F (5 °C)", 30)])),
        held=draw_one(TEXT),
        reason=draw_one(TEXT),
        discarded=draw_one(st.sampled_from([None, later])),
        twin=draw_one(st.booleans()),
    )


CODES = st.lists(st.sampled_from(codes.ALPHABET), min_size=6, max_size=6).flatmap(
    lambda rest: st.sampled_from([sign for sign in codes.ALPHABET if sign.isalpha()]).map(
        lambda first: (body := first + "".join(rest)) + codes.check_character(body)
    )
)
SAY = {
    "stop": "DO NOT USE", "discard": "DO NOT USE", "hold": "ON HOLD", "cooling": "COOLING",
    "frozen": "FROZEN", "hot": "HOT HOLD", "unknown": "NO",
}  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(labels(), st.sampled_from([("en",), ("en", "es"), ("fr", "es")]))
def test_any_label_is_whole_or_refused_in_one_line(
    name: str, label: Label, languages: tuple[str, ...]
) -> None:
    found = template.find(name)
    try:
        layout = lay_out(found, 203, label, speak(languages))
    except Mistake as mistake:
        assert mistake.code in ("right-to-left", "not-offered", "no-room")  # noqa: PT017
        # A text of safety that nobody can set in any size: only what the kitchen typed itself.
        assert mistake.code != "no-room" or _typed_too_long(label)  # noqa: PT017
        assert "\n" not in mistake.line()  # noqa: PT017
        return
    image = draw(layout)
    assert image.size == (layout.width, layout.height)
    for mark in layout.marks:
        assert mark.ink.x >= 0 <= mark.ink.y
        assert mark.ink.right <= layout.width
        assert mark.ink.bottom <= layout.height
    seen = scan(image)
    assert seen
    assert set(seen.values()) == {label.code}
    _check_headline(layout, found, label, languages)


def _typed_too_long(label: Label) -> bool:
    keep_at = label.keep_at if isinstance(label.keep_at, str) else ""
    said = (label.held, label.reason, keep_at, *label.pack_wording)
    return any(len(text) > 20 for text in said)


def _check_headline(
    layout: Layout, found: Template, label: Label, languages: tuple[str, ...]
) -> None:
    heads = {field.name for field in found.fields if "headline" in field.show}
    large = " ".join(
        mark.text for mark in layout.marks if isinstance(mark, TextMark) and mark.field in heads
    )
    assert large
    assert "…" not in large
    shown = face(label)
    if languages == ("en",) and shown in SAY:
        assert SAY[shown] in loose(large)
    if languages == ("en",) and shown in ("dated", "timed") and label.use_by is not None:
        day = label.use_by.date() if isinstance(label.use_by, datetime) else label.use_by
        if isinstance(label.use_by, datetime) and (label.use_by.hour, label.use_by.minute) == (
            0,
            0,
        ):
            day -= timedelta(days=1)
        assert f"{day:%a} {day.day} {day:%b}".upper() in loose(large)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "item", ["", " ", "\xa0", "\n\n", "\x00", "\u200b", "🥚", "x" * 500, "W " * 250]
)
def test_a_name_of_nothing_or_of_too_much_still_gives_a_label(name: str, item: str) -> None:
    layout = lay_out(template.find(name), 203, a_label(item=item))
    assert "SUN 7 JUN" in loose(" ".join(m.text for m in layout.marks if isinstance(m, TextMark)))
    assert scan(draw(layout))


# --- templates ---------------------------------------------------------------------------------

GOOD = tomllib.loads(TEMPLATE.read_text(encoding="utf-8"))
VALUE = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(-(10**12), 10**12), st.floats(), st.text(max_size=8),
        st.just(10**400), st.dates(date(2026, 1, 1)), st.sampled_from(["item", "qr", "dated"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=6,
)  # fmt: skip


def keys(table: dict[str, Any], at: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    found = []
    for key, value in table.items():
        found.append((*at, key))
        if isinstance(value, dict):
            found += keys(value, (*at, key))
    return found


@settings(max_examples=150)
@given(st.lists(st.tuples(st.sampled_from(keys(GOOD)), VALUE), min_size=1, max_size=3))
def test_a_template_with_any_value_anywhere_loads_or_names_its_faults(
    changes: list[tuple[tuple[str, ...], Any]],
) -> None:
    from copy import deepcopy

    from holdlog.labels.template_check import check
    from holdlog.labels.template_keys import read

    data = deepcopy(GOOD)
    for path, value in changes:
        table: Any = data
        for key in path[:-1]:
            table = table.get(key) if isinstance(table, dict) else None
        if isinstance(table, dict):
            table[path[-1]] = value
    made, faults = read("mine", data)
    assert (made is None) == bool(faults)
    assert all(faults)
    if made is not None and not check(made):
        assert lay_out(made, 203, a_label()).marks


@pytest.mark.parametrize(
    "text",
    [
        "", "\x00", "[" * 5000, "a = " + "[" * 5000, "a = " + "{b=" * 3000, "a" * 100_000,
        "title = 1979-05-27", "width = inf", "width = -nan", "field = 3", "[field]\nitem = 3",
        "[field.item]\nkind = []", "like = 3\ntitle = 3", "like = ''\ntitle = ''",
        "like = '\\u0000'\ntitle = 'x'", "refuses = []", "[refuses]\npack = 3",
        f"like = '{'x' * 5000}'\ntitle = 'x'", "width = " + "9" * 5000,
    ],
)  # fmt: skip
def test_a_file_that_is_no_template_is_told_so(tmp_path: Path, text: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        template.load(path)
    assert caught.value.faults
    assert all(fault.startswith(str(path)) for fault in caught.value.faults)


def test_more_fields_than_any_label_has_are_refused_before_they_are_compared(
    tmp_path: Path,
) -> None:
    field = '[field.f{}]\nkind="line"\non=["dated"]\nx=1\ny=1\nwidth=1\nheight=1\n'
    path = tmp_path / "mine.toml"
    text = TEMPLATE.read_text(encoding="utf-8") + "".join(field.format(i) for i in range(1000))
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile, match="fields, more than 200"):
        template.load(path)
    path.write_text(text * 100, encoding="utf-8")
    with pytest.raises(BadFile, match="larger than 200,000 bytes"):
        template.load(path)


# --- sheets ------------------------------------------------------------------------------------


def test_a_sheet_can_start_at_its_last_place_and_goes_on_overleaf() -> None:
    sheet = find("letter-4x5")
    layouts = [lay_out(template.find("two-by-two"), DPI, a_label()) for _ in range(2)]
    told: list[tuple[int, int]] = []
    sheet_pdf(sheet, layouts, start=sheet.places, tell=lambda *done: told.append(done))
    assert told == [(1, 2), (2, 2)]


@pytest.mark.parametrize("start", [0, -1, 10**9])
def test_a_place_that_no_sheet_has_is_refused(start: int) -> None:
    layout = lay_out(template.find("two-by-two"), DPI, a_label())
    with pytest.raises(Mistake, match="has the places 1 to 20"):
        sheet_pdf(find("letter-4x5"), [layout], start=start)


def test_no_label_and_a_giant_label_are_refused() -> None:
    with pytest.raises(Mistake, match="no label to put"):
        sheet_pdf(find("letter-4x5"), [])
    with pytest.raises(Mistake, match="is larger than a place"):
        sheet_pdf(find("letter-4x5"), [Layout(100_000, 100_000, DPI, (), ())])
