"""Labels of one batch share most of what they say, and what is shared may be kept: none of it may
end up on a label of another.
"""

from dataclasses import replace
from random import Random

import pytest

from holdlog.core import codes
from holdlog.labels import faces, press, template
from holdlog.labels.label import Label
from holdlog.labels.template import Template
from tests.labels.samples import a_label, every_face, scan

OFFERED = [
    (name, kind)
    for name in template.names()
    for kind, label in every_face().items()
    if template.find(name).offers(faces.face(label))
]


def numbered(label: Label, number: int) -> Label:
    """The same label of another container."""
    code = codes.new_code(Random(number).choice)
    return replace(label, code=code, number=number, count=24, reprint=number % 3)


def picture(found: Template, label: Label) -> tuple[bytes, tuple[str, ...]]:
    made = press.render(found, 203, label)
    return made.image.tobytes(), made.warnings


@pytest.mark.parametrize(("name", "kind"), OFFERED)
def test_a_label_looks_the_same_first_and_last_of_its_batch(name: str, kind: str) -> None:
    label = every_face()[kind]
    found = template.find(name)
    # Another title makes it another template, of which nothing can have been kept.
    alone = [
        picture(replace(found, title=f"{number}"), numbered(label, number)) for number in (1, 5, 9)
    ]
    in_turn = [picture(found, numbered(label, number)) for number in range(1, 10)]
    assert [in_turn[0], in_turn[4], in_turn[8]] == alone
    assert len({dots for dots, _ in in_turn}) == 9


def test_two_batches_by_turns_keep_apart(two_by_two: Template) -> None:
    beans, soup = a_label(item="white bean, cooked"), a_label(item="leek soup")
    first = [picture(two_by_two, numbered(each, 1)) for each in (beans, soup)]
    for number in range(2, 6):
        for each in (beans, soup):
            picture(two_by_two, numbered(each, number))
    assert [picture(two_by_two, numbered(each, 1)) for each in (beans, soup)] == first
    assert first[0] != first[1]


def test_writing_on_a_drawn_label_does_not_touch_the_next(two_by_two: Template) -> None:
    label = a_label()
    drawn = press.render(two_by_two, 203, label).image
    before = drawn.tobytes()
    drawn.paste(0, (0, 0, *drawn.size))
    again = press.render(two_by_two, 203, label).image
    assert again.tobytes() == before
    assert scan(again) == {"bars": label.code, "qr": label.code}
