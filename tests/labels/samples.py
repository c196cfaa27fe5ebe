"""Labels of Tern & Tide for the tests, and two ways to read a picture back."""

from collections.abc import Iterator
from datetime import date, datetime
from itertools import groupby
from pathlib import Path
from typing import Any

import zxingcpp
from PIL import Image

from holdlog.core import codes
from holdlog.labels.label import Label

TEMPLATE = Path(__file__).resolve().parents[2] / "label_templates" / "two-by-two.toml"
RESOLUTIONS = (203, 300)
CODE = "H7K39QX" + codes.check_character("H7K39QX")

# The major food allergens of US law: 21 U.S.C. 321(qq) as amended by the FASTER Act of 2021.
NINE = (
    "milk", "egg", "fish", "crustacean shellfish", "tree nuts", "peanuts", "wheat", "soybeans",
    "sesame",
)  # fmt: skip
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
        "keep_at": "41 °F or below",
        "allergens": ("celery", "milk"),
        "stands_on": "FDA Food Code 2022",
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
            cooling_deadlines=("by 17:00", "by 21:00"),
        ),
        "cooling-bare": a_label("cooling", use_by=None),
        "frozen": a_label("frozen", use_by=None, days_left=3, frozen_on=date(2026, 6, 2)),
        "stop": a_label("frozen", use_by=None, days_left=0, frozen_on=date(2026, 6, 7)),
    }


def crowded() -> dict[str, Label]:
    """The same labels with about as much on them as a kitchen could ask for."""
    from dataclasses import replace

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
