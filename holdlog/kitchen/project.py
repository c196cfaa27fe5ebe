"""From histories to the rows on hand: one pure fold for the job, the table and the replay."""

import re
import unicodedata
from collections.abc import Callable
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.lots import lot_key
from holdlog.core.moments import Instant
from holdlog.journal.codec import fact_of
from holdlog.journal.on_hand import BatchRow, ContainerRow, LinkRow
from holdlog.kitchen.records import Container, Making, Reader
from holdlog.kitchen.standing import Standing
from holdlog.kitchen.whereabouts import unit_of
from holdlog.rules.history import History
from holdlog.rules.holding import Holding, holding
from holdlog.rules.label_date import label_date
from holdlog.rules.stack import Stack

# The stack in force when an entry of this number was written (None: the one in force now).
StackAt = Callable[[int | None], Stack]


def slug(name: str) -> str:
    """The id of an item from its name: ``"White bean, cooked"`` gives ``white-bean-cooked``."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    bare = "".join(each for each in plain if not unicodedata.combining(each))
    # Letters of every script stay: two soups must not become one item.
    return "-".join(re.findall(r"[^\W_]+", bare)) or name.strip().lower()


def held(container: Container, stack: Stack, at: Instant, where: ZoneInfo) -> Holding:
    """Where a container stands at ``at``."""
    return holding(container.history, stack, at, where)


def container_row(
    reader: Reader, code: str, stack_at: StackAt, adopted_at: Instant
) -> ContainerRow:
    """The row of one container, judged when the newest entry it depends on was written.

    ``adopted_at`` is when the rules in force were adopted: a container still on hand is judged
    again then.
    """
    container = reader.container(code)
    ended_at, ended_as, ended_number = _end(reader, container)
    judged_at = container.last if ended_at is not None else max(container.last, adopted_at)
    found = held(container, stack_at(ended_number), judged_at, reader.where)
    making, food = container.making, container.history.food
    siblings = getattr(making.fact, "containers", ()) if making is not None else ()
    number, count = _place(container, siblings)
    binding = found.binding
    return ContainerRow(
        code=code,
        batch=container.origin.batch,
        parent=container.origin.parent,
        item=slug(food.item),
        item_name=food.item,
        category=food.category,
        unit=unit_of(reader, container),
        number=number,
        count=count,
        amount=str(container.amount or ""),
        made_at=_begun(container),
        made_kind=_made_kind(container),
        state="gone" if ended_at is not None else found.state,
        tcs=found.tcs,
        use_by=found.use_by,
        last_day=found.last_day.isoformat() if found.last_day else None,
        of=found.of,
        days_left=found.days_left_once_thawed,
        verdict=found.fault or "",
        reason=found.reason if found.fault else "",
        review_at=found.review_at,
        printed_use_by=_printed(container),
        binds=binding.source.rule if binding else "",
        cite=binding.source.cite if binding else "",
        says=binding.source.says if binding else "",
        cautions=_short_cautions(found),
        judged_at=judged_at,
        ended_at=ended_at,
        ended_as=ended_as,
    )


def _end(reader: Reader, container: Container) -> tuple[Instant | None, str, int | None]:
    end = container.end
    if end is not None:
        how = end.fact.ended_as if isinstance(end.fact, ev.Used) else "discarded"
        return end.entry.at, how, end.entry.number
    if container.unsplit is not None:
        return container.unsplit.at, "voided", container.unsplit.number
    if container.making is None:
        entries = reader.records.entries(container.origin.batch)
        return entries[-1].at, "voided", entries[-1].number
    return None, "", None


def _place(container: Container, siblings: tuple[str, ...]) -> tuple[int, int]:
    """Container n of m: of the split that made it, or of its batch."""
    if container.split is not None and isinstance(container.split.fact, ev.Split):
        siblings = container.split.fact.into
    if container.code in siblings:
        return siblings.index(container.code) + 1, len(siblings)
    return 1, 1


def _begun(container: Container) -> Instant:
    """When it was made, received, or opened; while a correction waits, the earlier."""
    opened = _opened(container)
    made = [each.entry.at for each in container.makings]
    return min(opened or made, default=container.last)


def _made_kind(container: Container) -> str:
    if _opened(container):
        return "opened"
    return container.making.entry.kind if container.making is not None else "prepared"


def _opened(container: Container) -> list[Instant]:
    """When a received container was opened; what was split off later was opened with it."""
    making = {id(each.fact) for each in container.makings}
    return [
        event.at
        for event in container.history.events
        if isinstance(event.fact, ev.Opened) and id(event.fact) not in making
    ]


def _printed(container: Container) -> Instant | None:
    said: Instant | None = None
    for each in container.own:
        if isinstance(each.fact, ev.Labelled):
            said = label_date(said, each.fact)
    return said


_SHORT = ("no-limit-known", "assess", "past-best", "from-memory", "time-control", "no-temperature")


def _short_cautions(found: Holding) -> tuple[str, ...]:
    """The cautions a list can act on, by their first word."""
    words = (caution.split(":", 1)[0] for caution in found.cautions)
    return tuple(word for word in words if word.startswith(_SHORT) and " " not in word)


def allergens(history: History) -> tuple[str, ...]:
    """The allergens of the food and of everything that went into it."""
    names: dict[str, None] = {}
    seen: set[int] = set()
    waiting = [history]
    while waiting:
        food = waiting.pop()
        if id(food) not in seen:
            seen.add(id(food))
            names.update(dict.fromkeys(food.food.allergens))
            waiting += [part.history for part in reversed(food.joined)]
    return tuple(names)


def batch_of(reader: Reader, batch: str) -> BatchRow | None:
    """The row of one batch: as the making that counts says, or the last one if all are void."""
    makings = [each for each in reader.standing(batch) if isinstance(each.fact, Making)]
    if not makings:
        entries = reader.records.entries(batch)
        raw = [Standing(entry, fact_of(entry)) for entry in entries]
        makings = [each for each in raw if isinstance(each.fact, Making)]
    return _batch_row(batch, makings[-1]) if makings else None


def _batch_row(batch: str, making: Standing) -> BatchRow:
    fact = making.fact
    food = getattr(fact, "food", None) or ev.Food(item="", category="other")
    return BatchRow(
        batch=batch,
        number=int(batch.removeprefix("B")),
        item=slug(food.item),
        item_name=food.item,
        category=food.category,
        day_one=making.entry.at,
        kind=making.entry.kind,
        lot=getattr(fact, "lot", ""),
        lot_key=lot_key(getattr(fact, "lot", "")),
    )


def links_of(reader: Reader, subject: str) -> list[LinkRow]:
    """Which containers went into ``subject`` (a batch, or a container that was topped up).

    What was voided stays: a link only says what has to be looked at again.
    """
    links = []
    for entry in reader.records.entries(subject):
        match fact_of(entry):
            case ev.Prepared(made_from=codes):
                links += [LinkRow(code, subject) for code in codes]
            case ev.ToppedUp(poured_in=code):
                links.append(LinkRow(code, subject))
            case _:
                pass
    return links
