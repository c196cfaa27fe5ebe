"""What a container's label says now: for what it is made, its dates, its warnings.

Nothing here prints or writes; ``printing`` does.
"""

from dataclasses import dataclass
from datetime import date, datetime

from holdlog.core import events as ev
from holdlog.core.chain import show_head
from holdlog.core.codes import show
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import (
    Instant,
    end_of_day,
    local_date,
    show_day,
    show_moment,
    to_local,
)
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.items import items
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.project import allergens, held
from holdlog.kitchen.records import Container, LiveRecords, Reader
from holdlog.labels.label import Keep, Label, PackRule, Purpose
from holdlog.rules.history import History, in_order
from holdlog.rules.holding import Holding, holding
from holdlog.rules.kinds import CoolingRule, ReducedOxygenRule
from holdlog.rules.label_date import label_date
from holdlog.rules.measures import measures

TAG: Purpose = "discard"
# Where the rules have a date for food that is not to be served now, the label gives none.
_WAITING = ("hold", "reheat")


@dataclass(frozen=True, slots=True)
class Ready:
    """A label ready to print, its holding, and how many labels the container had before.

    ``before`` is the label it bears, its own or that of the container it was split from, and
    ``printed_before`` the date that binds by it: that of an older one, where nobody knows whether
    the last came out.
    """

    label: Label
    holding: Holding
    use_by: Instant | None
    copies_before: int
    before: ev.Labelled | None
    printed_before: Instant | None

    @property
    def said_use_by(self) -> Instant | None:
        """The date to record. A tag repeats that of the label beside it, so that it frees none;
        a label that says ON HOLD bears no date.
        """
        if self.label.purpose == TAG:
            return self.printed_before
        return None if self.label.held else self.use_by

    @property
    def said_days_left(self) -> int | None:
        """The days left once thawed to record; see ``said_use_by``."""
        if self.label.purpose == TAG:
            return self.before.days_left if self.before is not None else None
        return None if self.label.held else self.label.days_left


def ready(kitchen: Kitchen, conn: Connection, code: str, *, tag: bool = False) -> Ready:
    """What the label of ``code`` says now; ``tag``: what its discard tag says.

    Raises ``Mistake("gone")`` for a container that is not on hand any more and
    ``Mistake("not-unfit")`` where a tag is asked for and the food may be served.
    """
    kitchen = kitchen.current(conn)
    now = kitchen.dating(conn)
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    container = reader.container(code)
    stack = kitchen.stack(conn)
    row = on_hand.find(conn, kitchen.site, code)
    if row is None:
        raise Fault("no-row", f"{show(code)} is not on hand.", "Run: holdlog doctor")
    if row.ended_at is not None:
        raise Mistake(
            "gone", f"{row.item_name}, {show(code)}, is gone: {row.ended_as}.", "It gets no label."
        )
    if tag:
        found = held(container, stack, now, kitchen.where)
        _refuse_fit(found, row)
    else:
        # A fresh label is judged without the old one: the one way a date may move later.
        found = holding(_without_labels(container.history), stack, now, kitchen.where)
    labels = [each.fact for each in container.own if isinstance(each.fact, ev.Labelled)]
    purpose = TAG if tag else _purpose(found, row, container)
    # That one was seen to come out makes it no further copy.
    same = 1 + max((each.copy for each in labels if each.purpose == purpose), default=-1)
    label = _label(kitchen, conn, container, found, row, purpose, same, now)
    return Ready(label, found, found.use_by, same, *_label_it_bears(container.history))


def _label_it_bears(history: History) -> tuple[ev.Labelled | None, Instant | None]:
    """The last label and the date that binds by it and by those before."""
    last: ev.Labelled | None = None
    date: Instant | None = None
    for each in in_order(history):
        if isinstance(each.fact, ev.Labelled):
            last, date = each.fact, label_date(date, each.fact)
    return last, date


def _without_labels(history: History) -> History:
    kept = tuple(event for event in history.events if not isinstance(event.fact, ev.Labelled))
    return History(history.name, history.food, kept, history.joined)


