"""A template that loads can be printed; one that cannot is refused with file, table and key."""

from pathlib import Path

import pytest

from holdlog.core.errors import BadFile
from holdlog.labels.template import load
from tests.labels.samples import TEMPLATE


def faults(tmp_path: Path, *changes: tuple[str, str]) -> tuple[str, ...]:
    """The faults of the template that comes with the program, after some changes to it."""
    text = TEMPLATE.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        load(path)
    assert all(fault.startswith(str(path)) for fault in caught.value.faults)
    return tuple(fault.removeprefix(f"{path}: ") for fault in caught.value.faults)


def test_the_template_that_comes_with_the_program_loads() -> None:
    template = load(TEMPLATE)
    assert (template.name, template.width, template.height) == ("two-by-two", 50.8, 50.8)


def test_a_missing_file_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match=r"none\.toml: cannot be read"):
        load(tmp_path / "none.toml")


def test_a_file_that_is_no_toml_is_one_clear_line(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("width = = 3", encoding="utf-8")
    with pytest.raises(BadFile, match=r"mine\.toml: cannot be read"):
        load(path)


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("[field.item]\n", "[field.item]\ncolour = 1\n", "[field.item] colour: unknown key"),
        ("title =", "titel =", "titel: unknown key"),
        ("title =", "titel =", "title: missing"),
        ("width = 50.8", 'width = "50.8"', "width: expected millimetres, got '50.8'"),
        ("width = 50.8", "width = nan", "width: expected millimetres, got nan"),
        ('kind = "qr"', 'kind = "aztec"', "[field.qr] kind: expected one of"),
        ('show = ["item"]', 'show = ["itme"]', "[field.item] show: unknown word 'itme'"),
        ('show = ["item"]', "show = []", "[field.item] show: expected at least one word"),
        ('on = ["dated", ', 'on = ["daetd", ', "[field.item] on: unknown word 'daetd'"),
        ("least = 1.7", "least = 1.2", "[field.item] least: 1.2 mm is below the floor of 1.5 mm"),
        ("largest = 3.5", "largest = 1.6", "[field.item] largest: 1.6 mm is less than least"),
        ("height = 8.1", "height = 2.0", "[field.item] height: 2.0 mm holds no line"),
        ("height = 8.1", "height = 9.9", "[field.line-above] x, y: overlaps [field.item]"),
        ("x = 1.6", "x = 4.0", "[field.item] x, y: the field leaves the label"),
        ("x = 3.0", "x = 1.6", "[field.bars] width, height: the white that the symbol needs"),
        ("width = 31.3", "width = 30.0", "[field.bars] width, height: a container code does not"),
        ("x = 37.4", "x = 36.0", "[field.qr] width, height: [field.bars] stands in the white"),
    ],
)
def test_a_fault_names_its_table_and_key(tmp_path: Path, old: str, new: str, fault: str) -> None:
    assert any(line.startswith(fault) for line in faults(tmp_path, (old, new)))


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    found = faults(
        tmp_path, ("least = 1.7", "least = 1.2"), ('kind = "qr"', 'kind = "qr"\nspin = 3')
    )
    assert len(found) == 2


def test_a_template_without_any_symbol_on_a_face_is_refused(tmp_path: Path) -> None:
    found = faults(
        tmp_path,
        ('kind = "bars"', 'kind = "bars"\non = ["dated"]'),
        ('kind = "qr"', 'kind = "qr"\non = ["dated"]'),
    )
    assert "[field] on: neither bars nor qr on the face 'frozen'" in found
    assert not any("face 'dated'" in line for line in found)


def test_a_template_that_never_shows_allergens_is_refused(tmp_path: Path) -> None:
    found = faults(
        tmp_path,
        ('show = ["made", "place", "allergens", "cautions"]', 'show = ["made", "place"]'),
    )
    assert any("no field shows 'allergens' on the face 'dated'" in line for line in found)
