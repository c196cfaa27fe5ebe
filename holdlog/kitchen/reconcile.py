"""What a round comes to, worked out from sets: what was seen, what was not, what stood where.

Pure: it knows scans and what is on hand, and neither the journal nor the clock.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from holdlog.core.events import RoundAnswer
from holdlog.core.moments import Instant

# Top shelf 1. Raw animal food is kept apart from and below what is eaten as it is.
RAW_BELOW = "FDA Food Code 3-302.11(A)"


@dataclass(frozen=True, slots=True)
class Scan:
    """One scan of a round, as the journal has it (``entry`` is its number)."""

    entry: int
    at: Instant
    by: str
    code: str
    unit: str
    answer: RoundAnswer
    shelf: int | None = None
    by_eye: bool = False


@dataclass(frozen=True, slots=True)
class Reconciled:
    """Codes, each kind in the order it was met (what was not seen: by code).

    ``seen``: containers that the journal knows, whatever became of them. ``not_seen``: on hand in
    the units walked and never scanned. ``elsewhere``: on hand, and last seen in another unit than
    the journal says (code and unit). ``ended``: were there, and the journal has them gone.
    ``unknown``: what was scanned and is no container here.
    """

    seen: tuple[str, ...]
    not_seen: tuple[str, ...]
    elsewhere: tuple[tuple[str, str], ...]
    ended: tuple[str, ...]
    unknown: tuple[str, ...]


def reconcile(
    units: Collection[str], scans: Iterable[Scan], on_hand: Mapping[str, str]
) -> Reconciled:
    """Set the scans of a round through ``units`` against ``on_hand`` (code: unit).

    A container that ended after it was scanned was binned or used in the round: it is seen, and
    nowhere else. One that the journal had gone when it was scanned, and still has, is ``ended``.
    """
    last_unit: dict[str, str] = {}
    was_gone: dict[str, None] = {}
    unknown: dict[str, None] = {}
    for scan in sorted(scans, key=lambda each: each.entry):
        if scan.answer == "unknown":
            unknown[scan.code] = None
            continue
        last_unit[scan.code] = scan.unit
        if scan.answer == "ended":
            was_gone[scan.code] = None
    missing = {code for code, unit in on_hand.items() if unit in units} - last_unit.keys()
    return Reconciled(
        seen=tuple(last_unit),
        not_seen=tuple(sorted(missing)),
        elsewhere=tuple(
            (code, unit)
            for code, unit in last_unit.items()
            if code in on_hand and on_hand[code] != unit
        ),
        ended=tuple(code for code in was_gone if code not in on_hand),
        unknown=tuple(unknown),
    )


@dataclass(frozen=True, slots=True)
class Shelved:
    """A container on a shelf of a unit: raw food of animals, or food eaten as it is, or neither."""

    code: str
    unit: str
    shelf: int
    raw_animal: bool
    ready_to_eat: bool


def raw_above(shelved: Iterable[Shelved]) -> tuple[str, ...]:
    """The raw animal food that stands on a shelf above ready-to-eat food of the same unit.

    What stands beside it on one shelf is not told: shelves say nothing of that.
    """
    everything = list(shelved)
    lowest: dict[str, int] = {}
    for each in everything:
        if each.ready_to_eat:
            lowest[each.unit] = max(lowest.get(each.unit, 0), each.shelf)
    return tuple(
        each.code
        for each in everything
        if each.raw_animal and each.shelf < lowest.get(each.unit, 0)
    )