def _refuse_fit(found: Holding, row: ContainerRow) -> None:
    if found.verdict in ("serve", "last-day"):
        raise Mistake(
            "not-unfit",
            f"{row.item_name}, {show(row.code)}, gets no discard tag: it may be served.",
            f"Its label: holdlog label {show(row.code)}",
        )


def _purpose(found: Holding, row: ContainerRow, container: Container) -> Purpose:
    by_state: dict[str, Purpose] = {
        "frozen": "frozen", "out": "time-control", "hot-held": "hot-held",
    }  # fmt: skip
    if found.state in by_state:
        return by_state[found.state]
    if found.cools:
        return "cooling"
    if _packed_at(container) is not None:
        return "reduced-oxygen"
    if any(isinstance(event.fact, ev.Thawed) for event in container.history.events):
        return "thawed"
    made: dict[str, Purpose] = {"prepared": "prepared", "opened": "opened"}
    return made.get(row.made_kind, "received")


def _packed_at(container: Container) -> Instant | None:
    """When it was sealed with the oxygen reduced; None: it is in no such pack now."""
    kinds = ev.Packed | ev.Opened
    events = [each for each in in_order(container.history) if isinstance(each.fact, kinds)]
    return events[-1].at if events and isinstance(events[-1].fact, ev.Packed) else None


def _label(
    kitchen: Kitchen,
    conn: Connection,
    container: Container,
    found: Holding,
    row: ContainerRow,
    purpose: Purpose,
    copies: int,
    now: Instant,
) -> Label:
    frozen = _last_day(container, ev.Frozen, kitchen)
    thawed = _last_day(container, ev.Thawed, kitchen)
    limits, times = _cooling_lines(kitchen, conn, container, found)
    packed = _packed_at(container) if purpose == "reduced-oxygen" else None
    waits = found.verdict in _WAITING and purpose not in ("cooling", TAG)
    return Label(
        purpose=purpose,
        item=row.item_name,
        code=row.code,
        number=row.number,
        count=row.count,
        started=_wall(row.made_at, kitchen),
        use_by=_shown_limit(found.use_by, kitchen),
        limit_needed=found.tcs != "not-tcs",
        best_by=found.best_by,
        days_left=found.days_left_once_thawed,
        frozen_on=frozen if purpose == "frozen" else None,
        thawed_on=thawed if purpose == "thawed" else None,
        amount=row.amount,
        by=container.making.entry.by if container.making is not None else "",
        # Out of temperature control the hour is the limit, wherever the tub stands; it came from
        # the cold unit and does not go back there.
        unit="" if found.state == "out" and not _at_room(kitchen, row) else row.unit,
        keep_at="" if found.state == "out" else _keep_at(kitchen, conn, container, row),
        allergens=allergens(container.history),
        cautions=_item_cautions(kitchen, conn, row.item_name),
        stands_on=kitchen.stack(conn).adopted.title,
        reprint=copies,
        cooling_limits=limits if purpose == "cooling" else (),
        cooling_deadlines=times if purpose == "cooling" else (),
        packed=_wall(packed, kitchen) if packed is not None else None,
        pack_rule=_pack_rule(kitchen, conn, container, found) if packed is not None else None,
        held=(found.reason or "The person in charge decides.") if waits else "",
        reason=found.reason if purpose == TAG else "",
        discarded=_wall(now, kitchen) if purpose == TAG else None,
        # That before the label's own entry, which is written once the label is made.
        journal_head=show_head(*journal_entries.head(conn, kitchen.site)[:2]),
    )


def _wall(at: Instant, kitchen: Kitchen) -> datetime:
    # To the minute, as it is printed: the label of now is still the same a second later.
    return to_local(at, kitchen.where).replace(tzinfo=None, second=0, microsecond=0)


def _shown_limit(use_by: Instant | None, kitchen: Kitchen) -> date | datetime | None:
    """A limit at the end of a day is that day; any other is its local hour."""
    if use_by is None:
        return None
    day = local_date(use_by, kitchen.where)
    if use_by == end_of_day(day, kitchen.where):
        return day
    return to_local(use_by, kitchen.where).replace(tzinfo=None)


