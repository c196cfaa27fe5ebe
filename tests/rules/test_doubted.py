"""A thermometer that was found off: what was read on it never makes food look better.

The histories are invented at random, under every book on the shelf; what is compared is one fold
with another, so nothing here repeats a rule.
"""

from dataclasses import replace

from hypothesis import example, given, settings
from hypothesis import strategies as st

from holdlog.core import events as ev
from holdlog.core.temperature import read_temperature
from holdlog.rules.history import Event, Joined, trusted
from holdlog.rules.holding import holding
from tests.rules.making import CHICAGO, food, history
from tests.rules.test_laws_everywhere import (
    FOODS,
    PLANS,
    READINGS,
    STACKS,
    moment,
    no_better,
    standing,
)

READ_ON_A_PROBE = (
    ev.Received, ev.Cooling, ev.Chilled, ev.Reading, ev.Reheated, ev.HotHeld, ev.Out,
)  # fmt: skip
FACTS: st.SearchStrategy[ev.Fact] = st.one_of(
    *[st.builds(ev.Cooling, READINGS) for _ in range(4)],
    st.builds(ev.Chilled, st.none() | READINGS),
    st.builds(ev.Reading, READINGS),
    st.builds(ev.HotHeld, st.none() | READINGS),
    st.builds(ev.Received, st.none() | READINGS),
    st.builds(ev.Reheated, READINGS),
    st.builds(ev.Out, PLANS, READINGS),
    st.just(ev.OffHeat()),
    st.just(ev.Frozen()),
    st.just(ev.Thawed("refrigerator")),
)
QUARTERS = st.integers(0, 48).map(lambda quarter: quarter * 15)
# Within half a day, where most rules of cooling turn; each with whether its probe failed.
DAYS = st.lists(st.tuples(QUARTERS, FACTS, st.booleans()), min_size=1, max_size=7)


def reads(text: str) -> ev.Cooling:
    return ev.Cooling(read_temperature(text))


@settings(max_examples=1500)
@given(names=STACKS, facts=DAYS, parts=DAYS, joined=QUARTERS, of=FOODS, now=QUARTERS)
# Found by search: where the clock starts at 21 °C (Food Standards Code 3.2.2, clause 7), doubt
# takes the start away; what had missed its four hours must not become what waits for a decision.
@example(
    names=("au-3-2-2",),
    facts=[(0, reads("-20 C"), True), (240, reads("8 C"), False)],
    parts=[], joined=0, of=food(), now=240,
)  # fmt: skip
def test_doubt_never_makes_food_last_longer_anywhere(
    names: tuple[str, ...],
    facts: list[tuple[int, ev.Fact, bool]],
    parts: list[tuple[int, ev.Fact, bool]],
    joined: int,
    of: ev.Food,
    now: int,
) -> None:
    def events(said: list[tuple[int, ev.Fact, bool]]) -> tuple[Event, ...]:
        made = Event(moment(0), ev.Prepared(), moment(0))
        return (
            made,
            *(
                Event(
                    moment(when), fact, moment(when),
                    doubted=off and isinstance(fact, READ_ON_A_PROBE),
                )
                for when, fact, off in said
            ),
        )  # fmt: skip

    part = history(*events(parts), of=of, name="part")
    doubted = history(*events(facts), of=of, made_from=[Joined(part, moment(joined))])
    as_read = trusted(doubted)
    by = standing(names)
    found = holding(doubted, by, moment(now), CHICAGO)
    if as_read is None:
        assert not any(off for _, fact, off in facts if isinstance(fact, READ_ON_A_PROBE))
    else:
        assert trusted(as_read) is None
        no_better(found, holding(as_read, by, moment(now), CHICAGO))


def test_a_starter_made_of_itself_for_years_is_read_without_running_out_of_stack() -> None:
    chain = history(Event(moment(0), reads("40 F"), moment(0), doubted=True), name="first")
    for day in range(3000):
        made = Event(moment(day), ev.Prepared(), moment(day))
        chain = replace(history(made, made_from=[Joined(chain, moment(day))]), name=str(day))
    found = trusted(chain)
    assert found is not None
    assert trusted(found) is None
    assert (found.name, found.joined[0].history.name) == (chain.name, chain.joined[0].history.name)
