"""The kitchen's thermometers: add one, check one in ice or boiling water, list them."""

import re
from typing import Annotated

import typer

from holdlog.cli.probe_words import (
    HOW_OFTEN,
    RAW,
    SHOWS,
    again,
    checked_json,
    checked_parts,
    freezing,
    last_told,
    offset_told,
    probe_json,
    standing,
    typed,
)
from holdlog.cli.show import emit, say
from holdlog.cli.wiring import At, By, Json, kitchen, moment

Name = Annotated[str, typer.Argument(metavar="NAME", help="What you call it: red, probe 2.")]


def add(
    context: typer.Context,
    name: Name,
    scale: Annotated[
        str,
        typer.Option("--scale", show_default=False,
                     help="What it shows: F, C, or FC for both."),
    ] = "",
    by: By = "",
    json: Json = False,
) -> None:  # fmt: skip
    r"""Add a thermometer, or say anew which scales it shows.

    How far it may be off depends on that: 2 °F where it shows Fahrenheit alone, else 1 °C.

    \b
    Examples:
      holdlog probe add red --scale F
      holdlog probe add "probe 2" --scale FC
    """
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.probes import SCALES
    from holdlog.kitchen.probes import add as job

    wanted = "".join(ch for ch in scale.upper() if ch.isalpha())
    shows = next((each for each in SCALES if set(each) == set(wanted)), None)
    if shows is None:
        raise Mistake("bad-scale", "What does it show?", "Say --scale F, C, or FC for both.")
    shop = kitchen(context)
    probe = job(shop, by, name, shows)
    if json:
        emit(probe_json(probe, shop))
        return
    say(
        [
            f"{probe.name} is added; it shows {SHOWS[probe.scale]}.",
            f"Check it in ice: holdlog probe check {typed(probe.name)} {freezing(probe)}",
        ]
    )


def check(
    context: typer.Context,
    name: Name,
    reading: Annotated[str, typer.Argument(metavar="READING", help='What it reads: "32.5F".')],
    ice: Annotated[
        bool, typer.Option("--ice", help="In a slush of ice and water, which is the usual.")
    ] = False,
    boiling: Annotated[
        bool, typer.Option("--boiling", help="In plain boiling water: advice, decides nothing.")
    ] = False,
    altitude: Annotated[
        str,
        typer.Option("--altitude", show_default=False, metavar="HEIGHT",
                     help="For boiling: 5280ft or 1600m above the sea."),
    ] = "",
    pressure: Annotated[
        str,
        typer.Option("--pressure", show_default=False, metavar="HPA",
                     help="For boiling: a barometer here, not reduced to sea level."),
    ] = "",
    at: At = "",
    by: By = "",
    json: Json = False,
) -> None:  # fmt: skip
    r"""Check a thermometer: in a full slush of ice and water, or in boiling water.

    Ice decides. One that is off by more than 2 °F (1 °C where it shows Celsius) puts in doubt
    what was read on it since its last good check: food that rests on that is judged anew.

    \b
    Examples:
      holdlog probe check red 32.5F
      holdlog probe check red 203F --boiling --altitude 5280ft
    """
    from holdlog.core.errors import Mistake
    from holdlog.core.temperature import read_temperature
    from holdlog.kitchen.probes import check as job

    if ice and boiling:
        raise Mistake("bad-check", "In ice, or in boiling water?", "Say --ice or --boiling.")
    if not boiling and (altitude or pressure):
        raise Mistake(
            "bad-check",
            "Ice melts at the same temperature at any height.",
            "Leave --altitude and --pressure out, or say --boiling.",
        )
    pascals = _pascals(altitude, pressure) if boiling else None
    shop = kitchen(context)
    done = job(shop, by, name, moment(shop, at), read_temperature(reading), pascals)
    if json:
        emit(checked_json(done, shop))
    else:
        say(checked_parts(done, shop))


def list_(context: typer.Context, json: Json = False) -> None:
    r"""The thermometers: the last check of each, how far off it was, and which are in doubt.

    \b
    Example:
      holdlog probe list
    """
    from holdlog.kitchen.probes import last_read_on, probes
    from holdlog.reports.tables import Table

    shop = kitchen(context)
    with shop.db.reading() as conn:
        found = [(each, last_read_on(shop, conn, each)) for each in probes(shop, conn)]
        now = shop.moment(conn)
    if json:
        emit(
            [
                {**probe_json(each, shop), "last_read_on": [row.code for row in rows]}
                for each, rows in found
            ]
        )
        return
    if not found:
        say(["No probe yet. Add one, with what it shows: holdlog probe add red --scale F"])
        return
    rows = tuple(
        (
            each.name,
            SHOWS[each.scale],
            last_told(each.ice, now, shop),
            offset_told(each.ice),
            standing(each, shop),
        )
        for each, _ in found
    )
    parts: list[Table | str] = [Table("", ("probe", "shows", "last in ice", "off by", ""), rows)]
    for each, doubted in found:
        if doubted:
            parts += ["", *again(each, doubted, shop)]
    say([*parts, "", RAW, HOW_OFTEN])


# ---- reading what was typed ------------------------------------------------------------------


_FIGURE = r"\s*([+-]?\d{1,5}(?:[.,]\d{1,3})?)\s*"
_HEIGHT = re.compile(_FIGURE + r"(ft|feet|m)\s*", re.IGNORECASE | re.ASCII)
_PRESSURE = re.compile(_FIGURE + r"(?:hpa|mbar)\s*", re.IGNORECASE | re.ASCII)


def _pascals(altitude: str, pressure: str) -> float:
    from holdlog.core.errors import Mistake
    from holdlog.rules import probe

    if bool(altitude) == bool(pressure):
        raise Mistake(
            "no-altitude",
            "Water boils lower the higher the kitchen is.",
            "Say --altitude (5280ft or 1600m; at the sea 0ft), or --pressure (840hPa).",
        )
    if altitude:
        match = _HEIGHT.fullmatch(altitude)
        if match is None:
            raise Mistake("bad-altitude", f"{altitude!r} is no altitude.", "Write 5280ft or 1600m.")
        figure = float(match[1].replace(",", "."))
        return probe.pressure_at(figure if match[2].lower() == "m" else probe.metres(figure))
    match = _PRESSURE.fullmatch(pressure)
    if match is None:
        raise Mistake("bad-pressure", f"{pressure!r} is no air pressure.", "Write 840hPa.")
    return probe.station_pressure(float(match[1].replace(",", ".")))
