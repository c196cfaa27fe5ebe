"""Rulebooks, categories, templates, sheets and scenarios that somebody broke, or made to harm."""

import string
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.cli.scenario import in_words
from holdlog.core.errors import BadFile
from holdlog.core.toml_table import DEEPEST, parse
from holdlog.kitchen.shelf import find_book, find_category, load_book
from holdlog.labels import sheet_stock, template
from holdlog.labels.template_check import CHECKED_DPI
from holdlog.rules import category, scenario
from holdlog.rules.stack import build
from tests.fuzz.hostile import VALUES, attempt, clear, damaged, rewritten, searched

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = {
    "rulebook": "shared/rulebooks",
    "category": "shared/categories",
    "scenario": "shared/worked_examples",
    "template": "label_templates",
    "sheet": "label_templates/sheets",
}
FILES = {
    kind: [path.read_text(encoding="utf-8") for path in sorted((ROOT / folder).glob("*.toml"))]
    for kind, folder in FOLDERS.items()
}
LINES = {kind: sorted({line for text in texts for line in text.split("\n") if line.strip()})
         for kind, texts in FILES.items()}  # fmt: skip


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("files") / "mine.toml"


def text_files(kind: str) -> st.SearchStrategy[bytes]:
    def spoilt(text: str) -> st.SearchStrategy[bytes]:
        near = rewritten(text, VALUES, LINES[kind])
        return st.one_of(near, near, near).map(_octets) | damaged(text.encode())

    return st.sampled_from(FILES[kind]).flatmap(spoilt)


def _octets(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def as_rulebook(data: bytes, file: Path) -> None:
    file.write_bytes(data)
    book = load_book(str(file))
    assert all(rule.source.cite and rule.source.says for rule in book.rules.values())
    law = [] if book.role == "adopted" else [load_book("us-food-code-2022")]
    stack = attempt(lambda: build([*law, book], {}))
    if stack is not None and book.role == "house":
        # A house may only tighten: what was law before is law still.
        assert law[0].rules.items() <= stack.rules.items()


def as_category(data: bytes, file: Path) -> None:
    text = data.decode()
    found = category.load(text, file.name)
    assert all((each.days is None) != (each.freezer_months is None) for each in found.guidance)


def as_scenario(data: bytes, file: Path) -> None:
    read = scenario.read(data.decode(), file.name, find_book, find_category)
    result = scenario.answer(read)
    scenario.unmet(read, result)
    items = {name: history.food.item for name, history in read.histories.items()}
    in_words(result, items, scenario.coolings_told(read))
    for held in result["batches"].values():
        limits = [each["limit"] for each in held["basis"] if each["binds"] and each["limit"]]
        assert held["use_by"] is None or not limits or held["use_by"] in limits


def as_template(data: bytes, file: Path) -> None:
    file.write_bytes(data)
    found = template.load(file)
    assert 0 < found.width < 1000
    assert 0 < found.height < 1000
    assert all(template.symbol(each, dpi) is not None for dpi in CHECKED_DPI
               for each in found.fields if each.kind in ("bars", "qr"))  # fmt: skip


def as_sheet(data: bytes, file: Path) -> None:
    file.write_bytes(data)
    found = sheet_stock.load(file)
    last = found.place(found.places)
    assert last.right <= found.page[0] + 0.02
    assert last.bottom <= found.page[1] + 0.02


READERS: dict[str, Callable[[bytes, Path], None]] = {
    "rulebook": as_rulebook,
    "category": as_category,
    "scenario": as_scenario,
    "template": as_template,
    "sheet": as_sheet,
}


@pytest.mark.parametrize("kind", READERS)
@given(data=st.data())
@searched(60)
def test_a_spoilt_file_is_read_rightly_or_refused_with_a_clear_line(
    kind: str, file: Path, data: st.DataObject
) -> None:
    content = data.draw(text_files(kind))
    try:
        content.decode()
    except UnicodeDecodeError:
        if kind in ("category", "scenario"):
            return  # handed in as text
    attempt(lambda: READERS[kind](content, file))


_KEYS = st.text(string.ascii_lowercase, min_size=1, max_size=2)
_SCALARS = st.one_of(
    st.integers(), st.floats(), st.booleans(), st.text(max_size=5), st.dates(), st.datetimes()
)


@given(st.dictionaries(_KEYS, st.recursive(_SCALARS, lambda inner: st.lists(inner, max_size=3))))
@searched(40)
def test_a_table_of_anything_gives_each_reader_a_value_or_a_fault(found: dict[str, Any]) -> None:
    from holdlog.core.toml_table import Table

    for key in found:
        for method in ("text", "flag", "whole", "number", "day", "wall_time", "temperature",
                       "limit", "texts", "rows", "table", "tables"):  # fmt: skip
            table = Table(found, "f.toml", "", [])
            value = getattr(table, method)(key)
            try:
                table.refuse_faults("bad")
            except BadFile as error:
                clear(error)
            else:
                assert value is not None


@pytest.mark.parametrize("deep", [DEEPEST, 10_000])
@pytest.mark.parametrize(
    "write",
    [
        lambda n: f"{'a.' * n}a = 1",
        lambda n: f"{'a . ' * n}a = 1",
        lambda n: f"[{'a.' * n}a]\nx = 1",
        lambda n: f"[[{'a.' * n}a]]\nx = 1",
        lambda n: '"a".' * n + "a = 1",
        lambda n: "'a'." * n + "a = 1",
        lambda n: "x = { " + "a." * n + "a = 1 }",
    ],
)
def test_a_key_of_very_many_parts_is_refused_before_it_is_read(
    write: Callable[[int], str], deep: int
) -> None:
    """CPython's tomllib takes time and memory with the square of them: 50,000 parts, 14 s."""
    with pytest.raises(BadFile, match=f"more than {DEEPEST} parts"):
        parse(write(deep), "f.toml")
    parse(write(DEEPEST - 1), "f.toml")


@pytest.mark.parametrize("opened", ["[", "{a=", "[{a=["])
def test_values_in_values_in_values_are_refused(opened: str) -> None:
    with pytest.raises(BadFile, match="nested too deep"):
        parse("x = " + opened * 10_000, "f.toml")


def test_a_file_may_begin_with_a_mark(file: Path) -> None:
    """Editors of Windows write one; TOML 1.0 knows none, so it is taken off as a file is read."""
    file.write_bytes(b"\xef\xbb\xbf" + FILES["sheet"][0].encode())
    assert sheet_stock.load(file).places
    file.write_bytes(b"\xef\xbb\xbf" + FILES["rulebook"][0].encode())
    assert load_book(str(file)).rules


def test_a_scenario_of_dishes_made_of_dishes_is_worked_out_however_deep() -> None:
    layers = 250
    lines = ['timezone = "UTC"', 'rulebooks = ["us-food-code-2022"]']
    for n in range(layers):
        made_from = f'made_from = ["b{n - 1}", "b{max(0, n - 2)}"]' if n else ""
        lines += [f"[batch.b{n}]", 'category = "cooked-dish"', made_from, f"[[batch.b{n}.event]]",
                  'event = "prepared"', "at = 2026-06-01T08:00:00"]  # fmt: skip
    read = scenario.read("\n".join(lines), "f.toml", find_book, find_category)
    held = scenario.fold(read)
    assert len(held) == layers
    assert len({each.use_by for each in held.values()}) == 1
