"""A round as a cook walks it: a scanner without pauses, keys, interruptions, two cooks."""

import fcntl
import json
import os
import pty
import re
import select
import signal
import sqlite3
import struct
import subprocess
import termios
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from holdlog.cli.round_words import BELLS, BLOCKS
from holdlog.core.codes import show
from tests.cli.conftest import Stock
from tests.cli.running import HOLDLOG, Till

ANSWER = re.compile(r"^([.\-*:>!=#x?^])\1{7}  (.*)$", re.MULTILINE)
ESCAPE = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")


def answers(text: str) -> list[str]:
    """The answers to scans, each with its block: ``".SERVE UNTIL …"``."""
    plain = ESCAPE.sub("", text).replace("\r\n", "\n").replace("\a", "")
    return [block + words for block, words in ANSWER.findall(plain)]


@dataclass
class Terminal:
    """A terminal with a round in it."""

    child: int
    fd: int
    said: str = ""

    def types(self, text: str) -> None:
        """Everything at once, as a scanner without pauses."""
        os.write(self.fd, text.encode())

    def until(self, wanted: str, times: int = 1) -> str:
        """Read until ``wanted`` has been said so often."""
        while self.said.count(wanted) < times:
            ready, _, _ = select.select([self.fd], [], [], 30)
            assert ready, (wanted, self.said)
            try:
                piece = os.read(self.fd, 65536)
            except OSError:  # what Linux answers when the other side has closed
                piece = b""
            assert piece, (wanted, self.said)
            self.said += piece.decode(errors="replace")
        return self.said

    def ends(self) -> int:
        """Read to the end; the exit code."""
        while True:
            try:
                piece = os.read(self.fd, 65536)
            except OSError:
                break
            if not piece:
                break
            self.said += piece.decode(errors="replace")
        return os.waitstatus_to_exitcode(os.waitpid(self.child, 0)[1])


def terminal(till: Till, *arguments: str, before: str = "") -> Terminal:
    """A round in a terminal of 200 columns; ``before`` is typed while the program still starts."""
    child, fd = pty.fork()
    if child == 0:
        os.chdir(till.folder)
        os.execve(HOLDLOG[0], [*HOLDLOG, *arguments], {**till.env(), "TERM": "xterm-256color"})
    fcntl.ioctl(fd, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 200, 0, 0))
    made = Terminal(child, fd)
    if before:
        made.types(before)
    return made


def walked(till: Till, *lines: str, options: Sequence[str] = ("-u", "walk-in")) -> str:
    """A round through a pipe, which must end well; what it said."""
    done = till.run("round", *options, stdin="".join(f"{line}\n" for line in lines))
    assert done.code == 0, done
    assert done.err == "", done
    return done.out


def entries(till: Till, kind: str) -> list[dict[str, object]]:
    """The bodies of the journal's entries of a kind, asked of SQLite itself."""
    with closing(sqlite3.connect(till.journal)) as conn:
        rows = conn.execute("SELECT body FROM entry WHERE kind = ? ORDER BY number", [kind])
        return [json.loads(body) for (body,) in rows]


@pytest.fixture
def forty(till: Till) -> tuple[Till, list[str]]:
    """Forty tubs in the reach-in."""
    made = [
        till.codes("prep", "chicken stock", "10l", "-c", "20", "-u", "reach-in", "--tape")
        for _ in range(2)
    ]
    return till, [code for codes in made for code in codes]


# ---- the scanner -----------------------------------------------------------------------------


def test_forty_codes_without_a_pause_lose_no_character(forty: tuple[Till, list[str]]) -> None:
    """They come before the program is even there, in one piece, and are answered in order."""
    till, codes = forty
    typed = "38F\n" + "".join(f"{code}\n" for code in codes) + "q\n"
    screen = terminal(till, "round", "-u", "reach-in", before=typed)
    assert screen.ends() == 0, screen.said
    said = answers(screen.said)
    assert len(said) == 40
    for code, answer in zip(codes, said, strict=True):
        assert answer.startswith(".SERVE UNTIL")
        assert show(code) in answer
    assert [each["code"] for each in entries(till, "round-seen")] == codes
    assert "good (41 °F or below)" in screen.said


