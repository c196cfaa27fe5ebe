"""What each place of a template holds for one label: text only, no sizes and no dots."""

from dataclasses import dataclass
from datetime import date, datetime

from holdlog.core import codes
from holdlog.core.errors import Mistake
from holdlog.labels.faces import state
from holdlog.labels.label import Label
from holdlog.labels.phrases import Phrase
from holdlog.labels.words import (
    ALIKE,
    BETWEEN,
    LISTED,
    Words,
    last_day_or_moment,
    measured,
    tight,
)

# How far ahead a year is no longer obvious to somebody at the shelf. Our choice, no source.
FAR_DAYS = 180

# An hour limit at midnight, where an hour has to be said: never later, and of one day only.
LAST_MINUTE = "23:59"


@dataclass(frozen=True, slots=True)
class Part:
    """One piece of text.

    ``lead`` is the caption that ``text`` begins with. Of a list, ``pieces`` are the items after
    it, so that it can be cut between items and say how many are missing, as ``more`` puts it.
    ``shorter`` are wordings to try before any cut, and ``without`` what each of them leaves
    unsaid (of those that leave nothing unsaid, ``""``); ``unsaid`` is what ``text`` does. A list
    that is cut is cut as ``lead`` and ``pieces`` have it.
    """

    key: str
    text: str
    pieces: tuple[str, ...] = ()
    lead: str = ""
    shorter: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    unsaid: str = ""
    more: str = ""  # "… +{count} more"


def say(label: Label, words: Words) -> dict[str, Part]:
    """Every part of the label that has something to say, by the name templates use for it.

    ``also`` is what the headline and the words around it say in the second language, if the
    kitchen has one. Raises the errors of ``own``.
    """
    texts = {
        "item": measured(label.item),
        "made": _made(label, words),
        "place": _place(label, words),
        "packed": _packed(label, words),
    }
    parts = {key: Part(key, text) for key, text in texts.items() if text} | own(label, words)
    if why := _why(label):
        caption = words.say("reason: {reason}", reason="")
        parts["reason"] = Part("reason", measured(caption + why), lead=caption)
    for key, said in _headline(label, words).items():
        if said:
            parts[key] = Part(key, said[0], shorter=said[1:])
    if words.second:
        parts["also"] = _also(label, words.second)
    if label.pack_rule or label.pack_wording:
        parts["wording"] = _wording(label, words)
    if label.twin:
        lid: Phrase = "Full label on the lid"
        parts["belongs"] = Part("belongs", words.say(lid), shorter=(words.brief(lid),))
    if label.stands_on:
        first, *shorter = words.small_print(label.stands_on)
        parts["small-print"] = Part("small-print", first, shorter=tuple(shorter))
    parts["allergens"] = _allergens(label, words)
    if label.cautions:
        cautions = tuple(map(measured, label.cautions))
        parts["cautions"] = Part("cautions", LISTED.join(cautions), cautions, more=words.more())
    return parts


HEAD = "journal-head"
OWN = ("code", "count", HEAD)
"""The parts in which the labels of one batch differ, or of two jobs."""


def own(label: Label, words: Words) -> dict[str, Part]:
    """The parts named in ``OWN``. Raises ``Mistake("bad-code")`` for a code that does not check:
    it could never be scanned.
    """
    if not codes.is_code(label.code):
        raise Mistake("bad-code", f"{label.code!r} is not a container code; no label was made.")
    texts = {"code": codes.show(label.code), "count": _count(label, words)}
    parts = {key: Part(key, text) for key, text in texts.items()}
    if label.journal_head:
        head = label.journal_head
        parts[HEAD] = Part(HEAD, words.say("Journal {head}", head=head), shorter=(head,))
    return parts


def with_head(said: tuple[Part, ...]) -> tuple[tuple[Part, ...], tuple[Part, ...]]:
    """What a field says with the head of the journal, if that is there, and without it.

    It is the first thing to go where there is no room. Beside the small print it follows on the
    same line, and the small print takes fewer words for it, but says as much.
    """
    head = next((part for part in said if part.key == HEAD), None)
    if head is None:
        return (), said
    rest = tuple(part for part in said if part is not head)
    if not any(part.key == "small-print" for part in rest):
        return said, rest
    return tuple(_run_on(part, head) for part in rest), rest


def _run_on(part: Part, head: Part) -> Part:
    if part.key != "small-print":
        return part
    wordings = (part.text, *part.shorter)
    first, *shorter = (
        f"{text} {tight(end)}" for end in (head.text, *head.shorter) for text in wordings
    )
    return Part(part.key, first, shorter=tuple(shorter))


