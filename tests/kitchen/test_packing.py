"""Packs with the oxygen reduced, and kitchens that serve highly susceptible people.

FDA Food Code 2022: 3-502.12(F), 48 hours without a HACCP plan; (B), 30 days under one; (C), fish
only frozen; 3-801.11(C), no raw seed sprouts where highly susceptible people are served.
"""

from dataclasses import replace

import pytest

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.kitchen import handle
from holdlog.kitchen.kitchen import look
from holdlog.kitchen.pack import pack
from holdlog.kitchen.printing import print_labels
from tests.kitchen.shop import Shop, at


def in_vacuum(shop: Shop, code: str, *, plan: bool = False) -> None:
    pack(shop.kitchen, "mk", code, shop.hand.now, "vacuum", haccp_plan=plan)


def test_without_a_plan_a_pack_is_opened_within_48_hours(shop: Shop) -> None:
    shop.it_is("06-01 10:00")
    code = shop.tub("beef shin, braised")
    in_vacuum(shop, code)
    row = shop.row(code)
    assert (row.binds, row.use_by) == ("reduced-oxygen-48h", at("06-03 10:00"))
    shop.it_is("06-02 10:00")
    handle.open_container(shop.kitchen, "mk", code, shop.hand.now)
    assert shop.row(code).binds == "prepared"


def test_under_a_plan_raw_meat_has_thirty_days_and_the_date_is_free_of_the_old_label(
    shop: Shop,
) -> None:
    shop.it_is("06-01 10:00")
    code = shop.tub("beef portion, raw", kind="received")
    in_vacuum(shop, code, plan=True)
    row = shop.row(code)
    assert (row.binds, row.last_day) == ("reduced-oxygen-two-barrier", "2026-06-30")


def test_a_pack_is_not_packed_again(shop: Shop) -> None:
    code = shop.tub("beef shin, braised")
    in_vacuum(shop, code)
    before = shop.entries()
    with pytest.raises(Mistake) as caught:
        in_vacuum(shop, code)
    assert caught.value.code == "is-packed"
    assert shop.entries() == before


def test_fish_is_packed_only_frozen_and_nothing_of_the_refusal_stays(shop: Shop) -> None:
    code = shop.tub("halibut portion, raw", kind="received")
    before = shop.entries()
    with pytest.raises(Mistake) as caught:
        in_vacuum(shop, code)
    assert caught.value.code == "not-allowed"
    assert shop.entries() == before
    assert shop.row(code).verdict == ""
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    shop.it_is("06-02 10:00")
    in_vacuum(shop, code)
    assert shop.row(code).state == "frozen"


def test_one_pack_without_a_plan_is_enough_to_lose_the_long_hold(shop: Shop) -> None:
    shop.it_is("06-01 10:00")
    code = shop.tub("beef portion, raw", kind="received")
    in_vacuum(shop, code)
    shop.it_is("06-01 11:00")
    handle.open_container(shop.kitchen, "mk", code, shop.hand.now)
    shop.it_is("06-01 12:00")
    in_vacuum(shop, code, plan=True)
    assert shop.row(code).use_by == at("06-03 12:00")


def test_an_opened_pack_gets_a_label_that_frees_it_of_the_hour(
    shop: Shop, tmp_path_factory: pytest.TempPathFactory
) -> None:
    shop.it_is("06-01 10:00")
    code = shop.tub("beef shin, braised")
    in_vacuum(shop, code)
    folder = tmp_path_factory.mktemp("labels")
    print_labels(shop.kitchen, "mk", [code], folder)
    shop.it_is("06-02 10:00")
    handle.open_container(shop.kitchen, "mk", code, shop.hand.now)
    assert shop.row(code).use_by == at("06-03 10:00"), "the printed hour binds until then"
    print_labels(shop.kitchen, "mk", [code], folder)
    assert shop.row(code).last_day == "2026-06-07"


def test_a_kitchen_for_susceptible_people_serves_no_sprouts(shop: Shop) -> None:
    from holdlog.kitchen.items import add_item

    shop.kitchen = replace(shop.kitchen, susceptible=True)
    add_item(shop.kitchen, "mk", ev.ItemAdded("mung bean sprouts", "sprouts"))
    code = shop.tub("mung bean sprouts")
    with shop.db.reading() as conn:
        _, found = look(shop.kitchen, conn, code, shop.hand.now)
    assert found.verdict == "refuse"
    assert "highly susceptible" in found.reason
