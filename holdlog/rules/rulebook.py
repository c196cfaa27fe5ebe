"""Rulebooks: one authority's rules as data, every figure with its citation.

Loading checks the whole file and reports every fault with file, table and key.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from holdlog.core.events import Conventions
from holdlog.core.toml_table import Table, parse
from holdlog.rules.kinds import (
    COUNTING,
    DAY_ENDS,
    PURPOSES,
    ROLES,
    SEEN,
    Rule,
    Source,
)
from holdlog.rules.rule_tables import HOUSE_KINDS, KINDS


@dataclass(frozen=True, slots=True)
class Rulebook:
    """One file of rules."""

    id: str
    title: str
    issuer: str
    edition: str
    role: str
    defer: str
    amends: tuple[str, ...]
    conventions: Conventions
    conventions_source: Source | None
    rules: Mapping[str, Rule]


def load(text: str, file: str) -> Rulebook:
    """Read and check a rulebook. Raises ``BadFile("bad-rulebook")`` naming every fault."""
    top = parse(text, file)
    role = top.choice("role", ROLES)
    house = role == "house"
    conventions, conventions_source = _conventions(top)
    rules = _rules(top.table("rule"), house=house)
    book = Rulebook(
        id=top.text("id"),
        title=top.text("title"),
        issuer=top.text("issuer", "this kitchen" if house else None),
        edition=top.text("edition", "" if house else None),
        role=role or "",
        defer=top.text("defer", ""),
        amends=top.texts("amends"),
        conventions=conventions,
        conventions_source=conventions_source,
        rules=rules,
    )
    if role == "amendment" and not book.amends:
        top.fault("amends", "missing; expected a list of rulebook ids")
    if house and conventions_source is not None:
        top.fault("conventions", "a house file holds rules only; the authority settles these")
    top.finish()
    top.refuse_faults("bad-rulebook")
    return book


def _conventions(top: Table) -> tuple[Conventions, Source | None]:
    if not top.has("conventions"):
        return Conventions(), None
    table = top.table("conventions")
    conventions = read_conventions(table)
    source = _source("conventions", table)
    table.finish()
    return conventions, source


def read_conventions(table: Table) -> Conventions:
    """The conventions written in ``table``; what is absent is the strict default."""
    return Conventions(
        freeze_day=table.choice("freeze_day", COUNTING, "counts"),
        thaw_day=table.choice("thaw_day", COUNTING, "counts"),
        day_end=table.choice("day_end", DAY_ENDS, "calendar"),
    )


def _source(rule: str, table: Table) -> Source:
    return Source(
        rule, table.text("cite"), table.text("says"), table.choice("seen", SEEN) or "memory"
    )


def _rules(tables: Table, *, house: bool) -> Mapping[str, Rule]:
    rules: dict[str, Rule] = {}
    allowed = tuple(HOUSE_KINDS if house else KINDS)
    for rule_id in tables.keys():  # noqa: SIM118  (a Table is not a mapping)
        table = tables.table(rule_id)
        kind = table.choice("kind", allowed)
        if kind not in allowed:
            continue
        base: dict[str, Any] = {
            "source": _source(rule_id, table),
            "purpose": table.choice("purpose", PURPOSES, "safety"),
        }
        if base["purpose"] == "quality":
            table.fault("purpose", "a rule binds; what is only best-by belongs in a category file")
        rules[rule_id] = KINDS[kind](table, base)
        table.finish()
    return rules
