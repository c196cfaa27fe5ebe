"""Which readings a thermometer that was found off throws doubt on."""

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from holdlog.core import events as ev
from holdlog.core.moments import Instant
from holdlog.rules.history import Event

ALWAYS = Instant(2**62)
PROBE = "probe "


def probe_subject(name: str) -> str:
    """The subject of the entries about the thermometer ``name``."""
    return PROBE + name


def called(name: str) -> str:
    """A thermometer as it is spoken of: ``probe red``; one called ``probe 2`` is just that."""
    return name if name.lower().startswith(PROBE) else PROBE + name


def doubtful(events: Iterable[Event], where: ZoneInfo) -> list[tuple[Instant, Instant]]:
    """The spans of time, ends not included, in which readings of a thermometer prove nothing.

    ``events`` are what stands about the thermometer, as it was written. A check in ice that
    failed throws doubt on everything since the last good one before it, and on what follows until
    the next good one. A good check that was written down on a later day (or was taken back)
    proves nothing until the person in charge confirms it; a failed one counts at once, and if it
    is taken back on a later day it counts until that is confirmed.
    """
    spans: list[tuple[Instant, Instant]] = []
    good: list[Instant] = []
    since: Instant | None = None
    # A stable sort: of two checks at one moment the later written comes later.
    for event in sorted(events, key=lambda event: event.at):
        fact = event.fact
        if not isinstance(fact, ev.ProbeChecked) or fact.method != "ice":
            continue
        if not fact.passed:
            if since is None:
                since = max((at for at in good if at < event.at), default=Instant(-1))
        elif not event.late(where):
            if since is not None:
                spans.append((since, event.at))
                since = None
            good.append(event.at)
    if since is not None:
        spans.append((since, ALWAYS))
    return spans
