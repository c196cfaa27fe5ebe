"""What one key does in a round, to the container that was scanned last or to the unit."""

from typing import TYPE_CHECKING

import typer

from holdlog.cli.round_input import ring
from holdlog.cli.round_words import BLOCKS, large
from holdlog.cli.show import count_of, moment_told, row_line, rows_told, say
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.visible import quoted

if TYPE_CHECKING:
    from holdlog.cli.round_walk import Walk
    from holdlog.kitchen.unit_read import UnitWasRead

MOST_SHELVES = 20
NOTHING_SCANNED = "Nothing was scanned that this could be done to.", "Scan it, then the key."


def loud(block: str, text: str) -> None:
    """Say something in a large line."""
    for line in large(block, text):
        print(line, flush=True)


def _last(on: "Walk") -> str:
    if not on.last:
        sentence, hint = on.barred or NOTHING_SCANNED
        raise Mistake("no-scan", sentence, hint)
    return on.last


def bin_it(on: "Walk", rest: str, code: str = "") -> None:
    """Bin the container: ``rest`` may name the reason, and after it a note."""
    from holdlog.kitchen.discard import REASONS, discard

    code = code or _last(on)
    first, _, words = rest.partition(" ")
    picked = on.lines.pick(
        f"Bin {show(code)}. Why?", list(REASONS.values()), first, words=list(REASONS)
    )
    if picked is None:
        return
    reason = list(REASONS)[picked]
    if reason == "other" and not words:
        words = on.lines.ask("Other than what?") or ""
    done = discard(on.shop, on.by, code, on.shop.now(), reason, note=words)
    much = f", {done.amount}" if done.amount else ", amount not known"
    on.say(f"Binned: {done.row.item_name}{much} ({REASONS[reason]}).")


def use_up(on: "Walk", rest: str, code: str = "") -> None:
    """It ended well: used, sold, eaten by the staff …"""
    from holdlog.kitchen.handle import ENDS, end

    code = code or _last(on)
    picked = on.lines.pick(f"{show(code)} ended as?", list(ENDS), rest)
    if picked is None:
        return
    done = end(on.shop, on.by, code, on.shop.now(), ENDS[picked], None)
    on.say(f"{done.row.item_name}: {done.row.ended_as}. It is off the list.")


def move(on: "Walk", rest: str, code: str = "") -> None:
    """It stands in another unit than the journal says, or is carried there."""
    from holdlog.kitchen.handle import move as job

    code = code or _last(on)
    names = list(on.shop.units)
    picked = on.lines.pick(f"{show(code)} to which unit?", names, rest)
    if picked is None:
        return
    done = job(on.shop, on.by, code, on.shop.now(), on.shop.units[names[picked]])
    on.say(f"Moved: {done.row.item_name} stands in the {done.row.unit}.")


def freeze(on: "Walk", _rest: str) -> None:
    """Into this freezer, or the kitchen's first; it gets its label."""
    from holdlog.kitchen.handle import freeze as job

    unit = on.unit if on.unit.freezes else None
    done = job(on.shop, on.by, _last(on), on.shop.now(), unit)
    _labelled(on, done.row.code, f"Frozen: it goes into the {done.row.unit}.")


def label(on: "Walk", _rest: str) -> None:
    """Its label once more."""
    _labelled(on, _last(on), "Label:", alone=True)


def _labelled(on: "Walk", code: str, headline: str, *, alone: bool = False) -> None:
    from holdlog.cli.finish import finish
    from holdlog.journal import on_hand

    with on.shop.db.reading() as conn:
        row = on_hand.find(conn, on.shop.site, code)
    if row is None:
        return
    try:
        finish(on.shop, on.by, [row], on.place, json=False, headline=headline,
               without="Not labelled." if alone else "")  # fmt: skip
    except typer.Exit:
        on.say("The round goes on; the container waits for its label.")


def note_it(on: "Walk", rest: str) -> None:
    """A note of the container, or of the unit where none was scanned."""
    from holdlog.kitchen.round import note

    about = show(on.last) if on.last else f"the {on.unit.name}"
    text = rest or on.lines.ask(f"Note of {about}:")
    if text:
        note(on.shop, on.by, on.round, on.unit, text, on.last)
        on.say(f"Noted of {about}.")


