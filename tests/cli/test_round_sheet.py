"""The round on paper: the file, and entering afterwards what was ticked."""

import re

from pypdf import PdfReader

from tests.cli.conftest import Stock
from tests.reports.test_page_fonts import built


def text_of(stock: Stock, file: str) -> str:
    reader = PdfReader(stock.till.folder / file)
    return "".join(re.sub(r"\s+", "", page.extract_text()) for page in reader.pages)


def test_the_sheet_lists_what_is_on_hand_in_the_order_of_the_walk(stock: Stock) -> None:
    till = stock.till
    said = till.ok("round", "sheet", "--to", "round.pdf")
    rows = till.data("on-hand")
    text = text_of(stock, "round.pdf")
    places = [text.index(each["code"]) for each in rows]
    assert places == sorted(places)
    assert f"{len(rows)} containers, " in said
    mark = re.search(r"sheet (\d+-[0-9A-F]{4})", said)
    assert mark is not None
    pages = len(PdfReader(till.folder / "round.pdf").pages)
    assert f"Sheet{mark[1]},page1of{pages}" in text
    # The head is that of the journal, as doctor says it.
    sheet = till.data("round", "sheet", "--to", "again.pdf")
    assert f"Journalhead#{sheet['entry']}{sheet['head']}" in text
    assert "FDAFoodCode2022" in text
    assert "NOLIMITKNOWN" in text
    assert "HOLD" in text


def test_what_was_ticked_is_shown_and_recorded_only_when_confirmed(stock: Stock) -> None:
    till = stock.till
    mark = till.data("round", "sheet", "--to", "round.pdf")["sheet"]
    first, second = stock.stock
    (till.folder / "ticked.txt").write_text(
        f"sheet {mark}\nread walk-in 39F\nbin {first[-4:]} dropped  # on the floor\n\n"
        f"missing {second[-4:]}\nrest walk-in\n"
    )
    before = till.entries()
    done = till.run("round", "sheet", "--enter", "ticked.txt")
    assert done.code == 2
    assert "This would be recorded" in done.out
    assert "binned (dropped)" in done.out
    assert "Nothing was recorded" in done.err
    assert till.entries() == before
    said = till.ok("round", "sheet", "--enter", "ticked.txt", "--yes", "--in-charge", "JR")
    assert "Recorded:" in said
    assert "NOT SEEN, 1" in said
    assert "in charge: JR" in till.ok("round", "show")
    assert first not in [each["code"] for each in till.data("on-hand")]
    assert "All is well." in till.ok("doctor")


def test_at_a_terminal_it_asks_once_and_no_means_no(stock: Stock) -> None:
    till = stock.till
    code = stock.stock[0][-4:]
    before = till.entries()
    typed = [f"bin {code} off\n", "\n", "n\n"]
    said = till.at_a_terminal("round", "sheet", "--enter", "-", types=typed)
    assert said.code == 0, said
    assert "Nothing was recorded." in said.out
    assert till.entries() == before
    said = till.at_a_terminal("round", "sheet", "--enter", "-", types=[*typed[:2], "y\n"])
    assert "Recorded. The round: holdlog round show R1" in said.out
    assert till.entries() > before


def test_a_bad_line_is_named_and_nothing_is_written(stock: Stock) -> None:
    till = stock.till
    (till.folder / "t.txt").write_text(f"used {stock.stock[0][-4:]}\nbin 7 date\n")
    before = till.entries()
    said = till.run("round", "sheet", "--enter", "t.txt", "--yes").refusal()
    assert "Line 2, 'bin 7 date'" in said
    assert till.entries() == before
    (till.folder / "b.txt").write_bytes(b"\xff\xfe\x00")
    assert "not text" in till.run("round", "sheet", "--enter", "b.txt", "--yes").refusal()
    assert "cannot be read" in till.run("round", "sheet", "--enter", "none", "--yes").refusal()
    assert "Paper" in till.run("round", "sheet", "--paper", "a5").refusal()
    assert "could not be written" in till.run("round", "sheet", "--to", "no/x.pdf").fault()


def test_entered_as_json(stock: Stock) -> None:
    till = stock.till
    (till.folder / "t.txt").write_text(f"used {stock.stock[0][-4:]}\n")
    found = till.data("round", "sheet", "--enter", "t.txt", "--yes")
    assert found["recorded"] is True
    assert found["round"] == "R1"
    assert stock.stock[1] in [each["code"] for each in found["not_seen"]]


def test_names_on_paper_are_set_in_the_fonts_that_the_labels_have(stock: Stock) -> None:
    till, name = stock.till, "昆布 出汁"
    till.ok("item", "add", name, "-k", "stock")
    till.ok("prep", name, "2l", "--tape")
    built(till.folder / "own.ttf", "昆布出汁")
    papers: list[tuple[str, ...]] = [
        ("round", "sheet", "--to", "file.pdf"),
        ("inspector-file", "--pdf", "file.pdf"),
    ]
    for paper in papers[:1]:
        assert "The font has no sign for 昆 布 出 汁; shown as ?." in till.run(*paper).err
        assert "????" in text_of(stock, "file.pdf")
    till.ok("label-words", "--font", "own.ttf")
    for paper in papers:
        assert till.data(*paper)["warnings"] == []
        assert "昆布出汁" in text_of(stock, "file.pdf")
    # The journal remembers a font that is no longer there: the paper is made all the same.
    (till.folder / "own.ttf").unlink()
    for paper in papers[1:]:
        said = till.run(*paper)
        assert said.code == 0
        assert re.search(r"own\.ttf: cannot be used on paper, there is no such file", said.err)
        assert "????" in text_of(stock, "file.pdf")
