"""Facts as text and back."""

import types
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core import events
from holdlog.core.amounts import UNITS, Amount, read_amount
from holdlog.core.chain import FIRST, Entry
from holdlog.core.costs import Cost, Money
from holdlog.core.errors import Fault
from holdlog.core.events import KINDS, Fact
from holdlog.core.temperature import Temperature, read_temperature
from holdlog.journal.codec import SHAPES, VERSIONS, decode, encode, fact_of
from tests.journal.made import NOW

_PLAIN: dict[Any, st.SearchStrategy[Any]] = {
    str: st.text(),
    int: st.integers(),
    bool: st.booleans(),
    date: st.dates(),
    type(None): st.none(),
    Decimal: st.decimals(allow_nan=False, allow_infinity=False),
}


def anything_of(hint: Any) -> st.SearchStrategy[Any]:
    """Any value that the annotation of a fact's field allows."""
    if hint in _PLAIN:
        return _PLAIN[hint]
    if get_origin(hint) is Literal:
        return st.sampled_from(get_args(hint))
    if get_origin(hint) in (Union, types.UnionType):
        return st.one_of(*map(anything_of, get_args(hint)))
    if get_origin(hint) is tuple:
        return st.lists(anything_of(get_args(hint)[0]), max_size=3).map(tuple)
    assert is_dataclass(hint), hint
    parts = {name: anything_of(one) for name, one in get_type_hints(hint).items()}
    if hint is Amount:
        parts["unit"] = st.sampled_from(UNITS)
    if hint is Cost:
        parts["per"] = st.sampled_from(UNITS)
    made: Callable[..., Any] = hint
    return st.builds(made, **parts)


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data())
def test_every_fact_reads_back_as_it_was_written(kind: str, data: st.DataObject) -> None:
    fact: Fact = data.draw(anything_of(KINDS[kind]))
    written, version, body = encode(fact)
    assert written == kind
    assert decode(written, version, body) == fact
    # The digits that the probe showed are kept, not only their value.
    assert repr(decode(written, version, body)) == repr(fact)


def test_every_kind_has_a_shape_that_lists_all_its_fields() -> None:
    assert set(VERSIONS) == set(KINDS)
    for kind, made in KINDS.items():
        assert set(SHAPES[kind, VERSIONS[kind]]) == {field.name for field in fields(made)}, kind


# Old entries must keep their meaning for ever: these texts are what version 1 wrote. A change of
# a default in core/events.py, or of a spelling in the codec, turns one of them red.
WRITTEN = {
    '{"name":"Tern & Tide","scale":"F","zone":"America/New_York"}': events.KitchenSetUp(
        name="Tern & Tide", zone="America/New_York", scale="F", closed=()
    ),
    '{"books":[{"digest":"ab","id":"us-food-code-2022","role":"adopted"}]}': events.StackAdopted(
        books=(events.Book("us-food-code-2022", "adopted", "ab"),),
        conventions=None,
        ruling="",
    ),
    '{"order":2,"sort":"hot box"}': events.UnitAdded(sort="hot box", order=2),
    '{"category":"other","name":"miso"}': events.ItemAdded(
        name="miso",
        category="other",
        allergens=(),
        cautions=(),
        thaw_days=None,
        house_days=None,
        ready_to_eat=None,
        source="",
    ),
    '{"amount":"2 fl oz","food":{"category":"stock","item":"fumet","ph":"6.10"}}': events.Prepared(
        food=events.Food(
            item="fumet",
            category="stock",
            ph=Decimal("6.10"),
            aw=None,
            heat_treated=None,
            packaged=None,
            ready_to_eat=None,
            ambient_ingredients=False,
            made_on_site=None,
            commercial=False,
            variance=False,
            haccp_plan=False,
            susceptible_population=False,
            depth_in=None,
            depth_cm=None,
            reduced_oxygen=None,
            exempt_as=None,
            allergens=(),
            house_days=None,
        ),
        containers=(),
        unit="",
        amount=read_amount("2 fl oz"),
        made_from=(),
    ),
    '{"maker_use_by":"2026-06-07","temperature":"38.5 F"}': events.Received(
        temperature=read_temperature("38.5 F"),
        maker_use_by=date(2026, 6, 7),
        maker_date_for="safety",
        lot="",
        food=None,
        containers=(),
        unit="",
        amount=None,
    ),
    '{"containers":["H7K39QX2"]}': events.Opened(
        maker_use_by=None,
        maker_date_for="safety",
        lot="",
        food=None,
        containers=("H7K39QX2",),
        unit="",
        amount=None,
    ),
    '{"method":"ice bath"}': events.CoolingIn(surroundings=None, method="ice bath"),
    '{"unit":"chest freezer"}': events.Frozen(unit="chest freezer"),
    '{"method":"refrigerator"}': events.Thawed(method="refrigerator", unit=""),
    '{"held_seconds":15}': events.Reheated(temperature=None, held_seconds=15, took_minutes=None),
    '{"temperature":"58 C"}': events.HotHeld(temperature=read_temperature("58 C")),
    '{"temperature":"70 F"}': events.Out(plan="4h", temperature=read_temperature("70 F")),
    '{"how":"sous-vide"}': events.Packed(how="sous-vide"),
    '{"limit":"41 F"}': events.Excursion(
        limit=read_temperature("41 F"), seconds=0, unknown_seconds=0, peak=None
    ),
    '{"into":["H7K39QX2","J2M4P6R8"]}': events.Split(
        into=("H7K39QX2", "J2M4P6R8"), unit="", amount=None
    ),
    '{"poured_in":"H7K39QX2"}': events.ToppedUp(poured_in="H7K39QX2"),
    '{"into":"B2"}': events.Used(ended_as="used", amount=None, into="B2"),
    '{"amount":"500 g","part":true}': events.Used(amount=Amount(Decimal(500), "g"), part=True),
    '{"reason":"past its day"}': events.Discarded(reason="past its day", amount=None, note=""),
    '{"cost":{"currency":"EUR","number":"4.20"},"part":true}': events.Discarded(
        cost=Money(Decimal("4.20"), "EUR"), part=True
    ),
    '{"purpose":"use-by","template":"strip"}': events.Labelled(
        template="strip",
        purpose="use-by",
        use_by=None,
        days_left=None,
        copy=0,
        printer="",
        state="rendered",
    ),
    '{"printer":"pass","purpose":"frozen","state":"sent","template":"strip"}': events.Labelled(
        template="strip", purpose="frozen", printer="pass", state="sent"
    ),
    '{"printer":"pass","purpose":"frozen","reason":"no paper","template":"strip"}': (
        events.PrintFailed(template="strip", purpose="frozen", printer="pass", reason="no paper")
    ),
    '{"address":"10.0.0.9:9100","encoding":"zpl","route":"socket","template":"strip"}': (
        events.PrinterAdded(
            route="socket",
            address="10.0.0.9:9100",
            encoding="zpl",
            template="strip",
            dpi=203,
            default=False,
        )
    ),
    "{}": events.PrinterRemoved(),
    '{"languages":["en","es"]}': events.LabelWords(languages=("en", "es"), fonts=()),
    '{"entries":7,"file":"/mnt/stick/a.db","head":"9e7f"}': events.BackedUp(
        file="/mnt/stick/a.db", entries=7, head="9e7f"
    ),
    (
        '{"aside":"/k.before-restore-1.db","entries":7,"file":"/mnt/stick/a.db","head":"9e7f",'
        '"lost":2,"lost_from":1780000000000,"lost_head":"07ab","lost_to":1780000060000,"same":7}'
    ): events.Restored(
        file="/mnt/stick/a.db",
        entries=7,
        head="9e7f",
        same=7,
        lost=2,
        lost_from=1780000000000,
        lost_to=1780000060000,
        lost_head="07ab",
        aside="/k.before-restore-1.db",
    ),
    '{"days":92}': events.ClockFoundRight(days=92),
    '{"entry":7,"why":"wrong pan"}': events.Voided(entry=7, why="wrong pan"),
    '{"entry":7,"evidence":"clip board"}': events.Confirmed(entry=7, evidence="clip board"),
}


