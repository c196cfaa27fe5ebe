"""The end of a round: what was not seen is asked about one by one, then it is signed."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from holdlog.cli import round_keys as keys
from holdlog.cli.round_words import outcome_parts
from holdlog.cli.show import at_told, row_line, say
from holdlog.core.codes import show
from holdlog.core.errors import Mistake

if TYPE_CHECKING:
    from holdlog.cli.round_walk import Walk
    from holdlog.journal.on_hand import ContainerRow
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.round import Round

THERE, USED, BINNED, MOVED, REST = range(5)
ANSWERS = (
    "there, I see it", "used up", "binned", "in another unit", "leave this and the rest open",
)  # fmt: skip


def close(on: "Walk", scan: "Callable[[Walk, str], None]") -> bool:
    """Ask, report, and end the round. Whether it was ended.

    Nothing is closed silently: what nobody can tell stays on hand, and on record as not seen.
    """
    from holdlog.kitchen.round_end import end, outcome

    if not _alone(on):
        on.say(f"Round {on.round.id} stays open.")
        return False
    _elsewhere(on)
    _not_seen(on, scan)
    say(["", *outcome_parts(outcome(on.shop, on.round), on.shop)[:-2]])
    signed = ""
    while not signed:
        answer = on.lines.ask("Initials of the person in charge? (Enter: leave the round open)")
        if not answer:
            on.say(f"Round {on.round.id} stays open.")
            return False
        try:
            done = end(on.shop, on.by, on.round, answer)
        except Mistake as mistake:
            if mistake.code == "round-ended":
                raise
            on.say(mistake.line())
            continue
        signed = answer
        say([outcome_parts(done, on.shop)[-1]])
    return True


def others_told(walk: "Round", by: str, shop: "Kitchen") -> list[str]:
    """Who else walks the round: what they scan once it is ended is refused."""
    with shop.db.reading() as conn:
        walk.catch_up(conn, shop.site)
    return [
        f"{cook} was in the {unit} {at_told(at, shop)}, and may be scanning still."
        for cook, unit, at in walk.still_walking(by, shop.now())
    ]


def _alone(on: "Walk") -> bool:
    told = others_told(on.round, on.by, on.shop)
    for each in told:
        on.say(each)
    return not told or on.lines.yes(
        "What is scanned after the end is refused. End it all the same?"
    )


def _elsewhere(on: "Walk") -> None:
    from holdlog.kitchen.handle import move
    from holdlog.kitchen.round_end import outcome

    for row, unit in outcome(on.shop, on.round).elsewhere:
        question = f"{show(row.code)}, {row.item_name}: the journal says {row.unit}, seen in the"
        if on.lines.yes(f"{question} {unit}. Does it stay there?"):
            try:
                move(on.shop, on.by, row.code, on.shop.now(), on.shop.units[unit])
                on.say(f"Moved: it stands in the {unit}.")
            except Mistake as mistake:
                on.say(mistake.line())


def _not_seen(on: "Walk", scan: "Callable[[Walk, str], None]") -> None:
    from holdlog.kitchen.round_end import outcome

    rows = outcome(on.shop, on.round).not_seen
    if rows:
        say(["", f"Not seen: {len(rows)}. A scan answers for itself; Enter: nobody knows."])
    for number, row in enumerate(rows, 1):
        if _asked(on, row, f"{number} of {len(rows)}", scan):
            break


def _asked(
    on: "Walk", row: "ContainerRow", count: str, scan: "Callable[[Walk, str], None]"
) -> bool:
    """What became of a container that nobody scanned. Whether the rest is to be left open."""
    say([f"{count}: {row_line(row, on.shop).strip()}"])
    while row.code not in _seen(on):
        picked = on.lines.pick("Where is it?", ANSWERS)
        if on.lines.kept:
            # Whoever is asked where it is looks for it there.
            on.unit, on.shelf = on.shop.units.get(row.unit, on.unit), None
            scan(on, on.lines.line() or "")
            continue
        if picked is None:
            return False
        if picked == REST:
            return True
        try:
            _do(on, row, picked)
        except Mistake as mistake:
            if mistake.code == "round-ended":
                raise
            on.say(mistake.line())
            continue
        return False
    return False


def _seen(on: "Walk") -> set[str]:
    with on.shop.db.reading() as conn:
        on.round.catch_up(conn, on.shop.site)
    return set(on.round.latest)


def _do(on: "Walk", row: "ContainerRow", picked: int) -> None:
    from holdlog.cli.round_words import answer_lines
    from holdlog.kitchen.round import see

    if picked == THERE:
        unit = on.shop.units[row.unit]
        answer = see(on.shop, on.by, on.round, unit, row.code, by_eye=True)
        for line in answer_lines(answer, on.shop):
            print(line, flush=True)
    elif picked == USED:
        keys.use_up(on, "", row.code)
    elif picked == BINNED:
        keys.bin_it(on, "", row.code)
    else:
        keys.move(on, "", row.code)
