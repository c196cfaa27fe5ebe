"""A round in words: the answer to each scan, and what the round came to.

Each answer is one line that begins with a block of one plain character, a different one for each
kind, and then says it in capitals: it is told apart at arm's length, without colour.
"""

import sys
from typing import TYPE_CHECKING, Any

from holdlog.cli.show import at_told, columns, count_of, limit, moment, row_json, row_line
from holdlog.core.codes import show
from holdlog.core.moments import Instant
from holdlog.core.visible import visible
from holdlog.kitchen.reconcile import RAW_BELOW
from holdlog.reports.tables import Table
from holdlog.reports.wrapping import wrap

if TYPE_CHECKING:
    from holdlog.core.events import RoundAnswer
    from holdlog.journal.on_hand import ContainerRow
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.round import Answer, Round
    from holdlog.kitchen.round_end import Outcome, UnitWalked

WIDE = 8
# Of what no scan is answered with: raw food above food that is eaten as it is.
RAW = "^"
BLOCKS: "dict[RoundAnswer, str]" = {
    "serve": ".", "again": "-", "frozen": "*", "today": ":", "belongs": ">", "no-limit": "!",
    "hold": "=", "bin": "#", "ended": "x", "unknown": "?",
}  # fmt: skip
# How often the terminal's bell rings: not for what may be served.
BELLS: "dict[RoundAnswer, int]" = {
    "today": 1, "belongs": 1, "no-limit": 2, "hold": 2, "bin": 2, "ended": 2, "unknown": 2,
}  # fmt: skip
COUNTED: "tuple[tuple[RoundAnswer, str], ...]" = (
    ("serve", "to serve"), ("frozen", "frozen"),
    ("today", "to use today"), ("no-limit", "without a known limit"), ("hold", "on hold"),
    ("bin", "to bin"), ("belongs", "in the wrong unit"), ("ended", "ended already"),
)  # fmt: skip


def answer_lines(answer: "Answer", shop: "Kitchen") -> list[str]:
    """The answer to a scan: one line, wrapped where the screen is narrow."""
    said = (_words(answer, shop).upper(), *_beside(answer, shop))
    return large(BLOCKS[answer.word], " · ".join(filter(None, said)))


def large(block: str, text: str) -> list[str]:
    """A line that is seen at arm's length: a block of one character, then ``text``."""
    lines = wrap(visible(text), columns(), first=f"{block * WIDE}  ", rest=" " * (WIDE + 2))
    return [f"\x1b[1m{line}\x1b[0m" for line in lines] if _bold() else lines


def _bold() -> bool:
    import os

    return sys.stdout.isatty() and os.environ.get("TERM", "dumb") != "dumb"


def _words(answer: "Answer", shop: "Kitchen") -> str:
    row, line = answer.row, answer.line
    if row is None:
        return f"unknown code {answer.typed}"
    if row.ended_at is not None:
        return f"ended already: {row.ended_as} {at_told(row.ended_at, shop)}"
    plain = {
        "bin": "bin now", "hold": "on hold", "no-limit": "no limit known",
        "belongs": f"belongs in the {row.unit}", "frozen": limit(row, shop),
    }  # fmt: skip
    if answer.word == "hold" and line is not None and line.verdict == "reheat":
        return "on hold, reheat"
    if answer.word == "again" and answer.before is not None:
        return f"seen already {at_told(answer.before.at, shop)} by {answer.before.by}"
    return plain.get(answer.word) or _until(row, shop, today=answer.word == "today")


def _until(row: "ContainerRow", shop: "Kitchen", *, today: bool = False) -> str:
    said = limit(row, shop)
    if row.state == "frozen":
        return said
    if row.use_by is None:
        return f"serve, {said}"
    whole_day = ":" not in said
    if today:
        return "use today" if whole_day else f"use today until {said}"
    return f"serve until {said}"


def _beside(answer: "Answer", shop: "Kitchen") -> list[str]:
    """What is told after the answer, in plain letters."""
    row, line = answer.row, answer.line
    if row is None:
        if answer.near:
            return [f"mistyped? Perhaps {' or '.join(show(code) for code in answer.near)}"]
        unread = "it is no code of a label: scan it again, or read it from the label"
        if not answer.typed.isascii():
            unread = "is the keyboard set to another language? No code of a label has such letters"
        return [unread if answer.mistyped else "no container here has it: not known, so not served"]
    parts = []
    if row.ended_at is not None:
        parts.append("if it is food, it is on no list: bin it, or void the entry that ended it")
    elif line is not None and line.reason and answer.word in ("bin", "hold"):
        parts.append(line.reason.rstrip("."))
    elif answer.word == "no-limit":
        parts.append("the person in charge decides")
    elif answer.word in ("belongs", "again"):
        parts.append("use today" if line and line.verdict == "last-day" else _until(row, shop))
    parts.append(", ".join(filter(None, (row.item_name, row.amount))))
    parts.append(show(row.code))
    if answer.word in ("bin", "hold", "no-limit") and answer.before is not None:
        parts.append("seen already")
    if answer.label_misleads:
        parts.append("ITS LABEL SAYS LATER: make a new one")
    return parts


def answer_json(answer: "Answer", shop: "Kitchen") -> dict[str, Any]:
    """The answer to a scan, for programs."""
    line = answer.line
    return {
        "scanned": answer.typed,
        "answer": answer.word,
        "verdict": line.verdict if line is not None else None,
        "reason": (line.reason if line is not None else "") or None,
        "near": list(answer.near),
        "label_says_later": answer.label_misleads,
        "container": row_json(answer.row, shop) if answer.row is not None else None,
    }


