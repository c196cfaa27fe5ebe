"""A rule as plain data: its kind, its figures as printed, its citation and its mark.

The screens and the pages of the manual show rules; neither knows their classes.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Any

from holdlog.core.temperature import Limit
from holdlog.rules.kinds import (
    AcidityTable,
    CoolingRule,
    DateMarkRule,
    FreezeRule,
    GuidanceRule,
    HoldingLimitRule,
    InheritRule,
    MakerDateRule,
    OutageRule,
    RecordsRule,
    ReducedOxygenRule,
    ReheatRule,
    Rule,
    Source,
    TcsRule,
    TimeControlRule,
)

Figures = tuple[tuple[str, str], ...]
# How much text a mark stands for, in words.
MARKS: Mapping[str, str] = {
    "text": "seen in the authority's own text",
    "secondary": "seen as another source reports it",
    "memory": "from memory, not seen in any text",
    "inference": "our reading; the text does not say it in so many words",
}


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of rule: its id in the files, what it is called and what it decides."""

    id: str
    name: str
    decides: str


KINDS: Mapping[type[Rule], Kind] = {
    TcsRule: Kind(
        "tcs", "Which food needs temperature control",
        "Whether a food needs time and temperature control for safety (TCS); the other rules are "
        "for such food.",
    ),
    DateMarkRule: Kind(
        "date-mark", "Days", "How many days food keeps in the cold, day 1 being the day it was "
        "made or opened.",
    ),
    MakerDateRule: Kind("maker-date", "The maker's date", "Whether the maker's date binds."),
    InheritRule: Kind(
        "inherit", "Combined food", "Which date a dish has that is made of dated food."
    ),
    FreezeRule: Kind(
        "freeze", "Freezing, thawing and food without a mark",
        "What freezing does to the days, what is for use at once, and what is thrown away.",
    ),
    CoolingRule: Kind("cooling", "Cooling", "How fast food is cooled."),
    HoldingLimitRule: Kind(
        "holding-limit", "Cold, hot and frozen holding", "At which temperature food is held."
    ),
    TimeControlRule: Kind(
        "time-control", "Time in place of temperature",
        "How long food may stand out of temperature control, and what then.",
    ),
    ReheatRule: Kind("reheat", "Reheating", "To what temperature food is reheated, and how fast."),
    ReducedOxygenRule: Kind(
        "reduced-oxygen", "Packing with the oxygen reduced",
        "Which food may be packed so here, and how long it keeps.",
    ),
    OutageRule: Kind("outage", "Power cuts", "When food of a unit that failed is thrown away."),
    GuidanceRule: Kind(
        "guidance", "Said without a figure to judge by",
        "What the authority asks that this program cannot measure; it is said, not judged.",
    ),
    RecordsRule: Kind("records", "Records", "How long a record is kept."),
}  # fmt: skip


def degrees(limit: Limit) -> str:
    """A limit's figures as its authority prints them, each scale its own, never converted."""
    shown = [
        f"{_number(figure)} °{scale}"
        for scale, figure in (("F", limit.f), ("C", limit.c))
        if figure is not None
    ]
    return f"{shown[0]} ({shown[1]})" if shown[1:] else shown[0]


def at_most(limit: Limit) -> str:
    """A limit that food stays at or under: ``41 °F (5 °C) or below``."""
    return f"below {degrees(limit)}" if limit.exclusive else f"{degrees(limit)} or below"


def at_least(limit: Limit) -> str:
    """A limit that food stays at or over."""
    return f"above {degrees(limit)}" if limit.exclusive else f"{degrees(limit)} or above"


def span(minutes: int) -> str:
    """``90 minutes``, ``2 hours``."""
    hours, rest = divmod(minutes, 60)
    return f"{minutes} minutes" if rest else f"{hours} hour{'' if hours == 1 else 's'}"


def _number(figure: Decimal) -> str:
    return f"{figure:f}".replace("-", "−")


def _days(count: int) -> str:
    return f"{count} day{'' if count == 1 else 's'}"


def _named(words: tuple[str, ...]) -> str:
    return ", ".join(words)


def figures(rule: Rule) -> Figures:
    """The figures of a rule, each with its name. A name without a figure is left out."""
    found = _FIGURES[type(rule)](rule)
    return tuple((name, text) for name, text in found if text)


def _tcs(rule: Any) -> Figures:
    return (
        ("TCS whatever it is made of", _named(tuple(rule.listed))),
        ("never TCS", _named(rule.excluded)),
        ("not for highly susceptible people", _with(_named(rule.susceptible_refused),
                                                    rule.susceptible_cite)),
    )  # fmt: skip


