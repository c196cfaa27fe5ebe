"""Labels, printers and templates, as a cook meets them: by commands, with a printer that listens.

The printer of these tests is a socket of this machine that takes what comes, as one at port 9100
does; or one where nobody listens.
"""

import socket
import threading
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from pypdf import PdfReader

from holdlog.cli.finish import printed_told
from holdlog.kitchen.printing import Printed
from tests.cli.conftest import Stock
from tests.cli.running import Till
from tests.printers.machines import paper_printer
from tests.system import need


@dataclass
class Listener:
    """A printer that takes what it is sent and says nothing."""

    door: socket.socket
    jobs: list[bytes] = field(default_factory=list)

    @property
    def address(self) -> str:
        return f"127.0.0.1:{self.door.getsockname()[1]}"

    def listen(self) -> None:
        while True:
            try:
                caller, _ = self.door.accept()
            except OSError:
                return
            with caller:
                taken = _all_of(caller)
            if b"^XA" in taken:  # else it was only asked how it stands
                self.jobs.append(taken)


def _all_of(caller: socket.socket) -> bytes:
    pieces = []
    while piece := caller.recv(65536):
        pieces.append(piece)
    return b"".join(pieces)


@pytest.fixture
def listener() -> Iterator[Listener]:
    door = socket.create_server(("127.0.0.1", 0))
    made = Listener(door)
    thread = threading.Thread(target=made.listen)
    thread.start()
    yield made
    door.shutdown(socket.SHUT_RDWR)
    door.close()
    thread.join()


@pytest.fixture
def nobody() -> str:
    """An address of this machine where nobody listens."""
    with closing(socket.create_server(("127.0.0.1", 0))) as door:
        return f"127.0.0.1:{door.getsockname()[1]}"


def codes(found: list[dict[str, object]]) -> list[object]:
    return [each["code"] for each in found]


def shown(code: str) -> str:
    return f"{code[:4]}-{code[4:]}"


# ---- printers --------------------------------------------------------------------------------


def test_a_kitchen_without_a_printer_is_told_where_its_labels_go(till: Till) -> None:
    said = till.ok("printer", "list", COLUMNS="300")
    assert f"No printer yet: labels go to the folder {till.folder / 'labels'}" in said
    assert "holdlog printer add" in said
    assert till.data("printer", "list") == []


def test_labels_go_to_the_kitchens_own_printer_and_elsewhere_when_said(
    till: Till, listener: Listener
) -> None:
    assert "the kitchen's own" in till.ok("printer", "add", "pass", listener.address)
    made = till.data("prep", "chicken stock", "2l", "-c", "2")
    assert (made["printed"]["printer"], made["printed"]["files"]) == ("pass", [])
    assert len(listener.jobs) == 1
    assert listener.jobs[0].count(b"^XA") == 2  # one job, two labels
    said = till.ok("label", made["containers"][0]["code"], COLUMNS="300")
    assert "2 labels" not in said
    assert "1 label sent to pass" in said
    assert "Look whether it came out." in said
    assert not list(till.folder.rglob("*.png"))
    till.ok("prep", "chicken stock", "2l", "--to", str(till.folder / "elsewhere"))
    assert list(till.folder.rglob("elsewhere/*/*.png"))
    till.ok("prep", "chicken stock", "2l", "--tape")
    assert len(listener.jobs) == 2
    till.ok("printer", "add", "files", "./labels-out", "--no-default")
    till.ok("prep", "chicken stock", "2l", "--printer", "files")
    assert list(till.folder.glob("labels-out/*/*.png"))
    assert "files is removed." in till.ok("printer", "remove", "files")
    assert [each["printer"] for each in till.data("printer", "list")] == ["pass"]


def test_removing_the_kitchens_own_printer_says_where_labels_go_then(
    till: Till, nobody: str
) -> None:
    till.ok("printer", "add", "pass", nobody)
    till.ok("printer", "add", "office", "office-queue")
    said = till.ok("printer", "remove", "pass", COLUMNS="300")
    assert "Labels go to the folder" in said
    assert "holdlog printer add office office-queue --default" in said
    assert "None is the kitchen's own" in till.ok("printer", "list", COLUMNS="300")


def test_a_test_label_comes_out_or_the_trouble_is_named(
    till: Till, listener: Listener, nobody: str
) -> None:
    till.ok("printer", "add", "pass", listener.address)
    entries = till.entries()
    assert "Test label: sent" in till.ok("printer", "test", "pass")
    assert len(listener.jobs) == 1
    till.ok("printer", "test", "pass", "--no-label")
    assert len(listener.jobs) == 1
    assert till.entries() == entries
    till.ok("printer", "add", "bar", nobody)
    done = till.run("printer", "test", "bar")
    assert "bar cannot be reached" in done.fault()
    told = till.run("printer", "test", "bar", "--json")
    assert told.code == 1
    assert told.json()["condition"]["reachable"] is False


