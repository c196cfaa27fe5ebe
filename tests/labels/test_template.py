"""A template that loads can be printed; one that cannot is refused with file, table and key."""

from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core.errors import BadFile, Mistake
from holdlog.labels.layout import lay_out
from holdlog.labels.template import find, load, names, starter
from tests.labels.samples import TEMPLATE, a_label, of


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


def test_of_a_long_path_the_name_of_the_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(Mistake, match=r"….*/our-label\.toml'"):
        find(str(tmp_path.joinpath(*["far-away"] * 12, "our-label.toml")))


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
        (
            'show = ["also", "made", "place", "allergens", "cautions"]',
            'show = ["also", "made", "place"]',
        ),
    )
    assert any("no field shows 'allergens' on the face 'dated'" in line for line in found)


# --- what a template may leave out, refuse, or grow by ------------------------------------------

DETAILS = 'show = ["also", "made", "place", "allergens", "cautions"]'


def test_what_a_template_does_not_show_it_has_to_say(tmp_path: Path) -> None:
    bare = (DETAILS, 'show = ["also", "made", "place", "cautions"]')
    found = faults(tmp_path, bare)
    assert any("name it in leaves_out" in line for line in found)
    text = TEMPLATE.read_text(encoding="utf-8").replace(*bare, 1)
    path = tmp_path / "mine.toml"
    path.write_text(text.replace("title =", 'leaves_out = ["allergens"]\ntitle =', 1), "utf-8")
    assert load(path).leaves_out == ("allergens",)


@pytest.mark.parametrize(
    ("new", "fault"),
    [
        ('leaves_out = ["alergens"]', "leaves_out: unknown word 'alergens', expected"),
        ('leaves_out = ["headline"]', "leaves_out: unknown word 'headline', expected"),
        ('leaves_out = ["allergens"]', "leaves_out: 'allergens' is shown on every face"),
        ('refuses = { pakc = "tray" }', "[refuses] pakc: unknown face, expected dated"),
        ('refuses = { dated = "tray" }', "[refuses] dated: every template has to offer this face"),
        ('refuses = { twin = "tray" }', "[refuses] twin: every template has to offer this face"),
        ('refuses = { pack = "" }', "[refuses] pack: expected the name of a template that offers"),
        ("longest = 40", "longest: 40.0 mm is not more than height, 50.8 mm"),
        ("longest = 90", "longest: no field grows"),
        ("turned = 1", "turned: expected true or false, got 1"),
        ('like = "tray"', "like: no template 'mine'"),
    ],
)
def test_a_fault_at_the_top_names_its_key(tmp_path: Path, new: str, fault: str) -> None:
    if new.startswith("like"):
        path = tmp_path / "mine.toml"
        path.write_text('title = "mine"\nlike = "mine"\n', encoding="utf-8")
        with pytest.raises(BadFile, match="like: no template 'mine' with fields of its own"):
            load(path)
        return
    found = faults(tmp_path, ("title =", f"{new}\ntitle ="))
    assert any(line.startswith(fault) for line in found), found


def test_a_field_cannot_grow_on_a_label_that_does_not(tmp_path: Path) -> None:
    found = faults(tmp_path, ('kind = "text"', 'kind = "text"\ngrows = true'))
    assert "[field.item] grows: the label has no longest length" in found


def test_a_template_may_refuse_what_it_has_no_room_for(tmp_path: Path) -> None:
    text = TEMPLATE.read_text(encoding="utf-8")
    path = tmp_path / "mine.toml"
    path.write_text(text.replace("title =", 'refuses = { pack = "tray" }\ntitle =', 1), "utf-8")
    assert not load(path).offers("pack")
    assert load(path).offers("dated")


@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        ('title = "mine"\nlike = "none"', "like: no template 'none' with fields of its own"),
        ('title = "mine"\nlike = "tray-turned"', "like: no template 'tray-turned'"),
        ('title = "mine"\nlike = "two-by-two-turned"', "like: no template 'two-by-two-turned'"),
        ('title = "mine"\nlike = "../tray"', "like: no template '../tray'"),
        ('title = "mine"\nlike = "tray"\nwidth = 30', "width: unknown key, expected title, like"),
        ('like = "tray"', "title: missing"),
        ('title = "mine"\nlike = "62-continuous"\nturned = true', "turned: a label that grows"),
    ],
)
def test_a_template_like_another_says_no_more_than_that(
    tmp_path: Path, lines: str, fault: str
) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(lines, encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        load(path)
    assert any(line.startswith(f"{path}: {fault}") for line in caught.value.faults)


def test_a_template_like_one_beside_it_is_turned(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(starter(60, 30), encoding="utf-8")
    path = tmp_path / "mine-turned.toml"
    path.write_text('title = "mine"\nlike = "mine"\nturned = true\n', encoding="utf-8")
    assert load(path).stock == (30.0, 60.0)
    assert load(path).name == "mine-turned"


# --- finding one --------------------------------------------------------------------------------


def test_a_template_is_found_by_its_name_or_by_the_path_of_its_file(tmp_path: Path) -> None:
    assert find("tray").name == "tray"
    path = tmp_path / "mine.toml"
    path.write_text(starter(60, 30), encoding="utf-8")
    assert find(str(path)).stock == (60.0, 30.0)


def test_a_name_nobody_knows_is_answered_with_those_there_are() -> None:
    with pytest.raises(Mistake, match="no label template 'trya'") as caught:
        find("trya")
    for name in names():
        assert name in caught.value.hint


# --- a new one ----------------------------------------------------------------------------------


@given(
    st.decimals(25, 210, places=1, allow_nan=False).map(float),
    st.decimals(25, 300, places=1, allow_nan=False).map(float),
)
def test_a_starter_of_any_size_loads_and_prints(width: float, height: float) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "mine.toml"
        path.write_text(starter(width, height), encoding="utf-8")
        template = load(path)
    assert template.stock == (width, height)
    for label in (a_label(), of("frozen"), of("time-control"), a_label(held="ask")):
        assert lay_out(template, 203, label).marks


@pytest.mark.parametrize("size", [(24.9, 40), (40, 24.9), (211, 40), (40, 301), (0, 0), (-1, 40)])
def test_a_size_that_no_starter_fits_is_refused(size: tuple[float, float]) -> None:
    with pytest.raises(Mistake, match="templates are made from 25 x 25 to 210 x 300 mm"):
        starter(*size)
