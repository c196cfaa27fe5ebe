"""One walk through the events of a history: what state the food is in, and what befell it.

The walk only gathers; the rules in ``limits``, ``faults`` and ``holding`` judge. One-way
streets are kept here: after time control has begun, nothing but an end changes anything, save
what can only shorten.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from holdlog.core.events import (
    Chilled,
    Cooling,
    CoolingIn,
    Discarded,
    Excursion,
    Frozen,
    HotHeld,
    Labelled,
    Moved,
    OffHeat,
    Opened,
    Out,
    Packed,
    Prepared,
    Reading,
    Recalled,
    Received,
    Reheated,
    Split,
    Thawed,
    Used,
)
from holdlog.core.temperature import Temperature
from holdlog.rules.cooling import CoolingReading
from holdlog.rules.counting import Spell
from holdlog.rules.course import Beyond, Cycle, Measures, Move, OutReading, Pack, Walk
from holdlog.rules.history import Event, History, in_order
from holdlog.rules.label_date import label_date
from holdlog.rules.measures import DOUBTED, FROZEN_FOOD, judge_held, reaches_target


def walk(history: History, limits: Measures, out_before: int = 0) -> Walk:
    """Walk the events of ``history`` in the order in which they happened.

    ``out_before``: the milliseconds that an ingredient had been out under time control.
    """
    so_far = Walk(out_before=out_before)
    for event in in_order(history):
        _one(so_far, event, limits)
    if so_far.frozen:
        _end_spell(so_far, None)
    return so_far


def _one(so_far: Walk, event: Event, limits: Measures) -> None:
    fact = event.fact
    if isinstance(fact, Recalled):
        # Whatever became of the container: what was taken out of it before is somewhere still.
        so_far.recalls.append(event)
        return
    if isinstance(fact, Used | Discarded):
        if fact.part:
            return
        so_far.ended = True
        if isinstance(fact, Discarded) and so_far.discarded is None:
            so_far.discarded = event.at
        return
    if so_far.discarded is not None:
        return
    if isinstance(fact, _HANDLING):
        so_far.ended = False
    if so_far.outs:
        _while_out(so_far, event, limits)
    elif (step := _STEPS.get(type(fact))) is not None:
        step(so_far, event, fact, limits)


def _while_out(so_far: Walk, event: Event, limits: Measures) -> None:
    """Under time control only what can shorten still counts, unless the rules name a return."""
    fact = event.fact
    if isinstance(fact, Chilled) and _goes_back(so_far, event, limits):
        _chills(so_far, event, fact, limits)
        return
    reading = getattr(fact, "temperature", None)
    if isinstance(fact, Out):
        so_far.outs.append(event)
    if isinstance(fact, _MEANWHILE):
        so_far.while_out.append(event)
    if isinstance(reading, Temperature):
        so_far.out_readings.append(OutReading(event.at, reading, event.late(limits.where)))
    if isinstance(fact, Excursion):
        _excursion(so_far, event, fact, limits)
    if isinstance(fact, Thawed) and fact.method in limits.at_once and so_far.at_once is None:
        so_far.at_once = event.at  # it was still frozen inside: for use at once all the same
    if isinstance(fact, Labelled) and fact.use_by is not None:
        so_far.printed = label_date(so_far.printed, fact)
    if isinstance(fact, Received | Opened) and fact.maker_use_by is not None:
        so_far.maker_dates.append((fact.maker_use_by, fact.maker_date_for))


def _goes_back(so_far: Walk, event: Event, limits: Measures) -> bool:
    """Whether food that was out may go back, its times out added up. If so, it does."""
    first = so_far.outs[0]
    allowed = limits.returns.get(first.fact.plan if isinstance(first.fact, Out) else "")
    spent = so_far.out_before + event.at - first.at
    if allowed is None or spent >= allowed or event.late(limits.where):
        return False
    # What was wrong with the time out stays known: going back mends nothing.
    so_far.outs_before += so_far.outs
    so_far.out_before, so_far.outs = spent, []
    # What was done to it meanwhile (it was made, opened, cooked, packed) counts after all.
    done, so_far.while_out = so_far.while_out, []
    for each in done:
        _STEPS[type(each.fact)](so_far, each, each.fact, limits)
    return True


# ---- day one ---------------------------------------------------------------------------------


def _prepares(so_far: Walk, event: Event, _: Prepared, __: Measures) -> None:
    if so_far.prepared is None:
        so_far.prepared = event.at
    _starts(so_far, "prepared")


def _receives(so_far: Walk, event: Event, fact: Received, limits: Measures) -> None:
    if so_far.received is None:
        so_far.received = event.at
    if fact.maker_use_by is not None:
        so_far.maker_dates.append((fact.maker_use_by, fact.maker_date_for))
    if not so_far.frozen:
        so_far.state = "chilled"
        judge_held(so_far, event, fact.temperature, limits, "cold")


def _opens(so_far: Walk, event: Event, fact: Opened, limits: Measures) -> None:
    own_pack = False
    for number, pack in enumerate(so_far.packs):
        if pack.opened is None:
            own_pack = True
            # Said on a later day, that it was opened in time proves nothing.
            opened = event.recorded_at if event.late(limits.where) else event.at
            so_far.packs[number] = replace(pack, opened=opened)
    if so_far.opened is None:
        so_far.opened = event.at
    if so_far.opened_fresh is None and not (own_pack and so_far.prepared is not None):
        so_far.opened_fresh = event.at
    if fact.maker_use_by is not None:
        so_far.maker_dates.append((fact.maker_use_by, fact.maker_date_for))
    _starts(so_far, "opened")


def _starts(so_far: Walk, kind: str) -> None:
    if not so_far.frozen:
        so_far.state, so_far.unlogged = "chilled", kind


# ---- hot and cold ----------------------------------------------------------------------------


def _cools(
    so_far: Walk, event: Event, fact: OffHeat | CoolingIn | Cooling, limits: Measures
) -> None:
    if isinstance(fact, OffHeat):
        _after_a_finished_cooling(so_far, limits)
    cycle = so_far.cycles[-1]
    cycle.logged = True
    so_far.unlogged = ""
    late = event.late(limits.where)
    if isinstance(fact, OffHeat):
        so_far.heated, so_far.was_cold = True, False
        cycle.readings.append(CoolingReading(event.at, None, late))
    elif isinstance(fact, CoolingIn):
        if fact.surroundings is not None:
            cycle.surroundings.append(fact.surroundings)
        cycle.moves.append(Move(event.at, None if late else fact.surroundings))
    elif isinstance(fact, Cooling):
        so_far.heated = so_far.heated or _hot(fact.temperature, limits)
        cycle.readings.append(CoolingReading(event.at, fact.temperature, late))
        if event.doubted:
            so_far.cautions.append(DOUBTED)
        elif late:
            so_far.cautions.append(
                "A cooling reading was entered on a later day: it proves nothing until the person "
                "in charge confirms it and names the paper or logger."
            )
    if not so_far.frozen:
        so_far.state = "made" if isinstance(fact, OffHeat) else "cooling"


def _after_a_finished_cooling(so_far: Walk, limits: Measures) -> None:
    """Food that was cold at its last reading and is hot again begins a new cooling.

    The finished one is judged by itself, so nothing that went wrong in it is lost.
    """
    readings = so_far.cycles[-1].readings
    last = readings[-1] if readings else None
    if last is not None and last.temperature is not None and not last.late:
        reading = last.temperature
        if limits.coolings and all(
            rule.cold.reached_from_above(reading) for rule in limits.coolings
        ):
            so_far.cycles.append(Cycle())


def _chills(so_far: Walk, event: Event, fact: Chilled | Reading, limits: Measures) -> None:
    if isinstance(fact, Chilled):
        _leaves_freezer(so_far, event)
        so_far.state = "chilled"
        _put_away(so_far, event)
    elif so_far.state in ("made", "cooling"):
        so_far.state = "chilled"
    so_far.was_cold = True
    reading = fact.temperature
    if reading is None:
        return
    if not event.late(limits.where):
        so_far.held_readings.append((event.at, reading))
    so_far.unlogged = ""
    frozen_limit = any(rule.place == "frozen" for rule in limits.holding)
    judge_held(
        so_far, event, reading, limits, "frozen" if so_far.frozen and frozen_limit else "cold"
    )
    if so_far.frozen and not FROZEN_FOOD.limit.reached_from_above(reading):
        so_far.beyond.append(Beyond(FROZEN_FOOD, reading, event.at, so_far.frozen_since))
    cycle = so_far.cycles[-1]
    cold = bool(limits.coolings) and all(
        rule.cold.reached_from_above(reading) for rule in limits.coolings
    )
    if cycle.logged and cold and not event.late(limits.where):
        cycle.readings.append(CoolingReading(event.at, reading))


def _put_away(so_far: Walk, event: Event, _: object = None, __: object = None) -> None:
    """Put elsewhere, it cools no more as it did before, and nobody said how warm it is there."""
    moves = so_far.cycles[-1].moves
    if not moves or moves[-1].at < event.at:
        moves.append(Move(event.at, None))


def _reheats(so_far: Walk, event: Event, fact: Reheated, limits: Measures) -> None:
    _leaves_freezer(so_far, event)
    so_far.reheated.append(event)
    so_far.heated = True
    so_far.state, so_far.unlogged = "chilled", "reheated"
    so_far.was_cold = True  # what is heated again had been cold, logged or not
    rule = limits.reheat
    if rule is not None and reaches_target(fact, rule) and not event.late(limits.where):
        so_far.was_cold = False
        so_far.cycles[-1].reheated_at = event.at
        so_far.cycles.append(Cycle([CoolingReading(event.at, fact.temperature)]))


def _holds_hot(so_far: Walk, event: Event, fact: HotHeld, limits: Measures) -> None:
    _leaves_freezer(so_far, event)
    if so_far.was_cold:
        so_far.hot_unheated.append(event.at)
    so_far.state, so_far.heated = "hot-held", True
    so_far.unlogged = "" if fact.temperature is not None else "hot-held"
    good = judge_held(so_far, event, fact.temperature, limits, "hot")
    reading = fact.temperature
    # Too cool for the house, it may still be hot to the rule of cooling.
    hot = good or (reading is not None and _hot(reading, limits))
    if hot and not event.late(limits.where):
        _after_a_finished_cooling(so_far, limits)
        so_far.cycles[-1].readings.append(CoolingReading(event.at, reading))


def _hot(reading: Temperature, limits: Measures) -> bool:
    return any(rule.hot is not None and rule.hot.reached_from_below(reading)
               for rule in limits.coolings)  # fmt: skip


# ---- freezer and pack ------------------------------------------------------------------------


def _freezes(so_far: Walk, event: Event, _: Frozen, limits: Measures) -> None:
    """Into the freezer. Entered late, it counts only from its writing down."""
    so_far.was_frozen = True
    _put_away(so_far, event)
    late = event.late(limits.where)
    since = event.recorded_at if late else event.at
    if late:
        so_far.cautions.append(
            "The freezing was entered on a later day: it counts from its entry until the person in "
            "charge confirms it and names the evidence."
        )
    if not so_far.frozen:
        so_far.state, so_far.frozen_since, so_far.frozen_late = "frozen", since, late
        so_far.unlogged = ""
    elif so_far.frozen_since is not None:
        so_far.frozen_since = min(so_far.frozen_since, since)
        so_far.frozen_late = so_far.frozen_late and late
    if not late:
        so_far.printed = None


def _thaws(so_far: Walk, event: Event, fact: Thawed, limits: Measures) -> None:
    if not so_far.frozen:
        so_far.impossible = "it was thawed without having been frozen"
        return
    _leaves_freezer(so_far, event)
    if fact.method is None:
        so_far.cautions.append("How it was thawed was not logged.")
    if fact.method in limits.at_once and so_far.at_once is None:
        so_far.at_once = event.at


def _leaves_freezer(so_far: Walk, event: Event) -> None:
    if so_far.frozen:
        so_far.was_cold = True
        in_a_pack = any(pack.opened is None for pack in so_far.packs)
        so_far.packed_unfrozen = so_far.packed_unfrozen or in_a_pack
        if not so_far.frozen_late:
            so_far.printed = None
        _end_spell(so_far, event)
        so_far.state = "chilled"


def _end_spell(so_far: Walk, event: Event | None) -> None:
    since, so_far.frozen_since = so_far.frozen_since, None
    if since is not None and (event is None or since < event.at):
        so_far.spells.append(Spell(since, event.at if event else None))


def _packs(so_far: Walk, event: Event, fact: Packed, __: Measures) -> None:
    # Just made, it may be hot still; with a reading or in a unit, it has cooled.
    cold = so_far.state in ("cooling", "frozen") or (
        so_far.state == "chilled" and not so_far.unlogged
    )
    gone_cold = cold and so_far.prepared is not None
    so_far.packs.append(Pack(event.at, fact.how, gone_cold))
    frozen = so_far.frozen and not so_far.frozen_late
    so_far.packed_unfrozen = so_far.packed_unfrozen or not frozen


def _goes_out(so_far: Walk, event: Event, fact: Out, limits: Measures) -> None:
    _leaves_freezer(so_far, event)
    so_far.out_hot = (
        so_far.state == "hot-held"
        or so_far.unlogged == "reheated"
        or (so_far.state == "made" and so_far.heated)
    )
    so_far.state, so_far.unlogged = "out", ""
    so_far.outs.append(event)
    if fact.temperature is not None:
        late = event.late(limits.where)
        so_far.out_readings.append(OutReading(event.at, fact.temperature, late))


def _excursion(so_far: Walk, event: Event, _: Excursion, __: Measures) -> None:
    if event.settled:
        so_far.cautions.append(
            f"Its unit was beyond its limit; the person in charge keeps it: {event.settled}."
        )
    so_far.excursions.append(event)


def _labels(so_far: Walk, _: Event, fact: Labelled, __: Measures) -> None:
    so_far.printed = label_date(so_far.printed, fact)


_MEANWHILE = (
    Prepared, Received, Opened, OffHeat, CoolingIn, Cooling, Reheated, HotHeld, Packed,
)  # fmt: skip
_HANDLING = (
    Prepared, Received, Opened, OffHeat, CoolingIn, Cooling, Chilled, Reading, Frozen, Thawed,
    Reheated, HotHeld, Out, Packed, Split,
)  # fmt: skip
_STEPS: Mapping[type, Callable[[Walk, Event, Any, Measures], None]] = {
    Prepared: _prepares,
    Received: _receives,
    Opened: _opens,
    OffHeat: _cools,
    CoolingIn: _cools,
    Cooling: _cools,
    Chilled: _chills,
    Reading: _chills,
    Frozen: _freezes,
    Thawed: _thaws,
    Reheated: _reheats,
    HotHeld: _holds_hot,
    Out: _goes_out,
    Packed: _packs,
    Excursion: _excursion,
    Labelled: _labels,
    Moved: _put_away,
}
