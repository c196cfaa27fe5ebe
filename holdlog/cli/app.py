"""The commands, put together. Nothing heavy is imported before a command runs."""

from typing import Annotated, Any

import typer

from holdlog import __version__
from holdlog.cli import check, demo, discards, handle, keep, make, setup, whatif

app = typer.Typer(
    name="holdlog",
    help="The holding and shelf-life log of a kitchen: labels at the end of prep, the morning "
    "check of the walk-in, the audit of what was discarded.\n\n"
    "It works out dates by the rulebook your kitchen adopted. It is no authority: your local "
    "health authority has the last word. When in doubt, throw it out.",
    epilog='A day: holdlog prep "chicken stock" 6l -c 3 · holdlog due · holdlog why H7K3-9QX2 · '
    "holdlog discard H7K3-9QX2 --reason date · holdlog audit",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
    no_args_is_help=True,
)
for part in (setup, make, handle, check, discards, keep, whatif, demo):
    part.add_to(app)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"holdlog {__version__}")
        raise typer.Exit


@app.callback()
def everywhere(
    context: typer.Context,
    db: Annotated[
        str,
        typer.Option("--db", envvar="HOLDLOG_DB", help="The journal (a file).", show_default=False),
    ] = "",
    _version: Annotated[
        bool,
        typer.Option("--version", help="Show the version.", callback=_show_version, is_eager=True),
    ] = False,
) -> None:
    """What holds for all commands."""
    context.obj = {"db": db}


def command() -> Any:
    """The click command to run."""
    return typer.main.get_command(app)
