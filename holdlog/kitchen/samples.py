"""Labels of invented food, to look at a template with. Nothing of them is in any journal."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from holdlog.core import whole_files
from holdlog.core.errors import BadFile, Mistake
from holdlog.labels import layout, template
from holdlog.labels.faces import face
from holdlog.labels.geometry import MM_PER_INCH
from holdlog.labels.label import Keep, Label, PackRule
from holdlog.labels.layout import Layout
from holdlog.labels.template import CHECKED_DPI, Template
from holdlog.labels.words import ENGLISH, Words

# Ours: its check character is right, and no kitchen has drawn it.
CODE = "H7K39QX7"
# A Monday in summer, so that nothing about it is special.
DAY = datetime(2026, 6, 1, 15, 0)  # noqa: DTZ001  (wall-clock time, as labels have it)

_COLD, _HOT = Keep("41 °F", "below"), Keep("135 °F", "above")

# How each sample differs from a label of food that was prepared.
KINDS: Mapping[str, Mapping[str, Any]] = {
    "prepared": {},
    "opened": {"purpose": "opened"},
    "received": {"purpose": "received"},
    "cooling": {
        "purpose": "cooling", "cooling_limits": ("70 °F", "41 °F"),
        "cooling_deadlines": ("17:00", "21:00"),
    },
    "frozen": {
        "purpose": "frozen", "use_by": None, "days_left": 5, "frozen_on": date(2026, 6, 2),
        "unit": "chest freezer", "keep_at": Keep("", "frozen"),
    },
    "thawed": {"purpose": "thawed", "thawed_on": date(2026, 6, 3)},
    "time-control": {
        "purpose": "time-control", "use_by": datetime(2026, 6, 1, 19, 0),  # noqa: DTZ001
        "unit": "pass shelf", "keep_at": "",
    },
    "hot-held": {"purpose": "hot-held", "unit": "hot box", "keep_at": _HOT},
    "reduced-oxygen": {
        "purpose": "reduced-oxygen", "packed": DAY + timedelta(hours=2),
        "pack_rule": PackRule("41 °F", 30),
    },
    "discard": {
        "purpose": "discard", "reason": "Past its limit.", "discarded": DAY + timedelta(days=7),
    },
    "on-hold": {"held": "It read 47 °F in the walk-in, and nobody knows since when."},
    "no-limit": {"use_by": None},
    "no-days-left": {
        "purpose": "frozen", "use_by": None, "days_left": 0, "frozen_on": date(2026, 6, 2),
    },
    "twin": {"twin": True},
}  # fmt: skip
"""The samples there are: one for each purpose of a label, and for what else it can show."""


@dataclass(frozen=True, slots=True)
class Spot:
    """What stands in one place of a label, with the corner and the size of the ink in mm."""

    field: str
    says: str
    x: float
    y: float
    width: float
    height: float


def sample(kind: str) -> Label:
    """The sample called ``kind``. Raises ``Mistake("bad-purpose")``."""
    if kind not in KINDS:
        raise Mistake(
            "bad-purpose", f"There is no sample label {kind!r}.", f"Say {', '.join(KINDS)}."
        )
    plain = Label(
        purpose="prepared", item="chickpea stew", code=CODE, number=1, count=3, started=DAY,
        use_by=date(2026, 6, 7), amount="2 l", by="MK", unit="walk-in", keep_at=_COLD,
        allergens=("milk", "wheat"), cautions=("stir before use",),
        stands_on="FDA Food Code 2022",
        journal_head="#1204 9f3a1c22",
    )  # fmt: skip
    return replace(plain, **KINDS[kind])


def laid_out(form: Template, kind: str, dpi: int, words: Words = ENGLISH) -> Layout:
    """The sample called ``kind`` on a template. Errors are those of ``layout.lay_out``."""
    return layout.lay_out(form, dpi, sample(kind), words)


def spots(laid: Layout) -> list[Spot]:
    """What is where on a label, top to bottom; lines and frames left out."""
    found: dict[str, tuple[list[str], list[Any]]] = {}
    for mark in laid.marks:
        says = getattr(mark, "text", "")
        if isinstance(mark, layout.BarsMark | layout.QrMark):
            says = f"{'Code 128' if isinstance(mark, layout.BarsMark) else 'QR'} of the code"
        if says:
            texts, inks = found.setdefault(mark.field, ([], []))
            texts.append(says)
            inks.append(mark.ink)
    mm = MM_PER_INCH / laid.dpi
    return sorted(
        (
            Spot(
                field, " / ".join(texts).replace("\N{NO-BREAK SPACE}", " "),
                min(ink.x for ink in inks) * mm, min(ink.y for ink in inks) * mm,
                (max(ink.right for ink in inks) - min(ink.x for ink in inks)) * mm,
                (max(ink.bottom for ink in inks) - min(ink.y for ink in inks)) * mm,
            )
            for field, (texts, inks) in found.items()
        ),
        key=lambda spot: (spot.y, spot.x),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class CheckedTemplate:
    """A template's file that was checked; ``form`` is None where it could not be read as one."""

    file: str
    form: Template | None
    faults: tuple[str, ...]


def checked(file: str) -> CheckedTemplate:
    """Every fault of a template: of its file, and of each sample label set on it."""
    try:
        form = template.load(Path(file))
    except BadFile as error:
        return CheckedTemplate(file, None, error.faults)
    faults: dict[str, None] = {}
    for kind in KINDS:
        for dpi in CHECKED_DPI:
            if (fault := _fault(form, kind, dpi)) is not None:
                faults[f"{file}: sample {kind}: {fault}"] = None
    return CheckedTemplate(file, form, tuple(faults))


def _fault(form: Template, kind: str, dpi: int) -> str | None:
    if not form.offers(face(sample(kind))):
        return None  # it says so itself, and names another
    try:
        laid_out(form, kind, dpi)
    except Mistake as error:
        return error.line()
    return None


def write_new(file: Path, width: float, height: float) -> None:
    """Write a template of that size in mm to begin with; never over a file.

    Raises ``Mistake("bad-size")``, ``Mistake("file-exists")``, ``Fault("no-file")``.
    """
    whole_files.write_new(file, template.starter(width, height).encode())


def read_size(text: str) -> tuple[float, float]:
    """Width and height in mm of ``50x30`` or ``2x1in``. Raises ``Mistake("bad-size")``."""
    plain = text.strip().lower().replace("×", "x")
    inches = plain.endswith("in")
    sides = plain.removesuffix("in").removesuffix("mm").split("x")
    try:
        width, height = (float(side.strip()) for side in sides)
    except ValueError:
        raise Mistake(
            "bad-size", f"{text!r} is no size.", 'Write width x height in mm: "50x30"; or "2x1in".'
        ) from None
    scale = MM_PER_INCH if inches else 1
    return width * scale, height * scale
