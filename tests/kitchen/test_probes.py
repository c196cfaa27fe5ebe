"""Thermometers: what a check decides, what a bad one shakes, and what brings back trust.

How far one may be off: FDA Food Code 2022, 4-203.11 (A): accurate to ±1 °C where it shows Celsius,
or Celsius and Fahrenheit; (B): to ±2 °F where it shows Fahrenheit alone.
"""

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import HOUR, MINUTE, Instant
from holdlog.journal import engine
from holdlog.journal.codec import fact_of
from holdlog.kitchen import correct, handle, probes
from holdlog.kitchen.audit import audit
from holdlog.kitchen.due import due
from holdlog.kitchen.kitchen import look
from holdlog.kitchen.prep import record
from holdlog.kitchen.why import why
from holdlog.rules.faults import WORST_FIRST
from holdlog.rules.holding import Holding
from holdlog.rules.probe import pressure_at
from tests.kitchen.cold import excursions
from tests.kitchen.cold import read as read_air
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import Shop, at, codes, day, temp


def checked(shop: Shop, reads: str, name: str = "red", wall: str = "") -> probes.Checked:
    when = at(wall) if wall else shop.hand.now
    return probes.check(shop.kitchen, "mk", name, when, temp(reads))


def read(shop: Shop, code: str, reads: str, probe: str = "red") -> None:
    handle.reading(shop.kitchen, "mk", code, shop.hand.now, temp(reads), probe)


def listed(shop: Shop, name: str = "red") -> probes.Probe:
    with shop.db.reading() as conn:
        return probes.find(shop.kitchen, conn, name)


@pytest.fixture
def red(shop: Shop) -> Shop:
    """A kitchen with a good probe, checked at six in the morning."""
    probes.add(shop.kitchen, "jr", "red", "F")
    probes.add(shop.kitchen, "jr", "blue", "FC")
    checked(shop, "32 F")
    return shop


def cooled(shop: Shop, probe: str = "red") -> str:
    """A stock cooled as the Food Code wants it: 135 to 70 °F in 2 hours, to 41 °F in 6."""
    code = shop.prep("chicken stock", 2, off_heat_at=shop.hand.now).rows[0].code
    for wall, reads in (("06-01 08:00", "69 F"), ("06-01 11:30", "40 F")):
        shop.it_is(wall)
        log_cooling(shop.kitchen, "mk", code, shop.hand.now, temp(reads), "", probe)
    return code


# ---- what a check decides --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scale", "reads", "passes"),
    [
        ("F", "34 F", True),
        ("F", "30 F", True),
        ("F", "34.1 F", False),
        ("F", "29.9 F", False),
        ("C", "1.0 C", True),
        ("C", "-1.1 C", False),
        # Both scales: 1 °C is 1.8 °F, so that 33.9 °F fails though it is within two degrees.
        ("FC", "33.8 F", True),
        ("FC", "33.9 F", False),
        ("FC", "1.1 C", False),
    ],
)
def test_ice_decides_by_what_the_probe_shows(
    shop: Shop, scale: ev.ProbeScale, reads: str, passes: bool
) -> None:
    probes.add(shop.kitchen, "jr", "red", scale)
    assert checked(shop, reads).found.within is passes
    assert listed(shop).in_doubt is not passes


def test_a_scale_it_does_not_show_is_refused(red: Shop) -> None:
    before = len(red.entries())
    with pytest.raises(Mistake, match="shows °F alone"):
        checked(red, "0 C")
    assert len(red.entries()) == before


def test_boiling_water_tells_and_decides_nothing(red: Shop) -> None:
    code = cooled(red)
    # At 5280 ft water boils at 202.3 °F (IAPWS-95); this one reads ten degrees more.
    found = probes.check(
        red.kitchen, "mk", "red", red.hand.now, temp("212 F"), pressure_at(1609.344)
    )
    assert (found.found.within, found.found.decides) == (False, False)
    assert (listed(red).in_doubt, listed(red).last.passed) == (False, False)  # type: ignore[union-attr]
    assert (found.changed, red.holding(code).verdict) == ((), "serve")


