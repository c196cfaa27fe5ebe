"""The audit, the inspector's file and make-less, as a chef and a spreadsheet see them."""

import csv
from datetime import date
from decimal import Decimal
from io import BytesIO

import pytest
from pypdf import PdfReader

from holdlog.cli.audit_records import HEADS
from holdlog.cli.make_less import _drawn
from holdlog.core.demand import Size
from holdlog.kitchen.making_less import Advice, BatchPast, ItemPast
from tests.cli.conftest import Stock
from tests.cli.running import Till


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(text.removeprefix("\ufeff").splitlines()))


def test_the_audit_goes_into_a_folder_and_a_formula_is_made_harmless(stock: Stock) -> None:
    till = stock.till
    first, second = stock.stock
    till.ok("discard", first, "--reason", "other", "--note", "=1+1")
    till.ok("discard", second, "--reason", "dropped")
    told = till.ok("audit", "--csv", "out")
    there = {path.stem.replace("-", "_") for path in (till.folder / "out").iterdir()}
    assert there == set(HEADS)
    for name in HEADS:
        assert f"{name.replace('_', '-')}.csv" in told
        text = (till.folder / "out" / f"{name.replace('_', '-')}.csv").read_text("utf-8")
        assert tuple(text.removeprefix("\ufeff").splitlines()[0].split(",")) == HEADS[name]
    found = rows((till.folder / "out" / "discards.csv").read_text("utf-8"))
    assert {row["code"]: row["note"] for row in found} == {first: "'=1+1", second: ""}
    data = till.data("audit", "--csv", "one.csv")
    assert data["files"] == ["one.csv"]
    assert rows((till.folder / "one.csv").read_text("utf-8")) == found
    for name in ("coolings", "units", "holds", "moved_dates", "rules"):
        assert all(tuple(record) == HEADS[name] for record in data[name])
    assert {each["stands"] for each in data["coolings"]} == {"running", "not-logged"}


def test_an_audit_of_a_part_says_that_it_is_one(stock: Stock) -> None:
    assert "Only" not in stock.till.ok("audit")
    told = stock.till.ok("audit", "--item", "stock", "--cook", "mk", "--reason", "date")
    assert "Only reason date, item stock, cook mk." in " ".join(told.split())


def test_a_file_that_cannot_be_written_is_one_line(till: Till) -> None:
    (till.folder / "file").write_text("")
    for command in (
        ("audit", "--csv", "file/sub"), ("inspector-file", "--pdf", "file/sub.pdf"),
    ):  # fmt: skip
        assert "could not be written" in till.run(*command).fault()


def test_the_inspectors_file_tells_its_pages_and_its_head(stock: Stock) -> None:
    till = stock.till
    till.ok("discard", stock.stock[0], "--reason", "dropped")
    data = till.data("inspector-file", "--pdf", "file.pdf", "--paper", "a4")
    made = PdfReader(BytesIO((till.folder / "file.pdf").read_bytes()))
    assert len(made.pages) == data["pages"]
    assert data["discards"] == 1
    assert data["head"] in made.pages[0].extract_text()
    assert "5 pages, 1 discard" in till.ok("inspector-file")
    assert "letter or a4" in till.run("inspector-file", "--paper", "legal").refusal()
    assert "lies before" in till.run(
        "inspector-file", "--from", "2026-06-02", "--to", "2026-06-01"
    ).refusal()  # fmt: skip


def test_make_less_says_plainly_where_history_is_short(stock: Stock) -> None:
    till = stock.till
    assert "not enough" in till.ok("make-less")
    for code in stock.stock:
        till.ok("discard", code, "--reason", "over-made")
    told = till.ok("make-less", "--item", "chicken stock")
    assert "1 batch ended, 1 with something left; it takes 8 ended batches, 3 of them" in (
        " ".join(told.split())
    )
    (each,) = till.data("make-less", "--item", "chicken stock")["items"]
    assert each["enough_history"] is False
    assert each["make"] is None
    assert till.data("make-less", "--short", "4")["share"] == 0.8
    assert till.data("make-less")["share"] == 0.9


def test_make_less_draws_its_batches(stock: Stock) -> None:
    till = stock.till
    for code in stock.stock:
        till.ok("discard", code, "--reason", "over-made")
    for name, begins in (("plot.png", b"\x89PNG"), ("plot.svg", b"<?xml"), ("plot.pdf", b"%PDF")):
        till.ok("make-less", "--item", "chicken stock", "--plot", name)
        assert (till.folder / name).read_bytes().startswith(begins)
    assert "no picture" in till.run("make-less", "--item", "ham", "--plot", "x.txt").refusal()
    assert "which item" in till.run("make-less", "--plot", "x.png").refusal()
    assert "Give one" in till.run("make-less", "--short", "2", "--service", "0.5").refusal()
    assert "share" in till.run("make-less", "--service", "3").refusal()


def test_a_plot_without_a_size_does_not_say_that_one_is_enough() -> None:
    """Ten batches of 3 kg, four of which ran out: no size of those made is enough in 90 %."""
    used = [Decimal(each) for each in (2200, 2400, 2600, 2700, 2800, 2900, *[3000] * 4)]
    batches = tuple(
        BatchPast(f"B{n}", date(2026, 9, n), Decimal(3000), each, {"date": 3000 - each})
        for n, each in enumerate(used, 1)
    )
    for size, says in ((None, "too often to say what is enough"), (2900, "or were lost; enough")):
        at = Decimal(size) if size else None
        advice = Advice(Size(at, Decimal(2600), None), Decimal(3000), Decimal(240), None, None)
        past = ItemPast("hummus", "g", batches, {}, advice)
        said = _drawn(past, 0.9, "Tern & Tide", "svg").decode()
        assert f"{says} in 90 % of cases." in said
        assert ("make 2.9 kg" in said) == (at is not None)


@pytest.mark.parametrize(
    "odd", [("--service", "0"), ("--service", "nan"), ("--short", "0"), ("--short", "inf")]
)
def test_a_share_that_is_none_is_not_taken_for_the_usual_one(
    stock: Stock, odd: tuple[str, str]
) -> None:
    assert "Give a number" in stock.till.run("make-less", *odd).refusal()


@pytest.mark.parametrize("command", ["audit", "inspector-file", "make-less"])
def test_a_year_out_of_the_calendar_is_refused_in_one_line(stock: Stock, command: str) -> None:
    for day in ("9999-12-31", "0001-01-02"):
        assert "of that year" in stock.till.run(command, "--to", day).refusal()
