"""Working a date out without recording anything."""

from typing import Annotated

import typer

from holdlog.cli.wiring import Json


def whatif(
    file: Annotated[str, typer.Argument(metavar="FILE", help="A scenario (TOML); - reads it in.")],
    check: Annotated[
        bool, typer.Option("--check", help="Leave with 1 if an [expect] table does not hold.")
    ] = False,
    json: Json = False,
) -> None:
    r"""Work out the dates of a scenario. Nothing is recorded, no kitchen is needed.

    \b
    Examples:
      holdlog whatif soup.toml
      holdlog whatif soup.toml --json --check
    """
    from holdlog.cli.scenario import run

    if code := run(file, check=check, json=json):
        raise typer.Exit(code)
