"""The rules themselves: the books there are, what one says, what two change, faults in a file."""

from pathlib import Path
from typing import Annotated

import typer

from holdlog.cli.show import emit, note, say
from holdlog.cli.wiring import Json

Book = Annotated[
    str, typer.Argument(metavar="BOOK", help="A rulebook's id, or the path of a file.")
]
StackName = Annotated[
    str,
    typer.Argument(metavar="STACK", help="Ids or paths with commas between, adopted book first."),
]


def list_(json: Json = False) -> None:
    r"""The rulebooks that came with the program: those to adopt, then the amendments.

    How each rule was seen is counted: in the authority's own text, as another source reports it
    (secondary), from memory, or as our reading of the text (inference).

    \b
    Example:
      holdlog rulebook list
    """
    from holdlog.cli import rulebook_words as words
    from holdlog.kitchen.rulebooks import listed

    books = listed()
    if json:
        emit([words.book_json(book) for book in books])
    else:
        say(words.list_parts(books))


def show(book: Book, json: Json = False) -> None:
    r"""One rulebook in full: every rule with its figures, its section and how it was seen.

    \b
    Examples:
      holdlog rulebook show us-food-code-2022
      holdlog rulebook show us-mn
    """
    from holdlog.cli import rulebook_words as words
    from holdlog.kitchen.rulebooks import shown

    found = shown(book)
    if json:
        emit(words.shown_json(found))
    else:
        say(words.shown_parts(found))


def compare(
    first: StackName,
    second: StackName,
    category: Annotated[
        str, typer.Option("--category", "-k", help="The kind of food.", show_default=False)
    ] = "",
    json: Json = False,
) -> None:
    r"""What changes for me? The days, limits and deadlines of two stacks, side by side.

    Worked out on made-up food of one category; nothing is recorded and no kitchen is needed.

    \b
    Examples:
      holdlog rulebook compare us-food-code-2022 fr-2009 -k stock
      holdlog rulebook compare us-food-code-2013 us-food-code-2013,us-mn -k dairy
    """
    from holdlog.cli import rulebook_words as words
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.shelf import category_ids
    from holdlog.kitchen.situations import compare as job

    if not category:
        raise Mistake("no-category", "What kind of food?", f"-k with: {', '.join(category_ids())}.")
    found = job(_names(first), _names(second), category)
    if json:
        emit(words.comparison_json(found))
    else:
        say(words.comparison_parts(found))


def check(
    files: Annotated[list[str], typer.Argument(metavar="FILE...", help="The files to check.")],
    on: Annotated[
        str,
        typer.Option(
            "--on",
            metavar="STACK",
            show_default=False,
            help="The stack it is to stand on: ids or paths with commas between.",
        ),
    ] = "",
    json: Json = False,
) -> None:
    r"""Find every fault of a rulebook, an amendment or a house file, one a line.

    With --on it is also checked that the file stands on that stack, and that house rules only
    tighten it. Leaves with 2 if anything is wrong.

    \b
    Examples:
      holdlog rulebook check house.toml
      holdlog rulebook check house.toml --on us-food-code-2022,us-ga
    """
    from holdlog.cli import rulebook_words as words
    from holdlog.kitchen.rulebooks import checked

    found = checked(files, _names(on))
    faults = [fault for each in found for fault in each.faults]
    if json:
        emit(words.checked_json(found, _names(on)))
    else:
        say(words.checked_parts(found, _names(on)))
    for fault in faults:
        note(" ".join(fault.split()))
    if faults:
        raise typer.Exit(2)


def house(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Where to write it.")] = "house.toml",
    json: Json = False,
) -> None:
    r"""Write a house file to begin with: what your kitchen keeps shorter or colder than the law.

    It never writes over a file.

    \b
    Example:
      holdlog rulebook house house.toml
    """
    from holdlog.kitchen.rulebooks import write_house

    write_house(Path(file))
    if json:
        emit({"file": file})
        return
    say(
        [
            f"Written: {file}. Change it to what your kitchen does.",
            f"Then look for faults: holdlog rulebook check {file} --on us-food-code-2022",
            f"See what would change: holdlog adopt -R us-food-code-2022 -R {file} --dry-run",
        ]
    )


def _names(stack: str) -> list[str]:
    """The books of a stack as typed, with commas between."""
    return [name.strip() for name in stack.split(",") if name.strip()]