def test_codes_that_come_in_place_of_the_temperature_are_scans(
    forty: tuple[Till, list[str]],
) -> None:
    till, codes = forty
    out = walked(till, *codes[:3], options=("-u", "reach-in"))
    assert len(answers(out)) == 3
    assert "was not read" in out
    assert entries(till, "round-unit") == [{"unit": "reach-in"}]


def test_a_round_that_was_killed_keeps_every_answered_scan(
    forty: tuple[Till, list[str]],
) -> None:
    till, codes = forty
    first = terminal(till, "round", "-u", "reach-in")
    first.until("Temperature of the reach-in")
    first.types("38F\n" + "".join(f"{code}\n" for code in codes[:15]))
    first.until("SERVE UNTIL", 15)
    os.kill(first.child, signal.SIGKILL)
    assert first.ends() == -signal.SIGKILL
    second = terminal(till, "round")
    second.until("Round R1 is open")
    second.types("\n")  # Enter: go on with it
    second.until("reach-in> ")
    second.types("".join(f"{code}\n" for code in codes[15:30]))
    second.until("SERVE UNTIL", 15)
    os.close(second.fd)  # the terminal is gone: the machine hangs up
    os.waitpid(second.child, 0)
    out = walked(till, *codes[30:], options=("--resume",))
    assert "Temperature" not in out, "it was read in this round"
    assert len(answers(out)) == 10
    assert {each["code"] for each in entries(till, "round-seen")} == set(codes)
    found = till.data("round", "show")
    assert (found["seen"], found["not_seen"]) == (40, [])
    assert len(till.data("round", "list")) == 1
    assert till.run("doctor").code == 0