def _with(text: str, cite: str) -> str:
    return f"{text} ({cite})" if text and cite else text


def _date_mark(rule: Any) -> Figures:
    day_one = {"prepared": "the day it is made", "opened": "the day it is opened"}
    return (
        ("keeps", _days(rule.days)),
        ("day 1", day_one.get(rule.starts, "the day it is made or opened")),
        ("for", _named((*rule.categories, *rule.items))),
        ("not for", _named(rule.excludes)),
        ("exempt, as plant-made", _with(_named(rule.exempt), rule.exempt_cite)),
    )


def _maker(rule: Any) -> Figures:
    return (("binds where set for", _named(rule.binds_for)),)


def _freeze(rule: Any) -> Figures:
    if rule.thawing is None:
        return ()
    how = f"within {span(rule.hours * 60)} if thawed by {_named(rule.at_once)}"
    return (("for use at once", f"{how} ({rule.thawing.cite}): {rule.thawing.says}"),)


def _cooling(rule: Any) -> Figures:
    made = {"cooked": "cooked or heated food", "ambient": "food made at room temperature"}
    start = f"from {degrees(rule.hot)} " if rule.hot else ""
    first = second = whole = ""
    if rule.middle is not None and rule.first_minutes is not None:
        first = f"{start}to {degrees(rule.middle)} within {span(rule.first_minutes)}"
        start = ""
    if rule.second_minutes is not None:
        second = f"on to {degrees(rule.cold)} within {span(rule.second_minutes)} more"
    else:
        in_all = " in all" if first else ""
        whole = f"{start}to {degrees(rule.cold)} within {span(rule.whole_minutes)}{in_all}"
    deep = [
        f"{figure} {unit}"
        for figure, unit in ((rule.no_clock_depth_in, "in"), (rule.no_clock_depth_cm, "cm"))
        if figure is not None
    ]
    return (
        ("for", made[rule.when]),
        ("first", first),
        ("then", second),
        ("cooled" if not first else "whole", whole),
        ("no clock where no deeper than", " / ".join(deep)),
        ("missed first limit", _with("one reheat is offered", rule.reheat_cite)
         if rule.reheat_once else ""),
    )  # fmt: skip


def _holding(rule: Any) -> Figures:
    side = at_least if rule.place == "hot" else at_most
    return ((f"held {rule.place}", side(rule.limit)), ("for", _named(rule.categories)))


def _time_control(rule: Any) -> Figures:
    starts = [text for limit, text in (
        (rule.cold_start, at_most(rule.cold_start) if rule.cold_start else ""),
        (rule.hot_start, at_least(rule.hot_start) if rule.hot_start else ""),
    ) if limit is not None]  # fmt: skip
    check = ""
    if rule.check_at_hours is not None and rule.check_limit is not None:
        check = f"after {span(rule.check_at_hours * 60)}: {at_most(rule.check_limit)}"
    ambient = at_most(rule.ambient_start) if rule.ambient_start else ""
    back = rule.returns_within_hours
    return (
        ("out for", ("less than " if rule.exclusive else "") + span(rule.hours * 60)),
        ("starts at", " or ".join(starts)),
        ("starts and stays at", _with(ambient, _named(rule.ambient_categories))),
        ("discarded", f"above {degrees(rule.ceiling)}" if rule.ceiling else ""),
        ("measured again", check),
        ("goes back to the cold", f"if out {span(back * 60)} in all or less" if back else "never"),
        ("not where highly susceptible people are served",
         _with(_named(rule.susceptible_refused), rule.susceptible_cite)),
    )  # fmt: skip


def _reheat(rule: Any) -> Figures:
    held = f", held {rule.seconds} seconds" if rule.seconds else ""
    return (
        ("reaches", degrees(rule.target) + held),
        ("within", span(rule.within_minutes) if rule.within_minutes else ""),
        ("in a microwave oven", degrees(rule.microwave) if rule.microwave else ""),
        ("eaten", "on the day of the first reheating" if rule.same_day else ""),
    )


