"""The doctor finds each kind of damage, and mends what can be mended."""

import pytest

from holdlog.core.errors import Fault
from holdlog.journal import tables
from holdlog.kitchen import discard, doctor, handle, setup
from tests.kitchen.shop import CONVENTIONS, Shop


def _busy(shop: Shop) -> str:
    code = shop.tub(amount="6 l")
    handle.split(shop.kitchen, "mk", code, shop.hand.now, 2, keep=True)
    shop.prep("fish stock", made_from=(code,))
    other = shop.tub("garlic oil")
    discard.discard(shop.kitchen, "mk", other, shop.hand.now, "off")
    return other


def _by_hand(shop: Shop, *statements: str) -> None:
    """As somebody with a database program would."""
    shop.db.close()
    with shop.db.engine.connect() as raw:
        for statement in statements:
            raw.exec_driver_sql(statement)
    shop.db.close()


def test_a_journal_that_is_whole_is_well(shop: Shop) -> None:
    _busy(shop)
    assert shop.bad() == []


DAMAGE = {
    "a date moved": "UPDATE container SET use_by = use_by + 86400000, last_day = '2026-06-30'",
    "a fault wiped": "UPDATE container SET verdict = '', reason = 'fine'",
    "a tub brought back": "UPDATE container SET ended_at = NULL",
    "a tub lost": "DELETE FROM container WHERE item = 'garlic-oil'",
    "a batch renamed": "UPDATE batch SET item_name = 'water' WHERE batch = 'B1'",
    "a link lost": "DELETE FROM link",
}


@pytest.mark.parametrize("what", sorted(DAMAGE))
def test_what_is_on_hand_and_not_in_the_journal_is_found_and_mended(shop: Shop, what: str) -> None:
    _busy(shop)
    before = shop.everything()
    _by_hand(shop, DAMAGE[what])
    assert shop.bad() == ["on-hand"]
    doctor.rebuild(shop.kitchen, "jr")
    assert shop.bad() == []
    assert shop.everything() == before


def test_a_code_that_is_no_text_any_more_is_found_and_mended(shop: Shop) -> None:
    """One flipped bit of a row's header makes octets of a text (sqlite.org, file format, 2.1)."""
    _busy(shop)
    before = shop.everything()
    _by_hand(shop, "UPDATE container SET code = x'' WHERE item = 'garlic-oil'")
    assert shop.bad() == ["on-hand"]
    doctor.rebuild(shop.kitchen, "jr")
    assert shop.bad() == []
    assert shop.everything() == before


# How a person with rights gets an entry changed, and covers it up.
GUARD = {
    "sqlite": ("DROP TRIGGER entry_no_update", tables.TRIGGERS["entry_no_update"]),
    "postgresql": (
        "ALTER TABLE entry DISABLE TRIGGER entry_no_change",
        "ALTER TABLE entry ENABLE TRIGGER entry_no_change",
    ),
}


def test_an_edited_entry_is_found_and_nothing_is_rebuilt_from_it(shop: Shop) -> None:
    _busy(shop)
    before = shop.everything()
    off, on = GUARD[shop.db.engine.dialect.name]
    _by_hand(shop, off, "UPDATE entry SET at = at - 86400000 WHERE kind = 'discarded'", on)
    assert shop.bad() == ["chain"]
    with pytest.raises(Fault) as told:
        doctor.rebuild(shop.kitchen, "jr")
    assert told.value.code == "broken-chain"
    assert shop.everything() == before


def test_a_missing_guard_is_found(shop: Shop) -> None:
    _by_hand(shop, GUARD[shop.db.engine.dialect.name][0])
    assert shop.bad() == ["triggers"]


def test_old_decisions_replay_under_the_rules_of_their_day(shop: Shop) -> None:
    _busy(shop)
    ruling = CONVENTIONS.__class__(freeze_day="does-not-count")
    shop.it_is("06-02 09:00")
    setup.adopt(shop.kitchen, "jr", ["us-food-code-2022"], ruling, "A. Name, county, 2 June 2026")
    shop.reopen()
    assert shop.bad() == []
    assert {row.judged_at for row in shop.live()} == {shop.hand.now}


def test_an_adoption_that_fails_leaves_nothing_behind(shop: Shop) -> None:
    code = shop.tub()
    before, head = shop.row(code), shop.entries()[-1].hash
    with pytest.raises(Exception, match="nowhere"):
        setup.adopt(shop.kitchen, "jr", ["us-food-code-2022", "nowhere.toml"], CONVENTIONS, "")
    assert (shop.row(code), shop.entries()[-1].hash) == (before, head)
