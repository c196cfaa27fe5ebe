"""A month at Tern & Tide with some of everything that an inspector asks about."""

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.kitchen import correct, discard, handle, printing, probes, setup
from holdlog.kitchen.settle import settle
from tests.kitchen.cold import every, file, read, take_in
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import Shop, at, temp

LOGGER = [
    *every(30, "06-08 12:00", "06-10 02:00", "38.5"),
    *every(5, "06-10 02:00", "06-10 02:40", "44.5"),
    *every(30, "06-10 02:40", "06-10 12:00", "38"),
]
ODD = "crème brûlée à l'érable 燻製 " + "very long name " * 9
PAPER = "logger file walk-in"


def cooled(shop: Shop, code: str, *readings: tuple[str, str]) -> None:
    for wall, reading in readings:
        shop.it_is(wall)
        log_cooling(shop.kitchen, "mk", code, shop.hand.now, temp(reading))


def a_probe(shop: Shop) -> None:
    probes.add(shop.kitchen, "jr", "red", "FC")
    shop.it_is("06-01 07:00")
    probes.check(shop.kitchen, "jr", "red", shop.hand.now, temp("32F"))


def a_month(shop: Shop) -> dict[str, str]:
    """Work it; the codes by what they are."""
    kitchen = shop.kitchen
    a_probe(shop)
    found = {}
    shop.it_is("06-02 08:00")
    found["met"] = shop.tub("fish stock", amount="6 l", off_heat_at=shop.hand.now)
    cooled(shop, found["met"], ("06-02 09:30", "69F"), ("06-02 12:00", "40F"))
    shop.it_is("06-03 08:00")
    found["missed"] = shop.tub("chicken stock", amount="6 l", off_heat_at=shop.hand.now)
    cooled(
        shop,
        found["missed"],
        ("06-03 09:00", "130F"),
        ("06-03 12:00", "88F"),
        ("06-03 16:00", "60F"),
    )
    discard.discard(kitchen, "ab", found["missed"], shop.hand.now, "cooling", None, "ice ran out")
    shop.it_is("06-04 08:00")
    found["unlogged"] = shop.tub("white bean, cooked", amount="2 kg")
    shop.it_is("06-04 10:00")
    found["voided"] = shop.tub("hummus", amount="1 kg")
    discard.discard(kitchen, "mk", found["voided"], shop.hand.now, "dropped")
    entry = shop.facts("discarded")[-1].number
    correct.void(kitchen, "mk", entry, "=the wrong tub")
    shop.it_is("06-09 18:00")
    found["kept"] = shop.tub("vegetable stock", amount="3 l")
    found["binned"] = shop.tub("béchamel", amount="1.5 l")
    shop.it_is("06-10 12:30")
    take_in(shop, file(LOGGER))
    settle(kitchen, "jr", found["kept"], "40 min at 44 F, food read 40 F", PAPER)
    discard.discard(kitchen, "mk", found["binned"], shop.hand.now, "warm")
    shop.it_is("06-11 09:00")
    read(shop, "43F", "reach-in")
    read(shop, "39F", "reach-in", when="06-11 08:00")
    shop.it_is("06-12 09:00")
    discard.discard(kitchen, "mk", found["unlogged"], at("06-11 20:00"), "date")  # a day late
    printing.write_by_hand(kitchen, "mk", [found["kept"]])
    printing.write_by_hand(kitchen, "mk", [found["kept"]])
    with kitchen.writing("mk") as write:
        fact = ev.PrintFailed("two-by-two", "use-by", "pass", "out of paper")
        write.append((fact, write.recorded_at, found["kept"]))
        item = ev.ItemAdded(ODD, "cooked-dish")
        write.append((item, write.recorded_at, "odd"))
    shop.it_is("06-13 09:00")
    found["odd"] = shop.tub(ODD, amount="12 portions", unit="reach-in")
    handle.end(
        kitchen, "mk", found["odd"], shop.hand.now, "sold", read_amount("4 portions"), part=True
    )  # fmt: skip
    discard.discard(kitchen, "mk", found["odd"], shop.hand.now, "other", None, "=SUM(A1) tasted")
    shop.it_is("06-14 09:00")
    found["moved"] = shop.tub("hummus", amount="1 kg")
    shop.it_is("06-15 09:00")
    handle.freeze(kitchen, "mk", found["moved"], shop.hand.now, None)
    counting = ev.Conventions(freeze_day="does-not-count")
    setup.adopt(
        kitchen, "jr", ("us-food-code-2022", "us-mn"), counting, "A. Name, county, 3 May 2026"
    )  # fmt: skip
    shop.reopen()
    probes.check(shop.kitchen, "jr", "red", shop.hand.now, temp("35F"))
    return found
