"""How traces and recalls are told: as a tree in words, each name once."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from holdlog.cli.show import at_told, count_of, date_told, moment, row_json, rows_told
from holdlog.core.codes import LENGTH, show
from holdlog.reports.tables import Table
from holdlog.reports.wrapping import wrap

if TYPE_CHECKING:
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.lots import Lot
    from holdlog.kitchen.recall import Gone, InForce, Recall
    from holdlog.kitchen.trace import Reached, Step, Trace

# A starter fed daily is a tree of a thousand branches, each in the one before: from here on the
# depth is written as a number.
DEEPEST = 12
WIDE = 80
GONE_NAMED = 200
_FORWARD = {
    "made into": "went into",
    "filled": "filled",
    "split": "split off",
    "poured into": "poured into",
}
_BACK = {
    "made into": "made with", "filled": "of", "split": "split from", "poured into": "poured in",
}  # fmt: skip


def trace_parts(found: "Trace", shop: "Kitchen") -> "list[Table | str]":
    """The trace for people."""
    held = [row for name in found.forward.names if (row := found.containers.get(name)) is not None]
    live = [row for row in held if row.ended_at is None]
    lots = sorted(set(found.lots.values()))
    parts: list[Table | str] = [
        f"Trace of {found.start.what}",
        f"Makers' lots in it: {', '.join(lots)}." if lots else "No maker's lot is on record in it.",
        f"It is, or was, in {count_of(len(held), 'container')}, {len(live)} of them on hand.",
    ]
    for title, back in (("Where it came from", True), ("Where it went", False)):
        reached = found.back if back else found.forward
        if reached.steps:
            parts += ["", title, *_tree(found, reached, shop, back=back)]
    return parts


def _tree(found: "Trace", reached: "Reached", shop: "Kitchen", *, back: bool) -> list[str]:
    """The lines of the tree, depth first, by moment; a list instead of recursion."""
    branches: dict[str, list[Step]] = {}
    for each in reached.steps:
        branches.setdefault(each.into if back else each.source, []).append(each)
    lines: list[str] = []
    shown: set[str] = set()
    waiting: list[tuple[str, int, Step | None]] = [
        (name, 0, None) for name in reversed(found.start.names)
    ]
    while waiting:
        name, depth, step = waiting.pop()
        again = name in shown
        lines += _line(found, name, depth, step, shop, back=back, again=again)
        if again or (step is not None and not _goes_on(step, name, reached)):
            continue
        shown.add(name)
        waiting += [
            (each.source if back else each.into, depth + 1, each)
            for each in reversed(branches.get(name, []))
        ]
    return lines


def _goes_on(step: "Step", name: str, reached: "Reached") -> bool:
    return step.followed and name in reached.names


def _line(
    found: "Trace", name: str, depth: int, step: "Step | None", shop: "Kitchen", *, back: bool,
    again: bool,
) -> list[str]:  # fmt: skip
    how = f"{(_BACK if back else _FORWARD)[step.how]} " if step is not None else ""
    when = ""
    if step is not None and step.how != "filled":
        when = f", {at_told(step.at, shop)}"
    text = f"{how}{_called(found, name, shop, full=not again)}"
    # A batch that was made then, a tub that ended then: the moment stands there already.
    when = "" if when.removeprefix(", ") in text else when
    if step is not None and step.voided:
        text += f"{when}. VOID: {step.voided}"
    elif again:
        text += f"{when}: see above"
    elif step is not None and name not in (found.back if back else found.forward).names:
        text += f"{when}: before that was in it"
    else:
        text += when
    level = min(depth, DEEPEST)
    mark = f"[{depth}] " if depth > DEEPEST else ""
    first = "  " * (level + 1)
    return wrap(mark + text, WIDE, first=first, rest=first + "    ", cut=True)


def _called(found: "Trace", name: str, shop: "Kitchen", *, full: bool) -> str:
    batch = found.batches.get(name)
    if batch is not None:
        lot = f", lot {batch.lot}" if batch.lot else ""
        made = f", {batch.kind} {at_told(batch.day_one, shop)}" if full else ""
        return f"{name} {batch.item_name}{lot}{made}"
    row = found.containers.get(name)
    if row is None:
        return show(name) if len(name) == LENGTH else name
    if not full:
        return f"{show(name)} {row.item_name}"
    facts = ", ".join(filter(None, (row.item_name, row.amount)))
    if row.ended_at is not None:
        return f"{show(name)} {facts}: {row.ended_as} {at_told(row.ended_at, shop)}"
    verdict = f"{date_told(row, shop).split(',')[0]}" if row.verdict else "on hand"
    return f"{show(name)} {facts}, {row.unit}: {verdict}"


def trace_json(found: "Trace", shop: "Kitchen") -> dict[str, Any]:
    """The trace for programs: names and steps of each direction."""
    return {
        "of": found.start.what,
        "names": list(found.start.names),
        "at": moment(found.at, shop),
        "lots": [{"batch": name, "lot": lot} for name, lot in found.lots.items()],
        "back": _direction(found.back, shop),
        "forward": _direction(found.forward, shop),
        "containers": [row_json(row, shop) for row in found.containers.values()],
        "batches": [
            {
                "batch": row.batch, "item": row.item_name, "category": row.category,
                "made": row.kind, "at": moment(row.day_one, shop), "lot": row.lot or None,
            }
            for row in found.batches.values()
        ],
    }  # fmt: skip


def _direction(reached: "Reached", shop: "Kitchen") -> dict[str, Any]:
    return {
        "names": list(reached.names),
        "steps": [
            {
                "from": step.source, "into": step.into, "how": step.how,
                "at": moment(step.at, shop), "entry": step.number, "voided": step.voided or None,
                "counts": step.followed and step.source in reached.names
                and step.into in reached.names,
            }
            for step in reached.steps
        ],
    }  # fmt: skip


def look_alike_told(near: "Sequence[Lot]", shop: "Kitchen", command: str) -> list[str]:
    """Other lots that may be the same one, and how to look at the first of them."""
    if not near:
        return []
    rows = [
        f"  {each.lot}: {', '.join(each.items)}, last {at_told(each.last, shop)}" for each in near
    ]
    also = " --dry-run" if command == "recall" else ""
    look = f'Is one of them the same? holdlog {command} --lot "{near[0].lot}"{also}'
    return ["", "Lots that look alike, and are NOT in this:", *rows, look]


def lots_json(near: "Sequence[Lot]", shop: "Kitchen") -> list[dict[str, Any]]:
    """Other lots that may be the same one, for programs."""
    return [
        {"lot": each.lot, "items": list(each.items), "last": moment(each.last, shop)}
        for each in near
    ]


def recall_parts(done: "Recall", shop: "Kitchen") -> "list[Table | str]":
    """The recall for people: what is on hold, and what is gone, by how it went."""
    held = count_of(len(done.live), "container")
    if done.already is not None:
        head = f"Recall of {done.start.what}: in force (entry {done.already}), only looked."
        holds = f"{held} on hand, do not serve:" if done.live else "Nothing on hand holds it."
    elif done.number is None:
        head = f"Recall of {done.start.what}: NOT RECORDED, only looked."
        holds = f"{held} on hand would go on hold:" if done.live else "Nothing on hand holds it."
    else:
        head = f"Recall of {done.start.what} is recorded (entry {done.number}): {done.why}"
        holds = f"{held} on hand, do not serve:" if done.live else "Nothing on hand holds it."
    if done.absent:
        holds = (
            "No batch of it is on record. It is held the moment it is received. Look for it on the "
            "shelves, too: what came without its lot is not found."
            if done.already is not None
            else "NO BATCH OF THIS LOT IS ON RECORD. Once recalled, it is held the moment it is "
            "received. Look for it on the shelves, too: what came without its lot is not found."
        )
    parts: list[Table | str] = [head, "", holds, *rows_told(done.live, shop)]
    for title, some in (
        ("Gone to guests and others: tell whoever got it", [g for g in done.gone if g.served]),
        ("Binned or sent back before", [g for g in done.gone if not (g.served or g.goes_on)]),
        ("Gone on inside the kitchen", [g for g in done.gone if g.goes_on]),
    ):
        if some:
            parts += ["", _gone_table(title, some[:GONE_NAMED], shop)]
            if len(some) > GONE_NAMED:
                parts.append(f"  and {len(some) - GONE_NAMED} more (--json names all)")
    if done.without_end:
        parts += ["", "Batches and splits that were voided; look whether there is any:"]
        parts += [f"  {show(row.code)}  {row.item_name}" for row in done.without_end]
    parts += look_alike_told(done.look_alike, shop, "recall")
    if done.elsewhere:
        sites = ", ".join(done.elsewhere)
        look = "Each site recalls for itself: holdlog --site NAME recall --lot …"
        parts += ["", f"NOT HELD BY THIS: {sites} had the lot, too. {look}"]
    return [*parts, "", *_then(done)]


def _then(done: "Recall") -> Iterator[str]:
    number = done.number if done.number is not None else done.already
    if number is None:
        yield "To record it, run this again without --dry-run, with --why."
        return
    keep = "Keep it apart. To bin it: holdlog discard CODE -r recall."
    if done.start.subject.startswith("lot "):
        keep += " To send a maker's goods back: holdlog use CODE --as returned."
    yield keep
    lift = f'holdlog void {number} --why "…" --evidence "…"'
    yield f"If it was a mistake, or was withdrawn, on a paper: {lift}"


def _gone_table(title: str, gone: "Sequence[Gone]", shop: "Kitchen") -> Table:
    rows = tuple(
        (
            at_told(each.at, shop), show(each.row.code), each.row.item_name,
            f"{each.how}{' ' + _into(each.into) if each.into else ''}",
            f"{each.amount or 'not known'}{' of it' if each.part else ''}", each.by,
        )
        for each in gone
    )  # fmt: skip
    return Table(title, ("when", "code", "item", "how", "amount", "who"), rows)


def _into(name: str) -> str:
    return show(name) if len(name) == LENGTH else name


def recall_json(done: "Recall", shop: "Kitchen") -> dict[str, Any]:
    """The recall for programs."""
    return {
        "of": done.start.what,
        "why": done.why or None,
        "at": moment(done.at, shop),
        "entry": done.number,
        "recorded": done.number is not None,
        "already_recalled_by": done.already,
        "containers": [row_json(row, shop) for row in done.live],
        "gone": [
            {
                "code": each.row.code, "item": each.row.item_name, "at": moment(each.at, shop),
                "how": each.how, "into": each.into or None,
                "amount": str(each.amount) if each.amount else None, "part": each.part,
                "by": each.by, "served": each.served,
            }
            for each in done.gone
        ],
        "voided": [row.code for row in done.without_end],
        "on_record": not done.absent,
        "other_sites": list(done.elsewhere),
        "look_alike": lots_json(done.look_alike, shop),
    }  # fmt: skip


def in_force_parts(found: "Sequence[InForce]", shop: "Kitchen") -> "list[Table | str]":
    """The recalls in force, for people."""
    if not found:
        return ["No recall is in force."]
    rows = tuple(
        (str(each.number), at_told(each.at, shop), each.by, each.what, each.why,
         str(each.on_hand))
        for each in found
    )  # fmt: skip
    heads = ("entry", "since", "who", "what", "why", "on hand")
    lift = (
        "To lift one that was a mistake, or was withdrawn, on a paper that says so: "
        "holdlog void ENTRY --why … --evidence …"
    )
    return [Table("Recalls in force", heads, rows), "", lift]


def in_force_json(found: "Sequence[InForce]", shop: "Kitchen") -> list[dict[str, Any]]:
    """The recalls in force, for programs."""
    return [
        {
            "entry": each.number, "at": moment(each.at, shop), "by": each.by, "what": each.what,
            "why": each.why, "on_hand": each.on_hand,
        }
        for each in found
    ]  # fmt: skip
