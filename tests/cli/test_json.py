"""Every command speaks JSON to programs, with keys that stay."""

import json
from typing import Any

from tests.cli.conftest import Stock
from tests.cli.running import Till

ROW = {
    "code", "shown", "batch", "split_from", "item", "category", "unit", "number", "count",
    "amount", "made_at", "made", "state", "tcs", "use_by", "last_day", "days_left_once_thawed",
    "binds", "cite", "fault", "reason", "cautions", "ended_at", "ended_as",
}  # fmt: skip
LINE = ROW | {"verdict", "day", "of"}
COOLING = {
    "batch", "item", "stands", "first", "whole", "deadline_first", "deadline_whole", "verdict",
    "reason", "forecast", "pace", "no_forecast", "question", "next_deadline", "read_by",
    "overdue", "cooling_in", "surroundings", "readings", "containers",
}  # fmt: skip


def keys(data: Any) -> set[str]:
    return set(data)


def test_the_morning_list(till: Till) -> None:
    found = till.data("due")
    lists = {
        "no_limit_known", "discard", "hold", "last_day", "tomorrow", "while_closed",
        "freeze_today", "pull_today", "relabel", "waiting_for_label", "probes_in_doubt",
        "cooling",
    }  # fmt: skip
    assert keys(found) == lists | {"kitchen", "at", "on_hand", "closed_days", "units"}
    assert found["on_hand"] == 6
    (fish,) = found["no_limit_known"]
    assert keys(fish) == LINE
    (cooling,) = found["hold"]
    assert (cooling["verdict"], cooling["state"]) == ("hold", "cooling")


def test_the_list_of_what_is_on_hand(till: Till) -> None:
    found = till.data("on-hand")
    assert len(found) == 6
    assert all(keys(each) == LINE for each in found)
    assert [each["item"] for each in till.data("on-hand", "-u", "chest")] == ["garlic oil"]


def test_why(stock: Stock) -> None:
    found = stock.till.data("why", stock.stock[0])
    assert keys(found) == ROW | {
        "holding", "allergens", "made_from", "story", "rulebooks", "last_seen",
    }  # fmt: skip
    assert keys(found["story"][0]) == {
        "entry", "at", "recorded_at", "by", "says", "late", "voided", "disputed", "doubted",
    }  # fmt: skip
    assert found["holding"]["use_by"] == found["use_by"]


def test_what_makes_containers(till: Till) -> None:
    found = till.data("prep", "chicken stock", "2l", "-c", "2")
    assert keys(found) == {"containers", "printed", "tape"}
    assert all(keys(each) == ROW for each in found["containers"])
    assert keys(found["printed"]) == {
        "files", "warnings", "labels", "printer", "state", "reason",
    }  # fmt: skip
    assert keys(found["printed"]["labels"][0]) == {"code", "purpose", "use_by", "copy"}
    assert len(found["printed"]["files"]) == 3
    by_hand = till.data("prep", "chicken stock", "2l", "--tape")
    assert by_hand["printed"] is None
    assert by_hand["tape"][0][0] == "CHICKEN STOCK"


def test_what_handles_containers(stock: Stock) -> None:
    till, (one, two) = stock.till, stock.stock
    assert keys(till.data("move", one, "reach-in")) == ROW
    assert keys(till.data("read", one, "39F")) == ROW
    assert keys(till.data("use", one)) == ROW
    assert keys(till.data("cool", stock.cooling, "140F")) == COOLING | {"plot", "entries"}
    binned = till.data("discard", two, "-r", "off")
    assert keys(binned) == ROW | {"discarded", "was_written", "why", "cost", "part"}
    assert (binned["discarded"], binned["why"]) == ("3 l", "off")


def test_what_cools(till: Till) -> None:
    found = till.data("cool")
    assert keys(found) == {"kitchen", "at", "coolings"}
    (each,) = found["coolings"]
    assert keys(each) == COOLING
    assert keys(each["readings"][0]) == {"at", "temperature", "late"}
    assert all(keys(row) == ROW for row in each["containers"])
    assert till.data("due")["cooling"] == found["coolings"]


def test_the_audit(stock: Stock) -> None:
    stock.till.ok("discard", stock.stock[0], "-r", "off")
    found = stock.till.data("audit")
    assert keys(found) == {
        "from", "to", "discards", "voided", "by_reason", "by_item", "by_cook", "by_unit",
        "overall", "ended", "became",
        "labels", "remarks", "probe_checks", "coolings", "units", "holds", "moved_dates", "rules",
        "rulebooks", "entries", "head",
    }  # fmt: skip
    assert keys(found["discards"][0]) == {
        "entry", "at", "code", "item", "unit", "reason", "amount", "cost", "part", "by", "note",
        "late", "voided",
    }  # fmt: skip
    assert found["overall"] == {
        "name": found["overall"]["name"], "containers": 1, "discards": 1, "sums": {"ml": "3000"},
        "unknown": 0, "cost": {}, "unpriced": 1,
    }  # fmt: skip
    assert len(found["head"]) == 64


def test_the_lists_of_setting_up(till: Till) -> None:
    unit = till.data("unit", "list")[0]
    assert keys(unit) == {
        "unit", "sort", "limit", "last_reading", "age_seconds", "good", "stale",
    }  # fmt: skip
    assert keys(unit["limit"]) == {"f", "c", "side", "cite", "seen"}
    assert keys(till.data("item", "list", "stock")[0]) == {
        "item", "name", "category", "allergens", "cautions", "thaw_days", "house_days", "source",
        "cost",
    }  # fmt: skip
    assert keys(till.data("doctor")[0]) == {"check", "ok", "says"}


def test_a_refusal_is_json_too_and_still_a_line(stock: Stock) -> None:
    for arguments, code in (
        (["why", "H7K3-9QX2"], "bad-code"),
        (["prep", "unicorn"], "no-item"),
        (["due", "--what"], "usage"),
    ):
        done = stock.till.run(*arguments, "--json")
        done.refusal()
        error = json.loads(done.out)["error"]
        assert keys(error) == {"code", "says", "hint"}
        assert error["code"] == code


def test_a_check_that_fails_leaves_with_one(stock: Stock) -> None:
    """`due --check` is for a cron job: 1 where something must go or is on hold."""
    assert stock.till.run("due", "--check", "--json").code == 1
    stock.till.ok("discard", stock.cooling, "-r", "cooling")
    assert stock.till.run("due", "--check", "--json").code == 0
