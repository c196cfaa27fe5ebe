"""Looking: due, on-hand, why; and the label of what is there."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.finish import finish
from holdlog.cli.show import WORDS, emit, in_words, limit, moment, row_json, say
from holdlog.cli.wiring import By, Code, Dpi, Folder, Json, Tape, kitchen

if TYPE_CHECKING:
    from holdlog.core.events import Conventions
    from holdlog.kitchen.due import Due, Line
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.why import Why
    from holdlog.reports.tables import Table

OnlyUnit = Annotated[str, typer.Option("--unit", "-u", help="Only this unit.", show_default=False)]


def add_to(app: typer.Typer) -> None:
    """Add these commands."""
    app.command()(due)
    app.command(name="on-hand")(on_hand)
    app.command()(why)
    app.command()(label)


def due(
    context: typer.Context,
    unit: OnlyUnit = "",
    check: Annotated[
        bool, typer.Option("--check", help="Leave with 1 if anything must go or is on hold.")
    ] = False,
    json: Json = False,
) -> None:
    r"""The morning check: what must go now, today and tomorrow, by unit as you walk.

    \b
    Examples:
      holdlog due
      holdlog due -u walk-in
    """
    from holdlog.kitchen.due import due as job

    shop = kitchen(context)
    found = job(shop, unit)
    if json:
        emit(_due_json(found, shop))
    else:
        say(_due_parts(found, shop))
    if check and (found.go or found.hold):
        raise typer.Exit(1)


def on_hand(context: typer.Context, unit: OnlyUnit = "", json: Json = False) -> None:
    r"""Everything that is in the kitchen now, by unit as you walk.

    \b
    Example:
      holdlog on-hand -u freezer
    """
    from holdlog.kitchen.due import everything

    shop = kitchen(context)
    lines = everything(shop, unit)
    if json:
        emit([_line_json(each, shop) for each in lines])
    elif lines:
        say([_head(shop, len(lines)), *_by_unit(lines, shop)])
    else:
        say([_head(shop, 0), "Nothing is on hand. Record a batch: holdlog prep ITEM AMOUNT -c 2"])


def why(context: typer.Context, code: Code, json: Json = False) -> None:
    r"""Why this date: the rules it stands on, with their citations, and its whole story.

    \b
    Example:
      holdlog why H7K3-9QX2
    """
    from holdlog.kitchen.why import why as job

    shop = kitchen(context)
    found = job(shop, code)
    if json:
        from holdlog.rules.holding import as_json

        emit(
            {
                **row_json(found.row, shop),
                "holding": as_json(found.holding, shop.where),
                "allergens": list(found.allergens),
                "made_from": list(found.made_from),
                "story": [
                    {
                        "entry": each.number,
                        "at": moment(each.at, shop),
                        "recorded_at": moment(each.recorded_at, shop),
                        "by": each.by,
                        "says": each.says,
                        "late": each.late,
                        "voided": each.voided,
                    }
                    for each in found.story
                ],
                "rulebooks": list(found.rulebooks),
            }
        )
    else:
        say(_why_parts(found, shop))


def label(
    context: typer.Context,
    code: Code,
    batch: Annotated[
        bool, typer.Option("--batch", help="All containers of its batch that are on hand.")
    ] = False,
    by: By = "",
    to: Folder = "",
    dpi: Dpi = 203,
    tape: Tape = False,
    json: Json = False,
) -> None:
    r"""Make a container's label again. It is recorded as a reprint.

    \b
    Examples:
      holdlog label H7K3-9QX2
      holdlog label H7K3-9QX2 --batch --dpi 300
    """
    from holdlog.journal import on_hand as rows_on_hand
    from holdlog.kitchen.kitchen import find_container

    shop = kitchen(context)
    with shop.db.reading() as conn:
        rows = [find_container(shop, conn, code)]
        if batch:
            rows = [
                row
                for row in rows_on_hand.of_batch(conn, shop.site, rows[0].batch)
                if row.ended_at is None
            ]
    finish(
        context,
        shop,
        by,
        rows,
        to,
        dpi,
        tape=tape,
        json=json,
        headline="Labels made." if batch else "Label made.",
    )


# ---- showing ---------------------------------------------------------------------------------


def _head(shop: "Kitchen", count: int) -> str:
    from holdlog.core.moments import show_moment

    return f"{shop.name} · {show_moment(shop.now(), shop.where)} · {count} on hand"


def _word(each: "Line") -> str:
    if each.no_limit and each.verdict == "serve":
        return "NO LIMIT"
    return WORDS[each.verdict]


def _row(each: "Line", shop: "Kitchen", word: str = "") -> tuple[str, ...]:
    from holdlog.core.codes import show

    day = f"day {each.day} of {each.row.of}" if each.day is not None else ""
    return (
        word or _word(each), show(each.row.code), each.row.item_name, each.row.amount,
        limit(each.row, shop), day, each.reason,
    )  # fmt: skip


HEADS = ("", "code", "item", "amount", "use by", "", "")


def _by_unit(
    lines: "list[Line]", shop: "Kitchen", words: dict[str, str] | None = None
) -> "list[Table | str]":
    from holdlog.reports.tables import Table

    parts: list[Table | str] = []
    units = list(dict.fromkeys(each.row.unit for each in lines))
    for unit in units:
        rows = tuple(
            _row(each, shop, (words or {}).get(each.row.code, ""))
            for each in lines
            if each.row.unit == unit
        )
        parts += ["", Table(unit or "no unit", HEADS, rows)]
    return parts


def _due_parts(found: "Due", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.kitchen.due import walk_order

    groups = (
        ("NO LIMIT", "no limit known", found.no_limit), ("", "to discard", found.go),
        ("", "on hold", found.hold), ("", "last day today", found.today_last),
        ("TOMORROW", "last day tomorrow", found.tomorrow),
        ("CLOSED", "out of date while closed", found.closed),
    )  # fmt: skip
    counts = [f"{len(lines)} {name}" for _, name, lines in groups if lines]
    words = {each.row.code: word for word, _, lines in groups for each in lines if word}
    everything = [each for _, _, lines in groups for each in lines]
    parts: list[Table | str] = [_head(shop, found.on_hand)]
    if not found.on_hand:
        return [*parts, "Nothing is on hand. Record a batch: holdlog prep ITEM AMOUNT -c 2"]
    parts.append("  ".join(counts) if counts else "Nothing must go today or tomorrow.")
    parts += _by_unit(walk_order(shop, everything), shop, words)
    parts += _ahead(found, shop)
    parts += [
        "",
        f"{_books(shop)}: the local health authority has the last word. In doubt, throw it out.",
    ]
    return parts


def _books(shop: "Kitchen") -> str:
    with shop.db.reading() as conn:
        return " + ".join(book.title for book in shop.stack(conn).books)


def _ahead(found: "Due", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.core.codes import show
    from holdlog.core.moments import show_day
    from holdlog.reports.tables import Table

    parts: list[Table | str] = []
    if found.freeze:
        rows = tuple(
            (show(each.row.code), each.row.item_name, each.row.unit, limit(each.row, shop),
             f"{each.row.of - each.day} left if frozen today")
            for each in found.freeze
            if each.row.of is not None and each.day is not None
        )  # fmt: skip
        parts += ["", Table("Worth freezing today", ("code", "item", "unit", "use by", ""), rows)]
    if found.pull:
        rows = tuple(
            (show(each.row.code), each.row.item_name, each.row.unit,
             f"ready {show_day(each.ready)}",
             f"then {each.days_left} days" if each.days_left is not None else "")
            for each in found.pull
        )  # fmt: skip
        parts += [
            "",
            Table("To pull from the freezer today", ("code", "item", "unit", "", ""), rows),
        ]
    return parts


def _line_json(each: "Line", shop: "Kitchen") -> dict[str, Any]:
    return {
        **row_json(each.row, shop),
        "verdict": each.verdict,
        "reason": each.reason or None,
        "day": each.day,
        "of": each.row.of,
    }


def _due_json(found: "Due", shop: "Kitchen") -> dict[str, Any]:
    def lines(group: "tuple[Line, ...]") -> list[dict[str, Any]]:
        return [_line_json(each, shop) for each in group]

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
        "freeze_today": lines(found.freeze),
        "pull_today": [
            {
                **row_json(each.row, shop),
                "ready": each.ready.isoformat(),
            }
            for each in found.pull
        ],
    }


def _why_parts(found: "Why", shop: "Kitchen") -> "list[Table | str]":
    from holdlog.core.codes import show
    from holdlog.core.moments import show_day, show_moment
    from holdlog.reports.tables import Table

    row, held = found.row, found.holding
    amount = f", {row.amount}" if row.amount else ""
    parts: list[Table | str] = [
        f"{row.item_name}, {show(row.code)}{amount}, {row.number} of {row.count}, {row.unit}"
    ]
    if row.ended_at is not None:
        parts.append(f"Gone: {row.ended_as} on {show_moment(row.ended_at, shop.where)}.")
    else:
        day = f", day {held.day} of {held.of}" if held.day is not None else ""
        parts.append(f"{WORDS[held.verdict]}: {limit(row, shop)}{day}. {held.reason}".rstrip())
    if held.best_by is not None and row.ended_at is None:
        parts.append(f"At its best until {show_day(held.best_by)} (quality only).")
    if found.allergens:
        parts.append(f"Contains {', '.join(found.allergens)}.")
    if found.made_from:
        parts.append(f"Made from {'; '.join(found.made_from)}.")
    parts += ["", "Why this date"]
    for each in held.basis:
        date = show_moment(each.limit, shop.where) if each.limit is not None else ""
        mark = "binds" if each.binds else "     "
        seen = "" if each.source.seen == "text" else f" [seen: {each.source.seen}]"
        parts.append(f"  {mark}  {date:<22}  {each.source.cite}: {each.source.says}{seen}")
    cautions = [in_words(text) for text in held.cautions if "last word" not in text]
    if cautions:
        parts += ["", "Cautions", *(f"  {text}" for text in cautions)]
    parts += ["", Table("Its story", ("entry", "when", "who", "what", ""), _story(found, shop))]
    parts += [
        "",
        _counting(held.conventions),
        f"{' + '.join(found.rulebooks)}. {found.defer}",
    ]
    return parts


def _counting(conventions: "Conventions") -> str:
    freeze, thaw, end = (
        word.replace("-", " ")
        for word in (conventions.freeze_day, conventions.thaw_day, conventions.day_end)
    )
    return f"Counting: the day of freezing {freeze}, the day of thawing {thaw}; {end} days."


def _story(found: "Why", shop: "Kitchen") -> tuple[tuple[str, ...], ...]:
    from holdlog.core.moments import show_moment

    def remark(late: bool, voided: bool, recorded: str) -> str:
        return " ".join((["VOID"] if voided else []) + ([f"late, {recorded}"] if late else []))

    return tuple(
        (
            str(each.number), show_moment(each.at, shop.where), each.by, each.says,
            remark(each.late, each.voided, show_moment(each.recorded_at, shop.where)),
        )
        for each in found.story
    )  # fmt: skip