def test_two_cooks_at_once_are_set_against_each_other(forty: tuple[Till, list[str]]) -> None:
    till, codes = forty
    walked(till, "38F", options=("-u", "reach-in"))

    def cook(name: str) -> "subprocess.Popen[str]":
        env = {**till.env(), "HOLDLOG_BY": name, "HOLDLOG_STATION": name}
        return subprocess.Popen(
            [*HOLDLOG, "round", "--resume"],
            env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip

    mine, yours = codes[:22], codes[18:38]  # four are scanned by both, two by nobody
    one, two = cook("AN"), cook("BO")
    for process, part in ((one, mine), (two, yours)):
        assert process.stdin is not None
        process.stdin.write("".join(f"{code}\n" for code in part))
        process.stdin.close()
    for process, part in ((one, mine), (two, yours)):
        assert process.stdout is not None
        assert len(answers(process.stdout.read())) == len(part)
        process.stdout.close()
        assert process.wait() == 0
    found = till.data("round", "show")
    assert sorted(found["cooks"]) == ["AN", "BO", "MK"]
    assert found["seen"] == 38
    assert {row["code"] for row in found["not_seen"]} == set(codes[38:])
    assert found["elsewhere"] == []


def test_after_ctrl_c_the_round_stays_open(stock: Stock) -> None:
    screen = terminal(stock.till, "round", "-u", "walk-in", before="38F\n")
    screen.until("walk-in> ")
    screen.types(f"{stock.stock[0]}\n")
    screen.until("SERVE UNTIL")
    screen.types("\x03")
    assert screen.ends() == 130
    assert "stays open" in screen.said
    assert "Traceback" not in screen.said
    assert len(entries(stock.till, "round-seen")) == 1


# ---- the answers -----------------------------------------------------------------------------


def test_every_answer_has_a_block_of_its_own() -> None:
    assert len(set(BLOCKS.values())) == len(BLOCKS)
    assert set(BELLS) < set(BLOCKS)
    # Quiet is what may be served; the rest is heard.
    assert set(BLOCKS) - set(BELLS) == {"serve", "again", "frozen"}


def test_answers_are_told_apart_by_words(stock: Stock) -> None:
    till, (one, two) = stock.till, stock.stock
    till.ok("discard", two, "-r", "off")
    out = walked(till, "", one, stock.frozen, stock.cooling, stock.fish, two, "ABCD2345", one)
    said = answers(out)
    starts = [
        ".SERVE UNTIL ", ">BELONGS IN THE CHEST FREEZER", "=ON HOLD", "!NO LIMIT KNOWN",
        "xENDED ALREADY: DISCARDED", "?UNKNOWN CODE ABCD2345", "-SEEN ALREADY",
    ]  # fmt: skip
    assert [
        each for each, start in zip(said, starts, strict=True) if not each.startswith(start)
    ] == []
    assert "\x1b" not in out
    assert "\a" not in out


def test_the_bell_rings_for_what_must_not_be_served(stock: Stock) -> None:
    typed = f"\n{stock.stock[0]}\n{stock.cooling}\n{stock.stock[0]}\nq\n"
    screen = terminal(stock.till, "round", "-u", "walk-in", before=typed)
    assert screen.ends() == 0
    good, held, again = screen.said.split("SERVE UNTIL")[1].split("ON HOLD")[0], "", ""
    held = screen.said.split("ON HOLD")[1].split("SEEN ALREADY")[0]
    again = screen.said.split("SEEN ALREADY")[1]
    assert (good.count("\a"), held.count("\a"), again.count("\a")) == (0, 2, 0)


def test_a_mistyped_code_names_the_tub_it_may_be(stock: Stock) -> None:
    code = stock.stock[0]
    wrong = code[:7] + ("2" if code[7] != "2" else "3")
    (said,) = answers(walked(stock.till, "", wrong))
    assert said.startswith(f"?UNKNOWN CODE {wrong}")
    assert show(code) in walked(stock.till, "", wrong)


def test_a_narrow_screen_loses_no_word(stock: Stock) -> None:
    done = stock.till.run(
        "round", "-u", "walk-in", stdin=f"\n{stock.cooling}\n", env={"COLUMNS": "32"}
    )
    assert "ON HOLD" in done.out
    assert show(stock.cooling) in done.out


# ---- keys ------------------------------------------------------------------------------------


def test_binned_in_one_keystroke_and_a_reason_and_taken_back(stock: Stock) -> None:
    till, (one, two) = stock.till, stock.stock
    out = walked(till, "", one, "d 1", two, "d", "5", "v", "y")
    assert "Binned: chicken stock, 3 l (past its date)" in out
    assert "Binned: chicken stock, 3 l (off in look or smell)" in out
    assert "Taken back: discarded: off in look or smell" in out
    live = {row["code"] for row in till.data("on-hand")}
    assert two in live
    assert one not in live
    found = till.data("audit")
    assert found["overall"]["containers"] == 1


def test_a_code_that_comes_where_a_reason_is_asked_is_a_scan(stock: Stock) -> None:
    one, two = stock.stock
    out = walked(stock.till, "", one, "d", two, "u", "1")
    assert "nothing was done" in out
    assert len(answers(out)) == 2
    live = {row["code"] for row in stock.till.data("on-hand")}
    assert one in live, "it was not binned"
    assert two not in live, "the key after it meant the container scanned last"


def test_one_letter_is_never_a_reason(stock: Stock) -> None:
    """d, and then m for move: not "made too much"."""
    out = walked(stock.till, "", stock.stock[0], "d", "m", "")
    assert "'m' is none of these" in out
    assert entries(stock.till, "discarded") == []


def test_a_key_after_an_unknown_code_does_nothing_to_the_tub_before(stock: Stock) -> None:
    out = walked(stock.till, "", stock.stock[0], "ABCD2345", "d 1", "u 1", "f", "l", "m 2")
    assert out.count("That code is no container here.") == 5
    assert entries(stock.till, "discarded") == entries(stock.till, "used") == []


def test_used_moved_frozen_labelled_and_noted(stock: Stock) -> None:
    till, (one, two) = stock.till, stock.stock
    out = walked(
        till, "", one, "m 2", "n lid was off", "l", "f", two, "u 3", "n", "mop the floor",
        options=("-u", "walk-in", "--to", "labels"),
    )  # fmt: skip
    assert "Moved: chicken stock stands in the reach-in." in out
    assert "Frozen: it goes into the chest freezer." in out
    assert "chicken stock: staff meal" in out
    assert len(list((till.folder / "labels").rglob("*.png"))) >= 2
    row = next(row for row in till.data("on-hand") if row["code"] == one)
    assert (row["unit"], row["state"]) == ("chest freezer", "frozen")
    notes = till.data("round", "show")["notes"]
    assert [(each["code"], each["note"]) for each in notes] == [
        (one, "lid was off"), (two, "mop the floor"),
    ]  # fmt: skip


def test_what_a_key_may_not_do_is_said_and_the_round_goes_on(stock: Stock) -> None:
    out = walked(stock.till, "", stock.cooling, "u 1", "m 3", stock.stock[0])
    assert "was not to be served" in out
    assert "cannot just be put there" in out
    assert len(answers(out)) == 2


def test_food_without_a_label_is_recorded_and_binned_by_rule(stock: Stock) -> None:
    out = walked(stock.till, "", "x white rice, no lid", "1.5kg", "x", "a sauce", "", "v", "y")
    assert answers(out) == [
        "#BIN NOW: NO LABEL · white rice, no lid, 1.5 kg; it is recorded.",
        "#BIN NOW: NO LABEL · a sauce; it is recorded.",
    ]
    (found,) = stock.till.data("round", "show")["unlabelled"]
    assert (found["what"], found["amount"], found["unit"]) == (
        "white rice, no lid", "1.5 kg", "walk-in",
    )  # fmt: skip


def test_a_bad_temperature_holds_all_that_is_in_the_unit(stock: Stock) -> None:
    out = walked(stock.till, "55F", stock.stock[0])
    held, scanned = answers(out)
    assert held.startswith("=WALK-IN ON HOLD · 55 °F, not 41 °F or below")
    assert scanned.startswith("=ON HOLD")
    assert {row["verdict"] for row in stock.till.data("on-hand", "-u", "walk-in")} <= {
        "hold", "discard",
    }  # fmt: skip
    assert stock.till.data("round", "show")["temperatures"] == {"walk-in": "55 °F"}


def test_a_temperature_that_cannot_be_is_asked_for_again(stock: Stock) -> None:
    out = walked(stock.till, "38", "38F")
    assert out.count("Temperature of the walk-in?") == 2
    assert "is not a temperature" in out
    assert "good" in out


def test_raw_above_ready_to_eat_is_flagged_at_the_end_of_the_unit(stock: Stock) -> None:
    out = walked(stock.till, "", "s 1", stock.fish, "s 2", stock.stock[0], "e", "n")
    flagged = out.split("RAW ABOVE READY-TO-EAT")[1]
    assert "3-302.11(A)" in flagged
    assert show(stock.fish) in flagged.split("That was the last unit")[0]
    assert stock.till.data("round", "show")["raw_above"] == [stock.fish]
    below = walked(stock.till, "", "s 2", stock.fish, "s 1", stock.stock[0], "e", "n")
    assert "RAW ABOVE" not in below


# ---- the end ---------------------------------------------------------------------------------


def test_it_ends_with_what_was_not_seen_and_initials(stock: Stock) -> None:
    till, (one, two) = stock.till, stock.stock
    out = walked(
        till, "38F", one, stock.frozen, "e", "y",
        "n",  # the frozen one does not stay in the walk-in
        *(["", "1", "2", "1", ""]), "jr",
    )  # fmt: skip
    assert "Not seen: 4" in out
    assert "in charge: JR" in out
    found = till.data("round", "show", "R1")
    assert found["in_charge"] == "JR"
    assert [each["code"] for each in found["elsewhere"]] == [stock.frozen]
    ended = [row for row in till.data("on-hand") if row["code"] in (one, two)]
    assert len(ended) + found["answers"].get("used", 0) >= 1
    # What nobody could tell is on record as not seen, and on hand.
    live = {row["code"] for row in till.data("on-hand")}
    assert {row["code"] for row in found["not_seen"]} <= live
    assert found["not_seen"]


def test_without_initials_it_stays_open(stock: Stock) -> None:
    out = walked(stock.till, "", "e", "y", "5", "")
    assert "stays open" in out
    assert stock.till.data("round", "list")[0]["ended_at"] is None
    assert entries(stock.till, "round-ended") == []


def test_a_tub_in_the_wrong_unit_is_offered_to_stay(stock: Stock) -> None:
    till = stock.till
    till.ok("move", stock.stock[0], "reach-in")
    walked(till, "", stock.stock[0], "e", "y", "y", "5", "jr")
    row = next(row for row in till.data("on-hand") if row["code"] == stock.stock[0])
    assert row["unit"] == "walk-in"
    assert till.data("round", "show")["elsewhere"] == []


def test_a_scan_answers_the_question_where_a_tub_is(stock: Stock) -> None:
    till = stock.till
    others = [row["code"] for row in till.data("on-hand", "-u", "walk-in")]
    out = walked(till, "", "e", "y", *others, "jr")
    assert len(answers(out)) == len(others)
    found = till.data("round", "show")
    assert found["not_seen"] == []
    assert found["ended_at"] is not None


def test_each_unit_is_walked_in_turn(stock: Stock) -> None:
    out = walked(
        stock.till, "38F", "e", "39F", "e", "-5F", stock.frozen, "e", "150F", "g 1", "q",
        options=(),
    )  # fmt: skip
    heads = re.findall(r"^-- (.*) \((\d) of 4\) --$", out, re.MULTILINE)
    assert heads == [
        ("walk-in", "1"), ("reach-in", "2"), ("chest freezer", "3"), ("hot box", "4"),
        ("walk-in", "1"),
    ]  # fmt: skip
    (frozen,) = answers(out)
    assert frozen.startswith("*FROZEN")
    assert out.count("Temperature of the walk-in?") == 1


def test_an_open_round_is_ended_from_outside(stock: Stock) -> None:
    walked(stock.till, "38F", stock.stock[0])
    assert stock.till.run("round", "--end", "--json").refusal()
    found = stock.till.data("round", "--end", "--in-charge", "jr")
    assert found["in_charge"] == "JR"
    assert found["seen"] == 1
    assert "No round is open" in stock.till.run("round", "--resume").refusal()
    assert "is ended" in stock.till.run("round", "--round", "R1").refusal()


# ---- without a person ------------------------------------------------------------------------


def test_a_list_of_codes_is_a_round_without_a_person(stock: Stock) -> None:
    till, (one, two) = stock.till, stock.stock
    (till.folder / "scans.txt").write_text(f"\ufeff{one}\r\n\r\n{show(one)}\nnonsense\n")
    found = till.data("round", "--codes", "scans.txt", "-u", "walk-in")
    assert [each["answer"] for each in found["scans"]] == ["serve", "again", "unknown"]
    assert set(found["scans"][0]) == {
        "scanned", "answer", "verdict", "reason", "near", "label_says_later", "container",
    }  # fmt: skip
    assert found["seen"] == 1
    assert two in [row["code"] for row in found["not_seen"]]
    assert found["in_charge"] is None
    assert two in [row["code"] for row in till.data("on-hand")], "nothing is closed silently"
    shown = till.run(
        "round", "--codes", "-", "-u", "walk-in", "--in-charge", "JR", stdin=f"{two}\n"
    )
    assert "in charge: JR" in shown.out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--json"], "speaks to a cook"),
        (["--codes", "none.txt"], "Say one --unit"),
        (["--unit", "cellar"], "no unit 'cellar'"),
        (["--shelf", "99"], "99"),
        (["--round", "R7"], "no round 'R7'"),
        (["--by", " "], "Who is writing?"),
    ],
)
def test_what_cannot_be_is_refused_in_a_line(stock: Stock, arguments: list[str], says: str) -> None:
    before = stock.till.entries()
    assert says in stock.till.run("round", *arguments).refusal()
    assert stock.till.entries() == before


