"""Backups are whole when they bear a name, kept by a rule, and good to work on after a restore."""

import os
import shutil
import sqlite3
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.chain import Entry
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import DAY, HOUR, MINUTE, Instant, to_local
from holdlog.journal import arrival, faults
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Database, open_database
from holdlog.journal.entries import stream
from holdlog.journal.sqlstates import unknown_outcome
from holdlog.kitchen import discard
from holdlog.kitchen.audit import audit
from holdlog.kitchen.backup_files import Keeping, in_folder, kept, read_keeping
from holdlog.kitchen.backups import back_up, last_good, listed
from holdlog.kitchen.clock_right import found_right
from holdlog.kitchen.correct import void
from holdlog.kitchen.db_move import move
from holdlog.kitchen.kitchen import open_kitchen
from holdlog.kitchen.recall import recall
from holdlog.kitchen.restoring import Restored, look, restore
from holdlog.kitchen.setup import set_up
from holdlog.kitchen.taken_back import Signed
from tests.kitchen.shop import PLAN, WHERE, Hand, Shop, at

if TYPE_CHECKING:
    from tests.postgres import Server

START = at("06-01 06:00")
KEEPING = Keeping()
TIMES = st.sets(st.integers(0, 3 * 365 * 24 * 4).map(lambda n: Instant(START + n * 15 * MINUTE)))


# ---- which are kept --------------------------------------------------------------------------


def spans(times: set[Instant]) -> tuple[list[object], list[object], list[object]]:
    """The days, weeks and months of ``times`` by the standard library's calendar, newest first."""
    days = sorted({to_local(each, WHERE).date() for each in times}, reverse=True)
    weeks = dict.fromkeys(day - timedelta(days=day.weekday()) for day in days)
    months = dict.fromkeys(day.replace(day=1) for day in days)
    return list(days), list(weeks), list(months)


@given(TIMES, st.builds(Keeping, st.integers(1, 9), st.integers(0, 9), st.integers(0, 30)))
def test_the_newest_is_kept_and_something_of_each_day_week_and_month(
    times: set[Instant], keeping: Keeping
) -> None:
    found = kept(times, keeping, WHERE)
    assert found <= times
    assert kept(found, keeping, WHERE) == found
    if times:
        assert max(times) in found
        assert {each for each in times if each >= max(times) - 48 * HOUR} <= found
    for there, left, most in zip(
        spans(times), spans(found), (keeping.days, keeping.weeks, keeping.months), strict=True
    ):
        assert left[: min(most, len(there))] == there[:most]
    assert len(found) <= keeping.days + keeping.weeks + keeping.months + 48 * 4 + 1


def test_two_years_of_daily_backups_leave_the_last_of_each_month() -> None:
    """Rotation after rotation, as it happens, and not all at once."""
    there: set[Instant] = set()
    made = [Instant(START + day * DAY) for day in range(730)]
    for each in made:
        there = kept({*there, each}, KEEPING, WHERE)
    by_month = {to_local(each, WHERE).strftime("%Y-%m"): each for each in made}
    assert set(list(by_month.values())[-24:]) <= there
    assert set(made[-7:]) <= there
    assert len(there) <= 7 + 5 + 24


@pytest.mark.parametrize(
    "text", ["", "7", "7,5", "0,5,24", "7,5,-1", "seven", "7,5,24,1", "\u0667,5,2"]
)
def test_a_keeping_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(Mistake, match="how many"):
        read_keeping(text)
    assert read_keeping("7, 5, 24") == KEEPING
    assert read_keeping("All") is None


# ---- made ------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "backups"
    made.mkdir()
    return made


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def busy(shop: Shop) -> str:
    shop.tub("garlic oil")
    other = shop.tub("fish stock")
    discard.discard(shop.kitchen, "mk", other, shop.hand.now, "off")
    return shop.tub()


