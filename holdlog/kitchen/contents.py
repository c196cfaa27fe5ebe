"""How much is in a container, as far as anybody said, and how much may be taken out of it."""

from collections.abc import Callable, Iterable
from decimal import Decimal

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, alike, in_unit_of, share
from holdlog.core.errors import Mistake

# Shares and what is left are kept to four decimals, so that parts may add up to a little more.
SLACK = Decimal("1.001")


def contents(
    origin: ev.Fact | None,
    own: Iterable[ev.Fact],
    poured: Callable[[str], Amount | None],
) -> Amount | None:
    """Its share of the batch or of the split that made it (``origin``), plus what was poured
    in, less what was split off or was used or binned of it; None when nobody said.

    ``own`` are its facts in the order in which they happened; ``poured`` gives what was in a
    container that was poured in.
    """
    amount = _filled(origin)
    for fact in own:
        if isinstance(fact, ev.Split) and amount is not None:
            amount = _less(amount, fact.amount, len(fact.into))
        elif isinstance(fact, ev.ToppedUp) and amount is not None:
            amount = _more(amount, poured(fact.poured_in))
        elif isinstance(fact, ev.Used | ev.Discarded) and fact.part and amount is not None:
            amount = _less(amount, fact.amount, 1)
    return amount


def _filled(origin: ev.Fact | None) -> Amount | None:
    if isinstance(origin, ev.Split):
        return origin.amount
    if isinstance(origin, ev.Prepared | ev.Received | ev.Opened) and origin.amount is not None:
        return share(origin.amount, len(origin.containers) or 1)
    return None


def taken(
    called: str, holds: Amount | None, said: Amount | None, *, part: bool, weighed: bool = False
) -> Amount | None:
    """How much goes, of what a container ``holds``: as much as was ``said``, else all of it.

    ``weighed``: what was said of a whole container counts, although it is more than was written
    of it: the scale is right, and what was written a guess. Raises ``Mistake``: ``part`` of it
    without saying how much, all of it called a part, or more than is in it. Units of different
    kinds are not compared.
    """
    if part and said is None:
        raise Mistake(
            "no-amount",
            f"How much of {called}?",
            "Say it with --amount 500g; without --part all of it goes.",
        )
    if said is None or holds is None or not alike(holds, said):
        return said if said is not None else holds
    if more_than(holds, said) and (part or not weighed):
        raise Mistake(
            "too-much",
            f"{called} holds {holds}, not {said}.",
            "Check --amount; if more was made than was written: holdlog correct CODE --amount.",
        )
    if part and said.base >= holds.base:
        raise Mistake(
            "all-of-it", f"{said} is all that {called} holds.", "Leave --part out: it is empty."
        )
    return said


def more_than(holds: Amount | None, said: Amount | None) -> bool:
    """Whether more was ``said`` than a container ``holds``, as far as the two can be compared."""
    if holds is None or said is None or not alike(holds, said):
        return False
    return said.base > holds.base * SLACK


def _less(amount: Amount, each: Amount | None, times: int) -> Amount | None:
    """What is left; None when it was not said how much was taken, or cannot be reckoned."""
    if each is None or not alike(amount, each):
        return None
    return in_unit_of(amount, amount.base - each.base * times)


def _more(amount: Amount, poured: Amount | None) -> Amount | None:
    if poured is None or not alike(amount, poured):
        return None
    return in_unit_of(amount, amount.base + poured.base)
