"""What is written down after the unit was read is held for the hours it stood there."""

from holdlog.core import events as ev
from holdlog.kitchen import cool
from holdlog.kitchen.caught_up import caught_up
from holdlog.kitchen.correct import correct_making, unchanged
from holdlog.kitchen.handle import move
from tests.kitchen.cold import every, excursions, file, read, take_in
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import Shop, at, temp

# Good, 50 °F from 03:00 to 05:40, good again: see test_excursions, 9760 seconds.
NIGHT = [
    *every(5, "06-01 21:00", "06-02 03:00", "38.5"),
    *every(5, "06-02 03:00", "06-02 05:40", "50"),
    *every(5, "06-02 05:40", "06-02 06:30", "38"),
]


def entered_late(shop: Shop, made: str) -> str:
    return shop.tub("white bean, cooked", made=made)


def test_a_batch_entered_after_the_import_is_held_like_what_stood_beside_it(shop: Shop) -> None:
    there = shop.tub()
    shop.it_is("06-02 07:00")
    take_in(shop, file(NIGHT))
    code = entered_late(shop, "06-01 20:00")
    (found,), (beside,) = excursions(shop, code), excursions(shop, there)
    assert (found[1], found[2].seconds) == (beside[1], 9760)
    assert shop.row(code).verdict == "hold"
    # Once is enough, and what stood beside it is left as it was.
    again = shop.entries()
    with shop.kitchen.writing("mk") as write:
        assert caught_up(write, [code, there], at("06-01 20:00")) == {}
    assert shop.entries() == again
    assert shop.bad() == []


def test_a_batch_entered_after_the_unit_was_read_too_warm_is_held(shop: Shop) -> None:
    there = shop.tub()
    read(shop, "38 F", when="06-01 06:00")
    shop.it_is("06-01 12:00")
    read(shop, "52 F")
    shop.it_is("06-01 12:30")
    code = entered_late(shop, "06-01 08:00")
    assert [fact.unknown_seconds for _, _, fact in excursions(shop, code)] == [4 * 3600]
    assert len(excursions(shop, there)) == 1
    assert shop.row(code).verdict == "hold"
    assert shop.bad() == []


def test_a_batch_made_earlier_than_was_thought_is_held_for_what_it_missed(shop: Shop) -> None:
    shop.it_is("06-02 06:45")
    code = shop.tub()
    shop.it_is("06-02 07:00")
    take_in(shop, file(NIGHT))
    assert excursions(shop, code) == []
    done = correct_making(
        shop.kitchen, "mk", code, unchanged, at("06-01 20:00"), "made the evening before"
    )
    assert [row.verdict for row in done.rows] == ["hold"]
    assert [fact.seconds for _, _, fact in excursions(shop, code)] == [9760]
    assert shop.row(code).verdict == "hold"
    assert shop.bad() == []


def test_a_move_written_the_day_after_frees_nothing_of_the_night_before(shop: Shop) -> None:
    """Said only afterwards, that it had left before the unit warmed up proves nothing."""
    there, moved = shop.tub(), shop.tub()
    shop.it_is("06-01 22:00")
    in_time = shop.tub()
    move(shop.kitchen, "mk", in_time, shop.hand.now, shop.unit("reach-in"))
    shop.it_is("06-02 06:50")
    move(shop.kitchen, "mk", moved, at("06-01 22:00"), shop.unit("reach-in"))
    shop.it_is("06-02 07:00")
    take_in(shop, file(NIGHT))
    seconds = {code: fact.seconds for code, _, fact in excursions(shop)}
    assert seconds == {there: 9760, moved: 9760}
    assert shop.row(in_time).verdict == ""
    assert shop.bad() == []


def test_what_came_in_after_the_bad_hours_is_left_alone(shop: Shop) -> None:
    shop.it_is("06-02 07:00")
    take_in(shop, file(NIGHT))
    code = entered_late(shop, "06-02 06:00")
    assert excursions(shop, code) == []
    assert shop.row(code).verdict == ""


def test_a_pot_said_later_to_have_been_put_in_the_walk_in_stood_there(shop: Shop) -> None:
    pot = shop.prep("chicken stock", 1, unit="reach-in", off_heat_at=shop.hand.now).rows[0].code
    for wall, reads in (("06-01 07:50", "69 F"), ("06-01 11:50", "41 F")):
        shop.it_is(wall)
        log_cooling(shop.kitchen, "mk", pot, shop.hand.now, temp(reads))
    read(shop, "38 F", when="06-01 08:00")
    shop.it_is("06-01 13:00")
    read(shop, "52 F")
    assert shop.row(pot).verdict == ""
    shop.it_is("06-01 13:30")
    walk_in = cool.PutIn("walk-in", shop.unit("walk-in"))
    fact: list[tuple[ev.Fact, int]] = []
    cool.log(shop.kitchen, "mk", pot, at("06-01 12:00"), fact, put_in=walk_in)  # type: ignore[arg-type]
    assert [fact.unknown_seconds for _, _, fact in excursions(shop, pot)] == [3600]
    assert shop.row(pot).verdict == "hold"
    assert shop.bad() == []
