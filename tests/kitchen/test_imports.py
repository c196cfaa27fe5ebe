"""Files read in: all rows or none, each fault by row and column, and never a date too late.

The dates expected of frozen food are worked out by hand from Food Code 2022 3-501.17(A) (seven
days with day one) and the strict counting of the days of freezing and thawing.
"""

from collections.abc import Sequence
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.costs import Cost
from holdlog.core.csv_text import lines
from holdlog.core.errors import BadFile, Mistake
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.import_in import Imported
from holdlog.kitchen.import_inventory import COLUMNS, EXAMPLE, StockIn, import_inventory
from holdlog.kitchen.import_items import import_items
from holdlog.kitchen.items import add_item, items
from holdlog.kitchen.recall import recall
from holdlog.kitchen.registers import Asked, find, span
from holdlog.kitchen.rows_in import MAX_BYTES, read_rows
from tests.kitchen.shop import Shop, at

ROWS = Imported[StockIn]


def stock(shop: Shop, text: str, *, yes: bool = True, name: str = "inventory.csv") -> ROWS:
    return import_inventory(shop.kitchen, "jr", name, text.encode(), yes=yes)


def faults(done: ROWS) -> list[tuple[int, str]]:
    return [(each.row, each.column) for each in done.faults]


def one(shop: Shop, heads: str, row: str) -> ContainerRow:
    """The first container of a file with one row."""
    done = stock(shop, f"item,unit,{heads}\n{row}\n")
    assert done.faults == (), done.faults
    return done.rows[0][1].rows[0]


@pytest.fixture
def open_day(shop: Shop) -> Shop:
    shop.it_is("06-04 09:00")
    return shop


def test_the_example_can_be_read_in_as_it_stands(open_day: Shop) -> None:
    text = "".join(lines(COLUMNS, EXAMPLE))
    looked = stock(open_day, text, yes=False)
    assert (looked.recorded, looked.faults) == (False, ())
    assert open_day.live() == []
    done = stock(open_day, text)
    assert done.recorded
    assert sorted((row.item_name, row.amount) for row in open_day.live()) == [
        ("chicken stock", "2 l"), ("chicken stock", "2 l"), ("chicken stock", "2 l"),
        ("cream, opened", "1 l"), ("garlic oil", "500 ml"),
    ]  # fmt: skip
    assert open_day.everything() == open_day.replayed()
    assert open_day.bad() == []


