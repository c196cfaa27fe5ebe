"""Laws that hold for any history: nothing that happens to food makes it last longer.

The histories are invented at random; what is compared is one fold with another, so nothing here
repeats a rule.
"""

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.moments import DAY, HOUR, Instant, from_local, to_local
from holdlog.core.temperature import Temperature
from holdlog.rules.faults import WORST_FIRST
from holdlog.rules.history import Event, History, Joined
from holdlog.rules.holding import Holding, holding
from holdlog.rules.stack import Stack, build
from tests.rules.making import CHICAGO, HOUSE, at, categories, food_code, history, stack

START = at("06-01 06:00")
DEGREES = st.sampled_from(["34", "41", "45", "70", "75", "134", "140", "165"])
WARM = st.builds(lambda text: Temperature(Decimal(text), "F"), DEGREES)
KINDS = st.sampled_from(
    ["cooked-dish", "raw-meat", "herb-oil", "cut-tomato", "sterile-pack", "dairy", "cured-seafood"]
)
FOODS = st.builds(
    ev.Food,
    item=st.just("dish"),
    category=KINDS,
    ready_to_eat=st.sampled_from([None, None, True, False]),
    ambient_ingredients=st.booleans(),
    commercial=st.booleans(),
    exempt_as=st.sampled_from([None, "hard-cheese"]),
    house_days=st.sampled_from([None, None, 3]),
)
DATES = st.sampled_from([None, date(2026, 6, 3), date(2026, 6, 9)])
MEANT: st.SearchStrategy[ev.MakerDateFor] = st.sampled_from(
    ["safety", "quality", "use-or-freeze-by"]
)
CALENDAR: list[st.SearchStrategy[ev.Fact]] = [
    st.just(ev.Prepared()),
    st.builds(ev.Received, maker_use_by=DATES, maker_date_for=MEANT),
    st.builds(ev.Opened, maker_use_by=DATES, maker_date_for=MEANT),
    st.just(ev.OffHeat()),
    st.builds(ev.Cooling, WARM),
    st.builds(ev.Chilled, st.none() | WARM),
    st.builds(ev.Reading, WARM),
    st.just(ev.Frozen()),
    st.just(ev.Frozen()),
    st.just(ev.Thawed("refrigerator")),
    st.builds(ev.Reheated, st.none() | WARM),
    st.builds(ev.HotHeld, st.none() | WARM),
    st.just(ev.Used()),
    st.just(ev.Split()),
]
FACTS: st.SearchStrategy[ev.Fact] = st.one_of(
    *CALENDAR,
    st.builds(ev.Out, st.sampled_from(["4h", "6h"]), st.none() | WARM),
    st.just(ev.Packed()),
    st.just(ev.Thawed("microwave")),
    st.builds(
        ev.Labelled, st.just("two-by-two"), st.just("prepared"), st.integers(START, START + 9 * DAY)
    ),
    st.builds(ev.Excursion, seconds=st.integers(0, 9999)),
)
DAY_ONES: st.SearchStrategy[ev.Fact] = st.sampled_from([ev.Prepared(), ev.Opened()])
HOURS = st.integers(0, 12 * 24)
CONVENTIONS = st.builds(
    ev.Conventions,
    st.sampled_from(["counts", "does-not-count"]),
    st.sampled_from(["counts", "does-not-count"]),
    st.sampled_from(["calendar", "exact-hours"]),
)
STACKS = {
    settled: build([food_code()], categories(), settled)
    for settled in (
        ev.Conventions(freeze, thaw, end)
        for freeze in ("counts", "does-not-count")
        for thaw in ("counts", "does-not-count")
        for end in ("calendar", "exact-hours")
    )
}


def moment(hours: int) -> Instant:
    return Instant(START + hours * HOUR)


@st.composite
def histories(
    draw: st.DrawFn, depth: int = 1, facts: st.SearchStrategy[ev.Fact] = FACTS
) -> History:
    hours = draw(st.lists(HOURS, min_size=0, max_size=7))
    events = [Event(moment(hour), draw(facts), moment(hour)) for hour in hours]
    begun = draw(st.integers(0, 48))
    first = draw(DAY_ONES)
    events.append(Event(moment(begun), first, moment(begun)))
    joined = []
    if depth:
        joined = [
            Joined(part, moment(draw(HOURS)))
            for part in draw(st.lists(histories(depth - 1), max_size=2))
        ]
    return history(*events, of=draw(FOODS), made_from=joined)


def fold(what: History, hours: int, by: Stack, where: ZoneInfo = CHICAGO) -> Holding:
    return holding(what, by, moment(hours), where)


def no_better(after: Holding, before: Holding) -> None:
    """No later date, no more days, no milder verdict."""
    assert WORST_FIRST.index(after.verdict) <= WORST_FIRST.index(before.verdict)
    no_later(after, before)


def no_later(after: Holding, before: Holding) -> None:
    if before.use_by is not None and after.state != "frozen":
        assert after.use_by is not None
        assert after.use_by <= before.use_by
    if before.days_left_once_thawed is not None and after.state == "frozen":
        assert after.days_left_once_thawed is not None
        assert after.days_left_once_thawed <= before.days_left_once_thawed


@settings(max_examples=400)
@given(dish=histories(), more=histories(), hour=HOURS, now=HOURS, by=CONVENTIONS)
def test_one_more_ingredient_never_makes_it_last_longer(
    dish: History, more: History, hour: int, now: int, by: ev.Conventions
) -> None:
    richer = history(
        *dish.events, of=dish.food, made_from=[*dish.joined, Joined(more, moment(hour))]
    )
    no_better(fold(richer, now, STACKS[by]), fold(dish, now, STACKS[by]))


