"""What the commands say of themselves: short, plain, and with examples that work."""

import re
import shlex
import shutil
from collections.abc import Callable
from dataclasses import replace

import pytest

from holdlog.cli.app import GROUPS, PLACES, SECTIONS
from tests.cli.conftest import Stock
from tests.cli.running import EXAMPLES, ROOT, Till

COMMANDS = list(PLACES)
# What an example in the help calls by these codes is something else for each command.
FIRST, SECOND = "H7K3-9QX2", "M2RT-44KD"


def examples(text: str) -> list[str]:
    """The command lines under "Example:" or "Examples:", joined where they go on."""
    part = re.search(r"^  Examples?:\n((?:    .*\n)+)", text, re.MULTILINE)
    if part is None:
        return []
    joined = re.sub(r" \\\n\s*", " ", part[1])
    return [re.sub(r"\s{2,}\(.*\)$", "", line.strip()) for line in joined.splitlines()]


def help_of(till: Till, command: str) -> str:
    return till.ok(*command.split(), "--help")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_example_works(stock: Stock, command: str) -> None:
    till = stock.till
    found = examples(help_of(till, command))
    assert found, f"the help of {command} has no example"
    shutil.copy(till.journal, till.folder.parent / "as-it-was.db")
    for number, example in enumerate(found):
        typed = shlex.split(example)
        assert " ".join(typed).startswith(f"holdlog {command}")
        kitchen = stock if number == 0 else copied(stock, f"again-{number}")
        words = prepare(kitchen, command)
        done = kitchen.till.run(*(words.get(word, word) for word in typed[1:]))
        assert done.code == 0, (example, done)


def copied(stock: Stock, name: str) -> Stock:
    """The kitchen as it was, for an example that follows another."""
    folder = stock.till.folder.parent / name
    folder.mkdir()
    shutil.copy(stock.till.folder.parent / "as-it-was.db", folder / "kitchen.db")
    return replace(stock, till=Till(folder))


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


def a_warm_walk_in(till: Till) -> None:
    """A logger's file of its, and food on hold for a reading between two good ones."""
    rows = [f"2026-06-01 0{n}:00,38.5" for n in range(6)]
    (till.folder / "walk-in.csv").write_text("\n".join(["Time,Temp °F", *rows, ""]))
    for degrees in ("38F", "52F", "38F"):
        till.ok("unit", "read", "walk-in", degrees)


def a_lot(stock: Stock) -> None:
    """A maker's goods with a lot."""
    stock.till.ok("receive", "ham, cooked", "--use-by", "2031-07-02", "--lot", "L-442", "--tape")


INVENTORY = """item,amount,unit,made on
chicken stock,2 l,walk-in,2026-06-01
"""


def ticked(stock: Stock) -> None:
    """What was ticked on a round sheet."""
    mark = stock.till.data("round", "sheet")["sheet"]
    lines = f"sheet {mark}\nbin {stock.stock[0][-4:]} date\nrest walk-in\n"
    (stock.till.folder / "ticked.txt").write_text(lines)


def a_backup(stock: Stock) -> None:
    """One of Monday, and food that was made since."""
    made = stock.till.data("backup")["file"]
    shutil.copy(made, stock.till.folder / "backups" / "monday.db")
    stock.till.ok("prep", "chicken stock", "1l", "--tape")