def writing(label: Label, words: Words) -> tuple[str, ...]:
    """The captions of the boxes left open for the pen."""
    if state(label) == "frozen":
        return (words.say("thawed on"), words.say("use by"))
    if not label.cooling_limits:
        return (words.say("1st reading:"), words.say("2nd reading:"))
    by = label.cooling_deadlines
    return tuple(
        words.reach(limit, by[i] if i < len(by) else "")
        for i, limit in enumerate(label.cooling_limits)
    )


Said = dict[str, tuple[str, ...]]
"""Parts by name, each in the wordings that may stand there, the fullest first."""


def _headline(label: Label, words: Words) -> Said:
    """The parts around the largest thing on the label, by face; a twin says what its lid says."""
    if state(label) in ("discard", "stop", "hold", "frozen", "cooling", "hot"):
        return _state(label, words)
    return _no_use_by(label, words) if label.use_by is None else _use_by(label, label.use_by, words)


def _state(label: Label, words: Words) -> Said:
    """A state in place of a use-by."""
    left = words.say("no days left")
    full = f"{words.say('FROZEN')}{BETWEEN}{left}"
    said: dict[str, Said] = {
        "discard": {"headline": (words.say("DO NOT USE"),), "kicker": (words.say("DISCARD"),)},
        "stop": {
            "headline": (words.say("DO NOT USE"),),
            "kicker": (full, left) if label.purpose == "frozen" else (left,),
        },
        "hold": {"headline": (words.say("ON HOLD"),), "beside": (words.say("do not use yet"),)},
        "frozen": {
            "headline": (words.say("FROZEN"),),
            "beside": (words.days_left(label.days_left, label.limit_needed),),
        },
        "cooling": {
            "headline": (words.say("COOLING"),),
            "beside": (words.say("do not serve"),),
            "then": (_then(label, words),),
        },
        "hot": {"headline": (words.say("HOT HOLD"),), **_until(label, words)},
    }
    return said[state(label)]


def _until(label: Label, words: Words) -> Said:
    """How hot to keep it, and below that until when; how hot alone, where there is no limit."""
    then = _then_discard(label.use_by, words)
    keep = _keep_so(label, words)
    return {"beside": keep, "then": then} if then else {"then": keep}


def _no_use_by(label: Label, words: Words) -> Said:
    if label.limit_needed:
        return {
            "headline": (words.say("NO LIMIT KNOWN"),),
            "kicker": (words.say("ask the person in charge"),),
        }
    best = _best_by(label)
    if best is None:
        return {
            "headline": (words.say("NO DATE NEEDED"),),
            "kicker": (words.say("not TCS: no safety limit"), words.say("NOT TCS")),
        }
    return _day(label, best, ("NOT TCS", "BEST BY"), words)


def _best_by(label: Label) -> date | None:
    """The quality date, where it is the only one: never in the place of a safety limit."""
    return label.best_by if label.use_by is None and not label.limit_needed else None


def _then(label: Label, words: Words) -> str:
    if label.use_by is None:
        return words.then_no_limit(label.limit_needed)
    on, hour = last_day_or_moment(label.use_by)
    return words.then_use_by(f"{words.day_large(on)} {hour}".rstrip())


def _then_discard(use_by: date | datetime | None, words: Words) -> tuple[str, ...]:
    """``use or discard by 19:00 MON 1 JUN`` beside a state; nothing where there is no limit."""
    if use_by is None:
        return ()
    on, hour = last_day_or_moment(use_by)
    return (words.then_discard(f"{hour} {words.day_large(on)}".lstrip()),)


def _use_by(label: Label, use_by: date | datetime, words: Words) -> Said:
    on, hour = last_day_or_moment(use_by)
    if state(label) == "hour":
        day = words.day_large(on)
        hour = hour or LAST_MINUTE
        return {"kicker": words.kicker("USE OR DISCARD BY"), "headline": (hour,), "beside": (day,)}
    came: dict[str, Phrase] = {
        "thawed": "THAWED", "opened": "OPENED", "received": "RECEIVED", "reduced-oxygen": "PACKED",
    }  # fmt: skip
    how = came.get(label.purpose)
    said = _day(label, on, (how, "USE BY") if how else ("USE BY",), words)
    (day,) = said["headline"]
    return said | {"headline": (f"{hour} {day}",)} if hour else said


def _day(label: Label, on: date, kicker: tuple[Phrase, ...], words: Words) -> Said:
    far = (on - label.started.date()).days > FAR_DAYS
    year = {} if far else {"year": (str(on.year),)}
    return {"headline": (words.day_large(on, year=far),), "kicker": words.kicker(*kicker), **year}