def unlabelled(on: "Walk", rest: str) -> None:
    """Food without a label: what it is and how much; it is binned by rule."""
    from holdlog.core.amounts import read_amount, read_named
    from holdlog.kitchen.round import found

    what = rest or on.lines.ask("Food without a label. What is it?")
    if not what:
        return
    what, amount = read_named(what)
    said: str | None = ""
    while amount is None and (said := on.lines.ask("How much? (1.5kg; Enter: not known)")):
        try:
            amount = read_amount(said)
            break
        except Mistake as mistake:
            on.say(mistake.line())
    if said is None:
        return
    found(on.shop, on.by, on.round, on.unit, what, amount)
    much = f", {amount}" if amount else ""
    loud(BLOCKS["bin"], f"BIN NOW: NO LABEL · {what}{much}; it is recorded.")


def example(on: "Walk") -> str:
    """How a reading is typed: on a bare number it is not known which scale was read."""
    return "38F" if on.shop.scale == "F" else "3C"


def temperature(on: "Walk", rest: str) -> None:
    """What the unit reads. Beyond its limit, all that is in it goes on hold in the same step."""
    from holdlog.core.temperature import read_temperature
    from holdlog.kitchen.round import come_to
    from holdlog.kitchen.unit_read import read_unit

    text = rest or on.lines.ask(f"Temperature of the {on.unit.name}? (as {example(on)})")
    if not text:
        return
    done = read_unit(on.shop, on.by, on.unit, on.shop.now(), read_temperature(text))
    come_to(on.shop, on.by, on.round, on.unit, done.reading.entry)
    _read_told(on, done)


def _read_told(on: "Walk", done: "UnitWasRead") -> None:
    read = done.reading.temperature
    if done.good is None or done.limit is None:
        on.say(f"{read}, recorded.")
        return
    limit = done.limit.show(read.scale)
    if done.good:
        on.say(f"{read}: good ({limit}).")
        if done.still:
            on.say(f"{count_of(len(done.still), 'container')} on hold from before.")
        return
    since = (
        f"since {moment_told(done.since.at, on.shop)}" if done.since else "since when is unknown"
    )
    count = count_of(len(done.rows), "container")
    loud(BLOCKS["hold"], f"{on.unit.name.upper()} ON HOLD · {read}, not {limit}, {since}; {count}")
    say(rows_told(done.rows, on.shop))
    ring(2)
    if done.left:
        say(["  Was in it and is not there now:", *(row_line(row, on.shop) for row in done.left)])


def shelf(on: "Walk", rest: str) -> None:
    """On which shelf the next scans stand; 1 is the top one, nothing: not said."""
    if not rest:
        on.shelf = None
        on.say("No shelf. Say s 1 for the top one.")
        return
    if rest not in map(str, range(1, MOST_SHELVES + 1)):
        raise Mistake("bad-shelf", f"{quoted(rest)} is no shelf.", "Say s 1 for the top one, s 2 …")
    on.shelf = int(rest)
    on.say(f"Shelf {on.shelf}; 1 is the top one.")


def take_back(on: "Walk", _rest: str) -> None:
    """Void what this cook did last in the round. It stays readable."""
    from holdlog.kitchen import round as job

    last = job.last_done(on.shop, on.round, on.by)
    if last is None:
        on.say("You have done nothing in this round that could be taken back.")
        return
    subject = "" if last.subject == on.round.subject else f"{_shown(on, last.subject)}: "
    if on.lines.yes(f"Take back entry {last.number}, {subject}{last.says}?"):
        back = job.take_back(on.shop, on.by, on.round, last)
        on.last = next((row.code for row in back.rows if row.code == last.subject), on.last)
        on.say(f"Taken back: {back.says}.")
        say(rows_told([row for row in back.rows if row.ended_at is None], on.shop))


def _shown(on: "Walk", subject: str) -> str:
    return show(subject) if subject in on.round.latest else subject
