"""In which unit a container stood, and when."""

from collections.abc import Sequence
from dataclasses import dataclass

from holdlog.core import events as ev
from holdlog.core.moments import Instant
from holdlog.kitchen.records import Container, Reader

# Facts about a container that name the unit it went into.
_PLACES = (ev.Moved, ev.Frozen, ev.Thawed, ev.Prepared, ev.Received, ev.Opened)
Order = tuple[Instant, int]


@dataclass(frozen=True, slots=True)
class Stay:
    """A stay in one unit: from ``since`` (included) until ``until`` (None: it is there still)."""

    unit: str
    since: Instant
    until: Instant | None


def unit_of(reader: Reader, container: Container, before: Order | None = None) -> str:
    """The unit it stands in, as the newest fact that names one says (``before`` another fact)."""
    return max(_placed(reader, container, before), default=((Instant(0), 0), ""))[1]


def stays(reader: Reader, container: Container) -> list[Stay]:
    """Where it stood, in order of time, from its making (or splitting off) to its end.

    What a container split off was part of stood elsewhere before: that is the parent's stay.
    """
    placed = sorted(_placed(reader, container, None))
    if not placed:
        return []  # its making was voided, and nothing else says where it was
    left = {
        each.order: each.entry.recorded_at
        for each in container.own
        if each.event.late(reader.where)
    }
    end = container.end
    ended = end.entry.at if end is not None else None
    # A move written on a later day, without evidence, does not show that it had left before.
    until = [left.get(order, order[0]) for order, _ in placed[1:]]
    return [
        Stay(unit, order[0], last)
        for (order, unit), last in zip(placed, [*until, ended], strict=True)
        if unit and (ended is None or order[0] < ended)
    ]


def stayed(each: Sequence[Stay], unit: str, start: Instant, end: Instant) -> list[Stay]:
    """The parts of stays in ``unit`` that fall between ``start`` and ``end``."""
    return [
        Stay(unit, max(stay.since, start), min(stay.until, end) if stay.until else end)
        for stay in each
        if stay.unit == unit and stay.since <= end and (stay.until is None or stay.until > start)
    ]


def _placed(reader: Reader, container: Container, before: Order | None) -> list[tuple[Order, str]]:
    named: list[tuple[Order, str]] = []
    if container.split is not None:
        unit = getattr(container.split.fact, "unit", "")
        if not unit:
            parent = reader.container(container.origin.parent)
            unit = unit_of(reader, parent, container.split.order)
        named.append((container.split.order, unit))
    elif container.making is not None:
        made = Instant(container.making.entry.at), 0
        named.append((made, getattr(container.making.fact, "unit", "")))
    for each in container.own:
        earlier = before is None or each.order < before
        if isinstance(each.fact, _PLACES) and each.fact.unit and earlier:
            named.append((each.order, each.fact.unit))
    return named
