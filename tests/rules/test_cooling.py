"""The cooling verdict from readings.

Limits: FDA Food Code 2022, §3-501.14(A): 135 °F (57 °C) to 70 °F (21 °C) within 2 hours and to
41 °F (5 °C) or less within 6 hours in all; (B): 41 °F (5 °C) within 4 hours. The logs are our own;
what each proves follows from the text by arithmetic, since a limit was crossed somewhere between
the last reading on one side of it and the first on the other.
"""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.moments import MINUTE, Instant
from holdlog.core.temperature import Temperature
from holdlog.rules.cooling import CoolingReading, CoolingVerdict, judge
from holdlog.rules.history import Event
from holdlog.rules.kinds import CoolingRule
from tests.rules.making import at, cooling, event, food, food_code, found, history, stack

Log = str


def rule(name: str = "cooling") -> CoolingRule:
    known = food_code().rules[name]
    assert isinstance(known, CoolingRule)
    return known


def readings(log: Log) -> list[CoolingReading]:
    """``"0:135 60:95 -25:hot"``: minutes and °F."""
    parts = (each.split(":") for each in log.split())
    return sorted(
        (
            CoolingReading(
                Instant(int(minute) * MINUTE),
                None if degrees == "hot" else Temperature(Decimal(degrees), "F"),
            )
            for minute, degrees in parts
        ),
        key=lambda reading: reading.at,
    )


def judged(log: Log, now: int, name: str = "cooling") -> CoolingVerdict:
    return judge(readings(log), rule(name), Instant(now * MINUTE))


@pytest.mark.parametrize(
    ("name", "log", "now", "first", "whole"),
    [
        ("V1 both limits met to the minute", "0:135 60:95 120:70 240:50 360:41", 360, "met", "met"),
        ("V2 start between two readings", "0:150 30:128 130:72 160:68", 160, "unproven", "running"),
        ("V3 too slow even at best", "0:140 10:134 135:71 165:66", 165, "missed", "running"),
        ("V4 start unknown", "0:118 90:68", 90, "unproven", "unproven"),
        ("V4b start known from the heat", "-25:hot 0:118 90:68", 90, "met", "running"),
        ("V5 last stretch unproven", "0:137 60:90 115:69 300:44 370:41", 370, "met", "unproven"),
        ("V6 nobody looked at six hours", "0:135 110:69 330:45", 400, "met", "unproven"),
        ("V6b too warm after six hours", "0:135 110:69 330:45 480:43", 480, "met", "missed"),
        ("V7 warm again, too long", "0:136 5:133 100:69 130:73 160:67", 160, "missed", "running"),
        ("V8 warm again, unclear", "0:136 100:69 130:73 160:67", 160, "unproven", "running"),
        ("V9 no reading in two hours", "0:135 121:70", 121, "unproven", "running"),
        ("V10 too warm at two hours", "0:135 1:134 121:70.1 122:69", 122, "missed", "running"),
    ],
)
def test_what_a_log_proves(name: str, log: Log, now: int, first: str, whole: str) -> None:
    verdict = judged(log, now)
    assert (verdict.first, verdict.whole) == (first, whole), name


def test_food_that_was_quick_at_first_keeps_the_time_it_saved() -> None:
    # §3-501.14(A)(2) counts six hours in all: at 70 °F after one hour, five remain.
    assert judged("0:135 60:70 359:42 360:41", 360).whole == "met"


def test_the_deadlines_run_from_the_last_hot_reading() -> None:
    verdict = judged("0:160 20:140 50:120", 50)
    assert verdict.deadline_first == 140 * MINUTE
    assert verdict.deadline_whole == 380 * MINUTE


def test_without_a_hot_reading_there_are_no_deadlines() -> None:
    verdict = judged("0:118 90:68", 90)
    assert verdict.deadline_first is None
    assert verdict.deadline_whole is None


def test_one_limit_is_reported_as_the_whole() -> None:
    # §3-501.14(B): four hours to 41 °F, for food made of ingredients at room temperature.
    verdict = judged("0:68 240:41", 240, "cooling-ambient")
    assert (verdict.first, verdict.whole) == (None, "met")
    assert judged("0:68 241:41.1", 241, "cooling-ambient").whole == "missed"
    assert judged("0:68 200:42 241:41", 241, "cooling-ambient").whole == "unproven"


