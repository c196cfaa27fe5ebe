"""Eight stations write to one journal as fast as they can: one chain, and nobody is forgotten."""

import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random

from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import open_database
from holdlog.kitchen.kitchen import SITE
from tests.torture.judge import journal_mode, judge
from tests.torture.ledger import Told
from tests.torture.outcome import Outcome
from tests.torture.seeds import dice
from tests.torture.spoilt import Spoilt, drop_guards
from tests.torture.station import Orders, Station, template, wrong_in

WRITERS = 8
ENTRIES = {"short": 150, "long": 10_000}
# Enough for any spoilt build to go wrong.
FEW = 6
LONGEST = 6 * 3600


def run(short: bool, scratch: Path) -> Iterator[Outcome]:
    """Both journal modes, each with builds whose writers do not keep the others out."""
    seed, luck = dice()
    for mode in ("DELETE", "WAL"):
        made = scratch / f"{mode}.db"
        known = template(made, mode)
        entries = ENTRIES["short" if short else "long"]
        yield _written(made, known, mode, entries, luck, seed=seed)
        for spoilt in ("deferred", "unlocked"):
            yield _written(made, known, mode, FEW, luck, spoilt)


def _written(
    made: Path,
    known: int,
    mode: str,
    entries: int,
    luck: Random,
    spoilt: Spoilt = "",
    seed: int | None = None,
) -> Outcome:
    folder = made.parent / f"{mode}{spoilt}"
    folder.mkdir()
    path = Path(shutil.copy(made, folder / "journal.db"))
    if spoilt == "unlocked":
        drop_guards(path)
    began = time.monotonic()
    stations = [
        Station(
            Orders(
                path, folder / f"{number}.ledger", f"W{number}", luck.randrange(10**6), mode,
                spoilt, entries, quick=True,
            )
        )
        for number in range(WRITERS)
    ]  # fmt: skip
    for station in stations:
        station.join(LONGEST)
    took = time.monotonic() - began
    told = [station.told() for station in stations]
    with journal_mode(mode):
        # Before the judge, who adds an entry of his own.
        order = _order(path)
        found = judge(path, [each for one in told for each in one.acknowledged], known=known)
    wrong = [line for one in told for line in wrong_in(one)]
    for station, one in zip(stations, told, strict=True):
        wrong += _own(station.orders.by, one, order, entries)
    if found.entries != known + WRITERS * entries:
        wrong.append(f"lost: {known + WRITERS * entries - found.entries} entries")
    wrong += found.said(besides=["guards"] if spoilt else [])
    figures: dict[str, int | float | str] = {
        "writers": WRITERS,
        "entries": WRITERS * entries,
        "a second": round(WRITERS * entries / took),
        "longest wait": f"{max(max([one.longest, *one.turned_away]) for one in told):.1f} s",
        "turned away": sum(len(one.turned_away) for one in told),
    }
    if seed is not None:
        figures["seed"] = seed
    name = f"writers, {mode}" + (f", {spoilt}" if spoilt else "")
    return Outcome(name, figures, wrong, control=bool(spoilt))


def _order(path: Path) -> dict[str, list[int]]:
    """The numbers of each station's entries, in the order of the chain."""
    db = open_database(path, must_exist=True)
    found: dict[str, list[int]] = {}
    with db.reading() as conn:
        for entry in journal_entries.stream(conn, SITE):
            found.setdefault(entry.by, []).append(entry.number)
    db.close()
    return found


def _own(by: str, told: Told, order: dict[str, list[int]], entries: int) -> Iterator[str]:
    """Whether a station's entries are all there, and in the order in which it wrote them."""
    wrote = [each.number for each in told.acknowledged]
    if not told.done or len(wrote) != entries:
        yield f"{by} was told of {len(wrote)} entries, not of {entries}"
    if wrote != order.get(by, []):
        yield f"order: what {by} was told is not what the journal has"
