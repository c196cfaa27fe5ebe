"""Categories: the kind of food an item is, its hazard facts and published guidance.

Guidance (extension services, agencies' storage charts) is kept apart from the authority's
rules: purpose "safety" is a limit that binds, "quality" only a best-by.
"""

from dataclasses import dataclass

from holdlog.core.toml_table import Table, parse
from holdlog.rules.kinds import PURPOSES, SEEN, Source

EXCLUDED = ("air-cooled-egg", "sterile-pack")


@dataclass(frozen=True, slots=True)
class Guidance:
    """So many chilled days, the day made being day 1; or so many months frozen (quality)."""

    source: Source
    purpose: str
    days: int | None
    freezer_months: int | None


@dataclass(frozen=True, slots=True)
class Category:
    """A kind of food. ``listed_as``, ``excluded_as``: foods that the TCS definition names.

    ``modified`` says that acid, salt or ferment was added on site to keep it: then pH and water
    activity count only under a variance.
    """

    id: str
    name: str
    animal: bool
    heat_treated: bool
    ready_to_eat: bool
    listed_as: str
    excluded_as: str
    modified: str
    hazard: Source
    cautions: tuple[Source, ...]
    guidance: tuple[Guidance, ...]


UNKNOWN = Category(
    id="other", name="other", animal=True, heat_treated=False, ready_to_eat=True, listed_as="",
    excluded_as="", modified="", hazard=Source("hazard", "", "", "inference"), cautions=(),
    guidance=(),
)  # fmt: skip


def load(text: str, file: str) -> Category:
    """Read and check a category file. Raises ``BadFile("bad-category")`` naming every fault."""
    top = parse(text, file)
    category = Category(
        id=top.text("id"),
        name=top.text("name"),
        animal=top.flag("animal"),
        heat_treated=top.flag("heat_treated"),
        ready_to_eat=top.flag("ready_to_eat"),
        listed_as=top.text("listed_as", ""),
        excluded_as=top.choice("excluded_as", EXCLUDED, ""),
        modified=top.choice("modified", ("acidified", "cured", "fermented"), ""),
        hazard=Source(
            "hazard",
            top.text("hazard_cite"),
            top.text("hazard"),
            top.choice("hazard_seen", SEEN) or "memory",
        ),
        cautions=tuple(_caution(each) for each in top.tables("caution")),
        guidance=tuple(_guidance(each) for each in top.tables("guidance")),
    )
    top.finish()
    top.refuse_faults("bad-category")
    return category


def _caution(table: Table) -> Source:
    source = Source(
        "caution",
        table.text("cite"),
        table.text("says"),
        table.choice("seen", SEEN) or "memory",
    )
    table.finish()
    return source


def _guidance(table: Table) -> Guidance:
    guidance = Guidance(
        source=Source(
            table.text("rule"),
            table.text("cite"),
            table.text("says"),
            table.choice("seen", SEEN) or "memory",
        ),
        purpose=table.choice("purpose", PURPOSES) or "quality",
        days=table.whole("days", None, low=1, high=400),
        freezer_months=table.whole("freezer_months", None, low=1, high=60),
    )
    if (guidance.days is None) == (guidance.freezer_months is None):
        table.fault("days", "expected either days or freezer_months")
    if guidance.freezer_months is not None and guidance.purpose == "safety":
        table.fault("purpose", "freezer months are a matter of quality only")
    table.finish()
    return guidance