def by_hand(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as conn:
        for statement in statements:
            conn.execute(statement)
        conn.commit()


def test_a_backup_is_named_recorded_and_whole(shop: Shop, folder: Path) -> None:
    busy(shop)
    before = shop.entries()
    made = back_up(shop.kitchen, "jr", folder, KEEPING)
    mark = before[0].hash[:8]
    assert names(folder) == [f"tern-tide-{mark}-2026-06-01-060000-e{len(before):07}.db"]
    assert (made.entries, made.head, made.unrecorded) == (len(before), before[-1].hash, "")
    assert (shop.entries()[-1].kind, len(shop.entries())) == ("backed-up", len(before) + 1)
    (line,) = listed(shop.kitchen, folder, check=True)
    assert (line.entries, line.head, line.fault) == (len(before), before[-1].hash, "")
    assert shop.bad() == []


HARM = {
    "an entry was edited": (
        "DROP TRIGGER entry_no_update",
        "UPDATE entry SET by = 'XX' WHERE number = 60",
    ),
    "a date was moved": ("UPDATE container SET use_by = use_by + 86400000",),
    "a rulebook was edited": ("UPDATE book SET content = x'00'",),
}


@pytest.mark.parametrize("harm", HARM)
def test_what_is_not_whole_gets_no_name_and_takes_no_older_one_away(
    shop: Shop, folder: Path, harm: str
) -> None:
    busy(shop)
    good = back_up(shop.kitchen, "jr", folder, KEEPING).file.name
    shop.db.close()
    by_hand(shop.path, *HARM[harm])
    shop.hand.now = Instant(shop.hand.now + 3000 * DAY)
    count = len(shop.entries())
    with pytest.raises(Fault) as caught:
        back_up(shop.kitchen, "jr", folder, Keeping(1, 0, 0))
    assert caught.value.code == "copy-bad"
    assert names(folder) == [good]
    assert len(shop.entries()) == count
    # The same harm done to a backup shows when it is looked at.
    by_hand(folder / good, *HARM[harm])
    assert [bool(each.fault) for each in listed(shop.kitchen, folder, check=True)] == [True]
    with pytest.raises(Mistake) as refused:
        look(folder / good, shop.db)
    assert refused.value.code == "not-whole"


def test_only_its_own_older_ones_are_taken_away(another: Callable[[], Shop], folder: Path) -> None:
    shop, other = another(), another()
    other.hand.now = Instant(shop.hand.now + 1000)
    shutil.copy(other.path, folder / "kitchen.db")
    theirs = folder / "tern-tide-00000000-2026-05-01-060000-e0000055.db"
    theirs.write_text("of another journal")
    first = back_up(shop.kitchen, "jr", folder, KEEPING).file
    copied = folder / f"before-the-inspection-{first.name}"
    shutil.copy(first, copied)
    link = folder / first.name.replace("060000", "050000")
    link.symlink_to(copied)
    stale = folder / f".{first.name}.4711-0a1b2c3d.part"
    stale.write_text("cut short by a power cut")
    os.utime(stale, (0, 0))
    strangers = {"kitchen.db", theirs.name, copied.name, link.name}
    gone: list[str] = []
    for days in (1, 4, 5, 6, 7):
        shop.hand.now = Instant(START + days * DAY)
        gone += back_up(shop.kitchen, "jr", folder, Keeping(2, 0, 0)).removed
    assert len(gone) == 3
    assert first.name in gone
    assert strangers <= set(names(folder))
    assert len(names(folder)) == len(strangers) + 3
    assert [file.entry for file in in_folder(folder) if file.path.name not in strangers]


def test_the_doctor_is_told_of_the_last_one(shop: Shop, folder: Path) -> None:
    assert "no backup yet" in last_good(shop.kitchen).says
    made = back_up(shop.kitchen, "jr", folder, KEEPING)
    assert last_good(shop.kitchen).ok
    shop.hand.now = Instant(START + 2 * DAY)
    assert last_good(shop.kitchen).ok
    shop.hand.now = Instant(START + 2 * DAY + MINUTE)
    told = last_good(shop.kitchen)
    assert not told.ok
    assert "Mon 1 June 06:00" in told.says
    made.file.unlink()
    assert "not there" in last_good(shop.kitchen).says


def test_a_backup_that_cannot_be_recorded_is_good_all_the_same(shop: Shop, folder: Path) -> None:
    """A clock that went back: it is not written by it, and no name tells an earlier time."""
    shop.tub()
    shop.hand.now = Instant(START - 30 * DAY)
    made = back_up(shop.kitchen, "jr", folder, KEEPING)
    assert "clock" in made.unrecorded
    assert "2026-06-01-060000" in made.file.name
    assert [each.fault for each in listed(shop.kitchen, folder, check=True)] == [""]


def test_who_makes_it_and_where_is_asked_first(shop: Shop, tmp_path: Path, folder: Path) -> None:
    for by, where, code in (("", folder, "no-name"), ("jr", tmp_path / "stick", "no-folder")):
        with pytest.raises(Mistake) as caught:
            back_up(shop.kitchen, by, where, KEEPING)
        assert caught.value.code == code
    assert names(folder) == []


# ---- gone back to ----------------------------------------------------------------------------


def opened(path: Path, hand: Hand) -> Shop:
    db = open_database(path, must_exist=True, wait_ms=2000)
    return Shop(db, path, hand, open_kitchen(db, hand.clock, hand.draw))


def signed(hand: Hand) -> Signed:
    return Signed("jr", hand.clock, "office")


def test_recalls_that_a_backup_does_not_know_are_named_before_and_after(
    shop: Shop, folder: Path
) -> None:
    """What they hold would be food like any other again, and nobody would look."""
    cream = shop.prep("cream, opened", kind="opened", lot="L442").rows[0].code
    known = recall(shop.kitchen, "jr", "", "L977", "glass", absent=True)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    recall(shop.kitchen, "jr", "", "L442", "listeria")
    lifted = recall(shop.kitchen, "jr", "", "L500", "a mistake", absent=True)
    assert known.number is not None
    assert lifted.number is not None
    void(shop.kitchen, "jr", lifted.number, "of another maker", "the notice, read again")
    assert [each.what for each in look(file, shop.db).recalls] == ["lot L442"]
    with pytest.raises(Mistake, match="no longer be held: lot L442"):
        restored(shop, file)
    done = restored(shop, file, lose_newer=True)
    assert [(each.what, each.why) for each in done.outlook.recalls] == [("lot L442", "listeria")]
    shop.reopen()
    assert shop.row(cream).verdict == ""
    recall(shop.kitchen, "jr", "", "L442", "listeria")
    assert shop.row(cream).verdict == "hold"


def restored(shop: Shop, file: Path, *, lose_newer: bool = False) -> Restored:
    return restore(file, shop.db, shop.path.parent, signed(shop.hand), lose_newer=lose_newer)


def test_a_backup_made_under_load_is_good_to_work_on_elsewhere(
    shop: Shop, folder: Path, tmp_path: Path
) -> None:
    """The drill: while a cook writes, back up; on another machine, restore and go on."""
    busy(shop)
    stop = threading.Event()
    writer_db = open_database(shop.path, must_exist=True, wait_ms=60_000)
    writer = Shop(
        writer_db, shop.path, shop.hand, open_kitchen(writer_db, shop.hand.clock, shop.hand.draw)
    )

    def write() -> None:
        while not stop.wait(0.01):
            writer.tub()

    thread = threading.Thread(target=write)
    thread.start()
    try:
        before = [
            len(shop.entries()) for _ in range(3) if back_up(shop.kitchen, "jr", folder, None)
        ]
    finally:
        stop.set()
        thread.join()
        writer_db.close()
    files = in_folder(folder)
    assert files[-1].entry >= before[-2]
    target = open_database(tmp_path / "new machine.db")
    done = restore(files[-1].path, target, tmp_path, signed(shop.hand), lose_newer=False)
    target.close()
    assert (done.outlook.present, done.aside) == ("missing", None)
    there = opened(tmp_path / "new machine.db", shop.hand)
    assert there.entries()[:-1] == shop.entries()[: files[-1].entry]
    assert there.entries()[-1].kind == "restored"
    assert there.tub() in [row.code for row in there.live()]
    assert there.bad() == []
    there.db.close()


def test_newer_entries_are_not_lost_unasked_and_never_for_good(shop: Shop, folder: Path) -> None:
    kept_tub = busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    # Only the record of the backup is newer: nothing to ask about.
    assert not look(file, shop.db).loses
    shop.it_is("06-01 09:00")
    lost_tub = shop.tub("garlic oil")
    (parting,) = look(file, shop.db).partings
    new = shop.entries()[parting.common :]
    assert (parting.common, parting.alone) == (new[0].number - 1, len(new))
    assert (parting.first_at, parting.last_at) == (START, at("06-01 09:00"))
    assert parting.telling == len(new) - 1
    everything = shop.entries()
    with pytest.raises(Mistake) as caught:
        restored(shop, file)
    assert caught.value.code == "newer-entries"
    assert "--lose-newer" in caught.value.line()
    assert shop.entries() == everything
    aside = restored(shop, file, lose_newer=True).aside
    assert aside == shop.path.with_name("kitchen0.before-restore-1.db")
    assert shop.entries()[:-1] == everything[: parting.common]
    assert [row.code for row in shop.live()].count(kept_tub) == 1
    assert lost_tub not in [row.code for row in shop.live()]
    # It goes on as another history; the way back is as guarded as the way there.
    shop.reopen()
    shop.tub("fish stock")
    assert shop.bad() == []
    assert aside is not None
    assert look(aside, shop.db).partings[0].forked
    with pytest.raises(Mistake):
        restored(shop, aside)
    assert restored(shop, aside, lose_newer=True).aside == shop.path.with_name(
        "kitchen0.before-restore-2.db"
    )
    assert shop.entries()[:-1] == everything


def test_a_journal_that_cannot_be_read_is_moved_aside_as_it_is(shop: Shop, folder: Path) -> None:
    tub = busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    shop.db.close()
    ruined = bytearray(shop.path.read_bytes())
    ruined[4096:12288] = b"\xa5" * 8192
    shop.path.write_bytes(ruined)
    # What SQLite would play into a new file of that name.
    hot = shop.path.with_name(shop.path.name + "-journal")
    hot.write_bytes(b"left by a crash")
    with pytest.raises(Mistake, match="nobody can tell"):
        restored(shop, file)
    assert shop.path.read_bytes() == bytes(ruined)
    aside = restored(shop, file, lose_newer=True).aside
    assert aside is not None
    assert aside.read_bytes() == bytes(ruined)
    assert not hot.exists()
    assert [row.code for row in shop.live()].count(tub) == 1
    shop.reopen()
    shop.tub()
    assert shop.bad() == []
    assert not [name for name in names(shop.path.parent) if name.startswith(".")]


def test_another_kitchens_backup_is_refused_whatever_is_said(shop: Shop, tmp_path: Path) -> None:
    db = open_database(tmp_path / "theirs.db")
    set_up(db, Hand(now=Instant(START + 1)).clock, "JR", PLAN)
    db.close()
    with pytest.raises(Mistake) as caught:
        restored(shop, tmp_path / "theirs.db", lose_newer=True)
    assert caught.value.code == "other-journal"


VERSION = "UPDATE alembic_version SET version_num = '{}'"
BAD: dict[str, tuple[str, Callable[[Path], object]]] = {
    "no-file": ("no file", lambda path: path.unlink()),
    "no-journal": ("is empty", lambda path: path.write_bytes(b"")),
    "damaged": ("is damaged", lambda path: path.write_bytes(b"minutes of a meeting" * 500)),
    "not-a-journal": ("not a journal", lambda path: by_hand(path, "DROP TABLE alembic_version")),
    "older-journal": ("earlier holdlog", lambda path: by_hand(path, VERSION.format("0001"))),
    "newer-journal": ("later holdlog", lambda path: by_hand(path, VERSION.format("9999"))),
    "not-whole": ("is not whole", lambda path: by_hand(path, "DELETE FROM container")),
}


@pytest.mark.parametrize("code", BAD)
def test_a_file_that_is_no_good_backup_is_refused_in_a_line(
    shop: Shop, folder: Path, code: str
) -> None:
    busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    says, harm = BAD[code]
    harm(file)
    before = shop.entries()
    with pytest.raises(Mistake) as caught:
        restored(shop, file, lose_newer=True)
    assert caught.value.code == code
    assert says in caught.value.line()
    assert str(file) in caught.value.line()
    assert "\n" not in caught.value.line()
    assert shop.entries() == before
    assert names(shop.path.parent) == ["backups", shop.path.name]


def test_while_another_program_writes_there_is_no_restore(shop: Shop, folder: Path) -> None:
    busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    short = open_database(shop.path, wait_ms=50)
    for state in ("BEGIN IMMEDIATE", "BEGIN"):
        with closing(sqlite3.connect(shop.path, isolation_level=None)) as other:
            other.execute(state)
            other.execute("SELECT count(*) FROM entry").fetchone()
            with pytest.raises(Fault) as caught:
                restore(file, short, folder, signed(shop.hand), lose_newer=True)
            assert caught.value.code == "locked"
    short.close()
    assert shop.entries()[-1].kind == "backed-up"
    # Nothing was restored, so nothing lies there that says so.
    assert names(shop.path.parent) == ["backups", shop.path.name]


def test_the_journal_itself_tells_that_it_was_taken_back(shop: Shop, folder: Path) -> None:
    """Also to the audit of the days that were lost, and to the next way back."""
    busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    same = file_entries = len(shop.entries()) - 1
    shop.it_is("06-02 09:00")
    shop.tub()
    later = back_up(shop.kitchen, "jr", folder, KEEPING).file
    before = shop.entries()
    shop.it_is("06-04 09:00")
    aside = restored(shop, file, lose_newer=True).aside
    shop.reopen()
    entry = shop.entries()[-1]
    told = fact_of(entry)
    assert (entry.by, entry.station, entry.at) == ("JR", "office", at("06-04 09:00"))
    assert told == ev.Restored(
        str(file), file_entries, before[same - 1].hash, same, len(before) - same, START,
        at("06-02 09:00"), before[-1].hash, aside=str(aside),
    )  # fmt: skip
    for day, seen in ((1, True), (2, True), (3, False), (4, True)):
        remarks = audit(shop.kitchen, date(2026, 6, day), date(2026, 6, day)).remarks
        assert [each.number for each in remarks if each.what == "restored"] == (
            [entry.number] if seen else []
        )
    # The later backup is a fork by its numbers, and loses nothing but the word of the way back.
    outlook = look(later, shop.db)
    assert (outlook.partings[0].forked, outlook.loses) == (False, False)
    # What a cook enters after the way back is real again.
    shop.tub()
    outlook = look(later, shop.db)
    assert (outlook.partings[0].forked, outlook.loses) == (True, True)
    with pytest.raises(Mistake, match="entries that the backup has not"):
        restored(shop, later)
    assert shop.bad() == []


@pytest.mark.parametrize("days", [-3, 90])
def test_a_way_back_hides_no_clock_that_is_wrong(shop: Shop, folder: Path, days: int) -> None:
    """It is written as of the backup, so that the next job is stopped as it was before."""
    busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    shop.hand.now = Instant(START + days * DAY)
    restored(shop, file)
    shop.reopen()
    assert shop.entries()[-1].recorded_at == START
    with pytest.raises(Fault, match="clock"):
        shop.tub()


def test_what_a_program_knew_before_is_not_written_after(shop: Shop, folder: Path) -> None:
    """A round that was open: it would answer for tubs and a beginning that are not there."""
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    other = open_kitchen(shop.db, shop.hand.clock, shop.hand.draw)
    shop.tub()
    restored(shop, file, lose_newer=True)
    count = len(shop.entries())
    with pytest.raises(Fault) as caught:
        shop.tub()
    assert caught.value.code == "taken-back"
    # Also where the entry of that number is another one by now.
    assert len(shop.entries()) == count
    with pytest.raises(Fault, match="went back"):
        found_right(other, "jr")
    made = back_up(other, "jr", folder, KEEPING)
    assert "went back" in made.unrecorded
    shop.reopen()
    shop.tub()


def test_a_journal_whose_kitchens_all_have_names_can_be_taken_back(
    tmp_path: Path, folder: Path
) -> None:
    hand = Hand()
    db = open_database(tmp_path / "sheds.db")
    for site in ("boat-shed", "pier"):
        set_up(db, hand.clock, "JR", PLAN, site=site)
    pier = open_kitchen(db, hand.clock, hand.draw, site="pier")
    file = back_up(pier, "jr", folder, KEEPING).file
    # Without a journal to ask, it is held against the site that made it.
    assert [each.fault for each in listed(None, folder, check=True)] == [""]
    outlook = look(file, db)
    assert (outlook.entries, outlook.loses) == (len(pier_entries(db)) - 1, False)
    restore(file, db, tmp_path, signed(hand), lose_newer=False)
    assert pier_entries(db)[-1].kind == "restored"
    # A slip of the pen is told which there are.
    with pytest.raises(Mistake) as caught:
        open_kitchen(db, hand.clock, hand.draw)
    assert "boat-shed, pier" in caught.value.line()
    # Not one site of another kitchen's journal is the same: it is a stranger, too.
    stranger = open_database(tmp_path / "main.db")
    set_up(stranger, hand.clock, "JR", PLAN)
    with pytest.raises(Mistake) as caught:
        restore(file, stranger, tmp_path, signed(hand), lose_newer=True)
    assert caught.value.code == "other-journal"
    stranger.close()
    db.close()


def pier_entries(db: Database) -> list[Entry]:
    with db.reading() as conn:
        return list(stream(conn, "pier"))


def test_a_backup_that_is_not_what_its_name_says_is_no_backup(shop: Shop, folder: Path) -> None:
    """Whole, and short: its log was left behind, say. Or it took entries, as somebody's journal,
    or has those that were lost by going back: then it is not taken away with the old ones.
    """
    busy(shop)
    made = back_up(shop.kitchen, "jr", folder, KEEPING)
    short = folder / made.file.name.replace(f"e{made.entries:07}", f"e{made.entries + 2:07}")
    shutil.copy(made.file, short)
    with pytest.raises(Mistake) as caught:
        restored(shop, short)
    assert caught.value.code == "not-as-named"
    assert str(made.entries) in caught.value.line()
    short.unlink()
    # Taken back to it, and on from there; another one goes on in the file itself.
    lost = back_up(shop.kitchen, "jr", folder, KEEPING).file
    restored(shop, made.file)
    shop.reopen()
    went_on = opened(made.file, shop.hand)
    tub = went_on.tub()
    gone: list[str] = []
    for days in (3, 6, 9):
        shop.hand.now = Instant(START + days * DAY)
        for kitchen in (shop.kitchen, went_on.kitchen):
            gone += back_up(kitchen, "jr", folder, Keeping(1, 0, 0)).removed
    assert len(gone) == 4
    assert {made.file.name, lost.name} <= set(names(folder))
    assert tub in [row.code for row in went_on.live()]
    went_on.db.close()


def test_stations_that_back_up_in_the_same_second_each_get_one(shop: Shop, folder: Path) -> None:
    """Cron does, into a folder that they share. By a clock that stands still they get one each,
    too.
    """
    busy(shop)
    others = [opened(shop.path, shop.hand) for _ in range(3)]
    with ThreadPoolExecutor() as pool:
        made = list(pool.map(lambda s: back_up(s.kitchen, "jr", folder, None), [shop, *others]))
    assert len({each.file for each in made}) == 4
    assert [each.unrecorded for each in made] == [""] * 4
    assert [each.fault for each in listed(shop.kitchen, folder, check=True)] == [""] * 4
    assert len(names(folder)) == 4
    for each in others:
        each.db.close()


def test_a_journal_behind_a_link_is_taken_back_where_it_lies(shop: Shop, folder: Path) -> None:
    busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    shop.db.close()
    (folder / "stick").mkdir()
    real = shop.path.rename(folder / "stick" / "real.db")
    shop.path.symlink_to(real)
    ruined = bytearray(real.read_bytes())
    ruined[4096:12288] = b"\xa5" * 8192
    real.write_bytes(ruined)
    aside = restored(shop, file, lose_newer=True).aside
    assert aside == real.with_name("real.before-restore-1.db")
    assert aside.read_bytes() == bytes(ruined)
    assert shop.path.is_symlink()
    assert shop.bad() == []
    # Its disk is not plugged in: no journal is begun in the place of the link.
    shop.db.close()
    (folder / "stick").rename(folder / "drawer")
    with pytest.raises(Fault, match="folder"):
        restored(shop, file)
    assert shop.path.is_symlink()


@pytest.mark.parametrize("job", ["move", "restore"])
def test_a_server_that_goes_away_at_the_end_is_told_as_of_that_job(
    shop: Shop, folder: Path, monkeypatch: pytest.MonkeyPatch, job: str
) -> None:
    """And what was there is kept: nobody knows yet which of the two is there."""
    busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file

    def gone(*arguments: Any, **_: Any) -> None:
        if job == "restore":
            with shop.db.appending() as conn:
                arguments[2](conn)
        raise unknown_outcome("postgresql://cook@/holdlog")

    monkeypatch.setattr(arrival, "take_the_place" if job == "restore" else "arrive", gone)
    with pytest.raises(Fault) as caught:
        restored(shop, file) if job == "restore" else move(shop.db, str(shop.path) + "2")
    assert caught.value.code == "outcome-unknown"
    assert "entry" not in caught.value.line()
    assert shop.path.with_name("kitchen0.before-restore-1.db").exists() is (job == "restore")


def test_what_another_restore_has_kept_aside_meanwhile_is_left_alone(
    shop: Shop, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The one that waits in vain takes away nothing that it has not put there itself."""
    busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    theirs = shop.path.with_name("kitchen0.before-restore-1.db")

    def held(*_: Any, **__: Any) -> None:
        theirs.write_bytes(b"what was there before the other one")
        raise faults.locked(shop.db.name)

    monkeypatch.setattr(arrival, "take_the_place", held)
    with pytest.raises(Fault, match="writing"):
        restored(shop, file)
    assert theirs.read_bytes() == b"what was there before the other one"


@pytest.mark.parametrize("end", ["", "-wal"])
def test_two_that_put_a_damaged_journal_aside_never_write_over_what_the_other_kept(
    shop: Shop, folder: Path, monkeypatch: pytest.MonkeyPatch, end: str
) -> None:
    busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    shop.db.close()
    damaged = b"minutes of a meeting" * 500
    shop.path.write_bytes(damaged)
    theirs = shop.path.with_name(f"kitchen0.before-restore-1.db{end}")
    put_aside = arrival._put_aside

    def late(path: Path, aside: Path) -> None:
        theirs.write_bytes(b"kept by the other one")
        put_aside(path, aside)

    monkeypatch.setattr(arrival, "_put_aside", late)
    with pytest.raises(Fault) as told:
        restored(shop, file, lose_newer=True)
    assert (told.value.code, str(shop.path) in told.value.hint) == ("cannot-restore", True)
    assert theirs.read_bytes() == b"kept by the other one"
    assert shop.path.read_bytes() == damaged


def test_tables_of_another_shape_take_no_backup_in(shop: Shop, folder: Path) -> None:
    """They would stay as they were, and the doctor would send the person back for ever."""
    busy(shop)
    file = back_up(shop.kitchen, "jr", folder, KEEPING).file
    shop.db.close()
    by_hand(
        shop.path,
        "PRAGMA writable_schema = ON",
        "UPDATE sqlite_master SET sql = replace(sql, 'use_by BIGINT', 'use_by TEXT')",
    )
    assert "migrations" in shop.bad()
    assert look(file, shop.db).present == "damaged"
    assert restored(shop, file, lose_newer=True).aside is not None
    shop.reopen()
    assert shop.bad() == []


# ---- on a server -----------------------------------------------------------------------------


@pytest.fixture
def server(postgres: "Server") -> Iterator[Database]:
    url = postgres.fresh()
    db = open_database(url, wait_ms=500)
    yield db
    db.close()
    postgres.drop(url)


@pytest.mark.postgres
def test_a_journal_moves_to_a_server_is_backed_up_there_and_comes_back(
    shop: Shop, server: Database, folder: Path, tmp_path: Path
) -> None:
    tub = busy(shop)
    address = str(server.engine.url)
    assert move(shop.db, address).heads == {"main": (len(shop.entries()), shop.entries()[-1].hash)}
    hand = shop.hand
    there = Shop(server, shop.path, hand, open_kitchen(server, hand.clock, hand.draw))
    assert (there.entries(), there.everything()) == (shop.entries(), shop.everything())
    there.tub("fish stock")
    file = back_up(there.kitchen, "jr", folder, KEEPING).file
    there.tub("garlic oil")
    everything = there.entries()
    # The file is a journal of its own: readable on a laptop when the server burns.
    laptop = opened(Path(shutil.copy(file, tmp_path / "laptop.db")), hand)
    assert tub in [row.code for row in laptop.live()]
    assert laptop.bad() == []
    as_backed_up = laptop.everything()
    laptop.db.close()
    with pytest.raises(Mistake):
        restore(file, server, folder, signed(hand), lose_newer=False)
    assert there.entries() == everything
    aside = restore(file, server, folder, signed(hand), lose_newer=True).aside
    assert there.everything() == as_backed_up
    assert there.entries()[-1].kind == "restored"
    assert aside is not None
    # Only that it was taken back is lost by going forward again.
    assert restore(aside, server, folder, signed(hand), lose_newer=False).aside is not None
    assert there.entries()[:-1] == everything
    # All that this program knew of it is there again.
    there.tub()

    def cook(what: str, done: int, of: int) -> None:
        if (what, done) == ("read back", of):
            there.tub()

    back = tmp_path / "back.db"
    with pytest.raises(Fault) as caught:
        move(server, str(back), tell=cook)
    assert caught.value.code == "written-meanwhile"
    assert not back.exists()
    move(server, str(back))
    home = opened(back, hand)
    assert home.entries() == there.entries()
    assert home.bad() == []
    home.db.close()
