"""Scenarios: a history written down by hand, to be folded without recording anything.

The form is a contract: published worked examples live in it, and other programs may write it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.errors import BadFile, HoldlogError
from holdlog.core.moments import Instant, from_local, instant, iso, zone
from holdlog.core.toml_table import Table, parse
from holdlog.rules import category, kinds, outlook, rulebook
from holdlog.rules.folding import Folded, Key
from holdlog.rules.history import Event, History, Joined
from holdlog.rules.holding import Holding, as_json, holding
from holdlog.rules.stack import Stack, build

# Hands over the text of a rulebook (an id or a path) or category (an id), and its file name.
Finder = Callable[[str], tuple[str, str]]
_TOLD = 300
PACKINGS = ("vacuum", "cook-chill", "sous-vide", "map")


@dataclass(frozen=True, slots=True)
class Scenario:
    """A scenario read and checked, ready to be folded."""

    file: str
    where: ZoneInfo
    rulebooks: tuple[str, ...]
    stack: Stack
    at: Instant
    histories: Mapping[str, History]
    expect: Mapping[str, Mapping[str, Any]]


def read(text: str, file: str, find_book: Finder, find_category: Finder) -> Scenario:
    """Read a scenario. Raises ``BadFile("bad-scenario")`` naming file, table and key."""
    top = parse(text, file)
    for note in ("title", "source", "says", "seen"):
        top.text(note, "")
    where = _zone(top)
    books = top.texts("rulebooks")
    if not books:
        top.fault("rulebooks", "missing; expected a list with the adopted rulebook first")
    conventions = None
    if top.has("conventions"):
        settled = top.table("conventions")
        conventions = rulebook.read_conventions(settled)
        settled.finish()
    drafts = _batches(top.table("batch"), where)
    if not drafts:
        top.fault("batch", "missing; expected at least one [batch.NAME]")
    now = top.wall_time("now", None)
    expect = _expectations(top.table("expect"), drafts)
    order = _depth_first(drafts)
    _check_splits(drafts)
    top.finish()
    top.refuse_faults("bad-scenario")
    try:
        stack = _stack(books, conventions, drafts, find_book, find_category, top)
    except HoldlogError as error:
        if top.faults:
            raise
        raise BadFile("bad-scenario", (f"{file}: {error.line()}",)) from error
    histories = _histories(drafts, order)
    moments = [event.at for draft in drafts.values() for event in draft.events]
    at = _moment(now, where) if now is not None else max(moments)
    return Scenario(file, where, books, stack, at, histories, expect)


def answer(scenario: Scenario) -> dict[str, Any]:
    """Fold every batch of the scenario: the result of the contract, as plain data."""
    found = fold(scenario)
    return {
        "rulebooks": list(scenario.rulebooks),
        "at": iso(scenario.at, scenario.where),
        "batches": {name: as_json(each, scenario.where) for name, each in found.items()},
    }


def fold(scenario: Scenario) -> dict[str, Holding]:
    """Where every batch of the scenario stands at its moment."""
    done: dict[Key, Folded] = {}
    return {
        name: holding(history, scenario.stack, scenario.at, scenario.where, done)
        for name, history in scenario.histories.items()
    }


def coolings_told(scenario: Scenario) -> dict[str, list[str]]:
    """Of every batch that cools: forecast, pace and next reading in lines for people."""
    return {name: outlook.told(each.ahead, scenario.where) for name, each in fold(scenario).items()}


def unmet(scenario: Scenario, result: Mapping[str, Any]) -> list[str]:
    """What the scenario's ``[expect]`` tables say that does not hold, one line each."""
    wrong = []
    for name, wanted in scenario.expect.items():
        found = result["batches"][name]
        for key, value in wanted.items():
            got = _look(found, key, value)
            if got != value:
                wrong.append(
                    f"{scenario.file}: [expect.{name}] {key}: expected {_told(value)}, "
                    f"got {_told(got)}"
                )
    return wrong


def _told(value: Any) -> str:
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # a number of 5000 digits, tables in tables in tables
        return "what cannot be shown"
    return text if len(text) <= _TOLD else f"{text[:_TOLD]}…"


def _look(found: Mapping[str, Any], key: str, value: Any) -> Any:
    binding: Mapping[str, Any] = next((each for each in found["basis"] if each["binds"]), {})
    if key == "binds":
        return binding.get("rule")
    if key == "caution":
        said = isinstance(value, str) and any(value in each for each in found["cautions"])
        return value if said else found["cautions"]
    inner = found.get(key)
    if isinstance(value, Mapping) and isinstance(inner, Mapping):
        return {each: inner.get(each) for each in value}
    return found.get(key)