@settings(max_examples=300)
@given(dish=histories(), now=HOURS, days=st.integers(1, 7))
def test_one_more_house_rule_never_makes_it_last_longer(dish: History, now: int, days: int) -> None:
    house = stack(HOUSE.format(name="shorter", days=days))
    no_better(fold(dish, now, house), fold(dish, now, stack()))


@settings(max_examples=200)
@given(dish=histories(), now=HOURS, days=st.integers(2, 7))
def test_a_stricter_house_rule_never_makes_it_last_longer(
    dish: History, now: int, days: int
) -> None:
    looser = stack(HOUSE.format(name="shorter", days=days))
    stricter = stack(HOUSE.format(name="shorter", days=days - 1))
    no_better(fold(dish, now, stricter), fold(dish, now, looser))


@settings(max_examples=400)
@given(dish=histories(), hour=HOURS, now=HOURS, plan=st.sampled_from(["4h", "6h"]))
def test_an_hour_out_of_control_never_makes_it_last_longer(
    dish: History, hour: int, now: int, plan: str
) -> None:
    taken = Event(
        moment(hour),
        ev.Out("4h" if plan == "4h" else "6h", Temperature(Decimal(40), "F")),
        moment(hour),
    )
    out = history(*dish.events, taken, of=dish.food, made_from=dish.joined)
    no_later(fold(out, now, stack()), fold(dish, now, stack()))


@settings(max_examples=300)
@given(dish=histories(), now=HOURS, seed=st.randoms(use_true_random=False))
def test_the_order_of_writing_changes_nothing(dish: History, now: int, seed: object) -> None:
    events, parts = list(dish.events), list(dish.joined)
    seed.shuffle(events)  # type: ignore[attr-defined]
    shuffled = history(*events, of=dish.food, made_from=parts)
    assert fold(shuffled, now, stack()) == fold(dish, now, stack())
    assert fold(dish, now, stack()) == fold(dish, now, stack())


@settings(max_examples=200)
@given(dish=histories(), now=HOURS, seed=st.randoms(use_true_random=False))
def test_the_order_of_the_rules_in_the_file_changes_nothing(
    dish: History, now: int, seed: object
) -> None:
    rules = list(food_code().rules.items())
    seed.shuffle(rules)  # type: ignore[attr-defined]
    shuffled = build([replace(food_code(), rules=dict(rules))], categories())
    assert fold(dish, now, shuffled) == fold(dish, now, build([food_code()], categories()))


LATE_FACTS: st.SearchStrategy[ev.Fact] = st.one_of(
    st.just(ev.Frozen()),
    st.just(ev.Thawed("refrigerator")),
    st.builds(ev.Cooling, WARM),
    st.builds(ev.Chilled, st.none() | WARM),
    st.just(ev.OffHeat()),
    st.just(ev.Packed()),
    st.just(ev.Opened()),
)


@settings(max_examples=400)
@given(
    dish=histories(depth=0, facts=LATE_FACTS),
    which=st.integers(0, 7),
    days=st.integers(1, 6),
    now=HOURS,
)
def test_an_entry_of_a_later_day_never_counts_for_more(
    dish: History, which: int, days: int, now: int
) -> None:
    number = which % len(dish.events)
    on_time = [replace(each, recorded_at=each.at) for each in dish.events]
    late = list(on_time)
    late[number] = replace(late[number], recorded_at=Instant(late[number].at + days * DAY))
    before = fold(history(*on_time, of=dish.food), now, stack())
    after = fold(history(*late, of=dish.food), now, stack())
    no_better(after, before)
    backed = [*late]
    backed[number] = replace(backed[number], evidence="logger 3")
    assert fold(history(*backed, of=dish.food), now, stack()).use_by == before.use_by


WALLS = st.tuples(st.integers(0, 9), st.sampled_from([0, 5, 9, 12, 18, 23]))


@settings(max_examples=300)
@given(
    facts=st.lists(st.tuples(WALLS, st.one_of(*CALENDAR)), max_size=7),
    begun=WALLS,
    now=WALLS,
    of=FOODS,
    spring=st.booleans(),
)
def test_a_change_of_the_clocks_moves_no_date(
    facts: list[tuple[tuple[int, int], ev.Fact]],
    begun: tuple[int, int],
    now: tuple[int, int],
    of: ev.Food,
    spring: bool,
) -> None:
    # US clocks changed on 8 March and 1 November 2026; Saskatchewan keeps one time all year.
    first = datetime(2026, 3, 4) if spring else datetime(2026, 10, 28)

    def told(zone: str) -> tuple[date | None, datetime | None, int | None, int | None]:
        where = ZoneInfo(zone)

        def when(wall: tuple[int, int]) -> Instant:
            return from_local(first + timedelta(days=wall[0], hours=wall[1]), where)

        events = [Event(when(wall), fact, when(wall)) for wall, fact in facts]
        events.append(Event(when(begun), ev.Prepared(), when(begun)))
        told = holding(history(*events, of=of), stack(), when(now), where)
        wall = to_local(told.use_by, where).replace(tzinfo=None) if told.use_by else None
        return told.last_day, wall, told.day, told.days_left_once_thawed

    assert told("America/Chicago") == told("America/Regina")


@settings(max_examples=200)
@given(dish=histories(), now=HOURS, later=st.integers(0, 200))
def test_what_has_not_happened_yet_changes_nothing(dish: History, now: int, later: int) -> None:
    known = dish.until(moment(now))
    assert fold(known, now, stack()) == fold(dish, now, stack())
    # Time alone never brings discarded food back.
    today, then = fold(known, now, stack()), fold(known, now + later, stack())
    if today.verdict in ("discard", "refuse"):
        assert then.verdict in ("discard", "refuse")
