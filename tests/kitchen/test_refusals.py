"""What cannot be is refused in one sentence, and nothing is half-written."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.codes import check_character
from holdlog.core.errors import Fault, HoldlogError, Mistake
from holdlog.core.moments import DAY, MINUTE, Instant
from holdlog.kitchen import correct, discard, handle, items, prep, printing
from holdlog.kitchen.setup import add_unit
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import Shop, at, temp

# A code that checks, of no container here.
ELSEWHERE = "H7K39QX" + check_character("H7K39QX")
Job = Callable[[Shop, str], object]


def _frozen(shop: Shop, code: str) -> None:
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)


def _later(shop: Shop) -> Instant:
    return Instant(shop.hand.now + 5 * MINUTE)


def _now(shop: Shop) -> Instant:
    return shop.hand.now


def _made_of(shop: Shop, *codes: str, **more: object) -> object:
    wanted = replace(shop.batch("fish stock"), made_from=codes, **more)  # type: ignore[arg-type]
    return prep.record(shop.kitchen, "mk", wanted)


REFUSED: dict[str, tuple[str, Job]] = {
    "an unknown item": ("no-item", lambda s, _: s.prep("unicorn soup")),
    "an item that could be three": ("no-item", lambda s, _: s.prep("stock")),
    "an unknown unit": ("no-unit", lambda s, _: s.prep(unit="cellar")),
    "a nameless unit": ("no-unit", lambda s, _: s.unit("  ")),
    "a code that does not check": (
        "bad-code", lambda s, _: handle.freeze(s.kitchen, "mk", "H7K39QX", _now(s), None)
    ),
    "a code of another kitchen": (
        "unknown-code", lambda s, _: handle.freeze(s.kitchen, "mk", ELSEWHERE, _now(s), None)
    ),
    "a batch made in the future": ("in-the-future", lambda s, _: s.prep(made="06-01 06:01")),
    "freezing in the future": (
        "in-the-future", lambda s, c: handle.freeze(s.kitchen, "mk", c, _later(s), None)
    ),
    "a discard in the future": (
        "in-the-future", lambda s, c: discard.discard(s.kitchen, "mk", c, _later(s), "off")
    ),
    "off the heat in the future": (
        "in-the-future", lambda s, _: s.prep(off_heat_at=_later(s))
    ),
    "a discard before it was made": (
        "too-early",
        lambda s, c: discard.discard(s.kitchen, "mk", c, Instant(s.hand.now - DAY), "off"),
    ),
    "freezing before it was made": (
        "too-early",
        lambda s, c: handle.freeze(s.kitchen, "mk", c, Instant(s.hand.now - DAY), None),
    ),
    "a dish made before its ingredient": (
        "too-early", lambda s, c: _made_of(s, c, at=Instant(s.hand.now - DAY))
    ),
    "thawing what is not frozen": (
        "not-frozen", lambda s, c: handle.thaw(s.kitchen, "mk", c, _now(s), "refrigerator", None)
    ),
    "freezing into the walk-in": (
        "no-freezer", lambda s, c: handle.freeze(s.kitchen, "mk", c, _now(s), s.unit("walk-in"))
    ),
    "opening what was made here": (
        "not-received", lambda s, c: handle.open_container(s.kitchen, "mk", c, _now(s))
    ),
    "a plain move into the freezer": (
        "not-a-move", lambda s, c: handle.move(s.kitchen, "mk", c, _now(s), s.unit("chest"))
    ),
    "a plain move into the hot box": (
        "not-a-move", lambda s, c: handle.move(s.kitchen, "mk", c, _now(s), s.unit("hot box"))
    ),
    "a plain move onto a shelf": (
        "not-a-move", lambda s, c: handle.move(s.kitchen, "mk", c, _now(s), s.unit("pass"))
    ),
    "a split onto a shelf": (
        "not-a-move", lambda s, c: handle.split(s.kitchen, "mk", c, _now(s), 2, s.unit("pass"))
    ),
    "a split into a hot box": (
        "not-a-move", lambda s, c: handle.split(s.kitchen, "mk", c, _now(s), 2, s.unit("hot"))
    ),
    "a split into nothing": (
        "bad-count", lambda s, c: handle.split(s.kitchen, "mk", c, _now(s), 0)
    ),
    "taking out more than is in it": (
        "too-much",
        lambda s, c: handle.split(
            s.kitchen, "mk", c, _now(s), 2, None, read_amount("2 l"), keep=True
        ),
    ),
    "pouring a tub into itself": (
        "same-code", lambda s, c: handle.top_up(s.kitchen, "mk", c, c, _now(s))
    ),
    "pouring two things together": (
        "not-one-thing",
        lambda s, c: handle.top_up(s.kitchen, "mk", c, s.live()[0].code, _now(s)),
    ),
    "a hot box that is none": (
        "no-unit",
        lambda s, c: handle.reheat(
            s.kitchen, "mk", c, _now(s), ev.Reheated(temp("165 F")), s.unit("walk-in")
        ),
    ),
    "no containers": ("bad-count", lambda s, _: s.prep(count=0)),
    "too many containers": ("bad-count", lambda s, _: s.prep(count=501)),
    "soup on a shelf": ("not-a-start", lambda s, _: s.prep(unit="pass shelf")),
    "a batch that begins in the freezer": ("not-a-start", lambda s, _: s.prep(unit="chest")),
    "a batch that begins in the hot box": ("not-a-start", lambda s, _: s.prep(unit="hot box")),
    "nobody's entry": (
        "no-name", lambda s, c: handle.freeze(s.kitchen, "  ", c, _now(s), None)
    ),
    "a discard for no reason": (
        "no-reason", lambda s, c: discard.discard(s.kitchen, "mk", c, _now(s), "")
    ),
    "a discard for a reason that could be two": (
        "no-reason", lambda s, c: discard.discard(s.kitchen, "mk", c, _now(s), "o")
    ),
    "another reason that is not said": (
        "no-reason", lambda s, c: discard.discard(s.kitchen, "mk", c, _now(s), "other")
    ),
    "an amount without a unit": (
        "bad-amount",
        lambda s, c: discard.discard(s.kitchen, "mk", c, _now(s), "off", read_amount("2")),
    ),
    "a batch with an amount without a unit": ("bad-amount", lambda s, _: s.prep(amount="6")),
    "an unknown allergen": ("no-allergen", lambda s, _: s.prep(allergens=("celery",))),
    "an item of an unknown category": (
        "no-category",
        lambda s, _: items.add_item(s.kitchen, "mk", ev.ItemAdded("gumbo", "../secrets")),
    ),
    "voiding an entry that is not there": (
        "no-entry", lambda s, _: correct.void(s.kitchen, "mk", 9999, "wrong")
    ),
    "voiding without saying why": (
        "no-reason", lambda s, _: correct.void(s.kitchen, "mk", s.entries()[-1].number, " ")
    ),
    "voiding the set-up": ("not-voidable", lambda s, _: correct.void(s.kitchen, "mk", 1, "no")),
    "voiding the rules": ("not-voidable", lambda s, _: correct.void(s.kitchen, "mk", 2, "no")),
    "confirming without evidence": (
        "no-reason", lambda s, _: correct.confirm(s.kitchen, "mk", s.entries()[-1].number, "")
    ),
    "confirming a unit": ("not-confirmable", lambda s, _: correct.confirm(s.kitchen, "mk", 3, "x")),
    "correcting without saying why": (
        "no-reason",
        lambda s, c: correct.correct_making(
            s.kitchen, "mk", c, correct.unchanged, Instant(s.hand.now - DAY), ""
        ),
    ),
    "a second unit of one name": (
        "unit-exists", lambda s, _: add_unit(s.kitchen, "mk", " Walk-In ", "walk-in")
    ),
    "a unit without a name": ("no-unit", lambda s, _: add_unit(s.kitchen, "mk", " ", "walk-in")),
}  # fmt: skip


@pytest.mark.parametrize("what", sorted(REFUSED))
def test_refused_and_nothing_is_written(shop: Shop, what: str) -> None:
    code = shop.tub(amount="3 l")
    shop.tub("garlic oil")
    wanted, job = REFUSED[what]
    before, head = shop.everything(), shop.entries()[-1].hash
    with pytest.raises(Mistake) as told:
        job(shop, code)
    assert told.value.code == wanted
    assert told.value.sentence
    assert shop.everything() == before
    assert shop.entries()[-1].hash == head


AFTER: dict[str, tuple[str, Callable[[Shop, str], object], Job]] = {
    "freezing twice": (
        "is-frozen", _frozen, lambda s, c: handle.freeze(s.kitchen, "mk", c, _now(s), None)
    ),
    "thawing into the freezer": (
        "no-unit", _frozen,
        lambda s, c: handle.thaw(s.kitchen, "mk", c, _now(s), "refrigerator", s.unit("chest")),
    ),
    "thawing on a shelf": (
        "no-unit", _frozen,
        lambda s, c: handle.thaw(s.kitchen, "mk", c, _now(s), "refrigerator", s.unit("pass")),
    ),
    "moving frozen food into the walk-in": (
        "not-a-move", _frozen,
        lambda s, c: handle.move(s.kitchen, "mk", c, _now(s), s.unit("walk-in")),
    ),
    "logging a cooling of frozen food": (
        "is-frozen", _frozen,
        lambda s, c: log_cooling(s.kitchen, "mk", c, _now(s), temp("40 F")),
    ),
    "pouring into frozen food": (
        "is-frozen", _frozen,
        lambda s, c: handle.top_up(s.kitchen, "mk", s.tub(), c, _now(s)),
    ),
    "discarding what is gone": (
        "gone", lambda s, c: handle.end(s.kitchen, "mk", c, _now(s), "used", None),
        lambda s, c: discard.discard(s.kitchen, "mk", c, _now(s), "off"),
    ),
    "using what was binned": (
        "gone", lambda s, c: discard.discard(s.kitchen, "mk", c, _now(s), "off"),
        lambda s, c: handle.end(s.kitchen, "mk", c, _now(s), "used", None),
    ),
    "a label for what is gone": (
        "gone", lambda s, c: discard.discard(s.kitchen, "mk", c, _now(s), "off"),
        lambda s, c: printing.print_labels(s.kitchen, "mk", [c], Path("nowhere")),
    ),
    "freezing what is out": (
        "one-way",
        lambda s, c: handle.take_out(s.kitchen, "mk", c, _now(s), ev.Out("4h", temp("40 F"))),
        lambda s, c: handle.freeze(s.kitchen, "mk", c, _now(s), None),
    ),
    "taking out twice": (
        "one-way",
        lambda s, c: handle.take_out(s.kitchen, "mk", c, _now(s), ev.Out("4h", temp("40 F"))),
        lambda s, c: handle.take_out(s.kitchen, "mk", c, _now(s), ev.Out("4h", temp("40 F"))),
    ),
    "serving what is on hold": (
        "unfit", lambda s, c: handle.reading(s.kitchen, "mk", c, _now(s), temp("60 F")),
        lambda s, c: handle.end(s.kitchen, "mk", c, _now(s), "sold", None),
    ),
    "cooking with what is on hold": (
        "unfit", lambda s, c: handle.reading(s.kitchen, "mk", c, _now(s), temp("60 F")),
        _made_of,
    ),
    "pouring what is on hold into what is good": (
        "unfit", lambda s, c: handle.reading(s.kitchen, "mk", c, _now(s), temp("60 F")),
        lambda s, c: handle.top_up(s.kitchen, "mk", s.live()[0].code, c, _now(s)),
    ),
    "voiding twice": (
        "is-voided",
        lambda s, _: correct.void(s.kitchen, "mk", s.facts("prepared")[-1].number, "wrong"),
        lambda s, _: correct.void(s.kitchen, "mk", s.facts("prepared")[-1].number, "wrong"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", sorted(AFTER))
def test_refused_after_something_happened(shop: Shop, what: str) -> None:
    wanted, first, job = AFTER[what]
    if what == "pouring into frozen food":
        other = shop.tub()
        _frozen(shop, other)
        with pytest.raises(Mistake) as frozen:
            handle.top_up(shop.kitchen, "mk", shop.tub(), other, _now(shop))
        assert frozen.value.code == wanted
        return
    shop.tub()
    code = shop.tub()
    first(shop, code)
    before, head = shop.everything(), shop.entries()[-1].hash
    with pytest.raises(Mistake) as told:
        job(shop, code)
    assert told.value.code == wanted
    assert (shop.everything(), shop.entries()[-1].hash) == (before, head)


def test_hot_food_goes_neither_into_the_walk_in_nor_the_freezer_unsaid(shop: Shop) -> None:
    code = shop.tub()
    handle.reheat(
        shop.kitchen, "mk", code, _now(shop), ev.Reheated(temp("165 F"), 15), shop.unit("hot box")
    )
    with pytest.raises(Mistake, match="cannot just be put") as told:
        handle.move(shop.kitchen, "mk", code, _now(shop), shop.unit("walk-in"))
    assert "holdlog cool" in told.value.hint
    with pytest.raises(Mistake) as told:
        handle.freeze(shop.kitchen, "mk", code, _now(shop), None)
    assert told.value.code == "is-hot"


def test_a_typo_in_a_code_names_the_tub_that_is_meant(shop: Shop) -> None:
    code = shop.tub()
    swapped = code[:2] + code[3] + code[2] + code[4:]
    if swapped == code:
        swapped = code[:-1] + ("2" if code[-1] != "2" else "3")
    with pytest.raises(Mistake) as told:
        handle.freeze(shop.kitchen, "mk", swapped, _now(shop), None)
    assert f"{code[:4]}-{code[4:]}" in told.value.hint


def test_a_clock_that_went_back_dates_nothing(shop: Shop) -> None:
    code = shop.tub()
    shop.hand.now = Instant(shop.hand.now - 3 * DAY)
    jobs: list[Callable[[], object]] = [
        lambda: shop.prep("garlic oil"),
        lambda: printing.print_labels(shop.kitchen, "mk", [code], Path("nowhere")),
    ]
    for job in jobs:
        with pytest.raises(Fault) as told:
            job()
        assert told.value.code == "clock-back"
        assert "Thu 28 May" not in told.value.hint
    assert not shop.facts("labelled")


def test_a_clock_set_right_by_a_minute_is_no_fault(shop: Shop) -> None:
    shop.tub()
    shop.hand.now = Instant(shop.hand.now - MINUTE)
    when = shop.hand.now
    shop.prep("garlic oil")
    entries = shop.entries()
    assert entries[-1].at == when
    assert entries[-1].recorded_at >= entries[-2].recorded_at


def test_a_kitchen_without_a_freezer_says_so(shop: Shop) -> None:
    code = shop.tub()
    units = {name: unit for name, unit in shop.kitchen.units.items() if not unit.freezes}
    with pytest.raises(Mistake) as told:
        handle.freeze(replace(shop.kitchen, units=units), "mk", code, at("06-01 06:00"), None)
    assert told.value.code == "no-freezer"
    assert "unit add" in told.value.hint


def test_every_refusal_says_what_to_do(shop: Shop) -> None:
    code = shop.tub(amount="3 l")
    shop.tub("garlic oil")
    silent = []
    for what, (_, job) in REFUSED.items():
        try:
            job(shop, code)
        except HoldlogError as error:
            if not error.hint:
                silent.append(what)
    assert silent in ([], ["confirming a unit"])
