"""Text into a box: as large as fits, wrapped, never below its floor, else visibly cut.

Everything is in dots and nothing is drawn.
"""

from dataclasses import dataclass, replace
from itertools import product

from holdlog.labels import lettering
from holdlog.labels.content import Part
from holdlog.labels.faces import ALWAYS, NEVER_CUT
from holdlog.labels.fields import Field
from holdlog.labels.geometry import MM_PER_INCH, Dots, dots
from holdlog.labels.typefaces import Fonts
from holdlog.labels.words import ALIKE, BETWEEN, CUT, LISTED

_DOT = BETWEEN.rstrip()

# How much smaller letters may get to save a line. Our eye's choice, no source.
_FEWER_LINES = 0.85

# Where a piece that is too wide for any line is broken rather than within a word.
_SEAMS = ("\N{NO-BREAK SPACE}", "-", ALIKE)

# Read as one phrase: two or three lines of even length read better than a word by itself.
_PHRASES = ("item", "kicker", "headline", "beside", "then", "belongs")
_FEW = 3

# Where a label says things twice, the shelf it stands on goes before its second language does.
_FIRST_TO_GO = ("place",)

# A word or two of a reason say nothing, or the wrong thing.
_NO_SHREDS = ("reason",)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text: ``baseline`` counts from the top of the box, ``width`` is its ink."""

    text: str
    bold: bool
    px: int
    baseline: int
    left: int
    width: int


@dataclass(frozen=True, slots=True)
class Fitted:
    """Lines that fit, their cap height and the height they take; by part, what was ``lost`` by a
    cut, and what a shorter wording or a part that was left out leaves ``unsaid``.
    """

    lines: tuple[Line, ...]
    cap: int
    height: int
    lost: tuple[tuple[str, str], ...] = ()
    unsaid: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Room:
    """What a text may take: a box in dots, cap heights, lines, and how it is set.

    ``keep`` names the parts that are cut last, ``bold`` those set in bold; ``fonts`` are those
    of the kitchen, for signs that the label font lacks.
    """

    width: int
    height: int
    largest: int
    least: int
    lines: int
    bold: tuple[str, ...] = ()
    keep: tuple[str, ...] = ()
    fonts: Fonts = ()


def room(field: Field, box: Dots, dpi: int, fonts: Fonts = ()) -> Room:
    """The room that ``field`` gives its text, in the dots of ``box``."""
    # Up, since the floor is a floor; the 0.05 forgives 1.5 mm being 11.99 dots.
    least = -int(-(field.least * dpi / MM_PER_INCH - 0.05) // 1)
    largest = max(least, dots(field.largest, dpi))
    return Room(box.width, box.height, largest, least, field.lines, field.bold, field.keep, fonts)


def fit(parts: tuple[Part, ...], room: Room) -> Fitted:
    """Set ``parts`` one below another in ``room``.

    Takes the largest cap height at which everything fits, or one a little smaller that needs
    fewer lines. If even the least does not do, parts take shorter wordings, those that leave
    least unsaid; then they lose lines from the last upwards, those in ``keep`` only after all
    others, and those of ``faces.NEVER_CUT`` not at all; what is cut ends in ``…`` (a list: in
    ``… +3 more``). Of a phrase, lines of even length are made: ``keep at 135 °F / or above``.
    """
    worded = _wordings(parts)
    for lightest in (True, False):
        for said in worded:
            fitted = _largest(said, room) if lightest else None
            if fitted is None and len(worded) > 1:
                fitted = _cut(said, room)
                lost = {key for key, _ in fitted.lost}
                fitted = fitted if _light(lost, room, lightest=lightest) else None
            if fitted is not None:
                return fitted
    return _fragment_left_out(worded[-1], room) or _cut(worded[-1], room)


def fit_whole(parts: tuple[Part, ...], room: Room) -> Fitted | None:
    """``parts`` in the fullest wordings that fit with nothing cut, or None: for what may go."""
    found = (_largest(said, room) for said in _wordings(parts))
    return next((fitted for fitted in found if fitted is not None), None)


def _light(lost: set[str], room: Room, *, lightest: bool) -> bool:
    """Whether losing these parts is better than saying others in fewer words."""
    if lightest:
        return lost.issubset(_FIRST_TO_GO)
    return not lost.intersection((*room.keep, *NEVER_CUT, *ALWAYS, *_NO_SHREDS))


def _wordings(parts: tuple[Part, ...]) -> list[tuple[Part, ...]]:
    """All ways to say ``parts``: those that leave least unsaid first, the fuller before others."""
    ways = [tuple(_said(part, step) for step in range(len(part.shorter) + 1)) for part in parts]
    said = list(product(*ways))
    return sorted(said, key=lambda each: (_unsaid(each), sum(len(part.text) for part in each) * -1))


def _said(part: Part, step: int) -> Part:
    """``part`` in the wording ``step`` steps shorter than its fullest."""
    if step == 0:
        return replace(part, shorter=(), without=())
    unsaid = part.without[step - 1] if part.without else ""
    return replace(part, text=part.shorter[step - 1], shorter=(), without=(), unsaid=unsaid)


def _unsaid(parts: tuple[Part, ...]) -> int:
    return sum(len(part.unsaid) for part in parts)


def _largest(parts: tuple[Part, ...], room: Room) -> Fitted | None:
    """All of ``parts``, as large as they fit; ``None``: not even at the least size."""
    best: Fitted | None = None
    for cap in range(room.largest, room.least - 1, -1):
        if best and (len(best.lines) <= len(parts) or cap < best.cap * _FEWER_LINES):
            break
        fitted = _whole(parts, cap, room)
        if fitted and (best is None or len(fitted.lines) < len(best.lines)):
            best = fitted
    return best and (_whole(parts, best.cap, room, even=True) or best)


def _fragment_left_out(parts: tuple[Part, ...], room: Room) -> Fitted | None:
    """Without a part that is worth nothing in shreds, if a cut would take a third of it or more."""
    shreds = [part for part in parts if part.key in _NO_SHREDS]
    if not shreds or len(shreds) == len(parts):
        return None
    lost = dict(_cut(parts, room).lost)
    gone = [part for part in shreds if 3 * len(lost.get(part.key, "")) >= len(part.text)]
    if not gone:
        return None
    fitted = fit(tuple(part for part in parts if part not in gone), room)
    return replace(fitted, unsaid=fitted.unsaid + tuple((part.key, part.text) for part in gone))


def _whole(parts: tuple[Part, ...], cap: int, room: Room, *, even: bool = False) -> Fitted | None:
    """All of ``parts`` at one size. Words are broken only where no smaller size is left."""
    texts = []
    for part in parts:
        lines, broken = _wrap(
            part.text, cap, part.key in room.bold, room, unbroken=cap > room.least
        )
        if broken and cap > room.least:
            return None
        texts.append(_evened(part, lines, cap, room) if even and not broken else lines)
    return _stack(texts, parts, cap, room)


def _evened(part: Part, lines: list[str], cap: int, room: Room) -> list[str]:
    """The lines of a phrase, as narrow as they can be without one more."""
    if part.key not in _PHRASES or not 1 < len(lines) <= _FEW:
        return lines
    low, high = room.width // len(lines), room.width
    while low < high:
        width = (low + high) // 2
        narrow, broken = _wrap(part.text, cap, part.key in room.bold, replace(room, width=width))
        if broken or len(narrow) > len(lines):
            low = width + 1
        else:
            lines, high = narrow, width
    return lines


def _cut(parts: tuple[Part, ...], room: Room) -> Fitted:
    cap = room.least
    allowed = {
        part.key: len(_wrap(part.text, cap, part.key in room.bold, room)[0]) for part in parts
    }
    # What may lose a line, in the order in which it does: others before kept, one line is the
    # least of a part, and a part that is not kept may go altogether before a kept one is cut.
    cuttable = [part.key for part in reversed(parts) if part.key not in NEVER_CUT]
    others = [key for key in cuttable if key not in room.keep]
    kept = [key for key in cuttable if key in room.keep]
    steps = [key for key in others for _ in range(allowed[key] - 1)]
    steps += others if len(others) < len(parts) else []
    steps += [key for key in kept for _ in range(allowed[key] - 1)]
    # The last resort: what is never cut has its lines, and the name keeps one.
    steps += [key for key in kept if key not in ALWAYS] if len(kept) < len(parts) else []
    for step in steps:
        allowed[step] -= 1
        cuts = [_shorten(part, allowed[part.key], cap, room) for part in parts]
        _mark_what_went(parts, cuts, allowed, cap, room)
        fitted = _stack([lines for lines, _ in cuts], parts, cap, room)
        if fitted:
            lost = tuple(
                (part.key, rest) for part, (_, rest) in zip(parts, cuts, strict=True) if rest
            )
            return replace(fitted, lost=lost)
    # Not even one line each: a template that lets this happen does not load.
    return Fitted((), cap, 0, tuple((part.key, part.text) for part in parts))


def _shorten(part: Part, allowed: int, cap: int, room: Room) -> tuple[list[str], str]:
    """``part`` in at most ``allowed`` lines, and the text that was lost."""
    bold = part.key in room.bold
    lines, _ = _wrap(part.text, cap, bold, room)
    if not lines or len(lines) <= allowed:  # a text of blanks takes no line to begin with
        return lines, ""
    if allowed <= 0:
        return [], part.text
    for count in range(len(part.pieces) - 1, 0, -1):
        shown = part.lead + LISTED.join(part.pieces[:count])
        text = f"{shown} {part.more.format(count=len(part.pieces) - count)}"
        shorter, _ = _wrap(text, cap, bold, room)
        if len(shorter) <= allowed:
            return shorter, LISTED.join(part.pieces[count:])
    last, rest = _end(lines[allowed - 1], cap, bold, room)
    return [*lines[: allowed - 1], last], " ".join([rest, *lines[allowed:]]).strip()


def _end(line: str, cap: int, bold: bool, room: Room) -> tuple[str, str]:
    """``line`` ending in ``…``, and what had to go from its end to make room for that."""
    px = lettering.size_for(cap, bold)
    shown = line
    while shown and lettering.width(shown + CUT, px, bold, room.fonts) > room.width:
        shown = shown[:-1]
    if shown and line[len(shown) : len(shown) + 1] not in ("", " ") and " " in shown.strip():
        shown = shown[: shown.rstrip().rindex(" ")]  # not within a word
    return shown.rstrip().removesuffix(_DOT) + CUT, line[len(shown) :]


def _mark_what_went(
    parts: tuple[Part, ...],
    cuts: list[tuple[list[str], str]],
    allowed: dict[str, int],
    cap: int,
    room: Room,
) -> None:
    """Leave a ``…`` where a whole part went: after the part before it, else before the next one,
    else at the end of that or of one after it, wherever there is room for a sign.

    Without it nobody at the shelf could tell that something is missing. A part that is never cut
    loses nothing for it, and one that is cut last only where there is no other way.
    """
    for i, (lines, rest) in enumerate(cuts):
        if lines or not rest:
            continue
        earlier = [j for j in range(i) if cuts[j][0]]
        later = [j for j in range(i + 1, len(cuts)) if cuts[j][0]]
        if earlier and _marked_end(earlier[-1], parts, cuts, cap, room):
            continue
        if any(CUT in line for j in later for line in cuts[j][0]):
            continue
        if later and not _marked_start(later[0], parts, cuts, cap, room):
            if any(_marked_end(j, parts, cuts, cap, room, whole=True) for j in reversed(later)):
                continue
            j = later[0]
            marked = replace(parts[j], text=f"{CUT} {parts[j].text}", lead=f"{CUT} {parts[j].lead}")
            if marked.key not in NEVER_CUT:
                cuts[j] = _shorten(marked, allowed[marked.key], cap, room)


def _marked_start(
    j: int, parts: tuple[Part, ...], cuts: list[tuple[list[str], str]], cap: int, room: Room
) -> bool:
    """Put a ``…`` before part ``j``, if that takes no line more."""
    shown, lost = cuts[j]
    lines, broken = _wrap(f"{CUT} {' '.join(shown)}", cap, parts[j].key in room.bold, room)
    if broken or len(lines) > len(shown):
        return False
    cuts[j] = lines, lost
    return True


def _marked_end(
    j: int,
    parts: tuple[Part, ...],
    cuts: list[tuple[list[str], str]],
    cap: int,
    room: Room,
    *,
    whole: bool = False,
) -> bool:
    """Put a ``…`` at the end of part ``j``; ``False`` where that would cut what is never cut, or
    anything at all and it is to stay ``whole``.
    """
    shown, lost = cuts[j]
    if shown[-1].endswith(CUT):
        return True
    last, more = _end(f"{shown[-1]} ", cap, parts[j].key in room.bold, room)
    if more.strip() and (whole or parts[j].key in NEVER_CUT):
        return False
    cuts[j] = [*shown[:-1], last], f"{more} {lost}".strip()
    return True


def _stack(texts: list[list[str]], parts: tuple[Part, ...], cap: int, room: Room) -> Fitted | None:
    """The lines below one another, no ink touching the next line's; ``None`` if too tall."""
    count = sum(map(len, texts))
    # Before anything is set in dots: lines are never closer than this.
    if count > room.lines or cap + (count - 1) * round(cap * 1.42) > room.height:
        return None
    lines: list[Line] = []
    baseline, below = 0, 0
    for part, part_lines in zip(parts, texts, strict=True):
        bold = part.key in room.bold
        px = lettering.size_for(cap, bold)
        for text in part_lines:
            left, top, right, bottom = lettering.ink(text, px, bold, room.fonts)
            above = max(cap, -top)
            if lines:
                baseline += max(round(cap * 1.42), below + above + max(1, cap // 8))
            else:
                baseline = above
            below = max(0, bottom)
            lines.append(Line(text, bold, px, baseline, left, right - left))
    height = baseline + below
    if height > room.height:
        return None
    unsaid = tuple((part.key, part.unsaid) for part in parts if part.unsaid)
    return Fitted(tuple(lines), cap, height, unsaid=unsaid)


def _wrap(
    text: str, cap: int, bold: bool, room: Room, *, unbroken: bool = False
) -> tuple[list[str], bool]:
    """``text`` in lines no wider than ``room``, and whether a word had to be broken.

    ``unbroken``: stop at such a word, for whoever wants no lines then.
    """
    px = lettering.size_for(cap, bold)
    lines: list[str] = []
    broken = False
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if lettering.width(longer, px, bold, room.fonts) <= room.width:
            line = longer
            continue
        if line:
            lines.append(line.removesuffix(_DOT))  # a separator at the end of a line says nothing
        line = word if word != BETWEEN.strip() else ""
        while lettering.width(line, px, bold, room.fonts) > room.width:
            broken = True
            if unbroken:
                return [], broken
            end = len(line) - 1
            while end > 1 and lettering.width(line[:end], px, bold, room.fonts) > room.width:
                end -= 1
            seam = max(line.rfind(sign, 1, end) + 1 for sign in _SEAMS)
            end = seam or end
            lines += [line[:end].rstrip()] if line[:end].strip() else []
            line = line[end:]
    return [*lines, line] if line else lines, broken
