"""The units: their limits under the rules in force, and what was read in them."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.moments import DAY, Instant
from holdlog.core.temperature import Scale, Temperature
from holdlog.journal import entries as journal_entries
from holdlog.journal import readings
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.kitchen.kitchen import Kitchen, Unit
from holdlog.kitchen.records import Reader
from holdlog.rules.excursion import CLOSES, Side
from holdlog.rules.kinds import HoldingLimitRule
from holdlog.rules.measures import FROZEN_FOOD, measures
from holdlog.rules.stack import Stack

_PLACES: Mapping[ev.UnitSort, str] = {
    "walk-in": "cold", "reach-in": "cold", "freezer": "frozen", "hot box": "hot",
}  # fmt: skip
SCALES: tuple[Scale, ...] = ("F", "C")
# A unit that nobody has read for so long is named in the morning.
STALE = DAY


@dataclass(frozen=True, slots=True)
class UnitLimit:
    """What a unit must keep, for one kind of food or for most: every one of ``rules``."""

    place: str
    rules: tuple[HoldingLimitRule, ...]

    @property
    def side(self) -> Side:
        """On which side of the limit it is beyond."""
        return "below" if self.place == "hot" else "above"

    def speaks(self, scale: Scale) -> bool:
        """Whether every rule prints a figure on ``scale``: else nothing is judged on it."""
        return all(rule.limit.figure(scale) is not None for rule in self.rules)

    def within(self, reading: Temperature) -> bool:
        """Whether ``reading`` is known to keep the limit; the figure itself does."""
        return all(
            rule.limit.reached_from_below(reading)
            if self.place == "hot"
            else rule.limit.reached_from_above(reading)
            for rule in self.rules
        )

    def binding(self, scale: Scale) -> HoldingLimitRule:
        """The strictest rule on ``scale``; where none speaks, the first."""
        speaking = [rule for rule in self.rules if rule.limit.figure(scale) is not None]
        hot = self.place == "hot"

        def strictness(rule: HoldingLimitRule) -> tuple[Decimal, bool]:
            figure = rule.limit.figure(scale) or Decimal(0)
            return figure if hot else -figure, rule.limit.exclusive

        return max(speaking, key=strictness, default=self.rules[0])

    def temperature(self, scale: Scale) -> Temperature | None:
        """The strictest figure printed on ``scale``."""
        figure = self.binding(scale).limit.figure(scale)
        return Temperature(figure, scale) if figure is not None else None

    def hundredths(self, scale: Scale) -> int:
        """The last reading that keeps the limit, in hundredths of a degree; what is strictly
        beyond it does not. ``scale`` must be one it ``speaks``.
        """
        limit = self.binding(scale).limit
        inward = 1 if self.place == "hot" else -1
        return round((limit.figure(scale) or Decimal(0)) * 100) + inward * limit.exclusive

    def settled(self, scale: Scale) -> int:
        """A reading this far within ends an event, in hundredths of a degree."""
        inward = 1 if self.place == "hot" else -1
        return self.hundredths(scale) + inward * CLOSES[scale]

    def show(self, scale: Scale) -> str:
        """For people: ``41 °F or below``."""
        side = "or above" if self.place == "hot" else "or below"
        return f"{self.binding(scale).limit.show(scale)} {side}"

    def cite(self, scale: Scale) -> str:
        """The section it stands in."""
        return self.binding(scale).source.cite


@dataclass(frozen=True, slots=True)
class UnitReading:
    """A temperature of a unit: read by hand or by its logger.

    ``proves``: it may show that the unit was good then. What was written down on a later day
    without evidence, or read on a thermometer that is off, does not.
    """

    at: Instant
    temperature: Temperature
    entry: int
    by_logger: bool
    probe: str = ""
    proves: bool = True


def limit_of(stack: Stack, unit: Unit, where: ZoneInfo, category: str = "") -> UnitLimit | None:
    """The limit of ``unit`` for food of ``category`` (empty: for most food); None: it has none."""
    place = _PLACES.get(unit.sort)
    if place is None:
        return None
    known = measures(stack, category, where).holding
    rules = tuple(rule for rule in known if rule.place == place)
    if not rules and place == "frozen":
        rules = (FROZEN_FOOD,)
    return UnitLimit(place, rules) if rules else None


def limits_by_category(stack: Stack, unit: Unit, where: ZoneInfo) -> dict[str, UnitLimit]:
    """The limits of ``unit``: that for most food under "", and those of food with its own."""
    named = {name for rule in stack.of_kind(HoldingLimitRule) for name in rule.categories}
    found = {name: limit_of(stack, unit, where, name) for name in ("", *sorted(named))}
    return {name: limit for name, limit in found.items() if limit is not None}


def degrees(hundredths: int, scale: Scale) -> Temperature:
    """A logger's reading as a temperature."""
    plain = format((Decimal(hundredths) / 100).normalize(), "f")
    return Temperature(Decimal(plain), scale)


