"""Labels again: of a container, a batch, a unit, or of all that wait for one; and their words."""

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.finish import as_labelled, finish
from holdlog.cli.onto import AS_USUAL, Onto, Place, labels, place_for
from holdlog.cli.show import count_of, emit, note, row_json, rows_told, say
from holdlog.cli.wiring import By, Json, Languages, kitchen, labels_folder

if TYPE_CHECKING:
    from holdlog.journal.on_hand import ContainerRow
    from holdlog.kitchen.due import Waits
    from holdlog.kitchen.kitchen import Kitchen


@labels
def label(
    context: typer.Context,
    codes: Annotated[
        list[str], typer.Argument(metavar="CODE...", help="Whose label; none: list what waits.")
    ] = [],  # noqa: B006  (typer copies it)
    batch: Annotated[
        bool, typer.Option("--batch", help="All containers of its batch that are on hand.")
    ] = False,
    unit: Annotated[
        str,
        typer.Option(
            "--unit", "-u", help="All that is in this unit.", show_default=False, metavar="UNIT"
        ),
    ] = "",
    waiting: Annotated[bool, typer.Option("--waiting", help="All that wait for a label.")] = False,
    twin: Annotated[
        bool, typer.Option("--twin", help="And a small second label for the tub under the lid.")
    ] = False,
    discard_tag: Annotated[
        bool, typer.Option("--discard-tag", help="A tag for food to discard or on hold.")
    ] = False,
    seen: Annotated[
        bool,
        typer.Option("--seen", help="Print nothing: the label did come out, and is in hand."),
    ] = False,
    sheet: Annotated[
        str,
        typer.Option(
            "--sheet", help="On sheets: holdlog sheet list.", show_default=False, metavar="NAME"
        ),
    ] = "",
    start: Annotated[
        int | None,
        typer.Option("--start", help="First free place of the sheet. Else 1.", show_default=False),
    ] = None,
    cut_marks: Annotated[
        bool, typer.Option("--cut-marks", help="Marks to cut plain paper by.")
    ] = False,
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Make labels again; without a code, list the containers that wait for one.

    A label made again is recorded as a copy. A print that fails moves no date, and the container
    waits for its label. So it does where a printer did not say what became of it, until
    --seen says that the label is there.

    \b
    Examples:
      holdlog label H7K3-9QX2
      holdlog label H7K3-9QX2 --batch --dpi 300
      holdlog label
      holdlog label --waiting
      holdlog label --waiting --seen
      holdlog label H7K3-9QX2 --twin
      holdlog label --unit "chest freezer" --sheet letter-4x5 --start 7
    """
    from holdlog.core.errors import Mistake

    if bool(codes) + bool(unit) + waiting > 1:
        raise Mistake(
            "too-much", "Codes, --unit and --waiting are three ways to say which.", "Say one."
        )
    shop = kitchen(context)
    if not (codes or unit or waiting):
        _refuse(
            "no-code", "Which label?",
            "Give a code, --unit or --waiting; holdlog label alone lists what waits.",
            when=bool(batch or twin or discard_tag or seen or sheet or start is not None
                      or cut_marks or onto.tape),
        )  # fmt: skip
        _list_waiting(shop, json=json)
        return
    _refuse(
        "too-much", "A sheet is a PDF in a folder: no tape, no --printer.", "Say --to FOLDER.",
        when=bool(sheet and (onto.tape or onto.printer)),
    )  # fmt: skip
    _refuse(
        "no-sheet", "--start and --cut-marks are for sheets.", "Say which: --sheet letter-4x5",
        when=not sheet and (start is not None or cut_marks),
    )  # fmt: skip
    if seen:
        _refuse(
            "too-much", "--seen prints nothing.", "Say it with codes, --batch or --waiting alone.",
            when=bool(unit or twin or discard_tag or sheet or onto.tape or onto.printer),
        )  # fmt: skip
        _seen(shop, by, codes, batch=batch, waiting=waiting, json=json)
        return
    place = place_for(context, shop, onto)
    place = replace(place, wanted=replace(place.wanted, twin=twin, tag=discard_tag))
    if sheet:
        first = 1 if start is None else start
        place = _on_sheet(context, place, onto, sheet, first, cut_marks=cut_marks)
    rows, left_out = _rows(shop, codes, unit, batch=batch, waiting=waiting)
    if not codes and not onto.tape:
        rows, beside = _drawable(shop, rows, place)
    else:
        beside = []
    if not rows:
        _nothing(unit, left_out, json=json)
        return
    what = ("discard tag" if discard_tag else "label") + ("" if len(rows) == 1 else "s")
    done = f"{what.capitalize()} {'to write by hand' if onto.tape else 'made'}."
    finish(
        shop, by, rows, place, json=json,
        headline=" ".join([done + _left_out(left_out), *beside]), without=f"No {what} made.",
        unseen=" ".join([f"{what.capitalize()} sent.{_left_out(left_out)}", *beside]),
    )  # fmt: skip


def _refuse(code: str, sentence: str, hint: str, *, when: bool) -> None:
    from holdlog.core.errors import Mistake

    if when:
        raise Mistake(code, sentence, hint)


def _seen(
    shop: "Kitchen", by: str, codes: list[str], *, batch: bool, waiting: bool, json: bool
) -> None:
    """The labels came out after all: with ``waiting``, all of which nobody knew."""
    from holdlog.kitchen.seen import seen
    from holdlog.kitchen.waiting import last_labels

    rows, _ = _rows(shop, codes, "", batch=batch, waiting=waiting)
    if waiting:
        with shop.db.reading() as conn:
            last = last_labels(conn, shop.site, [row.code for row in rows])
        rows = [row for row in rows if row.code in last and last[row.code].unseen]
    if rows:
        seen(shop, by, [row.code for row in rows])
    rows = as_labelled(shop, rows)
    if json:
        emit({"containers": [row_json(row, shop) for row in rows], "printed": None, "tape": []})
    elif rows:
        say([f"{count_of(len(rows), 'label')} seen.", *rows_told(rows, shop)])
    else:
        say(["No label waits to be seen."])


def _on_sheet(
    context: typer.Context, place: Place, onto: Onto, sheet: str, start: int, *, cut_marks: bool
) -> Place:
    """The labels as pages, in a folder: what sheet printers are, the kitchen knows best."""
    from holdlog.kitchen.printing import Pages

    return Place(
        place.wanted,
        folder=labels_folder(context, onto.to),
        pages=Pages(sheet, start, cut_marks),
    )


def _rows(
    shop: "Kitchen", codes: list[str], unit: str, *, batch: bool, waiting: bool
) -> "tuple[list[ContainerRow], list[ContainerRow]]":
    """The containers that are meant, and those among them that get no label."""
    from holdlog.journal import on_hand
    from holdlog.kitchen.due import everything
    from holdlog.kitchen.due import waiting as waits
    from holdlog.kitchen.kitchen import find_container

    if waiting:
        return [each.line.row for each in waits(shop)], []
    if unit:
        lines = everything(shop, unit)
        unfit = [each.row for each in lines if each.verdict in ("discard", "refuse")]
        return [each.row for each in lines if each.row not in unfit], unfit
    with shop.db.reading() as conn:
        rows = [find_container(shop, conn, code) for code in codes]
        if batch:
            rows = [
                row
                for name in dict.fromkeys(row.batch for row in rows)
                for row in on_hand.of_batch(conn, shop.site, name)
                if row.ended_at is None
            ]
    return list({row.code: row for row in rows}.values()), []


def _drawable(
    shop: "Kitchen", rows: "list[ContainerRow]", place: Place
) -> "tuple[list[ContainerRow], list[str]]":
    """The containers whose label can be drawn, and a word on the others. Where there is none,
    raises the ``Mistake`` of the first.
    """
    from holdlog.core.codes import show
    from holdlog.kitchen.undrawable import undrawable

    codes = [row.code for row in rows]
    found = undrawable(shop, codes, place.wanted, place.device, place.pages)
    if found and len(found) == len(rows):
        raise next(iter(found.values()))
    told = [f"No label for {show(code)}: {error.line()}" for code, error in found.items()]
    return [row for row in rows if row.code not in found], told


def _left_out(rows: "list[ContainerRow]") -> str:
    from holdlog.core.codes import show

    codes = ", ".join(show(row.code) for row in rows)
    return f" No label for what must go: {codes}." if rows else ""


def _nothing(unit: str, left_out: "list[ContainerRow]", *, json: bool) -> None:
    if json:
        emit({"containers": [], "printed": None, "tape": []})
    elif unit:
        say([f"Nothing in {unit} gets a label.{_left_out(left_out)}"])
    else:
        say([NOTHING_WAITS])


NOTHING_WAITS = "Nothing waits for a label. Make one again with: holdlog label CODE"


def _list_waiting(shop: "Kitchen", *, json: bool) -> None:
    from holdlog.kitchen.due import waiting

    found = waiting(shop)
    if json:
        emit([waits_json(each, shop) for each in found])
    elif not found:
        say([NOTHING_WAITS])
    else:
        _say_waiting(found)


def _say_waiting(found: "list[Waits]") -> None:
    from holdlog.core.codes import show
    from holdlog.kitchen.waiting import UNSEEN
    from holdlog.reports.tables import Table

    rows = tuple(
        (show(each.line.row.code), each.line.row.item_name, each.line.row.unit, each.why)
        for each in found
    )
    say(
        [
            Table(f"{count_of(len(found), 'container')} waiting for a label",
                  ("code", "item", "unit", "why"), rows),
            "",
            "Make them all: holdlog label --waiting. On tape: holdlog label CODE --tape",
            *(
                ["In hand after all? holdlog label CODE --seen"]
                if any(each.why == UNSEEN for each in found)
                else []
            ),
        ]
    )  # fmt: skip


def waits_json(each: "Waits", shop: "Kitchen") -> dict[str, object]:
    """A container that waits for a label, for programs."""
    return {**row_json(each.line.row, shop), "why": each.why}


def label_words(
    context: typer.Context,
    language: Languages = [],  # noqa: B006
    font: Annotated[
        list[str],
        typer.Option("--font", show_default=False, metavar="FILE",
                     help="A font for signs that ours lacks, on labels and paper; repeat it."),
    ] = [],  # noqa: B006
    no_fonts: Annotated[
        bool, typer.Option("--no-fonts", help="Only the label font again.")
    ] = False,
    by: By = "",
    json: Json = False,
) -> None:  # fmt: skip
    r"""The languages of the labels: show them, or say them anew.

    Of two languages the second says beside the first what guests' safety hangs on: the use-by,
    what not to serve, the allergens.

    \b
    Examples:
      holdlog label-words
      holdlog label-words --language en --language es
    """
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.printers import set_words, spoken
    from holdlog.labels.words import LANGUAGES
    from holdlog.reports.page_fonts import own_fonts

    if font and no_fonts:
        raise Mistake("too-much", "--font and --no-fonts at once?", "Leave one out.")
    shop = kitchen(context)
    if language or font or no_fonts:
        fonts = tuple(font) if font or no_fonts else None
        now = set_words(shop, by, tuple(language), fonts)
        for fault in own_fonts(now.fonts).faults if font else ():
            note(fault)
    else:
        with shop.db.reading() as conn:
            now = spoken(shop, conn)
    if json:
        emit({"languages": list(now.languages), "fonts": [str(path) for path in now.fonts]})
        return
    named = " and ".join(LANGUAGES[each] for each in now.languages)
    fonts_told = ", ".join(str(path) for path in now.fonts) or "none beside the label font"
    known = ", ".join(f"{code} ({name})" for code, name in LANGUAGES.items())
    say(
        [
            f"Labels are in {named}. Fonts: {fonts_told}.",
            f"Languages there are: {known}.",
            "Say them anew: holdlog label-words --language en --language es",
        ]
    )