def test_the_offset_is_kept_beside_the_reading_and_never_taken_off_it(red: Shop) -> None:
    checked(red, "33.5 F")
    seen = listed(red).ice
    assert seen is not None
    assert (str(seen.offset), seen.passed) == ("1.5", True)
    code = red.tub()
    # 42 °F on a probe that reads 1.5 too much would be 40.5; it is judged as read (41 °F or less).
    read(red, code, "42 F")
    assert red.holding(code).verdict == "hold"


def test_probes_are_known_by_name(red: Shop) -> None:
    code = red.tub()
    read(red, code, "38 F", " RED ")
    assert fact_of(red.facts("reading")[0]).probe == "red"  # type: ignore[union-attr]
    before = len(red.entries())
    with pytest.raises(Mistake, match="no probe 'green'") as refused:
        read(red, code, "38 F", "green")
    assert "red, blue" in refused.value.hint
    with pytest.raises(Mistake, match="already"):
        probes.add(red.kitchen, "jr", "Red", "F")
    with pytest.raises(Mistake, match="no name"):
        probes.add(red.kitchen, "jr", "  ", "F")
    assert len(red.entries()) == before
    assert probes.add(red.kitchen, "jr", "Red", "FC").name == "red"
    with red.db.reading() as conn:
        assert [each.name for each in probes.probes(red.kitchen, conn)] == ["red", "blue"]


# ---- what a bad one shakes -------------------------------------------------------------------


def test_a_failed_check_holds_what_was_cooled_on_that_probe(red: Shop) -> None:
    code = cooled(red)
    assert red.holding(code).cooling.whole == "met"  # type: ignore[union-attr]
    red.it_is("06-02 09:00")
    done = checked(red, "36 F")
    siblings = {row.code for row in red.live()}
    assert {each.row.code for each in done.changed} == siblings
    assert {(each.was.verdict, each.now.verdict) for each in done.changed} == {("serve", "hold")}
    assert set(codes(done.again)) == siblings
    assert red.holding(code).cooling.unproven  # type: ignore[union-attr]
    assert code in codes(due(red.kitchen).hold)
    (doubt,) = due(red.kitchen).probes
    assert (doubt.probe.name, doubt.probe.doubted_since) == ("red", at("06-01 06:00"))
    assert set(codes(doubt.containers)) == siblings
    assert red.everything() == red.replayed()


def test_the_paper_of_another_thermometer_releases_it(red: Shop) -> None:
    code = cooled(red)
    red.it_is("06-02 09:00")
    checked(red, "36 F")
    for wall, reads in (("06-01 08:00", "68 F"), ("06-01 11:30", "39 F")):
        log_cooling(red.kitchen, "jr", code, at(wall), temp(reads), "logger of the walk-in")
    assert red.holding(code).cooling.whole == "met"  # type: ignore[union-attr]
    assert red.holding(code).verdict == "serve"
    assert red.everything() == red.replayed()


def test_confirming_the_doubted_readings_themselves_releases_nothing(red: Shop) -> None:
    code = cooled(red)
    red.it_is("06-02 09:00")
    checked(red, "36 F")
    for entry in red.facts("cooling"):
        correct.confirm(red.kitchen, "jr", entry.number, "I remember it well")
    assert red.holding(code).verdict == "hold"


def test_what_was_read_before_the_last_good_check_or_on_another_probe_stands(red: Shop) -> None:
    before = cooled(red)
    red.it_is("06-01 12:00")
    checked(red, "32.5 F")
    red.it_is("06-01 13:00")
    other, same = red.tub(), red.tub()
    read(red, other, "38 F", "blue")
    read(red, same, "38 F", "red")
    red.it_is("06-02 09:00")
    done = checked(red, "36 F")
    assert (done.changed, codes(done.again)) == ((), [same])
    assert {red.holding(code).verdict for code in (before, other, same)} == {"serve"}
    cautions = {code: " ".join(red.holding(code).cautions) for code in (other, same)}
    assert "found off" in cautions[same]
    assert "found off" not in cautions[other]