def _last_day(container: Container, kind: type[ev.Fact], kitchen: Kitchen) -> date | None:
    moments = [event.at for event in container.history.events if isinstance(event.fact, kind)]
    return local_date(max(moments), kitchen.where) if moments else None


def _cooling_lines(
    kitchen: Kitchen, conn: Connection, container: Container, found: Holding
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    when = "ambient" if container.history.food.ambient_ingredients else "cooked"
    rules = [rule for rule in kitchen.stack(conn).of_kind(CoolingRule) if rule.when == when]
    if not rules:
        return (), ()
    limits = tuple(
        limit.show(kitchen.scale) for limit in (rules[0].middle, rules[0].cold) if limit is not None
    )
    deadlines = (
        (found.cooling.deadline_first, found.cooling.deadline_whole) if found.cooling else ()
    )
    times = tuple(f"{to_local(at, kitchen.where):%H:%M}" for at in deadlines if at is not None)
    return limits, times if len(times) == len(limits) else ()


def _at_room(kitchen: Kitchen, row: ContainerRow) -> bool:
    unit = kitchen.units.get(row.unit)
    return unit is None or unit.sort == "room"


def _keep_at(
    kitchen: Kitchen, conn: Connection, container: Container, row: ContainerRow
) -> Keep | str:
    unit = kitchen.units.get(row.unit)
    if unit is None or unit.sort == "room":
        return ""
    if unit.freezes:
        return Keep("", "frozen")
    limits = measures(kitchen.stack(conn), container.history.food.category, kitchen.where)
    rule = limits.hot if unit.sort == "hot box" else limits.cold
    if rule is None:
        return ""
    return Keep(rule.limit.show(kitchen.scale), "above" if unit.sort == "hot box" else "below")


def _pack_rule(
    kitchen: Kitchen, conn: Connection, container: Container, found: Holding
) -> PackRule | None:
    """What the rule of its pack wants written on it (Food Code 3-502.12(B)(3)): how cold, and
    after how many days it is discarded. The other options of that section want dates only, which
    every label has.
    """
    stack = kitchen.stack(conn)
    said = {each.source.rule for each in found.basis}
    rules = [
        rule
        for rule in stack.of_kind(ReducedOxygenRule)
        if rule.option == "two-barrier" and rule.days is not None and rule.source.rule in said
    ]
    cold = measures(stack, container.history.food.category, kitchen.where).cold
    if not rules or cold is None:
        return None
    return PackRule(cold.limit.show(kitchen.scale), min(rule.days or 0 for rule in rules))


def _item_cautions(kitchen: Kitchen, conn: Connection, name: str) -> tuple[str, ...]:
    return next((item.fact.cautions for item in items(kitchen, conn) if item.name == name), ())


def refuse_unfit(each: Ready) -> None:
    """Food that is to be discarded gets no label (but a tag). Raises ``Mistake("unfit")``."""
    unfit = each.holding.verdict in ("discard", "refuse") and each.holding.state != "frozen"
    if unfit and each.label.purpose != TAG:
        raise Mistake(
            "unfit",
            f"{each.label.item}, {show(each.label.code)}, gets no label: {each.holding.reason}",
            f"Discard it: holdlog discard {show(each.label.code)}",
        )


def moved(kitchen: Kitchen, each: Ready) -> str:
    """What to say when a fresh label carries another date than the one before; else empty."""
    said = each.said_use_by
    if each.printed_before is None or said is None or each.printed_before == said:
        return ""
    return (
        f"{show(each.label.code)}: the label before said {_day(each.printed_before, kitchen)}, "
        f"this one says {_day(said, kitchen)}. Take the old label off."
    )


def _day(limit: Instant, kitchen: Kitchen) -> str:
    """A limit as its label says it: at the end of a day without the hour."""
    day, now = local_date(limit, kitchen.where), kitchen.now()
    if limit == end_of_day(day, kitchen.where):
        return show_day(day, local_date(now, kitchen.where))
    return show_moment(limit, kitchen.where, now)
