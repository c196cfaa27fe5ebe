"""Binning a container: why, how much, who."""

from dataclasses import dataclass

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, read_amount
from holdlog.core.codes import show
from holdlog.core.costs import Money, worth
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant, show_moment
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.contents import more_than, taken
from holdlog.kitchen.items import cost_in_force
from holdlog.kitchen.kitchen import Kitchen

# The reasons a kitchen gives, in trade words. Common practice, no source.
REASONS = {
    "date": "past its date",
    "cooling": "cooling missed",
    "warm": "too warm",
    "no-label": "no label",
    "off": "off in look or smell",
    "dropped": "dropped or dirty",
    "over-made": "made too much",
    "recall": "recalled",
    "other": "other",
}


@dataclass(frozen=True, slots=True)
class Binned:
    """What was discarded, as it was recorded. ``row`` is still on hand where it was a part.

    ``cost`` None: the item has no cost, it is per another kind of measure, or nobody knows how
    much there was. ``written``: what it should have held, where more than that was binned.
    ``entry`` is the number of the entry.
    """

    row: ContainerRow
    reason: str
    amount: Amount | None
    cost: Money | None = None
    written: Amount | None = None
    entry: int = 0


def reason_of(typed: str) -> str:
    """The reason meant, by its word or a beginning of it, or of what it says ("past", "made too
    much"). Raises ``Mistake("no-reason")``.
    """
    wanted = typed.strip().lower().replace(" ", "-")
    fits = [word for word in REASONS if word == wanted]
    for names in (REASONS.keys(), REASONS.values()):
        fits = fits or [
            word
            for word, name in zip(REASONS, names, strict=True)
            if wanted and name.replace(" ", "-").startswith(wanted)
        ]
    if len(fits) != 1:
        known = ", ".join(f"{word} ({says})" for word, says in REASONS.items())
        raise Mistake("no-reason", f"{typed!r} is no reason to discard.", f"Reasons: {known}.")
    return fits[0]


def discard(
    kitchen: Kitchen,
    by: str,
    typed: str,
    at: Instant,
    reason: str,
    amount: Amount | None = None,
    note: str = "",
    *,
    part: bool = False,
) -> Binned:
    """Record that a container was binned. ``amount`` None: what was in it, as far as is known.

    More than was known to be in it is taken as weighed. ``part``: only that amount was, the rest
    stays on hand, and more than is in it is refused. What it was worth is kept with it, at
    the item's cost in force ``at`` that moment.
    """
    why = reason_of(reason)
    if why == "other" and not note.strip():
        raise Mistake("no-reason", "Other than what?", 'Say it in a few words: --note "…".')
    with kitchen.writing(by, ev.Discarded) as write:
        row, at = write.find(typed), write.when(at)
        since = max(row.made_at, write.look(row.code, at)[0].there_since)
        if at < since:
            raise Mistake(
                "too-early",
                f"{row.item_name}, {show(row.code)}, was made "
                f"{show_moment(since, kitchen.where, write.recorded_at)}.",
                "It cannot be binned before that: check --at.",
            )
        holds = read_amount(row.amount) if row.amount else None
        called = f"{row.item_name}, {show(row.code)}"
        binned = taken(called, holds, amount, part=part, weighed=True)
        price = cost_in_force(kitchen, write.conn, row.item, at)
        cost = worth(price, binned) if price is not None and binned is not None else None
        fact = ev.Discarded(why, binned, note.strip(), cost, part)
        (entry,) = write.append((fact, at, row.code))
        after = write.settle_one(row.code)
        written = holds if more_than(holds, binned) else None
        return Binned(after, why, binned, cost, written, entry.number)
