"""The clock of this machine beside the journal."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.show import beside, count_of, emit, moment, say
from holdlog.cli.wiring import By, Json, asks, kitchen

if TYPE_CHECKING:
    from holdlog.kitchen.clock_right import Checked
    from holdlog.kitchen.kitchen import Kitchen


def clock(
    context: typer.Context,
    right: Annotated[
        bool,
        typer.Option("--right", help="It is right, the kitchen was closed (person in charge)."),
    ] = False,
    today: Annotated[
        str,
        typer.Option(
            "--today",
            metavar="DATE",
            show_default=False,
            help="With --right: the day it is, not read off this machine.",
        ),
    ] = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""What the clock says, the kitchen's zone, and how long ago the journal was last written.

    A clock that is ahead puts dates on labels that are too late. So after 4 days without an entry
    every command tells what day it is by the clock: compare it with a calendar. After more than
    30 days nothing is written until the clock is set right, or the person in charge has looked at
    it and says --right, once.

    \b
    Examples:
      holdlog clock
      holdlog clock --right --by JR
    """
    from holdlog.core.errors import Mistake
    from holdlog.core.moments import read_day
    from holdlog.kitchen.clock_right import found_right, look

    if today and not right:
        raise Mistake("not-right", "--today goes with --right.", "holdlog clock --right --today …")
    shop = kitchen(context)
    beside("")  # it is what this command tells
    found = look(shop)
    if right:
        if found.doubt is not None and not today and asks():
            today = typer.prompt(
                "What day is it today, not by this machine? Write it like 2026-06-07"
            )
        found = found_right(shop, by, read_day(today) if today else None)
    if json:
        emit(_json(found, shop))
    else:
        say(_told(found, shop, right=right))


def _told(found: "Checked", shop: "Kitchen", *, right: bool) -> list[Any]:
    from holdlog.core.moments import show_dated
    from holdlog.reports.tables import Table

    rows = (
        ("the clock", show_dated(found.now, shop.where)),
        ("zone", str(shop.where)),
        ("last entry", f"{show_dated(found.last, shop.where)}, number {found.entry}"),
        ("difference", _difference(found)),
    )
    if found.doubt is not None:
        says = found.doubt.line()
    elif found.remark and not right:
        says = found.remark
    elif found.recorded is not None:
        says = f"Recorded as entry {found.recorded}: the clock was found right. Writing goes on."
    else:
        says = "Nothing speaks against the clock."
        says += " Nothing was recorded." if right else " Is it the day on your wall, too?"
    return [Table("", ("", ""), rows), says]


def _difference(found: "Checked") -> str:
    from holdlog.core.moments import DAY, show_length

    apart = abs(found.now - found.last)
    long = count_of(apart // DAY, "day") if apart >= DAY else show_length(apart)
    return f"the clock is {long} {'after' if found.now >= found.last else 'before'} the last entry"


def _json(found: "Checked", shop: "Kitchen") -> dict[str, Any]:
    return {
        "now": moment(found.now, shop),
        "zone": str(shop.where),
        "last_entry": found.entry,
        "last_written": moment(found.last, shop),
        "seconds_between": (found.now - found.last) // 1000,
        "doubt": found.doubt.code if found.doubt else None,
        "says": found.doubt.line() if found.doubt else found.remark or None,
        "recorded": found.recorded,
    }
