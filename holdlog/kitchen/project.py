"""From histories to the rows on hand: one pure fold for the job, the table and the replay."""

import re
import unicodedata
from collections.abc import Callable
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, share
from holdlog.core.moments import Instant
from holdlog.journal.codec import fact_of
from holdlog.journal.on_hand import BatchRow, ContainerRow, LinkRow
from holdlog.kitchen.records import Container, Making, Reader, Standing
from holdlog.rules.history import History
from holdlog.rules.holding import Holding, holding
from holdlog.rules.stack import Stack

# The stack in force when an entry of this number was written (None: the one in force now).
StackAt = Callable[[int | None], Stack]


def slug(name: str) -> str:
    """The id of an item from its name: ``"White bean, cooked"`` gives ``white-bean-cooked``."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return "-".join(re.findall(r"[a-z0-9]+", plain)) or name.strip().lower()


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
    number, count = _place(reader, container, siblings)
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
        amount=str(amount_of(reader, container) or ""),
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
    if container.making is None:
        entries = reader.records.entries(container.origin.batch)
        return entries[-1].at, "voided", entries[-1].number
    return None, "", None


def _place(reader: Reader, container: Container, siblings: tuple[str, ...]) -> tuple[int, int]:
    """Container n of m: of its batch, or of the split that made it."""
    if container.origin.parent:
        for each in reader.standing(container.origin.parent):
            if isinstance(each.fact, ev.Split) and container.code in each.fact.into:
                return each.fact.into.index(container.code) + 1, len(each.fact.into)
    if container.code in siblings:
        return siblings.index(container.code) + 1, len(siblings)
    return 1, 1


def unit_of(reader: Reader, container: Container) -> str:
    """The unit it stands in, as the newest fact that names one says."""
    named: list[tuple[Instant, int, str]] = []
    if container.origin.parent:
        parent = reader.container(container.origin.parent)
        for each in parent.own:
            if isinstance(each.fact, ev.Split) and container.code in each.fact.into:
                unit = each.fact.unit or unit_of(reader, parent)
                named.append((each.entry.at, each.entry.number, unit))
    elif container.making is not None:
        named.append((container.making.entry.at, 0, getattr(container.making.fact, "unit", "")))
    for each in container.own:
        unit = getattr(each.fact, "unit", "")
        if unit and not isinstance(each.fact, ev.Split):
            named.append((each.entry.at, each.entry.number, unit))
    return max(named, default=(0, 0, ""))[2]


def amount_of(reader: Reader, container: Container) -> Amount | None:
    """What is in it as far as is known: its share of the batch or of the split, plus what was
    poured in; None when nobody said.
    """
    amount = _filled(reader, container)
    for each in container.own:
        if isinstance(each.fact, ev.Split) and each.fact.amount and amount:
            amount = _less(amount, each.fact.amount, len(each.fact.into))
        if isinstance(each.fact, ev.ToppedUp) and amount:
            poured = _filled(reader, reader.container(each.fact.poured_in))
            amount = _more(amount, poured)
    return amount


def _filled(reader: Reader, container: Container) -> Amount | None:
    if container.origin.parent:
        for each in reader.standing(container.origin.parent):
            if isinstance(each.fact, ev.Split) and container.code in each.fact.into:
                return each.fact.amount
    if container.making is None or not isinstance(container.making.fact, Making):
        return None
    fact = container.making.fact
    return share(fact.amount, len(fact.containers) or 1) if fact.amount else None


def _less(amount: Amount, each: Amount, times: int) -> Amount | None:
    if amount.unit != each.unit:
        return None
    left = amount.number - each.number * times
    return Amount(left, amount.unit) if left > 0 else None


def _more(amount: Amount, poured: Amount | None) -> Amount | None:
    if poured is None or poured.unit != amount.unit:
        return None
    return Amount(amount.number + poured.number, amount.unit)


def _begun(container: Container) -> Instant:
    opened = [each for each in container.own if isinstance(each.fact, ev.Opened)]
    if opened:
        return opened[0].entry.at
    return container.making.entry.at if container.making is not None else container.last


def _made_kind(container: Container) -> str:
    if any(isinstance(each.fact, ev.Opened) for each in container.own):
        return "opened"
    return container.making.entry.kind if container.making is not None else "prepared"


def _printed(container: Container) -> Instant | None:
    labels = [each.fact for each in container.own if isinstance(each.fact, ev.Labelled)]
    last = labels[-1] if labels else None
    return Instant(last.use_by) if last is not None and last.use_by is not None else None


_SHORT = ("no-limit-known", "assess", "past-best", "from-memory", "time-control", "no-temperature")


def _short_cautions(found: Holding) -> tuple[str, ...]:
    """The cautions a list can act on, by their first word."""
    words = (caution.split(":", 1)[0] for caution in found.cautions)
    return tuple(word for word in words if word.startswith(_SHORT) and " " not in word)


def allergens(history: History) -> tuple[str, ...]:
    """The allergens of the food and of everything that went into it."""
    names = dict.fromkeys(history.food.allergens)
    for part in history.joined:
        names.update(dict.fromkeys(allergens(part.history)))
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