# ---- a print that fails ----------------------------------------------------------------------


def test_a_failed_print_keeps_the_batch_and_is_offered_again(
    till: Till, nobody: str, listener: Listener
) -> None:
    till.ok("printer", "add", "pass", nobody)
    done = till.run("prep", "chicken stock", "2l", "-c", "2")
    assert "pass did not print" in done.fault()
    assert "Write on tape meanwhile, one each:" in done.out
    waiting = till.data("label")
    assert [each["item"] for each in waiting] == ["chicken stock", "chicken stock"]
    assert all(each["why"].startswith("the last print failed") for each in waiting)
    first, second = codes(waiting)
    assert shown(str(first)) in till.ok("label")
    assert "2 containers wait for a label." in till.ok("due")
    assert codes(till.data("due")["waiting_for_label"]) == [first, second]
    assert "label not printed by pass" in till.ok("why", str(first), COLUMNS="200")
    audit = till.ok("audit", COLUMNS="200")
    assert "print failed" in audit
    assert "; 2 not printed." in audit
    # One is written on tape, as was offered; for the other the printer is put right.
    till.ok("label", str(first), "--tape")
    assert codes(till.data("label")) == [second]
    till.ok("printer", "add", "pass", listener.address)
    made = till.data("label", "--waiting")
    assert [each["copy"] for each in made["printed"]["labels"]] == [0]
    assert till.data("label") == []
    assert "Nothing waits for a label." in till.ok("label", "--waiting")
    assert "wait for a label" not in till.ok("due")
    assert "All is well." in till.ok("doctor")


def test_a_failed_print_is_data_too(till: Till, nobody: str) -> None:
    till.ok("printer", "add", "pass", nobody)
    done = till.run("prep", "chicken stock", "2l", "--json")
    assert done.code == 1
    found = done.json()
    assert found["error"]["code"] == "not-printed"
    assert found["waiting"] == codes(found["containers"])
    assert found["printed"] is None
    assert found["tape"][0][0] == "CHICKEN STOCK"


HOUSE = """
id = "house"
title = "Tern & Tide, house rules"
role = "house"

[rule.stock]
kind = "date-mark"
starts = "prepared"
days = 3
cite = "house"
says = "We keep nothing longer than three days."
seen = "text"
"""


def test_a_label_again_that_does_not_print_leaves_the_old_date_binding(
    till: Till, nobody: str
) -> None:
    (till.folder / "house.toml").write_text(HOUSE)
    till.ok("adopt", "-R", "us-food-code-2022", "-R", "house.toml")
    (made,) = till.data("prep", "chicken stock", "2l", "--tape")["containers"]
    till.ok("adopt", "-R", "us-food-code-2022")
    till.ok("printer", "add", "pass", nobody)
    done = till.run("label", made["code"])
    assert done.code == 1
    assert "its old label stays on and binds" in " ".join(done.out.split())
    assert "tape" not in done.out
    found = till.data("why", made["code"])
    assert (found["last_day"], found["binds"]) == (made["last_day"], "printed-label")
    (again,) = till.data("label", made["code"], "--tape")["containers"]
    assert again["last_day"] > made["last_day"]


def test_a_label_that_was_only_sent_moves_a_date_once_a_cook_has_it_in_hand(
    till: Till, listener: Listener
) -> None:
    (till.folder / "house.toml").write_text(HOUSE)
    till.ok("adopt", "-R", "us-food-code-2022", "-R", "house.toml")
    (made,) = till.data("prep", "chicken stock", "2l", "--tape")["containers"]
    till.ok("adopt", "-R", "us-food-code-2022")
    till.ok("printer", "add", "pass", listener.address)
    told = " ".join(till.ok("label", made["code"]).split())
    assert told.startswith("Label sent.")
    assert "the earlier date of the label before binds" in told
    assert "Take the old label off" not in told
    assert f"holdlog label {shown(made['code'])} --seen" in told
    found = till.data("why", made["code"])
    assert (found["last_day"], found["binds"]) == (made["last_day"], "printed-label")
    assert "In hand after all?" in till.ok("label")
    (again,) = till.data("label", "--waiting", "--seen")["containers"]
    assert again["last_day"] > made["last_day"]
    assert len(listener.jobs) == 1
    assert "No label waits to be seen." in till.ok("label", "--waiting", "--seen")
    assert "All is well." in till.ok("doctor")


def test_a_cook_is_asked_once_to_look() -> None:
    hung_up = "the printer hung up: look whether the labels came out"
    for reason in (hung_up, ""):
        (told,) = printed_told(Printed((), printer="pass", state="sent", reason=reason))
        assert told.lower().count("look whether") == 1