@pytest.fixture
def full_of_nothing(stock: Stock) -> Iterator[Path]:
    file = stock.till.folder / "scans.txt"
    yield file
    file.unlink(missing_ok=True)


@pytest.mark.parametrize("content", [b"", b"\n\n", b"\xff\xfe\x00"])
def test_a_file_that_holds_no_codes_is_refused(
    stock: Stock, full_of_nothing: Path, content: bytes
) -> None:
    full_of_nothing.write_bytes(content)
    assert "scans.txt" in stock.till.run(
        "round", "--codes", "scans.txt", "-u", "walk-in"
    ).refusal()  # fmt: skip


def test_no_round_yet(till: Till) -> None:
    assert "no round yet" in till.ok("round", "list")
    assert till.data("round", "list") == []
    assert "Begin one with: holdlog round" in till.run("round", "show").refusal()


def test_food_without_a_label_stands_in_the_audit(stock: Stock) -> None:
    walked(stock.till, "", "x white rice", "1.5kg", "x a sauce", "", "x bread", "", "v", "y")
    found = stock.till.data("audit")
    binned = [(each["item"], each["amount"], each["reason"]) for each in found["discards"]]
    assert binned == [("white rice", "1.5 kg", "no-label"), ("a sauce", None, "no-label")]
    assert found["overall"]["containers"] == 2
    assert {key: Decimal(base) for key, base in found["overall"]["sums"].items()} == {"g": 1500}
    assert "white rice" in stock.till.ok("audit")


