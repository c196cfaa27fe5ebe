"""Reading one rule's table of a rulebook file, kind by kind, and saying what is wrong in it."""

import itertools
import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from holdlog.core.temperature import Limit
from holdlog.core.toml_table import Table
from holdlog.rules.kinds import (
    EXEMPTIONS,
    GUIDANCE_SHOWN,
    MAKER_DATES,
    PACK_OPTIONS,
    PLANS,
    SEEN,
    THAW_METHODS,
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
        susceptible_refused=table.texts("susceptible_refused"),
        susceptible_cite=table.text("susceptible_cite", ""),
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
        excludes=table.texts("excludes"),
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


def _freeze(table: Table, base: dict[str, Any]) -> Rule:
    at_once = table.texts("at_once")
    if any(name not in THAW_METHODS for name in at_once):
        table.fault("at_once", f"expected some of {', '.join(THAW_METHODS)}")
    if not at_once:
        return FreezeRule(**base)
    source: Source = base["source"]
    thawing = Source("thawing", table.text("thaw_cite"), table.text("thaw_says"), source.seen)
    return FreezeRule(**base, at_once=at_once, hours=table.whole("hours", high=100) or 0,
                      thawing=thawing)  # fmt: skip


def _cooling(table: Table, base: dict[str, Any]) -> Rule:
    staged = table.has("middle") or table.has("first_minutes")
    from_middle = table.has("second_minutes")
    depth = table.table("no_clock_depth")
    rule = CoolingRule(
        **base,
        when=table.choice("when", ("cooked", "ambient")),
        hot=table.limit("hot") if staged or table.has("hot") else None,
        middle=table.limit("middle") if staged else None,
        cold=table.limit("cold"),
        first_minutes=table.whole("first_minutes", low=1) if staged else None,
        whole_minutes=None if from_middle else table.whole("whole_minutes", low=1) or 1,
        second_minutes=table.whole("second_minutes", low=1) or 1 if from_middle else None,
        reheat_once=table.flag("reheat_once", default=False),
        reheat_cite=table.text("reheat_cite", ""),
        no_clock_depth_in=depth.number("in", None, high="40"),
        no_clock_depth_cm=depth.number("cm", None, high="100"),
    )
    depth.finish()
    steps = [("hot", rule.hot), ("middle", rule.middle), ("cold", rule.cold)]
    known = [(key, limit) for key, limit in steps if limit is not None]
    for (_, above), (key, below) in itertools.pairwise(known):
        pairs = ((above.f, below.f), (above.c, below.c))
        if any(high is not None and low is not None and high <= low for high, low in pairs):
            table.fault(key, "expected hot, middle and cold to fall, in °F and in °C")
    if rule.first_minutes and rule.whole_minutes and rule.first_minutes > rule.whole_minutes:
        table.fault("first_minutes", "expected no more than whole_minutes")
    if from_middle and not staged:
        table.fault("second_minutes", "counts from reaching middle, which is missing")
    return rule


def _holding_limit(table: Table, base: dict[str, Any]) -> Rule:
    place = table.choice("place", ("cold", "hot", "frozen")) or "cold"
    exclusive = table.flag("exclusive", default=False)
    limit = table.limit("limit", exclusive=bool(exclusive))
    return HoldingLimitRule(**base, place=place, limit=limit, categories=table.texts("categories"))


def _time_control(table: Table, base: dict[str, Any]) -> Rule:
    strictly = bool(table.flag("start_exclusive", default=False))
    checked = bool(table.flag("check_exclusive", default=False))

    def limit(key: str, *, exclusive: bool = False) -> Limit | None:
        return table.limit(key, exclusive=exclusive) if table.has(key) else None

    return TimeControlRule(
        **base,
        plan=table.choice("plan", PLANS) or "4h",
        hours=table.whole("hours", low=1, high=24) or 1,
        cold_start=limit("cold_start", exclusive=strictly),
        hot_start=limit("hot_start", exclusive=strictly),
        ceiling=limit("ceiling"),
        ambient_start=limit("ambient_start"),
        ambient_categories=table.texts("ambient_categories"),
        susceptible_refused=table.texts("susceptible_refused"),
        susceptible_cite=table.text("susceptible_cite", ""),
        exclusive=table.flag("exclusive", default=False),
        check_at_hours=table.whole("check_at_hours", None, low=1, high=24),
        check_limit=limit("check_limit", exclusive=checked),
        returns_within_hours=table.whole("returns_within_hours", None, low=1, high=24),
    )


def _reheat(table: Table, base: dict[str, Any]) -> Rule:
    return ReheatRule(
        **base,
        target=table.limit("target"),
        seconds=table.whole("seconds", None),
        within_minutes=table.whole("within_minutes", None, low=1),
        microwave=table.limit("microwave") if table.has("microwave") else None,
        same_day=table.flag("same_day", default=False),
    )


def _reduced_oxygen(table: Table, base: dict[str, Any]) -> Rule:
    # The day of packing counts as day 1: the strict reading, and the only one there is.
    table.choice("packing_day", ("counts",), "counts")
    rule = ReducedOxygenRule(
        **base,
        option=table.choice("option", PACK_OPTIONS) or "short",
        hours=table.whole("hours", None, low=1),
        days=table.whole("days", None, low=1),
        needs_haccp=table.flag("needs_haccp"),
        frozen_only=table.texts("frozen_only"),
        frozen_cite=table.text("frozen_cite", ""),
        frozen_seen=table.choice("frozen_seen", SEEN, ""),
        aw_at_most=table.number("aw_at_most", None, high="1"),
        ph_at_most=table.number("ph_at_most", None, high="14"),
        categories=table.texts("categories"),
        colder=table.limit("colder") if table.has("colder") else None,
        within_hours=table.whole("within_hours", None, low=1),
        then_days=table.whole("then_days", None, low=1),
    )
    colder = (rule.colder, rule.within_hours, rule.then_days, rule.days)
    if rule.option == "colder" and None in colder:
        table.fault("option", "colder goes with days, colder, within_hours and then_days")
    if (rule.hours is None) == (rule.days is None):
        table.fault("hours", "expected either hours or days")
    return rule


def _outage(table: Table, base: dict[str, Any]) -> Rule:
    return OutageRule(**base, limit=table.limit("limit"), hours=table.whole("hours", low=1) or 1)


def _guidance(table: Table, base: dict[str, Any]) -> Rule:
    shown = table.choice("shown", GUIDANCE_SHOWN, "always")
    return GuidanceRule(**base, categories=table.texts("categories"), shown=shown)


def _records(table: Table, base: dict[str, Any]) -> Rule:
    days = table.whole("keep_days", None, low=1)
    return RecordsRule(**base, keep_days=days, keep_months=table.whole("keep_months", None, low=1))


KINDS: Mapping[str, Callable[[Table, dict[str, Any]], Rule]] = {
    "tcs": _tcs,
    "date-mark": _date_mark,
    "maker-date": _maker_date,
    "inherit": _inherit,
    "freeze": _freeze,
    "cooling": _cooling,
    "holding-limit": _holding_limit,
    "time-control": _time_control,
    "reheat": _reheat,
    "reduced-oxygen": _reduced_oxygen,
    "outage": _outage,
    "guidance": _guidance,
    "records": _records,
}
# A house file may add limits; it may not decide what needs them, nor lift anything.
HOUSE_KINDS = ("date-mark", "holding-limit")
