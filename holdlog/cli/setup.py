"""Setting up: the kitchen, its units, its items, its rules."""

from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.show import emit, say
from holdlog.cli.wiring import By, Json, Languages, asks, clock, database, kitchen, place, site

if TYPE_CHECKING:
    from collections.abc import Callable

    from holdlog.core import events as ev

Rulebooks = Annotated[
    list[str],
    typer.Option("--rulebook", "-R", show_default=False,
                 help="The rulebook your authority enforces; then amendments and house files."),
]  # fmt: skip
FreezeDay = Annotated[
    str,
    typer.Option("--freeze-day", help="counts, or does-not-count by a ruling. Else as the rules "
                 "have it.", show_default=False),
]  # fmt: skip
ThawDay = Annotated[
    str,
    typer.Option("--thaw-day", help="counts, or does-not-count by a ruling.", show_default=False),
]
DayEnd = Annotated[
    str,
    typer.Option("--day-end", help="calendar, or exact-hours by a ruling.", show_default=False),
]
Ruling = Annotated[
    str,
    typer.Option("--ruling", help="Who at the authority settled it, and when.", show_default=False),
]


def setup(
    context: typer.Context,
    name: Annotated[
        str, typer.Option("--name", help="The kitchen's name.", show_default=False)
    ] = "",
    zone: Annotated[
        str, typer.Option("--zone", help="Its time zone, America/Chicago.", show_default=False)
    ] = "",
    scale: Annotated[
        str, typer.Option("--scale", help="F or C: what its probes show.", show_default=False)
    ] = "",
    rulebook: Rulebooks = [],  # noqa: B006
    unit: Annotated[
        list[str],
        typer.Option(
            "--unit",
            "-u",
            show_default=False,
            help='A unit, in the order of your walk: "walk-in", "chest:freezer".',
        ),
    ] = [],  # noqa: B006
    closed: Annotated[
        list[str], typer.Option("--closed", help="A day it is closed: Mon.", show_default=False)
    ] = [],  # noqa: B006
    susceptible: Annotated[
        bool,
        typer.Option("--susceptible", help="It serves highly susceptible people (care, nursery)."),
    ] = False,
    freeze_day: FreezeDay = "",
    thaw_day: ThawDay = "",
    day_end: DayEnd = "",
    ruling: Ruling = "",
    starter: Annotated[
        bool, typer.Option("--starter/--no-starter", help="Begin with common prepared items.")
    ] = True,
    language: Languages = [],  # noqa: B006
    by: By = "",
    json: Json = False,
) -> None:
    r"""Set up a kitchen. Asks for what is not given.

    The rulebook is never guessed: it is the one your local health authority enforces.

    \b
    Example:
      holdlog setup --name "Tern & Tide" --zone America/New_York --scale F \
        -R us-food-code-2022 -u walk-in -u reach-in -u "chest freezer:freezer" \
        -u "hot box" --by JR
    """
    from holdlog.core.moments import zone as zone_called
    from holdlog.kitchen.setup import Plan, conventions_for, set_up
    from holdlog.kitchen.sites import others

    name = name or _ask("The kitchen's name", "--name", str.strip)
    zone = zone or _ask("Its time zone, as in America/Chicago", "--zone", zone_called).strip()
    scale = _scale(scale) if scale else _scale(_ask("Do its probes show F or C", "--scale", _scale))
    rulebooks = rulebook or [_ask_rulebook()]
    units = unit or _ask(
        'Its units in the order of your walk, as in "walk-in, reach-in, chest freezer:freezer"',
        "--unit",
        lambda text: [_unit(each) for each in text.split(",")],
    ).split(",")
    by = by if by.strip() else _ask("Your initials", "--by", str.strip)
    named = tuple(_unit(each) for each in units)
    _check_names([each for each, _ in named])
    plan = Plan(
        name=name.strip(),
        zone=zone.strip(),
        scale="F" if scale == "F" else "C",
        rulebooks=tuple(rulebooks),
        units=named,
        closed=tuple(closed),
        susceptible=susceptible,
        conventions=conventions_for(rulebooks, freeze_day, thaw_day, day_end),
        ruling=ruling,
        with_starter_items=starter,
        languages=tuple(language),
    )
    db = database(context, must_exist=False)
    here = site(context)
    set_up(db, clock, by.strip().upper(), plan, site=here)
    # A site that was mistyped would be one more kitchen, and an empty one.
    beside = ", ".join(others(db, here))
    more = [f"One more kitchen of this journal, beside: {beside}."] if beside else []
    # The address of a server may hold a password; its name does not.
    journal = place(context) if db.path is not None else db.name
    if json:
        emit({"kitchen": plan.name, "journal": journal, "rulebooks": list(plan.rulebooks)})
        return
    say(
        [
            f"{plan.name} is set up, on {', '.join(plan.rulebooks)}.",
            f"Its journal: {journal}",
            *more,
            "holdlog is no authority: your local health authority has the last word.",
            'Next: holdlog item list, then holdlog prep "chicken stock" 6l -c 3',
        ]
    )


