"""What other rules would do to everything on hand: which dates move, and which labels go wrong.

The printed label binds until the container is labelled again, so that a date only ever moves
later by a new label; an earlier date binds at once. Nothing here writes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from holdlog.core import events as ev
from holdlog.core.moments import Instant
from holdlog.journal import on_hand
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.records import LiveRecords, Reader
from holdlog.rules.faults import WORST_FIRST
from holdlog.rules.folding import Folded, Key
from holdlog.rules.history import Event, History, in_order
from holdlog.rules.holding import Holding, holding
from holdlog.rules.stack import Stack

Change = Literal["earlier", "later", "unchanged"]
# Later than any date: food without a limit.
_NEVER = 2**62


@dataclass(frozen=True, slots=True)
class Move:
    """One container under the rules ``now`` and ``then``; ``fresh`` is what a new label would
    say. ``label`` is the one it bears, if one was made.
    """

    row: ContainerRow
    now: Holding
    then: Holding
    fresh: Holding
    label: ev.Labelled | None

    @property
    def change(self) -> Change:
        """Whether it must go earlier (at once), may be kept longer, or neither."""
        if _longer(self.now, self.then) or _worse(self.then, self.now):
            return "earlier"
        if _longer(self.fresh, self.now) or _worse(self.now, self.then):
            return "later"
        return "unchanged"

    @property
    def waits_for_label(self) -> bool:
        """Whether a later date needs a new label before it holds."""
        return _longer(self.fresh, self.then)

    @property
    def label_wrong(self) -> bool:
        """Whether its label promises more than the changed rules allow."""
        if self.label is None:
            return False
        if self.then.fault in ("discard", "refuse"):
            return self.now.fault != self.then.fault
        if self.then.state == "frozen":
            said, left = self.label.days_left, self.then.days_left_once_thawed
            return said is not None and left is not None and left < said
        said, limit = self.label.use_by, self.then.use_by
        return said is not None and limit is not None and limit < said


@dataclass(frozen=True, slots=True)
class Redating:
    """Every live container under a changed stack."""

    before: Stack
    after: Stack
    moves: tuple[Move, ...]

    def of(self, change: Change) -> list[Move]:
        """The containers that change so, the earliest new date first."""
        found = [move for move in self.moves if move.change == change]
        return sorted(found, key=lambda move: (_limit(move.then), move.row.code))

    @property
    def wrong_labels(self) -> list[Move]:
        """The containers whose label promises more than the changed rules allow."""
        return sorted(
            (move for move in self.moves if move.label_wrong),
            key=lambda move: (_limit(move.then), move.row.code),
        )


def moves(kitchen: Kitchen, conn: Connection, before: Stack, after: Stack, at: Instant) -> Redating:
    """Every live container, judged at ``at`` by both stacks."""
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    rows = on_hand.live(conn, kitchen.site)
    histories = [reader.container(row.code).history for row in rows]
    bare = [_without_labels(history) for history in histories]
    # The folds of shared ingredients are kept by identity: the lists above keep each alive.
    folds: tuple[dict[Key, Folded], ...] = ({}, {})
    return Redating(
        before,
        after,
        tuple(
            Move(
                row,
                holding(history, before, at, kitchen.where, folds[0]),
                holding(history, after, at, kitchen.where, folds[1]),
                holding(fresh, after, at, kitchen.where, folds[1]),
                _label(history.events),
            )
            for row, history, fresh in zip(rows, histories, bare, strict=True)
        ),
    )


def _without_labels(history: History) -> History:
    kept = tuple(event for event in history.events if not isinstance(event.fact, ev.Labelled))
    return replace(history, events=kept)


def _label(events: Sequence[Event]) -> ev.Labelled | None:
    labelled = History("", ev.Food("", ""), tuple(events))
    facts = [event.fact for event in in_order(labelled)]
    return next((fact for fact in reversed(facts) if isinstance(fact, ev.Labelled)), None)


def _limit(found: Holding) -> int:
    """How long it may be kept: an instant, or for frozen food the days left once thawed."""
    limit = found.days_left_once_thawed if found.state == "frozen" else found.use_by
    return limit if limit is not None else _NEVER


def _longer(one: Holding, other: Holding) -> bool:
    return _limit(one) > _limit(other)


def _worse(one: Holding, other: Holding) -> bool:
    return WORST_FIRST.index(one.verdict) < WORST_FIRST.index(other.verdict)