# ---- reading ---------------------------------------------------------------------------------


@dataclass(slots=True)
class _Draft:
    table: Table
    food: ev.Food
    events: tuple[Event, ...]
    made_from: tuple[str, ...]
    split_from: str

    def parts(self) -> list[tuple[str, str]]:
        """The batches it refers to, each with the key that names it."""
        split = [("split_from", self.split_from)] if self.split_from else []
        return [*split, *(("made_from", name) for name in self.made_from)]


def _zone(top: Table) -> ZoneInfo:
    name = top.text("timezone")
    try:
        return zone(name)
    except HoldlogError as error:
        if name:
            top.fault("timezone", error.line())
        return ZoneInfo("UTC")


def _moment(wall: datetime, where: ZoneInfo) -> Instant:
    return instant(wall) if wall.tzinfo else from_local(wall, where)


def _expectations(tables: Table, drafts: Mapping[str, "_Draft"]) -> dict[str, Mapping[str, Any]]:
    expect: dict[str, Mapping[str, Any]] = {}
    for name in tables.keys():  # noqa: SIM118  (a Table is not a mapping)
        wanted = tables.raw(name)
        if name not in drafts:
            tables.fault(name, "no batch of this name")
        elif not isinstance(wanted, Mapping):
            tables.fault(name, "expected a table")
        else:
            expect[name] = wanted
    return expect


def _check_splits(drafts: Mapping[str, "_Draft"]) -> None:
    """A split-off carries its parent's facts; others beside them would be passed over."""
    for draft in drafts.values():
        parent = drafts.get(draft.split_from)
        if parent is None:
            continue
        for key in draft.table.keys():  # noqa: SIM118
            said, carried = getattr(draft.food, key, None), getattr(parent.food, key, None)
            if key != "item" and said != carried:
                draft.table.fault(
                    key, f"it is split from {draft.split_from!r}, and is not the same"
                )


def _batches(tables: Table, where: ZoneInfo) -> dict[str, _Draft]:
    drafts = {}
    for name in tables.keys():  # noqa: SIM118  (a Table is not a mapping)
        table = tables.table(name)
        made_from, split_from = table.texts("made_from"), table.text("split_from", "")
        food = _food(table, name)
        events = tuple(_event(each, where) for each in table.tables("event"))
        if not events and not split_from:
            table.fault("event", f"missing; expected at least one [[batch.{name}.event]]")
        drafts[name] = _Draft(
            table, food, tuple(each for each in events if each is not None), made_from, split_from
        )
        table.finish()
    return drafts


def _food(table: Table, name: str) -> ev.Food:
    return ev.Food(
        item=table.text("item", name),
        category=table.text("category"),
        ph=table.number("ph", None, high="14"),
        aw=table.number("aw", None, high="1"),
        heat_treated=table.flag("heat_treated", None),
        packaged=table.flag("packaged", None),
        ready_to_eat=table.flag("ready_to_eat", None),
        ambient_ingredients=table.flag("ambient_ingredients", default=False),
        made_on_site=table.flag("made_on_site", None),
        commercial=table.flag("commercial", default=False),
        variance=table.flag("variance", default=False),
        haccp_plan=table.flag("haccp_plan", default=False),
        susceptible_population=table.flag("susceptible_population", default=False),
        depth_in=table.number("depth_in", None, high="100"),
        depth_cm=table.number("depth_cm", None, high="250"),
        reduced_oxygen=table.choice("reduced_oxygen", PACKINGS, None),
        exempt_as=table.choice("exempt_as", kinds.EXEMPTIONS, None),
    )


def _event(table: Table, where: ZoneInfo) -> Event | None:
    kind = table.choice("event", tuple(_FACTS))
    wall = table.wall_time("at")
    if kind not in _FACTS or wall is None:
        return None
    fact = _FACTS[kind](table)
    table.finish()
    at = _moment(wall, where)
    return Event(at=at, fact=fact, recorded_at=at) if fact is not None else None


def _cooling(table: Table) -> ev.Fact | None:
    reading = table.temperature("temperature")
    return ev.Cooling(reading) if reading is not None else None


def _reading(table: Table) -> ev.Fact | None:
    reading = table.temperature("temperature")
    return ev.Reading(reading) if reading is not None else None


def _reheated(table: Table) -> ev.Fact:
    minutes = table.whole("minutes", None)
    seconds = table.whole("held_seconds", minutes * 60 if minutes is not None else None)
    return ev.Reheated(
        table.temperature("temperature", None), seconds, table.whole("took_minutes", None)
    )


def _maker(table: Table) -> dict[str, Any]:
    return {
        "maker_use_by": table.day("maker_use_by", None),
        "maker_date_for": table.choice("maker_date_for", kinds.MAKER_DATES, "safety"),
    }


