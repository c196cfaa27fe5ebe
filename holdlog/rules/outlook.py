"""What is ahead of food that cools: forecast, pace, the next reading, and what to ask the cook.

It warns and never judges. There is one only while the cooling runs with nothing missed or
unproven; from then on the rule alone speaks.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from holdlog.core.moments import MINUTE, Instant, iso, local_date, show_moment, to_local
from holdlog.core.temperature import Temperature
from holdlog.rules.cooling import CoolingVerdict
from holdlog.rules.course import Cycle
from holdlog.rules.kinds import CoolingRule

if TYPE_CHECKING:
    from holdlog.rules.forecast import Forecast
    from holdlog.rules.pace import Pace

ROUNDED = 5 * MINUTE
# No ice bath makes food cool so much faster: the figure is left out. Our judgement.
MUCH_FASTER = 5
FASTER = (
    "Ice bath and stir, or split it into shallower pans: half the depth cools at least twice as "
    "fast. Leave it open, with air on all sides"
)


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is ahead of food that cools, as of ``at``.

    ``forecast`` is None after the first limit and where there is none; ``no_forecast`` says why.
    ``read_by`` is when the next reading is due, ``deadline`` the next one; ``hot``: no reading
    below the hot limit yet. ``question`` is for the cook about the last reading, or empty.
    """

    at: Instant
    forecast: "Forecast | None"
    no_forecast: str
    pace: "Pace | None"
    question: str
    deadline: Instant | None
    read_by: Instant | None
    hot: str


def look_ahead(
    cycle: Cycle, rule: CoolingRule, verdict: CoolingVerdict, at: Instant
) -> Outlook | None:
    """What is ahead of the cooling ``cycle`` at ``at``; None unless it runs."""
    if not verdict.running or cycle.reheated_at is not None:
        return None
    # Loaded where something cools, which most scenarios and most commands never ask of.
    from holdlog.rules.forecast import Forecast, NoForecast, forecast, question  # noqa: PLC0415
    from holdlog.rules.pace import next_limit, pace, read_next  # noqa: PLC0415

    _, deadline = next_limit(rule, verdict)
    ahead: Forecast | NoForecast | None = None
    if rule.middle is not None and verdict.first == "running":
        ahead = forecast(cycle, rule.middle, deadline)
    last = cycle.readings[-1] if cycle.readings else None
    still_hot = rule.hot is not None and all(each.hot(rule.hot) for each in cycle.readings)
    scale = last.temperature.scale if last is not None and last.temperature is not None else "F"
    return Outlook(
        at=at,
        forecast=ahead if isinstance(ahead, Forecast) else None,
        no_forecast=ahead.says if isinstance(ahead, NoForecast) else "",
        pace=pace(cycle, rule, verdict, at),
        question=question(cycle),
        deadline=deadline,
        read_by=read_next(last.at, deadline) if last is not None and deadline is not None else None,
        hot=rule.hot.show(scale) if still_hot and rule.hot is not None else "",
    )


def as_json(ahead: Outlook | None, where: ZoneInfo) -> dict[str, Any]:
    """``forecast`` and ``pace`` as plain data, in the form of the scenario contract."""

    def moment(at: Instant | None) -> str | None:
        return iso(at, where) if at is not None else None

    coming = ahead.forecast if ahead is not None else None
    by_now = ahead.pace if ahead is not None else None
    return {
        "forecast": {
            "early": moment(coming.early),
            "late": moment(coming.late),
            "says": coming.says,
        }
        if coming
        else None,
        "pace": {
            "should_be": _plain(by_now.should_be),
            "needs_times_faster": (
                float(by_now.needs_times_faster) if by_now.needs_times_faster is not None else None
            ),
        }
        if by_now
        else None,
    }


def _plain(reading: Temperature) -> str:
    return f"{reading.degrees} {reading.scale}"


# ---- in words --------------------------------------------------------------------------------