def test_a_label_that_cannot_be_drawn_keeps_no_other_back(
    till: Till, nobody: str, listener: Listener
) -> None:
    till.ok("item", "add", "חומוס", "--category", "cooked-legume")
    till.ok("printer", "add", "pass", nobody)
    till.run("prep", "chicken stock", "2l", "-c", "2")
    till.run("prep", "חומוס", "1l")
    till.ok("printer", "add", "pass", listener.address)
    assert len(till.data("label")) == 3
    told = " ".join(till.ok("label", "--waiting").split())
    assert "2 labels sent to pass" in told
    assert "run from right to left" in told
    assert [each["item"] for each in till.data("label")] == ["חומוס"]
    assert "run from right to left" in till.run("label", "--waiting").refusal()


# ---- which labels ----------------------------------------------------------------------------


def test_a_reprint_has_its_number(stock: Stock) -> None:
    copies = [
        stock.till.data("label", stock.stock[0])["printed"]["labels"][0]["copy"] for _ in range(2)
    ]
    assert copies == [1, 2]  # the first was written on tape
    assert "copy 2" in stock.till.ok("why", stock.stock[0], COLUMNS="200")


def test_a_whole_unit_goes_on_a_sheet_from_the_place_that_is_free(stock: Stock) -> None:
    found = stock.till.data("label", "--unit", "walk", "--sheet", "letter-4x5", "--start", "18")
    (file,) = found["printed"]["files"]
    pages = [page.extract_text() for page in PdfReader(file).pages]
    here = [each["shown"] for each in found["containers"]]
    assert len(here) == 5
    assert sum(code in pages[0] for code in here) == 3
    assert sum(code in pages[1] for code in here) == 2


def test_several_codes_and_batches_are_labelled_once_each(stock: Stock) -> None:
    first, second = stock.stock
    made = stock.till.data("label", first, stock.cooling, second, "--batch")
    assert codes(made["containers"]) == [first, second, stock.cooling]


def test_what_must_go_gets_a_tag_and_no_label(stock: Stock) -> None:
    till, code = stock.till, stock.stock[0]
    line = till.run("label", code, "--discard-tag").refusal()
    assert "it may be served" in line
    till.ok("read", code, "60F")
    made = till.data("label", code, "--discard-tag")
    assert [each["purpose"] for each in made["printed"]["labels"]] == ["discard"]
    told = till.ok("label", code, "--discard-tag", "--tape")
    assert "DISCARD - CHICKEN STOCK" in told
    assert "discard tag" in till.ok("why", code, COLUMNS="200")


def test_two_languages_end_up_on_the_label(till: Till) -> None:
    assert "English and Spanish" in till.ok("label-words", "-l", "en", "-l", "es")
    assert till.data("label-words")["languages"] == ["en", "es"]
    (code,) = till.codes("prep", "béchamel", "1l", "--tape")
    found = till.data("label", code, "--sheet", "a4-3x5")
    (page,) = PdfReader(found["printed"]["files"][0]).pages
    assert "ALLERGENS/ALÉRGENOS" in " ".join(page.extract_text().split())


def test_set_up_takes_the_languages_of_the_labels(tmp_path: Path) -> None:
    folder = tmp_path / "kitchen"
    folder.mkdir()
    till = Till(folder)
    till.ok(
        "setup", "--name", "Tern & Tide", "--zone", "UTC", "--scale", "C", "-R",
        "us-food-code-2022", "-u", "walk-in", "-l", "fr",
    )  # fmt: skip
    assert till.data("label-words")["languages"] == ["fr"]


