"""What a label costs, as multiples of the floor: a blank 1-bit picture saved as PNG, level 1.

Run: python -m benchmarks label. One process, all cases in turn in every round, medians, so that
a busy moment of the machine hits them alike. Ratios travel between machines, milliseconds do not.
"""

import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from io import BytesIO
from itertools import count, cycle
from pathlib import Path
from random import Random

from PIL import Image

from holdlog.core import codes
from holdlog.labels import escpos, output, press, pwg, sheet, template, zpl
from holdlog.labels.label import Keep, Label
from holdlog.labels.layout import lay_out

DPI = 203
ROUNDS, TIMES = 15, 40
TEMPLATE = Path(__file__).resolve().parent.parent / "label_templates" / "two-by-two.toml"
SHEET, ON_SHEETS = "letter-4x5", 500
FLOOR = "blank picture + PNG (the floor)"
# "next of its batch": the same words, another code and number. Its code has to be set, and both
# symbols made, which nothing can have kept.
GOALS = {
    "picture, printed before": 0.5,
    "picture, next of its batch": 1.2,
    "picture + PNG, printed before": 2.5,
    "picture + PNG, next of its batch": 3.5,
}


def a_label(code: str, number: int, item: str = "white bean, cooked") -> Label:
    """An ordinary label of Tern & Tide; a batch differs in code and number only."""
    return Label(
        "prepared",
        item,
        code,
        number=number,
        count=12,
        started=datetime(2026, 6, 1, 15, 0),  # noqa: DTZ001 - local wall clock, as printed
        use_by=date(2026, 6, 7),
        amount="2 l",
        by="CK",
        unit="walk-in",
        keep_at=Keep("41 °F", "below"),
        allergens=("celery", "milk"),
        stands_on="FDA Food Code 2022",
        journal_head="#1204 9f3a1c22",
    )


def main() -> None:
    """Print the tables."""
    draw = Random(1)
    stock = template.load(TEMPLATE)
    numbers, items = cycle(range(1, 13)), count(1)

    def fresh(item: str = "white bean, cooked") -> Label:
        return a_label(codes.new_code(draw.choice), next(numbers), item)

    start = time.perf_counter()
    same = fresh()
    image = press.render(stock, DPI, same).image
    first = time.perf_counter() - start

    def blank() -> None:
        Image.new("1", image.size, 1).save(BytesIO(), "PNG", compress_level=1)

    def again() -> Image.Image:
        return press.render(stock, DPI, same).image

    def later() -> Image.Image:
        # The same words, and the head of the journal of now.
        head = f"#{next(items)} {draw.getrandbits(32):08x}"
        return press.render(stock, DPI, replace(same, journal_head=head)).image

    def following() -> Image.Image:
        return press.render(stock, DPI, fresh()).image

    cases: dict[str, Callable[[], object]] = {
        FLOOR: blank,
        "picture, printed before": again,
        "picture, printed again later": later,
        "picture, next of its batch": following,
        "picture, first of its batch": lambda: press.render(
            stock, DPI, fresh(f"white bean, batch {next(items)}")
        ),
        "picture + PNG, printed before": lambda: output.png_bytes(again(), DPI),
        "picture + PNG, next of its batch": lambda: output.png_bytes(following(), DPI),
        "picture + PDF, next of its batch": lambda: output.pdf_bytes([following()], DPI),
        "PNG alone": lambda: output.png_bytes(image, DPI),
        "PDF alone": lambda: output.pdf_bytes([image], DPI),
        "ZPL alone": lambda: zpl.zpl_bytes([image]),
        "PWG alone": lambda: pwg.pwg_bytes([image], DPI, pwg.media_name(50.8, 50.8)),
        "ESC/POS alone": lambda: escpos.escpos_bytes([image], cut=True),
    }
    took = medians(cases)
    floor = took[FLOOR]
    print(f"2 x 2 inch label at {DPI} dpi, medians of {ROUNDS} rounds of {TIMES}\n")
    print(f"{'case':34}{'ms':>8}{'x floor':>9}{'goal':>7}")
    for name, seconds in took.items():
        goal = f"{GOALS[name]:.1f}" if name in GOALS else ""
        print(f"{name:34}{seconds * 1000:8.3f}{seconds / floor:9.2f}{goal:>7}")
    print(f"{'first of the process, with fonts':34}{first * 1000:8.3f}{first / floor:9.2f}")
    sheets(stock, fresh, floor)


def medians(cases: dict[str, Callable[[], object]]) -> dict[str, float]:
    """Seconds a call. The first round warms the caches and does not count."""
    times: dict[str, list[float]] = {name: [] for name in cases}
    for turn in range(ROUNDS + 1):
        for name, case in cases.items():
            start = time.perf_counter()
            for _ in range(TIMES):
                case()
            if turn:
                times[name].append((time.perf_counter() - start) / TIMES)
    return {name: statistics.median(seconds) for name, seconds in times.items()}


def sheets(stock: template.Template, fresh: Callable[[], Label], floor: float) -> None:
    """What pages of labels as vector PDF cost, the layouts apart from the pages."""
    paper = sheet.find(SHEET)
    sheet.sheet_pdf(paper, [lay_out(stock, sheet.DPI, fresh())])  # loads the fonts
    laying, drawing, size = [], [], 0
    for _ in range(3):
        start = time.perf_counter()
        layouts = [lay_out(stock, sheet.DPI, fresh()) for _ in range(ON_SHEETS)]
        middle = time.perf_counter()
        size = len(sheet.sheet_pdf(paper, layouts))
        laying.append(middle - start)
        drawing.append(time.perf_counter() - middle)
    print(f"\n{ON_SHEETS} labels on {SHEET} as vector PDF, {size / 1024:.0f} KiB, a label:")
    for name, seconds in (("layout", laying), ("page", drawing)):
        each = statistics.median(seconds) / ON_SHEETS
        print(f"{name:34}{each * 1000:8.3f}{each / floor:9.2f}")


if __name__ == "__main__":
    main()