@pytest.mark.parametrize(("text", "fact"), WRITTEN.items(), ids=lambda one: type(one).__name__)
def test_the_texts_of_version_one_keep_their_meaning(text: str, fact: Fact) -> None:
    kind = events.KIND_OF[type(fact)]
    assert decode(kind, 1, text) == fact
    assert encode(fact) == (kind, 1, text)


@pytest.mark.parametrize(
    ("kind", "version", "body"),
    [
        ("sold-at-auction", 1, "{}"),
        ("prepared", 2, "{}"),
        ("prepared", 1, '{"colour":"red"}'),
        ("prepared", 1, '{"food":{"item":"a","category":"b","mood":"c"}}'),
        ("moved", 1, "{}"),
        ("moved", 1, '{"unit":1}'),
        ("moved", 1, '{"unit":"a","unit":"b"}'),
        ("moved", 1, "[]"),
        ("moved", 1, '{"unit":"walk-in"'),
        ("voided", 1, '{"entry":true,"why":"x"}'),
        ("voided", 1, '{"entry":1.5,"why":"x"}'),
        ("out", 1, '{"plan":"9h"}'),
        ("reading", 1, '{"temperature":"41"}'),
        ("reading", 1, '{"temperature":"41 K"}'),
        ("reading", 1, '{"temperature":"NaN F"}'),
        ("reading", 1, '{"temperature":" 41 F"}'),
        ("used", 1, '{"amount":"2 buckets"}'),
        ("received", 1, '{"maker_use_by":"07/06/2026"}'),
        ("split", 1, '{"into":"H7K39QX2"}'),
        ("labelled", 1, '{"purpose":"frozen","state":"failed","template":"strip"}'),
    ],
)
def test_what_is_not_understood_is_refused(kind: str, version: int, body: str) -> None:
    with pytest.raises(Fault) as caught:
        decode(kind, version, body)
    assert caught.value.code == "unknown-entry"


def test_the_refusal_names_the_entry() -> None:
    entry = Entry("tern-and-tide", 12, "teleported", 1, NOW, NOW, "MK", "", "B1", "{}", FIRST, "x")
    with pytest.raises(Fault, match=r"Entry 12 of tern-and-tide.*teleported"):
        fact_of(entry)


@pytest.mark.parametrize(
    "fact",
    [
        events.Moved(unit="half a character: \ud800"),
        events.Reading(Temperature(Decimal("NaN"), "F")),
        events.Reading(Temperature(Decimal(41), "K")),  # type: ignore[arg-type]
        events.Discarded(amount=Amount(Decimal(2), "buckets")),
        events.ItemAdded("miso", "other", cost=Cost(Decimal(2), "bucket")),
        events.Out(plan="9h"),  # type: ignore[arg-type]
        events.Moved(unit=None),  # type: ignore[arg-type]
        events.Received(maker_use_by=datetime(2026, 6, 7)),
        events.Split(into=["H7K39QX2"]),  # type: ignore[arg-type]
    ],
    ids=lambda fact: repr(fact)[:60],
)
def test_a_fact_that_could_not_be_read_again_is_not_written(fact: Fact) -> None:
    with pytest.raises(Fault) as caught:
        encode(fact)
    assert caught.value.code == "unwritable-entry"