def test_a_celsius_log_is_judged_by_the_celsius_figures() -> None:
    # 57, 21 and 5 °C as printed: 57.0 °C starts the clock although it is below 135 °F.
    log = [("0", "57.0"), ("120", "21.0"), ("360", "5.0")]
    celsius = [
        CoolingReading(Instant(int(minute) * MINUTE), Temperature(Decimal(degrees), "C"))
        for minute, degrees in log
    ]
    verdict = judge(celsius, rule(), Instant(360 * MINUTE))
    assert (verdict.first, verdict.whole) == ("met", "met")


# ---- what it means for the food --------------------------------------------------------------


def stew(*more: Event) -> list[Event]:
    return [event("06-01 12:00", ev.OffHeat()), event("06-01 12:00", ev.Prepared()), *more]


def test_food_that_cools_is_on_hold_and_then_served() -> None:
    log = stew(cooling("06-01 13:50", "69 F"))
    assert found(history(*log), "06-01 14:00").verdict == "hold"
    assert found(history(*log), "06-01 14:00").state == "cooling"
    log.append(cooling("06-01 17:45", "41 F"))
    assert found(history(*log), "06-01 18:00").verdict == "serve"


def test_the_reading_in_the_cold_unit_finishes_the_cooling() -> None:
    log = stew(
        cooling("06-01 13:50", "69 F"),
        event("06-01 17:45", ev.Chilled(Temperature(Decimal(40), "F"))),
    )
    holding = found(history(*log), "06-01 18:00")
    assert holding.cooling is not None
    assert holding.cooling.whole == "met"
    assert holding.verdict == "serve"


def test_going_cold_without_a_temperature_does_not_finish_it() -> None:
    log = stew(cooling("06-01 13:50", "69 F"), event("06-01 17:45", ev.Chilled()))
    assert found(history(*log), "06-02 09:00").verdict == "hold"


@pytest.mark.parametrize("minute", ["14:01", "15:00"])
def test_a_first_miss_found_within_the_hour_is_reheated_once(minute: str) -> None:
    log = stew(cooling("06-01 12:01", "134 F"), cooling(f"06-01 {minute}", "75 F"))
    assert found(history(*log), f"06-01 {minute}").verdict == "reheat"


def test_a_first_miss_found_later_is_discarded() -> None:
    log = stew(cooling("06-01 12:01", "134 F"), cooling("06-01 15:01", "75 F"))
    assert found(history(*log), "06-01 15:02").verdict == "discard"


def test_the_offer_to_reheat_ends_with_the_whole_deadline() -> None:
    log = stew(cooling("06-01 12:01", "134 F"), cooling("06-01 14:10", "75 F"))
    assert found(history(*log), "06-01 18:00").verdict == "reheat"
    assert found(history(*log), "06-01 18:01").verdict == "discard"


def reheated(
    wall: str,
    degrees: str = "165",
    *,
    held_seconds: int | None = None,
    took_minutes: int | None = None,
) -> Event:
    hot = Temperature(Decimal(degrees), "F")
    return event(wall, ev.Reheated(hot, held_seconds=held_seconds, took_minutes=took_minutes))


SLOW = (cooling("06-01 12:01", "134 F"), cooling("06-01 14:10", "75 F"))


def test_a_reheat_in_time_begins_a_new_cooling() -> None:
    log = stew(*SLOW, reheated("06-01 14:30", held_seconds=15, took_minutes=15))
    assert found(history(*log), "06-01 14:40").verdict == "hold"
    log += [cooling("06-01 16:00", "70 F"), cooling("06-01 20:00", "41 F")]
    holding = found(history(*log), "06-01 20:10")
    assert holding.verdict == "serve"
    assert str(holding.last_day) == "2026-06-07"


def test_a_second_first_stage_miss_is_discarded() -> None:
    log = stew(
        *SLOW,
        reheated("06-01 14:30"),
        cooling("06-01 14:31", "134 F"),
        cooling("06-01 16:40", "75 F"),
    )
    assert found(history(*log), "06-01 16:41").verdict == "discard"


@pytest.mark.parametrize(
    "bad",
    [
        reheated("06-01 14:30", "164.9"),
        # 165 °F for 15 seconds within 2 hours: §3-403.11(A), (D).
        reheated("06-01 14:30", held_seconds=14),
        reheated("06-01 14:30", took_minutes=121),
        event("06-01 14:30", ev.Reheated(Temperature(Decimal(165), "F")), written="06-02 09:00"),
    ],
)
def test_a_reheat_that_falls_short_mends_nothing(bad: Event) -> None:
    log = stew(*SLOW, bad, cooling("06-01 16:00", "70 F"), cooling("06-01 20:00", "41 F"))
    assert found(history(*log), "06-01 20:10").verdict == "discard"


