"""The laws hold under every book on the shelf, and under every book with its amendments.

The histories are invented at random; what is compared is one fold with another, so nothing here
repeats a rule.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.moments import DAY, HOUR, MINUTE, Instant, from_local, local_date, to_local
from holdlog.core.temperature import Limit, Temperature, read_temperature
from holdlog.rules import rulebook
from holdlog.rules.faults import WORST_FIRST
from holdlog.rules.history import Event, History, Joined
from holdlog.rules.holding import Holding, as_json, holding
from holdlog.rules.kinds import HoldingLimitRule
from holdlog.rules.rulebook import Rulebook
from holdlog.rules.stack import Stack, build
from tests.rules.making import BOOKS, CHICAGO, HOUSE, at, book_text, categories, history

START = at("06-01 06:00")
READINGS = st.sampled_from(
    ["-20 C", "1 C", "3 C", "5 C", "8 C", "9 C", "21 C", "22 C", "60 C", "63 C", "80 C",
     "34 F", "41 F", "45 F", "46 F", "70 F", "75 F", "120 F", "135 F", "165 F"]
).map(read_temperature)  # fmt: skip
KINDS = (
    "cooked-dish", "raw-meat", "herb-oil", "cut-tomato", "sterile-pack", "dairy", "pickle",
    "whole-roast", "shell-egg", "sprouts", "other",
)  # fmt: skip
FISH = ("raw-seafood", "cured-seafood")
HOW = st.sampled_from([None, "vacuum", "cook-chill", "sous-vide", "map"])
PLANS = st.sampled_from(["2h", "4h", "6h"])
DATES = st.sampled_from([None, date(2026, 6, 3), date(2026, 6, 9)])
MEANT: st.SearchStrategy[ev.MakerDateFor] = st.sampled_from(
    ["safety", "quality", "use-or-freeze-by"]
)
CALENDAR: list[st.SearchStrategy[ev.Fact]] = [
    st.just(ev.Prepared()),
    st.builds(ev.Received, temperature=st.none() | READINGS, maker_use_by=DATES,
              maker_date_for=MEANT),
    st.builds(ev.Opened, maker_use_by=DATES, maker_date_for=MEANT),
    st.just(ev.OffHeat()),
    st.builds(ev.CoolingIn, st.none() | READINGS),
    st.builds(ev.Cooling, READINGS),
    st.builds(ev.Chilled, st.none() | READINGS),
    st.builds(ev.Reading, READINGS),
    st.just(ev.Frozen()),
    st.just(ev.Thawed("refrigerator")),
    st.builds(ev.Reheated, st.none() | READINGS),
    st.builds(ev.HotHeld, st.none() | READINGS),
    st.just(ev.Used()),
    st.just(ev.Split()),
]  # fmt: skip
FACTS: st.SearchStrategy[ev.Fact] = st.one_of(
    *CALENDAR,
    st.builds(ev.Out, PLANS, st.none() | READINGS),
    st.builds(ev.Packed, HOW),
    st.builds(ev.Packed, HOW),
    st.just(ev.Thawed("microwave")),
    st.builds(ev.Excursion, seconds=st.integers(0, 9999)),
)
HOURS = st.integers(0, 12 * 24)
# Most rules turn on hours, and some on minutes.
MINUTES = st.one_of(st.integers(0, 10 * 60), st.integers(0, 12 * 24 * 60))


def foods(kinds: Sequence[str]) -> st.SearchStrategy[ev.Food]:
    return st.builds(
        ev.Food,
        item=st.just("dish"),
        category=st.sampled_from(kinds),
        ph=st.sampled_from([None, None, Decimal("4.5")]),
        aw=st.sampled_from([None, None, Decimal("0.90")]),
        ready_to_eat=st.sampled_from([None, None, True, False]),
        ambient_ingredients=st.booleans(),
        commercial=st.booleans(),
        haccp_plan=st.booleans(),
        susceptible_population=st.booleans(),
        depth_in=st.sampled_from([None, Decimal(2), Decimal(3)]),
        reduced_oxygen=HOW,
        exempt_as=st.sampled_from([None, "hard-cheese"]),
        house_days=st.sampled_from([None, None, 3]),
    )


FOODS = foods((*KINDS, *FISH))


@cache
def book(name: str) -> Rulebook:
    return rulebook.load(*book_text(name))


def stacks() -> list[tuple[str, ...]]:
    """Every adopted book alone, and with each amendment that was written for it."""
    every = [book(path.stem) for path in BOOKS]
    adopted = [each.id for each in every if each.role == "adopted"]
    amended = [(law, each.id) for each in every for law in each.amends]
    return [*((name,) for name in adopted), *amended]


STACKS = st.sampled_from(stacks())


# None: as the books settle it. The rest an authority may settle, and a kitchen may record.
SETTLED = st.sampled_from(
    [
        None,
        ev.Conventions(day_end="exact-hours"),
        ev.Conventions(freeze_day="does-not-count"),
        ev.Conventions(freeze_day="does-not-count", day_end="exact-hours"),
    ]
)


@cache
def standing(names: tuple[str, ...], settled: ev.Conventions | None = None) -> Stack:
    return build([book(name) for name in names], categories(), settled)


def moment(minutes: int) -> Instant:
    return Instant(START + minutes * MINUTE)


@st.composite
def histories(draw: st.DrawFn, depth: int = 1, of: st.SearchStrategy[ev.Food] = FOODS) -> History:
    events = [
        Event(moment(when), draw(FACTS), moment(when))
        for when in draw(st.lists(MINUTES, max_size=7))
    ]
    begun = draw(MINUTES)
    events.append(Event(moment(begun), ev.Prepared(), moment(begun)))
    joined = []
    if depth:
        parts = draw(st.lists(histories(depth - 1), max_size=2))
        joined = [Joined(part, moment(draw(MINUTES))) for part in parts]
    return history(*events, of=draw(of), made_from=joined)


def no_later(after: Holding, before: Holding) -> None:
    if before.use_by is not None and after.state != "frozen":
        assert after.use_by is not None
        assert after.use_by <= before.use_by
    if before.days_left_once_thawed is not None and after.state == "frozen":
        assert after.days_left_once_thawed is not None
        assert after.days_left_once_thawed <= before.days_left_once_thawed


def no_better(after: Holding, before: Holding) -> None:
    assert WORST_FIRST.index(after.verdict) <= WORST_FIRST.index(before.verdict)
    no_later(after, before)


@settings(max_examples=400)
@given(names=STACKS, dish=histories(), now=MINUTES)
def test_every_history_has_an_answer_and_the_order_of_writing_is_nothing_to_it(
    names: tuple[str, ...], dish: History, now: int
) -> None:
    by = standing(names)
    found = holding(dish, by, moment(now), CHICAGO)
    assert as_json(found, CHICAGO)["verdict"] == found.verdict
    backwards = replace(dish, events=dish.events[::-1], joined=dish.joined[::-1])
    again = holding(backwards, by, moment(now), CHICAGO)
    told = (found.verdict, found.use_by, found.day, found.days_left_once_thawed, found.cooling)
    assert told == (
        again.verdict, again.use_by, again.day, again.days_left_once_thawed, again.cooling,
    )  # fmt: skip


@settings(max_examples=600)
@given(
    names=STACKS,
    settled=SETTLED,
    dish=histories(),
    more=histories(),
    when=MINUTES,
    now=MINUTES,
)
def test_one_more_ingredient_never_makes_it_last_longer_anywhere(
    names: tuple[str, ...],
    settled: ev.Conventions | None,
    dish: History,
    more: History,
    when: int,
    now: int,
) -> None:
    richer = replace(dish, joined=(*dish.joined, Joined(more, moment(when))))
    by = standing(names, settled)
    no_better(holding(richer, by, moment(now), CHICAGO), holding(dish, by, moment(now), CHICAGO))


def house_limit(law: HoldingLimitRule) -> str:
    """The house's own limit a degree stricter, in the scales that the law prints."""
    step = Decimal(1 if law.place == "hot" else -1)
    figures = {"f": law.limit.f, "c": law.limit.c}
    printed = ", ".join(f"{key} = {value + step}" for key, value in figures.items() if value)
    return f"""
[rule.our-{law.source.rule}]
kind = "holding-limit"
place = "{law.place}"
limit = {{ {printed} }}
cite = "house"
says = "Ours."
seen = "text"
"""