def test_a_scan_that_could_not_be_written_down_is_told_and_the_round_goes_on(stock: Stock) -> None:
    """Another program keeps the journal locked: nothing is answered that was not recorded."""
    till, (one, two) = stock.till, stock.stock
    walked(till, "38F")
    with closing(sqlite3.connect(till.journal, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        done = till.run("round", "--resume", stdin=f"{one}\n{two}\n", env={"HOLDLOG_WAIT_MS": "50"})
        other.execute("ROLLBACK")
    assert done.code == 0
    assert answers(done.out) == []
    assert done.err.count("NOT RECORDED") == 2
    assert one in done.err
    assert entries(till, "round-seen") == []
    assert len(answers(walked(till, one, two, options=("--resume",)))) == 2


def test_food_to_discard_gets_no_label_in_a_round(stock: Stock) -> None:
    out = walked(stock.till, "", stock.stock[0], "d 1", stock.stock[0], "l", stock.stock[1], "l")
    assert out.count("The journal has it gone.") == 1
    assert out.count("-prepared-copy1.pdf") == 1


def test_a_scan_taken_back_is_not_seen(stock: Stock) -> None:
    till, one = stock.till, stock.stock[0]
    walked(till, "38F", one)
    with closing(sqlite3.connect(till.journal)) as conn:
        (number,) = conn.execute("SELECT number FROM entry WHERE kind = 'round-seen'").fetchone()
    till.ok("void", str(number), "--why", "scanned the lid of another")
    assert one in [row["code"] for row in till.data("round", "show")["not_seen"]]


# ---- six in the morning ----------------------------------------------------------------------


def test_the_short_word_of_a_reason_is_a_reason(stock: Stock) -> None:
    """The words of ``holdlog discard -r`` and of the sheet, with the key and where it asks."""
    out = walked(stock.till, "", stock.stock[0], "d", "date", stock.stock[1], "d warm lid ajar")
    assert "Binned: chicken stock, 3 l (past its date)" in out
    assert [each["reason"] for each in entries(stock.till, "discarded")] == ["date", "warm"]
    assert entries(stock.till, "discarded")[1]["note"] == "lid ajar"


@pytest.mark.parametrize("said", ["500 grams", "12 quarts", "10 pounds"])
def test_an_amount_of_eight_signs_is_no_scan(stock: Stock, said: str) -> None:
    walked(stock.till, "", "x white rice", said)
    ((found,), seen) = (entries(stock.till, "round-found"), entries(stock.till, "round-seen"))
    assert found["amount"]
    assert seen == []


def test_food_without_a_label_is_not_lost_for_a_mistyped_amount(stock: Stock) -> None:
    out = walked(stock.till, "", "x white rice", "300 gramm", "300 gram")
    assert "'300 gramm' is not an amount" in out
    (found,) = entries(stock.till, "round-found")
    assert (found["what"], found["amount"]) == ("white rice", "300 g")


def test_the_amount_may_come_with_the_key(stock: Stock) -> None:
    walked(stock.till, "", "x white rice 1.5 kg")
    (found,) = entries(stock.till, "round-found")
    assert (found["what"], found["amount"]) == ("white rice", "1.5 kg")


@pytest.mark.parametrize("kind", ["]C1", "]C0", "]Q1"])
def test_a_scanner_that_says_which_bars_it_read_is_understood(stock: Stock, kind: str) -> None:
    """ISO/IEC 15424 (from memory): ``]C`` and a digit before Code 128, ``]Q`` before QR."""
    (found,) = answers(walked(stock.till, "", kind + stock.stock[0]))
    assert found.startswith(".SERVE UNTIL")


@pytest.mark.parametrize("word", ["help", "quit", "bin it", "undo"])
def test_words_that_are_no_key_are_not_recorded_as_codes(stock: Stock, word: str) -> None:
    out = walked(stock.till, "", word)
    assert f"{word!r} is neither a key nor a code" in out
    assert entries(stock.till, "round-seen") == []


def test_a_temperature_typed_as_a_scan_is_told_its_key(stock: Stock) -> None:
    out = walked(stock.till, "", "38F")
    assert "t 38F" in out
    assert entries(stock.till, "round-seen") == []


def test_a_code_in_other_letters_asks_after_the_keyboard(stock: Stock) -> None:
    (found,) = answers(walked(stock.till, "", "ФИСВ-1234"))
    assert found.startswith("?UNKNOWN CODE")
    assert "keyboard" in found


def test_what_is_gone_says_how_it_comes_back(stock: Stock) -> None:
    stock.till.ok("use", stock.stock[0])
    out = walked(stock.till, "", stock.stock[0], "d 1")
    assert "void the entry that ended it (holdlog why CODE)" in " ".join(out.split())


def test_past_its_date_is_told_wherever_a_round_names_a_tub(stock: Stock) -> None:
    """A row keeps no verdict that only its date decides: a list of rows must not call it fit."""
    week = datetime.now(UTC) - timedelta(days=9)
    made = stock.till.run("prep", "chicken stock", "-u", "reach-in", "--tape", "--json",
                          "--made", f"{week:%Y-%m-%d} 12:00")  # fmt: skip
    ((old,), _) = json.loads(made.out)["containers"], made.fault()  # what is past gets no label
    old = old["code"]
    reach = ("-u", "reach-in")
    told = f"{show(old)}  chicken stock, reach-in: DISCARD"
    out = walked(stock.till, "60F", "v", "y", "e", "y", "5", options=reach)
    flat = " ".join(out.split())
    assert flat.count(" ".join(told.split())) == 4  # on hold, taken back, asked after, not seen
    assert f"{show(old)}  chicken stock, reach-in: use by" not in out


def test_a_reading_taken_back_leaves_the_one_before(stock: Stock) -> None:
    walked(stock.till, "38F", "t 50F", "v", "y")
    assert stock.till.data("round", "show")["temperatures"] == {"walk-in": "38 °F"}


def test_whoever_ends_a_round_is_told_that_another_is_scanning(stock: Stock) -> None:
    till = stock.till
    walked(till, "38F", stock.stock[0])
    other = Till(till.folder, by="AN")
    out = other.run("round", "--end", stdin="\n").out
    assert "MK was in the walk-in" in out
    assert "End it all the same?" in out
    assert "stays open" in out
    assert entries(till, "round-ended") == []
    done = other.run("round", "--end", "--in-charge", "jr")
    assert "MK was in the walk-in" in done.one_line()
    assert len(entries(till, "round-ended")) == 1


def test_a_cook_who_ends_her_own_round_is_not_asked(stock: Stock) -> None:
    out = walked(stock.till, "38F", stock.stock[0], "e", "y", "5", "jr")
    assert "may be scanning" not in out
    assert stock.till.data("round", "show")["in_charge"] == "JR"


def test_a_scan_after_the_end_is_told_not_recorded(stock: Stock) -> None:
    screen = terminal(stock.till, "round", "-u", "walk-in", before="38F\n")
    screen.until("walk-in> ")
    stock.till.run("round", "--end", "--in-charge", "jr", env={"HOLDLOG_BY": "AN"})
    screen.types(f"{stock.stock[0]}\n")
    assert f"NOT RECORDED: {stock.stock[0]}" in screen.until("was ended by AN")
    screen.ends()


def test_why_says_where_it_was_seen_last(stock: Stock) -> None:
    one, two = stock.stock
    walked(stock.till, "", one)
    walked(stock.till, "", one, options=("-u", "reach-in"))
    assert "Last seen in the reach-in" in stock.till.ok("why", one)
    found = stock.till.data("why", one)["last_seen"]
    assert (found["unit"], found["by"], found["round"]) == ("reach-in", "MK", "R2")
    assert stock.till.data("why", two)["last_seen"] is None