def test_a_probe_without_any_good_check_is_doubted_from_the_first(shop: Shop) -> None:
    probes.add(shop.kitchen, "jr", "red", "F")
    code = cooled(shop)
    done = checked(shop, "36 F")
    assert done.probe.doubted_since is None
    assert shop.holding(code).verdict == "hold"


def test_the_next_good_check_clears_what_follows_and_not_what_was_read_between(red: Shop) -> None:
    red.it_is("06-01 07:00")
    assert not checked(red, "36 F").ended
    between = red.tub()
    read(red, between, "38 F")
    red.it_is("06-01 08:00")
    assert checked(red, "32 F").ended
    after = red.tub()
    red.it_is("06-01 08:30")
    read(red, after, "38 F")
    assert not listed(red).in_doubt
    assert due(red.kitchen).probes == ()
    assert any("found off" in text for text in red.holding(between).cautions)
    assert not any("found off" in text for text in red.holding(after).cautions)


def test_too_warm_is_too_warm_on_a_bad_probe_too(red: Shop) -> None:
    code = red.tub()
    read(red, code, "50 F")
    was = red.holding(code)
    assert was.verdict == "hold"
    red.it_is("06-01 07:00")
    checked(red, "36 F")
    assert red.holding(code).verdict == "hold"


def test_a_missed_cooling_stays_missed_when_its_probe_fails(red: Shop) -> None:
    """The doubt must not turn what has to be binned into what waits for a decision."""
    code = red.tub("chicken stock", off_heat_at=red.hand.now)
    for wall, reads in (("06-01 06:30", "130 F"), ("06-01 12:45", "80 F")):
        red.it_is(wall)
        log_cooling(red.kitchen, "mk", code, red.hand.now, temp(reads), "", "red")
    assert red.holding(code).verdict == "discard"
    red.it_is("06-01 13:00")
    checked(red, "36 F")
    assert red.holding(code).verdict == "discard"


def test_the_doubt_travels_to_what_was_made_of_it_and_tells_what_is_gone(red: Shop) -> None:
    code = cooled(red)
    first, second = sorted(row.code for row in red.live())
    dish = red.prep("fish stock", made_from=(first,)).rows[0].code
    handle.end(red.kitchen, "mk", second, red.hand.now, "sold", None)
    red.it_is("06-01 15:00")
    done = checked(red, "36 F")
    assert [(each.row.code, each.now.verdict) for each in done.changed] == [(dish, "hold")]
    assert [(each.row.code, each.row.ended_as) for each in done.gone] == [(second, "sold")]
    assert red.holding(dish).verdict == "hold"
    assert code in (first, second)
    assert red.everything() == red.replayed()


def test_a_reheat_on_a_bad_probe_proves_no_reheat(red: Shop) -> None:
    """FDA Food Code 3-403.11: 165 °F for 15 seconds, before it is held hot."""
    code = red.tub()
    for probe, verdict in (("blue", "serve"), ("red", "hold")):
        fresh = red.tub()
        fact = ev.Reheated(temp("165 F"), 15, 30, probe)
        handle.reheat(red.kitchen, "mk", fresh, red.hand.now, fact, red.unit("hot box"))
        assert red.holding(fresh).verdict == "serve"
        red.hand.now = Instant(red.hand.now + 10 * MINUTE)
        read(red, fresh, "140 F", "blue")
        if probe == "red":
            checked(red, "28 F")
        assert red.holding(fresh).verdict == verdict, probe
    assert red.holding(code).verdict == "serve"
    assert red.everything() == red.replayed()


