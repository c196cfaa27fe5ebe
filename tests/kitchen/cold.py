"""Units in the tests: logger files made of a few temperatures, and short ways to read them in."""

from collections.abc import Iterable
from datetime import timedelta

from holdlog.core import events as ev
from holdlog.core.moments import Instant, to_local
from holdlog.kitchen.logger_file import Told
from holdlog.kitchen.logger_import import Imported, import_readings
from holdlog.kitchen.unit_read import UnitWasRead, read_unit
from tests.kitchen.shop import WHERE, Shop, at, temp

Step = tuple[str, str]  # wall time, degrees


def wall(moment: int) -> str:
    return f"{to_local(Instant(moment), WHERE):%Y-%m-%d %H:%M:%S}"


def every(minutes: int, start: str, end: str, degrees: str) -> list[Step]:
    """A reading every so many minutes, from ``start`` to before ``end``."""
    step = timedelta(minutes=minutes) // timedelta(milliseconds=1)
    return [(wall(moment), degrees) for moment in range(at(start), at(end), step)]


def file(steps: Iterable[Step], scale: str = "F") -> bytes:
    rows = [f"{when},{degrees}" for when, degrees in steps]
    return "\n".join([f"Time,Temperature (°{scale})", *rows, ""]).encode()


def take_in(shop: Shop, data: bytes, unit: str = "walk-in", **more: object) -> Imported:
    return import_readings(
        shop.kitchen, "mk", shop.unit(unit), "logger.csv", data, Told(),
        dry_run=bool(more.get("dry_run")),
    )  # fmt: skip


def read(
    shop: Shop, degrees: str, unit: str = "walk-in", when: str = "", **more: str
) -> UnitWasRead:
    moment = at(when) if when else shop.hand.now
    return read_unit(shop.kitchen, "mk", shop.unit(unit), moment, temp(degrees), **more)


def excursions(shop: Shop, code: str = "") -> list[tuple[str, Instant, ev.Excursion]]:
    """The excursions that stand, of one container or of all: code, end, what it says."""
    from holdlog.kitchen.excursions import of_unit
    from holdlog.kitchen.records import LiveRecords, Reader

    found = []
    with shop.db.reading() as conn:
        reader = Reader(LiveRecords(conn, shop.kitchen.site), WHERE)
        for unit in shop.kitchen.units:
            found += [
                (each.code, each.at, each.fact)
                for each in of_unit(conn, shop.kitchen.site, reader, unit, Instant(0), None)
            ]
    return sorted(
        (each for each in found if code in ("", each[0])), key=lambda each: (each[0], each[1])
    )


def same(shop: Shop) -> set[object]:
    """What stands, without the entry it was worked out from."""
    from dataclasses import replace

    return {(code, end, replace(fact, source=None)) for code, end, fact in excursions(shop)}