def test_a_look_writes_nothing(open_day: Shop) -> None:
    before = open_day.entries()
    stock(open_day, "item,unit,made on\nchicken stock,walk-in,2026-06-03\n", yes=False)
    assert open_day.entries() == before


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("bom", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_the_dialects_that_spreadsheets_write(
    open_day: Shop, mark: str, bom: str, end: str
) -> None:
    rows = [["Unit", "ITEM", "made_on"], ["walk-in", '"cream, opened"', "2026-06-03"]]
    text = bom + end.join(mark.join(row) for row in rows) + end
    assert stock(open_day, text).recorded
    assert open_day.live()[0].item_name == "cream, opened"


def test_a_fault_in_row_57_leaves_nothing(open_day: Shop) -> None:
    good = "chicken stock,walk-in,2026-06-03,2 l"
    rows = [good] * 70
    rows[55] = "chicken stock,walk-in,2026-06-03,two litres"
    before = open_day.entries(), open_day.everything()
    done = stock(open_day, "\n".join(["item,unit,made on,amount", *rows]))
    assert faults(done) == [(57, "amount")]
    assert not done.recorded
    assert (open_day.entries(), open_day.everything()) == before


def test_what_only_the_rules_refuse_is_a_fault_of_its_row_too(open_day: Shop) -> None:
    """Food that needs the cold on a shelf: found while recording. A recalled lot is recorded,
    since it is there, and on hold at once.
    """
    open_day.tub("cream, opened", kind="opened", lot="L442")
    recall(open_day.kitchen, "jr", "", "L442", "listeria")
    before = open_day.entries()
    done = stock(
        open_day,
        "item,unit,opened on,lot\n"
        '"cream, opened",walk-in,2026-06-03,L1\n'
        '"cream, opened",walk-in,2026-06-03,l-442\n'
        '"cream, opened",pass shelf,2026-06-03,L2\n',
    )
    assert [each.row for each in done.faults] == [4]
    assert [[row.verdict for row in made.rows] for _, made in done.rows] == [[""], ["hold"]]
    assert "pass shelf" in done.faults[0].says
    assert open_day.entries() == before


@pytest.mark.parametrize(
    ("heads", "row", "column"),
    [
        ("made on", "chicken stock,walk-in,", "made on"),
        ("made on", "chicken stock,walk-in,some day", "made on"),
        ("made on", "chicken stock,walk-in,2026-06-05", "made on"),
        ("made on", "chicken stock,walk-in,03/06/2026", "made on"),
        ("made on", "moon cheese,walk-in,2026-06-03", "item"),
        ("made on", "chicken stock,cellar,2026-06-03", "unit"),
        ("made on,opened on", "chicken stock,walk-in,2026-06-03,2026-06-03", "opened on"),
        ("made on,containers", "chicken stock,walk-in,2026-06-03,0", "containers"),
        ("made on,containers", "chicken stock,walk-in,2026-06-03,501", "containers"),
        ("made on,containers", "chicken stock,walk-in,2026-06-03,1.5", "containers"),
        ("made on", "chicken stock,chest freezer,2026-06-01", "frozen on"),
        ("made on,frozen on", "chicken stock,walk-in,2026-06-01,2026-06-02", "unit"),
        ("made on,frozen on", "chicken stock,chest freezer,2026-06-02,2026-06-01", "frozen on"),
        ("made on,thawed on", "chicken stock,walk-in,2026-06-01,2026-06-02", "thawed on"),
        (
            "made on,frozen on,thawed on",
            "chicken stock,walk-in,2026-06-01,2026-06-02,2026-06-02", "thawed on",
        ),
        ("made on,evidence", "chicken stock,walk-in,2026-06-01,my word", "evidence"),
        ("made on,lot", "chicken stock,walk-in,2026-06-01,L1", "lot"),
        ("made on,house days", "chicken stock,walk-in,2026-06-01,many", "house days"),
        ("opened on,maker's date", "chicken stock,walk-in,2026-06-01,soon", "maker's date"),
        ("opened on,date for", "chicken stock,walk-in,2026-06-01,fun", "date for"),
        ("opened on,lot,other lot", "chicken stock,walk-in,2026-06-01,L1,maybe", "other lot"),
        ("opened on,other lot", "chicken stock,walk-in,2026-06-01,yes", "other lot"),
        ("opened on,lot", f"chicken stock,walk-in,2026-06-01,{'9' * 121}", "lot"),
        ("made on", "chicken stock,walk-in,2026-06-01,extra", ""),
        ("made on", "chicken stock,walk-in,2026-06-01\x07", "made on"),
    ],
)  # fmt: skip
def test_every_fault_names_its_row_and_column(
    open_day: Shop, heads: str, row: str, column: str
) -> None:
    before = len(open_day.entries())
    done = stock(open_day, f"item,unit,{heads}\n\n{row}\n")
    assert (3, column) in faults(done)
    assert len(open_day.entries()) == before


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"), (b"item,unit\n", "no row"), (b"item\nx\n", "'unit' is missing"),
        (b"item,unit,colour\nx,y,z\n", "'colour'"), (b"item,unit,item\nx,y,z\n", "twice"),
        (b"item,unit\n\xe9t\xe9,x\n", "row 2 is not UTF-8"), (b"PK\x03\x04", "spreadsheet"),
        (b'item,unit\n"x,y\n', "quotation"), ("item,unit\nx,y\n".encode("utf-16"), "UTF-8"),
        (b"x" * (MAX_BYTES + 1), "bytes"),
    ],
    ids=range(10),
)  # fmt: skip
def test_what_is_no_such_file_is_said(open_day: Shop, data: bytes, says: str) -> None:
    with pytest.raises(BadFile, match=says):
        import_inventory(open_day.kitchen, "jr", "x.csv", data, yes=True)