def test_what_was_read_when_it_came_in_went_out_or_was_made_names_its_probe(red: Shop) -> None:
    record(
        red.kitchen, "mk",
        red.batch("chicken, poached", kind="received", temperature=temp("38 F"), probe="RED"),
    )  # fmt: skip
    record(red.kitchen, "mk", red.batch(warm=temp("150 F"), off_heat_at=red.hand.now, probe="red"))
    code = red.tub(probe="red")
    handle.take_out(red.kitchen, "mk", code, red.hand.now, ev.Out("4h", temp("40 F"), "red"))
    on_red = [
        entry.kind for entry in red.entries() if getattr(fact_of(entry), "probe", "") == "red"
    ]
    assert on_red == ["received", "cooling", "out"]
    checked(red, "36 F")
    assert red.everything() == red.replayed()
    before = len(red.entries())
    with pytest.raises(Mistake, match="no probe"):
        red.tub(probe="green")
    assert len(red.entries()) == before


def test_hot_held_food_rests_on_its_probe_too(red: Shop) -> None:
    code = red.tub()
    handle.reheat(
        red.kitchen, "mk", code, red.hand.now, ev.Reheated(temp("165 F"), 15), red.unit("hot box")
    )
    red.it_is("06-01 07:00")
    read(red, code, "140 F")
    red.it_is("06-01 08:00")
    assert codes(checked(red, "36 F").again) == [code]


# ---- late, wrong, taken back -----------------------------------------------------------------


def test_a_good_reading_of_a_unit_on_a_bad_probe_bounds_no_excursion(red: Shop) -> None:
    """The walk-in was good at nine by a probe that turns out to be off, and 52 °F at noon: what
    stood there has stood there since seven for all that is known, and so had what left at 08:30.
    """
    stayed, left = red.tub(), red.tub("white bean, cooked")
    red.it_is("06-01 07:00")
    read_air(red, "38 F", probe="blue")
    red.it_is("06-01 08:30")
    handle.move(red.kitchen, "mk", left, red.hand.now, red.unit("reach-in"))
    red.it_is("06-01 09:00")
    read_air(red, "38 F", probe="red")
    red.it_is("06-01 12:00")
    read_air(red, "52 F", probe="blue")
    assert [fact.unknown_seconds for _, _, fact in excursions(red, stayed)] == [3 * 3600]
    assert excursions(red, left) == []
    red.it_is("06-01 12:30")
    done = checked(red, "40 F")
    assert [fact.unknown_seconds for _, _, fact in excursions(red, stayed)] == [5 * 3600]
    assert [fact.unknown_seconds for _, _, fact in excursions(red, left)] == [90 * 60]
    assert red.row(left).verdict == "hold"
    assert left in {each.row.code for each in done.changed}
    assert red.bad() == []


def test_what_an_air_reading_on_a_bad_probe_made_plainer_is_unknown_again(red: Shop) -> None:
    code = red.tub()
    red.it_is("06-01 12:00")
    read_air(red, "38 F", when="06-01 07:00", probe="blue")
    read_air(red, "52 F", probe="blue")
    read_air(red, "39 F", when="06-01 11:00", probe="red")
    assert [fact.unknown_seconds for _, _, fact in excursions(red, code)] == [3600]
    red.it_is("06-01 12:30")
    failed = checked(red, "40 F")
    assert [fact.unknown_seconds for _, _, fact in excursions(red, code)] == [5 * 3600]
    # Typed wrong and taken back the same day, it is as it was.
    correct.void(red.kitchen, "mk", failed.number, "typed wrong")
    assert [fact.unknown_seconds for _, _, fact in excursions(red, code)] == [3600]
    assert red.bad() == []


def test_a_failed_check_typed_wrong_is_taken_back_the_same_day(red: Shop) -> None:
    code = cooled(red)
    number = checked(red, "36 F").number
    assert red.holding(code).verdict == "hold"
    done = correct.void(red.kitchen, "mk", number, "that was 32.6")
    assert (done.pending, red.holding(code).verdict) == (False, "serve")
    assert code in codes(done.rows)
    assert not listed(red).in_doubt
    assert red.everything() == red.replayed()


