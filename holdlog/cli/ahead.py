"""Looking ahead: the days to come, as text, as JSON for a wall screen, as a calendar file."""

from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.check import OnlyUnit
from holdlog.cli.show import emit, note, say
from holdlog.cli.wiring import Json, kitchen, spare

if TYPE_CHECKING:
    from holdlog.kitchen.ahead import Ahead
    from holdlog.kitchen.kitchen import Kitchen


def ahead(
    context: typer.Context,
    days: Annotated[int, typer.Option("--days", help="How many, with today: 1 to 60.")] = 7,
    unit: OnlyUnit = "",
    item: Annotated[str, typer.Option("--item", help="Only this item.", show_default=False)] = "",
    ics: Annotated[
        str,
        typer.Option(
            "--ics", help="A calendar file to write: ahead.ics.", show_default=False, metavar="FILE"
        ),
    ] = "",
    json: Json = False,
) -> None:
    r"""The days to come: what goes when, what goes while closed, last chances to freeze, what to
    pull from the freezer and the date it would then carry.

    Every date is what the rules say if nothing else happens to the food. The calendar file can
    be read in again and again: a day that is there is updated, not doubled. Written over the
    file of the day before, it cancels what that one told and is no more.

    \b
    Examples:
      holdlog ahead
      holdlog ahead --days 14 -u walk-in
      holdlog ahead --item "chicken stock"
      holdlog ahead --ics ahead.ics
      holdlog ahead --json
    """
    from holdlog.cli import ahead_words
    from holdlog.kitchen.ahead import ahead as job

    shop = kitchen(context)
    found = job(shop, days, unit, item)
    if ics:
        _write(ics, found, shop)
    if json:
        emit(ahead_words.ahead_json(found, shop))
    elif not ics:
        say(ahead_words.ahead_parts(found, shop))


def _write(file: str, found: "Ahead", shop: "Kitchen") -> None:
    from datetime import UTC, datetime

    from holdlog.cli.ahead_words import calendar_events
    from holdlog.core import whole_files
    from holdlog.reports.calendar_file import calendar, gone_since

    events = calendar_events(found, shop)
    count = "1 event" if len(events) == 1 else f"{len(events)} events"
    made_at = datetime.fromtimestamp(found.at // 1000, UTC)
    name = f"{shop.name}: looking ahead"
    wanted = spare(shop, file)
    before = whole_files.read(wanted, whole_files.ELSEWHERE) if wanted.is_file() else b""
    gone = gone_since(before, events, [day.day for day in found.days])
    events += gone
    count += f", {len(gone)} cancelled" if gone else ""
    whole_files.write(wanted, calendar(name, events, made_at=made_at, sequence=found.head))
    note(f"{file}: {count}. Read it into the calendar; again tomorrow, and it is updated.")
