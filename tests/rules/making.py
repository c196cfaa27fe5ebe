"""Short ways to write down food, for the tests of the rules."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.moments import Instant, from_local
from holdlog.core.temperature import read_temperature
from holdlog.rules import category, rulebook
from holdlog.rules.category import Category
from holdlog.rules.history import Event, History, Joined
from holdlog.rules.holding import Holding, holding
from holdlog.rules.rulebook import Rulebook
from holdlog.rules.stack import Stack, build

SHARED = Path(__file__).resolve().parents[2] / "shared"
CHICAGO = ZoneInfo("America/Chicago")
BOOKS = sorted((SHARED / "rulebooks").glob("*.toml"))
CATEGORIES = sorted((SHARED / "categories").glob("*.toml"))


def book_text(name: str) -> tuple[str, str]:
    path = SHARED / "rulebooks" / f"{name}.toml"
    return path.read_text(encoding="utf-8"), path.name


def category_text(name: str) -> tuple[str, str]:
    path = SHARED / "categories" / f"{name}.toml"
    return path.read_text(encoding="utf-8"), path.name


@cache
def food_code() -> Rulebook:
    return rulebook.load(*book_text("us-food-code-2022"))


@cache
def categories() -> dict[str, Category]:
    return {
        path.stem: category.load(path.read_text(encoding="utf-8"), path.name) for path in CATEGORIES
    }


def stack(
    *more: str,
    freeze_day: ev.DayCounting = "counts",
    thaw_day: ev.DayCounting = "counts",
    day_end: ev.DayEnd = "calendar",
) -> Stack:
    """The Food Code, and ``more`` amendments and house files written out as TOML."""
    books = [food_code(), *(rulebook.load(text, "more.toml") for text in more)]
    return build(books, categories(), ev.Conventions(freeze_day, thaw_day, day_end))


def at(wall: str, where: ZoneInfo = CHICAGO) -> Instant:
    """``"06-01 15:00"`` of 2026, or ``"2027-06-01 15:00"``."""
    full = wall if wall[:2] == "20" else f"2026-{wall}"
    return from_local(datetime.fromisoformat(full), where)


def event(
    wall: str,
    fact: ev.Fact,
    *,
    written: str = "",
    evidence: str = "",
    where: ZoneInfo = CHICAGO,
) -> Event:
    moment = at(wall, where)
    return Event(moment, fact, at(written, where) if written else moment, evidence)


def food(name: str = "beef stew", kind: str = "cooked-dish", **facts: object) -> ev.Food:
    figures = {
        key: Decimal(value) if isinstance(value, str) and key in {"ph", "aw"} else value
        for key, value in facts.items()
    }
    return ev.Food(name, kind, **figures)  # type: ignore[arg-type]


def history(
    *events: Event, of: ev.Food | None = None, made_from: Sequence[Joined] = (), name: str = ""
) -> History:
    known = of if of is not None else food()
    return History(name or known.item, known, tuple(events), tuple(made_from))


def found(what: History, when: str, by: Stack | None = None, where: ZoneInfo = CHICAGO) -> Holding:
    return holding(what, by or stack(), at(when, where), where)


def cooling(wall: str, reading: str, *, written: str = "", evidence: str = "") -> Event:
    return event(wall, ev.Cooling(read_temperature(reading)), written=written, evidence=evidence)


HOUSE = """
id = "tern-and-tide"
title = "Tern & Tide, house rules"
role = "house"

[rule.{name}]
kind = "date-mark"
starts = "prepared"
days = {days}
cite = "house"
says = "We keep it {days} days."
seen = "text"
"""

AMENDMENT = """
id = "us-harbour-county"
title = "Harbour County food rules"
issuer = "Harbour County"
edition = "2026"
role = "amendment"
amends = ["us-food-code-2022"]

[rule.{name}]
kind = "date-mark"
starts = "prepared"
days = {days}
cite = "HC 1.2"
says = "Prepared food is kept {days} days here."
seen = "{seen}"
"""