def test_on_a_later_day_that_waits_for_the_person_in_charge(red: Shop) -> None:
    code = cooled(red)
    number = checked(red, "36 F").number
    red.it_is("06-02 09:00")
    done = correct.void(red.kitchen, "mk", number, "that was 32.6")
    assert (done.pending, red.holding(code).verdict) == (True, "hold")
    assert red.everything() == red.replayed()
    voided = red.facts("voided")[-1].number
    correct.confirm(red.kitchen, "jr", voided, "probe sheet 4, JR")
    assert red.holding(code).verdict == "serve"
    assert red.row(code).verdict == ""
    assert red.everything() == red.replayed()


def test_taking_back_a_good_check_shakes_at_once_what_it_had_kept(red: Shop) -> None:
    code = cooled(red)
    red.it_is("06-01 12:00")
    good = checked(red, "32 F").number
    red.it_is("06-01 13:00")
    checked(red, "36 F")
    assert red.holding(code).verdict == "serve"
    red.it_is("06-02 09:00")
    correct.void(red.kitchen, "mk", good, "that was the other probe")
    assert red.holding(code).verdict == "hold"
    assert red.everything() == red.replayed()


def test_a_good_check_remembered_on_a_later_day_clears_nothing_until_confirmed(red: Shop) -> None:
    code = cooled(red)
    checked(red, "36 F")
    red.it_is("06-02 09:00")
    late = checked(red, "32 F", wall="06-01 12:00")
    assert late.waits
    assert listed(red).in_doubt
    correct.confirm(red.kitchen, "jr", late.number, "probe sheet 4")
    assert not listed(red).in_doubt
    assert red.holding(code).verdict == "hold"
    assert red.everything() == red.replayed()


def test_a_failed_check_remembered_later_shakes_what_was_read_since(red: Shop) -> None:
    red.it_is("06-01 07:00")
    checked(red, "32 F", wall="06-01 06:30")
    code = cooled(red)
    red.it_is("06-02 09:00")
    checked(red, "36 F", wall="06-01 09:00")
    assert red.holding(code).verdict == "hold"
    assert red.everything() == red.replayed()


def test_what_was_said_of_a_probe_itself_is_not_voided(red: Shop) -> None:
    with pytest.raises(Mistake, match="cannot be voided"):
        correct.void(red.kitchen, "mk", red.facts("probe")[0].number, "no such probe")


# ---- told ------------------------------------------------------------------------------------


def test_the_story_names_the_probe_and_its_doubt(red: Shop) -> None:
    code = cooled(red)
    assert not any(each.doubted for each in why(red.kitchen, code).story)
    checked(red, "36 F")
    told = [each for each in why(red.kitchen, code).story if each.doubted]
    assert [each.says for each in told] == [
        "69 °F while cooling on probe red",
        "40 °F while cooling on probe red",
    ]


def test_the_audit_lists_the_checks_failed_ones_first(red: Shop) -> None:
    red.it_is("06-02 09:00")
    wrong = checked(red, "40 F").number
    checked(red, "36 F")
    correct.void(red.kitchen, "mk", wrong, "typed wrong")
    found = audit(red.kitchen, day("06-01"), day("06-02")).probes
    assert [(each.probe, each.passed, str(each.at)) for each in found] == [
        ("red", False, str(at("06-02 09:00"))),
        ("red", True, str(at("06-01 06:00"))),
    ]
    assert "36 °F" in found[0].says
    assert audit(red.kitchen, day("05-01"), day("05-02")).probes == ()


# ---- laws ------------------------------------------------------------------------------------

