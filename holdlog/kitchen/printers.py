"""The kitchen's label printers and the languages of its labels, as the journal has them."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.journal import entries as journal_entries
from holdlog.journal.codec import fact_of
from holdlog.journal.engine import Connection
from holdlog.kitchen.kitchen import KITCHEN, Kitchen
from holdlog.labels import printer, template, typefaces
from holdlog.labels.layout import LEAST_DPI, MOST_DPI
from holdlog.labels.printer import Condition, Printer
from holdlog.labels.words import Words, speak

TEMPLATE = "two-by-two"
"""The template of a label where none is named."""

DPI = 203
"""The dots per inch of most label printers, and of a label where nothing is known."""

# What a printer of each route is taken to understand, where it does not say so itself.
_USUAL: dict[ev.PrinterRoute, ev.PrinterEncoding] = {
    "folder": "png", "ipp": "pwg", "queue": "pdf", "socket": "zpl",
}  # fmt: skip
_HOST_AND_PORT = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[\w.-]+):\d{1,5}")
# A name is typed, and stands in tables.
_LONGEST = 60

Ask = Callable[[Printer], Condition]


@dataclass(frozen=True, slots=True)
class Device:
    """A printer of the kitchen. ``default``: labels go there unless another place is named."""

    name: str
    route: ev.PrinterRoute
    address: str
    encoding: ev.PrinterEncoding
    template: str
    dpi: int
    default: bool = False


@dataclass(frozen=True, slots=True)
class Added:
    """A printer that was added; ``condition`` is what it said when it was asked, if it was."""

    device: Device
    condition: Condition | None


@dataclass(frozen=True, slots=True)
class Spoken:
    """How labels are worded: ``languages`` in their order, and fonts for signs of their own."""

    languages: tuple[str, ...]
    words: Words
    fonts: tuple[Path, ...]


# ---- printers --------------------------------------------------------------------------------


def devices(kitchen: Kitchen, conn: Connection) -> list[Device]:
    """The printers there are, in the order in which they were first added."""
    found: dict[str, Device] = {}
    for entry in journal_entries.of_kinds(conn, kitchen.site, ["printer", "printer-removed"]):
        fact = fact_of(entry)
        if isinstance(fact, ev.PrinterRemoved):
            found.pop(entry.subject, None)
        elif isinstance(fact, ev.PrinterAdded):
            if fact.default:
                found = {name: replace(each, default=False) for name, each in found.items()}
            found[entry.subject] = Device(
                entry.subject, fact.route, fact.address, fact.encoding, fact.template, fact.dpi,
                fact.default,
            )  # fmt: skip
    return list(found.values())


def find_device(kitchen: Kitchen, conn: Connection, name: str) -> Device:
    """The printer called ``name``; case does not matter. Raises ``Mistake("no-printer")``."""
    known = devices(kitchen, conn)
    for each in known:
        if each.name.casefold() == name.strip().casefold():
            return each
    names = ", ".join(each.name for each in known)
    raise Mistake(
        "no-printer",
        f"There is no printer {name.strip()!r}.",
        f"Known: {names}." if names else "There is none yet: holdlog printer add NAME ADDRESS",
    )


def default_device(kitchen: Kitchen, conn: Connection) -> Device | None:
    """The printer that labels go to unless another place is named; None: there is none."""
    return next((each for each in devices(kitchen, conn) if each.default), None)


def as_printer(device: Device) -> Printer:
    """The printer as the labels know it."""
    return Printer(
        device.name, device.route, device.address, device.encoding, device.template, device.dpi
    )


def route_of(address: str) -> ev.PrinterRoute:
    """The route that an address of this form means."""
    if address.lower().startswith(("ipp://", "ipps://")):
        return "ipp"
    if _HOST_AND_PORT.fullmatch(address):
        return "socket"
    return "folder" if re.search(r"[/\\]|^[.~]", address) else "queue"


def add_device(
    kitchen: Kitchen,
    by: str,
    wanted: Device,
    ask: Ask,
    *,
    said: frozenset[str],
) -> Added:
    """Add ``wanted``, or say anew what is known of the printer of that name.

    ``said`` names what the cook fixed (``route``, ``encoding``, ``dpi``, ``default``); the rest
    is found out: a route from the form of the address, the others from the printer where it can
    be asked. The first printer is the default one. Raises ``Mistake`` for what cannot be.
    """
    name, address = wanted.name.strip(), wanted.address.strip()
    if not name or name.casefold() == KITCHEN or len(name) > _LONGEST or not name.isprintable():
        raise Mistake(
            "bad-printer", f"{wanted.name!r} is no name for a printer.", "Call it by its place."
        )
    route = wanted.route if "route" in said else route_of(address)
    if route == "folder":
        address = str(Path(address).expanduser().resolve()) if address else ""
    device = replace(wanted, name=name, address=address, route=route)
    device = replace(device, template=_lasting_template(device.template))
    if "encoding" not in said:
        device = replace(device, encoding=_USUAL[route])
    printer.check(as_printer(device))
    condition = None
    if route == "ipp":
        condition = ask(as_printer(device))
        device = _as_it_says(device, condition, said)
        printer.check(as_printer(device))
    with kitchen.writing(by) as write:
        known = devices(kitchen, write.conn)
        same = next((each for each in known if each.name.casefold() == name.casefold()), None)
        if same is not None:
            device = replace(device, name=same.name)
        if "default" not in said:
            others = [each for each in known if each is not same]
            device = replace(device, default=same.default if same is not None else not others)
        fact = ev.PrinterAdded(
            device.route, device.address, device.encoding, device.template, device.dpi,
            device.default,
        )  # fmt: skip
        write.append((fact, write.recorded_at, device.name))
    return Added(device, condition)


def _lasting_template(name: str) -> str:
    """A template by its name, or the full path of its file: the cook may stand elsewhere next
    time.
    """
    found = template.find(name or TEMPLATE)
    return found.name if (name or TEMPLATE) in template.names() else str(Path(name).resolve())


def _as_it_says(device: Device, condition: Condition, said: frozenset[str]) -> Device:
    """What the printer tells of itself takes the place of what was only guessed."""
    ours = [each for each in printer.ENCODINGS[device.route] if each in condition.encodings]
    if ours and "encoding" not in said:
        device = replace(device, encoding=ours[0])
    usable = [dpi for dpi in condition.resolutions if LEAST_DPI <= dpi <= MOST_DPI]
    if usable and "dpi" not in said and device.dpi not in usable:
        device = replace(device, dpi=min(usable, key=lambda dpi: (abs(dpi - device.dpi), dpi)))
    return device


def remove_device(kitchen: Kitchen, by: str, name: str) -> Device:
    """The printer is no longer used; labels that it printed keep its name."""
    with kitchen.writing(by) as write:
        device = find_device(kitchen, write.conn, name)
        write.append((ev.PrinterRemoved(), write.recorded_at, device.name))
    return device


# ---- languages -------------------------------------------------------------------------------


def spoken(kitchen: Kitchen, conn: Connection) -> Spoken:
    """The languages in which labels are worded: as the kitchen last said, else English."""
    said = [
        fact
        for entry in journal_entries.of_kinds(conn, kitchen.site, ["label-words"])
        if isinstance(fact := fact_of(entry), ev.LabelWords)
    ]
    now = said[-1] if said else ev.LabelWords(("en",))
    return Spoken(now.languages, speak(now.languages), tuple(Path(each) for each in now.fonts))


def own_fonts(kitchen: Kitchen) -> tuple[Path, ...]:
    """The kitchen's font files, for signs that the shipped font lacks."""
    with kitchen.db.reading() as conn:
        return spoken(kitchen, conn).fonts


def set_words(
    kitchen: Kitchen, by: str, languages: tuple[str, ...], fonts: tuple[str, ...] | None
) -> Spoken:
    """Word the labels in ``languages`` from now on (empty: as before), with ``fonts`` (None: as
    before). Raises ``Mistake("bad-language")`` and ``Mistake("bad-font")``.
    """
    with kitchen.writing(by) as write:
        before = spoken(kitchen, write.conn)
        fact = checked_words(
            languages or before.languages,
            tuple(map(str, before.fonts)) if fonts is None else fonts,
        )
        write.append((fact, write.recorded_at, KITCHEN))
        return spoken(kitchen, write.conn)


def checked_words(languages: tuple[str, ...], fonts: tuple[str, ...] = ()) -> ev.LabelWords:
    """What to write down of languages and fonts, once both are known to work."""
    tidy = tuple(language.strip().lower() for language in languages)
    speak(tidy)
    paths = tuple(Path(each).expanduser().resolve() for each in fonts)
    typefaces.check(paths)
    return ev.LabelWords(tidy, tuple(map(str, paths)))