def _reduced_oxygen(rule: Any) -> Figures:
    fits = {
        "short": "any food", "cook-chill": "cook-chill and sous vide bags",
        "colder": "cook-chill and sous vide bags shown colder",
        "cheese": "plant-made hard and semi-soft cheese", "two-barrier": "",
    }  # fmt: skip
    barriers = (
        f"water activity {rule.aw_at_most} or less" if rule.aw_at_most is not None else "",
        f"pH {rule.ph_at_most} or less" if rule.ph_at_most is not None else "",
        _named(rule.categories),
    )
    kept = span(rule.hours * 60) if rule.hours is not None else f"{_days(rule.days)}, day 1 packed"
    return (
        ("kept", kept),
        ("colder", _colder(rule)),
        ("for", fits[rule.option] or "; or ".join(filter(None, barriers))),
        ("HACCP plan", "needed" if rule.needs_haccp else "not needed"),
        ("only frozen", _with(_named(rule.frozen_only), rule.frozen_cite)),
    )


def _colder(rule: Any) -> str:
    if rule.colder is None:
        return ""
    soon = f"{at_most(rule.colder)} within {span(rule.within_hours * 60)} of the cold limit"
    return f"{soon}; then {_days(rule.then_days)} from the last such reading"


def _outage(rule: Any) -> Figures:
    hours = span(rule.hours * 60)
    return (("discarded", f"warmer than {degrees(rule.limit)} for more than {hours}"),)


def _guidance(rule: Any) -> Figures:
    shown = {
        "always": "with every date of such food", "packed": "with packed food",
        "rulebook": "here only",
    }  # fmt: skip
    return (("for", _named(rule.categories)), ("shown", shown[rule.shown]))


def _records(rule: Any) -> Figures:
    months = rule.keep_months
    kept = (
        _days(rule.keep_days) if rule.keep_days is not None else "",
        f"{months} month{'' if months == 1 else 's'}" if months is not None else "",
    )
    return (("kept for", " or ".join(filter(None, kept))),)


_FIGURES: Mapping[type[Rule], Callable[[Any], Figures]] = {
    TcsRule: _tcs,
    DateMarkRule: _date_mark,
    MakerDateRule: _maker,
    InheritRule: lambda _: (),
    FreezeRule: _freeze,
    CoolingRule: _cooling,
    HoldingLimitRule: _holding,
    TimeControlRule: _time_control,
    ReheatRule: _reheat,
    ReducedOxygenRule: _reduced_oxygen,
    OutageRule: _outage,
    GuidanceRule: _guidance,
    RecordsRule: _records,
}


@dataclass(frozen=True, slots=True)
class Grid:
    """A published table: its title, the heads of its columns, its rows."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def grids(rule: Rule) -> tuple[Grid, ...]:
    """The tables of pH and water activity, where the rule has them."""
    if not isinstance(rule, TcsRule):
        return ()
    return (
        _grid("Table A: heat-treated, then packaged", rule.table_a),
        _grid("Table B: not heat-treated, or not packaged", rule.table_b),
    )


def _grid(title: str, table: AcidityTable) -> Grid:
    heads = ("water activity", *(f"pH {band}" for band in _bands(table.ph)))
    rows = zip(_bands(table.aw), table.cells, strict=True)
    return Grid(title, heads, tuple((band, *cells) for band, cells in rows))


def _bands(bands: tuple[tuple[str, Decimal], ...]) -> list[str]:
    words = {"<": "below", "<=": "at most"}
    last = f"above {bands[-1][1]}" if bands[-1][0] == "<=" else f"{bands[-1][1]} or more"
    return [*(f"{words[comparison]} {figure}" for comparison, figure in bands), last]


def raw(rule: Rule) -> dict[str, Any]:
    """Every figure of a rule for programs, by the key that the files use where they have one."""
    return {
        each.name: _raw(getattr(rule, each.name))
        for each in fields(rule)
        if each.name not in ("source", "purpose")
    }


def _raw(value: Any) -> Any:
    match value:
        case Limit():
            return {"f": _raw(value.f), "c": _raw(value.c), "exclusive": value.exclusive}
        case Decimal():
            return int(value) if value == value.to_integral_value() else float(value)
        case AcidityTable():
            ph = [f"{comparison} {figure}" for comparison, figure in value.ph]
            aw = [f"{comparison} {figure}" for comparison, figure in value.aw]
            return {"ph": ph, "aw": aw, "cells": [list(row) for row in value.cells]}
        case Source():
            value = {"cite": value.cite, "says": value.says, "seen": value.seen}
    return _raw_within(value)


def _raw_within(value: Any) -> Any:
    match value:
        case Mapping():
            return {key: _raw(each) for key, each in value.items()}
        case tuple():
            return [_raw(each) for each in value]
        case _:
            return value
