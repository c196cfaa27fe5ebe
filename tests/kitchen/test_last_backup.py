"""What the doctor says of backups, and of what killed programs left: by the whole database."""

import os
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from holdlog.core import events as ev
from holdlog.core.moments import HOUR, Instant
from holdlog.journal.checks import Finding
from holdlog.journal.engine import open_database
from holdlog.journal.entries import head
from holdlog.kitchen import doctor, setup
from holdlog.kitchen.backup_files import Keeping
from holdlog.kitchen.backups import back_up, last_good
from holdlog.kitchen.kitchen import KITCHEN, Kitchen, open_kitchen
from holdlog.kitchen.restoring import restore
from holdlog.kitchen.taken_back import Signed
from tests.kitchen.shop import PLAN, Hand, Shop

SHED = "boat-shed"
KEEPING = Keeping()
DAY = 24 * HOUR


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "stick"
    made.mkdir()
    return made


@pytest.fixture
def shed(shop: Shop) -> Shop:
    """The boat shed of Tern & Tide, in the same database, with a station of its own."""
    hand = Hand()
    hand.now = Instant(shop.hand.now + HOUR)
    plan = replace(PLAN, name="The Boat Shed", units=(("cellar", "walk-in"),))
    setup.set_up(shop.db, hand.clock, "SL", plan, site=SHED)
    hand.now = Instant(hand.now + HOUR)
    kitchen = open_kitchen(shop.db, hand.clock, hand.draw, site=SHED, station="shed")
    return Shop(shop.db, shop.path, hand, kitchen, shop.url)


def holds(kitchen: Kitchen, file: Path) -> int:
    """What a backup has of a site, read in the file itself."""
    with closing(open_database(file)) as db, db.reading() as conn:
        return head(conn, kitchen.site)[0]


def test_a_backup_of_another_sites_station_counts_as_far_as_it_holds_this_sites_entries(
    shop: Shop, shed: Shop, folder: Path
) -> None:
    shop.tub()
    made = back_up(shed.kitchen, "sl", folder, KEEPING)
    number = holds(shop.kitchen, made.file)
    assert number == shop.entries()[-1].number
    told = last_good(shop.kitchen)
    assert told.ok
    assert (
        f"entry {number}, made by the site {SHED} at station shed; no entry is since" in told.says
    )
    assert f"entry {made.entries}; no entry is since" in last_good(shed.kitchen).says
    shop.tub()
    shop.tub()
    since = shop.entries()[-1].number - number
    assert f"{since} entries are since" in last_good(shop.kitchen).says
    # An own one that has more is the last one, though the other site's may be as young.
    own = back_up(shop.kitchen, "jr", folder, KEEPING)
    assert (
        f"entry {own.entries}; no entry is since. It is {own.file}" in last_good(shop.kitchen).says
    )
    # And from then on it is the other site's that is told of once it has more again.
    shop.tub()
    shed.hand.now = Instant(shop.hand.now + DAY)
    newer = back_up(shed.kitchen, "sl", folder, KEEPING)
    told = last_good(shop.kitchen)
    assert f"entry {holds(shop.kitchen, newer.file)}, made by the site {SHED}" in told.says
    assert f"entry {newer.entries}; no entry is since" in last_good(shed.kitchen).says
    shop.hand.now = Instant(shed.hand.now + 3 * DAY)
    assert not last_good(shop.kitchen).ok


def _gone(file: Path) -> None:
    file.unlink()


def _spoilt(file: Path) -> None:
    file.write_bytes(b"\0" * 40_000)


def _of_another_kitchen(file: Path) -> None:
    file.unlink()
    hand = Hand()
    db = open_database(file)
    setup.set_up(db, hand.clock, "XX", PLAN)
    db.close()


