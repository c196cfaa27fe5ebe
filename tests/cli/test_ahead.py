"""The days to come, as a cook, a wall screen and a calendar see them."""

import json
from datetime import UTC, date, datetime, timedelta

import icalendar

from tests.cli.conftest import Stock
from tests.cli.running import Till, set_up, zone_where_it_is

KEYS = {
    "kitchen", "at", "today", "on_hand", "discard", "hold", "no_limit_known", "days", "by_unit",
    "by_item",
}  # fmt: skip
DAY_KEYS = {"date", "name", "closed", "last_day", "freeze_by", "pull"}


def test_it_tells_day_by_day_what_goes_what_to_freeze_and_what_to_pull(stock: Stock) -> None:
    said = stock.till.ok("ahead")
    for code in stock.stock:
        shown = f"{code[:4]}-{code[4:]}"
        assert said.count(shown) == 2  # its last day, and the last chance to freeze it
    assert "last day" in said
    assert "freeze by" in said
    assert "leaves 1 day, else" in " ".join(said.split())
    assert "Today, " in said
    assert "would carry" in said
    assert "Pulled by dates alone" in said
    assert "By unit" in said
    assert "Your health authority has the last word" in " ".join(said.split())


def test_the_list_for_a_wall_screen_keeps_its_keys(stock: Stock) -> None:
    found = stock.till.data("ahead", "--days", "10")
    assert set(found) == KEYS
    assert [set(each) for each in found["days"]] == [DAY_KEYS] * 10
    today = date.fromisoformat(found["today"])
    assert [each["date"] for each in found["days"]] == [
        (today + timedelta(days=number)).isoformat() for number in range(10)
    ]
    goes = [(day["date"], each) for day in found["days"] for each in day["last_day"]]
    assert {code for _, each in goes for code in [each["code"]]} >= set(stock.stock)
    assert all(each["last_day"] == day for day, each in goes)
    (pull,) = [each for day in found["days"] for each in day["pull"]]
    assert pull["code"] == stock.frozen
    assert pull["would_carry"] > pull["ready"] or pull["too_slow"]
    assert {"thaw_days", "ready", "would_carry", "too_slow"} <= set(pull)
    counted = sum(sum(days.values()) for days in found["by_unit"].values())
    assert counted == len(goes)
    assert [each["code"] for each in found["no_limit_known"]] == [stock.fish]


def test_the_calendar_says_what_the_list_says_and_is_updated_not_doubled(stock: Stock) -> None:
    till = stock.till
    file = till.folder / "ahead.ics"
    done = till.run("ahead", "--ics", "ahead.ics")
    assert done.code == 0
    assert "ahead.ics" in done.one_line()
    found = till.data("ahead")
    first = {str(each["uid"]): each for each in read(file.read_bytes())}
    wanted = {
        f"{day['date']}-{kind}": [each["shown"] for each in day[key]]
        for day in found["days"]
        for kind, key in (("last-day", "last_day"), ("freeze", "freeze_by"), ("pull", "pull"))
        if day[key]
    }
    assert {uid.rsplit("-", 1)[0] for uid in first} == set(wanted)
    for uid, event in first.items():
        name = uid.rsplit("-", 1)[0]
        assert event.decoded("dtstart").isoformat() == name[:10]
        assert [code for code in wanted[name] if code not in str(event["description"])] == []
    till.ok("discard", stock.stock[0], "-r", "dropped")
    till.run("ahead", "--ics", "ahead.ics")
    second = {str(each["uid"]): each for each in read(file.read_bytes())}
    assert second
    assert set(second) <= set(first)
    assert all(second[uid].decoded("sequence") > first[uid].decoded("sequence") for uid in second)
    assert all(stock.stock[0][:4] not in str(each["description"]) for each in second.values())


def read(file: bytes) -> list[icalendar.Component]:
    return list(icalendar.Calendar.from_ical(file).walk("VEVENT"))


def test_an_hour_stands_in_the_calendar_with_its_zone(stock: Stock) -> None:
    till = stock.till
    till.ok("out", stock.stock[0], "--plan", "4h", "-t", "40F", "--tape")
    till.run("ahead", "--ics", "ahead.ics")
    (timed,) = [
        each
        for each in read((till.folder / "ahead.ics").read_bytes())
        if isinstance(each.decoded("dtstart"), datetime)
    ]
    until = next(
        each["until"]
        for day in till.data("ahead")["days"]
        for each in day["last_day"]
        if each["code"] == stock.stock[0]
    )
    assert timed.decoded("dtstart").astimezone(UTC) == datetime.fromisoformat(until)
    # The kitchen's zone hangs on the hour of the test; in that of Greenwich the standard has Z
    # in the place of a zone's name (RFC 5545, 3.3.5).
    named = timed["dtstart"].params.get("TZID", "")
    assert named.startswith("Etc/GMT") or until.endswith("+00:00")


def test_json_and_a_calendar_at_once(till: Till) -> None:
    done = till.run("ahead", "--ics", "a.ics", "--json")
    assert json.loads(done.out)["days"]
    assert (till.folder / "a.ics").exists()


def test_an_empty_kitchen_says_so_and_makes_an_empty_calendar(tmp_path_factory: object) -> None:
    folder = tmp_path_factory.mktemp("new")  # type: ignore[attr-defined]
    till = set_up(folder / "kitchen", zone_where_it_is(12))
    assert "Nothing is on hand" in till.ok("ahead")
    assert till.data("ahead")["by_unit"] == {}
    till.run("ahead", "--ics", "a.ics")
    assert read((till.folder / "a.ics").read_bytes()) == []


def test_what_cannot_be_is_refused_in_a_line(till: Till) -> None:
    assert "1 to 60" in till.run("ahead", "--days", "0").refusal()
    assert "no item" in till.run("ahead", "--item", "unicorn").refusal()
    assert "no unit" in till.run("ahead", "-u", "cellar").refusal()
    assert "could not be written" in till.run("ahead", "--ics", "none/here/a.ics").fault()


def test_what_a_calendar_was_told_and_is_no_more_is_cancelled(stock: Stock) -> None:
    """RFC 5545, 3.8.1.11: STATUS:CANCELLED; RFC 5546, 2.1.4: a greater SEQUENCE is the newer."""
    till, file = stock.till, stock.till.folder / "a.ics"
    till.run("ahead", "--ics", "a.ics")
    first = {str(each["uid"]): each for each in read(file.read_bytes())}
    for code in stock.stock:
        till.ok("discard", code, "-r", "dropped")
    assert "cancelled" in till.run("ahead", "--ics", "a.ics").one_line()
    second = {str(each["uid"]): each for each in read(file.read_bytes())}
    assert set(second) == set(first)
    gone = {uid for uid, each in second.items() if each.get("status") == "CANCELLED"}
    till.run("ahead", "--ics", "fresh.ics")
    fresh = {str(each["uid"]) for each in read((till.folder / "fresh.ics").read_bytes())}
    assert gone == set(first) - fresh
    assert gone
    assert all(second[uid].decoded("sequence") > first[uid].decoded("sequence") for uid in gone)


def test_the_lists_of_two_units_stay_apart_in_one_calendar(stock: Stock) -> None:
    till = stock.till
    till.ok("prep", "chicken stock", "-u", "reach-in", "--tape")
    uids = []
    for unit in ("walk-in", "reach-in"):
        till.run("ahead", "-u", unit, "--ics", "a.ics")
        events = read((till.folder / "a.ics").read_bytes())
        uids.append({str(each["uid"]) for each in events if each.get("status") != "CANCELLED"})
    assert all(uids)
    assert not uids[0] & uids[1]