# ---- what it came to -------------------------------------------------------------------------


def outcome_parts(found: "Outcome", shop: "Kitchen") -> "list[Table | str]":
    """The report of a round for people."""
    walk = found.round
    parts: list[Table | str] = [
        f"{shop.name} · round {walk.id}, begun {at_told(walk.at, shop)} by {walk.by}"
        + (f", walked by {' and '.join(walk.cooks)}" if len(walk.cooks) > 1 else "")
    ]
    units = tuple((each.unit, _read(each), f"{each.seen} seen") for each in found.units)
    parts += ["", Table("", ("unit", "temperature", ""), units)]
    counts = [f"{found.answers[word]} {says}" for word, says in COUNTED if word in found.answers]
    parts += ["", f"Seen: {count_of(found.seen, 'container')}{_listed(counts)}"]
    parts += _lists(found, shop)
    if found.clean:
        parts.append("Nothing is left to look for.")
    parts += _did(found)
    return [*parts, "", signed(walk, shop)]


def _listed(counts: list[str]) -> str:
    return f" ({', '.join(counts)})." if counts else "."


def _read(each: "UnitWalked") -> str:
    if not each.came:
        return "not walked"
    return str(each.read) if each.read is not None else "not read"


def _lists(found: "Outcome", shop: "Kitchen") -> "list[Table | str]":
    parts: list[Table | str] = []
    if found.not_seen:
        parts += ["", "NOT SEEN, and on hand by the journal:"]
        parts += [row_line(row, shop) for row in found.not_seen]
    if found.elsewhere:
        parts += ["", "SEEN IN ANOTHER UNIT than the journal says:"]
        parts += [
            f"  {show(row.code)}  {row.item_name}: in the {unit}, not in the {row.unit}"
            for row, unit in found.elsewhere
        ]
    if found.ended:
        parts += ["", "THERE, although the journal has it gone:"]
        parts += [f"  {show(row.code)}  {row.item_name}: {row.ended_as}" for row in found.ended]
    if found.unknown:
        parts += ["", f"UNKNOWN CODES: {', '.join(found.unknown)}."]
    if found.raw_above:
        parts += ["", f"RAW ABOVE READY-TO-EAT; move it below ({RAW_BELOW}):"]
        parts += [f"  {show(row.code)}  {row.item_name}" for row in found.raw_above]
    return parts


def _did(found: "Outcome") -> "list[Table | str]":
    if not found.done:
        return []
    names = {code: show(code) for code in found.round.latest}
    rows = tuple(
        (str(each.number), names.get(each.subject, _subject(each.subject)), each.says)
        for each in found.done
    )
    return ["", Table("Done in the round", ("entry", "", ""), rows)]


def _subject(subject: str) -> str:
    return "" if subject.startswith("round ") else subject


def signed(walk: "Round", shop: "Kitchen") -> str:
    """Whether the round is ended, and who answers for it."""
    if walk.end is None:
        return f"Round {walk.id} is open. Go on with it: holdlog round --resume"
    entry, fact = walk.end
    when = at_told(Instant(entry.at), shop)
    who = f"in charge: {fact.in_charge}" if fact.in_charge else "not signed"
    return f"Round {walk.id} ended {when} by {entry.by}; {who}."


def rounds_parts(known: "list[Round]", shop: "Kitchen") -> "list[Table | str]":
    """The rounds there were, the newest first."""
    if not known:
        return ["There was no round yet. Begin one with: holdlog round"]
    rows = tuple(
        (each.id, at_told(each.at, shop), each.by, ", ".join(each.units), _state(each))
        for each in known
    )
    return [Table("", ("round", "begun", "by", "units", ""), rows)]


def _state(walk: "Round") -> str:
    if walk.end is None:
        return "open"
    fact = walk.end[1]
    left = f", {len(fact.not_seen)} not seen" if fact.not_seen else ""
    return f"{fact.seen} seen{left}, {fact.in_charge or 'not signed'}"


def round_json(walk: "Round", shop: "Kitchen") -> dict[str, Any]:
    """A round, for programs."""
    return {
        "round": walk.id,
        "units": list(walk.units),
        "begun_at": moment(walk.at, shop),
        "by": walk.by,
        "ended_at": moment(Instant(walk.end[0].at), shop) if walk.end else None,
        "ended_by": walk.end[0].by if walk.end else None,
        "in_charge": (walk.end[1].in_charge or None) if walk.end else None,
    }


def outcome_json(found: "Outcome", shop: "Kitchen") -> dict[str, Any]:
    """The report of a round, for programs."""
    walk = found.round
    return {
        **round_json(walk, shop),
        "cooks": walk.cooks,
        "temperatures": {
            each.unit: str(each.read) if each.read is not None else None for each in found.units
        },
        "seen": found.seen,
        "answers": dict(found.answers),
        "not_seen": [row_json(row, shop) for row in found.not_seen],
        "elsewhere": [{**row_json(row, shop), "seen_in": unit} for row, unit in found.elsewhere],
        "ended_but_there": [row_json(row, shop) for row in found.ended],
        "unknown": list(found.unknown),
        "raw_above": [row.code for row in found.raw_above],
        "unlabelled": [
            {"what": fact.what, "unit": fact.unit, "by": entry.by,
             "amount": str(fact.amount) if fact.amount else None}
            for entry, fact in walk.found
        ],
        "notes": [
            {"note": fact.note, "unit": fact.unit, "code": fact.code or None, "by": entry.by}
            for entry, fact in walk.notes
        ],
        "done": [
            {"entry": each.number, "subject": each.subject, "says": each.says}
            for each in found.done
        ],
    }  # fmt: skip