# What the examples of a command take for granted.
SCENES: dict[str, Callable[[Stock], object]] = {
    "whatif": lambda stock: shutil.copy(
        EXAMPLES / "combined-burgers-chili.toml", stock.till.folder / "soup.toml"
    ),
    "adopt": lambda stock: (stock.till.folder / "house.toml").write_text(HOUSE),
    "rulebook check": lambda stock: (stock.till.folder / "house.toml").write_text(HOUSE),
    "combine": lambda stock: stock.till.ok("item", "add", "bean soup", "-k", "cooked-dish"),
    "setup": lambda stock: stock.till.journal.unlink(),
    "printer test": lambda stock: stock.till.ok("printer", "add", "pass", "./labels-out"),
    "printer remove": lambda stock: stock.till.ok("printer", "add", "pass", "./labels-out"),
    "unit import": lambda stock: a_warm_walk_in(stock.till),
    "settle": lambda stock: a_warm_walk_in(stock.till),
    "template check": lambda stock: stock.till.ok(
        "template", "new", "our-label.toml", "--size", "50x30"
    ),
    "read": lambda stock: stock.till.ok("probe", "add", "red", "--scale", "F"),
    "cool": lambda stock: stock.till.ok("probe", "add", "red", "--scale", "F"),
    "probe check": lambda stock: stock.till.ok("probe", "add", "red", "--scale", "F"),
    "round": lambda stock: (stock.till.folder / "scans.txt").write_text(
        "\n".join(stock.stock) + "\n"
    ),
    "round show": lambda stock: stock.till.ok("round", "--unit", "walk-in"),
    "round sheet": ticked,
    "trace": a_lot,
    "recall": a_lot,
    "verify": lambda stock: stock.till.ok("export", "--to", "journal.jsonl"),
    "restore": a_backup,
    "import items": lambda stock: (stock.till.folder / "items.csv").write_text(
        stock.till.ok("import", "items", "--example")
    ),
    "import inventory": lambda stock: (stock.till.folder / "inventory.csv").write_text(INVENTORY),
}


def prepare(stock: Stock, command: str) -> dict[str, str]:
    """Bring about what the examples of ``command`` take for granted; what its words stand for."""
    till, (first, second) = stock.till, stock.stock
    own = {"thaw": stock.frozen, "cool": stock.cooling, "open": stock.ham, "correct": stock.ham}
    words = {FIRST: own.get(command, first), SECOND: second, "14:05": "00:05"}
    if command in SCENES:
        SCENES[command](stock)
    if command in ("void", "confirm"):
        story = till.data("why", stock.frozen)["story"]
        entry = next(each["entry"] for each in story if each["says"].startswith("frozen"))
        words |= {"112": str(entry), "113": str(entry)}
    elif command in ("verify", "doctor"):
        sheet = till.data("round", "sheet", "--to", "sheet.pdf")
        words["1204 9f3a1c22"] = f"{sheet['entry']} {sheet['head'][:8]}"
    elif command == "use":
        words[SECOND] = stock.ham  # only a maker's goods are returned
    elif command == "cool":
        words["14:05"] = till.data("why", stock.cooling)["made_at"][11:16]
    return words


@pytest.mark.parametrize("command", [*COMMANDS, *GROUPS, ""])
def test_help_fits_80_columns_and_shows_no_control_mark(till: Till, command: str) -> None:
    text = help_of(till, command)
    assert "\\b" not in text
    assert "\x08" not in text
    too_wide = [line for line in text.splitlines() if len(line) > 80 and "    holdlog" not in line]
    assert too_wide == []


def test_the_list_of_commands_says_each_in_a_line(till: Till) -> None:
    text = till.ok("--help")
    for title, commands in SECTIONS:
        assert f"{title}:" in text
        for name, _, says in commands:
            assert re.search(rf"^  {name} +{re.escape(says)}$", text, re.MULTILINE)


def test_a_bare_call_shows_the_help(till: Till) -> None:
    assert till.ok() == till.ok("--help")
    for group in GROUPS:
        assert till.ok(group) == till.ok(group, "--help")


def test_every_command_stands_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    # The demonstration is a target of the Makefile there.
    known = [name for name in COMMANDS if f"holdlog {name}" in readme]
    known += ["demo"] if "make demo" in readme else []
    assert sorted(set(COMMANDS) - set(known)) == []


def test_the_version_is_that_of_the_package(till: Till) -> None:
    from holdlog import __version__

    assert till.ok("--version") == f"holdlog {__version__}\n"


def test_every_listed_command_is_there() -> None:
    """The list and the functions are two places; a renamed function must not go unnoticed."""
    from importlib import import_module

    for place in PLACES.values():
        module, _, function = place.partition(":")
        assert callable(getattr(import_module(f"holdlog.cli.{module}"), function))