def test_cooled_food_reheated_for_service_is_served() -> None:
    log = stew(cooling("06-01 13:50", "69 F"), cooling("06-01 17:45", "41 F"))
    log.append(reheated("06-02 12:00", held_seconds=15, took_minutes=30))
    holding = found(history(*log), "06-02 12:10")
    assert holding.verdict == "serve"
    log.append(event("06-02 12:15", ev.HotHeld(Temperature(Decimal(150), "F"))))
    assert found(history(*log), "06-02 13:00").verdict == "serve"


def test_hot_food_cooled_a_second_time_is_judged_a_second_time() -> None:
    log = stew(cooling("06-01 13:50", "69 F"), cooling("06-01 17:45", "41 F"))
    log += [
        event("06-02 12:00", ev.HotHeld(Temperature(Decimal(150), "F"))),
        event("06-02 14:00", ev.OffHeat()),
        cooling("06-02 14:01", "134 F"),
        cooling("06-02 20:30", "45 F"),
    ]
    assert found(history(*log), "06-02 20:31").verdict == "discard"


def test_a_miss_is_not_forgotten_when_the_food_is_hot_again() -> None:
    log = stew(
        cooling("06-01 12:01", "134 F"),
        cooling("06-01 14:10", "75 F"),
        cooling("06-01 19:00", "41 F"),
        event("06-02 12:00", ev.OffHeat()),
        cooling("06-02 13:50", "69 F"),
        cooling("06-02 17:00", "41 F"),
    )
    assert found(history(*log), "06-02 18:00").verdict == "discard"


def test_freezing_neither_finishes_nor_cures_a_cooling() -> None:
    log = stew(cooling("06-01 13:50", "69 F"), event("06-01 14:30", ev.Frozen()))
    assert found(history(*log), "06-01 14:40").verdict == "hold"
    assert found(history(*log), "06-03 09:00").verdict == "hold"
    missed = stew(*SLOW, event("06-01 14:30", ev.Frozen()))
    assert found(history(*missed), "06-03 09:00").verdict == "discard"


def test_a_reading_written_down_the_next_day_proves_nothing_without_its_paper() -> None:
    log = stew(cooling("06-01 13:50", "69 F"))
    late = cooling("06-01 17:45", "41 F", written="06-02 09:00")
    assert found(history(*log, late), "06-02 10:00").verdict == "hold"
    backed = cooling("06-01 17:45", "41 F", written="06-02 09:00", evidence="logger 3")
    assert found(history(*log, backed), "06-02 10:00").verdict == "serve"


def test_a_late_entry_that_it_was_too_warm_counts_at_once() -> None:
    log = stew(cooling("06-01 12:01", "134 F"), cooling("06-01 13:50", "69 F"))
    late = cooling("06-01 18:30", "50 F", written="06-02 09:00")
    assert found(history(*log), "06-02 10:00").verdict == "hold"
    assert found(history(*log, late), "06-02 10:00").verdict == "discard"


def test_a_late_hot_reading_does_not_start_the_clock_later() -> None:
    log = stew(cooling("06-01 13:50", "69 F"))
    late = cooling("06-01 13:00", "136 F", written="06-02 09:00")
    deadline = found(history(*log, late), "06-01 14:00").cooling
    assert deadline is not None
    assert deadline.deadline_first == at("06-01 14:00")


def test_a_late_reading_is_no_proof_that_it_was_found_in_time() -> None:
    log = stew(cooling("06-01 12:01", "134 F"), cooling("06-01 15:30", "75 F"))
    late = cooling("06-01 14:10", "80 F", written="06-02 09:00")
    assert found(history(*log, late), "06-01 15:40").verdict == "discard"


def test_food_said_to_be_cold_made_but_hot_keeps_both_rules() -> None:
    salad = food("warm tuna salad", "cooked-dish", ambient_ingredients=True)
    log = [
        event("06-01 12:00", ev.OffHeat()),
        event("06-01 12:00", ev.Prepared()),
        cooling("06-01 12:01", "134 F"),
        cooling("06-01 14:30", "80 F"),
        cooling("06-01 15:50", "41 F"),
    ]
    # Within 4 hours, but not at 70 °F within 2.
    assert found(history(*log, of=salad), "06-01 16:00").verdict in {"reheat", "discard"}