_FACTS: Mapping[str, Callable[[Table], ev.Fact | None]] = {
    "prepared": lambda _: ev.Prepared(),
    "received": lambda t: ev.Received(temperature=t.temperature("temperature", None), **_maker(t)),
    "opened": lambda t: ev.Opened(**_maker(t)),
    "off-heat": lambda _: ev.OffHeat(),
    "cooling-in": lambda t: ev.CoolingIn(t.temperature("surroundings", None), t.text("method", "")),
    "cooling": _cooling,
    "chilled": lambda t: ev.Chilled(t.temperature("temperature", None)),
    "reading": _reading,
    "frozen": lambda _: ev.Frozen(),
    "thawed": lambda t: ev.Thawed(t.choice("method", kinds.THAW_METHODS, None)),
    "reheated": _reheated,
    "hot-held": lambda t: ev.HotHeld(t.temperature("temperature", None)),
    "out": lambda t: ev.Out(
        t.choice("plan", kinds.PLANS) or "4h", t.temperature("temperature", None)
    ),
    "packed": lambda t: ev.Packed(t.choice("reduced_oxygen", PACKINGS, None)),
    "excursion": lambda t: ev.Excursion(
        t.temperature("limit", None),
        t.whole("seconds", 0, high=10_000_000),
        t.whole("unknown_seconds", 0, high=10_000_000),
        t.temperature("peak", None),
    ),
    "split": lambda _: ev.Split(),
    "used": lambda _: ev.Used(),
    "discarded": lambda _: ev.Discarded(),
}


def _stack(
    books: tuple[str, ...],
    conventions: ev.Conventions | None,
    drafts: Mapping[str, _Draft],
    find_book: Finder,
    find_category: Finder,
    top: Table,
) -> Stack:
    loaded = []
    for name in books:
        try:
            loaded.append(rulebook.load(*find_book(name)))
        except HoldlogError as error:
            top.fault("rulebooks", error.line())
    categories = {}
    for draft in drafts.values():
        name = draft.food.category
        if name and name not in categories:
            try:
                categories[name] = category.load(*find_category(name))
            except HoldlogError as error:
                draft.table.fault("category", error.line())
    top.refuse_faults("bad-scenario")
    for book in loaded:
        for rule in book.rules.values():
            for name in getattr(rule, "categories", ()):
                if name not in categories:
                    categories[name] = category.load(*find_category(name))
    return build(loaded, categories, conventions)


def _depth_first(drafts: Mapping[str, _Draft]) -> list[str]:
    """The names, each after what it is made from. What is made from itself is a fault."""
    done: dict[str, bool] = {}  # False: on the path being walked
    order: list[str] = []
    for start in drafts:
        todo = [start]
        while todo:
            name = todo[-1]
            if name in done:
                todo.pop()
                if not done[name]:
                    done[name] = True
                    order.append(name)
                continue
            done[name] = False
            for key, other in drafts[name].parts():
                if other not in drafts:
                    drafts[name].table.fault(key, f"no batch named {other!r} in this file")
                elif done.get(other) is False:
                    drafts[name].table.fault(key, f"{other!r} is made from itself")
                elif other not in done:
                    todo.append(other)
    return order


def _histories(drafts: Mapping[str, _Draft], order: list[str]) -> dict[str, History]:
    """The histories, each built once, so that one ingredient of many dishes stays one."""
    found: dict[str, History] = {}
    for name in order:
        draft = drafts[name]
        starts = [event.at for event in draft.events if isinstance(event.fact, ev.Prepared)]
        moment = min(starts or [event.at for event in draft.events], default=Instant(0))
        joined = tuple(Joined(found[other], moment) for other in draft.made_from)
        history = History(name, draft.food, draft.events, joined)
        if draft.split_from:
            history = _split_off(history, found[draft.split_from])
        found[name] = history
    return {name: found[name] for name in drafts}


def _split_off(child: History, parent: History) -> History:
    """The child carries the parent's history up to the split."""
    first = min((event.at for event in child.events), default=None)
    splits = [
        event.at
        for event in parent.events
        if isinstance(event.fact, ev.Split) and (first is None or event.at <= first)
    ]
    moment = max(splits) if splits else first
    before = parent if moment is None else parent.until(moment)
    kept = tuple(
        event
        for event in before.events
        if not isinstance(event.fact, ev.Used | ev.Discarded)
        # A split of what had been thrown away is still of what had been thrown away.
        or (isinstance(event.fact, ev.Discarded) and moment is not None and event.at < moment)
    )
    return replace(
        child, food=parent.food, events=kept + child.events, joined=before.joined + child.joined
    )
