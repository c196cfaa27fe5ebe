"""A cook who never stops: real jobs on a real journal, drawn by lot."""

from collections.abc import Callable, Sequence
from datetime import datetime
from random import Random

from holdlog.core.amounts import read_amount
from holdlog.core.moments import MINUTE
from holdlog.journal import on_hand
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen import discard, handle
from holdlog.kitchen.items import find_item, items
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.logger_file import Told
from holdlog.kitchen.logger_import import import_readings
from holdlog.kitchen.prep import Batch, record
from holdlog.kitchen.unit_read import read_unit
from tests.kitchen.shop import temp

ITEMS = ("chicken stock", "fish stock", "garlic oil")
COLD = ("walk-in", "reach-in")


class Cook:
    """Works in ``kitchen`` under the initials ``by``; what is done next is up to ``dice``."""

    def __init__(self, kitchen: Kitchen, by: str, dice: Random) -> None:
        self._kitchen = kitchen
        self._by = by
        self._dice = dice
        with kitchen.db.reading() as conn:
            known = items(kitchen, conn)
        self._items = [find_item(known, name) for name in ITEMS]

    def job(self) -> None:
        """One job, as a command of the program does it.

        Raises ``Mistake`` where a cook would have been refused, ``Fault`` as the kitchen does.
        """
        with self._kitchen.db.reading() as conn:
            rows = on_hand.live(conn, self._kitchen.site)
        wanted: list[Callable[[Sequence[ContainerRow]], None]] = [self._prep] * 6
        if rows:
            wanted += [self._move, self._use, self._discard] * 3
            wanted += [self._freeze, self._split, self._read, self._make_from, self._top_up]
        wanted += [self._read_unit, self._import]
        self._dice.choice(wanted)(rows)

    def one_entry(self) -> None:
        """The quickest job that leaves a row on hand: one tub."""
        self._record(1)

    def _record(self, count: int, *made_from: str) -> None:
        batch = Batch(
            item=self._dice.choice(self._items),
            containers=count,
            at=self._kitchen.now(),
            unit=self._kitchen.unit(self._dice.choice(COLD)),
            amount=read_amount("2 l"),
            made_from=made_from,
        )
        record(self._kitchen, self._by, batch)

    def _prep(self, _: Sequence[ContainerRow]) -> None:
        self._record(self._dice.randint(1, 3))

    def _make_from(self, rows: Sequence[ContainerRow]) -> None:
        self._record(1, self._any(rows))

    def _move(self, rows: Sequence[ContainerRow]) -> None:
        unit = self._kitchen.unit(self._dice.choice(COLD))
        handle.move(self._kitchen, self._by, self._any(rows), self._kitchen.now(), unit)

    def _use(self, rows: Sequence[ContainerRow]) -> None:
        handle.end(self._kitchen, self._by, self._any(rows), self._kitchen.now(), "used", None)

    def _discard(self, rows: Sequence[ContainerRow]) -> None:
        discard.discard(self._kitchen, self._by, self._any(rows), self._kitchen.now(), "off")

    def _freeze(self, rows: Sequence[ContainerRow]) -> None:
        frozen = [row.code for row in rows if row.state == "frozen"]
        now = self._kitchen.now()
        if frozen and self._dice.random() < 0.5:
            handle.thaw(self._kitchen, self._by, frozen[0], now, "refrigerator", None)
        else:
            handle.freeze(self._kitchen, self._by, self._any(rows), now, None)

    def _split(self, rows: Sequence[ContainerRow]) -> None:
        handle.split(self._kitchen, self._by, self._any(rows), self._kitchen.now(), 2)

    def _top_up(self, rows: Sequence[ContainerRow]) -> None:
        kept, poured = self._any(rows), self._any(rows)
        handle.top_up(self._kitchen, self._by, kept, poured, self._kitchen.now())

    def _read(self, rows: Sequence[ContainerRow]) -> None:
        code = self._any(rows)
        handle.reading(self._kitchen, self._by, code, self._kitchen.now(), temp("38 F"))

    def _read_unit(self, _: Sequence[ContainerRow]) -> None:
        # Now and then beyond the limit: everything in there then goes on hold in one transaction.
        warm = self._dice.random() < 0.1
        unit = self._kitchen.unit("reach-in" if warm else self._dice.choice(COLD))
        shown = temp("47 F" if warm else "38 F")
        read_unit(self._kitchen, self._by, unit, self._kitchen.now(), shown)

    def _import(self, _: Sequence[ContainerRow]) -> None:
        """A logger's file of some minutes of the last two days."""
        first = self._kitchen.now() // MINUTE - self._dice.randint(30, 2880)
        lines = ["Time,Temp (°F)"]
        for minute in range(first, first + self._dice.randint(5, 30)):
            wall = datetime.fromtimestamp(minute * 60, self._kitchen.where)
            # The same minute always reads the same, whoever brings it.
            lines.append(f"{wall:%Y-%m-%d %H:%M},{36 + minute % 5 / 2}")
        data = "\n".join([*lines, ""]).encode()
        unit = self._kitchen.unit("walk-in")
        import_readings(self._kitchen, self._by, unit, "walk-in.csv", data, Told())

    def _any(self, rows: Sequence[ContainerRow]) -> str:
        return self._dice.choice(rows).code
