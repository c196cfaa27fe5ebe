"""What a cook in a dim walk-in needs of a label: nothing torn apart, nothing cut without need."""

from dataclasses import replace

import pytest

from holdlog.labels import template
from holdlog.labels.faces import BARE, face
from holdlog.labels.label import Label, PackRule
from holdlog.labels.layout import Layout, TextMark, lay_out
from holdlog.labels.words import loose, measured, speak
from tests.labels.samples import NINE, a_label, crowded, every_face

NAMES = [name for name in template.names() if not template.find(name).turned]
ALL = every_face() | crowded()


def lines(layout: Layout, field: str = "") -> list[str]:
    return [
        loose(mark.text)
        for mark in layout.marks
        if isinstance(mark, TextMark) and mark.field.startswith(field)
    ]


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("name", NAMES)
def test_there_is_a_millimetre_of_white_all_around(name: str, dpi: int) -> None:
    # Common practice, no source: the first dots at an edge are the first that a printer loses.
    found = template.find(name)
    for key, label in ALL.items():
        if found.offers(face(label)):
            layout = lay_out(found, dpi, label)
            white = (
                min(mark.ink.x for mark in layout.marks),
                min(mark.ink.y for mark in layout.marks),
                layout.width - max(mark.ink.right for mark in layout.marks),
                layout.height - max(mark.ink.bottom for mark in layout.marks),
            )
            assert min(white) + 0.5 >= dpi / 25.4, (key, white)


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("57 °F for five hours", "57_°F for five hours"),
        ("2 l of stock, 30 days", "2_l of stock, 30_days"),
        ("pork, 12 of 24", "pork, 12 of 24"),
        ("3 large eggs", "3 large eggs"),
        ("5 °C", "5_°C"),
        ("4 h or 90 min", "4_h or 90_min"),
    ],
)
def test_a_number_stays_on_the_line_of_its_unit(text: str, kept: str) -> None:
    assert measured(text).replace("\N{NO-BREAK SPACE}", "_") == kept


@pytest.mark.parametrize("name", NAMES)
def test_no_line_ends_between_a_number_and_its_unit(name: str) -> None:
    label = every_face()["discard"]
    for reason in ("57 °F for five hours", "it stood at 57 °F", "read 57 °F at 06:00"):
        layout = lay_out(template.find(name), 203, replace(label, reason=reason))
        assert not any(line.startswith("°F") for line in lines(layout))


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_not_cut_within_a_word(name: str) -> None:
    found = template.find(name)
    for key, label in crowded().items():
        if found.offers(face(label)):
            for line in lines(lay_out(found, 203, label), "item"):
                if line.endswith("…"):
                    assert line[:-1].split()[-1] in label.item.split(), (key, line)


def test_no_allergen_is_cut_while_there_are_lines_for_it() -> None:
    found = template.find("62x40")
    for key, label in crowded().items():
        if face(label) not in BARE:
            text = " ".join(lines(lay_out(found, 203, label), "details"))
            assert all(name in text for name in NINE), key
            assert "no temperature logged" in text, key


@pytest.mark.parametrize("name", ["two-by-one", "50x30", "tray", "62x40"])
@pytest.mark.parametrize("key", ["hot-till", "frozen"])
def test_a_word_does_not_stand_on_a_line_by_itself_beside_a_state(name: str, key: str) -> None:
    layout = lay_out(template.find(name), 203, every_face()[key])
    beside = lines(layout, "beside")
    assert beside
    assert all(len(line.split()) > 1 for line in beside)


def test_a_reason_in_shreds_is_left_out_whole_and_told() -> None:
    label = every_face()["hold"]
    layout = lay_out(template.find("one-by-one"), 203, label)
    assert "reason" not in " ".join(lines(layout))
    assert "do not use yet" in " ".join(lines(layout))
    (warning,) = (each for each in layout.warnings if each.startswith("reason: "))
    assert label.held in warning


@pytest.mark.parametrize("name", ["two-by-one", "50x30", "62x40"])
def test_the_only_date_of_a_cooling_label_is_larger_than_its_small_print(name: str) -> None:
    layout = lay_out(template.find(name), 203, every_face()["cooling"])
    caps = {mark.field: mark.cap for mark in layout.marks if isinstance(mark, TextMark)}
    assert "SUN 7 JUN" in " ".join(lines(layout, "then"))
    assert caps["then"] > caps["code"]


@pytest.mark.parametrize("name", ["two-by-one", "50x30"])
def test_a_twin_has_its_date_larger_than_the_label_on_the_lid(name: str) -> None:
    found, label = template.find(name), every_face()["twin"]
    sizes = [
        mark.cap
        for each in (label, replace(label, twin=False))
        for mark in lay_out(found, 203, each).marks
        if isinstance(mark, TextMark) and mark.field.startswith("headline")
    ]
    assert sizes[0] > sizes[1]


@pytest.mark.parametrize("name", ["two-by-two", "one-by-one", "62x40", "tray"])
def test_a_cooling_label_has_its_date_in_the_second_language_too(name: str) -> None:
    layout = lay_out(template.find(name), 203, every_face()["cooling"], speak(("en", "es")))
    assert "luego caduca DOM 7 JUN" in " ".join(lines(layout))


def test_what_the_second_language_had_no_room_for_is_told() -> None:
    layout = lay_out(template.find("two-by-one"), 203, a_label(), speak(("en", "es")))
    assert "ALLERGENS celery, milk" in lines(layout)
    assert "allergens: cut to fit, not printed: apio, leche" in layout.warnings


# FDA Food Code 2022, 3-502.12(B)(3): 41 °F (5 °C) or below, 30 days from packing.
RULE = PackRule("41 °F (5 °C)", 30)


def _pack() -> Label:
    return replace(every_face()["pack"], pack_wording=(), pack_rule=RULE)


@pytest.mark.parametrize(
    ("languages", "parts"),
    [
        (("en",), ["keep at 41 °F (5 °C) or below", "within 30 days of packing"]),
        (("es",), ["mantener a 41 °F (5 °C) o menos", "en 30 días desde el envasado"]),
        (("fr",), ["garder à 41 °F (5 °C) ou moins", "les 30 jours après l'emballage"]),
        (("en", "es"), ["or below", "within 30 days of packing"]),
    ],
)
def test_a_pack_says_what_its_rule_wants_in_the_languages_of_the_label(
    languages: tuple[str, ...], parts: list[str]
) -> None:
    for name in ("two-by-two", "62x40", "tray", "62-continuous"):
        layout = lay_out(template.find(name), 203, _pack(), speak(languages))
        text = " ".join(lines(layout, "wording"))
        assert all(part in text for part in parts), name
        assert "…" not in text
        spanish = "desde el envasado" in text
        told = any("desde el envasado" in warning for warning in layout.warnings)
        assert spanish or told or "es" not in languages


def test_another_label_on_such_a_pack_says_that_the_wording_is_not_on_it() -> None:
    layout = lay_out(template.find("two-by-two"), 203, replace(_pack(), purpose="frozen"))
    assert any("leave the pack's own label on it" in warning for warning in layout.warnings)
