"""What a fold costs: containers with 20 events each, and how it grows with their number.

Run: python -m benchmarks.rules
"""

import time
from collections.abc import Sequence
from decimal import Decimal
from zoneinfo import ZoneInfo

from holdlog.bundled import folder
from holdlog.core import events as ev
from holdlog.core.moments import DAY, HOUR, MINUTE, Instant
from holdlog.core.temperature import Temperature
from holdlog.rules import category, rulebook
from holdlog.rules.history import Event, History, Joined
from holdlog.rules.holding import holding
from holdlog.rules.stack import Stack, build

WHERE = ZoneInfo("America/Chicago")
START = Instant(1_780_300_800_000)  # 2026-06-01 03:00 in Chicago
SIZES = (1_000, 10_000)


def food_code() -> Stack:
    shared = folder("shared")
    book = (shared / "rulebooks" / "us-food-code-2022.toml").read_text(encoding="utf-8")
    known = {
        path.stem: category.load(path.read_text(encoding="utf-8"), path.name)
        for path in (shared / "categories").glob("*.toml")
    }
    return build([rulebook.load(book, "us-food-code-2022.toml")], known)


def warm(degrees: int) -> Temperature:
    return Temperature(Decimal(degrees), "F")


def container(number: int, stock: History) -> History:
    """A stew with a cooling log, two spells in the freezer and readings: 20 events."""
    begun = START + number % 5000 * MINUTE
    facts: list[tuple[int, ev.Fact]] = [
        (0, ev.OffHeat()),
        (0, ev.Prepared()),
        (5 * MINUTE, ev.CoolingIn(None, "ice bath")),
        (10 * MINUTE, ev.Cooling(warm(134))),
        (60 * MINUTE, ev.Cooling(warm(95))),
        (115 * MINUTE, ev.Cooling(warm(69))),
        (240 * MINUTE, ev.Cooling(warm(50))),
        (330 * MINUTE, ev.Chilled(warm(41))),
        (335 * MINUTE, ev.Labelled("two-by-two", "prepared", begun + 6 * DAY)),
        (20 * HOUR, ev.Reading(warm(38))),
        (30 * HOUR, ev.Frozen()),
        (31 * HOUR, ev.Labelled("two-by-two", "frozen", None, 5)),
        (9 * DAY, ev.Thawed("refrigerator")),
        (9 * DAY + HOUR, ev.Chilled(warm(39))),
        (9 * DAY + 2 * HOUR, ev.Reading(warm(40))),
        (10 * DAY, ev.Frozen()),
        (15 * DAY, ev.Thawed("refrigerator")),
        (15 * DAY + HOUR, ev.Reading(warm(38))),
        (16 * DAY, ev.Reheated(warm(165), 15, 40)),
        (16 * DAY + HOUR, ev.HotHeld(warm(150))),
    ]
    events = tuple(
        Event(Instant(begun + after), fact, Instant(begun + after)) for after, fact in facts
    )
    return History(
        f"stew {number}",
        ev.Food("stew", "cooked-dish"),
        events,
        (Joined(stock, Instant(begun)),),
    )


def stock() -> History:
    made = Instant(START - HOUR)
    return History("stock", ev.Food("stock", "stock"), (Event(made, ev.Prepared(), made),))


def seconds(histories: Sequence[History], stack: Stack, at: Instant) -> float:
    began = time.perf_counter()
    for history in histories:
        holding(history, stack, at, WHERE)
    return time.perf_counter() - began


def main() -> None:
    stack, base = food_code(), stock()
    at = Instant(START + 20 * DAY)
    took = {}
    print(f"{'containers':>10}  {'events':>8}  {'seconds':>8}  {'µs each':>8}")
    for size in SIZES:
        histories = [container(number, base) for number in range(size)]
        took[size] = min(seconds(histories, stack, at) for _ in range(3))
        each = took[size] / size * 1e6
        print(f"{size:>10,}  {size * 20:>8,}  {took[size]:>8.2f}  {each:>8.0f}")
    small, large = SIZES
    ratio = took[large] / took[small] / (large / small)
    print(f"growth from {small:,} to {large:,}: {ratio:.2f} × linear")


if __name__ == "__main__":
    main()