@given(
    st.binary(max_size=200)
    | st.text(max_size=200).map(lambda text: text.encode("utf-8", "replace"))
)
def test_any_bytes_give_rows_or_a_plain_refusal(data: bytes) -> None:
    try:
        rows = read_rows(b"item,unit\n" + data, COLUMNS, ("item", "unit"))
    except BadFile:
        return
    assert rows


def test_the_same_file_is_not_read_in_twice(open_day: Shop) -> None:
    text = "item,unit,made on\nchicken stock,walk-in,2026-06-03\n"
    stock(open_day, text, yes=False)  # a look does not count
    stock(open_day, text)
    before = len(open_day.entries())
    for yes in (False, True):
        with pytest.raises(Mistake, match="was read in on Thu 4 June"):
            stock(open_day, text, yes=yes, name="copy.csv")
    assert len(open_day.entries()) == before
    again = stock(open_day, text + "chicken stock,walk-in,2026-06-02\n")
    assert again.recorded
    assert [each.split(",")[:2] for each in again.earlier] == [["inventory.csv", " 1 row"]]


def test_a_line_that_tells_a_spreadsheet_how_cells_are_parted_is_no_row(open_day: Shop) -> None:
    """And a moment may have seconds, as spreadsheets write it; all faults of a row are told."""
    rows = "sep=;\r\nitem;unit;made on;amount\r\n"
    rows += "chicken stock;walk-in;2026-06-03 14:30:00;1,5 l\r\n"
    assert stock(open_day, rows).recorded
    assert open_day.live()[0].amount == "1.5 l"
    done = stock(open_day, rows + "chicken stock;cellar;03/06/2026;two\r\n")
    assert faults(done) == [(3, "amount"), (3, "made on"), (3, "unit")]


def test_items_of_a_spreadsheet_are_understood(shop: Shop) -> None:
    text = 'name,category,allergens,ready to eat\nchowder,cooked-dish,"milk, fish",TRUE\n'
    done = import_items(shop.kitchen, "jr", "items.csv", text.encode(), yes=True)
    fact = done.rows[0][1].fact
    assert (set(fact.allergens), fact.ready_to_eat) == ({"milk", "fish"}, True)


def test_a_day_without_an_hour_counts_from_its_first_instant(open_day: Shop) -> None:
    row = one(open_day, "made on", "chicken stock,walk-in,2026-06-01")
    assert row.made_at == at("06-01 00:00")
    assert row.last_day == "2026-06-07"


def test_days_in_the_freezer_count_only_with_evidence(open_day: Shop) -> None:
    """Made on 1 June, frozen on the 2nd, looked at on the 4th. Both days of a spell count: with
    evidence two of the seven are used and five are left; without it the freezing counts from
    the 4th, so that four are used and three are left.
    """
    heads = "made on,frozen on,evidence"
    row = "chicken stock,chest freezer,2026-06-01,2026-06-02"
    unproven = one(open_day, heads, f"{row},")
    proven = one(open_day, heads, f"{row},freezer sheet 12")
    assert (unproven.days_left, proven.days_left) == (3, 5)
    assert proven.unit == "chest freezer"


def test_thawed_food_goes_on_counting(open_day: Shop) -> None:
    """Made 20 May, frozen 21 May, thawed 3 June: 20 and 21 May, 3 June are days 1 to 3; the 4th
    is day 4, so day 7 is 7 June. Without evidence nothing proves the spell: long past.
    """
    heads = "made on,frozen on,thawed on,evidence"
    row = "chicken stock,walk-in,2026-05-20,2026-05-21,2026-06-03"
    assert one(open_day, heads, f"{row},freezer sheet 12").last_day == "2026-06-07"
    assert one(open_day, heads, f"{row},").last_day == "2026-05-26"


def test_what_is_past_its_date_is_taken_in_to_be_binned(open_day: Shop) -> None:
    row = one(open_day, "made on", "chicken stock,walk-in,2026-05-20")
    assert open_day.holding(row.code).verdict == "discard"