# ---- refusals --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["prep", "chicken stock", "2l", "--printer", "bar"], "There is no printer 'bar'"),
        (["prep", "chicken stock", "2l", "--template", "napkin"], "template 'napkin'"),
        (["freeze", "STOCK", "--printer", "bar"], "There is no printer 'bar'"),
        (["label", "STOCK", "--sheet", "napkin"], "'napkin'"),
        (["label", "STOCK", "--sheet", "letter-4x5", "--start", "21"], "1 to 20"),
        (["label", "STOCK", "--sheet", "letter-4x5", "--tape"], "A sheet is a PDF"),
        (["label", "STOCK", "--to", "here", "--tape"], "three places"),
        (["label", "STOCK", "--waiting"], "three ways"),
        (["label", "--twin"], "Which label?"),
        (["label", "--sheet", "letter-4x5"], "Which label?"),
        (["label", "--batch", "--tape"], "Which label?"),
        (["label", "STOCK", "--start", "7"], "are for sheets"),
        (["label", "STOCK", "--cut-marks"], "are for sheets"),
        (["label", "STOCK", "--seen", "--twin"], "--seen prints nothing"),
        (["label", "STOCK", "--seen"], "no label that a printer took and nobody saw"),
        (["label-words", "--language", "tlh"], "No labels in 'tlh'"),
        (["label-words", "--font", "nowhere.ttf"], "no such file"),
        (["printer", "add", "pass", "192.0.2.17:9100", "--as", "smoke"], "--as smoke"),
        (["printer", "add", "pass", "192.0.2.17:9100", "--as", "pwg"], "does not carry"),
        (["printer", "add", "pass", "192.0.2.17:9100", "--template", "napkin"], "'napkin'"),
        (["printer", "remove", "bar"], "There is no printer 'bar'"),
        (["printer", "test", "bar"], "There is no printer 'bar'"),
        (["template", "show", "napkin"], "'napkin'"),
        (["template", "show", "two-by-two", "--purpose", "party"], "'party'"),
        (["template", "new", "ours.toml"], "--size"),
        (["template", "new", "ours.toml", "--size", "huge"], "'huge' is no size"),
        (["sheet", "ruler", "papyrus"], "'papyrus'"),
    ],
    ids=lambda each: " ".join(each[:4]) if isinstance(each, list) else "",
)
def test_what_cannot_be_is_one_line_and_nothing_is_written(
    stock: Stock, words: list[str], says: str
) -> None:
    till = stock.till
    before = till.entries()
    typed = [stock.stock[0] if word == "STOCK" else word for word in words]
    assert says in till.run(*typed).refusal()
    assert till.entries() == before
    refused = till.run(*typed, "--json")
    assert refused.code == 2
    assert says.split("'", maxsplit=1)[0] in refused.out


# ---- templates -------------------------------------------------------------------------------


def test_a_template_of_ones_own_is_written_checked_looked_at_and_used(stock: Stock) -> None:
    till = stock.till
    till.ok("template", "new", "ours.toml", "--size", "60x40")
    assert (
        "is there already" in till.run("template", "new", "ours.toml", "--size", "60x40").refusal()
    )
    assert "no fault found" in till.ok("template", "check", "ours.toml")
    said = till.ok("template", "show", "ours.toml", "--to", "ours.png", COLUMNS="200")
    assert "chickpea stew" in said
    assert (till.folder / "ours.png").read_bytes().startswith(b"\x89PNG")
    assert till.data("label", stock.stock[0], "--template", "ours.toml")["printed"]["files"]
    file = till.folder / "ours.toml"
    whole = file.read_text()
    file.write_text(whole.replace("width = 60", "width = 30", 1))
    refused = till.run("label", stock.stock[0], "--template", "ours.toml").refusal()
    assert "more faults. All of them: holdlog template check ours.toml" in refused
    assert len(refused) < 300
    file.write_text(whole.replace("width = 60", 'width = "wide"\nhue = 1', 1))
    done = till.run("template", "check", "ours.toml")
    assert done.code == 2
    faults = done.err.splitlines()
    assert len(faults) == 2
    assert all("ours.toml" in fault for fault in faults)
    found = till.run("template", "check", "ours.toml", "--json").json()
    assert len(found[0]["faults"]) == 2


def test_the_lists_name_what_other_commands_take(till: Till) -> None:
    for form in till.data("template", "list"):
        assert till.data("template", "show", form["template"])["places"]
    for sheet in till.data("sheet", "list"):
        written = till.data("sheet", "ruler", sheet["sheet"])["file"]
        assert "100 mm" in PdfReader(till.folder / written).pages[0].extract_text()


# ---- a printer that reports back -------------------------------------------------------------


@pytest.mark.system
def test_a_printer_that_can_be_asked_is_asked_and_believed(till: Till) -> None:
    """With ippeveprinter (CUPS), a printer without paper for 2 x 2 inch labels at 203 dpi."""
    need("ippeveprinter")
    need("dbus-daemon")
    with paper_printer() as paper:
        added = till.data("printer", "add", "wall", paper.address)
        assert (added["as"], added["dpi"], added["default"]) == ("pwg", 203, True)
        assert added["condition"]["reachable"]
        assert "Test label: printed" in till.ok("printer", "test", "wall")
        paper.printed()
        made = till.data("prep", "chicken stock", "2l", "-c", "2")
        assert (made["printed"]["state"], made["printed"]["printer"]) == ("completed", "wall")
        assert len(paper.printed()) >= 1
        assert "label printed by wall" in till.ok(
            "why", made["containers"][0]["code"], COLUMNS="200"
        )
        paper.behaves('echo "STATE: media-empty-error" >&2\nexit 1')
        done = till.run("prep", "chicken stock", "2l")
        assert "wall did not print" in done.fault()
        assert len(till.data("label")) == 1