def adopt(
    context: typer.Context,
    rulebook: Rulebooks = [],  # noqa: B006
    freeze_day: FreezeDay = "",
    thaw_day: ThawDay = "",
    day_end: DayEnd = "",
    ruling: Ruling = "",
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what would move; adopt nothing.")
    ] = False,
    by: By = "",
    json: Json = False,
) -> None:
    r"""Adopt rules anew: another rulebook, a house file, a convention your authority settled.

    An earlier date binds at once; a later one only once the container is labelled again. Name
    the whole stack: the rulebook first, then amendments, then house files.

    \b
    Examples:
      holdlog adopt -R us-food-code-2022 -R house.toml --dry-run
      holdlog adopt -R us-food-code-2022 -R house.toml --by JR
    """
    from holdlog.cli.redating import redating_json, redating_parts
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.setup import adopt as job
    from holdlog.kitchen.setup import conventions_for, settled_before, would_adopt

    if not rulebook:
        raise Mistake("no-rulebook", "Adopt what?", "Name the whole stack with -R, rulebook first.")
    shop = kitchen(context)
    conventions = conventions_for(rulebook, freeze_day, thaw_day, day_end)
    if conventions is None and not ruling:
        conventions, ruling = settled_before(shop, rulebook)
    if dry_run:
        found = would_adopt(shop, rulebook, conventions, ruling)
    else:
        found = job(shop, by, rulebook, conventions, ruling)
    if json:
        emit(redating_json(found, shop, rulebook, dry_run=dry_run))
    else:
        say(redating_parts(found, shop, dry_run=dry_run))


def unit_add(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME")],
    sort: Annotated[
        str, typer.Option("--sort", help="walk-in, reach-in, freezer, hot box or room.")
    ] = "walk-in",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Add a unit at the end of the walk.

    \b
    Example:
      holdlog unit add "garde-manger" --sort reach-in
    """
    from holdlog.kitchen.setup import add_unit

    shop = kitchen(context)
    label, kind = _unit(f"{name}:{sort}")
    add_unit(shop, by, label, kind)
    if json:
        emit({"unit": label, "sort": kind})
    else:
        say([f"{label} ({kind}) is added at the end of the walk."])


def _ask(question: str, option: str, read: "Callable[[str], object]") -> str:
    """Ask, and ask again until ``read`` takes the answer; without a person, say the option."""
    from holdlog.core.errors import HoldlogError, Mistake

    if not asks():
        raise Mistake("not-said", f"{question}?", f"Say it with {option}.")
    while True:
        answer = str(typer.prompt(question))
        try:
            read(answer)
        except HoldlogError as error:
            typer.echo(error.line())
        else:
            return answer


def _ask_rulebook() -> str:
    """The rulebook to adopt. It is never guessed: the books there are, and no default."""
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.shelf import book_ids, load_book

    def adoptable(text: str) -> None:
        if load_book(text.strip()).role != "adopted":
            raise Mistake(
                "not-adoptable",
                f"{text.strip()} only amends another rulebook.",
                "Name the one it amends here, and add it afterwards with: holdlog adopt",
            )

    books = [book for book in map(load_book, book_ids()) if book.role == "adopted"]
    if asks():
        for book in books:
            typer.echo(f"  {book.id:<20} {book.title}")
    known = ", ".join(book.id for book in books)
    question = "Which rulebook does your health authority enforce"
    return _ask(question, f"--rulebook: {known}", adoptable).strip()


def _scale(text: str) -> str:
    from holdlog.core.errors import Mistake

    scale = text.strip().upper()
    if scale not in ("F", "C"):
        raise Mistake("bad-scale", f"{text!r} is no scale.", "Say F or C.")
    return scale


def _check_names(names: list[str]) -> None:
    from holdlog.core.errors import Mistake

    lower = [name.lower() for name in names]
    twice = next((name for name in names if lower.count(name.lower()) > 1), "")
    if twice:
        raise Mistake(
            "unit-exists", f"There are two units {twice!r}.", "Give each a name of its own."
        )


def _unit(text: str) -> tuple[str, "ev.UnitSort"]:
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.setup import SORTS

    name, _, sort = text.strip().partition(":")
    wanted = (sort or name).strip().lower()
    fits = [each for each in SORTS if each == wanted] or [
        each for each in SORTS if not sort and each in wanted
    ]
    if not name.strip() or len(fits) != 1:
        raise Mistake(
            "bad-unit",
            f"{text.strip()!r}: what sort of unit is it?",
            f'Write "NAME:SORT" with a sort of: {", ".join(SORTS)}.',
        )
    return name.strip(), fits[0]
