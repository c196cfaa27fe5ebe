"""Handling containers: freeze, thaw, move, reheat, out, split, top-up, read."""

from typing import Annotated

import typer

from holdlog.cli.finish import finish
from holdlog.cli.onto import AS_USUAL, Onto, labels, opened
from holdlog.cli.show import emit, row_json, row_line, say
from holdlog.cli.wiring import At, By, Code, Json, ProbeName, UnitName, kitchen, moment

Heat = Annotated[str, typer.Option("--temperature", "-t", help='What it read: "165F".')]


@labels
def freeze(
    context: typer.Context,
    code: Code,
    at: At = "",
    unit: UnitName = "",
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Freeze a container, and label it with the days it will have left.

    Freezing pauses its days and cures nothing; the day of freezing counts unless your
    authority has ruled otherwise.

    \b
    Example:
      holdlog freeze H7K3-9QX2 --by MK
    """
    from holdlog.kitchen.handle import freeze as job

    shop, place = opened(context, onto)
    done = job(shop, by, code, moment(shop, at), shop.unit(unit) if unit else None)
    finish(shop, by, [done.row], place, json=json, headline="Frozen.")


@labels
def thaw(
    context: typer.Context,
    code: Code,
    method: Annotated[
        str,
        typer.Option("--method", help="refrigerator, running-water, microwave or cooking."),
    ] = "refrigerator",
    at: At = "",
    unit: UnitName = "",
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Take a container out of the freezer, and label it with its date.

    The day it leaves the freezer counts.

    \b
    Example:
      holdlog thaw H7K3-9QX2 --by MK
    """
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.handle import thaw as job
    from holdlog.rules.kinds import THAW_METHODS

    if method not in THAW_METHODS:
        raise Mistake(
            "bad-method", f"{method!r} is no way to thaw.", f"Say {', '.join(THAW_METHODS)}."
        )
    shop, place = opened(context, onto)
    where = shop.unit(unit) if unit else None
    done = job(shop, by, code, moment(shop, at), method, where)  # type: ignore[arg-type]
    finish(shop, by, [done.row], place, json=json, headline="Thawed.")


def move(
    context: typer.Context,
    code: Code,
    unit: Annotated[str, typer.Argument(metavar="UNIT", help="Where it stands now.")],
    at: At = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Move a container to another unit of the same kind of cold.

    \b
    Example:
      holdlog move H7K3-9QX2 reach-in
    """
    from holdlog.kitchen.handle import move as job

    shop = kitchen(context)
    done = job(shop, by, code, moment(shop, at), shop.unit(unit))
    if json:
        emit(row_json(done.row, shop))
    else:
        say(["Moved.", row_line(done.row, shop)])


@labels
def reheat(
    context: typer.Context,
    code: Code,
    temperature: Heat = "",
    held: Annotated[
        int, typer.Option("--held", help="Seconds at that temperature.", show_default=False)
    ] = -1,
    took: Annotated[
        int, typer.Option("--took", help="Minutes to get there.", show_default=False)
    ] = -1,
    into: Annotated[
        str, typer.Option("--into", help="Into which hot box, if any.", show_default=False)
    ] = "",
    probe: ProbeName = "",
    at: At = "",
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Record that a container was reheated. Its days run on; into a hot box it gets a new label.

    \b
    Example:
      holdlog reheat H7K3-9QX2 -t 165F --held 15 --took 40
    """
    from holdlog.core import events as ev
    from holdlog.core.errors import Mistake
    from holdlog.core.temperature import read_temperature
    from holdlog.kitchen.handle import reheat as job

    if not temperature:
        raise Mistake("bad-temperature", "What did it read?", "Say -t 165F (or -t 74C).")
    shop, place = opened(context, onto)
    fact = ev.Reheated(
        read_temperature(temperature), held if held >= 0 else None, took if took >= 0 else None,
        probe,
    )  # fmt: skip
    done = job(shop, by, code, moment(shop, at), fact, shop.unit(into) if into else None)
    if into:
        finish(
            shop, by, [done.row], place, json=json,
            headline="Reheated, and held hot. Its days run on.",
        )  # fmt: skip
    elif json:
        emit(row_json(done.row, shop))
    else:
        say(["Reheated. Its days run on.", row_line(done.row, shop)])


@labels
def out(
    context: typer.Context,
    code: Code,
    plan: Annotated[
        str, typer.Option("--plan", help="4h, 6h or 2h, as your rules have it.")
    ] = "4h",
    temperature: Heat = "",
    probe: ProbeName = "",
    at: At = "",
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Take a container out of temperature control (time as a public health control).

    It is served or discarded within its hours and never goes back. Your kitchen needs written
    procedures for this.

    \b
    Example:
      holdlog out H7K3-9QX2 --plan 4h -t 40F
    """
    from holdlog.core import events as ev
    from holdlog.core.errors import Mistake
    from holdlog.core.temperature import read_temperature
    from holdlog.kitchen.handle import take_out
    from holdlog.rules.kinds import PLANS

    if plan not in PLANS:
        raise Mistake("bad-plan", f"{plan!r} is no plan.", f"Say one of: {', '.join(PLANS)}.")
    if not temperature:
        raise Mistake("bad-temperature", "What did it read when it came out?", "Say -t 40F.")
    shop, place = opened(context, onto)
    fact = ev.Out(plan, read_temperature(temperature), probe)  # type: ignore[arg-type]
    done = take_out(shop, by, code, moment(shop, at), fact)
    finish(shop, by, [done.row], place, json=json, headline="Out.")


@labels
def split(
    context: typer.Context,
    code: Code,
    into: Annotated[int, typer.Option("--into", help="Into how many containers.")] = 1,
    each: Annotated[
        str, typer.Option("--each", help="How much in each: 500g.", show_default=False)
    ] = "",
    keep: Annotated[bool, typer.Option("--keep", help="Some stays in the old container.")] = False,
    unit: UnitName = "",
    at: At = "",
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Split a container, or pan it down: the new ones carry its date and its whole history.

    \b
    Examples:
      holdlog split H7K3-9QX2 --into 3
      holdlog split H7K3-9QX2 --into 1 --each 500g --keep      (part of it)
    """
    from holdlog.core.amounts import read_amount
    from holdlog.kitchen.handle import split as job

    shop, place = opened(context, onto)
    done = job(
        shop, by, code, moment(shop, at), into, shop.unit(unit) if unit else None,
        read_amount(each) if each else None, keep=keep,
    )  # fmt: skip
    old = "some stays in the old one" if keep else "the old label is retired: take it off"
    finish(
        shop, by, list(done.made), place, json=json,
        headline=f"Split into {into}; {old}.",
    )  # fmt: skip


@labels
def top_up(
    context: typer.Context,
    code: Annotated[str, typer.Argument(metavar="CODE", help="The container that stays.")],
    poured: Annotated[str, typer.Argument(metavar="POURED", help="The one poured into it.")],
    at: At = "",
    by: By = "",
    onto: Onto = AS_USUAL,
    json: Json = False,
) -> None:
    r"""Pour one tub into another of the same item: the older date wins, one label is retired.

    \b
    Example:
      holdlog top-up H7K3-9QX2 M2RT-44KD
    """
    from holdlog.core.codes import show
    from holdlog.kitchen.handle import top_up as job

    shop, place = opened(context, onto)
    done = job(shop, by, code, poured, moment(shop, at))
    retired = show("".join(ch for ch in poured.upper() if ch.isalnum()))
    finish(
        shop, by, [done.row], place, json=json,
        headline=f"Poured together; the label {retired} is retired: take it off.",
    )  # fmt: skip


def read(
    context: typer.Context,
    code: Code,
    reading: Annotated[str, typer.Argument(metavar="READING", help='What it reads: "40F".')],
    at: At = "",
    probe: ProbeName = "",
    evidence: Annotated[
        str,
        typer.Option(
            "--evidence",
            help="For a later day: the paper or logger it rests on.",
            show_default=False,
        ),
    ] = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Log a temperature of the food where it is held, cold or hot.

    Beyond the limit it goes on hold, and the person in charge decides.

    \b
    Example:
      holdlog read H7K3-9QX2 39.5F --probe red
    """
    from holdlog.cli.probe_words import doubt_said
    from holdlog.core.temperature import read_temperature
    from holdlog.kitchen.handle import reading as job

    shop = kitchen(context)
    done = job(shop, by, code, moment(shop, at), read_temperature(reading), probe, evidence)
    if json:
        emit(row_json(done.row, shop))
    else:
        say(["Read.", row_line(done.row, shop), *doubt_said(shop, probe)])
