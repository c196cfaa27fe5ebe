"""Label templates and sheets: the ones there are, what one looks like, faults in a file."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.onto import resolution
from holdlog.cli.show import emit, note, say
from holdlog.cli.wiring import Json, save

if TYPE_CHECKING:
    from holdlog.labels.fields import Template

Which = Annotated[
    str, typer.Argument(metavar="NAME|FILE", help="A template's name, or the path of a file.")
]


def list_(json: Json = False) -> None:
    r"""The label templates that came with the program, with the size of their labels.

    \b
    Example:
      holdlog template list
    """
    from holdlog.labels import template
    from holdlog.reports.tables import Table

    forms = [template.find(name) for name in template.names()]
    if json:
        emit([_form_json(form) for form in forms])
        return
    rows = tuple((form.name, form.title, _lacks(form)) for form in forms)
    say(
        [
            Table("", ("template", "labels of", "without"), rows),
            "",
            "Look at one: holdlog template show NAME --to label.png",
        ]
    )


def show(
    context: typer.Context,
    name: Which,
    purpose: Annotated[
        str, typer.Option("--purpose", help="Of a label for what: frozen, cooling, on-hold …")
    ] = "prepared",
    to: Annotated[
        str,
        typer.Option(
            "--to", help="A picture of it: label.png.", show_default=False, metavar="FILE"
        ),
    ] = "",
    dpi: Annotated[int, typer.Option("--dpi", help="203, 300 or 600.", callback=resolution)] = 203,
    json: Json = False,
) -> None:
    r"""A sample label on a template: what stands where, and a picture of it.

    \b
    Examples:
      holdlog template show two-by-two --to label.png
      holdlog template show two-by-two --purpose frozen
    """
    from holdlog.kitchen.samples import laid_out, spots
    from holdlog.labels import template
    from holdlog.reports.tables import Table

    form = template.find(name)
    laid = laid_out(form, purpose, dpi or 203)
    if to:
        from holdlog.labels.output import png_bytes
        from holdlog.labels.raster import draw

        save(context, to, png_bytes(draw(laid), laid.dpi))
    found = spots(laid)
    if json:
        places = [
            {"field": spot.field, "says": spot.says,
             "mm": [round(each, 2) for each in (spot.x, spot.y, spot.width, spot.height)]}
            for spot in found
        ]  # fmt: skip
        emit(
            {**_form_json(form), "purpose": purpose, "dpi": laid.dpi, "file": to or None,
             "places": places, "warnings": list(laid.warnings)}
        )  # fmt: skip
        return
    rows = tuple(
        (spot.field, f"{spot.x:.1f}, {spot.y:.1f}", f"{spot.width:.1f} x {spot.height:.1f}",
         spot.says)
        for spot in found
    )  # fmt: skip
    parts: list[Any] = [
        f"{form.name}: {form.title}, {_size(form)} mm. A sample label, {purpose}.",
        Table("", ("field", "at mm", "size mm", "says"), rows),
        *(f"Look at the label: {each}" for each in laid.warnings),
    ]
    say([*parts, f"Picture: {to}" if to else "A picture of it: --to label.png"])


def check(
    files: Annotated[list[str], typer.Argument(metavar="FILE...", help="The files to check.")],
    json: Json = False,
) -> None:
    r"""Find every fault of a label template, one a line. Leaves with 2 if anything is wrong.

    Checked are the file itself (nothing overlaps or leaves the label, text keeps its least
    height, the code fits) and a sample label of every kind.

    \b
    Example:
      holdlog template check our-label.toml
    """
    from holdlog.kitchen.samples import checked

    found = [checked(file) for file in files]
    faults = [fault for each in found for fault in each.faults]
    if json:
        emit([{"file": each.file, "faults": list(each.faults)} for each in found])
    else:
        say([f"{each.file}: no fault found." for each in found if not each.faults])
    for fault in faults:
        note(" ".join(fault.split()))
    if faults:
        raise typer.Exit(2)


def new(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Where to write it.")],
    size: Annotated[
        str,
        typer.Option("--size", help='Width x height: "50x30" mm, "2x1in".', show_default=False),
    ] = "",
    json: Json = False,
) -> None:
    r"""Write a label template of any size to begin with. It never writes over a file.

    \b
    Example:
      holdlog template new our-label.toml --size 50x30
    """
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.samples import read_size, write_new

    if not size:
        raise Mistake("no-size", "How large is the label?", "Say --size 50x30 (mm).")
    write_new(Path(file), *read_size(size))
    if json:
        emit({"file": file})
        return
    say(
        [
            f"Written: {file}. Move things about in it, in millimetres.",
            f"Look for faults: holdlog template check {file}",
            f"Look at it: holdlog template show {file} --to label.png",
        ]
    )


# ---- sheets ----------------------------------------------------------------------------------


def sheet_list(json: Json = False) -> None:
    r"""The sheets of labels there are: paper, places, size of a place.

    \b
    Example:
      holdlog sheet list
    """
    from holdlog.labels import sheet
    from holdlog.reports.tables import Table

    found = [sheet.find(name) for name in sheet.names()]
    if json:
        emit(
            [
                {"sheet": each.name, "title": each.title, "paper": each.paper,
                 "columns": each.columns, "rows": each.rows, "mm": [each.width, each.height]}
                for each in found
            ]
        )  # fmt: skip
        return
    rows = tuple(
        (each.name, each.paper, f"{each.columns} x {each.rows}",
         f"{each.width:.1f} x {each.height:.1f}", each.title)
        for each in found
    )  # fmt: skip
    say(
        [
            Table("", ("sheet", "paper", "places", "mm", ""), rows),
            "",
            "Print on one: holdlog label CODE --sheet NAME --start 7",
        ]
    )


def ruler(
    context: typer.Context,
    paper: Annotated[str, typer.Argument(metavar="PAPER", help="letter or a4; or a sheet's name.")],
    to: Annotated[
        str, typer.Option("--to", help="Where to write it.", metavar="FILE", show_default=False)
    ] = "",
    json: Json = False,
) -> None:
    r"""Write a page with a ruler: it shows whether a printer prints at true size.

    Named a sheet, it shows the places of the sheet as well, to hold against the labels.

    \b
    Examples:
      holdlog sheet ruler letter
      holdlog sheet ruler letter-4x5 --to ruler.pdf
    """
    from holdlog.labels import sheet

    named = sheet.find(paper) if paper in sheet.names() or paper.endswith(".toml") else None
    content = sheet.ruler_pdf(named.paper if named else paper, named)
    file = to or f"ruler-{named.name if named else paper}.pdf"
    save(context, file, content, "Name another file with --to.")
    if json:
        emit({"file": file})
        return
    say(
        [
            f"Written: {file}",
            "Print it at 100 % (not fitted to the page), and measure: 100 mm must be 100 mm.",
        ]
    )


def _size(form: "Template") -> str:
    longest = f"-{form.longest:g}" if form.longest is not None else ""
    turned = ", turned" if form.turned else ""
    return f"{form.width:g} x {form.height:g}{longest}{turned}"


def _lacks(form: "Template") -> str:
    """What it does not show, for those who choose one."""
    from holdlog.labels.faces import TOLD

    left_out = [key for key in form.leaves_out if key in TOLD]
    return ", ".join([*left_out, *(f"{face} labels" for face, _ in form.refuses)])


def _form_json(form: "Template") -> dict[str, Any]:
    return {
        "template": form.name,
        "title": form.title,
        "width_mm": form.width,
        "height_mm": form.height,
        "longest_mm": form.longest,
        "turned": form.turned,
        "leaves_out": list(form.leaves_out),
        "refuses": dict(form.refuses),
    }
