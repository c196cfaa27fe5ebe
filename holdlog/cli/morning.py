"""How the lists of what is on hand are shown: the morning check, and everything there is."""

from typing import TYPE_CHECKING, Any

from holdlog.cli.cooling_words import cooling_json, short
from holdlog.cli.show import WORDS, count_of, limit, moment, moment_told, row_json
from holdlog.core.codes import show
from holdlog.core.moments import local_date, show_dated, show_day
from holdlog.reports.tables import Table

if TYPE_CHECKING:
    from holdlog.kitchen.due import Due, Line
    from holdlog.kitchen.kitchen import Kitchen

EMPTY = "Nothing is on hand. Record a batch: holdlog prep ITEM AMOUNT -c 2"
# What the word in front and the date beside it say already.
PLAIN_FROM_THE_DATE = ("Its last day is today.", "Past its limit.")


def due_parts(found: "Due", shop: "Kitchen") -> "list[Table | str]":
    """The morning check for people: counts first, then by unit in the order of the walk."""
    from holdlog.kitchen.due import walk_order

    groups = (
        ("", "to discard", found.go), ("", "on hold or to reheat", found.hold),
        ("NO LIMIT", "without a known limit", found.no_limit),
        ("", "on the last day today", found.today_last),
        ("TOMORROW", "on the last day tomorrow", found.tomorrow),
        ("CLOSED", "out of date while closed", found.closed),
    )  # fmt: skip
    parts: list[Table | str] = [_head(shop, found.on_hand)]
    parts += _units(found, shop)
    if not found.on_hand:
        return [*parts, EMPTY]
    counts = [f"{len(lines)} {name}" for _, name, lines in groups if lines]
    parts.append(", ".join(counts) + "." if counts else "Nothing must go today or tomorrow.")
    words = {each.row.code: word for word, _, lines in groups for each in lines if word}
    # Of what cools, the list says what comes next in place of the bare reason.
    cooling = {row.code: short(each, shop) for each in found.cooling for row in each.rows}
    everything = [each for _, _, lines in groups for each in lines]
    parts += _by_unit(walk_order(shop, everything), shop, words, cooling)
    parts += _ahead(found, shop)
    parts += _labels(found, shop)
    if found.waiting:
        count = count_of(len(found.waiting), "container")
        verb = "waits" if len(found.waiting) == 1 else "wait"
        parts += [
            "",
            f"{count} {verb} for a label. List: holdlog label. Print: holdlog label --waiting",
        ]
    parts += _probes(found)
    parts.append("")
    if found.cooling:
        parts.append("What cools, and what to do about it: holdlog cool")
    if found.go:
        parts.append("Binned? holdlog discard CODE -r date")
    if everything:
        parts.append("Why? holdlog why CODE")
    books = _books(shop)
    return [*parts, f"{books}. Your health authority has the last word; in doubt, bin it."]


def on_hand_parts(lines: "list[Line]", shop: "Kitchen", unit: str) -> "list[Table | str]":
    """Everything that is on hand, for people."""
    if lines:
        return [_head(shop, len(lines)), *_by_unit(lines, shop, {}, {})]
    return [_head(shop, 0), f"Nothing is in the {shop.unit(unit).name}." if unit else EMPTY]


def _units(found: "Due", shop: "Kitchen") -> list[str]:
    """The units that want looking at before anything else does."""
    if not found.units:
        return []
    from holdlog.cli.unit_words import last_told

    return [
        f"{each.unit.name.upper()}: {last_told(each, shop, found.at)}. Read it: "
        f'holdlog unit read "{each.unit.name}" READING'
        for each in found.units
    ]


def _head(shop: "Kitchen", count: int) -> str:
    return f"{shop.name}, {show_dated(shop.now(), shop.where)}, {count} on hand"


def _word(each: "Line") -> str:
    if each.no_limit and each.verdict == "serve":
        return "NO LIMIT"
    return WORDS[each.verdict]


def _row(each: "Line", shop: "Kitchen", word: str, cooling: str) -> tuple[str, ...]:
    item = each.row.item_name
    reason = cooling or each.reason
    if reason and reason not in PLAIN_FROM_THE_DATE:
        item += f"\n{reason}"
    day = f"{each.day} of {each.row.of}" if each.day is not None else ""
    return (
        word or _word(each), show(each.row.code), item, each.row.amount, limit(each.row, shop), day
    )  # fmt: skip


