"""Tables fit their width, whatever is in them, and lose nothing."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.reports.tables import Table, plain
from holdlog.reports.wrapping import pad, prose, width, wrap

SMALL = Table(
    "walk-in",
    ("", "code", "item", "use by"),
    (
        ("DISCARD", "H7K3-9QX2", "chicken stock", "Sun 7 June"),
        ("serve", "M2RT-44KD", "crème pâtissière", "Mon 8 June"),
    ),
)


def test_columns_stand_under_each_other() -> None:
    assert plain(SMALL).splitlines() == [
        "walk-in",
        "           code       item              use by",
        "  DISCARD  H7K3-9QX2  chicken stock     Sun 7 June",
        "  serve    M2RT-44KD  crème pâtissière  Mon 8 June",
    ]


def test_a_table_without_heads_has_no_line_for_them() -> None:
    assert plain(Table("", ("", ""), (("good", "chain"),))) == "  good  chain"


def test_a_long_cell_wraps_inside_its_column() -> None:
    table = Table("", ("code", "item", "day"), (("H7K3-9QX2", "bisque of langoustine", "3 of 7"),))
    assert plain(table, 33).splitlines() == [
        "  code       item          day",
        "  H7K3-9QX2  bisque of     3 of 7",
        "             langoustine",
    ]


def test_on_a_narrow_screen_each_row_becomes_a_few_lines() -> None:
    assert plain(SMALL, 24).splitlines() == [
        "walk-in",
        "  DISCARD H7K3-9QX2",
        "    chicken stock",
        "    use by: Sun 7 June",
        "  serve M2RT-44KD",
        "    crème pâtissière",
        "    use by: Mon 8 June",
    ]


def test_a_line_break_in_a_cell_stays_in_its_column() -> None:
    table = Table("", ("code", "item"), (("H7K3-9QX2", "fish stock\nStill cooling."),))
    assert plain(table).splitlines()[1:] == [
        "  H7K3-9QX2  fish stock",
        "             Still cooling.",
    ]


# Column counts after Unicode Standard Annex 11 (East Asian Width): W and F take two columns.
@pytest.mark.parametrize(
    ("text", "columns"),
    [
        ("stock", 5),
        ("béchamel", 8),
        ("be\u0301chamel", 8),  # the accent as a mark of its own
        ("出汁", 4),
        ("ｄａｓｈｉ", 10),  # noqa: RUF001  (full-width letters are meant)
        ("70 °F", 5),
        ("a\u200bb", 2),
        ("", 0),
    ],
)
def test_width_counts_columns_not_characters(text: str, columns: int) -> None:
    assert width(text) == columns
    assert width(pad(text, 12)) == 12


def test_wide_characters_are_aligned_by_columns() -> None:
    table = Table("", ("item", "day"), (("出汁", "1"), ("dashi", "2")))
    assert plain(table).splitlines() == ["  item   day", "  出汁   1", "  dashi  2"]


def test_a_sentence_wraps_under_its_own_indent() -> None:
    assert prose("  Cool it to 70 °F within two hours of the start.", 24) == [
        "  Cool it to 70 °F",
        "    within two hours of",
        "    the start.",
    ]


def test_a_figure_stays_with_its_degrees() -> None:
    assert wrap("Cool to 135 °F now", 11) == ["Cool to", "135 °F now"]


def test_a_path_is_never_broken() -> None:
    path = "/srv/kitchen/labels/2031-06-02/H7K39QX2-prepared.pdf"
    assert prose(f"Labels: {path}", 30) == ["Labels:", path]


CELLS = st.text(
    st.characters(whitelist_categories=("L", "N", "P", "Zs", "Mn", "So"), max_codepoint=0x1F000),
    max_size=60,
)


@given(
    rows=st.lists(st.tuples(CELLS, CELLS, CELLS, CELLS), min_size=1, max_size=5),
    wide=st.integers(40, 130),
)
def test_no_table_is_wider_than_it_may_be_and_no_letter_is_lost(
    rows: list[tuple[str, str, str, str]], wide: int
) -> None:
    table = Table("Everything", ("code", "item", "amount", "use by"), tuple(rows))
    shown = plain(table, wide)
    assert [line for line in shown.split("\n") if width(line) > wide] == []
    kept = sorted(ch for ch in shown if ch.isalnum())
    for row in rows:
        for cell in row:
            for ch in filter(str.isalnum, cell):
                assert ch in kept


@given(text=CELLS, wide=st.integers(4, 60))
def test_wrapping_keeps_the_words(text: str, wide: int) -> None:
    assert " ".join(" ".join(wrap(text, wide)).split()) == " ".join(text.split())
    assert all(width(line) <= wide for line in wrap(text, wide, cut=True))
