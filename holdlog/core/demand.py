"""How much is wanted, from batches of which some ran out; and how much to make, then.

A batch that ran out says only that at least so much was wanted: it is a censored observation,
and taking it for the demand would talk every batch smaller and smaller. The product-limit
estimator (Kaplan and Meier 1958, J. Amer. Statist. Assoc. 53, 457-481) counts it for what it is.
How much to make is the newsvendor's question: the smallest size that is enough in a share
``Cu / (Cu + Co)`` of cases, where running out by one costs ``Cu`` and one left over costs ``Co``
(Arrow, Harris and Marschak 1951, Econometrica 19, 250-272; in every textbook of operations).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from math import exp, log, sqrt

# Two-sided 95 %: the 0.975 quantile of the normal distribution.
_Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was wanted of one batch: ``amount``, or (``censored``) that much or more."""

    amount: Decimal
    censored: bool


@dataclass(frozen=True, slots=True)
class Step:
    """After ``amount`` the share ``above`` (0 to 1) of batches wanted more. ``spread`` is
    Greenwood's sum: the variance of ``above`` is ``above² · spread``.
    """

    amount: Decimal
    above: float
    spread: float


@dataclass(frozen=True, slots=True)
class Size:
    """A batch size that is enough in a stated share of cases, and the 95 % interval of it.

    ``at`` None: the batches ran out too often to say; ``low`` None: nothing is known on that
    side; ``high`` None: it may be more than was ever made.
    """

    at: Decimal | None
    low: Decimal | None
    high: Decimal | None


def product_limit(seen: Iterable[Wanted]) -> list[Step]:
    """The product-limit estimate, a step at each amount that was wanted and no more.

    Of equal amounts the censored ones count as the larger, as is usual.
    """
    ordered = sorted(seen, key=lambda each: (each.amount, each.censored))
    steps: list[Step] = []
    above, spread, at_risk = 1.0, 0.0, len(ordered)
    amounts = dict.fromkeys(each.amount for each in ordered)
    for amount in amounts:
        here = [each for each in ordered if each.amount == amount]
        known = sum(not each.censored for each in here)
        if known:
            above *= 1 - known / at_risk
            left = at_risk - known
            spread = spread + known / (at_risk * left) if left else float("inf")
            steps.append(Step(amount, above if left else 0.0, spread))
        at_risk -= len(here)
    return steps


def critical_share(short: float, over: float) -> float:
    """The newsvendor's share: in how many cases a batch is to be enough, 0 to 1.

    ``short`` is what one too few costs and ``over`` what one too many does, both above 0.
    """
    return short / (short + over)


def batch_size(steps: Sequence[Step], share: float) -> Size:
    """The smallest size that is enough in ``share`` (0 to 1) of cases.

    The interval is what a 95 % band around the estimate (Greenwood's variance on the log-log
    scale) cuts out at that share: Brookmeyer and Crowley 1982, Biometrics 38, 29-41, as
    survival programs commonly do it.
    """
    beyond = 1 - share
    # A share of 0.9 is 0.1 in floating point only nearly: a step that is just there counts.
    slack = 1e-9

    def first(which: int) -> Decimal | None:
        return next((e.amount for e in steps if _band(e)[which] <= beyond + slack), None)

    return Size(first(1), first(0), first(2))


def _band(step: Step) -> tuple[float, float, float]:
    """The low end, the estimate and the high end of the share that wants more."""
    if step.above <= 0:
        return 0.0, 0.0, 1.0  # past the last of them nothing bounds what may be wanted
    if step.above >= 1:
        return 1.0, 1.0, 1.0
    width = _Z95 * sqrt(step.spread) / abs(log(step.above))
    return step.above ** exp(width), step.above, step.above ** exp(-width)


def left_over(steps: Sequence[Step], size: Decimal) -> float:
    """How much of a batch of ``size`` is left in the mean, in the same measure.

    It is the size less the area under the estimate up to it; ``size`` is to lie within the steps.
    """
    taken = 0.0
    corners = [(Decimal(0), 1.0), *((each.amount, each.above) for each in steps)]
    for (start, share), (end, _) in pairwise([*corners, (size, 0.0)]):
        taken += share * float(max(min(end, size) - min(start, size), Decimal(0)))
    return float(size) - taken