@pytest.mark.parametrize("harm", [_gone, _spoilt, _of_another_kitchen])
def test_no_more_is_claimed_of_another_sites_backup_than_is_known(
    shop: Shop, shed: Shop, folder: Path, harm: Callable[[Path], None]
) -> None:
    made = back_up(shed.kitchen, "sl", folder, KEEPING).file
    number = holds(shop.kitchen, made)
    # Written after it by an hour, as the clocks have it.
    shop.hand.now = Instant(shed.hand.now + HOUR)
    shop.tub()
    shop.tub()
    since = shop.entries()[-1].number - number
    harm(made)
    told = last_good(shop.kitchen)
    if harm is _gone:
        assert f"entry {number}, made by the site {SHED} at station shed; " in told.says
        assert f"no more than {since} entries are since, by the clocks" in told.says
    else:
        assert not told.ok
        assert "There is no backup yet" in told.says


def test_a_site_that_no_backup_holds_has_none(shop: Shop, folder: Path) -> None:
    back_up(shop.kitchen, "jr", folder, KEEPING)
    hand = Hand()
    setup.set_up(shop.db, hand.clock, "SL", replace(PLAN, name="The Boat Shed"), site=SHED)
    shed = open_kitchen(shop.db, hand.clock, hand.draw, site=SHED)
    assert "There is no backup yet" in last_good(shed).says


def test_a_backup_that_nobody_may_look_at_is_told_of_like_any_other(
    shop: Shop, shed: Shop, folder: Path
) -> None:
    """As in another account's home. Nobody can look at a name that is too long, either."""
    made = back_up(shed.kitchen, "sl", folder, KEEPING)
    hidden = ev.BackedUp(str(folder / ("x" * 300)), made.entries, made.head)
    with shed.kitchen.writing("sl") as write:
        write.append((hidden, write.recorded_at, KITCHEN))
    told = last_good(shed.kitchen)
    assert not told.ok
    assert f"{hidden.file} cannot be looked at" in told.says
    shop.hand.now = Instant(shed.hand.now + HOUR)
    shop.tub()
    assert "by the clocks" in last_good(shop.kitchen).says


def remark(shop: Shop) -> Finding | None:
    return next((each for each in doctor.examine(shop.kitchen) if each.look), None)


def test_the_doctor_tells_of_what_killed_programs_left_and_of_nothing_younger(
    shop: Shop, folder: Path
) -> None:
    back_up(shop.kitchen, "jr", folder, KEEPING)
    beside = shop.path.parent
    (beside / "backups").mkdir()
    left = {
        beside: [".june.csv.71-0a1b2c3d.part", ".moved.db.72-0a1b2c3d.part-journal"],
        beside / "backups": [".tern-tide-1f0c9a2b.db.73-0a1b2c3d.part"],
        folder: [f".tern-tide-1f0c9a2b.db.{number}-0a1b2c3d.part" for number in range(5)],
    }
    now = shop.hand.now / 1000
    for where, names in left.items():
        for name in names:
            (where / name).write_text("cut short")
            os.utime(where / name, (now, now))
    assert remark(shop) is None
    shop.hand.now = Instant(shop.hand.now + 25 * HOUR)
    told = remark(shop)
    assert told is not None
    assert told.ok  # nothing of the journal is wrong
    assert "delete them" in told.says
    for where, names in left.items():
        assert f"In {where}: {', '.join(names[:3])}" in told.says
    assert "and 2 more" in told.says
    for where, names in left.items():
        for name in names:
            (where / name).unlink()
    assert remark(shop) is None


def test_the_backup_that_was_gone_back_to_is_the_last_one_and_as_old_as_what_is_in_it(
    shop: Shop, folder: Path
) -> None:
    """The entry that told of it was written after it, and is not in it."""
    shop.tub()
    number = shop.entries()[-1].number
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    who = Signed("jr", shop.hand.clock, shop.kitchen.station)
    restore(file, shop.db, folder, who, lose_newer=False)
    shop.reopen()
    told = last_good(shop.kitchen)
    assert told.ok
    assert str(file) in told.says
    assert f"entry {number}; no entry is since" in told.says
    shop.hand.now = Instant(shop.hand.now + 3 * DAY)
    assert not last_good(shop.kitchen).ok
