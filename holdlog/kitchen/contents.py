"""How much is in a container, as far as anybody said."""

from collections.abc import Callable, Iterable
from decimal import Decimal

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, share


def contents(
    origin: ev.Fact | None,
    own: Iterable[ev.Fact],
    poured: Callable[[str], Amount | None],
) -> Amount | None:
    """Its share of the batch or of the split that made it (``origin``), plus what was poured
    in, less what was split off; None when nobody said.

    ``own`` are its facts in the order in which they happened; ``poured`` gives what was in a
    container that was poured in.
    """
    amount = _filled(origin)
    for fact in own:
        if isinstance(fact, ev.Split) and amount is not None:
            amount = _less(amount, fact)
        elif isinstance(fact, ev.ToppedUp) and amount is not None:
            amount = _more(amount, poured(fact.poured_in))
    return amount


def _filled(origin: ev.Fact | None) -> Amount | None:
    if isinstance(origin, ev.Split):
        return origin.amount
    if isinstance(origin, ev.Prepared | ev.Received | ev.Opened) and origin.amount is not None:
        return share(origin.amount, len(origin.containers) or 1)
    return None


def _less(amount: Amount, fact: ev.Split) -> Amount | None:
    """What is left; None when it was not said how much was taken, or cannot be reckoned."""
    if fact.amount is None or not _alike(amount, fact.amount):
        return None
    return _in_unit_of(amount, amount.base - fact.amount.base * len(fact.into))


def _more(amount: Amount, poured: Amount | None) -> Amount | None:
    if poured is None or not _alike(amount, poured):
        return None
    return _in_unit_of(amount, amount.base + poured.base)


def _alike(one: Amount, other: Amount) -> bool:
    """Whether they add up: masses, volumes, or the same counted thing."""
    if one.measure == "count":
        return one.unit == other.unit
    return one.measure == other.measure


def _in_unit_of(amount: Amount, base: Decimal) -> Amount | None:
    size = Amount(Decimal(1), amount.unit).base
    number = round(base / size, 4)
    return Amount(number, amount.unit) if number > 0 else None
