"""A head from a label or a sheet, typed in at a terminal."""

import sqlite3
from contextlib import closing
from io import BytesIO

import pypdf

from tests.cli.running import Till


def tail_cut(till: Till) -> None:
    """The last three entries gone, as somebody with the file would, guards and all."""
    with closing(sqlite3.connect(till.journal)) as raw:
        guards = raw.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall()
        for name, _ in guards:
            raw.execute(f"DROP TRIGGER {name}")
        raw.execute("DELETE FROM entry WHERE number > (SELECT max(number) - 3 FROM entry)")
        for _, text in guards:
            raw.execute(text)
        raw.commit()


def plain(table: str) -> str:
    """Without the ends of the lines, which are those of the terminal."""
    return " ".join(table.split())


def test_heads_from_paper_tell_whether_it_is_still_that_journal(till: Till) -> None:
    sheet = till.data("round", "sheet", "--to", "sheet.pdf")
    page = pypdf.PdfReader(BytesIO((till.folder / "sheet.pdf").read_bytes())).pages[0]
    (line,) = (each for each in page.extract_text().splitlines() if "Journal head" in each)
    assert sheet["head"] in line
    short = f"#{sheet['entry']} {sheet['head'][:8]}…"
    till.ok("prep", "chicken stock", "1l", "--tape")
    text = till.ok("doctor", "--head", line, "--head", short)
    assert plain(text).count(f"unchanged up to entry {sheet['entry']} (written ") == 2
    assert "All is well" in text

    (till.folder / "heads.txt").write_text(
        f"{short}\n\n#{sheet['entry']} 00000000\n#99999 {'ab' * 8}\n"
    )
    done = till.run("doctor", "--heads", "heads.txt")
    assert done.code == 1
    assert f"entry {sheet['entry']} has another hash ({sheet['head'][:8]})" in plain(done.out)
    assert "there are only" in plain(done.out)
    found = till.run("doctor", "--heads", "heads.txt", "--json").json()
    heads = [each for each in found if each["check"] == "head"]
    assert [each["ok"] for each in heads] == [True, False, False]
    assert [each["ok"] for each in found if each["check"] in ("chain", "on-hand")] == [True, True]


def test_a_cut_end_that_was_tidied_up_shows_by_the_head_alone(till: Till) -> None:
    sheet = till.data("round", "sheet", "--to", "sheet.pdf")
    head = f"{sheet['entry']} {sheet['head'][:8]}"
    tail_cut(till)
    till.ok("doctor", "--rebuild", "--by", "XX")
    assert "All is well" in till.ok("doctor")
    done = till.run("doctor", "--head", head)
    assert done.code == 1
    assert "NOT the journal this was printed from: there are only" in plain(done.out)
    assert "typed as it is printed" in plain(done.out)

    till.ok("export", "--to", "journal.jsonl")
    assert "Whole: " in till.ok("verify", "journal.jsonl")
    done = till.run("verify", "journal.jsonl", "--head", head, "--json")
    assert done.code == 1
    (told,) = done.json()["heads"]
    assert (told["ok"], told["entry"]) == (False, None)


def test_what_is_no_head_is_refused_before_anything_is_done(till: Till) -> None:
    for words in (("doctor", "--rebuild"), ("verify", "journal.jsonl")):
        line = till.run(*words, "--head", "1204 9f3a1c2").refusal()
        assert "no head" in line
        assert "8 signs" in line
    (till.folder / "heads.txt").write_text("#1204 9f3a1c22\nlid of the stock\n")
    assert "line 2" in till.run("doctor", "--heads", "heads.txt").refusal()
    assert "none.txt" in till.run("doctor", "--heads", "none.txt").refusal()