@cache
def with_house(names: tuple[str, ...], days: int) -> Stack:
    law = [rule for rule in standing(names).of_kind(HoldingLimitRule) if not rule.categories]
    text = HOUSE.format(name="shorter", days=days) + "".join(map(house_limit, law))
    return build([*(book(name) for name in names), rulebook.load(text, "house.toml")], categories())


@settings(max_examples=400)
@given(names=STACKS, dish=histories(), now=MINUTES, days=st.integers(1, 4))
def test_one_more_house_rule_never_makes_it_last_longer_anywhere(
    names: tuple[str, ...], dish: History, now: int, days: int
) -> None:
    found = holding(dish, with_house(names, days), moment(now), CHICAGO)
    no_better(found, holding(dish, standing(names), moment(now), CHICAGO))


@settings(max_examples=600)
@given(names=STACKS, dish=histories(), when=MINUTES, now=MINUTES, plan=PLANS, read=READINGS)
def test_an_hour_out_of_control_never_makes_it_last_longer_anywhere(
    names: tuple[str, ...],
    dish: History,
    when: int,
    now: int,
    plan: str,
    read: Temperature,
) -> None:
    taken = Event(moment(when), ev.Out(plan, read), moment(when))  # type: ignore[arg-type]
    out = replace(dish, events=(*dish.events, taken))
    by = standing(names)
    after, before = (holding(each, by, moment(now), CHICAGO) for each in (out, dish))
    # A plan these rules do not know is refused, and nobody dates refused food.
    if after.verdict not in ("refuse", "discard"):
        no_later(after, before)


