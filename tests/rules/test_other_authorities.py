"""What other authorities' rules ask of the engine: one scale, stage clocks, packs, outages.

Each figure is named beside its check; the logs are ours.
"""

import pytest

from holdlog.core import events as ev
from holdlog.core.temperature import read_temperature
from holdlog.rules import rulebook
from holdlog.rules.stack import Stack, build
from tests.rules.making import (
    at,
    book_text,
    categories,
    cooling,
    event,
    food,
    found,
    history,
    stack,
)


def standing_on(*names: str) -> Stack:
    return build([rulebook.load(*book_text(name)) for name in names], categories())


def degrees(text: str) -> ev.Reading:
    return ev.Reading(read_temperature(text))


OUTAGE = """
id = "us-harbour-county"
title = "Harbour County outage rule"
issuer = "Harbour County"
edition = "2026"
role = "amendment"
amends = ["us-food-code-2022"]

[rule.outage]
kind = "outage"
limit = { f = 41 }
hours = 4
cite = "HC 9"
says = "Cold food above 41 °F for more than 4 hours is discarded."
seen = "text"
"""


# ---- a limit printed on one scale only -------------------------------------------------------


@pytest.mark.parametrize(("read", "verdict"), [("8.0 C", "serve"), ("8.1 C", "hold")])
def test_england_prints_celsius_and_judges_it(read: str, verdict: str) -> None:
    """SI 2013/2996 schedule 4 paragraph 2: above 8 °C."""
    quiche = history(event("05-04 10:00", ev.Prepared()), event("05-05 12:00", degrees(read)))
    assert found(quiche, "05-05 12:05", standing_on("uk-england")).verdict == verdict


def test_a_probe_on_the_other_scale_is_not_converted_but_held() -> None:
    quiche = history(event("05-04 10:00", ev.Prepared()), event("05-05 12:00", degrees("40 F")))
    holding = found(quiche, "05-05 12:05", standing_on("uk-england"))
    assert holding.verdict == "hold"
    assert "read it on a probe that shows it" in holding.reason


def test_a_cooling_log_on_the_other_scale_proves_nothing() -> None:
    """Standard 3.2.2 clause 7(3) prints 60, 21 and 5 °C."""
    stock = history(
        event("05-04 10:00", ev.Prepared()),
        event("05-04 10:00", ev.OffHeat()),
        cooling("05-04 11:00", "60 F"),
        cooling("05-04 12:00", "40 F"),
    )
    holding = found(stock, "05-04 20:00", standing_on("au-3-2-2"))
    assert holding.cooling is not None
    assert (holding.cooling.first, holding.cooling.whole) == ("unproven", "unproven")
    assert holding.verdict == "hold"


# ---- the second stage counted from the middle limit ------------------------------------------


def test_the_second_clock_starts_where_the_middle_limit_was_crossed() -> None:
    """Australia: 60 to 21 °C in two hours, then to 5 °C in four more (Standard 3.2.2, 7(3))."""
    log = [
        event("05-04 10:00", ev.Prepared()),
        event("05-04 10:00", ev.OffHeat()),
        cooling("05-04 10:10", "59 C"),
        cooling("05-04 11:00", "22 C"),
        cooling("05-04 11:10", "21 C"),
    ]
    by = standing_on("au-3-2-2")
    running = found(history(*log), "05-04 11:15", by).cooling
    assert running is not None
    assert running.deadline_whole == at("05-04 15:00"), "from the last reading above 21 °C"
    met = found(history(*log, cooling("05-04 15:00", "5 C")), "05-04 15:00", by).cooling
    unproven = found(history(*log, cooling("05-04 15:05", "5 C")), "05-04 15:05", by).cooling
    missed = found(history(*log, cooling("05-04 15:10", "6 C")), "05-04 15:10", by).cooling
    assert met is not None
    assert unproven is not None
    assert missed is not None
    assert (met.whole, unproven.whole, missed.whole) == ("met", "unproven", "missed")


# ---- packs -----------------------------------------------------------------------------------


def test_without_a_plan_the_short_hold_is_all_there_is() -> None:
    """3-502.12(F): 48 hours, whatever the way of packing."""
    pork = food("pork", "cooked-meat", reduced_oxygen="sous-vide")
    packed = history(
        event("06-01 10:00", ev.Packed("sous-vide")), event("06-01 14:00", ev.Prepared()), of=pork
    )
    assert found(packed, "06-02 09:00").use_by == at("06-03 10:00")