def asks(ahead: Outlook | None) -> list[str]:
    """What to ask the cook, as cautions: a word for programs, then a sentence."""
    if ahead is None:
        return []
    return [
        *([f"check-reading: {ahead.question}"] if ahead.question else []),
        *([f"no-forecast: {ahead.no_forecast}"] if ahead.no_forecast else []),
    ]


def told(ahead: Outlook | None, where: ZoneInfo) -> list[str]:
    """The forecast, the pace and the next reading, each in a line for the cook."""
    if ahead is None:
        return []
    lines = []
    if ahead.forecast is not None:
        lines.append(_forecast_told(ahead.forecast, ahead.at, where))
    if ahead.pace is not None:
        lines.append(_pace_told(ahead.pace, ahead))
    if ahead.deadline is not None:
        lines.append(_reading_told(ahead, ahead.deadline, where))
    return lines


def _forecast_told(coming: "Forecast", at: Instant, where: ZoneInfo) -> str:
    def clock(moment: Instant) -> str:
        return _clock(moment, at, where)

    early, late = _rounded(coming)
    if early is None:
        when = f"{coming.limit} cannot be reached there"
    elif late is None:
        when = f"{coming.limit} at {clock(early)} at the earliest, perhaps never"
    else:
        when = f"{coming.limit} between {clock(early)} and {clock(late)}"
    limit = f"{when} if it stays {coming.surroundings} there; the limit is {clock(coming.deadline)}"
    if coming.says == "on-track":
        return f"{limit}. On track."
    if coming.says == "too-close":
        return f"{limit}. Too close: act now. {FASTER}."
    return f"{limit}. It will miss it as it is: act now. {FASTER}."


def _rounded(coming: "Forecast") -> tuple[Instant | None, Instant | None]:
    """The range rounded outward to five minutes, but not across the deadline it was found to keep
    or to miss.
    """
    early, late = coming.early, coming.late
    if early is not None:
        early = Instant(early // ROUNDED * ROUNDED)
        early = max(early, coming.deadline) if coming.says == "will-miss" else early
    if late is not None:
        late = Instant(-(-late // ROUNDED) * ROUNDED)
        late = min(late, coming.deadline) if coming.says == "on-track" else late
    return early, late


def _pace_told(by_now: "Pace", ahead: Outlook) -> str:
    says = f"By now it should be at {by_now.should_be} or colder."
    scale = by_now.should_be.scale
    wanted = by_now.next_limit.show(scale)
    if by_now.cannot:
        return f"{says} It cannot reach {wanted} in there: it is {by_now.surroundings}. Move it."
    if by_now.slow:
        says += f" It is very slow in there: it is {by_now.surroundings}."
    times = by_now.needs_times_faster
    if times is None:
        return says
    acting = ahead.forecast is not None and ahead.forecast.says != "on-track"
    if times > 1:
        much = f"more than {MUCH_FASTER}" if times > MUCH_FASTER else f"{times}"
        says += f" For {wanted} in time it has to cool {much} times as fast as it did."
        return says if acting else f"{says} {FASTER}."
    # Nobody is told to act now and that all is well in one breath.
    return says if acting or by_now.behind else f"{says} For {wanted} it keeps the pace."


def _reading_told(ahead: Outlook, deadline: Instant, where: ZoneInfo) -> str:
    parts = []
    if ahead.read_by is not None:
        due = ahead.read_by
        parts.append("now" if due <= ahead.at else f"by {_clock(due, ahead.at, where)}")
    if ahead.hot:
        parts.append(f"as it passes {ahead.hot}")
    parts.append(f"just before {_clock(deadline, ahead.at, where)}")
    return f"Read it {', '.join(parts[:-1])}{' and ' if parts[:-1] else ''}{parts[-1]}."


def _clock(moment: Instant, at: Instant, where: ZoneInfo) -> str:
    if local_date(moment, where) != local_date(at, where):
        return show_moment(moment, where, at)
    return f"{to_local(moment, where):%H:%M}"
