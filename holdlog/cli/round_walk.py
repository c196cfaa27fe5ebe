"""Walking a round: each unit's temperature, then scan after scan, each answered at once."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from holdlog.cli import round_keys as keys
from holdlog.cli.onto import Place
from holdlog.cli.round_close import close
from holdlog.cli.round_input import Input, ring
from holdlog.cli.round_words import BELLS, RAW, answer_lines
from holdlog.cli.show import note, say
from holdlog.core.codes import LENGTH, looks_like_a_code, show
from holdlog.core.errors import HoldlogError, Mistake
from holdlog.kitchen.reconcile import RAW_BELOW

if TYPE_CHECKING:
    from holdlog.kitchen.kitchen import Kitchen, Unit
    from holdlog.kitchen.round import Round

# What is shorter is a key that was missed, and no code.
SHORTEST = 3
KEYS = (
    "  d bin it   u use it up   m move it   f freeze it   l label it   n note",
    "  x food without a label   t temperature of the unit   s shelf (1 is the top)",
    "  v take back what was done last   g go to another unit   e end this unit",
    "  q leave; the round stays open   ? these keys",
    "  Each with Enter. A code needs no key.",
)


BARRED = {
    "unknown": ("That code is no container here.", "Food that is not known: bin it with x."),
    "ended": (
        "The journal has it gone.",
        "If it is there, void the entry that ended it (holdlog why CODE), then scan it again.",
    ),
}


@dataclass(slots=True)
class Walk:
    """One cook on a round: where she stands, and what she scanned last (a code, or empty).

    ``barred``: why nothing can be done to what was scanned last, and what to do instead.
    """

    shop: "Kitchen"
    by: str
    round: "Round"
    units: "list[Unit]"
    place: Place
    lines: Input
    unit: "Unit"
    shelf: int | None = None
    last: str = ""
    barred: tuple[str, str] | None = None

    def say(self, text: str) -> None:
        """A line of its own, indented under the answers."""
        say([f"  {text}"])


def walk(on: Walk) -> None:
    """Walk until the units, or the lines, or the cook's patience are at an end.

    The round stays open unless it was ended, and is gone on with where it stood.
    """
    arrive(on)
    while True:
        text = on.lines.line(f"{on.unit.name}> ")
        if text is None:
            break
        on.shop.db.kept = False
        try:
            more = _line(on, text)
        except HoldlogError as error:
            _told(on, error, text)
            more = error.code != "round-ended"
        if not more:
            break
    leave(on)


def leave(on: Walk) -> None:
    """Say where the round stands, if it is open."""
    if on.round.end is None:
        say([f"Round {on.round.id} stays open. Go on with it: holdlog round --resume"])


def _told(on: Walk, error: HoldlogError, text: str) -> None:
    """A line that came to nothing is told at once: it may have been a scan."""
    if not isinstance(error, Mistake) or error.code == "round-ended":
        perhaps = error.code == "outcome-unknown" or on.shop.db.kept
        note(f"{'PERHAPS ' if perhaps else ''}NOT RECORDED: {text}. {error.line()}")
        ring(2)
        return
    on.say(error.line())


def arrive(on: Walk) -> None:
    """Come to a unit: its temperature is asked first, unless it was read in this round."""
    from holdlog.kitchen import round as job
    from holdlog.kitchen.units import limit_of

    on.shelf = on.shelf if on.unit.name == on.units[0].name else None
    number = [unit.name for unit in on.units].index(on.unit.name) + 1
    say([f"-- {on.unit.name} ({number} of {len(on.units)}) --"])
    if on.round.came_to.get(on.unit.name, ("", None))[1] is not None:
        return
    with on.shop.db.reading() as conn:
        limit = limit_of(on.shop.current(conn).stack(conn), on.unit, on.shop.where)
    if limit is None:
        job.come_to(on.shop, on.by, on.round, on.unit)
        return
    while True:
        text = on.lines.ask(
            f"Temperature of the {on.unit.name}? (as {keys.example(on)}; Enter: not read)"
        )
        if not text or _is_key(text):
            job.come_to(on.shop, on.by, on.round, on.unit)
            on.say(f"The {on.unit.name} was not read; key t when you have it.")
            if text:
                on.lines.keep(text)
            return
        try:
            keys.temperature(on, text)
        except Mistake as mistake:
            on.say(mistake.line())
            if mistake.code == "round-ended":
                return
            continue
        return


def _is_key(text: str) -> bool:
    return text[:1].lower() in (*ACTIONS, "?") and text[1:2] in ("", " ")


def _is_words(text: str) -> bool:
    """Whether it is letters alone, and not as many as a code has: "quit", "bin it"."""
    letters = text.replace(" ", "")
    return letters.isascii() and letters.isalpha() and len(letters) < LENGTH


def _is_reading(text: str) -> bool:
    from holdlog.core.temperature import read_temperature

    try:
        read_temperature(text)
    except Mistake:
        return False
    return True


def _line(on: Walk, text: str) -> bool:
    """One line: a key with what follows it, or a scan. Whether the walk goes on."""
    if not text:
        return True
    if _is_key(text):
        word, _, rest = text.partition(" ")
        return _key(on, word.lower(), rest.strip())
    if _is_reading(text):
        on.say(f"A temperature of the {on.unit.name}? Say it with its key: t {text}")
        return True
    if not looks_like_a_code(text) and (len(text) < SHORTEST or _is_words(text)):
        on.say(f"{text!r} is neither a key nor a code. Keys: ?")
        return True
    scan(on, text)
    return True


def scan(on: Walk, text: str) -> None:
    """Write a scan down, and answer it."""
    from holdlog.kitchen.round import see

    on.last, on.barred = "", None
    answer = see(on.shop, on.by, on.round, on.unit, text, shelf=on.shelf)
    for line in answer_lines(answer, on.shop):
        print(line, flush=True)
    if answer.row is not None and answer.row.ended_at is None:
        on.last = answer.row.code
    else:
        on.barred = BARRED["unknown" if answer.row is None else "ended"]
    ring(BELLS.get(answer.word, 0))


def _key(on: Walk, word: str, rest: str) -> bool:
    if word == "?":
        say(KEYS)
        return True
    if word == "q":
        return False
    if word == "e":
        return _end_unit(on)
    if word == "g":
        return _go(on, rest)
    ACTIONS[word](on, rest)
    return True


def _go(on: Walk, rest: str) -> bool:
    names = [unit.name for unit in on.units]
    picked = on.lines.pick("To which unit?", names, rest)
    if picked is not None:
        on.unit, on.last = on.units[picked], ""
        arrive(on)
    return True


def _end_unit(on: Walk) -> bool:
    _flag_raw(on)
    number = [unit.name for unit in on.units].index(on.unit.name) + 1
    if number < len(on.units):
        on.unit, on.last = on.units[number], ""
        arrive(on)
        return True
    if on.lines.yes(f"That was the last unit. End round {on.round.id} now?"):
        return not close(on, scan)
    if not on.lines.kept:
        on.say(f"Round {on.round.id} stays open, and you in the {on.unit.name}; q leaves it.")
    return True


def _flag_raw(on: Walk) -> None:
    """Raw animal food seen above ready-to-eat food, before the unit is left."""
    from holdlog.kitchen.round_end import raw_flagged

    here = raw_flagged(on.shop, on.round, on.unit)
    if here:
        keys.loud(RAW, f"RAW ABOVE READY-TO-EAT · move it below ({RAW_BELOW}):")
        for row in here:
            shelf = on.round.latest[row.code].shelf
            on.say(f"shelf {shelf}  {show(row.code)}  {row.item_name}")
        ring(2)


def _nothing(_: Walk, __: str) -> None:
    """Keys that the walk itself understands."""


ACTIONS: "dict[str, Callable[[Walk, str], None]]" = {
    "d": keys.bin_it, "u": keys.use_up, "m": keys.move, "f": keys.freeze, "l": keys.label,
    "n": keys.note_it, "x": keys.unlabelled, "t": keys.temperature, "s": keys.shelf,
    "v": keys.take_back, "e": _nothing, "g": _nothing, "q": _nothing,
}  # fmt: skip