def test_under_a_plan_date_marking_rests_while_food_is_in_the_pack() -> None:
    """3-501.17(A) leaves packed food out; 3-502.12(B) gives it 30 days; the days before packing
    and after opening count on (our reading, the strict one).
    """
    ham = food("ham", "cooked-meat", haccp_plan=True, aw="0.90", reduced_oxygen="vacuum")
    made = event("06-01 09:00", ev.Prepared())
    packed = event("06-02 09:00", ev.Packed("vacuum"))
    opened = event("06-20 09:00", ev.Opened())
    in_the_pack = found(history(made, packed, of=ham), "06-10 09:00")
    assert in_the_pack.last_day is not None
    assert in_the_pack.last_day.isoformat() == "2026-07-01"
    after = found(history(made, packed, opened, of=ham), "06-20 10:00")
    assert after.last_day is not None
    assert after.last_day.isoformat() == "2026-06-24", "days 1 and 2, then 20 to 24 June"


def test_two_barriers_have_to_be_shown() -> None:
    """3-502.12(B): water activity 0.91 or less, pH 4.6 or less, or named food."""
    soup = food("soup", "cooked-dish", haccp_plan=True, ph="4.7", reduced_oxygen="vacuum")
    packed = history(
        event("06-01 09:00", ev.Prepared()), event("06-01 10:00", ev.Packed("vacuum")), of=soup
    )
    assert found(packed, "06-02 09:00").use_by == at("06-03 10:00"), "the 48 hours of any pack"


# ---- outages ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("good_again", "now", "verdict"),
    [
        ("", "06-02 09:59", "hold"),
        ("", "06-02 10:00", "hold"),
        ("", "06-02 10:01", "discard"),
        ("06-02 08:30", "06-03 09:00", "hold"),
        ("06-02 10:30", "06-03 09:00", "discard"),
    ],
)
def test_an_outage_is_counted_from_the_last_good_reading(
    good_again: str, now: str, verdict: str
) -> None:
    log = [
        event("06-01 15:00", ev.Prepared()),
        event("06-02 06:00", degrees("39 F")),
        event("06-02 07:00", degrees("45 F")),
    ]
    if good_again:
        log.append(event(good_again, degrees("40 F")))
    holding = found(history(*log), now, stack(OUTAGE))
    assert holding.verdict == verdict


def test_a_hold_names_when_it_turns_into_a_discard() -> None:
    log = [event("06-01 15:00", ev.Prepared()), event("06-02 07:00", degrees("45 F"))]
    holding = found(history(*log), "06-02 07:05", stack(OUTAGE))
    assert holding.verdict == "hold"
    assert holding.review_at == at("06-02 11:00")


def test_the_food_code_names_no_hours_so_the_person_in_charge_decides() -> None:
    """8-404.11 says: stop and tell the authority."""
    log = [event("06-01 15:00", ev.Prepared()), event("06-02 07:00", degrees("45 F"))]
    assert found(history(*log), "06-05 07:05").verdict == "hold"


# ---- time control ----------------------------------------------------------------------------


def test_times_out_add_up_where_food_may_go_back() -> None:
    """Australia: under 2 hours in all it may go back (FSANZ, the 2 hour/4 hour rule)."""
    cold = ev.Out("4h", read_temperature("4 C"))
    back = ev.Chilled(read_temperature("5 C"))
    log = [
        event("06-01 09:00", ev.Prepared()),
        event("06-02 10:00", cold),
        event("06-02 11:00", back),
        event("06-02 12:00", cold),
        event("06-02 13:00", back),
    ]
    by = standing_on("au-3-2-2")
    first_time = found(history(*log[:3]), "06-02 11:05", by)
    assert first_time.state == "chilled"
    both = found(history(*log), "06-02 13:05", by)
    assert both.state == "out", "two hours in all are not under two hours"
    assert both.use_by is not None
    assert both.use_by < at("06-02 15:00"), "four hours in all, the first hour included"


def test_new_york_city_measures_again_at_four_hours() -> None:
    """Health Code 81.10: over 70 °F at 4 hours, discard; nobody measured, the rule is not kept."""
    cold = ev.Out("6h", read_temperature("40 F"))
    log = [event("06-02 08:00", ev.Prepared()), event("06-02 10:00", cold)]
    by = standing_on("us-ny", "us-nyc")
    assert found(history(*log), "06-02 13:30", by).verdict == "last-day"
    assert found(history(*log), "06-02 14:30", by).verdict == "hold"
    measured = [*log, event("06-02 14:00", degrees("69 F"))]
    assert found(history(*measured), "06-02 14:30", by).verdict == "last-day"
    warm = [*log, event("06-02 14:00", degrees("70 F"))]
    assert found(history(*warm), "06-02 14:30", by).verdict == "discard"