def _also(label: Label, words: Words) -> Part:
    """The headline and what belongs to it as one line, the fullest wording first.

    What a state is followed by, a date if any, gives way last.
    """
    said = _headline(label, words)
    (headline,) = said["headline"]
    shown = state(label)
    if shown == "hour":
        moment = f"{headline} {said['beside'][0]}"
        full, *kickers = words.kicker("USE OR DISCARD BY")
        briefer = tuple(f"{kicker} {moment}" for kicker in kickers)
        without = (*("" for _ in kickers), full)
        return Part("also", words.then_discard(moment), (), "", (*briefer, moment), without)
    if shown in ("dated", "timed") or (shown == "pack" and label.use_by is not None):
        # What a date is for comes before it; how the food came here may go.
        full, *shorter = (f"{kicker} {headline}" for kicker in said["kicker"])
        return Part("also", full, shorter=tuple(shorter))
    rest = [said[key][0] for key in ("kicker", "beside", "then") if said.get(key)]
    full = BETWEEN.join([headline, *rest])
    steps = [(rest[i:], rest[:i]) for i in range(1, len(rest) + 1)]
    return Part(
        "also",
        full,
        shorter=tuple(BETWEEN.join([headline, *kept]) for kept, _ in steps),
        without=tuple(BETWEEN.join(gone) for _, gone in steps),
    )


def _wording(label: Label, words: Words) -> Part:
    """What its rule wants on a pack, in both languages where there is room for that."""
    free = tuple(map(measured, label.pack_wording))
    rule = label.pack_rule
    if rule is None:
        return Part("wording", " ".join(free))
    first = BETWEEN.join((*words.pack_rule(rule.limit, rule.days), *free))
    if not words.second:
        return Part("wording", first)
    other = BETWEEN.join(words.second.pack_rule(rule.limit, rule.days))
    return Part("wording", f"{first}{BETWEEN}{other}", shorter=(first,), without=(other,))


# The faces whose use-by does not carry the year, or that have none.
_YEARLESS = ("unknown", "stop", "frozen", "hour", "hot", "hold", "discard")


def _made(label: Label, words: Words) -> str:
    with_year = not label.frozen_on and state(label) in _YEARLESS
    days = []
    if label.discarded:
        when = words.moment(label.discarded)
        days += [tight(f"{words.say('Set aside')} {when}"), tight(label.by)]
    if label.thawed_on:
        days.append(words.thawed(label.thawed_on))
    if label.frozen_on:
        days.append(words.frozen(label.frozen_on, first=not days))
    came: dict[str, Phrase] = {"opened": "Opened", "received": "Received"}
    verb = words.say(came.get(label.purpose, "made" if days else "Made"))
    days.append(tight(f"{verb} {words.moment(label.started, with_year)}"))
    if label.by and not label.discarded:
        days.append(tight(label.by))
    return BETWEEN.join(text for text in days if text)


def _packed(label: Label, words: Words) -> str:
    """When the pack was sealed, with its year and hour: its rule wants them on it."""
    if state(label) != "pack":
        return ""
    when = words.moment(label.packed or label.started, year=True)
    return tight(f"{words.say('Packed')} {when}")


def _why(label: Label) -> str:
    return {"discard": label.reason, "hold": label.held}.get(state(label), "")


def _place(label: Label, words: Words) -> str:
    # A hot box says beside its state how hot.
    keep = "" if state(label) == "hot" else _keep_at(label, words)
    return BETWEEN.join(tight(text) for text in (label.amount, label.unit, keep) if text)


def _keep_at(label: Label, words: Words) -> str:
    keep = label.keep_at
    return keep if isinstance(keep, str) else words.keep(keep.limit, keep.side)


def _keep_so(label: Label, words: Words) -> tuple[str, ...]:
    """``keep at 135 °F or above``, as a sentence of its own."""
    keep = label.keep_at
    if isinstance(keep, str):
        return (keep,) if keep else ()
    return words.keep_long(keep.limit, keep.side), words.keep(keep.limit, keep.side)


def _count(label: Label, words: Words) -> str:
    count = words.number_of(label.number, label.count)
    return f"{words.copy(label.reprint)}{BETWEEN}{count}" if label.reprint else count


def _allergens(label: Label, words: Words) -> Part:
    """The allergens, each in both languages where there is room for that; the first alone else."""
    lead = f"{words.say('ALLERGENS')} "
    pieces = tuple(map(words.allergen, label.allergens)) or (words.say("none listed"),)
    text = lead + LISTED.join(pieces)
    if not words.second:
        return Part("allergens", text, pieces, lead, more=words.more())
    also = words.second
    others = tuple(map(also.allergen, label.allergens)) or (also.say("none listed"),)
    both = LISTED.join(_alike(*pair) for pair in zip(pieces, others, strict=True))
    full = f"{_alike(words.say('ALLERGENS'), also.say('ALLERGENS'))} {both}"
    without = LISTED.join(dict.fromkeys(others) if label.allergens else ())
    return Part("allergens", full, pieces, lead, (text,), (without,), more=words.more())


def _alike(one: str, other: str) -> str:
    """``milk/leche``; a word that both languages share stands once."""
    return one if one.casefold() == other.casefold() else f"{one}{ALIKE}{other}"