def _by_unit(
    lines: "list[Line]", shop: "Kitchen", words: dict[str, str], cooling: dict[str, str]
) -> "list[Table | str]":
    parts: list[Table | str] = []
    for unit in dict.fromkeys(each.row.unit for each in lines):
        rows = tuple(
            _row(each, shop, words.get(each.row.code, ""), cooling.get(each.row.code, ""))
            for each in lines
            if each.row.unit == unit
        )
        heads = ("", "code", "item", "amount", "use by", "day" if any(r[-1] for r in rows) else "")
        parts += ["", Table(unit or "in no unit", heads, rows)]
    return parts


def _books(shop: "Kitchen") -> str:
    with shop.db.reading() as conn:
        return " + ".join(book.title for book in shop.stack(conn).books)


def _ahead(found: "Due", shop: "Kitchen") -> "list[Table | str]":
    parts: list[Table | str] = []
    if found.freeze:
        rows = tuple(
            (show(each.row.code), each.row.item_name, each.row.unit, limit(each.row, shop),
             f"{count_of(each.row.of - each.day, 'day')} left if frozen today")
            for each in found.freeze
            if each.row.of is not None and each.day is not None
        )  # fmt: skip
        parts += ["", Table("Worth freezing today", ("code", "item", "unit", "use by", ""), rows)]
    if found.pull:
        today = local_date(shop.now(), shop.where)
        rows = tuple(
            (show(each.row.code), each.row.item_name, each.row.unit,
             f"ready {show_day(each.ready, today)}",
             f"then {count_of(each.days_left, 'day')}" if each.days_left is not None else "")
            for each in found.pull
        )  # fmt: skip
        title = "To take from the freezer today"
        parts += ["", Table(title, ("code", "item", "unit", "", ""), rows)]
    return parts


def _labels(found: "Due", shop: "Kitchen") -> "list[Table | str]":
    """Labels that promise more than the rules allow: whoever reads the tub is misled."""
    # Food that must go gets no label: it stands on the list above.
    wrong = [each for each in found.relabel if each.verdict not in ("discard", "refuse")]
    if not wrong:
        return []
    rows = tuple(
        (show(each.row.code), each.row.item_name, each.row.unit,
         moment_told(each.row.printed_use_by, shop), limit(each.row, shop))
        for each in wrong
        if each.row.printed_use_by is not None
    )  # fmt: skip
    heads = ("code", "item", "unit", "label says", "rules say")
    again = "Make each again: holdlog label CODE"
    return ["", Table("Labels that say too late a day", heads, rows), again]


def _probes(found: "Due") -> "list[Table | str]":
    """One line for each thermometer in doubt."""
    from holdlog.kitchen.doubts import called

    lines: list[Table | str] = []
    for each in found.probes:
        count = count_of(len(each.containers), "container") if each.containers else "nothing here"
        was = "were" if len(each.containers) > 1 else "was"
        lines.append(
            f"IN DOUBT: {called(each.probe.name)}; {count} {was} last read on it. "
            "See: holdlog probe list"
        )
    return ["", *lines] if lines else []


# ---- for programs ----------------------------------------------------------------------------


def line_json(each: "Line", shop: "Kitchen") -> dict[str, Any]:
    """One container on a list, for programs."""
    return {
        **row_json(each.row, shop),
        "verdict": each.verdict,
        "reason": each.reason or None,
        "day": each.day,
        "of": each.row.of,
    }


def due_json(found: "Due", shop: "Kitchen") -> dict[str, Any]:
    """The morning check for programs."""
    from holdlog.cli.unit_words import now_json

    def lines(group: "tuple[Line, ...]") -> list[dict[str, Any]]:
        return [line_json(each, shop) for each in group]

    return {
        "kitchen": shop.name,
        "at": moment(found.at, shop),
        "on_hand": found.on_hand,
        "no_limit_known": lines(found.no_limit),
        "discard": lines(found.go),
        "hold": lines(found.hold),
        "last_day": lines(found.today_last),
        "tomorrow": lines(found.tomorrow),
        "while_closed": lines(found.closed),
        "closed_days": [day.isoformat() for day in found.closed_days],
        "relabel": [
            {**line_json(each, shop), "label_says": moment(each.row.printed_use_by, shop)}
            for each in found.relabel
        ],
        "waiting_for_label": [
            {**line_json(each.line, shop), "why": each.why} for each in found.waiting
        ],
        "probes_in_doubt": [
            {
                "probe": each.probe.name,
                "since": moment(each.probe.doubted_since, shop),
                "containers": [row.code for row in each.containers],
            }
            for each in found.probes
        ],
        "cooling": [cooling_json(each, shop) for each in found.cooling],
        "units": [now_json(each, shop, found.at) for each in found.units],
        "freeze_today": lines(found.freeze),
        "pull_today": [
            {**row_json(each.row, shop), "ready": each.ready.isoformat()} for each in found.pull
        ],
    }
