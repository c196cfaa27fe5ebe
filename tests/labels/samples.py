"""Labels of Tern & Tide for the tests, and two ways to read a picture back."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from itertools import groupby
from pathlib import Path
from typing import Any

import zxingcpp
from PIL import Image

from holdlog.core import codes
from holdlog.labels.label import Keep, Label, Purpose

TEMPLATE = Path(__file__).resolve().parents[2] / "label_templates" / "two-by-two.toml"
RESOLUTIONS = (203, 300)
CODE = "H7K39QX" + codes.check_character("H7K39QX")

# The major food allergens of US law: 21 U.S.C. 321(qq) as amended by the FASTER Act of 2021.
NINE = (
    "milk", "egg", "fish", "crustacean shellfish", "tree nuts", "peanuts", "wheat", "soybeans",
    "sesame",
)  # fmt: skip
HOT = Keep("135 °F", "above")
# FDA Food Code 2022, 3-502.12(B)(3): keep at 41 °F (5 °C) or below; discard within 30 days of
# packaging if it was not served or eaten by then. In our words.
TWO_BARRIERS = (
    "Keep at 41 °F (5 °C) or below.",
    "Discard if not served or eaten within 30 days of packing.",
)
# 83 characters.
LONG_NAME = "roasted jalapeño and crème fraîche dip with smoked almonds and pickled lemon zest x"


def a_label(purpose: Any = "prepared", **changes: Any) -> Label:
    """An ordinary label, changed where a test says so."""
    plain: dict[str, Any] = {
        "item": "white bean, cooked",
        "code": CODE,
        "number": 3,
        "count": 4,
        "started": datetime(2026, 6, 1, 15, 0),
        "use_by": date(2026, 6, 7),
        "amount": "2 l",
        "by": "CK",
        "unit": "walk-in",
        "keep_at": Keep("41 °F", "below"),
        "allergens": ("celery", "milk"),
        "stands_on": "FDA Food Code 2022",
        "journal_head": "#1204 9f3a1c22",
    }
    return Label(purpose, **(plain | changes))


def every_face() -> dict[str, Label]:
    """One label of every purpose and of every way it can present itself."""
    return {
        "prepared": a_label(),
        "opened": a_label("opened", item="cream cheese", allergens=("milk",)),
        "received": a_label("received", item="mussels", allergens=("molluscs",)),
        "thawed": a_label("thawed", frozen_on=date(2026, 6, 2), thawed_on=date(2026, 6, 4)),
        "far": a_label("received", item="anchovies", use_by=date(2028, 9, 27)),
        "timed": a_label(item="hollandaise", use_by=datetime(2026, 6, 1, 19, 0)),
        "unknown": a_label("received", item="raw tuna loin", use_by=None),
        "no-date-needed": a_label(item="granola", use_by=None, limit_needed=False),
        "best-by": a_label(
            item="granola", use_by=None, limit_needed=False, best_by=date(2026, 6, 21)
        ),
        "cooling": a_label(
            "cooling",
            item="veal stock",
            cooling_limits=("70 °F", "41 °F"),
            cooling_deadlines=("17:00", "21:00"),
        ),
        "cooling-bare": a_label("cooling", use_by=None),
        "frozen": a_label("frozen", use_by=None, days_left=3, frozen_on=date(2026, 6, 2)),
        "stop": a_label("frozen", use_by=None, days_left=0, frozen_on=date(2026, 6, 7)),
        "hour": a_label("time-control", item="oysters on ice", use_by=datetime(2026, 6, 1, 19, 0)),
        "hot": a_label("hot-held", item="chowder", use_by=None, unit="hot box", keep_at=HOT),
        "hot-till": a_label(
            "hot-held",
            item="chowder",
            use_by=datetime(2026, 6, 1, 22, 30),
            unit="hot box",
            keep_at=HOT,
        ),
        "pack": a_label(
            "reduced-oxygen",
            item="pork belly, raw",
            use_by=date(2026, 6, 30),
            packed=datetime(2026, 6, 1, 15, 20),
            pack_wording=TWO_BARRIERS,
        ),
        "pack-hours": a_label(
            "reduced-oxygen",
            item="beet, cooked",
            use_by=datetime(2026, 6, 3, 15, 20),
            packed=datetime(2026, 6, 1, 15, 20),
        ),
        "hold": a_label(
            item="crab, picked", held="no reading since 06:00; walk-in door stood open"
        ),
        "discard": a_label(
            "discard",
            item="duck leg confit",
            use_by=None,
            reason="57 °F for five hours",
            discarded=datetime(2026, 6, 3, 8, 40),
        ),
        "twin": a_label(twin=True),
        "twin-timed": a_label(item="hollandaise", use_by=datetime(2026, 6, 1, 19, 0), twin=True),
        "twin-hour": a_label("time-control", use_by=datetime(2026, 6, 1, 19, 0), twin=True),
        "twin-cooling": a_label("cooling", item="veal stock", twin=True),
        "twin-frozen": a_label("frozen", use_by=None, days_left=3, twin=True),
    }


def of(purpose: Purpose) -> Label:
    """An ordinary label of one purpose."""
    return next(label for label in every_face().values() if label.purpose == purpose)


def longest() -> dict[str, Label]:
    """The most that an ordinary day brings: a long name, five allergens, a caution."""
    return {
        f"longest {name}": replace(
            label,
            item="crab, lobster and prawn bisque base with cognac, tarragon and rice",
            allergens=("crustacean shellfish", "milk", "wheat", "celery", "soybeans"),
            cautions=("contains raw egg",),
            unit="reach-in",
            reprint=1,
        )
        for name, label in every_face().items()
    }


def two_scripts() -> Label:
    """A name in Cyrillic and Latin letters, with accents."""
    return a_label(item="борщ · crème fraîche, jalapeño")


def crowded() -> dict[str, Label]:
    """The same labels with about as much on them as a kitchen could ask for."""
    return {
        f"crowded {name}": replace(
            label,
            item=LONG_NAME,
            allergens=NINE,
            cautions=("contains raw egg", "no temperature logged"),
            by="CK and MB",
            unit="walk-in, left shelf",
            number=12,
            count=24,
            reprint=12,
        )
        for name, label in every_face().items()
    }


def scan(image: Image.Image) -> dict[str, str]:
    """What an independent reader sees: the text by the kind of symbol."""
    formats = (zxingcpp.BarcodeFormat.Code128, zxingcpp.BarcodeFormat.QRCode)
    found = zxingcpp.read_barcodes(image.convert("L"), formats=formats)  # type: ignore[arg-type]
    return {"bars" if "128" in str(code.format) else "qr": code.text for code in found}


def runs(image: Image.Image, y: int) -> list[tuple[bool, int]]:
    """The black (``True``) and white stretches of one row of pixels, with their lengths."""
    row = (image.getpixel((x, y)) == 0 for x in range(image.width))
    return [(black, len(list(same))) for black, same in groupby(row)]


def black_dots(image: Image.Image, box: tuple[int, int, int, int]) -> Iterator[tuple[int, int]]:
    """Where there is ink within ``box``: left, top, right, bottom."""
    for y in range(box[1], box[3]):
        for x in range(box[0], box[2]):
            if image.getpixel((x, y)) == 0:
                yield x, y
