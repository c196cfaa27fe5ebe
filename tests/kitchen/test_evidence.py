"""A dash is no paper: what is said to rest on one rests on nothing, and is not written at all."""

from collections.abc import Callable

import pytest

from holdlog.core.errors import Mistake
from holdlog.kitchen.correct import confirm
from holdlog.kitchen.handle import reading
from holdlog.kitchen.settle import settle
from holdlog.kitchen.unit_read import read_unit
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import Shop, at, temp

LATE = at("06-01 08:00")
DOORS: dict[str, Callable[[Shop, str, str], object]] = {
    "a reading of the food": lambda shop, code, said: reading(
        shop.kitchen, "jr", code, LATE, temp("38F"), evidence=said
    ),
    "a reading of a cooling": lambda shop, code, said: log_cooling(
        shop.kitchen, "jr", code, LATE, temp("65F"), said
    ),
    "a reading of the unit": lambda shop, _, said: read_unit(
        shop.kitchen, "jr", shop.kitchen.unit("walk-in"), LATE, temp("38F"), evidence=said
    ),
    "food that was on hold": lambda shop, code, said: settle(
        shop.kitchen, "jr", code, "it was cold", said
    ),
    "a late entry": lambda shop, _, said: confirm(
        shop.kitchen, "jr", shop.entries()[-1].number, said
    ),
}


@pytest.mark.parametrize("door", DOORS)
def test_a_dash_is_no_evidence(shop: Shop, door: str) -> None:
    code = shop.tub()
    shop.it_is("06-02 09:00")
    before = shop.entries()
    for said in ("-", " – ", "…"):
        with pytest.raises(Mistake, match="names no paper and no logger") as caught:
            DOORS[door](shop, code, said)
        assert caught.value.code == "no-evidence"
    assert shop.entries() == before
