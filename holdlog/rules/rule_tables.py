"""Reading one rule's table of a rulebook file, kind by kind, and saying what is wrong in it."""

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from holdlog.core.toml_table import Table
from holdlog.rules.kinds import (
    EXEMPTIONS,
    MAKER_DATES,
    THAW_METHODS,
    AcidityTable,
    CoolingRule,
    DateMarkRule,
    FreezeRule,
    HoldingLimitRule,
    InheritRule,
    MakerDateRule,
    ReducedOxygenRule,
    ReheatRule,
    Rule,
    TcsRule,
    ThawRule,
    TimeControlRule,
)

_FIGURE = re.compile(r"[0-9]{1,3}(\.[0-9]{1,4})?")


def _tcs(table: Table, base: dict[str, Any]) -> Rule:
    listed = table.table("listed")
    words = {name: listed.texts(name) for name in listed.keys()}  # noqa: SIM118
    return TcsRule(
        **base,
        table_a=_acidity(table.table("table_a")),
        table_b=_acidity(table.table("table_b")),
        listed=words,
        excluded=table.texts("excluded"),
    )


def _acidity(table: Table) -> AcidityTable:
    ph = tuple(_band(table, "ph", text) for text in table.texts("ph"))
    aw = tuple(_band(table, "aw", text) for text in table.texts("aw"))
    for key, bands in (("ph", ph), ("aw", aw)):
        figures = [figure for _, figure in bands]
        if figures != sorted(set(figures)):
            table.fault(key, "expected bands in rising order")
    cells = tuple(tuple(str(cell) for cell in row) for row in table.rows("cells"))
    if len(cells) != len(aw) + 1 or any(len(row) != len(ph) + 1 for row in cells):
        table.fault("cells", f"expected {len(aw) + 1} rows of {len(ph) + 1} cells")
    if any(cell not in ("non-TCS", "PA") for row in cells for cell in row):
        table.fault("cells", 'every cell is "non-TCS" or "PA"')
    table.finish()
    return AcidityTable(ph, aw, cells)


def _band(table: Table, key: str, text: str) -> tuple[str, Decimal]:
    comparison, _, figure = text.partition(" ")
    if comparison not in ("<", "<=") or not _FIGURE.fullmatch(figure):
        table.fault(key, f'expected bands such as "<= 4.6", found {text!r}')
        return "<", Decimal(0)
    return comparison, Decimal(figure)


def _date_mark(table: Table, base: dict[str, Any]) -> Rule:
    exempt = table.texts("exempt")
    if any(name not in EXEMPTIONS for name in exempt):
        table.fault("exempt", f"expected some of {', '.join(EXEMPTIONS)}")
    return DateMarkRule(
        **base,
        starts=_day_one(table),
        days=table.whole("days", low=1, high=400) or 1,
        exempt=exempt,
        exempt_cite=table.text("exempt_cite", ""),
        categories=table.texts("categories"),
        items=table.texts("items"),
    )


def _day_one(table: Table) -> str:
    """Which day is day 1. A rule for named food may leave it out: its first day, whichever."""
    if (table.has("categories") or table.has("items")) and not table.has("starts"):
        return "any"
    return table.choice("starts", ("prepared", "opened")) or "prepared"


def _maker_date(table: Table, base: dict[str, Any]) -> Rule:
    binds_for = table.texts("binds_for")
    if not binds_for or any(name not in MAKER_DATES for name in binds_for):
        table.fault("binds_for", f"expected some of {', '.join(MAKER_DATES)}")
    return MakerDateRule(**base, binds_for=binds_for)


def _inherit(_: Table, base: dict[str, Any]) -> Rule:
    return InheritRule(**base)


def _freeze(_: Table, base: dict[str, Any]) -> Rule:
    return FreezeRule(**base)


def _thaw(table: Table, base: dict[str, Any]) -> Rule:
    at_once = table.texts("at_once")
    if any(name not in THAW_METHODS for name in at_once):
        table.fault("at_once", f"expected some of {', '.join(THAW_METHODS)}")
    return ThawRule(**base, at_once=at_once, hours=table.whole("hours", high=100) or 0)


def _cooling(table: Table, base: dict[str, Any]) -> Rule:
    staged = table.has("middle") or table.has("hot") or table.has("first_minutes")
    rule = CoolingRule(
        **base,
        when=table.choice("when", ("cooked", "ambient")),
        hot=table.limit("hot") if staged else None,
        middle=table.limit("middle") if staged else None,
        cold=table.limit("cold"),
        first_minutes=table.whole("first_minutes", low=1) if staged else None,
        whole_minutes=table.whole("whole_minutes", low=1) or 1,
        reheat_once=table.flag("reheat_once", default=False),
        reheat_cite=table.text("reheat_cite", ""),
    )
    if rule.hot is not None and rule.middle is not None:
        for key, above, below in (
            ("middle", rule.hot, rule.middle),
            ("cold", rule.middle, rule.cold),
        ):
            if not (above.f > below.f and above.c > below.c):
                table.fault(key, "expected hot, middle and cold to fall, in °F and in °C")
    if rule.first_minutes is not None and rule.first_minutes > rule.whole_minutes:
        table.fault("first_minutes", "expected no more than whole_minutes")
    return rule


def _holding_limit(table: Table, base: dict[str, Any]) -> Rule:
    place = table.choice("place", ("cold", "hot")) or "cold"
    return HoldingLimitRule(**base, place=place, limit=table.limit("limit"))


def _time_control(table: Table, base: dict[str, Any]) -> Rule:
    return TimeControlRule(
        **base,
        plan=table.choice("plan", ("4h", "6h")) or "4h",
        hours=table.whole("hours", low=1, high=24) or 1,
        cold_start=table.limit("cold_start"),
        hot_start=table.limit("hot_start") if table.has("hot_start") else None,
        ceiling=table.limit("ceiling") if table.has("ceiling") else None,
        ambient_start=table.limit("ambient_start") if table.has("ambient_start") else None,
        ambient_categories=table.texts("ambient_categories"),
        not_for_susceptible=table.texts("not_for_susceptible"),
        not_for_susceptible_cite=table.text("not_for_susceptible_cite", ""),
    )


def _reheat(table: Table, base: dict[str, Any]) -> Rule:
    return ReheatRule(
        **base,
        target=table.limit("target"),
        seconds=table.whole("seconds") or 0,
        within_minutes=table.whole("within_minutes", low=1) or 1,
    )


def _reduced_oxygen(table: Table, base: dict[str, Any]) -> Rule:
    return ReducedOxygenRule(
        **base,
        hours=table.whole("hours", low=1) or 1,
        frozen_only=table.texts("frozen_only"),
        frozen_cite=table.text("frozen_cite", ""),
    )


KINDS: Mapping[str, Callable[[Table, dict[str, Any]], Rule]] = {
    "tcs": _tcs,
    "date-mark": _date_mark,
    "maker-date": _maker_date,
    "inherit": _inherit,
    "freeze": _freeze,
    "thaw": _thaw,
    "cooling": _cooling,
    "holding-limit": _holding_limit,
    "time-control": _time_control,
    "reheat": _reheat,
    "reduced-oxygen": _reduced_oxygen,
}
# A house file may add limits; it may not decide what needs them, nor lift anything.
HOUSE_KINDS = ("date-mark", "holding-limit")
