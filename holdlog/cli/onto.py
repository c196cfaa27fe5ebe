"""Where labels go: the options that every command with a label has, and what they come to.

A command takes one parameter ``onto: Onto`` and is marked ``@labels``, which spreads it out into
options on the command line.
"""

import inspect
import sys
from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.wiring import kitchen, labels_folder

if TYPE_CHECKING:
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.printers import Device
    from holdlog.kitchen.printing import Pages, Printed, Wanted

RESOLUTIONS = (203, 300, 600)


def resolution(dpi: int) -> int:
    """A resolution that labels are made for; 0: as the printer has it. Raises ``Mistake``."""
    from holdlog.core.errors import Mistake

    if dpi not in (0, *RESOLUTIONS):
        raise Mistake(
            "bad-dpi",
            f"Labels are made at {' or '.join(map(str, RESOLUTIONS))} dpi, not {dpi}.",
            "Look at the printer's plate.",
        )
    return dpi


@dataclass(frozen=True, slots=True)
class Onto:
    """What a cook said of where labels go."""

    to: Annotated[
        str,
        typer.Option("--to", envvar="HOLDLOG_LABELS", help="Folder for the labels.",
                     show_default=False, metavar="FOLDER"),
    ] = ""  # fmt: skip
    printer: Annotated[
        str,
        typer.Option("--printer", "-P", help="Which printer. Else the kitchen's own.",
                     show_default=False, metavar="NAME"),
    ] = ""  # fmt: skip
    template: Annotated[
        str,
        typer.Option("--template", help="Label template. Else the printer's.", show_default=False,
                     metavar="NAME|FILE"),
    ] = ""  # fmt: skip
    # Checked as the command line is read, before anything is recorded.
    dpi: Annotated[
        int,
        typer.Option("--dpi", help="Resolution: 203, 300 or 600. Else the printer's.",
                     show_default=False, callback=resolution),
    ] = 0  # fmt: skip
    tape: Annotated[
        bool, typer.Option("--tape", help="No label: only say what to write on tape.")
    ] = False


AS_USUAL = Onto()


@dataclass(frozen=True, slots=True)
class Place:
    """Where labels go: to a printer, into a folder, or (neither) onto tape by hand."""

    wanted: "Wanted"
    device: "Device | None" = None
    folder: Path | None = None
    pages: "Pages | None" = None


def labels(command: Callable[..., None]) -> Callable[..., None]:
    """The command with the options of ``Onto`` in place of its parameter ``onto``."""
    signature = inspect.signature(command)
    options = [
        inspect.Parameter(
            each.name, inspect.Parameter.KEYWORD_ONLY, default=each.default, annotation=each.type
        )
        for each in fields(Onto)
    ]

    @wraps(command)
    def spread(**given: Any) -> None:
        said = {each.name: given.pop(each.name) for each in fields(Onto)}
        command(**given, onto=Onto(**said))

    shown: list[inspect.Parameter] = []
    for parameter in signature.parameters.values():
        shown += options if parameter.name == "onto" else [
            parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY)
        ]  # fmt: skip
    spread.__annotations__ = {each.name: each.annotation for each in shown}
    spread.__signature__ = signature.replace(parameters=shown)  # type: ignore[attr-defined]
    return spread


def opened(context: typer.Context, onto: Onto) -> "tuple[Kitchen, Place]":
    """The kitchen, and where its labels go. What cannot be is told before anything is written:
    raises ``Mistake`` for a printer or a template that there is not.
    """
    shop = kitchen(context)
    return shop, place_for(context, shop, onto)


def place_for(context: typer.Context, shop: "Kitchen", onto: Onto) -> Place:
    """Where labels go: as said; else the kitchen's own printer; else a folder."""
    from holdlog.kitchen.printers import default_device, find_device
    from holdlog.kitchen.printing import Wanted

    _refuse_two_places(context, onto)
    if onto.template:
        _find_template(onto.template)
    wanted = Wanted(onto.template, onto.dpi)
    if onto.tape:
        return Place(wanted)
    with shop.db.reading() as conn:
        if onto.printer:
            return Place(wanted, find_device(shop, conn, onto.printer))
        device = None if onto.to else default_device(shop, conn)
    return Place(wanted, device) if device is not None else (
        Place(wanted, folder=labels_folder(context, onto.to))
    )  # fmt: skip


def _find_template(name: str) -> None:
    """Refuse a template in one line, however many faults it has."""
    from holdlog.core.errors import BadFile, Mistake
    from holdlog.labels import template

    try:
        template.find(name)
    except BadFile as error:
        if not error.faults[1:]:
            raise
        raise Mistake(
            error.code,
            f"{error.faults[0]}; and {len(error.faults) - 1} more faults.",
            f"All of them: holdlog template check {name}",
        ) from error


def _refuse_two_places(context: typer.Context, onto: Onto) -> None:
    """A folder that the environment names is only the usual one; one that was typed is meant."""
    from holdlog.core.errors import Mistake

    source = context.get_parameter_source("to")
    typed = bool(onto.to) and source is not None and source.name == "COMMANDLINE"
    if typed + bool(onto.printer) + onto.tape > 1:
        raise Mistake(
            "too-much", "--to, --printer and --tape are three places for a label.", "Say one."
        )


def make(shop: "Kitchen", by: str, codes: list[str], place: Place) -> "Printed":
    """Make the labels of ``codes`` where ``place`` says."""
    from time import sleep

    from holdlog.kitchen.printing import print_labels, print_sheet, send_labels

    if place.device is not None:
        return send_labels(
            shop, by, codes, place.device, place.wanted, pause=sleep, tell=told_meanwhile
        )
    folder = place.folder if place.folder is not None else Path()
    if place.pages is not None:
        return print_sheet(shop, by, codes, folder, place.pages, place.wanted, tell=told_meanwhile)
    return print_labels(shop, by, codes, folder, place.wanted, tell=told_meanwhile)


def told_meanwhile(text: str) -> None:
    """Word of a long job, for somebody who waits at a terminal."""
    if sys.stderr.isatty():
        from holdlog.core.visible import visible

        print(f"  {visible(text)}", file=sys.stderr)
