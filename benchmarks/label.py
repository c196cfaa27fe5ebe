"""What a label costs, as multiples of the floor: a blank 1-bit picture saved as PNG, level 1.

Run: python benchmarks/label.py. One process, all cases in turn in every round, medians, so that
a busy moment of the machine hits them alike. Ratios travel between machines, milliseconds do not.
"""

import statistics
import time
from collections.abc import Callable
from datetime import date, datetime
from io import BytesIO
from itertools import cycle
from pathlib import Path
from random import Random

from PIL import Image

from holdlog.core import codes
from holdlog.labels import output, press, template
from holdlog.labels.label import Label

DPI = 203
ROUNDS, TIMES = 15, 40
TEMPLATE = Path(__file__).resolve().parent.parent / "label_templates" / "two-by-two.toml"
# Goals for a label whose words were printed before; a new code adds the QR encoder's own time.
GOALS = {"picture, reprinted": 0.5, "picture + PNG, reprinted": 2.5}


def a_label(code: str, number: int) -> Label:
    """An ordinary label of Tern & Tide; a batch differs in code and number only."""
    return Label(
        "prepared",
        "white bean, cooked",
        code,
        number=number,
        count=12,
        started=datetime(2026, 6, 1, 15, 0),  # noqa: DTZ001 - local wall clock, as printed
        use_by=date(2026, 6, 7),
        amount="2 l",
        by="CK",
        unit="walk-in",
        keep_at="41 °F or below",
        allergens=("celery", "milk"),
        stands_on="FDA Food Code 2022",
    )


def main() -> None:
    """Print the table."""
    draw = Random(1)
    sheet = template.load(TEMPLATE)
    fresh = iter([codes.new_code(draw.choice) for _ in range((ROUNDS + 1) * TIMES * 4)])
    numbers = cycle(range(1, 13))
    same = a_label(next(fresh), 1)
    side = press.render(sheet, DPI, same).image.size

    def blank() -> None:
        Image.new("1", side, 1).save(BytesIO(), "PNG", compress_level=1)

    def new() -> press.Rendered:
        return press.render(sheet, DPI, a_label(next(fresh), next(numbers)))

    cases: dict[str, Callable[[], object]] = {
        "blank picture + PNG (the floor)": blank,
        "picture, reprinted": lambda: press.render(sheet, DPI, same),
        "picture, new code": new,
        "picture + PNG, reprinted": lambda: output.png_bytes(
            press.render(sheet, DPI, same).image, DPI
        ),
        "picture + PNG, new code": lambda: output.png_bytes(new().image, DPI),
        "picture + PDF, new code": lambda: output.pdf_bytes([new().image], DPI),
    }
    times: dict[str, list[float]] = {name: [] for name in cases}
    for turn in range(ROUNDS + 1):
        for name, case in cases.items():
            start = time.perf_counter()
            for _ in range(TIMES):
                case()
            if turn:  # the first round warms the caches
                times[name].append((time.perf_counter() - start) / TIMES)
    floor = statistics.median(times["blank picture + PNG (the floor)"])
    print(f"2 x 2 inch label at {DPI} dpi, medians of {ROUNDS} rounds of {TIMES}\n")
    print(f"{'case':34}{'ms':>8}{'x floor':>9}{'goal':>7}")
    for name, seconds in times.items():
        median = statistics.median(seconds)
        goal = f"{GOALS[name]:.1f}" if name in GOALS else ""
        print(f"{name:34}{median * 1000:8.3f}{median / floor:9.2f}{goal:>7}")


if __name__ == "__main__":
    main()
