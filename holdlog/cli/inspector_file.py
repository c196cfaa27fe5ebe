"""The file for the inspector: one PDF of a period."""

import sys
from typing import Annotated

import typer

from holdlog.cli.show import count_of, emit, note, say
from holdlog.cli.wiring import Json, kitchen, spare


def inspector_file(
    context: typer.Context,
    first: Annotated[
        str, typer.Option("--from", help="First day. Else the last 30.", show_default=False)
    ] = "",
    last: Annotated[
        str, typer.Option("--to", help="Last day. Else today.", show_default=False)
    ] = "",
    pdf: Annotated[
        str, typer.Option("--pdf", help="The PDF to write.", metavar="FILE")
    ] = "inspector-file.pdf",
    paper: Annotated[str, typer.Option("--paper", help="letter or a4.")] = "letter",
    json: Json = False,
) -> None:
    r"""One PDF for the inspector: rules in force, discards, holds, coolings, units, probes,
    corrections, labels, with plots, and what the journal proves and does not.

    \b
    Examples:
      holdlog inspector-file
      holdlog inspector-file --from 2026-06-01 --to 2026-06-30 --pdf june.pdf
    """
    from datetime import timedelta

    from holdlog.core import whole_files
    from holdlog.core.chain import show_head
    from holdlog.core.moments import local_date, read_day
    from holdlog.kitchen.inspection import inspection
    from holdlog.kitchen.inspection_words import file_of
    from holdlog.labels.typefaces import label_font
    from holdlog.reports.inspector_file import inspector_file as drawn
    from holdlog.reports.page_text import Typeface

    shop = kitchen(context)
    until = read_day(last) if last else local_date(shop.now(), shop.where)
    since = read_day(first) if first else until - timedelta(days=29)
    found = inspection(shop, since, until)
    typeface = Typeface(label_font(bold=False), label_font(bold=True), found.fonts)
    made = drawn(file_of(shop, found), paper.strip().lower(), typeface, _tell)
    whole_files.write(spare(shop, pdf), made.pdf, f"{whole_files.ELSEWHERE[:-1]}: --pdf.")
    for warning in made.warnings:
        note(warning)
    audit = found.audit
    if json:
        emit({
            "file": pdf, "pages": made.pages, "from": since.isoformat(), "to": until.isoformat(),
            "entries": audit.entries, "head": audit.head, "discards": audit.overall.discards,
            "holds": len(audit.holds), "coolings": len(audit.coolings),
            "warnings": list(made.warnings),
        })  # fmt: skip
        return
    say([
        (f"{pdf}: {count_of(made.pages, 'page')}, {count_of(audit.overall.discards, 'discard')}, "
        f"{count_of(len(audit.holds), 'hold')}."),
        f"Journal head: {show_head(audit.entries, audit.head)} (keep it on paper).",
    ])  # fmt: skip


def _tell(done: int, of: int) -> None:
    """The page that is being drawn, where a person waits for many of them."""
    if of > 20 and sys.stderr.isatty():  # noqa: PLR2004
        print(f"\rpage {done} of {of}", end="\n" if done == of else "", file=sys.stderr, flush=True)
