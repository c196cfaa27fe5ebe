"""Two kitchens in one database: each sees, counts and changes its own food and nobody else's."""

import threading
from dataclasses import replace

import pytest

from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import HOUR, Instant
from holdlog.journal.engine import open_database
from holdlog.kitchen import discard, doctor, due, setup, trace
from holdlog.kitchen.kitchen import find_container, open_kitchen
from holdlog.kitchen.recall import recall
from tests.kitchen.shop import PLAN, Hand, Shop

OTHER = "boat-shed"


@pytest.fixture
def sites(shop: Shop) -> tuple[Shop, Shop]:
    """Tern & Tide and its boat shed, which draws the same codes."""
    hand = Hand()
    plan = replace(PLAN, name="The Boat Shed", units=(("cellar", "walk-in"),))
    setup.set_up(shop.db, hand.clock, "SL", plan, site=OTHER)
    shed = open_kitchen(shop.db, hand.clock, hand.draw, site=OTHER)
    return shop, Shop(shop.db, shop.path, hand, shed, shop.url)


def test_a_second_kitchen_whose_clock_is_behind_leaves_the_shared_rulebooks_sound(
    shop: Shop,
) -> None:
    """A book that both adopted was kept by the first, by whose clock that is later."""
    hand = Hand()
    hand.now = Instant(shop.hand.now - HOUR)
    plan = replace(PLAN, name="The Boat Shed", units=(("cellar", "walk-in"),))
    setup.set_up(shop.db, hand.clock, "SL", plan, site=OTHER)
    assert shop.bad() == []


def test_the_same_code_in_two_kitchens_is_two_tubs(sites: tuple[Shop, Shop]) -> None:
    main, shed = sites
    code = main.tub("chicken stock", made="06-01 05:00")
    assert shed.tub("fish stock", unit="cellar", made="06-01 05:00") == code
    assert main.row(code).item_name == "chicken stock"
    assert shed.row(code).item_name == "fish stock"
    discard.discard(main.kitchen, "mk", code, main.hand.now, "off")
    assert main.live() == []
    assert [row.item_name for row in shed.live()] == ["fish stock"]
    with shed.db.reading() as conn:
        assert find_container(shed.kitchen, conn, code).ended_at is None
    assert main.bad() == shed.bad() == []
    assert {entry.site for entry in main.entries()} == {main.kitchen.site}
    assert {entry.site for entry in shed.entries()} == {OTHER}


def test_no_job_of_one_kitchen_finds_food_of_the_other(sites: tuple[Shop, Shop]) -> None:
    main, shed = sites
    shed.hand.draw("ABC")  # so that the codes differ
    code = main.tub("chicken stock", made="06-01 05:00")
    main.prep("fish stock", made_from=(code,))
    before = main.everything(), main.entries()
    assert shed.kitchen.name == "The Boat Shed"
    assert set(shed.kitchen.units) == {"cellar"}
    with pytest.raises(Mistake, match=show(code)), shed.db.reading() as conn:
        find_container(shed.kitchen, conn, code)
    with pytest.raises(Mistake):
        trace.trace(shed.kitchen, code)
    with pytest.raises(Mistake):
        discard.discard(shed.kitchen, "sl", code, shed.hand.now, "off")
    assert due.everything(shed.kitchen) == []
    doctor.rebuild(shed.kitchen, "sl")
    assert (main.everything(), main.entries()) == before
    assert main.bad() == []


def test_a_kitchen_is_set_up_once_a_site_even_by_three_at_once(sites: tuple[Shop, Shop]) -> None:
    main, _ = sites
    with pytest.raises(Mistake) as caught:
        setup.set_up(main.db, main.hand.clock, "JR", PLAN, site=OTHER)
    assert caught.value.code == "journal-exists"
    codes: list[str] = []

    def begin() -> None:
        db = open_database(main.where, wait_ms=20_000)
        try:
            setup.set_up(db, main.hand.clock, "JR", PLAN, site="pier")
            codes.append("made")
        except Mistake as mistake:
            codes.append(mistake.code)
        db.close()

    threads = [threading.Thread(target=begin) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(codes) == ["journal-exists", "journal-exists", "made"]
    pier = open_kitchen(main.db, main.hand.clock, main.hand.draw, site="pier")
    assert replace(main, kitchen=pier).bad() == []
    with pytest.raises(Mistake) as caught:
        open_kitchen(main.db, main.hand.clock, main.hand.draw, site="nowhere")
    assert caught.value.code == "no-kitchen"
    assert "nowhere" in caught.value.line()


def test_a_recall_says_which_other_site_had_the_lot_and_holds_nothing_there(
    sites: tuple[Shop, Shop],
) -> None:
    main, shed = sites
    code = main.tub("cream, opened", kind="received", lot="L442")
    there = shed.tub("cream, opened", kind="received", lot="l-442", unit="cellar")
    shed.tub("cream, opened", kind="received", lot="L977", unit="cellar")
    done = recall(main.kitchen, "jr", "", "L442", "listeria")
    assert done.elsewhere == (OTHER,)
    assert (main.row(code).verdict, shed.row(there).verdict) == ("hold", "")
    assert recall(shed.kitchen, "", "", "L977", "", dry_run=True).elsewhere == ()