def test_reheating_before_the_cooling_was_over_is_for_the_person_in_charge() -> None:
    log = stew(cooling("06-01 13:00", "69 F"), reheated("06-01 15:00"))
    holding = found(history(*log), "06-02 09:00")
    assert holding.verdict == "hold"


# ---- laws ------------------------------------------------------------------------------------


def crossing(curve: tuple[int, int, int], limit: float) -> float:
    """When food that starts at 135 °F cools below ``limit``: piecewise linear, in minutes."""
    hot_to_mid, mid_to_cold, _ = curve
    if limit >= 70:
        return hot_to_mid * (135 - limit) / 65
    return hot_to_mid + mid_to_cold * (70 - limit) / 29


def degrees(curve: tuple[int, int, int], minute: int) -> float:
    hot_to_mid, mid_to_cold, before = curve
    if minute < 0:
        return 135 + 30 * -minute / before
    if minute <= hot_to_mid:
        return 135 - 65 * minute / hot_to_mid
    return max(34.0, 70 - 29 * (minute - hot_to_mid) / mid_to_cold)


CURVES = st.tuples(st.integers(20, 240), st.integers(30, 500), st.integers(5, 60))
MINUTES = st.sets(st.integers(-30, 700), min_size=1, max_size=14)


def sampled(curve: tuple[int, int, int], minutes: set[int]) -> list[CoolingReading]:
    """A falling curve read to the tenth of a degree, rounded up as a careful probe would."""
    return [
        CoolingReading(
            Instant(minute * MINUTE),
            Temperature(
                Decimal(degrees(curve, minute)).quantize(Decimal("0.1"), "ROUND_CEILING"), "F"
            ),
        )
        for minute in sorted(minutes)
    ]


@settings(max_examples=2000)
@given(curve=CURVES, minutes=MINUTES)
def test_met_is_truly_met_and_missed_truly_missed(
    curve: tuple[int, int, int], minutes: set[int]
) -> None:
    verdict = judge(sampled(curve, minutes), rule(), Instant(701 * MINUTE))
    # The probe shows up to 0.1 °F more than there is: so much later at most, no earlier.
    if verdict.first == "met":
        assert crossing(curve, 70) <= 120
    if verdict.first == "missed":
        assert crossing(curve, 69.9) > 120 or crossing(curve, 70) >= 120
    if verdict.whole == "met":
        assert crossing(curve, 41) <= 360
    if verdict.whole == "missed":
        assert crossing(curve, 40.9) > 360 or crossing(curve, 41) >= 360


@settings(max_examples=2000)
@given(curve=CURVES, minutes=MINUTES, more=st.integers(-30, 700))
def test_one_more_reading_of_a_falling_curve_never_turns_the_verdict(
    curve: tuple[int, int, int], minutes: set[int], more: int
) -> None:
    now = Instant(701 * MINUTE)
    before = judge(sampled(curve, minutes), rule(), now)
    after = judge(sampled(curve, minutes | {more}), rule(), now)
    for was, is_now in ((before.first, after.first), (before.whole, after.whole)):
        assert {was, is_now} != {"met", "missed"}
        assert was not in ("met", "missed") or is_now == was


@settings(max_examples=500)
@given(curve=CURVES, minutes=MINUTES, late=MINUTES)
def test_late_readings_never_make_it_better(
    curve: tuple[int, int, int], minutes: set[int], late: set[int]
) -> None:
    order = ("met", "running", "unproven", "missed")
    now = Instant(701 * MINUTE)
    known = sampled(curve, minutes)
    added = [
        CoolingReading(reading.at, reading.temperature, late=True)
        for reading in sampled(curve, late - minutes)
    ]
    before = judge(known, rule(), now)
    after = judge(sorted([*known, *added], key=lambda each: each.at), rule(), now)
    assert order.index(after.whole) >= order.index(before.whole)
    assert before.first is not None
    assert after.first is not None
    assert order.index(after.first) >= order.index(before.first)


def test_a_house_limit_in_celsius_alone_is_kept() -> None:
    house = """
id = "tern-and-tide"
title = "Tern & Tide, house rules"
role = "house"
[rule.colder]
kind = "holding-limit"
place = "cold"
limit = { f = 41, c = 4 }
cite = "house"
says = "4 °C or below."
seen = "text"
"""
    milk = history(
        event("06-01 12:00", ev.Prepared()),
        event("06-01 18:00", ev.Reading(Temperature(Decimal("4.5"), "C"))),
    )
    assert found(milk, "06-01 19:00").verdict == "serve"
    assert found(milk, "06-01 19:00", stack(house)).verdict == "hold"
