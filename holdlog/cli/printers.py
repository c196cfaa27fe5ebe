"""The kitchen's label printers: add one, list them, try one, remove one."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.show import emit, note, say, stopped
from holdlog.cli.wiring import By, Json, clock, draw, kitchen, labels_folder

if TYPE_CHECKING:
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.printers import Device
    from holdlog.labels.printer import Condition

Name = Annotated[str, typer.Argument(metavar="NAME", help="What you call it: pass, walk-in.")]


def add(
    context: typer.Context,
    name: Name,
    address: Annotated[
        str,
        typer.Argument(
            metavar="ADDRESS", help="host:9100, ipp://host/path, a folder, or a print queue."
        ),
    ],
    route: Annotated[
        str,
        typer.Option("--route", show_default=False,
                     help="folder, ipp, queue or socket. Else by the form of the address."),
    ] = "",
    encoding: Annotated[
        str,
        typer.Option("--as", show_default=False, metavar="FORM",
                     help="What it understands: zpl, escpos, pwg, pdf or png."),
    ] = "",
    template: Annotated[
        str,
        typer.Option("--template", show_default=False, metavar="NAME|FILE",
                     help="The template for the labels loaded in it."),
    ] = "",
    dpi: Annotated[
        int,
        typer.Option("--dpi", show_default=False, min=0, max=1200,
                     help="Its resolution. Else 203, or what it says."),
    ] = 0,
    default: Annotated[
        bool | None,
        typer.Option("--default/--no-default", show_default=False,
                     help="Labels go here unless another place is named. The first one is it."),
    ] = None,
    by: By = "",
    json: Json = False,
) -> None:  # fmt: skip
    r"""Add a label printer, or say anew how one is reached.

    A printer at ipp:// is asked what it understands; of others, say what stands on their plate.

    \b
    Examples:
      holdlog printer add pass 192.0.2.17:9100 --as zpl --dpi 203
      holdlog printer add office label-queue --as pdf --no-default
      holdlog printer add files ./labels-out --route folder --default
    """
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.printers import DPI, TEMPLATE, Device, add_device
    from holdlog.labels.printer import ENCODINGS, ask

    forms = dict.fromkeys(form for some in ENCODINGS.values() for form in some)
    for option, value, known in (("--route", route, ENCODINGS), ("--as", encoding, forms)):
        if value and value not in known:
            raise Mistake("bad-printer", f"{option} {value}?", f"Say {', '.join(known)}.")
    said = {"route": route, "encoding": encoding, "dpi": dpi, "default": default}
    wanted: Any = Device(
        name, route or "queue", address, encoding or "pdf", template or TEMPLATE,  # type: ignore[arg-type]
        dpi or DPI, bool(default),
    )  # fmt: skip
    shop = kitchen(context)
    added = add_device(
        shop, by, wanted, ask,
        said=frozenset(key for key, value in said.items() if value not in ("", 0) or value is False)
        - ({"default"} if default is None else set()),
    )  # fmt: skip
    if json:
        emit({**device_json(added.device), "condition": _condition_json(added.condition)})
        return
    lines = [f"{added.device.name} is added: {_told(added.device)}."]
    if added.device.default:
        lines.append("It is the kitchen's own printer: labels go there unless you say otherwise.")
    if added.condition is not None:
        lines += _condition_told(added.device.name, added.condition)
    say([*lines, f"Try it: holdlog printer test {_typed(added.device.name)}"])


def list_(context: typer.Context, json: Json = False) -> None:
    r"""The label printers, and which one labels go to.

    \b
    Example:
      holdlog printer list
    """
    from holdlog.kitchen.printers import devices
    from holdlog.reports.tables import Table

    shop = kitchen(context)
    with shop.db.reading() as conn:
        found = devices(shop, conn)
    if json:
        emit([device_json(each) for each in found])
        return
    folder = labels_folder(context, "")
    if not found:
        say(
            [
                f"No printer yet: labels go to the folder {folder}",
                "Add one: holdlog printer add NAME ADDRESS",
            ]
        )
        return
    rows = tuple(
        (
            each.name, f"{each.route} {each.address}", each.encoding, str(each.dpi), each.template,
            "labels go here" if each.default else "",
        )
        for each in found
    )  # fmt: skip
    parts: list[Any] = [Table("", ("printer", "where", "as", "dpi", "template", ""), rows)]
    if not any(each.default for each in found):
        parts.append(f"None is the kitchen's own: labels go to the folder {folder}")
    say(parts)


def try_(
    context: typer.Context,
    name: Name,
    label: Annotated[
        bool, typer.Option("--label/--no-label", help="Print a test label, or only ask.")
    ] = True,
    json: Json = False,
) -> None:
    r"""Ask a printer how it stands, and print one test label. Nothing is recorded.

    Leaves with 1 where the printer cannot be reached or the label did not come out.

    \b
    Examples:
      holdlog printer test pass
      holdlog printer test pass --no-label
    """
    from time import sleep

    from holdlog.cli.onto import told_meanwhile
    from holdlog.core.moments import to_local
    from holdlog.kitchen.printers import find_device
    from holdlog.kitchen.trial import try_out

    shop = kitchen(context)
    with shop.db.reading() as conn:
        device = find_device(shop, conn, name)
    now = to_local(clock(), shop.where).replace(tzinfo=None)
    found = try_out(shop, device, now, draw, sleep, told_meanwhile, with_label=label)
    outcome = found.outcome
    if json:
        emit(
            {
                **device_json(device),
                "condition": _condition_json(found.condition),
                "state": outcome.state if outcome else None,
                "reason": (outcome.reason or None) if outcome else None,
                "file": str(found.file) if found.file else None,
                "warnings": list(found.warnings),
            }
        )
    else:
        lines = [f"{device.name}: {_told(device)}."]
        lines += _condition_told(device.name, found.condition)
        if outcome is not None:
            where = f": {found.file}" if found.file else ""
            reason = f" ({outcome.reason})" if outcome.reason else ""
            lines.append(f"Test label: {_OUTCOMES[outcome.state]}{where}{reason}.")
        lines += [f"Look at the label: {each}" for each in found.warnings]
        say(lines)
    if not found.condition.reachable:
        note(f"{device.name} cannot be reached. Is it switched on, and is the address right?")
        raise typer.Exit(1)
    if outcome is not None and outcome.state == "failed":
        note(stopped(f"{device.name} did not print the test label: {outcome.reason}"))
        raise typer.Exit(1)


_OUTCOMES = {
    "rendered": "written",
    "sent": "sent, and no word of what became of it: look whether it came out",
    "accepted": "taken, and not finished yet: look whether it comes out",
    "completed": "printed",
    "failed": "not printed",
}


def remove(context: typer.Context, name: Name, by: By = "", json: Json = False) -> None:
    r"""Remove a printer. What it printed keeps its name in the journal.

    \b
    Example:
      holdlog printer remove pass
    """
    from holdlog.kitchen.printers import remove_device

    shop = kitchen(context)
    device = remove_device(shop, by, name)
    if json:
        emit(device_json(device))
        return
    lines = [f"{device.name} is removed."]
    if device.default:
        lines.append(_now_without(context, shop))
    say(lines)


def _now_without(context: typer.Context, shop: "Kitchen") -> str:
    from holdlog.kitchen.printers import devices

    with shop.db.reading() as conn:
        left = devices(shop, conn)
    folder = f"Labels go to the folder {labels_folder(context, '')} now"
    if not left:
        return f"{folder}."
    one = left[0]
    again = f"holdlog printer add {_typed(one.name)} {_typed(one.address)} --default"
    return f"{folder}. To make {one.name} the kitchen's own: {again}"


def _typed(name: str) -> str:
    return f'"{name}"' if " " in name else name


def _told(device: "Device") -> str:
    return (
        f"{device.encoding} by {device.route} to {device.address}, {device.dpi} dpi, "
        f"template {device.template}"
    )


def _condition_told(name: str, found: "Condition") -> list[str]:
    if not found.reachable:
        return [stopped(f"{name} could not be asked: {'; '.join(found.reasons) or 'no answer'}")]
    lines = [stopped(f"It says: {'; '.join((found.state, *found.reasons))}")]
    if found.media:
        lines.append(f"Loaded: {', '.join(found.media)}.")
    return lines


def device_json(device: "Device") -> dict[str, Any]:
    """A printer for programs."""
    return {
        "printer": device.name,
        "route": device.route,
        "address": device.address,
        "as": device.encoding,
        "template": device.template,
        "dpi": device.dpi,
        "default": device.default,
    }


def _condition_json(found: "Condition | None") -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "reachable": found.reachable,
        "state": found.state,
        "reasons": list(found.reasons),
        "understands": list(found.encodings),
        "dpi": list(found.resolutions),
        "media": list(found.media),
    }