@settings(max_examples=600)
@given(
    names=STACKS,
    settled=SETTLED,
    dish=histories(of=foods(KINDS)),
    when=MINUTES,
    hours=st.integers(1, 9 * 24),
    now=MINUTES,
)
def test_freezing_never_gives_back_more_than_the_days_it_lasted_anywhere(
    names: tuple[str, ...],
    settled: ev.Conventions | None,
    dish: History,
    when: int,
    hours: int,
    now: int,
) -> None:
    into, out = moment(when), Instant(moment(when) + hours * HOUR)
    spell = (Event(into, ev.Frozen(), into), Event(out, ev.Thawed("refrigerator"), out))
    frozen = replace(dish, events=(*dish.events, *spell))
    by = standing(names, settled)
    after, before = (holding(each, by, moment(now), CHICAGO) for each in (frozen, dish))
    if before.use_by is None or after.days_left_once_thawed is not None:
        return  # in the freezer, and used up from there perhaps
    assert after.use_by is not None
    if by.conventions.day_end == "exact-hours":
        # Limits that a calendar sets run to the end of a day, which rounds up by one.
        assert after.use_by - before.use_by <= hours * HOUR + DAY
        return
    lasted = (local_date(out, CHICAGO) - local_date(into, CHICAGO)).days
    added = local_date(after.use_by, CHICAGO) - local_date(before.use_by, CHICAGO)
    both_count = by.conventions.freeze_day == "counts"
    assert added.days <= max(0, lasted - 1 if both_count else lasted)


WALLS = st.tuples(st.integers(0, 9), st.sampled_from([0, 5, 9, 12, 18, 23]))


@settings(max_examples=300)
@given(
    names=STACKS,
    facts=st.lists(st.tuples(WALLS, st.one_of(*CALENDAR)), max_size=7),
    begun=WALLS,
    now=WALLS,
    of=FOODS,
    spring=st.booleans(),
)
def test_a_change_of_the_clocks_moves_no_date_anywhere(
    names: tuple[str, ...],
    facts: list[tuple[tuple[int, int], ev.Fact]],
    begun: tuple[int, int],
    now: tuple[int, int],
    of: ev.Food,
    spring: bool,
) -> None:
    # US clocks changed on 8 March and 1 November 2026; Saskatchewan keeps one time all year.
    first = datetime(2026, 3, 4) if spring else datetime(2026, 10, 28)

    def told(zone: str) -> tuple[datetime | None, int | None, int | None]:
        where = ZoneInfo(zone)

        def when(wall: tuple[int, int]) -> Instant:
            return from_local(first + timedelta(days=wall[0], hours=wall[1]), where)

        events = [Event(when(wall), fact, when(wall)) for wall, fact in facts]
        events.append(Event(when(begun), ev.Prepared(), when(begun)))
        found = holding(history(*events, of=of), standing(names), when(now), where)
        wall = to_local(found.use_by, where).replace(tzinfo=None) if found.use_by else None
        return wall, found.day, found.days_left_once_thawed

    assert told("America/Chicago") == told("America/Regina")


@settings(max_examples=400)
@given(
    names=STACKS,
    dish=histories(depth=0),
    which=st.integers(0, 7),
    days=st.integers(1, 6),
    now=MINUTES,
)
def test_an_entry_of_a_later_day_never_counts_for_more_anywhere(
    names: tuple[str, ...], dish: History, which: int, days: int, now: int
) -> None:
    late = list(dish.events)
    number = which % len(late)
    late[number] = replace(late[number], recorded_at=Instant(late[number].at + days * DAY))
    by = standing(names)
    after = holding(replace(dish, events=tuple(late)), by, moment(now), CHICAGO)
    no_later(after, holding(dish, by, moment(now), CHICAGO))


def test_a_reading_on_a_scale_that_is_not_printed_never_passes() -> None:
    for path in BOOKS:
        for rule in book(path.stem).rules.values():
            for value in (getattr(rule, name, None) for name in dir(rule)):
                if not isinstance(value, Limit):
                    continue
                for scale in ("F", "C"):
                    reading = read_temperature(f"0 {scale}")
                    if value.figure(reading.scale) is None:
                        assert not value.reached_from_above(reading)
                        assert not value.reached_from_below(replace(reading, degrees=Decimal(300)))