def by_hand(reader: Reader, unit: str) -> list[UnitReading]:
    """What people read in ``unit``, in order of time; what was voided is left out."""
    found = [
        UnitReading(
            each.entry.at, each.fact.temperature, each.entry.number,
            by_logger=False, probe=each.fact.probe, proves=not each.event.late(reader.where),
        )
        for each in reader.standing(unit)
        if isinstance(each.fact, ev.UnitRead)
    ]  # fmt: skip
    return sorted(found, key=lambda each: (each.at, each.entry))


def logged(
    conn: Connection, site: str, unit: str, start: Instant, end: Instant
) -> list[UnitReading]:
    """What the logger of ``unit`` measured from ``start`` to ``end``, both included."""
    rows = readings.between(conn, site, unit, start, Instant(end + 1))
    return [_from_logger(row) for row in rows]


def _from_logger(row: readings.Reading) -> UnitReading:
    return UnitReading(row.at, degrees(row.hundredths, row.scale), row.entry, by_logger=True)


def last_good(
    conn: Connection, site: str, reader: Reader, unit: str, limit: UnitLimit, before: Instant
) -> UnitReading | None:
    """The latest reading before ``before`` that shows the unit within ``limit``."""
    found = [
        each
        for each in by_hand(reader, unit)
        if each.at < before and each.proves and limit.within(each.temperature)
    ][-1:]
    for scale in SCALES:
        if limit.speaks(scale):
            bound = limit.hundredths(scale)
            row = (
                readings.last_good(conn, site, unit, scale, at_least=bound, before=before)
                if limit.side == "below"
                else readings.last_good(conn, site, unit, scale, at_most=bound, before=before)
            )
            found += [_from_logger(row)] if row is not None else []
    return max(found, key=lambda each: each.at, default=None)


def last_reading(kitchen: Kitchen, conn: Connection, unit: str) -> UnitReading | None:
    """The newest reading of ``unit``, whatever it shows. Does not grow with the journal."""
    row = readings.last(conn, kitchen.site, unit)
    newest = _from_logger(row) if row is not None else None
    before: Instant | None = None
    while (
        entry := journal_entries.latest(conn, kitchen.site, "unit-read", unit, before)
    ) is not None and (newest is None or entry.at >= newest.at):
        fact = fact_of(entry)
        if isinstance(fact, ev.UnitRead) and not _voided(kitchen, conn, entry.number, entry.at):
            return UnitReading(
                entry.at, fact.temperature, entry.number, by_logger=False, probe=fact.probe
            )
        before = entry.at
    return newest


def _voided(kitchen: Kitchen, conn: Connection, number: int, at: Instant) -> bool:
    later = journal_entries.of_kinds(conn, kitchen.site, ["voided"], since=at)
    return any(isinstance(fact := fact_of(each), ev.Voided) and fact.entry == number
               for each in later)  # fmt: skip


@dataclass(frozen=True, slots=True)
class UnitNow:
    """A unit, its limit and its newest reading. ``good``: within the limit; None: not judged.

    ``stale``: nobody has read it for a day.
    """

    unit: Unit
    limit: UnitLimit | None
    last: UnitReading | None
    good: bool | None
    stale: bool


def overview(kitchen: Kitchen, conn: Connection, at: Instant) -> list[UnitNow]:
    """The units in the order of the walk, each with its newest reading."""
    stack = kitchen.current(conn).stack(conn)
    return [_now(kitchen, conn, stack, unit, at) for unit in kitchen.units.values()]


def troubled(kitchen: Kitchen, conn: Connection, at: Instant, unit: str = "") -> list[UnitNow]:
    """The units (or the one called ``unit``) whose newest reading is beyond the limit, or older
    than a day. A unit that was never read is not named.
    """
    wanted = kitchen.unit(unit).name if unit else ""
    found = (each for each in overview(kitchen, conn, at) if wanted in ("", each.unit.name))
    return [
        each
        for each in found
        if each.last is not None and each.limit is not None and (each.stale or each.good is False)
    ]


def now_of(kitchen: Kitchen, conn: Connection, unit: Unit, at: Instant) -> UnitNow:
    """One unit with its newest reading."""
    return _now(kitchen, conn, kitchen.current(conn).stack(conn), unit, at)


def _now(kitchen: Kitchen, conn: Connection, stack: Stack, unit: Unit, at: Instant) -> UnitNow:
    limit = limit_of(stack, unit, kitchen.where)
    last = last_reading(kitchen, conn, unit.name)
    good = None
    if limit is not None and last is not None and limit.speaks(last.temperature.scale):
        good = limit.within(last.temperature)
    return UnitNow(unit, limit, last, good, last is not None and at - last.at > STALE)