def test_items_go_out_and_come_back_the_same(shop: Shop) -> None:
    add_item(shop.kitchen, "jr", ev.ItemAdded(
        "=2+3, 'quoted'; \"sauce\"", "sauce", ("milk", "tree nuts"), ("hot", "-sharp"), 2, 4,
        True, "@home, é", Cost(Decimal("4.20"), "kg", "EUR"),
    ))  # fmt: skip
    text = items_file(shop)
    with shop.db.reading() as conn:
        before = items(shop.kitchen, conn)
    done = import_items(shop.kitchen, "jr", "items.csv", text.encode(), yes=True)
    assert {made.what for _, made in done.rows} == {"unchanged"}
    assert len(done.rows) == len(before)
    with shop.db.reading() as conn:
        assert items(shop.kitchen, conn) == before


def items_file(shop: Shop) -> str:
    register = find("items")
    with shop.db.reading() as conn:
        asked = Asked(shop.kitchen, conn, shop.hand.now, *span(shop.kitchen, None, None))
        return "".join(lines(register.heads, register.rows(asked)))


plain = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), min_size=1,
                max_size=30).map(str.strip)  # fmt: skip


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(names=st.lists(plain.filter(lambda text: any(each.isalnum() for each in text)),
                      min_size=1, max_size=4))  # fmt: skip
def test_any_name_comes_back_from_a_file_as_it_was(shop: Shop, names: Sequence[str]) -> None:
    for name in names:
        add_item(shop.kitchen, "jr", ev.ItemAdded(name, "stock"))
    with shop.db.reading() as conn:
        before = items(shop.kitchen, conn)
    text = items_file(shop) + f"nonce {len(shop.entries())},stock,,,,,,,\r\n"
    done = import_items(shop.kitchen, "jr", "items.csv", text.encode(), yes=True)
    assert done.faults == ()
    with shop.db.reading() as conn:
        after = items(shop.kitchen, conn)
    assert [item for item in after if not item.name.startswith("nonce")] == [
        item for item in before if not item.name.startswith("nonce")
    ]


def test_an_item_that_stands_twice_or_is_of_no_category_is_a_fault(shop: Shop) -> None:
    text = "name,category,allergens,thaw days\nA,stock,,\na,stock,,\nB,soup?,granite,99\n"
    done = import_items(shop.kitchen, "jr", "items.csv", text.encode(), yes=True)
    assert [(each.row, each.column) for each in done.faults] == [
        (3, "name"), (4, "allergens"), (4, "category"), (4, "thaw days"),
    ]  # fmt: skip
    with shop.db.reading() as conn:
        assert not any(item.name == "A" for item in items(shop.kitchen, conn))


def test_a_lot_that_looks_like_a_recalled_one_is_read_in_only_where_the_row_says_it_was_compared(
    open_day: Shop,
) -> None:
    """Nothing of the file is recorded else; the very lot that is recalled comes in on hold."""
    recall(open_day.kitchen, "jr", "", "L442", "listeria", absent=True)
    heads = "item,unit,opened on,lot,other_lot"
    rows = [f'"cream, opened",walk-in,2026-06-03,{lot}' for lot in ("X9,", "L424,", "l-442,no")]
    before = open_day.entries()
    done = stock(open_day, "\n".join([heads, *rows, *rows[1:2]]))
    assert [each.where for each in done.faults] == ["row 3, lot", "row 5, lot"]
    assert "looks like lot L442, which is recalled (listeria)" in done.faults[0].says
    assert "other lot" in done.faults[0].hint
    assert open_day.entries() == before
    rows[1] = rows[1] + "TRUE"
    done = stock(open_day, "\n".join([heads, *rows]))
    assert done.recorded
    assert [[each.what for each in made.near] for _, made in done.rows] == [[], ["lot L442"], []]
    assert [made.rows[0].verdict for _, made in done.rows] == ["", "", "hold"]


def test_a_day_without_an_hour_is_taken_where_it_is_strictest(open_day: Shop) -> None:
    """Made at the first instant of its day, frozen at the last; and what names no paper is
    confirmed by none (docs/export.md).
    """
    one(open_day, "made on,frozen on", "fish stock,chest freezer,2026-06-01,2026-06-02")
    (made,), (frozen,) = open_day.facts("prepared"), open_day.facts("frozen")
    assert (made.at, frozen.at) == (at("06-01 00:00"), at("06-02 23:59:59"))
    assert open_day.facts("confirmed") == []