READS = ("165 F", "136 F", "120 F", "80 F", "69 F", "45 F", "40 F", "36 F")
SMALL = st.integers(0, 7)
STEPS = st.lists(
    st.tuples(
        st.sampled_from(
            ["cool", "cool", "cool", "read", "hot", "check", "check", "void", "split", "combine"]
        ),
        SMALL,
        SMALL,
        st.sampled_from([0, 1, 2, 4, 6, 30]),
        st.sampled_from([0, 0, 0, 3, 40]),
    ),
    min_size=3,
    max_size=12,
)


@pytest.fixture
def _no_waiting_for_the_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "journal_for", lambda *_: ("DELETE", "OFF"))


def _one(shop: Shop, action: str, pick: int, what: int, back: int) -> None:
    when = Instant(shop.hand.now - back * 20 * MINUTE)
    rows = sorted(row.code for row in shop.live())
    code = rows[pick % len(rows)] if rows else "NOTHING"
    probe = ("red", "red", "blue", "")[what % 4]
    reading = temp(READS[(pick + what) % len(READS)])
    match action:
        case "cool":
            log_cooling(shop.kitchen, "mk", code, when, reading, "", probe)
        case "read":
            handle.reading(shop.kitchen, "mk", code, when, reading, probe)
        case "hot":
            heat = ev.Reheated(temp("165 F"), 15, None, probe)
            handle.reheat(shop.kitchen, "mk", code, when, heat, shop.unit("hot box"))
        case "check":
            shows = temp(("32 F", "33 F", "36 F")[pick % 3])
            probes.check(shop.kitchen, "mk", ("red", "blue")[what % 2], when, shows)
        case "void":
            newest = [each for each in shop.entries() if each.subject != "kitchen"][-1 - pick % 5]
            correct.void(shop.kitchen, "jr", newest.number, "typed wrong")
        case "split":
            handle.split(shop.kitchen, "mk", code, when, 1, keep=True)
        case "combine":
            made = shop.batch("fish stock", 1, partly=(code,))
            record(shop.kitchen, "mk", replace(made, at=when))


def _no_better(after: Holding, before: Holding) -> None:
    assert WORST_FIRST.index(after.verdict) <= WORST_FIRST.index(before.verdict)
    if before.use_by is not None:
        assert after.use_by is not None
        assert after.use_by <= before.use_by


@pytest.mark.usefixtures("_no_waiting_for_the_disk")
@settings(
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    phases=[Phase.explicit, Phase.reuse, Phase.generate, Phase.target],
)
@given(steps=STEPS, probe=st.sampled_from(["red", "blue"]), back=SMALL)
def test_a_failed_check_never_makes_anything_better_and_the_rows_are_what_the_journal_says(
    another: Callable[[], Shop],
    steps: list[tuple[str, int, int, int, int]],
    probe: str,
    back: int,
) -> None:
    shop = another()
    probes.add(shop.kitchen, "jr", "red", "F")
    probes.add(shop.kitchen, "jr", "blue", "F")
    checked(shop, "32 F")
    shop.prep("chicken stock", 2, off_heat_at=shop.hand.now)
    shop.prep("fish stock", 1)
    for action, pick, what, on, late in steps:
        shop.hand.now = Instant(shop.hand.now + on * 20 * MINUTE)
        try:
            _one(shop, action, pick, what, late)
        except Mistake:
            continue
        assert shop.everything() == shop.replayed()

    def all_now(now: Instant) -> dict[str, Holding]:
        with shop.db.reading() as conn:
            return {row.code: look(shop.kitchen, conn, row.code, now)[1] for row in shop.live()}

    moments = [Instant(shop.hand.now + ahead * HOUR) for ahead in (0, 3, 9)]
    before = [all_now(now) for now in moments]
    when = Instant(shop.hand.now - back * HOUR)
    probes.check(shop.kitchen, "mk", probe, when, temp("40 F"))
    assert shop.everything() == shop.replayed()
    for earlier, now in zip(before, moments, strict=True):
        for code, found in all_now(now).items():
            _no_better(found, earlier[code])
    shop.db.close()
